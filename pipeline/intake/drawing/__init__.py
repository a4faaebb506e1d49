"""Reading drawings: SVG to named objects with exact curves in the design frame.

``source`` (bytes to tree) → ``page``, ``style``, ``walk`` (tree to shapes in page mm) → ``take``
(shapes to areas), ``marks``, ``frame``, ``names`` → ``read`` (what a recipe asks for).
"""

from pipeline.intake.drawing.read import read_drawing
from pipeline.intake.drawing.svg import read_svg

__all__ = ["read_drawing", "read_svg"]
