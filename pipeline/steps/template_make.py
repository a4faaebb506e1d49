"""Makes templates: one for a shape, or the whole set of a stack."""

from __future__ import annotations

from pipeline.core.errors import refuse
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.steps.common import place_in, refuse_all
from pipeline.steps.template import Spec, problems
from pipeline.steps.template_job import Made, made_of
from pipeline.steps.template_text import Job
from pipeline.steps.values import Cut, Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """The template as a piece; ``region`` is its own solid, ``numbers`` say what comes out.

    A set gives one piece for each template, named ``<step>-<what>``; ``regions`` are their solids.
    """
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    if spec.set_ is not None:
        from pipeline.steps.template_set import jobs

        made = {job.name: made_of(job, step, spec, world) for job in jobs(step, spec, world)}
        return _result(name, made, None, tuple(m.solid for m in made.values()), {"templates": {
            own: m.numbers for own, m in made.items()
        }})  # fmt: skip
    one = made_of(_job(step, spec, world), step, spec, world)
    return _result(name, {name: one}, one.solid, (one.followed,), one.numbers)


def _result(
    name: str,
    made: dict[str, Made],
    region: Region | None,
    regions: tuple[Region, ...],
    numbers: dict[str, object],
) -> Result:
    return Result(
        step=name,
        kind="template",
        region=region,
        regions=regions,
        pieces=tuple(p for m in made.values() for p in m.pieces),
        numbers=numbers,
        reports=tuple(r for m in made.values() for r in m.reports),
        findings=tuple(f for m in made.values() for f in m.findings),
    )


def _job(step: Step, spec: Spec, world: World) -> Job:
    assert spec.of is not None  # `problems` has seen to it
    assert spec.use is not None
    wanted, cut, cavity = wanted_of(step, spec.of, world, recess=spec.recess or spec.ledge)
    return Job(
        name=step.name,
        of=spec.of,
        wanted=wanted,
        use=spec.use,
        stages=spec.stages,
        face=spec.face or (cut.face if cut else "front"),
        cut=cut,
        cavity=cavity if spec.ledge else None,
    )


def wanted_of(step: Step, of: str, world: World, *, recess: bool) -> tuple[Region, Cut | None, Cut | None]:
    """The shape that shall come out, overrun included, its plan rule if it has one, and the cavity's if it is a
    recess."""
    result = world.result(of)
    cuts = result.cuts
    if cuts:
        deep = recess and len(cuts) > 1
        chosen = cuts[1] if deep else cuts[0]
        return chosen.region, chosen, cuts[0] if deep else None
    if result.region:
        return result.region, None, None
    raise refuse(
        f"{step.name} needs one shape, and {of} makes {len(result.regions) or 'none'}.",
        place=place_in(step, "of"),
        expected="a step that makes a single shape",
    )
