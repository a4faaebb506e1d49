"""Area, first and second moments of a region by quadrature of Green's theorem: code of the tests, not of
the product."""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.region import Region

NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)


def moments(shape: Region) -> dict[str, float]:
    """∫1, ∫x, ∫y, ∫x², ∫y², ∫xy over the region about (0, 0).

    ∫f dA = ∮F dy with F the integral of f over x; each arc is walked by its angle, from its two ends and
    its bulge.
    """
    p, q, b = (np.concatenate([getattr(c, k) for c in shape.contours]) for k in ("starts", "ends", "bulges"))
    t, w = (NODES + 1) / 2, WEIGHTS / 2
    x, y = ((p[:, k, None] + (q - p)[:, k, None] * t) for k in (0, 1))
    dy = np.repeat((q - p)[:, 1, None], len(t), axis=1)
    k = np.flatnonzero(b)
    sweep, way = 4 * np.arctan(b[k]), np.arctan2((q - p)[k, 1], (q - p)[k, 0])
    radius = np.hypot(*(q - p)[k].T) / (2 * np.sin(sweep / 2))  # negative when clockwise
    # The centre lies on the left of an anticlockwise arc's first tangent.
    first = way - sweep / 2
    angle = (first - math.pi / 2)[:, None] + sweep[:, None] * t
    x[k] = (p[k, 0] - radius * np.sin(first))[:, None] + radius[:, None] * np.cos(angle)
    y[k] = (p[k, 1] + radius * np.cos(first))[:, None] + radius[:, None] * np.sin(angle)
    dy[k] = radius[:, None] * np.cos(angle) * sweep[:, None]
    inner = {"1": x, "x": x * x / 2, "y": x * y, "xx": x**3 / 3, "yy": x * y * y, "xy": x * x * y / 2}
    return {name: float(np.sum(f * dy * w)) for name, f in inner.items()}


def central(shape: Region) -> tuple[float, float, float]:
    """∫y², ∫x², ∫xy about the centroid (parallel axes: Huygens, Steiner)."""
    m = moments(shape)
    return m["yy"] - m["y"] ** 2 / m["1"], m["xx"] - m["x"] ** 2 / m["1"], m["xy"] - m["x"] * m["y"] / m["1"]
