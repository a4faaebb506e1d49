"""SPLINE objects as cubics: exactly up to degree 3, otherwise within a given distance of the true curve.

Each knot span is a Bézier curve by its polar form (L. Ramshaw, "Blossoming", 1987; the recursion is de
Boor's). A rational span of degree 2 is a conic; where it is part of an ellipse it stays one exactly. What
remains is followed by cubics with the curve's own points and tangents, halved until they lie within bound.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from pipeline.intake.drawing.dxf_file import Record, Unusable
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment, raised

MAX_DEGREE = 25
MAX_FIT = 1000
DEEPEST = 14
"""A span is halved at most so often: into 16,384 cubics."""
PROBES = tuple(k / 8 for k in range(1, 8))

Weighted = tuple[complex, float]
"""A control point times its weight, and the weight."""
Curve = Callable[[float], tuple[complex, complex]]
"""Point and derivative at a parameter."""


def spline(record: Record, near: float) -> tuple[list[Segment], list[float], tuple[str, ...]]:
    """(segments, heights of the given points, notes) of a SPLINE. Raises Unusable."""
    controls = record.points(10)
    if controls:
        return _joined(_spans(record, controls, near), record), [z for _, _, z in controls], ()
    points = record.points(11)
    if len(points) < 2:
        raise Unusable("it has neither control points nor points to go through", record.at)
    return _through(record, points), [z for _, _, z in points], ("through points",)


def _spans(record: Record, controls: list[tuple[float, float, float]], near: float) -> list[Segment]:
    degree, knots, weights = record.whole(71, 3), record.numbers(40), record.numbers(41)
    n = len(controls)
    if not 1 <= degree <= MAX_DEGREE:
        raise Unusable(f"its degree is {degree}; 1 to {MAX_DEGREE} are read", record.first(71))
    if n <= degree:
        raise Unusable(f"it has {n} control points; a curve of degree {degree} needs {degree + 1}", record.at)
    if len(knots) != n + degree + 1:
        raise Unusable(
            f"it has {len(knots)} knots; {n} control points of degree {degree} need {n + degree + 1}", record.at
        )
    if any(a > b for a, b in pairwise(knots)):
        raise Unusable("its knots don't rise", record.first(40))
    if weights and len(weights) != n:
        raise Unusable(f"it has {len(weights)} weights for {n} control points", record.first(41))
    if any(w <= 0 for w in weights):
        raise Unusable("a weight of it isn't above zero", record.first(41))
    weights = weights or [1.0] * n
    even = max(weights) - min(weights) <= 1e-15 * max(weights)
    points = [
        (complex(x, y) * (1.0 if even else w), 1.0 if even else w)
        for (x, y, _), w in zip(controls, weights, strict=True)
    ]
    found: list[Segment] = []
    for k in range(degree, n):
        if knots[k] < knots[k + 1]:
            bezier = _bezier(points, knots, k, degree)
            found += _plain([z for z, _ in bezier], near, record) if even else _rational(bezier, near, record)
    return found


def _bezier(points: Sequence[Weighted], knots: Sequence[float], k: int, degree: int) -> list[Weighted]:
    """The Bézier control points of the span from knot k to knot k + 1."""
    a, b = knots[k], knots[k + 1]
    return [_blossom(points, knots, k, degree, [a] * (degree - j) + [b] * j) for j in range(degree + 1)]


def _blossom(
    points: Sequence[Weighted], knots: Sequence[float], k: int, degree: int, at: Sequence[float]
) -> Weighted:
    """The polar form of the span's polynomial at ``degree`` parameters."""
    d = list(points[k - degree : k + 1])
    for r in range(1, degree + 1):
        for j in range(degree, r - 1, -1):
            low, high = knots[j + k - degree], knots[j + 1 + k - r]
            t = (at[r - 1] - low) / (high - low)
            d[j] = ((1 - t) * d[j - 1][0] + t * d[j][0], (1 - t) * d[j - 1][1] + t * d[j][1])
    return d[degree]


def _plain(bezier: list[complex], near: float, record: Record) -> list[Segment]:
    """A span without weights."""
    if len(bezier) == 2:
        return [Line(bezier[0], bezier[1])]
    if len(bezier) == 3:
        return [raised(bezier[0], bezier[1], bezier[2])]
    if len(bezier) == 4:
        return [Cubic(*bezier)]
    return _followed(_rational_curve([(z, 1.0) for z in bezier]), 0.0, 1.0, near, record)


def _rational(bezier: list[Weighted], near: float, record: Record) -> list[Segment]:
    """A span with weights; those of degree 1 and, where they are ellipses, of degree 2 exactly."""
    (p, wp), (q, wq) = bezier[0], bezier[-1]
    p, q = p / wp, q / wq
    if len(bezier) == 2:
        return [Line(p, q)]
    if len(bezier) == 3:
        c, w = bezier[1][0] / bezier[1][1], bezier[1][1] / math.sqrt(wp * wq)
        if abs(w - 1) < 1e-12:
            return [raised(p, c, q)]
        if w < 1 - 1e-4 and abs(((q - p).conjugate() * (c - p)).imag) > 1e-9 * abs(q - p) * abs(c - p):
            # An affine image of a circle's arc over the angle 2 t with w = cos t.
            half = math.acos(w)
            s = (c - (p + q) / 2) * w / (1 - w * w)
            v = (q - p) / (2 * math.sin(half))
            return [Bow(p, q, (p + q) / 2 - w * s, s, v, -half, 2 * half)]
    return _followed(_rational_curve(bezier), 0.0, 1.0, near, record)


def _rational_curve(bezier: list[Weighted]) -> Curve:
    """The curve of weighted Bézier points, by de Casteljau."""
    degree = len(bezier) - 1

    def at(t: float) -> tuple[complex, complex]:
        d = list(bezier)
        for r in range(degree, 1, -1):
            d = [((1 - t) * d[j][0] + t * d[j + 1][0], (1 - t) * d[j][1] + t * d[j + 1][1]) for j in range(r)]
        (a, wa), (b, wb) = d
        z, w = (1 - t) * a + t * b, (1 - t) * wa + t * wb
        return z / w, degree * ((b - a) - (wb - wa) * (z / w)) / w

    return at


def _followed(curve: Curve, a: float, b: float, near: float, record: Record, depth: int = 0) -> list[Segment]:
    """Cubics along a curve from parameter a to b, within ``near`` of it at equal parameters."""
    (p, dp), (q, dq) = curve(a), curve(b)
    h = (b - a) / 3
    cubic = Cubic(p, p + dp * h, q - dq * h, q)
    if max(abs(cubic.at(t) - curve(a + t * (b - a))[0]) for t in PROBES) <= near and depth > 0:
        return [cubic]
    if depth == DEEPEST:
        raise Unusable("its curve can't be followed closely enough", record.at)
    middle = (a + b) / 2
    return [
        *_followed(curve, a, middle, near, record, depth + 1),
        *_followed(curve, middle, b, near, record, depth + 1),
    ]


def _joined(segments: list[Segment], record: Record) -> list[Segment]:
    """Segments that meet exactly; without those that have no length at all."""
    found: list[Segment] = []
    for s in segments:
        if s.p == s.q and (isinstance(s, Line) or (isinstance(s, Cubic) and s.p == s.c1 == s.c2)):
            continue
        if found and found[-1].q != s.p:
            gap, size = abs(found[-1].q - s.p), abs(s.q - s.p) + abs(found[-1].q - found[-1].p)
            if gap > 1e-9 * (size + abs(s.p)):
                raise Unusable("it is broken into parts that don't meet", record.at)
            found[-1] = found[-1].moved_end(s.p)
        found.append(s)
    return found


def _through(record: Record, points: list[tuple[float, float, float]]) -> list[Segment]:
    """The cubic spline with continuous curvature through points, its parameter the length of the chords.

    Ends have the directions that the file gives (12, 13), otherwise no curvature; a closed one runs on smoothly.
    """
    closed = bool(record.whole(70) & 1)
    z = [complex(x, y) for x, y, _ in points]
    z = [p for i, p in enumerate(z) if i == 0 or p != z[i - 1]]
    if closed and len(z) > 1 and z[0] != z[-1]:
        z.append(z[0])
    if len(z) > MAX_FIT:
        raise Unusable(f"it goes through {len(z)} points; at most {MAX_FIT} are read", record.at)
    if len(z) < 2:
        return []
    if len(z) == 2 and record.first(12) is None and record.first(13) is None:
        return [Line(z[0], z[1])]
    h = [abs(q - p) for p, q in pairwise(z)]
    slopes = [(q - p) / d for p, q, d in zip(z, z[1:], h, strict=False)]
    n = len(z)
    m = np.zeros((n, n))
    right = np.zeros(n, dtype=complex)
    for i in range(1, n - 1):
        m[i, i - 1 : i + 2] = h[i], 2 * (h[i - 1] + h[i]), h[i - 1]
        right[i] = 3 * (h[i] * slopes[i - 1] + h[i - 1] * slopes[i])
    if closed:
        m[0, 0], m[0, -1] = 1.0, -1.0
        m[-1, 0] += 2 * h[-1]
        m[-1, 1] += h[-1]
        m[-1, -2] += h[0]
        m[-1, -1] += 2 * h[0]
        right[-1] = 3 * (h[-1] * slopes[0] + h[0] * slopes[-1])
    else:
        for row, inner, code, chord in ((0, 1, 12, slopes[0]), (n - 1, n - 2, 13, slopes[-1])):
            x, y, _ = record.point(code, (0.0, 0.0, 0.0))
            m[row, row] = 1.0
            if complex(x, y) != 0:
                right[row] = complex(x, y) / abs(complex(x, y))
            else:
                m[row, row], m[row, inner], right[row] = 2.0, 1.0, 3 * chord
    d = np.linalg.solve(m, right).tolist()
    return [Cubic(p, p + d[i] * h[i] / 3, q - d[i + 1] * h[i] / 3, q) for i, (p, q) in enumerate(pairwise(z))]
