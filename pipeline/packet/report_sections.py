"""Sections through every cavity: laminations, glue lines, floors and what is left, at one scale up and along."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.packet.finding_marks import PX, Frame, num, scale_bar, text
from pipeline.packet.finding_sections import Point, Section, Taken, Wood, Woods, section
from pipeline.packet.section_marks import TIP, laminations, level, upright
from pipeline.steps.values import Blank, Derived, Piece

WAYS = {"cavity": 2, "channel": 1, "chambers": 1}
"""Kinds of steps that are shown in section, and along how many lines: x and y, or across the narrow way."""
MOST = 8
"""So many cavities of one piece have sections; those of equal plan and depth count once."""
AIR_MM = 14.0
"""Wood to either side of a cavity, at least."""
GUTTER = (34.0, 82.0)
"""Dots at the left for the whole thickness and at the right for the laminations."""
ROW = 19.0
HIGH_PX, MOST_K, ROOM = 130.0, 6.0, 14.0

STYLE = """
.sections{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,22rem),1fr));gap:.4rem 1rem}
.sections figure{margin:0}.sections figcaption{font-size:.94rem;color:#333}
.sections .finding{border:0;max-width:36rem}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One section to be drawn: its step ("": none), the place it goes through, its way, what it is called, and
    where along it the sloped floor of a step begins and ends by its design."""

    step: str
    at: Point
    way: Point
    words: str
    ends: tuple[float, float] | None = None


def sections(owner: Blank | Piece, derived: Derived, woods: Woods) -> str:
    """All sections of one piece or blank as HTML; "" when it has no cavity and no laminations."""
    x0, y0, x1, y1 = owner.region.bounds
    wood = woods.of(owner.name, owner.step, ((x0 + x1) / 2, (y0 + y1) / 2))
    if wood is None:
        return ""
    steps = list(_steps(wood, derived))
    spots = [s for step in steps[:MOST] for s in _spots(step, wood, derived)]
    if not spots and len(wood.layers) > 1:
        here = owner.region.polygon.representative_point()
        x, y = round(float(here.x), 6), round(float(here.y), 6)
        spots = [Spot(step="", at=(x, y), way=(0.0, 1.0), words=f"across, at x {x:.1f}")]
    figures = "".join(_figure(owner, wood, spot) for spot in spots)
    more = len(steps) - MOST
    tail = f"<p>{more} more {'cavity is' if more == 1 else 'cavities are'} not shown.</p>" if more > 0 else ""
    how = HOW + (LAYERS if len(wood.layers) > 1 else "")
    return f'<p>{how}</p><div class="sections">{figures}</div>{tail}' if figures else ""


HOW = (
    "The front is above. Blue: cut from the front; orange dashes: cut from the back; dotted: other cuts that the "
    "section meets."
)
LAYERS = " At the right: number, letter and thickness of each lamination."


def _steps(wood: Wood, derived: Derived) -> Iterator[str]:
    """The steps that hollow the piece, equal ones once."""
    seen: set[tuple[object, ...]] = set()
    for step in dict.fromkeys(t.step for t in wood.taken if t.step):
        if step not in derived.results or derived.results[step].kind not in WAYS:
            continue
        mine = [t for t in wood.taken if t.step == step]
        largest = _largest(mine)
        x0, y0, x1, y1 = largest.shape.bounds
        floors = tuple(sorted(round(_floor(t), 3) for t in mine))
        key = (round(x1 - x0, 3), round(y1 - y0, 3), round(float(largest.shape.area), 2), floors, largest.face)
        if key not in seen:
            seen.add(key)
            yield step


def _largest(mine: Sequence[Taken]) -> Taken:
    return max(mine, key=lambda t: (float(t.shape.area), _floor(t)))


def _floor(taken: Taken) -> float:
    """Height of a floor, of a sloped one in its middle."""
    middle = shapely.centroid(taken.shape)
    return taken.floor.z0 + taken.floor.gx * float(middle.x) + taken.floor.gy * float(middle.y)


def _spots(step: str, wood: Wood, derived: Derived) -> Iterator[Spot]:
    """Along x and along y through the middle of a cavity; across a channel or a chamber."""
    shape = _largest([t for t in wood.taken if t.step == step]).shape
    x0, y0, x1, y1 = shape.bounds
    middle = shapely.Point((x0 + x1) / 2, (y0 + y1) / 2)
    if not shape.contains(middle):
        middle = shape.representative_point()
    at = (round(float(middle.x), 6), round(float(middle.y), 6))
    result = derived.results[step]
    if WAYS[result.kind] == 1:
        spot = f"x {at[0]:.1f}, y {at[1]:.1f}"
        yield Spot(step=step, at=at, way=_narrow(shape), words=f"{step}, straight across at {spot}")
        return
    for way, words in (((1.0, 0.0), f"along x, at y {at[1]:.1f}"), ((0.0, 1.0), f"along y, at x {at[0]:.1f}")):
        ends = None
        tilt = next((c.depth.tilt for c in result.cuts if c.depth.tilt), None)
        along = tilt.toward[0] * way[0] + tilt.toward[1] * way[1] if tilt else 0.0
        if tilt and abs(along) > 0.7:
            here = at[0] * tilt.toward[0] + at[1] * tilt.toward[1]
            low, high = sorted(((tilt.shallow - here) / along, (tilt.deep - here) / along))
            ends = (low, high)
        yield Spot(step=step, at=at, way=way, words=f"{step} {words}", ends=ends)


def _narrow(shape: BaseGeometry) -> Point:
    """The direction of the short side of the box that fits a shape best, to the right or up."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))
    sides = [(float(b[0] - a[0]), float(b[1] - a[1])) for a, b in pairwise(corners[:3])]
    dx, dy = min(sides, key=lambda s: math.hypot(*s))
    size = math.hypot(dx, dy)
    dx, dy = round(dx / size, 9), round(dy / size, 9)
    return (dx + 0.0, dy + 0.0) if (dx, dy) > (0.0, 0.0) else (0.0 - dx, 0.0 - dy)


# -- one picture ---------------------------------------------------------------------------------------
def _figure(owner: Blank | Piece, wood: Wood, spot: Spot) -> str:
    cut = section(wood, spot.at, spot.way, _reach(wood, spot))
    mine = [(t, shape) for t, shape in cut.taken if t.step == spot.step]
    lo, hi = _window(cut, mine)
    room = PX[0] - sum(GUTTER)
    k = min(room / (hi - lo), HIGH_PX / wood.total, MOST_K)
    left = GUTTER[0] + (room - (hi - lo) * k) / 2
    right = left + (hi - lo) * k
    frame = Frame(((lo + hi) / 2 + (PX[0] / 2 - (left + right) / 2) / k, wood.total / 2), k)

    def seen(shape: BaseGeometry, look: str) -> str:
        return frame.path(shapely.clip_by_rect(shape, lo, 0.0, hi, wood.total), look)

    top, bottom = PX[1] / 2 - wood.total * k / 2, PX[1] / 2 + wood.total * k / 2
    widths = _widths(mine)
    front, back = ([w for w in widths if w[2] == face] for face in ("front", "back"))
    # Arrows that point in from outside need room before the first row of widths.
    clear = ROOM if any(abs(_floor(t) - t.mouth) * k < 3 * TIP for t, _ in mine) else 0.0
    y0 = top - 14 - clear - ROW * len(front)
    y1 = bottom + 30 + clear + ROW * len(back)
    body = [seen(layer, "lam odd" if n % 2 else "lam") for n, layer in enumerate(cut.layers)]
    body += [seen(g, "glue") for g in cut.glue]
    for taken, shape in cut.taken:
        look = ("near" if taken.face == "front" else "far") if taken.step == spot.step else "asked"
        body.append(seen(shape, look))
    body += [level(frame, a, b, top - 7 - clear - ROW * n, top) for n, (a, b, _) in enumerate(front)]
    body += [level(frame, a, b, bottom + 19 + clear + ROW * n, bottom) for n, (a, b, _) in enumerate(back)]
    body += _through(mine, frame, wood.total)
    body += _depths(mine, cut, frame, spot)
    body.append(upright(left - 9, top, bottom, f"{wood.total:.2f}", turned=True))
    if isinstance(owner, Blank) and len(wood.layers) > 1:
        body += laminations(owner, frame, right)
    body.append(f'<g transform="translate(0 {num(y1 - PX[1])})">{scale_bar(k)}</g>')
    title = f"{owner.name}, section: {spot.words}"
    return (
        f'<figure><svg class="finding" role="img" aria-label="{escape(title, quote=True)}" '
        f'viewBox="0 {num(y0)} {num(PX[0])} {num(y1 - y0)}">{"".join(body)}</svg>'
        f"<figcaption>{escape(spot.words)}</figcaption></figure>"
    )


def _reach(wood: Wood, spot: Spot) -> float:
    """Half the length of the section that is worked out: a little more than will be shown."""
    boxes = [t.shape.bounds for t in wood.taken if t.step == spot.step] or [wood.edge.bounds]
    corners = [(x, y) for b in boxes for x in (b[0], b[2]) for y in (b[1], b[3])]
    far = max(abs((x - spot.at[0]) * spot.way[0] + (y - spot.at[1]) * spot.way[1]) for x, y in corners)
    return float(far) * 1.5 + AIR_MM + 5.0


def _window(cut: Section, mine: Sequence[tuple[Taken, BaseGeometry]]) -> tuple[float, float]:
    """The stretch of the section that is shown: what the step takes and wood beside it; else all of it."""
    b0, _, b1, _ = cut.body.bounds if not cut.body.is_empty else (-10.0, 0.0, 10.0, 0.0)
    if not mine:
        return float(b0) - 2.0, float(b1) + 2.0
    t0, t1 = min(s.bounds[0] for _, s in mine), max(s.bounds[2] for _, s in mine)
    air = max(AIR_MM, 0.25 * (t1 - t0))
    return max(t0 - air, min(b0, t0) - 2.0), min(t1 + air, max(b1, t1) + 2.0)


def _widths(mine: Sequence[tuple[Taken, BaseGeometry]]) -> list[tuple[float, float, str]]:
    """Openings of the step along the section, narrow before wide, each once."""
    found = {(round(s.bounds[0], 2), round(s.bounds[2], 2), t.face) for t, s in mine}
    return sorted(found, key=lambda w: (w[1] - w[0], w))[:3]


def _depths(mine: Sequence[tuple[Taken, BaseGeometry]], cut: Section, frame: Frame, spot: Spot) -> Iterator[str]:
    """Depth of every floor where it lies open, at both ends of a slope; and what is left behind the deepest."""
    for n, (lo, hi, taken) in enumerate(_open_floors(mine)):
        places = [(lo + hi) / 2]
        if spot.ends and abs(_height(taken, spot, lo) - _height(taken, spot, hi)) > 0.05:
            places = [max(lo, spot.ends[0]), min(hi, spot.ends[1])]
        for k, t in enumerate(places):
            x, mouth = frame.at((t, taken.mouth))
            _, y = frame.at((t, _height(taken, spot, t)))
            yield upright(x, mouth, y, f"{abs(_height(taken, spot, t) - taken.mouth):.2f}", before=k > 0)
        if n:
            continue
        deep = max(places, key=lambda t: abs(_height(taken, spot, t) - taken.mouth))
        for share in (0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5):
            t = deep + share * ((lo + hi) / 2 - deep) * 2 if len(places) > 1 else deep
            floor = _height(taken, spot, t)
            end = _behind(cut, t, floor, taken)
            if end is not None:
                x, y = frame.at((t, floor))
                words = f"{abs(end - floor):.2f} left"
                yield upright(x, y, frame.at((t, end))[1], words, before=len(places) > 1)
                break


def _through(mine: Sequence[tuple[Taken, BaseGeometry]], frame: Frame, total: float) -> Iterator[str]:
    """The word "through" in an opening that is wide enough for it."""
    for taken, shape in mine:
        if taken.through:
            a, b = float(shape.bounds[0]), float(shape.bounds[2])
            x, y = frame.at(((a + b) / 2, total / 2))
            if (b - a) * frame.k > 52:
                yield text(x, y + 4, "through", "middle")


def _open_floors(
    mine: Sequence[tuple[Taken, BaseGeometry]],
) -> Iterator[tuple[float, float, Taken]]:
    """The stretch of each floor that nothing deeper lies over, the deepest floor first."""
    deep = sorted(mine, key=lambda m: -1e6 if m[0].through else -abs(_floor(m[0]) - m[0].mouth))
    covered: list[tuple[float, float]] = []
    for taken, shape in deep:
        free = [(float(shape.bounds[0]), float(shape.bounds[2]))]
        for c, d in covered:
            cut = [part for lo, hi in free for part in ((lo, min(hi, c)), (max(lo, d), hi))]
            free = [part for part in cut if part[1] - part[0] > 0.05]
        covered.append((float(shape.bounds[0]), float(shape.bounds[2])))
        if free and not taken.through:
            lo, hi = max(free, key=lambda f: f[1] - f[0])
            yield lo, hi, taken


def _height(taken: Taken, spot: Spot, t: float) -> float:
    """The floor of a cut at a place along the section; where a sloped one has come up to its mouth, the mouth."""
    x, y = spot.at[0] + t * spot.way[0], spot.at[1] + t * spot.way[1]
    z = taken.floor.z0 + taken.floor.gx * x + taken.floor.gy * y
    return min(z, taken.mouth) if taken.face == "front" else max(z, taken.mouth)


def _behind(cut: Section, t: float, floor: float, taken: Taken) -> float | None:
    """Where the wood behind a floor ends; None where there is none, or a rounded edge has thinned it."""
    for a, b in cut.wood_at(t):
        near, far = (b, a) if taken.face == "front" else (a, b)
        if abs(near - floor) < 0.02 and b - a > 0.005 and any(abs(far - z) < 0.001 for z in _faces(cut)):
            return far
    return None


def _faces(cut: Section) -> list[float]:
    """Heights at which wood may end without being thinned: the faces, and floors of other cuts."""
    heights = [0.0, cut.total]
    for _, shape in cut.taken:
        heights += [float(z) for z in shapely.get_coordinates(shape)[:, 1]]
    return heights
