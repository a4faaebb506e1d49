"""Small drawings for the tests, and what is read from them."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.recipe import Recipe
from pipeline.geometry.region import Region
from pipeline.intake.drawing import read_svg
from pipeline.intake.drawing.affine import IDENTITY
from pipeline.intake.drawing.document import Document, Entry
from pipeline.intake.drawing.names import find
from pipeline.intake.drawing.take import Taken, take
from pipeline.intake.recipe import read_recipe

XMLNS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PAGE = 'width="200mm" height="100mm" viewBox="0 0 200 100"'


def svg(body: str, page: str = PAGE) -> str:
    """A whole drawing; its page is 200 × 100 mm with one unit a millimetre unless told otherwise."""
    return f"<svg {XMLNS} {page}>{body}</svg>"


def document(body: str, page: str = PAGE) -> Document:
    return read_svg(svg(body, page).encode(), "t.svg")


def taken(body: str, name: str = "a", page: str = PAGE) -> Taken:
    """What an object gives, in page mm with y up."""
    doc = document(body, page)
    entry = find(doc, name)
    assert isinstance(entry, Entry), entry
    return take(doc, doc.members(entry.index), IDENTITY, name)


def area(body: str, name: str = "a", page: str = PAGE) -> Region:
    """The region of an object; fails where it gives none."""
    found = taken(body, name, page)
    assert found.region is not None, found.problem
    return found.region


def fault(body: str, name: str = "a", page: str = PAGE) -> str:
    """The first fault of an object, in words."""
    doc = document(body, page)
    entry = find(doc, name)
    assert isinstance(entry, Entry), entry
    return next(f.wrong for s in doc.members(entry.index) for f in s.faults)


def messages(body: str, page: str = PAGE) -> str:
    """All that the document has to tell."""
    return "\n".join(f.message for f in document(body, page).findings)


def recipe(folder: Path, drawing: str, *lines: str) -> Recipe:
    """A recipe beside a drawing; without ``lines`` it takes the object ``a``."""
    (folder / "t.svg").write_text(drawing, encoding="utf-8")
    steps = lines or ("steps: {part: {kind: outline, drawn: a}}",)
    (folder / "t.yaml").write_text("\n".join(("design: wren", "drawing: t.svg", *steps, "")), encoding="utf-8")
    return read_recipe(folder / "t.yaml")
