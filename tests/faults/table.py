"""What covers each of the 42 faults of trade.md 8, and the table of what was found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tests.faults.case import Verdict

COVERED: dict[int, tuple[str, str]] = {
    1: ("check", "corner_sharp; templates: steps/template_limits (template-corner)"),
    2: ("check", "slot_narrow"),
    3: ("check", "part_thin (outlines), web_thin (between cuts), steps/gauges (taper)"),
    4: ("impossible", "every cut is a plan shape and a depth, so walls stand square; moulds: steps/mould_limits"),
    5: ("check", "floor_round; carved surfaces: steps/carved_told, steps/edge_bevel"),
    6: ("check", "tool_reach; by hand: steps/template_support (cutter-short)"),
    7: ("check", "many_segments; curves are refitted by arcs on export"),
    8: ("intake", "drawing-gap up to 1 mm, refused beyond"),
    9: ("intake", "drawing-duplicate, drawing-overlap, drawing-doubled"),
    10: ("check", "drawing_size; intake/drawing/size and scale"),
    11: ("intake", "drawing-unread; our own text is written as strokes or TEXT, never cut"),
    12: ("step", "falls-apart (steps/panel), lamination-split (steps/lamination)"),
    13: ("check", "floor_thin; steps/lamination (lamination-thin), steps/edge_slice (edge-skin)"),
    14: ("check", "cavities_meet, bore_near; steps/channel_clear (bore-cover)"),
    15: ("check", "wall_thin"),
    16: ("proof", "layer names are read back and parsed; one depth a layer"),
    17: ("proof", "origin cross and index holes are read back"),
    18: ("reader", "a part without a fit is refused"),
    19: ("check", "unmeasured_part; coupons: steps/coupon"),
    20: ("reader", "exactly one of depth, floor, through; a face is front or back"),
    21: ("proof", "set-ups are turned back over and compared"),
    22: ("check", "sheet_measured; steps/stack_told (blank-measured)"),
    23: ("check", "too_large; workshop/nest (no-room)"),
    24: ("check", "parts_close; the layout keeps the shop's gap and measures it"),
    25: ("check", "grain_unstated; steps/stack_balance"),
    26: ("reader", "stock, measured thickness and count are read or refused; names hold the count"),
    27: ("check", "hole_small"),
    28: ("check", "web_thin; steps/cover_make (screw-no-wood)"),
    29: ("check", "part_small"),
    30: ("proof", "the legend's compensation is compared with the shop's; the cut is simulated"),
    31: ("check", "depth_overlap (sheets), cavities_meet (blanks)"),
    32: ("proof", "order of work by containment; workshop/sequence makes it"),
    33: ("proof", "entities far away, z, blocks; intake reports what it leaves out"),
    34: ("impossible", "no bridges are drawn yet; with them their place will be the layout's duty"),
    35: ("step", "edge-wall, edge-mouth (steps/edge_make, edge_round)"),
    36: ("check", "cover_edge"),
    37: ("check", "half_depth; steps/lamination, steps/panel (laser-half-depth)"),
    38: ("impossible", "a recipe names no clamps; parts keep the shop's border, index ears stand in the waste"),
    39: ("step", "first-pass, bush-collar, cutter-short, router-tips (steps/template_support)"),
    40: ("check", "hole_hits, screw_short; steps/holes_make (drill-tip)"),
    41: ("proof", "revision in file, name, and packet.json"),
    42: ("proof", "header units and the 100.00 check square"),
}
"""Fault → (where it is found, by what). Only what a recipe, a drawing or a step can show has cases here."""
SEEDED = tuple(n for n, (where, _) in COVERED.items() if where in ("check", "step", "intake", "reader"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One fault in numbers: seeded and found, the worst errors, near misses with false alarms, remedies."""

    fault: int
    seeded: int
    found: int
    place_mm: float
    number: float
    near: int
    false_alarms: int
    numbers: int
    cleared: int


def rows(verdicts: Iterable[Verdict]) -> list[Row]:
    """The verdicts of all cases, gathered by fault."""
    by: dict[int, list[Verdict]] = {}
    for v in verdicts:
        by.setdefault(v.case.fault, []).append(v)
    made = []
    for fault, mine in sorted(by.items()):
        seeds, near = [v for v in mine if v.case.seed], [v for v in mine if not v.case.seed]
        fixes = [v for v in seeds if v.case.seed is not None and v.case.seed.mends]
        made.append(
            Row(
                fault=fault,
                seeded=len(seeds),
                found=sum(not v.wrong for v in seeds),
                place_mm=max((v.place_mm for v in seeds), default=0.0),
                number=max((v.number for v in seeds), default=0.0),
                near=len(near),
                false_alarms=sum(v.false_alarms for v in mine),
                numbers=len(fixes),
                cleared=sum(v.mended for v in fixes),
            )
        )
    return made


def printed(table: list[Row]) -> str:
    """The table as text."""
    lines = ["fault  found/seeded  place mm  number %  near misses  false alarms  cleared by its remedy  by"]
    for r in table:
        cleared = f"{r.cleared}/{r.numbers}" if r.numbers else "-"
        found = f"{r.found}/{r.seeded}"
        lines.append(
            f"{r.fault:>5}  {found:>12}  {r.place_mm:>8.2f}  {100 * r.number:>8.2f}  {r.near:>11}  "
            f"{r.false_alarms:>12}  {cleared:>21}  {COVERED[r.fault][1]}"
        )
    for fault, (where, by) in COVERED.items():
        if where not in ("check", "step", "intake", "reader"):
            lines.append(f"{fault:>5}  {where}: {by}")
    return "\n".join(lines)
