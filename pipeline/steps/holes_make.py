"""Makes holes: one plan rule for each, and one more for a wider mouth or for the other half."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Recipe, Step, other_face
from pipeline.core.standard import BELOW_MM, Hole, hole_for, part_of, trust_of, uses_of
from pipeline.geometry.shapes import disc
from pipeline.steps.cavity_skin import stacks_that_cut, thickness_mm
from pipeline.steps.common import mm, place_in, refuse_all
from pipeline.steps.holes import Spec, problems
from pipeline.steps.holes_places import places
from pipeline.steps.values import Cut, Depth, Result, World

TIP = 0.30
"""The cone of a drill of 118 degrees is this much of its diameter long: 1/(2·tan 59°) = 0.3004 (trade.md 3.6)."""
UNDER_TIP_MM = 2.0
"""Wood that stays under the tip (trade.md 3.6, derived)."""
DEEP = 5.0
"""Deeper than this many diameters a hole is drilled in several goes (trade.md 3.6, common practice)."""
MEET_MM = 1.0
"""Two halves of a hole drilled from both faces each pass the middle by this (common practice, no source)."""
BORE = " counterbore"
BACK = " other half"


def make(name: str, spec: Spec, world: World) -> Result:
    """Holes in the order they are listed; several are called ``<step>-<n>``."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    points, pattern = places(step, spec, world)
    wanted = _fastener(spec, world.recipe)
    diameters = (wanted.diameter_mm,) if wanted else spec.diameter
    if len(diameters) == 1:
        diameters = diameters * len(points)
    depth = depth_of(spec, wanted)
    thick = thickness_mm(name, world.recipe, spec.lamination)
    middle = thick if stacks_that_cut(name, world.recipe) else None
    cuts: list[Cut] = []
    for i, ((x, y), d) in enumerate(zip(points, diameters, strict=True), start=1):
        cut = Cut(
            step=name,
            name=name if len(points) == 1 else f"{name}-{i}",
            region=disc(x, y, d / 2),
            design=disc(x, y, d / 2),
            face=spec.face,
            depth=depth,
            diameter_mm=d,
            lamination=spec.lamination,
            index=spec.role == "index",
            fit="dowel" if spec.role == "dowel" else "",
        )
        cuts += _halves(cut, middle) if spec.through == "both" else [cut]
        if spec.counterbore is not None:
            bore = disc(x, y, spec.counterbore.diameter / 2)
            rule = Depth(rule="depth", mm=spec.counterbore.depth)
            cuts.append(
                replace(
                    cut,
                    name=cut.name + BORE,
                    region=bore,
                    design=bore,
                    depth=rule,
                    diameter_mm=spec.counterbore.diameter,
                    index=False,
                )
            )
    rows: list[dict[str, Any]] = [
        {"at_mm": [x, y], "diameter_mm": d} for (x, y), d in zip(points, diameters, strict=True)
    ]
    numbers: dict[str, Any] = {
        "role": spec.role,
        "face": spec.face,
        "rule": depth.rule,
        "mm": depth.mm,
        "holes": rows,
        **pattern,
    }
    if wanted:
        numbers["fastener"] = _told(spec, wanted)
    numbers |= _blind(depth, max(diameters), thick)
    main = [c.region for c in cuts if not c.name.endswith((BORE, BACK))]
    return Result(
        step=name,
        kind="holes",
        region=main[0] if len(main) == 1 else None,
        regions=tuple(main) if len(main) > 1 else (),
        cuts=tuple(cuts),
        numbers=numbers,
        reports=_reports(name, spec, wanted, depth, max(diameters), middle),
        findings=tuple(_tip(step, spec, depth, max(diameters), thick, points)),
    )


def depth_of(spec: Spec, wanted: Hole | None = None) -> Depth:
    """The one rule of `depth`, `floor`, `through` and `length` that is given."""
    if spec.through:
        return Depth(rule="through")
    if spec.floor is not None:
        return Depth(rule="floor", mm=spec.floor)
    if spec.depth is not None:
        return Depth(rule="depth", mm=spec.depth)
    assert wanted is not None  # `problems` has seen to it
    assert wanted.depth_mm is not None
    return Depth(rule="depth", mm=wanted.depth_mm)


def _fastener(spec: Spec, recipe: Recipe) -> Hole | None:
    """The hole by the tables; a part of `hardware` that says its own `hole:` stands above them."""
    if not spec.fastener:
        return None
    part, uses = part_of(recipe, spec.fastener), uses_of(spec.fastener)
    if part is None or not part.hole:
        use = spec.for_ or uses[0]
        return hole_for(spec.fastener, use, fit=spec.class_, wood=spec.wood, length_mm=spec.length)
    depth = None
    if spec.length is not None:
        known = [u for u in uses if spec.for_ in (None, u)]
        by_table = hole_for(spec.fastener, known[0], length_mm=spec.length) if known else None
        depth = by_table.depth_mm if by_table else spec.length + BELOW_MM
    source, trust = trust_of(recipe, spec.fastener)
    return Hole(
        diameter_mm=part.hole,
        least_mm=part.hole,
        most_mm=part.hole,
        depth_mm=depth,
        chamfer_mm=0.0,
        source=source,
        trust=trust,
    )


def _halves(cut: Cut, middle: float | None) -> list[Cut]:
    """A through hole as two blind ones that meet, where the thickness of the blank is known."""
    if middle is None:
        return [cut]
    half = Depth(rule="depth", mm=middle / 2 + MEET_MM)
    there = replace(cut, name=cut.name + BACK, face=other_face(cut.face), depth=half)
    return [replace(cut, depth=half), there]


# -- what is told ----------------------------------------------------------------------------------
def _told(spec: Spec, wanted: Hole) -> dict[str, Any]:
    return {
        "name": spec.fastener,
        "for": spec.for_ or next(iter(uses_of(spec.fastener)), None),
        "diameter_mm": wanted.diameter_mm,
        "from_mm": wanted.least_mm,
        "to_mm": wanted.most_mm,
        "source": wanted.source,
        "trust": wanted.trust,
        **({"mouth_chamfer_mm": wanted.chamfer_mm} if wanted.chamfer_mm else {}),
    }


def _blind(depth: Depth, diameter: float, thick: float | None) -> dict[str, Any]:
    """A drill's tip below a blind hole's full depth, and the wood under it where the thickness is known."""
    if depth.rule not in ("depth", "floor"):
        return {}
    tip = TIP * diameter
    left = depth.mm if depth.rule == "floor" else None if thick is None else thick - depth.mm
    told: dict[str, Any] = {"tip_mm": tip}
    if left is not None:
        told["under_tip_mm"] = left - tip
    if depth.rule == "depth":
        told["deep_over_diameter"] = depth.mm / diameter
    return told


def _tip(
    step: Step,
    spec: Spec,
    depth: Depth,
    diameter: float,
    thick: float | None,
    points: tuple[tuple[float, float], ...],
) -> list[Finding]:
    """depth + 0.3·d + 2 must not be more than the thickness: a `stop` where the tip comes out, else an `ask`."""
    under = _blind(depth, diameter, thick).get("under_tip_mm")
    if under is None or under >= UNDER_TIP_MM - 1e-9:
        return []
    remedy = f"make it {mm(UNDER_TIP_MM - under)} shallower, or bore it with a flat-ended cutter"
    return [
        Finding(
            check="drill-tip",
            severity="stop" if under <= 0 else "ask",
            message=(
                f"The tip of a drill of {mm(diameter)} reaches {mm(TIP * diameter)} below the full depth of "
                f"{step.name}, and {'comes out' if under <= 0 else f'{mm(under)} of wood is left under it'}."
            ),
            step=step.name,
            at_mm=points[0],
            face=spec.face,
            measured=under,
            limit=UNDER_TIP_MM,
            remedy=remedy,
            place=place_in(step, "depth" if spec.depth is not None else "floor" if spec.floor else "length"),
        )
    ]


def _reports(
    name: str, spec: Spec, wanted: Hole | None, depth: Depth, diameter: float, middle: float | None
) -> tuple[str, ...]:
    """What the maker does by hand or must know: a cone, a chamfer, a deep hole, two halves, a weak source."""
    said: list[str] = []
    if wanted is not None:
        source = "" if wanted.trust in ("read", "measured") else f" ({wanted.trust}: try it in scrap first)"
        said.append(
            f"{name}: {mm(wanted.diameter_mm)} for {spec.fastener}{f', {spec.for_}' if spec.for_ else ''}{source}."
        )
        if wanted.chamfer_mm:
            said.append(
                f"{name}: chamfer each mouth by {mm(wanted.chamfer_mm)}, so that glue has somewhere to go."
            )
    if spec.countersink is not None:
        deep = countersink_mm(diameter, spec.countersink.diameter, spec.countersink.angle)
        said.append(
            f"{name}: countersink by hand to {mm(spec.countersink.diameter)} at the {spec.face}, "
            f"{mm(spec.countersink.angle)} degrees, {mm(deep)} deep."
        )
    if depth.rule == "depth" and depth.mm > DEEP * diameter:
        said.append(f"{name}: {mm(depth.mm)} is more than {mm(DEEP)} diameters deep; drill it in several goes.")
    if spec.through == "both":
        said.append(
            f"{name}: drilled from both faces, {mm(middle / 2 + MEET_MM)} deep each, so that neither mouth tears."
            if middle is not None
            else f"{name}: drill half-way, turn the work over and drill from the other face."
        )
    return tuple(said)


def countersink_mm(hole: float, mouth: float, angle_deg: float) -> float:
    """(D − d)/2 / tan(angle/2): how deep a cone is that opens a hole d to D at the face."""
    return (mouth - hole) / 2 / math.tan(math.radians(angle_deg) / 2)
