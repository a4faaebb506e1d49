"""Makes offsets: one shape for each distance, and panels of them if a sheet is named."""

from __future__ import annotations

from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.steps.common import many, mm, place_in, refuse_all
from pipeline.steps.measures import inside_point, numbers_of, shape_of
from pipeline.steps.offset import Spec, problems
from pipeline.steps.outline_make import panels
from pipeline.steps.values import Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """``regions`` holds one shape for each distance as listed (empty where nothing is left)."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    source = shape_of(world, step, "of", spec.of)
    listed = isinstance(spec.by, tuple)
    named: list[tuple[str, Region]] = []
    rows: list[dict[str, Any]] = []
    reports: list[str] = []
    findings: list[Finding] = []
    for i, by in enumerate(many(spec.by), start=1):
        label = f"{name}-{i}" if listed else name
        shape = offset(source, by, join=spec.join) if by else source
        named.append((label, shape))
        if not shape:
            findings.append(_emptied(step, spec, label, by, i if listed else 0, source))
            rows.append({"name": label, "by_mm": by, "parts": 0})
            continue
        rows.append({"name": label, "by_mm": by, "parts": len(shape.parts), **numbers_of(shape)})
        if len(shape.parts) > len(source.parts):
            reports.append(f"{label}: {mm(by)} mm from {spec.of} falls into {len(shape.parts)} parts.")
        elif len(shape.parts) < len(source.parts):
            reports.append(
                f"{label}: of the {len(source.parts)} parts of {spec.of}, {len(shape.parts)} are left "
                f"at {mm(by)} mm."
            )
    pieces, found = panels(step, spec, world, [(n, r) for n, r in named if r])
    regions = tuple(r for _, r in named)
    return Result(
        step=name,
        kind="offset",
        region=regions[0] if len(regions) == 1 and regions[0] else None,
        regions=regions if listed else (),
        pieces=pieces,
        numbers={"offsets": rows},
        reports=tuple(reports),
        findings=(*findings, *found),
    )


def _emptied(step: Step, spec: Spec, label: str, by: float, nth: int, source: Region) -> Finding:
    return Finding(
        check="offset-empty",
        severity="stop",
        message=f"{label}: nothing of {spec.of} is left {mm(-by)} mm inside its edge.",
        step=step.name,
        piece=label if spec.sheet else "",
        at_mm=inside_point(source),
        measured=-by,
        limit=inner_radius(source),
        remedy=f"stay under {mm(inner_radius(source))} mm, the radius of the largest circle inside {spec.of}",
        place=place_in(step, f"by.{nth - 1}" if nth else "by"),
    )


def inner_radius(region: Region) -> float:
    """Radius in mm of the largest circle inside a region, to 0.01 mm."""
    import shapely

    found = [shapely.maximum_inscribed_circle(p.polygon, tolerance=0.01).length for p in region.parts]
    return round(float(max(found)), 2)
