"""Text with letters that paper can't show: the built-in faces of PDF readers know those of Windows-1252 alone."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.latin import lost
from pipeline.core.recipe import Recipe

NAME = "signs-unprintable"
SHOWN = 5


def check(view: View) -> Iterator[Finding]:
    """A `note` for each text of the recipe that stands with question marks on prints and shop sheets."""
    recipe = view.derived.recipe
    for path, what, text in _texts(recipe):
        signs = list(dict.fromkeys(c for c in text if lost(c)))
        if signs:
            places = (recipe.places.get(p) for p in (path, path.rpartition(".")[0], ""))
            more = f" and {len(signs) - SHOWN} more" if len(signs) > SHOWN else ""
            yield Finding(
                check=NAME,
                severity="note",
                message=(
                    f"{what} holds signs that no print or shop sheet can show ({' '.join(signs[:SHOWN])}{more}); "
                    "each stands as a question mark there. Report, lists and letter show it as it is."
                ),
                measured=float(len(signs)),
                limit=0.0,
                unit="signs",
                remedy="write it in Latin letters where it has to be read on paper",
                place=next((p for p in places if p), None),
            )


def _texts(recipe: Recipe) -> Iterator[tuple[str, str, str]]:
    """(path in the recipe, what it is called, text) of all that is printed."""
    yield "title", "The title", recipe.title
    for name, text in (("owner", recipe.by.owner), ("drawn", recipe.by.drawn), ("issued", recipe.by.issued)):
        yield f"by.{name}", f"`by: {name}`", text
    for n, note in enumerate(recipe.notes):
        yield f"notes.{n}.text", f"Note {n + 1}", note.text
    for name, sheet in recipe.sheets.items():
        yield f"sheets.{name}.material", f"The material of {name}", sheet.material
