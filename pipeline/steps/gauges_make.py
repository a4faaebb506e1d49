"""Makes gauges: plates whose mouth is the section of a neck, and plates with a hollow and a round edge.

A section gauge is drawn as it is held, seen from the bridge: its reference edge, which comes level with the face
of the fretboard, at the top, the bass side at the left, the back of the neck below. Its plane stands square to
the centreline. All lines are finished edges; kerf and cutters are the shop's business.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.scale import Board, sagitta
from pipeline.geometry.sections import Section, facet, profile
from pipeline.geometry.shapes import disc, rectangle
from pipeline.geometry.transform import shift, turn
from pipeline.steps.common import Stock, mm, refuse_all, sheet_of
from pipeline.steps.fretboard import board_of
from pipeline.steps.gauges import Spec, fretboard_for, problems
from pipeline.steps.labels import CLEAR_MM, STROKE_MM, block_size, fits_well, placed
from pipeline.steps.measures import inside_point
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.stations import Place, places, tapers
from pipeline.steps.values import Label, Piece, Result, World

LASER_LETTER_MM = 3.0
ROUTER_LETTER_MM = 6.0
"""Letters that a laser and a router cut well (trade.md 7.4, common practice)."""
BEYOND_MM = 1.0
"""How far the mouth is drawn past the reference edge before it is taken out of the plate."""


def make(name: str, spec: Spec, world: World) -> Result:
    """The gauges as pieces, sections first; ``numbers`` hold each one's measures and facets."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    stock = sheet_of(world, step, "sheet", spec.sheet)
    found = fretboard_for(step, world.recipe)
    board = board_of(found.spec) if found is not None else None
    stations = places(step, spec, board) if spec.stations else ()
    radii = _radii(spec, world)
    total = len(stations) + len(radii)
    names = [name] if total == 1 else [f"{name}-{i}" for i in range(1, total + 1)]
    pieces: list[Piece] = []
    findings = list(tapers(step, stations))
    rows: list[dict[str, Any]] = []
    reports: list[str] = []
    for own, place in zip(names, stations, strict=False):
        lines = (_title(own, world), place.words, f"T {mm(place.thickness)} {_FROM[spec.from_]}")
        legs = legs_of(spec, place.section, lines, stock)
        plate = section_plate(spec, place.section, stock, legs)
        labels = (
            *_sides(spec, place.section, stock, legs),
            *placed(plate, lines, stock.shop, mirrored=world.recipe.mirrored),
        )
        pieces += _piece(own, step, plate, stock, labels, findings)
        rows.append(_row(own, spec, place))
        reports.append(_said(rows[-1]))
    round_rows: list[dict[str, Any]] = []
    for own, (radius, where) in zip(names[len(stations) :], radii, strict=True):
        plate = radius_plate(radius, spec.chord, stock)
        h = sagitta(radius, spec.chord)
        text = (_title(own, world), f"R {mm(radius)}{where}", f"CHORD {mm(spec.chord)}", f"RISE {h:.3f}")
        pieces += _piece(
            own, step, plate, stock, placed(plate, text, stock.shop, mirrored=world.recipe.mirrored), findings
        )
        round_rows.append({"piece": own, "radius_mm": radius, "chord_mm": spec.chord, "sagitta_mm": h})
        reports.append(
            f"{own}: a straight edge over the hollow of radius {mm(radius)} leaves {h:.3f} at the middle."
        )
    return Result(
        step=name,
        kind="gauges",
        regions=tuple(p.region for p in pieces),
        pieces=tuple(pieces),
        numbers={"from": spec.from_, "board_mm": spec.board, "stations": rows, "radii": round_rows},
        reports=tuple(reports),
        findings=tuple(findings),
    )


_FROM = {"fretboard top": "FROM TOP", "glue face": "FROM GLUE FACE"}


def _radii(spec: Spec, world: World) -> list[tuple[float, str]]:
    """Radii with what is said of their place; those of a fretboard at the nut, the octave and the last fret."""
    found = [(r, "") for r in spec.radius]
    if spec.radius_of is not None:
        board: Board = board_of(world.recipe.steps[spec.radius_of].spec)
        frets = sorted(
            {0, board.frets, *((board.scale.divisions,) if board.frets > board.scale.divisions else ())}
        )
        at = [(board.radius_at(board.scale.x_of(n)) or 0.0, n) for n in frets]
        if len({round(r, 6) for r, _ in at}) == 1:
            return [*found, (at[0][0], "")]
        found += [(r, " / NUT" if n == 0 else f" / FRET {n}") for r, n in at]
    return found


# -- section gauges ----------------------------------------------------------------------------------
def mouth(spec: Spec, section: Section) -> Region:
    """What the mouth takes: section, edge of the fretboard and clearance, y to the left, depth downward from 0."""
    half = section.width / 2
    down = turn(180.0).then(shift(0.0, -spec.board)).contour(profile(section))  # begins at the right
    xy = np.concatenate([down.xy, [[-half, BEYOND_MM], [half, BEYOND_MM]]])
    bulge = np.append(down.bulge, [0.0, 0.0])
    free = np.append(down.free, [False, False])
    shape = solid(Contour(xy, bulge, free, True))
    return offset(shape, spec.clearance) if spec.clearance else shape


def legs_of(spec: Spec, section: Section, lines: tuple[str, ...], stock: Stock) -> float:
    """Wood on either side of the mouth: the margin, or what the widest line of text needs."""
    wide = block_size(lines, _letter(stock))[0] + 2 * CLEAR_MM + 1.0
    return max(spec.margin, (wide - section.width) / 2 - spec.clearance)


def section_plate(spec: Spec, section: Section, stock: Stock, legs: float) -> Region:
    """The gauge: reference edge at y = 0, body below."""
    back = max(spec.margin, _block(3, _letter(stock)))
    wide = section.width + 2 * (legs + spec.clearance)
    high = spec.board + section.depth + spec.clearance + back
    plate = solid(rectangle(wide, high, y=-high / 2))
    reliefs = [disc(s * section.width / 2, 0.0, spec.relief / 2) for s in (-1, 1)] if spec.relief else []
    return difference(plate, mouth(spec, section), *reliefs)


def _sides(spec: Spec, section: Section, stock: Stock, legs: float) -> tuple[Label, ...]:
    """B and T on the legs, bass left as seen from the bridge."""
    letter = _letter(stock)
    out = section.width / 2 + spec.clearance + legs / 2
    down = -(CLEAR_MM + spec.relief / 2 + letter / 2)
    return tuple(
        Label(text=t, at=(x, down), height_mm=letter, engrave=True, depth_mm=STROKE_MM, centred=True)
        for t, x in (("B", -out), ("T", out))
    )


def _row(own: str, spec: Spec, place: Place) -> dict[str, Any]:
    s = place.section
    facets = {}
    for side, sign in (("bass", 1), ("treble", -1)):
        on_back, down = facet(s, sign)
        facets[side] = {"on_back_mm": on_back + 0.0, "down_side_mm": down + spec.board + 0.0}
    return {
        "piece": own,
        "station": place.key,
        "at_mm": [place.x, 0.0],
        "fret": place.fret,
        "width_mm": s.width,
        "thickness_mm": place.thickness,
        "depth_mm": s.depth,
        "lean_to_bass_mm": s.lean,
        "bass": {"p": s.plus[0], "m": s.plus[1]},
        "treble": {"p": s.minus[0], "m": s.minus[1]},
        "facets_45": facets,
    }


def _said(row: dict[str, Any]) -> str:
    f = row["facets_45"]
    sides = ", ".join(
        f"{side} {f[side]['on_back_mm']:.2f} from the centreline on the back and {f[side]['down_side_mm']:.2f} "
        "down from the fretboard's face"
        for side in ("bass", "treble")
    )
    return f"{row['piece']}: facets at 45° touch the section when they meet the square blank at {sides}."


# -- radius gauges -----------------------------------------------------------------------------------
def radius_plate(radius: float, chord: float, stock: Stock) -> Region:
    """Hollow above, round below, both over the whole width; between them room for the text."""
    bulge = math.tan(math.asin(chord / (2 * radius)) / 2)
    high = _block(4, _letter(stock)) + sagitta(radius, chord)
    a = chord / 2
    return solid(chain([(-a, 0.0), (a, 0.0), (a, high), (-a, high)], [bulge, 0.0, -bulge, 0.0]))


# -- both --------------------------------------------------------------------------------------------
def _letter(stock: Stock) -> float:
    return LASER_LETTER_MM if stock.shop.process == "laser" else ROUTER_LETTER_MM


def _block(lines: int, letter: float) -> float:
    """Height that so many lines of text need, with what is kept clear round them."""
    return block_size(("",) * lines, letter)[1] + 2 * CLEAR_MM + 1.0


def _title(own: str, world: World) -> str:
    revision = world.since.get(own, world.recipe.revision)
    return f"{world.recipe.design.upper()} {own.upper().replace('_', ' ')} {revision}"


def _piece(
    own: str, step: Step, plate: Region, stock: Stock, labels: tuple[Label, ...], findings: list[Finding]
) -> tuple[Piece, ...]:
    """One copy: a gauge serves every neck of the design."""
    text = tuple(v for v in labels if len(v.text) > 1)
    if not fits_well(text, stock.shop):
        findings.append(_small_text(step, own, stock, text, plate))
    panel = Panel(name=own, role="gauge", plate=plate, stock=stock, count=1, labels=labels)
    made, found = piece_of(panel, step)
    findings += found
    return made


def _small_text(step: Step, own: str, stock: Stock, text: tuple[Label, ...], plate: Region) -> Finding:
    height = text[0].height_mm if text else 0.0
    said = f"the letters on {own} are only {height:g} mm high" if text else f"no text fits on {own}"
    return Finding(
        check="label-small",
        severity="note",
        message=f"For want of room {said}.",
        step=step.name,
        piece=own,
        at_mm=inside_point(plate),
        measured=height,
        limit=2.5 if stock.shop.process == "laser" else 6.0,
        remedy="write station, sides and revision on it by hand, or give it more room: `margin:` or `chord:`",
        place=step.place("sheet"),
    )
