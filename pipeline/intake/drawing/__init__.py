"""Reading drawings: SVG or DXF to named objects with exact curves in the design frame.

``source`` (bytes to tree) → ``page``, ``style``, ``walk`` (tree to shapes in page mm) → ``take``
(shapes to areas), ``marks``, ``frame``, ``names`` → ``read`` (what a recipe asks for). ``dxf`` and its
modules stand in for the first four where the drawing is a DXF.
"""

from pipeline.intake.drawing.read import read_drawing
from pipeline.intake.drawing.stored import read_document
from pipeline.intake.drawing.svg import read_svg

__all__ = ["read_document", "read_drawing", "read_svg"]
