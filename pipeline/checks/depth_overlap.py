"""Pockets of one sheet that overlap at different depths (trade.md 8, fault 31).

A pocket that lies wholly in the floor of another is clear. In a glued blank `cavities_meet` asks the same.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown

NAME = "depth-overlap"
LEAST_MM2 = 0.01


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each two pockets of one face whose floors disagree where they overlap."""
    for sheet in view.sheets:
        if sheet.piece.role == "lamination":
            continue
        pockets = [b for b in sheet.bites if b.pocket]
        for i, a in enumerate(pockets):
            for b in pockets[i + 1 :]:
                differ = abs((a.high - a.low) - (b.high - b.low))
                if a.face != b.face or differ < 1e-6 or not shapely.intersects(a.shape, b.shape):
                    continue
                shared = shapely.intersection(a.shape, b.shape)
                if shared.area <= LEAST_MM2 or shared.area > min(a.shape.area, b.shape.area) - 0.05:
                    continue
                at = shared.representative_point()
                loops = tuple(
                    tuple((x, y) for x, y in p.exterior.coords[:-1])
                    for p in shapely.get_parts(shared)
                    if p.geom_type == "Polygon"
                )
                yield Finding(
                    check=NAME,
                    severity="ask",
                    message=(
                        f"{a.step} and {b.step} overlap on the {a.face} of {sheet.piece.name} over "
                        f"{shared.area:.1f} mm², {a.high - a.low:.2f} and {b.high - b.low:.2f} mm deep; which of "
                        "them makes the floor there is not said."
                    ),
                    step=b.step,
                    piece=sheet.piece.name,
                    at_mm=(float(at.x), float(at.y)),
                    face=b.face,
                    measured=float(shared.area),
                    limit=0.0,
                    unit="mm²",
                    remedy="move one of them, make both as deep, or draw the two as one shape",
                    place=view.place(b.step, "depth", "floor", "centre", "drawn"),
                    shown=Shown(left_mm=loops),
                )
