"""Finding room in a picture: dimension lines beside a shape, words where nothing else stands.

Lengths are mm of the design frame; ``px`` is how many of them one pixel of the picture covers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import shapely

from pipeline.geometry.region import Region

LETTER = 0.55
"""Width of a letter by the size of the font, generously (common practice for sans serif fonts)."""
LINE = 1.45
"""Distance of two lines of words by the size of the font."""
FLAT_PX = 0.25

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension line from ``a`` to ``b`` for the points ``of``, with ``words`` above and below ``at``."""

    a: Point
    b: Point
    of: tuple[Point, Point]
    at: Point
    turn_deg: float
    words: tuple[str, ...]


@dataclass(slots=True)
class Board:
    """A picture while it is filled. Dimension lines keep off all of it; words may stand within ``solid``."""

    px: float
    font: float
    solid: list[shapely.Geometry] = field(default_factory=list)
    lines: list[shapely.Geometry] = field(default_factory=list)
    taken: list[shapely.Geometry] = field(default_factory=list)

    def shape(self, region: Region) -> None:
        """A shape that dimension lines keep off altogether, and words keep off its edge."""
        rough = shapely.simplify(region.polygon, FLAT_PX * self.px)
        self.solid.append(rough)
        self.lines.append(rough.boundary)

    def line(self, *points: Point) -> None:
        """A line that words and dimension lines keep off."""
        self.lines.append(shapely.LineString(points))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """All that stands on the board."""
        x0, y0, x1, y1 = shapely.total_bounds([*self.solid, *self.lines, *self.taken]).tolist()
        return x0, y0, x1, y1

    def width(self, words: str) -> float:
        return len(words) * self.font * LETTER

    # -- dimension lines -------------------------------------------------------------------------
    def dimension(self, a: Point, b: Point, words: tuple[str, ...], side: Point | None = None) -> Dimension:
        """The dimension of a to b, on the nearest free line beside all shapes; ``side`` says on which side."""
        length = math.dist(a, b)
        along = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
        left = (-along[1], along[0])
        right = (-left[0], -left[1])
        # How far the shapes reach from a to each side; the nearer side comes first.
        sides = sorted((max(self._out(a, n), 0.0), n) for n in ((side,) if side else (left, right)))
        step = self.font * LINE
        for k in range(400):
            reach, n = sides[k % len(sides)]
            out = reach + (1 + k // len(sides)) * step
            p, q = ((v[0] + n[0] * out, v[1] + n[1] * out) for v in (a, b))
            at = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
            half = max(length, *(self.width(w) for w in words)) / 2
            ends = [(at[0] + along[0] * s, at[1] + along[1] * s) for s in (-half, half)]
            strip = shapely.LineString(ends).buffer(step * 0.95, cap_style="flat")
            if not self._meets(strip, (*self.solid, *self.lines, *self.taken)):
                break
        self.taken.append(strip)
        degrees = math.degrees(math.atan2(along[1], along[0]))
        degrees = (degrees + 90) % 180 - 90 if abs(degrees) != 90 else 90.0
        return Dimension(a=p, b=q, of=(a, b), at=at, turn_deg=degrees, words=words)

    def _out(self, a: Point, n: Point) -> float:
        """How far from ``a`` along the unit vector ``n`` the shapes reach."""
        points = shapely.get_coordinates([g.convex_hull for g in self.solid])
        return float((points @ n).max()) - (a[0] * n[0] + a[1] * n[1])

    # -- words ---------------------------------------------------------------------------------------
    def words(self, text: str, near: Point, start_px: float = 16.0) -> tuple[Point, shapely.Geometry | None]:
        """Where a short text stands near a point: its middle, and the leader from the point when there is one.

        Tried are eight directions, ever further out; where nothing is free the last place is taken.
        """
        w, h = self.width(text) + 4 * self.px, self.font * LINE
        for ring in range(16):
            for k in (0, 4, 2, 6, 1, 3, 5, 7):
                angle = k * math.pi / 4
                r = (start_px + 11 * ring) * self.px
                x = near[0] + math.cos(angle) * (r + w / 2)
                y = near[1] + math.sin(angle) * (r + h / 2)
                box = shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
                leader = shapely.shortest_line(shapely.Point(near), box)
                free = not self._meets(box, (*self.lines, *self.taken))
                # A leader may leave the dot it belongs to, and crosses no other words.
                if free and not self._meets(
                    leader, [t for t in self.taken if not t.intersects(shapely.Point(near))]
                ):
                    self.taken.append(box)
                    return (x, y), leader
        self.taken.append(box)
        return (x, y), leader

    def _meets(self, one: shapely.Geometry, others: Iterable[shapely.Geometry]) -> bool:
        rows = list(others)
        if not rows:
            return False
        return bool(shapely.intersects(rows, one).any())
