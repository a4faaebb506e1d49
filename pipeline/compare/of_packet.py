"""A packet's folder as a State: its own DXF files read back and turned into the design frame, beside packet.json.

Hashes are never looked at. What a shop's flavour changes (R12, a laser's two files, layers under other names,
another zero, a kerf in the lines, nests) is taken off again, by what packet.json and the words in the files say.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pipeline.compare.layers import meaning, said_in, tables_in
from pipeline.compare.of_design import gauged_of
from pipeline.compare.state import CUT, Gauged, Layer, Line, State, Thing
from pipeline.core.errors import Refused, refuse
from pipeline.geometry.contour import Contour
from pipeline.geometry.offset import OffsetFailed, offset
from pipeline.geometry.region import solid
from pipeline.packet.disk import plainly
from pipeline.proof.dxf import Drawn, read_dxf
from pipeline.proof.groups import DxfBroken
from pipeline.proof.loops import flat
from pipeline.proof.seen import Seen

NAME = "packet.json"
ROOM_MM = 1.0
"""Parts on a nest lie at least twice this apart."""


def state_of_packet(folder: str | Path, *, source: str = "") -> State:
    """What a packet holds. Raises Refused when it, or one of its files, can't be read; MachineFailed on the
    disk."""
    root = Path(folder)
    found = packet_json(root)
    reader = _Reader(root, found)
    try:
        pieces = [reader.thing(row, blank=False) for row in found["pieces"]]
        blanks = [reader.thing(row, blank=True) for row in found["blanks"]]
        steps = {str(s["name"]): s for s in found["steps"]}
        return State(
            source=source or root.as_posix(),
            design=str(found["design"]),
            variant=str(found["variant"]),
            revision=str(found["revision"]),
            things=(*pieces, *blanks),
            steps=steps,
            sequence=tuple(found["sequence"]),
            totals=found["totals"],
            title=str(found["design"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise refuse(
            f"{(root / NAME).as_posix()} doesn't say what a packet says: {error}.",
            expected="the packet.json that mouldloft wrote",
        ) from error


def packet_json(folder: Path) -> dict[str, Any]:
    """The content of a packet's packet.json. Raises Refused."""
    path, found = folder / NAME, None
    if path.is_file():
        with plainly(path):
            data = path.read_bytes()
        try:
            found = json.loads(data)
        except ValueError as error:
            raise refuse(f"{path.as_posix()} can't be read: {error}.") from error
    if not isinstance(found, dict):
        raise refuse(
            f"{folder.as_posix()} is no packet: it has no packet.json.",
            expected="the folder of a packet, such as out/heron or issued/heron-A",
        )
    return found


class _Reader:
    """Reads the files of one packet, each once."""

    def __init__(self, root: Path, found: Mapping[str, Any]) -> None:
        self.root = root
        self.views: dict[tuple[str, bool], list[Mapping[str, Any]]] = {}
        for view in found.get("views", ()):
            self.views.setdefault((view["name"], bool(view["blank"])), []).append(view)
        self.gauges: dict[str, list[Gauged]] = {}
        for row in found.get("gauges", ()):
            self.gauges.setdefault(row["of"], []).append(gauged_of(row))
        self.read: dict[str, Drawn | None] = {}

    def thing(self, row: Mapping[str, Any], *, blank: bool) -> Thing:
        name = str(row["name"])
        views = self.views.get((name, blank), [])
        files = [f["path"] for f in row["files"] if f["format"] == "dxf"]
        problem = ""
        if files and not views:
            problem = "the packet doesn't say how its files show it; an older mouldloft built it"
        lines = [line for view in views for line in self.lines(view, views)]
        return Thing(
            name=name,
            blank=blank,
            lines=tuple(lines),
            role="blank" if blank else str(row["role"]),
            step=str(row.get("step", "")),
            sheet=str(row.get("sheet", "")),
            letter=str(row.get("letter", "")),
            shop=str(row.get("shop", files[0].split("/")[1] if files else "")),
            count=int(row.get("count", 1)),
            since=str(row.get("since", "")),
            thickness_mm=float(row["thickness_mm"]),
            mass_g=row.get("mass_g"),
            layers=tuple(
                Layer(number=int(v["number"]), piece=str(v["piece"]), z0=float(v["z0"]), z1=float(v["z1"]))
                for v in row.get("laminations", ())
            ),
            gauges=tuple(self.gauges.get(name, ())),
            pages=tuple(dict.fromkeys(_stem(p) for p in files)),
            problem=problem,
        )

    def drawn(self, path: str) -> Drawn | None:
        """A DXF file of the packet, None when there is none of that name in it. Raises Refused."""
        if path not in self.read:
            file = self.root / path
            if ".." in Path(path).parts or Path(path).is_absolute() or not file.is_file():
                self.read[path] = None
                return None
            with plainly(file):
                data = file.read_bytes()
            try:
                self.read[path] = read_dxf(data)
            except DxfBroken as broken:
                at = f", line {broken.line}" if broken.line else ""
                raise refuse(f"{file.as_posix()}{at} can't be read: {broken.wrong}") from broken
        return self.read[path]

    def lines(self, view: Mapping[str, Any], views: Sequence[Mapping[str, Any]]) -> list[Line]:
        """All that one file shows of a piece or blank, in the design frame. Raises Refused when it is missing."""
        path = str(view["path"])
        drawn = self.drawn(path)
        if drawn is None:
            raise refuse(f"{(self.root / path).as_posix()} is missing in the packet.", remedy="build it again")
        # A laser's cut file holds no words: those of the reference beside it count for both.
        with_words = [d for v in views if _stem(v["path"]) in (_stem(path), f"{_stem(path)}_reference")
                      and (d := self.drawn(str(v["path"])))]  # fmt: skip
        said = said_in(with_words)
        seen = Seen(
            flip=str(view["over"]),
            turn_deg=float(view["turn_deg"]),
            dx=float(view["at_mm"][0]),
            dy=float(view["at_mm"][1]),
        )
        tables = [(n, [(*seen.back(x, y), d) for x, y, d in rows]) for n, rows in tables_in(said)]
        found: list[Line] = []
        for e in drawn.entities:
            if e.contour is None or e.paper:
                continue
            layer = meaning(e.layer, said, str(view["face"]))
            if layer is None or layer.work not in CUT:
                continue
            c = seen.contour_back(e.contour)
            rows = [r for n, table in tables for r in table if n == e.layer and _near(r, c)]
            found.append(
                Line(
                    work=layer.work,
                    face=layer.face or str(view["face"]),
                    contour=c,
                    depth_mm=float(layer.depth) if layer.depth else None,
                    deep_mm=float(layer.deep) if layer.deep else None,
                    diameter_mm=float(layer.diameter) if layer.diameter else None,
                    through=layer.through,
                    ramp=tuple(rows) if layer.work == "RAMP" else (),
                )
            )
        mine = _of_this(found, view["box_mm"], float(view["kerf_mm"]))
        return [_without_kerf(line, float(view["kerf_mm"])) for line in mine]


def _stem(path: str) -> str:
    return str(path).rpartition("/")[2].removesuffix(".dxf")


def _of_this(lines: Sequence[Line], box: Sequence[float], kerf: float) -> list[Line]:
    """Of all lines of a file those of the piece that lies in ``box``: what its outside holds, and its outside."""
    x0, y0, x1, y1 = box
    room = ROOM_MM + kerf / 2
    near = [line for line in lines if _within(line.contour, (x0 - room, y0 - room, x1 + room, y1 + room))]
    outsides = [line for line in near if line.work == "CUT_OUTSIDE"]
    if len(outsides) == len([line for line in lines if line.work == "CUT_OUTSIDE"]):
        return near  # nothing else is on this sheet
    whole = [v for v in outsides if max(abs(a - b) for a, b in zip(v.contour.bounds, box, strict=True)) <= room]
    mine = whole[:1] or outsides
    others = [flat(v.contour) for v in outsides if not any(v is m for m in mine)]
    own = [flat(v.contour).buffer(room) for v in mine]
    return [
        line for line in near
        if any(line is m for m in mine)
        or (
            line.work != "CUT_OUTSIDE"
            and any(_lies_in(line.contour, o) for o in own)
            and not any(_lies_in(line.contour, o) for o in others)
        )
    ]  # fmt: skip


def _near(row: tuple[float, float, float], c: Contour) -> bool:
    """True for a row of a table that belongs to the sloped floor in this contour."""
    x0, y0, x1, y1 = c.bounds
    return x0 - 0.5 <= row[0] <= x1 + 0.5 and y0 - 0.5 <= row[1] <= y1 + 0.5


def _within(c: Contour, box: tuple[float, float, float, float]) -> bool:
    x0, y0, x1, y1 = c.bounds
    return box[0] <= x0 and box[1] <= y0 and x1 <= box[2] and y1 <= box[3]


def _lies_in(c: Contour, shape: Any) -> bool:
    import shapely

    x, y = c.xy[0].tolist()
    return bool(shape.intersects(shapely.Point(x, y)))


def _without_kerf(line: Line, kerf: float) -> Line:
    """A cut line as the design has it: the half kerf that was added outside, or taken off inside, undone."""
    from dataclasses import replace

    if not kerf or line.work not in ("CUT_OUTSIDE", "CUT_INSIDE"):
        return line
    by = -kerf / 2 if line.work == "CUT_OUTSIDE" else kerf / 2
    try:
        shape = offset(solid(line.contour), by)
    except OffsetFailed as failed:
        raise refuse(f"The kerf can't be taken off a line of {line.work}: {failed}.") from failed
    return replace(line, contour=shape.contours[0]) if len(shape.contours) == 1 else line


__all__ = ["Refused", "packet_json", "state_of_packet"]
