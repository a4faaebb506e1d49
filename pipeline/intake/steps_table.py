"""The steps of a recipe: kinds, fields, what each needs, and whether the names it uses exist."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from pipeline.core.fields import StepName
from pipeline.core.names import NAME_RULE, name_problem
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe, Step
from pipeline.core.text import listed, nearest, quoted
from pipeline.intake.convert import convert, convert_table
from pipeline.intake.reading import FAILED, Mention, Reading
from pipeline.intake.yaml_nodes import Entry, Leaf, Table, Tree

if TYPE_CHECKING:
    from pipeline.steps.registry import Kind


def read_steps(tree: Tree, reading: Reading, kinds: Mapping[str, Kind]) -> dict[str, Step]:
    """The steps that could be read, in the order of the file; problems and mentions go to ``reading``."""
    if not isinstance(tree, Table):
        reading.wrong(
            "Steps are names, each with a table of its own.",
            tree.place,
            expected="`body: {kind: outline, drawn: body}`",
        )
        return {}
    if not tree.entries:
        reading.wrong("There are no steps.", tree.place, expected="`body: {kind: outline, drawn: body}`")
    _check_names(tree.entries, reading)
    steps = {}
    for entry in tree.entries:
        step = _step(entry, reading, kinds)
        if step is not None:
            steps[entry.key] = step
    return steps


def _check_names(entries: Iterable[Entry], reading: Reading) -> None:
    """Names go into file names: safe, and different even where upper and lower case count as one."""
    taken: dict[str, str] = {}
    for entry in entries:
        wrong = name_problem(entry.key)
        twin = taken.setdefault(entry.key.lower(), entry.key)
        stem, _, number = entry.key.rpartition("-")
        if wrong:
            reading.wrong(wrong, entry.key_place, expected=NAME_RULE)
        elif twin != entry.key:
            reading.wrong(
                f"The steps {quoted(twin)} and {quoted(entry.key)} differ only in upper and lower case.",
                entry.key_place,
                remedy="rename one of them; some machines would write both into one file.",
            )
        elif number.isdigit() and stem.lower() in taken:
            reading.wrong(
                f"{quoted(entry.key)} could be taken for result {int(number)} of the step {quoted(stem)}.",
                entry.key_place,
                remedy="give this step another name.",
            )


def _step(entry: Entry, reading: Reading, kinds: Mapping[str, Kind]) -> Step | None:
    name, at = entry.key, entry.key_place
    if not isinstance(entry.value, Table):
        reading.wrong(
            f"The step {quoted(name)} has no fields.", at, expected="`{kind: outline, drawn: body}` or the like"
        )
        return None
    own = reading.apart()
    kind = _kind(name, entry.value, at, own, kinds)
    if kind is None:
        reading.take(own, places=False)
        return None
    spec = convert_table(
        kind.spec,
        entry.value,
        "",
        own,
        noun=f"the {kind.name} step {quoted(name)}",
        at=at,
        besides=("kind", "after"),
    )
    written = entry.value.get("after")
    after = convert(tuple[StepName, ...], written.value, "after", own) if written else ()
    reading.take(own, places=False)
    places = {"": at, **own.places}
    reading.places |= {f"steps.{name}.{p}" if p else f"steps.{name}": spot for p, spot in places.items()}
    if spec is FAILED or after is FAILED:
        return None
    needs: dict[str, str] = {}
    for mention in own.mentions:
        if mention.to == "step":
            needs.setdefault(mention.name, _without_numbers(mention.path))
    return Step(name=name, kind=kind.name, spec=spec, after=after, needs=needs, places=places)


def _kind(name: str, table: Table, at: Place, reading: Reading, kinds: Mapping[str, Kind]) -> Kind | None:
    entry = table.get("kind")
    if entry is None:
        reading.wrong(f"`kind` is missing in the step {quoted(name)}.", at, expected=f"`kind:` {listed(kinds)}")
        return None
    reading.places["kind"] = entry.value.place
    if not isinstance(entry.value, Leaf):
        reading.wrong("A kind is one word.", entry.value.place, expected=listed(kinds))
        return None
    kind = kinds.get(entry.value.raw)
    if kind is None:
        guess = nearest(entry.value.raw, kinds)
        reading.wrong(
            f"There is no kind of step called {quoted(entry.value.raw)}.",
            entry.value.place,
            expected=listed(kinds),
            remedy=f"did you mean {guess}?" if guess else "",
        )
    return kind


def _without_numbers(path: str) -> str:
    return ".".join(part for part in path.split(".") if not part.isdigit())


_OF = {"step": "a step", "sheet": "a sheet", "shop": "a shop", "part": "a part in `hardware`"}


def check_mentions(mentions: Iterable[Mention], names: Mapping[str, Mapping[str, Any]], reading: Reading) -> None:
    """Reports every name of a step, sheet, shop or part that the recipe doesn't have.

    ``names`` maps "step", "sheet" … to what there is; a sheet's value is its letters, or None where
    they are unknown because of another problem.
    """
    for mention in mentions:
        known = names.get(mention.to)
        if known is None:
            continue  # names of the drawing: its reader knows them
        name, letter = mention.name, ""
        if mention.to == "sheet" and " " in name:
            name, _, letter = name.partition(" ")
        if name not in known:
            guess = nearest(name, known)
            shown = f"{guess} {letter}".strip()
            reading.wrong(
                f"{quoted(mention.name)} is not {_OF[mention.to]} of this recipe."
                if mention.to != "part"
                else f"{quoted(mention.name)} is not {_OF['part']}.",
                mention.place,
                expected=f"one of {', '.join(list(known)[:20])}" if known else "the recipe has none yet",
                remedy=f'did you mean "{shown}"?' if guess else "",
            )
        elif letter and known[name] is not None and letter not in known[name]:
            reading.wrong(
                f"The stock {quoted(name)} has no sheet {quoted(letter)}.",
                mention.place,
                expected=listed(f'"{name} {there}"' for there in known[name]),
            )


def check_together(recipe: Recipe, kinds: Mapping[str, Kind], broken: Iterable[str], reading: Reading) -> None:
    """What the kinds have to say about fields that don't go together; steps in ``broken`` are passed over."""
    skipped = frozenset(broken)
    for step in recipe.steps.values():
        check = getattr(kinds[step.kind], "problems", None)
        if check is not None and step.name not in skipped:
            reading.problems += check(step, recipe)


def with_all_needs(recipe: Recipe, kinds: Mapping[str, Kind]) -> Recipe:
    """The recipe with, in each step's needs, also those of ``after`` and those that its kind adds."""
    steps = {}
    for step in recipe.steps.values():
        more = getattr(kinds[step.kind], "also_needs", None)
        needs = dict(more(step, recipe)) if more else {}
        steps[step.name] = dataclasses.replace(step, needs={**needs, **step.needs})
    return dataclasses.replace(recipe, steps=steps)
