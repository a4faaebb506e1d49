"""What stands beside a part: the check square, the framed block of words, the cross at zero."""

from __future__ import annotations

from pipeline.geometry.contour import Contour, line_chain
from pipeline.packet.legend import LINE_LENGTH
from pipeline.packet.shop_file import Words
from pipeline.packet.written import Bounds, Curve, written

GAP_MM = 20.0
"""Between the part and what stands beside it."""
SQUARE_MM = 100.0
ARM_MM = 10.0
"""Length of each arm of the cross at zero."""
HEIGHT_MM = 2.5
"""Height of words, the least that ISO 3098 lettering on a sheet should have here (common practice)."""
PITCH_MM = 4.5
"""From line to line."""
PAD_MM = 5.0
WIDEST = 0.9
"""Mean width of a letter by its height, more than in the fonts that usually draw DXF text (common practice)."""


def cross() -> tuple[Contour, Contour]:
    """A cross at (0, 0): zero of the file."""
    return (
        line_chain([(-ARM_MM, 0.0), (ARM_MM, 0.0)], closed=False),
        line_chain([(0.0, -ARM_MM), (0.0, ARM_MM)], closed=False),
    )


def beside(around: Bounds, lines: tuple[str, ...]) -> tuple[tuple[Curve, ...], tuple[Curve, ...], list[Words]]:
    """(check square, frame of the words, words) to the right of what ``around`` bounds.

    The words stand above the square, so that both share a left edge; the frame is wide enough for usual fonts, so
    that what a file states as its extents holds its words too.
    """
    x, y = round(around[2] + GAP_MM, 6), round(around[1], 6)
    side = SQUARE_MM
    square = line_chain([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
    name = [
        Words(text="CHECK SQUARE 100.00 x 100.00 mm", x=x + PAD_MM, y=y + side / 2, height_mm=HEIGHT_MM),
        Words(
            text="measure it before anything is cut", x=x + PAD_MM, y=y + side / 2 - PITCH_MM, height_mm=HEIGHT_MM
        ),
    ]
    bottom = y + side + PAD_MM
    width = 2 * PAD_MM + LINE_LENGTH * HEIGHT_MM * WIDEST
    height = 2 * PAD_MM + (len(lines) - 1) * PITCH_MM + HEIGHT_MM
    frame = line_chain([(x, bottom), (x + width, bottom), (x + width, bottom + height), (x, bottom + height)])
    top = bottom + height - PAD_MM - HEIGHT_MM
    block = [
        Words(text=line, x=x + PAD_MM, y=top - i * PITCH_MM, height_mm=HEIGHT_MM)
        for i, line in enumerate(lines)
        if line
    ]
    return (written(square),), (written(frame),), [*name, *block]
