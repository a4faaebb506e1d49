"""Makes holes: one plan rule for each."""

from __future__ import annotations

from pipeline.geometry.shapes import disc
from pipeline.steps.common import refuse_all
from pipeline.steps.holes import Spec, problems
from pipeline.steps.measures import point_of
from pipeline.steps.values import Cut, Depth, Result, World


def depth_of(spec: Spec) -> Depth:
    """The one rule of `depth`, `floor` and `through` that is given."""
    if spec.through:
        return Depth(rule="through")
    if spec.floor is not None:
        return Depth(rule="floor", mm=spec.floor)
    assert spec.depth is not None  # `problems` has seen to it
    return Depth(rule="depth", mm=spec.depth)


def make(name: str, spec: Spec, world: World) -> Result:
    """Holes in the order they are listed; several are called ``<step>-<n>``."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    places = [point_of(world, step, f"at.{i}", p) for i, p in enumerate(spec.at)]
    diameters = spec.diameter
    if len(diameters) == 1:
        diameters = diameters * len(places)
    depth = depth_of(spec)
    cuts = tuple(
        Cut(
            step=name,
            name=name if len(places) == 1 else f"{name}-{i}",
            region=disc(x, y, d / 2),
            design=disc(x, y, d / 2),
            face=spec.face,
            depth=depth,
            diameter_mm=d,
            lamination=spec.lamination,
            index=spec.role == "index",
            fit="dowel" if spec.role == "dowel" else "",
        )
        for i, ((x, y), d) in enumerate(zip(places, diameters, strict=True), start=1)
    )
    rows = [{"at_mm": [x, y], "diameter_mm": d} for (x, y), d in zip(places, diameters, strict=True)]
    return Result(
        step=name,
        kind="holes",
        region=cuts[0].region if len(cuts) == 1 else None,
        regions=tuple(c.region for c in cuts) if len(cuts) > 1 else (),
        cuts=cuts,
        numbers={"role": spec.role, "face": spec.face, "rule": depth.rule, "mm": depth.mm, "holes": rows},
    )
