"""Body W as it is printed, and what to look for on its sheets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pypdfium2 as pdfium

from pipeline.core.recipe import Step
from pipeline.geometry.offset import offset
from pipeline.geometry.region import solid
from pipeline.packet.print_pdf import print_pdf
from pipeline.packet.print_scene import scenes
from pipeline.steps.values import Cut, Depth, Derived, Result
from tests.packet import factory as f
from tests.packet.pages import Line, lines

CROSS = re.compile(r"^(-?\d+\.\d\d), (-?\d+\.\d\d)$")
BLACK = (0, 0, 0)


def design() -> Derived:
    """Body W with its index holes, a pocket from either face and a carve line 20 mm inside the edge."""
    base = f.derived()
    inner = offset(solid(f.body_w()), -20.0)
    pockets = tuple(
        Cut(step="neck", name=n, region=r, design=r, face=face, depth=Depth(rule="depth", mm=9.0))
        for n, face, r in (
            ("neck", "front", solid(f.neck_pocket())),
            ("control", "back", solid(f.rectangle(80, 45, 8, x=-30, y=-45))),
        )
    )  # fmt: skip
    results = {
        "body": base.results["body"],
        "pins": base.results["pins"],
        "carve": Result(step="carve", kind="offset", region=inner),
        "neck": Result(step="neck", kind="cavity", cuts=pockets),  # type: ignore[arg-type]  # faces are literals
    }
    order = tuple(
        Step(name=n, kind=r.kind, spec=None, after=(), needs={}, places={"": f.PLACE}) for n, r in results.items()
    )
    return replace(base, order=order, results=results)


DESIGN = design()
(SCENE,) = scenes(DESIGN)
PDF = print_pdf(DESIGN, SCENE)
WIDE = replace(SCENE, bounds=(-165.0, -160.0, 305.0, 160.0))
"""As trade.md's drawing, 470 x 320."""


def opened(data: bytes) -> Iterator[list[pdfium.PdfPage]]:
    document = pdfium.PdfDocument(data)
    found = [document[i] for i in range(len(document))]
    yield found
    for page in found:
        page.close()
    document.close()


def squares(page: pdfium.PdfPage) -> list[tuple[float, float, float, float]]:
    """Boxes of what looks like a check square: drawn beside the drawing, four-cornered, about 100 x 100."""
    found = [v.box for v in lines(page) if not v.drawn and len(v.points) >= 4]
    return [b for b in found if abs(b[2] - b[0] - 100) < 2 and abs(b[3] - b[1] - 100) < 2]


def edge_of(page: pdfium.PdfPage) -> Line:
    (found,) = [
        v
        for v in lines(page)
        if v.drawn and v.colour == BLACK and not v.dashes and v.width > 0.2 and v.box[2] - v.box[0] > 300
        and v.box[3] - v.box[1] > 200
    ]  # fmt: skip
    return found
