"""One sheet-thickness piece that stands for itself: what is cut in it, its set-ups and its mass."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference, intersection
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.steps import ops as op
from pipeline.steps.common import Stock, mm, place_in
from pipeline.steps.heights import Floor, floor_of
from pipeline.steps.measures import inside_point
from pipeline.steps.sheet_set_ups import SheetWork, sheet_set_ups
from pipeline.steps.values import Cut, Depth, Label, Op, Piece, Role, SetUp, World

EPS = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """What a panel is made of, before it is a piece.

    ``plate`` is the design edge before anything is cut in it; ``reference`` is drawn and never cut; ``ops``
    is further work on its ``face`` that takes nothing from the plate: engraved and scored lines, grooves, carve
    lines.
    """

    name: str
    role: Role
    plate: Region
    stock: Stock
    count: int
    face: FaceName = "front"
    cuts: tuple[Cut, ...] = ()
    reference: tuple[Contour, ...] = ()
    labels: tuple[Label, ...] = ()
    ops: tuple[Op, ...] = ()


def cuts_of(world: World, names: Iterable[str], face: FaceName) -> tuple[Cut, ...]:
    """The plan rules of some steps; a step that is only a shape (an outline) is cut through."""
    found: list[Cut] = []
    for name in names:
        result = world.result(name)
        if result.cuts:
            found += result.cuts
            continue
        shapes = result.regions or ((result.region,) if result.region else ())
        found += [
            Cut(step=name, name=name, region=r, design=r, face=face, depth=Depth(rule="through")) for r in shapes
        ]
    return tuple(found)


def reference_of(world: World, names: Iterable[str]) -> tuple[Contour, ...]:
    """The contours of some steps, to be drawn and never cut."""
    found: list[Contour] = []
    for name in names:
        result = world.result(name)
        shapes = result.regions or tuple(c.design for c in result.cuts)
        for r in shapes or ((result.region,) if result.region else ()):
            found += r.contours
    return tuple(found)


def piece_of(panel: Panel, step: Step) -> tuple[tuple[Piece, ...], tuple[Finding, ...]]:
    """The piece with its set-ups and mass (none when nothing is left), and what could not be done as asked.

    A cut of the rule "sheet" goes through; one that is confined to a lamination counts as cut in the
    panel. A laser cuts no pockets: they stand on REFERENCE and a finding says so.
    """
    stock, t = panel.stock, panel.stock.thickness_mm
    laser = stock.shop.process == "laser"
    found: list[Finding] = []
    openings: list[Cut] = []
    drills: list[Cut] = []
    floors: list[Floor] = []
    for cut in panel.cuts:
        if cut.depth.rule in ("through", "sheet"):
            bored = cut.diameter_mm is not None and not laser
            (drills if bored and _well_inside(cut, panel.plate) else openings).append(cut)
            continue
        floor = floor_of(cut, t)
        if floor.depth <= EPS or floor.deep >= t - EPS:
            found.append(_no_floor(panel, step, floor))
            continue
        floors.append(floor)
        if not stock.shop.half_depth:
            found.append(_laser(panel, step, floor))
    body = difference(panel.plate, *(c.region for c in openings)) if openings else panel.plate
    if not body:
        return (), (*found, _nothing_left(panel, step))
    if len(body.parts) > len(panel.plate.parts):
        found.append(_falls_apart(panel, step, body))
    region = difference(body, *(c.region for c in drills)) if drills else body
    partial = _pockets(region, floors) if stock.shop.half_depth else ()
    density = stock.sheet.density
    mass = None
    if density is not None:
        volume = region.area * t - sum(r.area * d for r, d in partial)
        mass = volume * density * 1e-6
    piece = Piece(
        name=panel.name,
        role=panel.role,
        step=step.name,
        sheet=stock.stock,
        letter=stock.letter,
        shop=stock.shop.name,
        count=panel.count,
        thickness_mm=t,
        region=region,
        cut=region,
        set_ups=_set_ups(panel, body, openings, drills, floors),
        mass_g=mass,
        grain=stock.sheet.grain,
        partial=partial,
    )
    return (piece,), tuple(found)


def _well_inside(cut: Cut, plate: Region) -> bool:
    return bool(plate.polygon.contains_properly(cut.region.polygon))


def _pockets(region: Region, floors: Sequence[Floor]) -> tuple[tuple[Region, float], ...]:
    """(plan region, mean depth) of pockets, the deeper one where two from the same face overlap.

    The mean depth of a sloped floor is its depth at the centroid of its region, exactly.
    """
    found: list[tuple[Region, float]] = []
    for face in ("back", "front"):
        left = region
        mine = [f for f in floors if f.face == face]
        for floor in sorted(mine, key=lambda f: (-f.deep, f.cut.name)):
            here = intersection(left, floor.cut.region)
            if not here:
                continue
            found.append((here, _mean_depth(floor, here)))
            left = difference(left, floor.cut.region)
    return tuple(found)


def _mean_depth(floor: Floor, region: Region) -> float:
    tilt = floor.cut.depth.tilt
    if tilt is None:
        return floor.depth
    x, y = region.centroid
    return floor.depth_at(x * tilt.toward[0] + y * tilt.toward[1])


def _set_ups(
    panel: Panel, body: Region, openings: Sequence[Cut], drills: Sequence[Cut], floors: Sequence[Floor]
) -> tuple[SetUp, ...]:
    """What is done to the panel, as set-ups; a shop that cuts no pockets gets their outlines as reference."""
    shop = panel.stock.shop
    pocketed = floors if shop.half_depth else ()
    undone = () if shop.half_depth else tuple(c for f in floors for c in f.cut.region.contours)
    return sheet_set_ups(
        SheetWork(
            face=panel.face,
            pins=[c for c in drills if c.index],
            cut_pins=[c for c in openings if c.index] if shop.process == "laser" else [],
            drills=[c for c in drills if not c.index],
            pockets=[op.floored(f, f.cut.region) for f in pocketed],
            inside=[((h,), _cutter_of(h, openings)) for p in body.parts for h in p.holes],
            outside=[((p.outer,), panel.name) for p in body.parts],
            ops=panel.ops,
            labels=panel.labels,
            drawn=(*panel.reference, *undone),
            name=panel.name,
        )
    )


def _cutter_of(hole: Contour, openings: Sequence[Cut]) -> str:
    """The step whose opening a hole contour belongs to; empty for a hole of the plate itself."""
    import shapely

    x, y = (float(v) for v in hole.xy[0])
    near = [
        (round(float(shapely.distance(c.region.polygon.boundary, shapely.Point(x, y))), 3), c.step)
        for c in openings
    ]
    best = min(near, default=(1.0, ""))
    return best[1] if best[0] <= 0.01 else ""


# -- what is said ----------------------------------------------------------------------------------
def _no_floor(panel: Panel, step: Step, floor: Floor) -> Finding:
    t = panel.stock.thickness_mm
    cut = floor.cut
    wrong = (
        f"{cut.name} would leave {mm(cut.depth.mm)} of a sheet of {mm(t)}, so nothing is cut"
        if floor.depth <= EPS
        else f"{cut.name} is {mm(floor.deep)} deep and {panel.name} only {mm(t)} thick, so no floor is left"
    )
    return Finding(
        check="no-floor",
        severity="stop",
        message=f"{wrong}.",
        step=cut.step,
        piece=panel.name,
        at_mm=inside_point(cut.design),
        face=cut.face,
        measured=floor.deep,
        limit=t,
        remedy="write `through: true` at the cavity, or make it fit the sheet",
        place=place_in(step, "cut"),
    )


def _laser(panel: Panel, step: Step, floor: Floor) -> Finding:
    cut = floor.cut
    return Finding(
        check="laser-half-depth",
        severity="ask",
        message=(
            f"{cut.name} is {mm(floor.depth)} deep in {panel.name}, and a laser cuts all the way or not at all; "
            f"it is drawn there and not cut."
        ),
        step=cut.step,
        piece=panel.name,
        at_mm=inside_point(cut.design),
        face=cut.face,
        measured=floor.depth,
        limit=0.0,
        remedy="rout it by hand afterwards, make the panel of two sheets, or have a router shop cut it",
        place=place_in(step, "cut"),
    )


def _nothing_left(panel: Panel, step: Step) -> Finding:
    return Finding(
        check="nothing-left",
        severity="stop",
        message=f"What is cut in {panel.name} leaves nothing of it.",
        step=step.name,
        piece=panel.name,
        measured=0.0,
        limit=0.0,
        unit="mm2",
        remedy="take the cut that is larger than the panel out of `cut`",
        place=place_in(step, "cut"),
    )


def _falls_apart(panel: Panel, step: Step, body: Region) -> Finding:
    small = min(body.parts, key=lambda p: p.outer.area)
    x, y = small.polygon.representative_point().coords[0]
    return Finding(
        check="falls-apart",
        severity="ask",
        message=f"What is cut in {panel.name} leaves it in {len(body.parts)} pieces.",
        step=step.name,
        piece=panel.name,
        at_mm=(float(x), float(y)),
        measured=float(len(body.parts)),
        limit=float(len(panel.plate.parts)),
        unit="pieces",
        remedy="leave a bridge where the loose piece hangs on, or move the cut",
        place=place_in(step, "cut"),
    )
