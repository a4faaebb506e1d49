"""The templates of a whole stack: outline, cavities, covers, drill guides (trade.md 5.3)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.fields import FaceName
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.geometry.shapes import disc
from pipeline.steps.cavity import covers_of
from pipeline.steps.template import Follow, Set, Spec, served, stack_of, stages_of
from pipeline.steps.template_make import wanted_of
from pipeline.steps.template_text import Job
from pipeline.steps.values import Cut, Depth, World

WIDTH_MM = 0.005
"""A ledge as wide as this to what two followers give is cut by one template."""


def jobs(step: Step, spec: Spec, world: World) -> Iterator[Job]:
    """The set's templates in a fixed order: outline, cavities, covers, drill guides."""
    wanted = spec.whole_set
    assert wanted is not None  # the caller has seen to it
    recipe = world.recipe
    names = served(step, recipe)
    outline = stack_of(spec, recipe).spec.outline
    marks: list[Cut] = []
    for name in names:
        kind = recipe.steps[name].kind
        if kind == "outline":
            region, cut, _ = wanted_of(step, name, world, recess=False)
            yield Job(
                name=f"{step.name}-{name}",
                of=name,
                wanted=region,
                use="outside",
                stages=spec.stages,
                face="front",
                cut=cut,
            )
        elif kind == "cavity":
            yield from _cavity(step, spec, wanted, name, world)
        elif kind == "cover":
            yield from _cover(step, spec, wanted, name, world)
        else:
            marks += [c for c in world.result(name).cuts if not c.index]
    shape = world.result(outline).region
    if shape is not None:
        yield from _guides(step, spec, wanted, outline, shape, marks)


def _followers(spec: Spec, own: Follow | tuple[Follow, ...] | None, path: str) -> tuple[tuple[Follow, ...], str]:
    return (spec.stages, "follow") if own is None else (stages_of(own), path)


def _cavity(step: Step, spec: Spec, wanted: Set, name: str, world: World) -> Iterator[Job]:
    """One template; for a ledge that the two followers give, cavity and recess by it, else one more."""
    stages, path = _followers(spec, wanted.cavities, "set.cavities")
    recess, deep_cut, cavity = wanted_of(step, name, world, recess=True)
    own = f"{step.name}-{name}"
    if cavity is None:
        face: FaceName = deep_cut.face if deep_cut else "front"
        yield Job(
            name=own, of=name, wanted=recess, use="opening", stages=stages, face=face, cut=deep_cut, path=path
        )
        return
    face = cavity.face
    ledge = world.recipe.steps[name].spec.ledge.width
    padded = any(c.spec.screws.pads for c in covers_of(name, world.recipe))  # no bush leaves pads standing
    if len(stages) == 2 and not padded and abs(stages[0].offset - stages[1].offset - ledge) <= WIDTH_MM:
        yield Job(
            name=own,
            of=name,
            wanted=recess,
            use="opening",
            stages=stages,
            face=face,
            cut=deep_cut,
            cavity=cavity,
            path=path,
        )
        return
    region = cavity.region
    yield Job(name=own, of=name, wanted=region, use="opening", stages=stages, face=face, cut=cavity, path=path)
    yield Job(
        name=f"{own}-recess",
        of=name,
        wanted=recess,
        use="opening",
        stages=stages,
        face=face,
        cut=deep_cut,
        path=path,
    )


def _cover(step: Step, spec: Spec, wanted: Set, name: str, world: World) -> Iterator[Job]:
    """The pattern of a cover, with centre marks for its screws; one for each part."""
    stages, path = _followers(spec, wanted.covers, "set.covers")
    result = world.result(name)
    if not result.region:
        return
    face: FaceName = world.result(world.recipe.steps[name].spec.of).cuts[0].face
    places = result.numbers.get("screws_mm", ())
    bored = tuple(_mark(step, name, x, y, wanted.mark, face) for x, y in places)
    for i, part in enumerate(result.region.parts, start=1):
        yield Job(
            name=f"{step.name}-{name}" + (f"-{i}" if len(result.region.parts) > 1 else ""),
            of=name,
            wanted=Region((part,)),
            use="outside",
            stages=stages,
            face=face,
            path=path,
            bored=bored,
        )


def _guides(step: Step, spec: Spec, wanted: Set, outline: str, shape: Region, holes: list[Cut]) -> Iterator[Job]:
    """A drill guide for each face that has holes: the outline itself with centre marks."""
    faces: list[FaceName] = [f for f in ("front", "back") if any(h.face == f for h in holes)]
    for face in faces:
        mine = [h for h in holes if h.face == face]
        bored = tuple(_mark(step, h.name, *h.design.centroid, wanted.mark, face) for h in mine)
        yield Job(
            name=f"{step.name}-drill" + (f"-{face}" if len(faces) > 1 else ""),
            of=outline,
            wanted=shape,
            use="outside",
            stages=(),
            face=face,
            bored=bored,
            lines=_drills(mine),
        )


def _drills(holes: list[Cut]) -> tuple[str, ...]:
    """What is drilled at the marks: a line for each step and diameter."""
    found: dict[tuple[str, float], int] = {}
    for h in holes:
        key = (h.step, h.diameter_mm or 0.0)
        found[key] = found.get(key, 0) + 1
    return ("DRILL GUIDE", *(f"{s.upper().replace('_', ' ')} {n} × Ø{d:g}" for (s, d), n in found.items()))


def _mark(step: Step, name: str, x: float, y: float, diameter: float, face: FaceName) -> Cut:
    """One centre mark, bored through the template."""
    return Cut(
        step=step.name,
        name=f"{step.name} mark {name}",
        region=disc(x, y, diameter / 2),
        design=disc(x, y, diameter / 2),
        face=face,
        depth=Depth(rule="through"),
        diameter_mm=diameter,
    )
