"""A yardstick for `fit.py`: as few arcs as a greedy search finds when tangents needn't meet.

Each arc runs between two points of the curve and is as long as the tolerance allows (outside_checks.md
B8; arcs with both ends on the curve and one free parameter). It shares no code with the product.
"""

from __future__ import annotations

import numpy as np


def arc_count(points: np.ndarray, tolerance: float) -> int:
    """How many arcs a greedy cover of the open polyline ``points`` (n, 2) takes."""
    count, i, step, last = 0, 0, 8, len(points) - 1
    while i < last:
        fits, fails = i + 1, last + 1
        while fails - fits > 1:
            j = min(max(i + step, fits + 1), fails - 1)
            if _one_arc(points[i : j + 1], tolerance):
                fits, step = j, 2 * (j - i)
            else:
                fails, step = j, (fits + j) // 2 - i
        count, step, i = count + 1, fits - i, fits
    return count


def _one_arc(p: np.ndarray, tolerance: float) -> bool:
    chord = p[-1] - p[0]
    c = np.hypot(*chord)
    if c == 0:
        return False
    w = p[1:-1] - p[0]
    x = (w @ chord) / c
    y = (w @ np.array([-chord[1], chord[0]])) / c
    if len(x) == 0:
        return True
    if x.min() <= 0 or x.max() >= c:
        return False
    # The circle through both ends and (x, y) is centred 1/k below the chord, k = 2y / (x(c − x) − y²);
    # each point allows a band of k.
    low = (2 * (y - tolerance) / (x * (c - x) - (y - tolerance) ** 2)).max()
    high = (2 * (y + tolerance) / (x * (c - x) - (y + tolerance) ** 2)).min()
    if low > high:
        return False
    k = (low + high) / 2
    if abs(k) < 1e-12:
        return bool(np.abs(y).max() <= tolerance)
    far = np.abs(np.hypot(x - c / 2, y + 1 / k) - np.hypot(c / 2, 1 / k))
    return bool(far.max() <= tolerance)
