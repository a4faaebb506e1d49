"""Clip paths: harmless where they cut nothing off, else said, since what is seen isn't the outline.

Exporters wrap whole pages in a rectangular clip. Such a clip, and the edge of a nested viewport, is read
as a convex polygon; a shape whose box lies inside it is left as it is. Every other clip is a fault.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine, Malformed, parse_transform
from pipeline.intake.drawing.segments import Line, Subpath
from pipeline.intake.drawing.shapes import SHAPES, Wrong, subpaths
from pipeline.intake.drawing.source import Node
from pipeline.intake.drawing.units import Viewport

SLACK_MM = 0.001
"""A shape may touch the edge of its clip."""


@dataclass(frozen=True, slots=True)
class Clip:
    """``corners`` in page mm, None when the clip is no convex polygon; ``what`` names it."""

    corners: tuple[complex, ...] | None
    what: str

    def spares(self, bounds: tuple[float, float, float, float]) -> bool:
        """True when the clip takes nothing from a shape with these bounds (mm)."""
        if self.corners is None:
            return False
        x0, y0, x1, y1 = bounds
        box = (complex(x0, y0), complex(x1, y0), complex(x1, y1), complex(x0, y1))
        ring = self.corners
        turn = sum((p.conjugate() * q).imag for p, q in zip(ring, ring[1:] + ring[:1], strict=True))
        sign = 1.0 if turn > 0 else -1.0
        return all(
            sign * ((q - p).conjugate() * (z - p)).imag >= -SLACK_MM * abs(q - p)
            for p, q in zip(ring, ring[1:] + ring[:1], strict=True)
            for z in box
        )


def viewport_clip(width: float, height: float, ctm: Affine, what: str) -> Clip:
    """The edge of a nested viewport."""
    corners = (0j, complex(width, 0), complex(width, height), complex(0, height))
    return Clip(tuple(ctm(z) for z in corners), what)


def path_clip(node: Node, ctm: Affine, viewport: Viewport, get: Callable[[Node, str], str]) -> Clip:
    """The clip that a <clipPath> element makes in the user space of ``ctm``."""
    what = f"the clip path {quoted(node.id)}"
    drawn = [n for n in node.children if n.tag in SHAPES]
    others = [n for n in node.children if n.tag in ("use", "text")]
    simple = node.attrs.get("clipPathUnits", "userSpaceOnUse") == "userSpaceOnUse"
    if len(drawn) != 1 or others or not simple or node.attrs.get("clip-path", "none") != "none":
        return Clip(None, what)
    shape = drawn[0]
    try:
        m = ctm @ parse_transform(node.attrs.get("transform", ""))
        m = m @ parse_transform(shape.attrs.get("transform", ""))
        found = subpaths(shape.tag, lambda name: get(shape, name), viewport)
    except (Malformed, Wrong):
        return Clip(None, what)
    return Clip(_convex(found, m), what)


def _convex(found: tuple[Subpath, ...], m: Affine) -> tuple[complex, ...] | None:
    if len(found) != 1 or not all(isinstance(s, Line) for s in found[0].segments):
        return None
    ring = [m(s.p) for s in found[0].segments if s.p != s.q]
    n = len(ring)
    turns = [
        ((ring[(i + 1) % n] - ring[i]).conjugate() * (ring[(i + 2) % n] - ring[(i + 1) % n])).imag
        for i in range(n)
    ]
    if n < 3 or not (all(t >= 0 for t in turns) or all(t <= 0 for t in turns)):
        return None
    # A star turns one way too; only the sum of a once-around ring is its own hull.
    area2 = abs(sum((ring[i].conjugate() * ring[(i + 1) % n]).imag for i in range(n)))
    return tuple(ring) if n <= 4 and area2 > 0 else None
