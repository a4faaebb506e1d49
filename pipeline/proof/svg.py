"""A small reader of SVG shop files: groups by layer, paths of lines and arcs, circles, words, the page.

Written from the published grammar alone, for proving files that another part of mouldloft wrote: it uses nothing
of `pipeline.packet` nor of the reader of drawings. What a shop file never holds (curves, references, styles, moved
shapes) is not read but told.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from xml.parsers import expat

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import circle
from pipeline.proof.groups import DxfBroken, Entity, Flat

MOST_BYTES = 64_000_000
SHAPES = frozenset({"path", "circle"})
HOLDERS = frozenset({"svg", "g", "title", "desc", "text"})
HIDING = ("display", "visibility", "style", "class", "opacity", "stroke-opacity", "mask", "clip-path", "href")
_TOKEN = re.compile(r"([MmLlHhVvAaZz])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)|([\s,]+)|(.)", re.DOTALL)
_TURN = re.compile(r"\s*rotate\(\s*([-+.\deE]+)[\s,]+([-+.\deE]+)[\s,]+([-+.\deE]+)\s*\)\s*")
_NEEDS = {"M": 2, "L": 2, "H": 1, "V": 1, "A": 7}


@dataclass(slots=True)
class Picture:
    """What one SVG file holds, y up as in a DXF. ``size`` is the page in mm, ``view`` its box in units (x, y, w,
    h, y down). ``strange`` are sentences about what doesn't belong in a shop file, each with its line."""

    size: tuple[float, float] | None = None
    view: tuple[float, float, float, float] | None = None
    title: str = ""
    desc: str = ""
    layers: dict[str, list[Entity]] = field(default_factory=dict)
    texts: list[Entity] = field(default_factory=list)
    strange: list[tuple[int, str]] = field(default_factory=list)


def read_svg(data: bytes) -> Picture:
    """Read one file's bytes. Raises DxfBroken with a sentence when they aren't readable."""
    if len(data) > MOST_BYTES:
        raise DxfBroken("The file is larger than any shop file.")
    reader = _Reader()
    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = _no_doctype
    parser.StartElementHandler = lambda tag, atts: reader.start(tag, atts, parser.CurrentLineNumber)
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.words
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise DxfBroken(f"It is no readable SVG: {expat.ErrorString(error.code)}.", error.lineno) from None
    if reader.picture.view is None:
        raise DxfBroken("It is no SVG with a page.")
    return reader.picture


def _no_doctype(*_: object) -> None:
    raise DxfBroken("It declares a document type; shop files have none.")


class _Reader:
    """Gathers what the parser sees."""

    def __init__(self) -> None:
        self.picture = Picture()
        self.open: list[str] = []
        self.groups: list[str] = []
        self.text: list[str] | None = None
        self.at: tuple[Flat, float, float, int] | None = None

    def start(self, name: str, atts: Mapping[str, str], line: int) -> None:
        tag = name.rsplit(":", 1)[-1]
        told = self.picture.strange
        if tag not in SHAPES | HOLDERS:
            told.append((line, f"A {tag} doesn't belong in a shop's picture."))
        for key in atts:
            if key.rsplit(":", 1)[-1] in HIDING:
                told.append((line, f"A {tag} has a {key}, which can hide or change what is cut."))
        if "transform" in atts and tag != "text":
            told.append((line, f"A {tag} is moved or scaled by a transform."))
        self.open.append(tag)
        if tag == "svg":
            self._page(atts)
        elif tag == "g":
            self.groups.append(atts.get("data-layer", ""))
        elif tag in SHAPES:
            self._shape(tag, atts, line)
        if tag in ("text", "title", "desc"):
            self.text = []
        if tag == "text":
            self._place(atts, line)

    def end(self, name: str) -> None:
        tag = self.open.pop()
        if tag == "g":
            self.groups.pop()
        if self.text is None or tag not in ("text", "title", "desc"):
            return
        said, self.text = "".join(self.text), None
        if tag == "text" and self.at is not None:
            at, turn, height, line = self.at
            self.picture.texts.append(
                Entity(
                    kind="TEXT", layer=self._layer, line=line, at=at, text=said, turn_deg=turn, height_mm=height
                )
            )
        elif tag == "title" and len(self.open) == 1:
            self.picture.title = said
        elif tag == "desc" and len(self.open) == 1:
            self.picture.desc = said

    def words(self, data: str) -> None:
        if self.text is not None:
            self.text.append(data)

    @property
    def _layer(self) -> str:
        return next((g for g in reversed(self.groups) if g), "")

    def _page(self, atts: Mapping[str, str]) -> None:
        if len(self.open) > 1:
            self.picture.strange.append((0, "A picture stands within the picture."))
            return
        box = [_number(v) for v in re.split(r"[\s,]+", atts.get("viewBox", "").strip())]
        if len(box) == 4:
            self.picture.view = (box[0], box[1], box[2], box[3])
        sides = [atts.get(k, "") for k in ("width", "height")]
        if all(s.endswith("mm") for s in sides):
            self.picture.size = (_number(sides[0][:-2]), _number(sides[1][:-2]))

    def _shape(self, tag: str, atts: Mapping[str, str], line: int) -> None:
        here = self.picture.layers.setdefault(self._layer, [])
        try:
            if tag == "circle":
                x, y, r = (_number(atts.get(k, "")) for k in ("cx", "cy", "r"))
                if not r > 0:
                    raise ValueError("a circle without a radius")
                here.append(
                    Entity(kind="CIRCLE", layer=self._layer, line=line, contour=circle(x, -y, r), at=(x, -y))
                )
            else:
                for c in path(atts.get("d", "")):
                    here.append(Entity(kind="LWPOLYLINE", layer=self._layer, line=line, contour=c))
        except ValueError as wrong:
            self.picture.strange.append((line, f"A {tag} on {self._layer or 'no layer'} can't be read: {wrong}."))

    def _place(self, atts: Mapping[str, str], line: int) -> None:
        x, y, size = (_number(atts.get(k, "0")) for k in ("x", "y", "font-size"))
        turn = 0.0
        if "transform" in atts:
            found = _TURN.fullmatch(atts["transform"])
            if found and abs(_number(found[2]) - x) <= 1e-5 and abs(_number(found[3]) - y) <= 1e-5:
                turn = -_number(found[1])
            else:
                self.picture.strange.append((line, "A text is mirrored or moved by a transform."))
        self.at = ((x, -y), turn, size, line)


# -- path data ---------------------------------------------------------------------------------------------
def path(data: str) -> list[Contour]:
    """The contours of path data of lines and circular arcs, y turned up. Raises ValueError for anything else."""
    tokens: list[str | float] = []
    for letter, figure, _, other in _TOKEN.findall(data):
        if other:
            raise ValueError(f"'{other}' is neither a line nor an arc")
        if letter:
            tokens.append(letter)
        elif figure:
            tokens.append(float(figure))
    found: list[Contour] = []
    points: list[Flat] = []
    bulges: list[float] = []
    x = y = 0.0
    command, k = "", 0
    while k < len(tokens):
        token = tokens[k]
        if isinstance(token, str):
            command, k = token, k + 1
            if command in "Zz":
                _close(found, points, bulges, closed=True)
                (x, y), points, bulges = (points[0] if points else (x, y)), [], []
                continue
        if not command or command in "Zz":
            raise ValueError("it has numbers without a command")
        big = command.upper()
        values = [v for v in tokens[k : k + _NEEDS[big]] if isinstance(v, float)]
        if len(values) != _NEEDS[big]:
            raise ValueError(f"numbers are missing after {command}")
        k += _NEEDS[big]
        start = (x, y)
        dx, dy = (x, y) if command.islower() else (0.0, 0.0)
        if big == "H":
            x = values[0] + dx
        elif big == "V":
            y = values[0] + dy
        else:
            x, y = values[-2] + dx, values[-1] + dy
        if big == "M":
            _close(found, points, bulges, closed=False)
            points, bulges = [(x, y)], []
            command = "l" if command == "m" else "L"
            continue
        if not points:
            points = [start]
        bulges.append(_bulge(start, (x, y), values) if big == "A" else 0.0)
        points.append((x, y))
    _close(found, points, bulges, closed=False)
    return found


def _bulge(start: Flat, end: Flat, arc: list[float]) -> float:
    """Bulge (y up) of an arc in path data: half its chord is r·sin(θ/2); positive sweep is clockwise seen y up."""
    rx, ry, _, large, sweep = arc[:5]
    if abs(rx - ry) > 1e-6 or rx <= 0:
        raise ValueError("an arc of an ellipse")
    half = math.dist(start, end) / 2
    angle = math.asin(min(1.0, half / rx))  # θ/2 of the smaller arc
    size = math.tan((math.pi - angle if large else angle) / 2)
    return -size if sweep else size


def _close(found: list[Contour], points: list[Flat], bulges: list[float], *, closed: bool) -> None:
    """End a contour; one that is closed back onto its first point loses the doubled vertex."""
    if len(points) < 2:
        return
    if closed:
        if math.dist(points[0], points[-1]) <= 1e-7:
            points = points[:-1]
        else:
            bulges = [*bulges, 0.0]
    else:
        bulges = [*bulges, 0.0]
    if len(points) < 2:
        raise ValueError("it has no length")
    found.append(chain([(px, -py) for px, py in points], bulges, closed=closed))


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if abs(value) < 1e12 else math.nan
