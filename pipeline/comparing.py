"""The verb `compare`: two packets, or a packet and a recipe, piece by piece; the re-cut list; a page with
pictures."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.answer import Answer
from pipeline.core.errors import Refused, refuse

if TYPE_CHECKING:
    from pipeline.compare.since import Settled
    from pipeline.compare.state import State
    from pipeline.core.recipe import Recipe
    from pipeline.core.verdict import Verdict
    from pipeline.intake.made import Made


def compare_packets(
    old: str | os.PathLike[str],
    new: str | os.PathLike[str],
    *,
    out: str | os.PathLike[str] = "out",
    recipe: str = "",
) -> Answer:
    """What an edit changed, piece by piece, by how much; what that means for all that was cut.

    ``old`` is the folder of a packet (also of an issued one), ``new`` another one, or a recipe, which is derived
    afresh. ``recipe`` names the recipe of a packet whose own can't be found; its made register says what was cut.
    The pictures go to ``<out>/<design>.compare.html``. Raises Refused.
    """
    from pipeline.compare.comparison import comparison
    from pipeline.compare.of_packet import state_of_packet
    from pipeline.compare.page import write_page
    from pipeline.compare.words import rows_of, text_of

    before = state_of_packet(_packet(Path(old)))
    read: Recipe | None
    if Path(new).is_file():
        of = _read(Path(new), before.variant)
        read, now, said = of, _derived(of), ""
    else:
        now = state_of_packet(_packet(Path(new)))
        read, said = _recipe_of(Path(new), recipe)
    verdicts, unknown = _recut(before, now, read, said)
    found = comparison(before, now, verdicts=verdicts, unknown=unknown)
    page = write_page(Path(out), found)
    return Answer(
        text=text_of(found),
        said=(f"The pictures: {page.as_posix()}",),
        data={"exit_code": 0, "page": page.as_posix(), **rows_of(found)},
    )


def settled_of(recipe: Recipe, made: Made) -> Settled:
    """A design derived with its labels settled: each says the revision in which its piece last changed."""
    from pipeline.compare.since import settled
    from pipeline.graph.derive import derive
    from pipeline.intake.drawing import read_drawing

    drawing = read_drawing(recipe)
    return settled(recipe, made, lambda since: derive(recipe, drawing, blank_measured=made.blanks, since=since))


def _packet(folder: Path) -> Path:
    """The folder itself, once it is seen to be one. Raises Refused."""
    if folder.is_file() or not folder.exists():
        what = "is a file" if folder.is_file() else "isn't there"
        raise refuse(
            f"{folder.as_posix()} {what}.",
            expected="the folder of a packet, such as out/heron or issued/heron-A",
        )
    return folder


def _read(path: Path, variant: str) -> Recipe:
    """A recipe, in the variant that the old packet is of. Raises Refused."""
    from pipeline.intake.recipe import read_recipe

    return read_recipe(os.fspath(path), variant=variant)


def _derived(recipe: Recipe) -> State:
    from pipeline.compare.of_design import state_of_derived
    from pipeline.intake.made import read_made
    from pipeline.workshop import nest
    from pipeline.workshop.quote import quote
    from pipeline.workshop.sequence import sequence
    from pipeline.workshop.totals import totals

    derived = settled_of(recipe, read_made(recipe.made)).derived
    nests, _ = nest.nests(derived)
    return state_of_derived(
        derived, sequence=sequence(derived), totals=totals(derived, nests, quote(derived, nests))
    )


def _recipe_of(folder: Path, given: str) -> tuple[Recipe | None, str]:
    """The recipe of a packet, or None and the sentence why there is none."""
    from pipeline.verbs import _recipe_of as found

    try:
        path, variant = found(folder, given)
        return _read(path, variant), ""
    except Refused as refused:
        return None, f"Nothing is said of what was cut: {refused.problems[0].wrong}"


def _recut(before: State, now: State, recipe: Recipe | None, said: str) -> tuple[tuple[Verdict, ...], str]:
    from pipeline.compare.recut import issued_states, verdicts
    from pipeline.intake.made import read_made
    from pipeline.packet.names import issued_name

    if recipe is None:
        return (), said
    made = read_made(recipe.made)
    if made.is_empty:
        name = Path(recipe.made).name or f"{recipe.design}.made.yaml"
        return (), (
            f"Nothing is said of what was cut: the made register {name} names no piece. Enter what is cut under "
            "`made:` there, or in the spreadsheet beside it, to see what stays good."
        )
    look = issued_states(Path(recipe.root), lambda letter: issued_name(recipe, letter), given=(before,))
    return verdicts(now, made, look), ""
