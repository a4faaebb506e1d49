"""Outlines as a hand draws them: known shapes with wobble of known wavelengths and amplitude."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.contour import Bools, Contour, Floats, line_chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.wobble import Walk


def traced(shape: Contour, amplitude: float, seed: int, count: int = 900, quiet_mm: float = 0.0) -> Region:
    """A polyline of about ``count`` points along a closed contour, off it by at most ``amplitude`` mm in waves
    of 2 to 20 mm. Its vertices are among the points; within ``quiet_mm`` of its corners it is undisturbed."""
    walk = Walk.of(shape)
    s = np.unique(np.concatenate([np.arange(count) * walk.length / count, walk.stops[:-1]]))
    points, tangent = walk.at(s)
    off = waves(s, walk.length, amplitude, seed)
    if quiet_mm:
        off = off * _loud(s, walk.stops[:-1], walk.length, quiet_mm)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    return solid(line_chain(points + normal * off[:, None]))


def waves(s: Floats, length: float, amplitude: float, seed: int) -> Floats:
    """Eight waves of 2 to 20 mm that close after ``length``, with the largest sum at ``amplitude``."""
    rng = np.random.default_rng(seed)
    total: Floats = np.zeros(len(s))
    for _ in range(8):
        wave = float(np.exp(rng.uniform(np.log(2.0), np.log(20.0))))
        turns = round(length / wave)
        # A hand shakes less in short waves.
        total += min(1.0, wave / 8) * np.sin(2 * np.pi * turns * s / length + rng.uniform(0, 2 * np.pi))
    wobble: Floats = total * (amplitude / np.abs(total).max())
    return wobble


def _loud(s: Floats, corners: Floats, length: float, quiet: float) -> Bools:
    gap = np.abs(s[:, None] - corners)
    near = np.minimum(gap, length - gap).min(axis=1)
    loud: Bools = near > quiet
    return loud
