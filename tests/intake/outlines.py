"""Random outlines of lines and arcs, cut into pieces, with an area worked out apart from the geometry room."""

from __future__ import annotations

import cmath
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

LINE = 'fill="none" stroke="black"'


@dataclass(frozen=True, slots=True)
class Edge:
    """A line (``sweep`` 0) or an arc of ``sweep`` radians (drawing units, y down) from p to q."""

    p: complex
    q: complex
    sweep: float

    @property
    def radius(self) -> float:
        return abs(self.q - self.p) / (2 * math.sin(abs(self.sweep) / 2))

    @property
    def length(self) -> float:
        return abs(self.sweep) * self.radius if self.sweep else abs(self.q - self.p)

    def at(self, t: float) -> complex:
        if not self.sweep:
            return self.p + t * (self.q - self.p)
        # The chord of the part, turned by half of what is left of the sweep: inscribed angle theorem.
        chord = self.radius * 2 * math.sin(abs(self.sweep) * t / 2)
        way = (self.q - self.p) / abs(self.q - self.p)
        return self.p + chord * way * cmath.rect(1.0, -self.sweep * (1 - t) / 2)

    def part(self, t: float, u: float) -> Edge:
        return Edge(self.at(t) if t else self.p, self.at(u) if u < 1 else self.q, self.sweep * (u - t))

    @property
    def area(self) -> float:
        """Under the chord by the shoelace formula, the circular segment by r² (θ − sin θ) / 2."""
        cross = (self.p.conjugate() * self.q).imag / 2
        if not self.sweep:
            return cross
        return cross + self.radius**2 * (self.sweep - math.sin(self.sweep)) / 2

    def reversed(self) -> Edge:
        return Edge(self.q, self.p, -self.sweep)


def outline(seed: int) -> list[Edge]:
    """A star-shaped outline about (100, 50): 4 to 9 corners, lines and flat arcs."""
    rng = random.Random(seed)
    n = rng.randint(4, 9)
    turns = [2 * math.pi * (k + rng.uniform(-0.25, 0.25)) / n for k in range(n)]
    corners = [100 + 50j + cmath.rect(rng.uniform(28, 45), t) for t in turns]
    sweeps = [rng.choice((0.0, rng.uniform(-0.3, 0.9))) for _ in corners]
    return [Edge(p, q, s) for p, q, s in zip(corners, [*corners[1:], corners[0]], sweeps, strict=True)]


def area(edges: Sequence[Edge]) -> float:
    return abs(sum(e.area for e in edges))


def perimeter(edges: Sequence[Edge]) -> float:
    return sum(e.length for e in edges)


def cut(edges: Sequence[Edge], cuts: Sequence[tuple[int, float]], lap: Sequence[float]) -> list[list[Edge]]:
    """Pieces between cuts (edge, fraction); each runs ``lap`` mm past its end, or stops short (negative)."""
    pieces = []
    for k, (edge, t) in enumerate(cuts):
        last, u = cuts[(k + 1) % len(cuts)]
        u = u + lap[k] / edges[last].length
        n = (last - edge) % len(edges) or len(edges)
        middle = [edges[(edge + m) % len(edges)] for m in range(1, n)]
        pieces.append([edges[edge].part(t, 1.0), *middle, edges[last].part(0.0, u)])
    return pieces


def path_data(edges: Sequence[Edge], close: bool = False) -> str:
    words = [f"M{edges[0].p.real!r} {edges[0].p.imag!r}"]
    for e in edges:
        end = f"{e.q.real!r} {e.q.imag!r}"
        words.append(f"A{e.radius!r} {e.radius!r} 0 0 {int(e.sweep > 0)} {end}" if e.sweep else f"L{end}")
    return " ".join(words) + ("Z" if close else "")


def shuffled(pieces: Sequence[Sequence[Edge]], rng: random.Random) -> str:
    """An object ``a`` of open paths in any order and direction."""
    some = [[e.reversed() for e in reversed(p)] if rng.random() < 0.5 else list(p) for p in pieces]
    rng.shuffle(some)
    return f'<g id="a" {LINE}>' + "".join(f'<path d="{path_data(p)}"/>' for p in some) + "</g>"
