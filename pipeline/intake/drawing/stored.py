"""Opening a drawing's file: by its name an SVG or a DXF, never more of it than is read."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pipeline.core.errors import MachineFailed, refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.drawing.decode import MAX_BYTES
from pipeline.intake.drawing.document import Document

AGAIN = "Run it again."
SUFFIXES = (".svg", ".svgz", ".dxf", "")


def read_document(path: str | Path, file_label: str, *, sha256: str = "") -> Document:
    """Read a drawing by the end of its name: ``.dxf``, everything else as SVG. Raises Refused, MachineFailed.

    ``sha256`` is what its bytes must have, if it is known: a drawing that was saved meanwhile is refused.
    """
    data = stored(path, file_label)
    if sha256 and len(data) <= MAX_BYTES and hashlib.sha256(data).hexdigest() != sha256:
        wrong = "The drawing was changed while it was being read."
        raise refuse(wrong, place=Place(file=file_label), remedy=AGAIN)
    if Path(path).suffix.lower() == ".dxf":
        from pipeline.intake.drawing.dxf import read_dxf

        return read_dxf(data, file_label)
    from pipeline.intake.drawing.svg import read_svg

    return read_svg(data, file_label)


def stored(given: str | Path | bytes, label: str) -> bytes:
    """The bytes of a drawing, at most one more than are allowed. Raises Refused, MachineFailed."""
    if isinstance(given, bytes):
        return given
    path = Path(given)
    if path.suffix.lower() not in SUFFIXES:
        raise refuse(
            f"{quoted(path.name)} isn't an SVG or DXF drawing by its name.",
            place=Place(file=label),
            expected="a file that ends in .svg, .svgz or .dxf",
            remedy="Save or export the drawing as SVG or DXF.",
        )
    try:
        if path.is_dir():
            raise refuse(
                "This is a folder, not a drawing.", place=Place(file=label), expected="an SVG or DXF drawing"
            )
        with path.open("rb") as stream:
            return stream.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise refuse(
            f"There is no drawing {quoted(label, 200)}.",
            place=Place(file=label),
            expected="the path of an SVG or DXF drawing",
            remedy="Check the name, and the folder it is meant from.",
        ) from error
    except OSError as error:
        raise MachineFailed(f"The drawing {label} can't be opened: {error.strerror or error}.") from error
