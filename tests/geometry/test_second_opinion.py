"""Offsets against a polygon clipper on integers, which shares no code with GEOS or the product, as B11
matches them.

B11 (GEOS tests/xmltester/BufferResultMatcher.h, read): symmetric difference / expected area < 1e-3 and
distance of the boundaries < |d|/100, floor 1e-8. Adopted here, with a floor of
twenty chord errors, as both sides are chords. SECOND_OPINIONS=5000 in the environment takes more outlines
than the usual ones.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass

import numpy as np
import pytest
import shapely

from pipeline.geometry.contour import Floats
from pipeline.geometry.curves import contour
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Part, Region, region
from pipeline.geometry.shapes import circle
from pipeline.geometry.transform import shift
from tests.geometry.glyphs import far_off
from tests.strategies import mixed_path

pyclipper = pytest.importorskip("pyclipper")

CASES = int(os.environ.get("SECOND_OPINIONS", "100"))
BATCHES = 5
UNIT = 1e5
"""Integers a millimetre: 10 nm."""
FLAT_MM = 0.0005
"""Chord error of arcs, and what points are left out by, of source and results: five times this between the
two at most."""
OFFSETS_MM = (0.05, 0.3, 1.5, 4.5, 12.0, 30.0)


def outline(seed: int) -> Region:
    """Lines, arcs and cubics, none to three holes of the same sorts."""
    r = np.random.default_rng(seed)

    def path(n: int, least: float, most: float) -> list:
        kinds = r.choice(["line", "arc", "cubic"], n).tolist()
        bends = r.uniform(-1, 1, (n, 2)).tolist()
        return mixed_path(r.uniform(least, most, n).tolist(), [(k, *b) for k, b in zip(kinds, bends, strict=True)])

    outer = contour(path(int(r.integers(3, 10)), 40, 120), True)
    room = shapely.LinearRing(outer.flatten(0.01)[0]).distance(shapely.Point(0, 0))
    holes, count = [], int(r.integers(0, 4))
    for k in range(count):
        a, size = 2 * math.pi * k / count, room * r.uniform(0.15, 0.4)
        at = (0.55 * room * math.cos(a), 0.55 * room * math.sin(a))
        if r.random() < 0.5:
            holes.append(circle(*at, size / 2))
        else:
            holes.append(shift(*at).contour(contour(path(4, size * 0.4, size * 0.6), True)))
    return region([Part(outer, tuple(holes))])


def integers(shape: Region) -> list[list[tuple[int, int]]]:
    rings = shapely.get_rings(shapely.get_parts(shapely.simplify(shape.polygon, FLAT_MM)))
    return [
        [(round(x * UNIT), round(y * UNIT)) for x, y in shapely.get_coordinates(r)[:-1].tolist()] for r in rings
    ]


def polygons(paths: list) -> shapely.Geometry:
    """Even-odd area of integer rings."""
    rings = [shapely.Polygon(np.array(p) / UNIT) for p in paths if len(p) > 2]
    area = shapely.MultiPolygon()
    for ring in sorted(rings, key=lambda x: -x.area):
        area = area.symmetric_difference(ring.buffer(0))
    return area


def second(shape: Region, by_mm: float) -> shapely.Geometry:
    engine = pyclipper.PyclipperOffset(2.0, FLAT_MM * UNIT)
    engine.AddPaths(integers(shape), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return polygons(engine.Execute(by_mm * UNIT))


@dataclass(frozen=True, slots=True)
class Match:
    """Symmetric difference / expected area, and the distance of the boundaries both ways in mm."""

    area: float
    far_mm: float


def match(ours: Region, theirs: shapely.Geometry) -> Match:
    """B11's two numbers. Boundaries are compared at all vertices and at points at most 1 mm apart."""
    if not ours or theirs.is_empty:
        return Match(ours.area + theirs.area, 0.0)
    ours, theirs = shapely.simplify(ours.polygon, FLAT_MM), shapely.simplify(theirs, FLAT_MM)
    differing = shapely.symmetric_difference(ours, theirs, grid_size=1e-6).area
    far = 0.0
    for one, other in ((ours, theirs), (theirs, ours)):
        walk = shapely.get_coordinates(shapely.segmentize(shapely.boundary(one), 1.0))
        ring, k = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(other)), return_index=True)
        same = k[1:] == k[:-1]
        far = max(far, nearest(walk, ring[:-1][same], ring[1:][same]))
    return Match(differing / theirs.area, far)


def nearest(walk: Floats, p: Floats, q: Floats) -> float:
    """The largest distance of points from the nearest edge p→q; only far ones are looked for far away."""
    away = far_off(walk, p, q, 0.005)
    lost = ~np.isfinite(away)
    if lost.any():
        edges = shapely.linestrings(np.stack([p, q], axis=1))
        away[lost] = shapely.STRtree(edges).query_nearest(
            shapely.points(walk[lost]), return_distance=True, all_matches=False
        )[1]
    return float(away.max())


@pytest.mark.parametrize("batch", range(BATCHES))
def test_offsets_agree(batch: int) -> None:
    """Every outline at one distance, outwards and inwards; nine in ten within three chord errors."""
    matches = []
    for seed in range(batch, CASES, BATCHES):
        shape, d = outline(seed), OFFSETS_MM[seed % len(OFFSETS_MM)]
        assert shape.polygon.is_valid
        for by in (d, -d):
            ours, theirs = offset(shape, by), second(shape, by)
            m = match(ours, theirs)
            assert m.area < 1e-3, (seed, by)
            assert m.far_mm < max(d / 100, 20 * FLAT_MM), (seed, by)  # at a tip chord errors stand out far
            assert bool(ours) == (not theirs.is_empty), (seed, by)
            matches.append(m)
    assert len(matches) >= 2 * (CASES // BATCHES)
    assert np.quantile([m.far_mm for m in matches], 0.9) < 3 * FLAT_MM


def test_the_matcher_sees_what_is_wrong() -> None:
    """A shape moved by 0.02 mm, one grown by as much, and one without its hole don't match."""
    shape = outline(1)
    assert match(shape, shape.polygon).far_mm < 1e-9
    assert match(shift(0.02, 0).region(shape), shape.polygon).far_mm == pytest.approx(0.02, abs=3 * FLAT_MM)
    ring = region([Part(circle(0, 0, 50), (circle(0, 0, 2),))])
    grown = ring.polygon.buffer(0.02, quad_segs=32)
    assert match(ring, grown).far_mm == pytest.approx(0.02, abs=3 * FLAT_MM)
    assert match(ring, circle_polygon(50)).area == pytest.approx(4 / 2500, rel=0.01)  # chords of both
    assert match(ring, circle_polygon(50)).far_mm == pytest.approx(48, abs=0.01)


def circle_polygon(radius: float) -> shapely.Polygon:
    return shapely.Point(0, 0).buffer(radius, quad_segs=500)
