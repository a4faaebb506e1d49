"""Half-deep cuts asked of a shop that cuts all the way or not at all (trade.md 8, fault 37)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown

NAME = "laser-half-depth"


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each piece and step; where the step has said so itself, nothing more is said."""
    shops = {s.name: s for s in view.derived.recipe.shops.values()}
    told = {(f.step, f.piece) for r in view.derived.results.values() for f in r.findings if f.check == NAME}
    for piece in view.derived.pieces:
        shop = shops.get(piece.shop)
        if shop is None or shop.half_depth:
            continue
        for set_up in piece.set_ups:
            for op in set_up.ops:
                partial = op.work in ("POCKET", "RAMP", "GROOVE") or (op.work == "DRILL" and not op.through)
                step = op.step or piece.step
                if not partial or (step, piece.name) in told:
                    continue
                told.add((step, piece.name))
                depth = max(op.depth_mm or 0.0, op.deep_mm or 0.0)
                x0, y0, x1, y1 = op.contours[0].bounds
                yield Finding(
                    check=NAME,
                    severity="ask",
                    message=(
                        f"{step} is {depth:.2f} mm deep in {piece.name}, which is {piece.thickness_mm:.2f} mm "
                        f"thick; {shop.name} cuts all the way or not at all."
                    ),
                    step=step,
                    piece=piece.name,
                    at_mm=((x0 + x1) / 2, (y0 + y1) / 2),
                    face=op.face,
                    measured=depth,
                    limit=0.0,
                    remedy=(
                        f"cut it through, make {piece.name} of two sheets that part at {depth:.2f} mm, rout it by "
                        "hand, or name a shop with a router"
                    ),
                    place=view.place(step, "depth", "floor"),
                    shown=Shown(
                        heights_mm=(piece.thickness_mm, piece.thickness_mm - depth)
                        if op.face == "front"
                        else (0.0, depth)
                    ),
                )
