"""Makes a fretboard: its shape in the design frame, its table of frets, and, from a sheet, the piece.

The frame is the instrument's: the bridge line at x = 0, the nut line at x = length, bass up. Positions are
measured from the nut, within 0.1 each (trade.md 5.5, common practice).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.scale import Board
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.steps import fretboard_checks as check
from pipeline.steps.common import Stock, mm, refuse_all, sheet_of
from pipeline.steps.fretboard import Markers, Slots, Spec, board_of, problems, spread_at
from pipeline.steps.labels import STROKE_MM, placed
from pipeline.steps.measures import numbers_of
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.values import Cut, Depth, Label, Op, Piece, Result, World

UNDER_TANG_MM = 0.5
"""A slot is this much deeper than the tang (trade.md 5.5, common practice)."""


def make(name: str, spec: Spec, world: World) -> Result:
    """``region`` is the board; ``numbers`` hold frets, widths, strings, joint and pickups, places as [x, y]."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    board = board_of(spec)
    region = solid(outline(board, spec.end_radius))
    findings = [*check.strings(step, spec, board), *check.saddles(step, spec), *check.edges(step, spec, board)]
    pieces: tuple[Piece, ...] = ()
    reports = [_said(name, board)]
    if spec.sheet:
        stock = sheet_of(world, step, "sheet", spec.sheet)
        pieces, found, more = _piece(name, spec, world, step, board, region, stock)
        findings += found
        reports += more
    return Result(
        step=name,
        kind="fretboard",
        region=region,
        pieces=pieces,
        numbers={**numbers_of(region), **_numbers(spec, board)},
        reports=tuple(reports),
        findings=tuple(findings),
    )


def outline(board: Board, end_radius: float | None = None) -> Contour:
    """The board's edge; an end arc starts at the corners of the straight end and bulges toward the bridge."""
    low, high = board.span
    a, b = board.width_at(low) / 2, board.width_at(high) / 2
    # Anticlockwise from the bass corner of the end, which is the side that may bulge.
    bulge = 0.0 if end_radius is None else math.tan(math.asin(min(a / end_radius, 1.0)) / 2)
    return chain([(low, a), (low, -a), (high, -b), (high, b)], [bulge, 0.0, 0.0, 0.0])


# -- numbers -----------------------------------------------------------------------------------------
def _numbers(spec: Spec, board: Board) -> dict[str, Any]:
    scale = board.scale
    low, high = board.span
    numbers: dict[str, Any] = {
        "length_mm": scale.length,
        "divisions": scale.divisions,
        "octave_mm": scale.from_nut(scale.divisions),
        "width_nut_mm": board.nut_width,
        "width_last_mm": board.last_width,
        "board_length_mm": high - low,
        "taper_deg_a_side": math.degrees(
            math.atan2((board.last_width - board.nut_width) / 2, scale.length - board.last)
        ),
        "frets": [_fret(spec, board, n) for n in fret_numbers(spec)],
    }
    if spec.string_spacing is not None:
        numbers["strings"] = {
            "nut_mm": spread_at(spec, scale.length),
            "last_mm": spread_at(spec, board.last),
            "bridge_mm": spread_at(spec, 0.0),
            "margin_nut_mm": (board.nut_width - spread_at(spec, scale.length)) / 2,
            "margin_last_mm": (board.last_width - spread_at(spec, board.last)) / 2,
            "nut_places_mm": [[scale.length, y] for y in _across(spec, scale.length)],
        }
    if spec.compensation:
        ys = _across(spec, 0.0) if spec.string_spacing and spec.strings else [0.0] * len(spec.compensation)
        behind = spec.compensation if len(spec.compensation) > 1 else spec.compensation * len(ys)
        numbers["saddles_at_mm"] = [[0.0 - c, y] for c, y in zip(behind, ys, strict=True)]
    if spec.joint is not None:
        x = spec.joint.distance or scale.x_of(spec.joint.fret or 0.0)
        numbers["joint"] = {"fret": scale.fret_at(x), "distance_mm": x, "at_mm": [x, 0.0]}
    if spec.pickups:
        numbers["pickups"] = {
            n: {"distance_mm": d, "share_of_length": d / scale.length, "at_mm": [d, 0.0]}
            for n, d in spec.pickups.items()
        }
    if board.crown is not None:
        stations = {"nut": scale.length, "octave": scale.x_of(scale.divisions), "last": board.last}
        numbers["crown"] = {
            n: {
                "radius_mm": board.radius_at(x),
                "width_mm": board.width_at(x),
                "sagitta_mm": board.drop_at(x, board.width_at(x) / 2),
                "at_mm": [x, 0.0],
            }
            for n, x in stations.items()
            if n != "octave" or spec.frets >= spec.divisions
        }
    return numbers


def fret_numbers(spec: Spec) -> range:
    """The frets that have a slot: from 0 where the nut line carries one."""
    return range(0 if spec.zero_fret else 1, spec.frets + 1)


def _fret(spec: Spec, board: Board, n: int) -> dict[str, Any]:
    x = board.scale.x_of(n)
    row: dict[str, Any] = {
        "fret": n,
        "from_nut_mm": board.scale.from_nut(n),
        "width_mm": board.width_at(x),
        "at_mm": [x, 0.0],
    }
    if board.crown is not None:
        row["radius_mm"] = board.radius_at(x)
        row["drop_mm"] = board.drop_at(x, board.width_at(x) / 2)
    if spec.slots is not None:
        # Below the crown's highest line, which is the face of the board before it is crowned.
        middle = spec.slots.tang + UNDER_TANG_MM
        row["slot_middle_mm"] = middle
        row["slot_ends_mm"] = middle + board.drop_at(x, board.width_at(x) / 2 - spec.slots.blind)
    return row


def _across(spec: Spec, x: float) -> list[float]:
    """y of the strings at x, bass first; of the outer two where their number isn't told."""
    spread, count = spread_at(spec, x), spec.strings or 2
    if count == 1:
        return [0.0]
    return [spread / 2 - i * spread / (count - 1) + 0.0 for i in range(count)]


def _said(name: str, board: Board) -> str:
    places = ", ".join(f"{n} at {board.scale.from_nut(n):.2f}" for n in range(1, board.frets + 1))
    return f"{name}: frets from the nut, each measured from there within 0.1: {places}."


# -- the piece ---------------------------------------------------------------------------------------
def _piece(
    name: str, spec: Spec, world: World, step: Step, board: Board, region: Region, stock: Stock
) -> tuple[tuple[Piece, ...], list[Finding], list[str]]:
    slots = spec.slots
    routed = slots is not None and stock.shop.half_depth
    findings: list[Finding] = []
    reports: list[str] = []
    lines = _slot_lines(spec, board, slots)
    deep = (
        max(row["slot_ends_mm"] for row in (_fret(spec, board, n) for n in fret_numbers(spec))) if slots else 0.0
    )
    if slots is not None and routed:
        ops = [Op(work="GROOVE", face="front", contours=lines, depth_mm=deep, diameter_mm=slots.width, step=name)]
        findings += check.slots(step, slots, board, stock, deep)
    else:
        ops = [Op(work="SCORE", face="front", contours=lines, step=name)]
        depth = f" {mm(deep)} deep" if slots else ""
        reports.append(f"{name}: the places of the frets are scored; saw the slots{depth} by hand.")
    cuts: list[Cut] = []
    circles: list[Contour] = []
    if spec.markers is not None:
        spots = marker_spots(spec, spec.markers, board)
        findings += check.markers(step, spec.markers, board, spots, slots.width if slots else 0.0)
        if spec.markers.depth is not None and stock.shop.half_depth:
            cuts += [_bore(name, i, spec.markers, at) for i, (_, at) in enumerate(spots, start=1)]
        else:
            circles += [circle(x, y, spec.markers.diameter / 2) for _, (x, y) in spots]
            if spec.markers.depth is not None:
                reports.append(f"{name}: the marks are engraved; bore them {mm(spec.markers.depth)} deep by hand.")
    if circles:
        ops.append(Op(work="ENGRAVE", face="front", contours=tuple(circles), depth_mm=STROKE_MM, step=name))
    panel = Panel(
        name=name,
        role="panel",
        plate=region,
        stock=stock,
        count=world.recipe.make,
        cuts=tuple(cuts),
        labels=_labels(name, spec, world, board, region, stock) if spec.label else (),
        ops=tuple(ops),
    )
    pieces, found = piece_of(panel, step)
    return pieces, [*findings, *found], reports


def _slot_lines(spec: Spec, board: Board, slots: Slots | None) -> tuple[Contour, ...]:
    """Centrelines across the board; a blind slot's cutter stops short by its own radius."""
    short = slots.blind + slots.width / 2 if slots is not None and slots.blind else 0.0
    found = []
    for n in fret_numbers(spec):
        x = board.scale.x_of(n)
        half = board.width_at(x) / 2 - short
        found.append(line_chain([(x, -half), (x, half)], closed=False))
    return tuple(found)


def marker_spots(spec: Spec, markers: Markers, board: Board) -> list[tuple[int, tuple[float, float]]]:
    """(fret, place) of each mark, midway between the fret and the one before it; of two the bass one first."""
    found: list[tuple[int, tuple[float, float]]] = []
    for n in markers.frets:
        x = (board.scale.x_of(n - 1) + board.scale.x_of(n)) / 2
        if n in markers.double:
            apart = board.width_at(x) / 2 if markers.apart is None else markers.apart
            found += [(n, (x, apart / 2)), (n, (x, -apart / 2))]
        else:
            found.append((n, (x, 0.0)))
    return found


def _bore(name: str, i: int, markers: Markers, at: tuple[float, float]) -> Cut:
    shape = disc(*at, markers.diameter / 2)
    return Cut(
        step=name,
        name=f"{name}-marker-{i}",
        region=shape,
        design=shape,
        face="front",
        depth=Depth(rule="depth", mm=markers.depth or 0.0),
        diameter_mm=markers.diameter,
    )


def _labels(name: str, spec: Spec, world: World, board: Board, region: Region, stock: Stock) -> tuple[Label, ...]:
    """Between frets and marks, where it fits."""
    marks: Sequence[Region] = ()
    if spec.markers is not None:
        marks = [disc(*at, spec.markers.diameter / 2) for _, at in marker_spots(spec, spec.markers, board)]
    width = spec.slots.width if spec.slots else 0.1
    strips = [
        solid(rectangle(width, board.width_at(x) + 1.0, x=x))
        for x in (board.scale.x_of(n) for n in fret_numbers(spec))
    ]
    free = difference(region, *marks) if marks else region
    revision = world.since.get(name, world.recipe.revision)
    lines = (f"{world.recipe.design.upper()} {revision}", name.upper().replace("_", " "))
    return placed(free, lines, stock.shop, tuple(strips), mirrored=world.recipe.mirrored)
