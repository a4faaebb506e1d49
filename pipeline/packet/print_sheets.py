"""The canvas of a print: a page at a time, one unit a true millimetre, no clock and no identifiers."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from pipeline.core.recipe import Recipe
from pipeline.packet.print_words import latin
from pipeline.packet.tiles import Tiling

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

POINTS = 72 / 25.4
"""PDF points in a millimetre."""


def called(recipe: Recipe) -> str:
    """The design with its variant and revision, so that no two prints look alike on a bench."""
    return f"{recipe.title}{f', variant {recipe.variant}' if recipe.variant else ''}, revision {recipe.revision}"


def new_canvas(out: io.BytesIO, title: str) -> Canvas:
    """An empty print that is written to ``out``."""
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(out, invariant=1, pageCompression=1)
    canvas.setTitle(latin(title))
    canvas.setAuthor("mouldloft")
    canvas.setSubject("Print at 100 %, no scaling")
    return canvas


def new_page(canvas: Canvas, page: Tiling, scale: tuple[float, float]) -> None:
    """Begin a page: the paper's own size, everything on it larger by ``scale``."""
    sx, sy = scale
    canvas.setPageSize((page.page[0] * sx * POINTS, page.page[1] * sy * POINTS))
    canvas.scale(sx * POINTS, sy * POINTS)
    canvas.setLineCap(0)


def finish(canvas: Canvas, out: io.BytesIO) -> bytes:
    """The whole file."""
    canvas.save()
    return out.getvalue()
