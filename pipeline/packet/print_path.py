"""Contours as the path of a PDF, in mm: lines as lines, arcs as cubics of at most 45°."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipeline.geometry.contour import Contour, arc_centres
from pipeline.packet.print_scene import Stroke
from pipeline.packet.shop_sheet_ink import INK, NARROW_MM, pen

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

DASHES: dict[str, tuple[float, ...]] = {
    "edge": (),
    "front": (),
    "back": (8.0, 1.5, 1.0, 1.5),
    "carve": (4.0, 2.0),
    "mark": (),
}
COLOURS = {"edge": INK, "front": "#0072B2", "back": "#D55E00", "carve": "#009E73", "mark": INK}
LEGEND = {
    "edge": ("outline: full line", "outline"),
    "front": ("cut from the front: full line", "from front: full"),
    "back": ("cut from the back: chain line", "from back: chain"),
    "carve": ("carve line: dashed", "carve: dashed"),
}
"""What the legend says of each kind of line, in full and in short."""
PIECE_RAD = np.pi / 4
"""A cubic over 45° is off by 4.2e-6 of the radius at most."""


@dataclass(frozen=True, slots=True)
class PathCode:
    """A finished path, for ``Canvas.drawPath``, which asks a path for its code and nothing else."""

    code: str

    def getCode(self) -> str:
        return self.code


def path_of(contour: Contour, x0: float = 0.0, y0: float = 0.0) -> PathCode:
    """The path of a contour with (x0, y0) at the origin; coordinates in mm of four decimals."""
    p, q, b = contour.starts, contour.ends, contour.bulges
    curved = np.abs(b) > 1e-12
    sweep = 4 * np.arctan(b)
    n = np.maximum(1, np.ceil(np.abs(sweep) / PIECE_RAD - 1e-9).astype(int))
    seg = np.repeat(np.arange(len(b)), n)
    k = np.arange(len(seg)) - np.repeat(np.cumsum(n) - n, n)  # the number of each piece within its segment
    bowed = np.where(curved, b, 1.0)  # a line has no centre: any number does, it isn't read
    centre, radius = arc_centres(p, q, bowed)
    begins = np.arctan2(*(p - centre).T[::-1])
    step = (sweep / n)[seg]
    a, r = begins[seg] + k * step, radius[seg]
    h = 4 / 3 * np.tan(step / 4) * r
    c, s, c2, s2 = np.cos(a), np.sin(a), np.cos(a + step), np.sin(a + step)
    cx, cy = centre[seg].T
    ends = np.stack([cx + r * c2, cy + r * s2], axis=1)
    last = k == n[seg] - 1
    ends[last] = q[seg[last]]
    points = np.stack(
        [cx + r * c - h * s, cy + r * s + h * c, cx + r * c2 + h * s2, cy + r * s2 - h * c2, *ends.T], axis=1
    )
    points -= np.tile([x0, y0], 3)
    points = np.round(points, 4) + 0.0
    fx, fy = (np.round(contour.xy[0] - [x0, y0], 4) + 0.0).tolist()
    code = [f"{fx:.4f} {fy:.4f} m"]
    for row, arc in zip(points.tolist(), curved[seg].tolist(), strict=True):
        if arc:
            code.append(f"{row[0]:.4f} {row[1]:.4f} {row[2]:.4f} {row[3]:.4f} {row[4]:.4f} {row[5]:.4f} c")
        else:
            code.append(f"{row[4]:.4f} {row[5]:.4f} l")
    if contour.closed:
        code.append("h")
    return PathCode(" ".join(code))


def draw_stroke(canvas: Canvas, stroke: Stroke, x0: float = 0.0, y0: float = 0.0) -> None:
    """A stroke in its own colour and pattern, 0.25 wide, with (x0, y0) at the origin; never filled."""
    pen(canvas, NARROW_MM, COLOURS[stroke.style], DASHES[stroke.style])
    canvas.drawPath(path_of(stroke.contour, x0, y0), stroke=1, fill=0)
