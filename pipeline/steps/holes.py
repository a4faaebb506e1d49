"""The `holes` kind: drilled holes (its fields; `holes_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import Angle, Count, FaceName, MarkName, Point, Size, field
from pipeline.core.recipe import Recipe, Step
from pipeline.core.standard import Class, Use, Wood, fastener_names, part_of, uses_of
from pipeline.core.text import listed, quoted
from pipeline.steps.cavity_skin import cut_by
from pipeline.steps.common import exactly_one, given, one_of_words, place_in
from pipeline.steps.holes_pattern import Pattern, pattern_problems


@dataclass(frozen=True, slots=True, kw_only=True)
class Counterbore:
    """A wider, flat-bottomed mouth for a head or a ferrule."""

    diameter: Size = field("its diameter")
    depth: Size = field("how deep")


@dataclass(frozen=True, slots=True, kw_only=True)
class Countersink:
    """A cone for a flat head; it is cut by hand, so it stands in the words and in no line."""

    diameter: Size = field("its diameter at the face")
    angle: Angle = field("angle of the cone in degrees", 90.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Where, how wide, how deep."""

    at: tuple[Point | MarkName, ...] = field("points or marks, one for each hole", ())
    pattern: Pattern | None = field("places by a rule, instead of `at:`", None)
    diameter: tuple[Size, ...] = field("one diameter for all holes, or one for each", ())
    fastener: str = field("what goes in: M4, `wood 4`, `no 8`, `dowel 8`, `ferrule 8`, `tuning pin` …", "")
    for_: Use | None = field("what the hole does for that fastener; needed where it has several", None)
    class_: Class = field("how close a clearance hole is (ISO 273)", "medium")
    wood: Wood = field("what a pilot hole or an insert is bored in", "plywood")
    length: Size | None = field(
        "length of the thread, insert or dowel that goes in; its depth follows, instead of `depth:`", None
    )
    role: Literal["plain", "index", "dowel", "screw"] = field(
        "what they are for; index holes tie the set-ups of a piece together", "plain"
    )
    face: FaceName = field("the face they are drilled from", "front")
    depth: Size | None = field("how deep: the depth governs", None)
    floor: Size | None = field("what remains: the floor governs", None)
    through: bool | Literal["both"] = field("drilled all the way through; `both`: half from each face", False)
    lamination: Count | None = field("the one lamination that gets them, 1 at the back", None)
    counterbore: Counterbore | None = field("a wider mouth", None)
    countersink: Countersink | None = field("a cone for a flat head", None)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of holes together."""
    spec: Spec = step.spec
    yield from exactly_one(step, ("depth", "floor", "through", "length"), "how deep they go")
    if spec.at or spec.pattern is None:
        yield from _listed_problems(step, spec)
    else:
        yield from pattern_problems(step, spec.pattern)
    if not spec.fastener or spec.diameter:
        yield from exactly_one(step, ("diameter", "fastener"), "how wide they are")
    if spec.fastener:
        yield from _fastener_problems(step, recipe)
    else:
        for name in given(spec, ("for_", "length")):
            yield Problem(
                wrong=f"`{name.rstrip('_')}` speaks of a fastener, and {step.name} names none.",
                place=place_in(step, name.rstrip("_")),
                expected="`fastener:` with the name of what goes in",
            )
    if spec.role == "index" and spec.through is not True:
        yield Problem(
            wrong=f"The index holes {step.name} don't go through, so they can't tie two faces together."
            if not spec.through
            else f"The index holes {step.name} must go through from one face, or they tie nothing together.",
            place=place_in(step, "role"),
            expected="`through: true` for index holes",
        )
    if spec.countersink is not None and not 0.0 < spec.countersink.angle < 180.0:
        yield Problem(
            wrong=f"A cone of {spec.countersink.angle:g} degrees is none.",
            place=place_in(step, "countersink.angle"),
            expected="an angle above 0 and below 180; 90 is usual",
        )
    for name in ("counterbore", "countersink"):
        mouth = getattr(spec, name)
        if mouth is not None and spec.diameter and mouth.diameter <= max(spec.diameter):
            yield Problem(
                wrong=f"The {name} of {step.name} is no wider than its hole.",
                place=place_in(step, f"{name}.diameter"),
                expected=f"more than {max(spec.diameter):g}",
            )


def _listed_problems(step: Step, spec: Spec) -> Iterator[Problem]:
    if spec.pattern is not None:
        yield from exactly_one(step, ("at", "pattern"), "where they are")
    elif not spec.at:
        yield Problem(
            wrong=f"{step.name} has no places.",
            place=place_in(step, "at"),
            expected="one or several points, such as [[-190, 0], [225, 0]], or a `pattern:`",
        )
    if len(spec.diameter) > 1 and len(spec.diameter) != len(spec.at):
        yield Problem(
            wrong=f"{step.name} has {len(spec.at)} places and {len(spec.diameter)} diameters.",
            place=place_in(step, "diameter"),
            expected="one diameter for all holes, or one for each place",
        )


def _fastener_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    spec: Spec = step.spec
    uses = uses_of(spec.fastener)
    own = part_of(recipe, spec.fastener)
    if own is not None and own.hole:
        return
    if not uses:
        yield Problem(
            wrong=f"{step.name} is made for {quoted(spec.fastener)}, of which no hole is known.",
            place=place_in(step, "fastener"),
            expected=one_of_words(fastener_names(), spec.fastener),
            remedy=f"Put {spec.fastener} into `hardware` with `hole:`, or give the `diameter:`.",
        )
    elif spec.for_ is None and len(uses) > 1:
        yield Problem(
            wrong=f"{step.name} doesn't say what its holes do for {spec.fastener}.",
            place=place_in(step, "fastener"),
            expected=f"`for:` {listed(uses)}",
        )
    elif spec.for_ is not None and spec.for_ not in uses:
        yield Problem(
            wrong=f"No hole for {spec.for_} is known of {spec.fastener}.",
            place=place_in(step, "for"),
            expected=listed(uses),
        )
    elif spec.length is not None and (spec.for_ or uses[0]) in ("clearance", "string"):
        yield Problem(
            wrong=f"A hole for {spec.for_ or uses[0]} goes by no length of {spec.fastener}.",
            place=place_in(step, "length"),
            expected="`through:`, `depth:` or `floor:`",
        )


def also_reads(step: Step, recipe: Recipe) -> tuple[str, ...]:
    """What drills them: its sheets say how much wood is under a drill's tip."""
    return cut_by(step.name, recipe)
