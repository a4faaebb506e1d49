"""All step kinds, one line each. Importing this loads no geometry: a kind's work is loaded when done."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

from pipeline.core.errors import Problem, refuse
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe, Step
from pipeline.core.text import quoted
from pipeline.steps import (
    carved,
    cavity,
    chambers,
    channel,
    coupon,
    cover,
    fretboard,
    gauges,
    holes,
    mould,
    offset,
    outline,
    stack,
    template,
)
from pipeline.steps.common import one_of_words

if TYPE_CHECKING:
    from pipeline.steps.values import Result, World


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One step kind.

    ``maker`` is "module:function" of its work. ``problems(step, recipe)`` gives what is wrong with the
    fields together. ``also_needs(step, recipe)`` gives further steps whose results it reads, each with
    the reason; ``also_reads(step, recipe)`` further steps whose fields (not results) it reads.
    """

    name: str
    spec: type[Any]
    maker: str
    summary: str
    problems: Callable[[Step, Recipe], Iterable[Problem]] | None = None
    also_needs: Callable[[Step, Recipe], Mapping[str, str]] | None = None
    also_reads: Callable[[Step, Recipe], tuple[str, ...]] | None = None

    def make(self, name: str, spec: Any, world: World) -> Result:
        """Do the step. Raises Refused when the recipe asks for what can't be."""
        module, _, function = self.maker.partition(":")
        work = cast("Callable[[str, Any, World], Result]", getattr(import_module(module), function))
        return work(name, spec, world)


def registered(kinds: Iterable[Kind]) -> Mapping[str, Kind]:
    """Kinds by name. Raises ValueError when two share a name."""
    found: dict[str, Kind] = {}
    for kind in kinds:
        if kind.name in found:
            raise ValueError(f"two step kinds are called {kind.name!r}")
        found[kind.name] = kind
    return MappingProxyType(found)


KINDS: Mapping[str, Kind] = registered(
    (
        Kind(
            name="outline",
            spec=outline.Spec,
            maker="pipeline.steps.outline_make:make",
            summary="takes a closed shape from the drawing; with a sheet it is a panel",
            problems=outline.problems,
        ),
        Kind(
            name="offset",
            spec=offset.Spec,
            maker="pipeline.steps.offset_make:make",
            summary="lines at a distance from another shape, outward or inward",
            problems=offset.problems,
        ),
        Kind(
            name="cavity",
            spec=cavity.Spec,
            maker="pipeline.steps.cavity_make:make",
            summary="a pocket or opening, perhaps with a ledge, a sloped floor or an open side",
            problems=cavity.problems,
            also_needs=cavity.also_needs,
            also_reads=cavity.also_reads,
        ),
        Kind(
            name="channel",
            spec=channel.Spec,
            maker="pipeline.steps.channel_make:make",
            summary="a routed or drilled way for wires from one cavity to another",
            problems=channel.problems,
            also_reads=channel.also_reads,
        ),
        Kind(
            name="holes",
            spec=holes.Spec,
            maker="pipeline.steps.holes_make:make",
            summary="drilled holes, among them the index holes that locate the work",
            problems=holes.problems,
            also_reads=holes.also_reads,
        ),
        Kind(
            name="chambers",
            spec=chambers.Spec,
            maker="pipeline.steps.chambers_make:make",
            summary="hollows inside a stack that make it lighter, sized to a wanted mass",
            problems=chambers.problems,
        ),
        Kind(
            name="stack",
            spec=stack.Spec,
            maker="pipeline.steps.stack_make:make",
            summary="laminations glued into one blank, and what is cut in them and in it",
            problems=stack.problems,
        ),
        Kind(
            name="carved",
            spec=carved.Spec,
            maker="pipeline.steps.carved_make:make",
            summary="a height profile as laminations in steps, with lines to carve to",
            problems=carved.problems,
        ),
        Kind(
            name="template",
            spec=template.Spec,
            maker="pipeline.steps.template_make:make",
            summary="a pattern that a router follows by a bearing or a guide bush; or all that a stack needs",
            problems=template.problems,
            also_needs=template.also_needs,
            also_reads=template.also_reads,
        ),
        Kind(
            name="cover",
            spec=cover.Spec,
            maker="pipeline.steps.cover_make:make",
            summary="the plate that closes a cavity with a ledge",
            problems=cover.problems,
        ),
        Kind(
            name="gauges",
            spec=gauges.Spec,
            maker="pipeline.steps.gauges_make:make",
            summary="plates to hold against a neck or a fretboard while it is carved: sections and radii",
            problems=gauges.problems,
            also_needs=gauges.also_needs,
        ),
        Kind(
            name="fretboard",
            spec=fretboard.Spec,
            maker="pipeline.steps.fretboard_make:make",
            summary="the scale of an instrument: frets, edges, strings, crown; with a sheet it is the board",
            problems=fretboard.problems,
        ),
        Kind(
            name="mould",
            spec=mould.Spec,
            maker="pipeline.steps.mould_make:make",
            summary="the form of a bent lamination with its ribs and plies, or a board that is bent by cuts",
            problems=mould.problems,
        ),
        Kind(
            name="coupon",
            spec=coupon.Spec,
            maker="pipeline.steps.coupon_make:make",
            summary="small samples that tell the width of the cut and try a fit before the real piece is cut",
            problems=coupon.problems,
        ),
    )
)


def kind_of(name: str, place: Place | None = None) -> Kind:
    """The kind of that name; raises Refused naming the nearest valid word."""
    kind = KINDS.get(name)
    if kind is None:
        raise refuse(
            f"There is no step kind called {quoted(name)}.", place=place, expected=one_of_words(KINDS, name)
        )
    return kind
