"""What a fit is proved to keep, and a slice of `tests/bench/soak.py`: offsets against the drawn curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from pipeline.geometry import fit
from pipeline.geometry.biarcs import CURVE_MM
from pipeline.geometry.bound import bounds
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.curves import Cubic, contour
from pipeline.geometry.deviation import deviation
from pipeline.geometry.fit import ROUNDING_MM, FitFailed, fitted
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle
from pipeline.geometry.transform import shift
from tests.bench.soak import lost, soak, unsound
from tests.geometry.freeform import Design, design, truth
from tests.geometry.measured import BOUND_MM, deviation_of
from tests.geometry.outlines import hermite, random_outline


def test_thirty_designs() -> None:
    """Three of each kind: sound, within the bound both ways, nothing lost, smooth."""
    for first, by in ((0, 6.0), (10, -15.0), (20, -1.0)):
        tally = soak(range(first, first + 10), (by,), greedy=False)
        assert tally.offsets == 10
        assert not tally.faults
        assert not tally.refusals
        assert 0.9 * BOUND_MM < tally.worst[0] <= BOUND_MM


def test_the_measure_sees_what_is_wrong() -> None:
    """The soak's own eyes: a looser fit, a hole that is gone, an edge moved by a hundredth, a part twice."""
    drawn = design(13)
    shape, true = drawn.region(), truth(drawn, 0.25)
    source = shapely.MultiLineString([np.vstack([r, r[:1]]) for r in true.rings])
    shapely.prepare(source)
    exact = offset(shape, -1.0)
    assert exact.parts[0].holes
    assert deviation_of(exact, shape, true, source, -1.0)[0] <= BOUND_MM
    for wrong in (
        fitted(exact, 0.01),
        Region((Part(exact.parts[0].outer, exact.parts[0].holes[1:]),)),
        shift(0.01, 0.0).region(exact),
        offset(shape, 1.0),
        Region(),
    ):
        assert deviation_of(wrong, shape, true, source, -1.0)[0] > BOUND_MM
    assert unsound(Region(exact.parts * 2))
    assert lost(Region((Part(exact.parts[0].outer),)), shape, -1.0)
    assert not lost(exact, shape, -1.0)


@pytest.mark.parametrize(
    ("rho", "depth", "wave", "ripples", "vertices"),
    [(140, 0.05, 2, 110, 3200), (200, 0.1, 4, 190, 6400)],
)
def test_ripples_of_three_tenths(rho: float, depth: float, wave: int, ripples: int, vertices: int) -> None:
    """ρ = R (1 + d cos wt) + 0.3 cos nt, 30 mm inwards: a plain buffer of its vertices is wrong by more than
    a twentieth (GEOS simplifies its input); ours keeps the bound against the drawn curve, both ways."""

    def f(t: np.ndarray) -> np.ndarray:
        r = rho * (1 + depth * np.cos(wave * t)) + 0.3 * np.cos(ripples * t)
        return np.stack([r * np.cos(t), r * np.sin(t)], axis=1)

    def g(t: np.ndarray) -> np.ndarray:
        r = rho * (1 + depth * np.cos(wave * t)) + 0.3 * np.cos(ripples * t)
        s = -rho * depth * wave * np.sin(wave * t) - 0.3 * ripples * np.sin(ripples * t)
        return np.stack([s * np.cos(t) - r * np.sin(t), s * np.sin(t) + r * np.cos(t)], axis=1)

    drawn = Design(kind="ripples", seed=0, paths=(hermite(f, g, 8 * ripples),))
    true = truth(drawn, 0.25)
    source = shapely.MultiLineString([np.vstack([r, r[:1]]) for r in true.rings])
    shapely.prepare(source)

    plain = shapely.Polygon(f(np.linspace(0, 2 * math.pi, vertices + 1)[:-1])).buffer(-30, quad_segs=64)
    points = shapely.points(shapely.get_coordinates(plain))
    right = shapely.dwithin(source, points, 30.05) & ~shapely.dwithin(source, points, 29.95)
    assert not right.all()

    shape = drawn.region()
    result = fitted(offset(shape, -30), BOUND_MM)
    assert not unsound(result)
    assert deviation_of(result, shape, true, source, -30.0)[0] <= BOUND_MM


@pytest.mark.parametrize("seed", range(10))
def test_the_bound_holds_and_is_close(seed: int) -> None:
    """No less than the distance measured on the curves, and hardly more."""
    fine = design(seed).region().parts[0].outer
    found: list[tuple[float, float]] = []

    def spied(c: Contour, f: Contour, upto: np.ndarray) -> np.ndarray:
        far = bounds(c, f, upto)
        found.append((float(far.max()), deviation(c, f).worst_mm))
        return far

    with pytest.MonkeyPatch.context() as m:
        m.setattr(fit, "bounds", spied)
        fitted(fine)
    proved, measured = found[-1]
    assert measured - 1e-9 <= proved <= measured + 2e-5
    assert proved <= BOUND_MM - CURVE_MM - ROUNDING_MM


def test_the_bound_of_known_distances() -> None:
    """An arc and its chord stand the sagitta apart (B5: R 150 over 80 gives 5.431677051990), either way round and
    in one stretch or two. The bound of arcs from a line is just that, of lines from an arc a little more."""
    arc = chain([(-40, 0), (40, 0)], [-0.1357919263, 0.0], closed=False)
    line = line_chain([(-40, 0), (40, 0)], closed=False)
    halves = line_chain([(-40, 0), (0, 0), (40, 0)], closed=False)
    for c, f, upto, room in ((arc, line, 1.0, 1e-6), (line, arc, 1.0, 1.0), (halves, arc, 2.0, 0.3)):
        (far,) = bounds(c, f, np.array([upto]))
        assert 5.43167705 <= far <= 5.43167706 + room


def test_the_bound_sees_a_loop_and_a_missing_end() -> None:
    """A chain that turns back between the ends, and a segment longer than what it stands for."""
    hook = line_chain([(0, 0), (10, 0), (10, 0.5), (4, 0.5), (4, 0), (20, 0)], closed=False)
    straight = line_chain([(0, 0), (20, 0)], closed=False)
    assert bounds(hook, straight, np.array([5.0]))[0] == pytest.approx(0.5, abs=2e-5)
    short = line_chain([(0, 0), (19, 0), (20, 0)], closed=False)
    assert bounds(short, straight, np.array([1.0]))[0] >= 1


def test_a_place_that_is_over_is_fitted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spans that were sought too loosely are caught by the proof and sought again."""
    fine = contour(random_outline(4), True)
    monkeypatch.setattr(fit, "PEAKS", 1.3)
    c = fitted(fine)
    assert deviation(fine, c).worst_mm <= BOUND_MM - CURVE_MM
    monkeypatch.setattr(fit, "TRIES", 1)
    with pytest.raises(FitFailed, match=r"would be wrong by 0\.00[56]") as caught:
        fitted(fine)
    x, y = caught.value.at
    assert fine.bounds[0] <= x <= fine.bounds[2]
    assert fine.bounds[1] <= y <= fine.bounds[3]
    assert caught.value.error_mm is not None
    assert caught.value.error_mm > caught.value.allowed_mm


def _leaf(gap: float) -> Contour:
    """A finger 60 mm long whose wavy sides run ``gap`` mm apart."""
    path = [
        Cubic((0, gap), (20, 4 + gap), (40, -4 + gap), (60, gap)),
        Cubic((60, gap), (80, gap), (80, -20), (60, -20)),
        Cubic((60, -20), (20, -40), (-20, -20), (0, -20)),
        Cubic((0, -20), (30, -12), (62, -12), (60, 0)),
        Cubic((60, 0), (40, -4), (20, 4), (0, 0)),
    ]
    return contour(path, True)


def test_a_thin_finger_does_not_cross_itself() -> None:
    """Two sides four microns apart, fitted within five each, would cross; they are fitted more tightly."""
    thin = _leaf(0.004)
    assert shapely.is_valid(shapely.Polygon(thin.flatten()[0]))
    c = fitted(thin)
    assert shapely.is_valid(shapely.Polygon(c.flatten()[0]))
    assert deviation(thin, c).worst_mm <= BOUND_MM - CURVE_MM


def test_a_thin_wall_round_a_hole_is_kept() -> None:
    """Edge and hole four microns apart are fitted so tightly that they stay apart."""
    outer = contour(random_outline(2), True)
    (inner,) = offset(solid(outer), -0.004).contours
    wall = region([Part(outer, (inner,))])
    c = fitted(wall)
    assert shapely.is_valid(c.polygon)
    assert deviation(wall, c).worst_mm <= BOUND_MM - CURVE_MM
    assert len(c.parts[0].holes) == 1


def test_a_drawn_edge_costs_nothing() -> None:
    c = circle(1, 2, 30)
    assert fitted(c) is c
