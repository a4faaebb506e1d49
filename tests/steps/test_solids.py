"""Mass and centre against closed forms, against strips and against a grid of columns."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.core.fields import FaceName
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.heights import Floor, Span, floor_of, spans
from pipeline.steps.solids import Body, band, body, s_range
from pipeline.steps.values import Cut, Depth, Tilt
from tests.steps.factory import body_w

T = 36.15
Floats = NDArray[np.float64]
ONE = ((Span(number=1, z0=0.0, z1=20.0), 1000.0),)
"""20 mm of something that weighs 1 g/cm3."""


def cut(region: Region, face: FaceName, depth: Depth, *, lamination: int | None = None, name: str = "c") -> Cut:
    return Cut(step=name, name=name, region=region, design=region, face=face, depth=depth, lamination=lamination)


def glued(*sheets: float, density: float = 680.0, glue: float = 0.05) -> list[tuple[Span, float]]:
    """Spans that touch, each glue line counted with the sheet below it."""
    levels = spans(sheets, glue)
    tops = [v.z0 for v in levels[1:]] + [levels[-1].z1]
    return [(Span(number=v.number, z0=v.z0, z1=t), density) for v, t in zip(levels, tops, strict=True)]


def floors_w() -> list[Floor]:
    """Body W's neck pocket, control cavity and its recess (trade.md, How to read it)."""
    neck = solid(rectangle(80, 42.2, 6.5, x=212, y=0))  # runs out past the tip, x 232
    slope = Tilt(angle_deg=2.0, toward=(1.0, 0.0), shallow=172.0, deep=232.0)
    return [
        floor_of(cut(neck, "front", Depth(rule="depth", mm=16.0, tilt=slope), name="neck"), T),
        floor_of(
            cut(solid(rectangle(80, 45, 8, x=-30, y=-45)), "back", Depth(rule="floor", mm=4.0), name="control"), T
        ),
        floor_of(
            cut(solid(rectangle(89, 54, 12.5, x=-30, y=-45)), "back", Depth(rule="depth", mm=3.0), name="recess"),
            T,
        ),
    ]


# -- body W by strips: half widths as closed forms, summed along x -------------------------------------
def half_width(x: Floats) -> Floats:
    """Half the width of the hull of circle R 120 at 20 and circle R 42 at 190: arc, common tangent, arc.
    The tangent touches at x = c + R sin a, sin a = 78/170, and is y = (R - (x - 20) sin a)/cos a."""
    s = 78 / 170
    c = math.sqrt(1 - s * s)
    big = np.sqrt(np.maximum(0, 120.0**2 - (x - 20) ** 2))
    small = np.sqrt(np.maximum(0, 42.0**2 - (x - 190) ** 2))
    return np.where(x < 20 + 120 * s, big, np.where(x > 190 + 42 * s, small, (120 - (x - 20) * s) / c))


def box_half(half: float, width: float, corner: float, x0: float) -> Callable[[Floats], Floats]:
    """Half height of a box with round corners, from x0 on, along x; 0 outside it."""

    def at(x: Floats) -> Floats:
        far = np.maximum(0, np.maximum(x0 + corner - x, x - (x0 + width - corner)))
        inside = (x > x0) & (x < x0 + width)
        return np.where(inside, half - corner + np.sqrt(np.maximum(0, corner**2 - far**2)), 0.0)

    return at


def strips_w() -> Body:
    """Sum of volume and moments of body W over strips of 1 um along x, heights by hand: T less the ramp where
    the pocket is, less 32.15 from the back in the control cavity, less 3 in the ring of its recess."""
    dx = 0.001
    x = -100 + dx * (np.arange(332_000) + 0.5)
    w = 2 * half_width(x)
    neck = np.minimum(2 * box_half(21.1, 80, 6.5, 172)(x), w)
    control = 2 * box_half(22.5, 80, 8, -70)(x)
    ring = 2 * box_half(27, 89, 12.5, -74.5)(x) - control
    d = 16 + (x - 172) * math.tan(math.radians(2))
    volume = w * T - neck * d - control * 32.15 - ring * 3
    along_z = w * T**2 / 2 - neck * (T**2 - (T - d) ** 2) / 2 - control * 32.15**2 / 2 - ring * 3**2 / 2
    across = -(control * 32.15 + ring * 3) * -45.0
    v = float(volume.sum() * dx)
    centre = (
        float((volume * x).sum() * dx) / v,
        float(across.sum() * dx) / v,
        float(along_z.sum() * dx) / v,
    )
    return Body(mass_g=v * 680e-6, centre_mm=centre)


def test_body_w_weighs_what_the_trade_says() -> None:
    """trade.md 10.1: 1.266 kg, G (49.87, 2.84) at 680 kg/m3; z by our own sum over strips, for which the trade
    gives no number."""
    got = body(body_w(), glued(11.8, 11.7, 11.9, 0.6), floors_w())
    want = strips_w()
    assert round(got.mass_g / 1000, 3) == 1.266
    assert (round(got.centre_mm[0], 2), round(got.centre_mm[1], 2)) == (49.87, 2.84)
    assert got.mass_g == pytest.approx(want.mass_g, rel=2e-6)
    assert got.centre_mm == pytest.approx(want.centre_mm, abs=2e-4)


def test_body_w_in_one_sheet_or_in_four() -> None:
    """Where the glue lines lie changes nothing while all is of one density."""
    four = body(body_w(), glued(11.8, 11.7, 11.9, 0.6), floors_w())
    one = body(body_w(), glued(T), floors_w())
    assert four.mass_g == pytest.approx(one.mass_g, rel=1e-6)
    assert four.centre_mm == pytest.approx(one.centre_mm, abs=1e-4)


def test_body_w_over_a_grid_of_columns() -> None:
    """Columns of 0.5 x 0.5 in a body whose sheets differ in density; shapely says where they stand."""
    layers = [(v, d) for (v, _), d in zip(glued(11.8, 11.7, 11.9, 0.6), (450, 680, 720, 900), strict=True)]
    floors = floors_w()
    got = body(body_w(), layers, floors)
    x, y = (g.ravel() for g in np.meshgrid(np.arange(-99.75, 232, 0.5), np.arange(-119.75, 120, 0.5)))
    inside = shapely.contains_xy(shapely.union_all(body_w().polygon), x, y)
    x, y = x[inside], y[inside]
    low, high = np.zeros_like(x), np.full_like(x, T)
    neck, control, recess = (shapely.contains_xy(f.cut.region.polygon, x, y) for f in floors)
    high[neck] = T - 16 - (x[neck] - 172) * math.tan(math.radians(2))
    low[recess] = 3.0
    low[control] = T - 4
    mass = np.zeros(4)
    for span, density in layers:
        a, b = np.maximum(low, span.z0), np.minimum(high, span.z1)
        h = np.maximum(0, b - a) * density * 0.25e-6
        mass += [h.sum(), (h * x).sum(), (h * y).sum(), (h * (a + b) / 2).sum()]
    assert got.mass_g == pytest.approx(mass[0], rel=3e-4)
    assert got.centre_mm == pytest.approx(tuple(mass[1:] / mass[0]), abs=0.02)


# -- closed forms ---------------------------------------------------------------------------------------
def test_a_block_with_a_wedge_taken_out() -> None:
    """100 x 40 x 20 less a wedge over its right half, 0 to 50 tan 10 degrees deep: volume w h l/2, its centre
    at a third from the deep end, a third of its depth below the face (triangle)."""
    slope = Tilt(angle_deg=10.0, toward=(1.0, 0.0), shallow=50.0, deep=100.0)
    wedge = solid(rectangle(50, 40, x=75, y=20))
    floor = floor_of(cut(wedge, "front", Depth(rule="depth", mm=0.0, tilt=slope)), 20.0)
    deep = 50 * math.tan(math.radians(10))
    v0, v1 = 100 * 40 * 20.0, 40 * 50 * deep / 2
    got = body(solid(rectangle(100, 40, x=50, y=20)), ONE, [floor])
    assert got.mass_g == pytest.approx((v0 - v1) / 1000, rel=1e-12)
    x = (v0 * 50 - v1 * (100 - 50 / 3)) / (v0 - v1)
    z = (v0 * 10 - v1 * (20 - deep / 3)) / (v0 - v1)
    assert got.centre_mm == pytest.approx((x, 20.0, z), abs=1e-9)


def test_a_sloped_floor_over_a_disc() -> None:
    """Over a disc of radius r a floor of mean depth d takes pi r2 d; its centre lies r2 tan a/(4 d) toward the
    deep side (second moment of the disc, pi r4/4). Turned 30 degrees, along that way."""
    u = (math.cos(math.radians(30)), math.sin(math.radians(30)))
    slope = Tilt(angle_deg=5.0, toward=u, shallow=-15.0, deep=15.0)
    floor = floor_of(cut(disc(0, 0, 15), "back", Depth(rule="depth", mm=6.0, tilt=slope)), 20.0)
    tan = math.tan(math.radians(5))
    d = 6.0 + 15 * tan
    v0, v1 = 100 * 100 * 20.0, math.pi * 225 * d
    off = 225 * tan / (4 * d)
    got = body(solid(rectangle(100, 100)), ONE, [floor])
    # The round wall under a slope is summed over chords: 1e-4 of what goes is asked for.
    assert got.mass_g == pytest.approx((v0 - v1) / 1000, abs=1e-4 * v1 / 1000)
    assert got.centre_mm[:2] == pytest.approx([-v1 * off * c / (v0 - v1) for c in u], abs=1e-4)


def test_from_the_back_and_from_the_front_mirror_each_other() -> None:
    """The same pocket from the other face: equal mass, z mirrored about the middle."""
    region = solid(rectangle(30, 20, x=20, y=5))
    depth = Depth(rule="depth", mm=7.0)
    block = solid(rectangle(100, 40))
    a, b = (body(block, ONE, [floor_of(cut(region, f, depth), 20.0)]) for f in ("front", "back"))  # type: ignore[arg-type]  # the two faces
    assert a.mass_g == pytest.approx((80_000 - 600 * 7) / 1000, rel=1e-12)
    assert a.mass_g == pytest.approx(b.mass_g, rel=1e-12)
    assert a.centre_mm[2] - 10 == pytest.approx(10 - b.centre_mm[2], abs=1e-9)
    assert a.centre_mm[2] < 10


def test_where_pockets_of_a_face_overlap_the_deeper_counts() -> None:
    """A recess of 60 x 30 x 3 round a cavity of 40 x 20 x 10: 800*10 + (1800 - 800)*3 go."""
    pair = [
        floor_of(cut(solid(rectangle(60, 30)), "back", Depth(rule="depth", mm=3.0), name="recess"), 20.0),
        floor_of(cut(solid(rectangle(40, 20)), "back", Depth(rule="depth", mm=10.0), name="cavity"), 20.0),
    ]
    for floors in (pair, pair[::-1]):
        got = body(solid(rectangle(100, 40)), ONE, floors)
        assert got.mass_g == pytest.approx((80_000 - 8_000 - 3_000) / 1000, rel=1e-12)


def test_a_cut_of_one_lamination_takes_from_that_one_alone() -> None:
    """A strip of 50 x 8 in the lower of two sheets of 10: 4000 gone when it goes through, 400*4 when it is 4 deep
    from the front, with the wood that goes between z 6 and z 10."""
    layers = glued(10.0, 10.0, density=1000.0, glue=0.0)
    strip, block = solid(rectangle(50, 8)), solid(rectangle(100, 40))
    whole = floor_of(cut(strip, "front", Depth(rule="sheet"), lamination=1), 20.0)
    part = floor_of(cut(strip, "front", Depth(rule="depth", mm=4.0), lamination=1), 20.0)
    assert body(block, layers, [whole]).mass_g == pytest.approx((80_000 - 4_000) / 1000, rel=1e-12)
    got = body(block, layers, [part])
    assert got.mass_g == pytest.approx((80_000 - 1_600) / 1000, rel=1e-12)
    assert got.centre_mm[2] == pytest.approx((80_000 * 10 - 1_600 * 8) / (80_000 - 1_600), rel=1e-12)


def test_a_channel_under_a_pocket_counts_there_too() -> None:
    """A pocket 5 deep in the upper sheet doesn't spare the channel that crosses below it in the lower one."""
    layers = glued(10.0, 10.0, density=1000.0, glue=0.0)
    pocket = floor_of(cut(solid(rectangle(20, 20)), "front", Depth(rule="depth", mm=5.0), name="a"), 20.0)
    channel = cut(solid(rectangle(50, 8)), "front", Depth(rule="sheet"), lamination=1, name="wire")
    got = body(solid(rectangle(100, 40)), layers, [pocket, floor_of(channel, 20.0)])
    assert got.mass_g == pytest.approx((80_000 - 400 * 5 - 400 * 10) / 1000, rel=1e-12)


def test_a_hole_through_the_floor_of_a_cavity_is_no_hole_twice() -> None:
    """A shaft's hole of 10 x 10, drilled through from the front inside a cavity that leaves 4 from the back: only
    the 4 that remain go with it."""
    cavity = floor_of(cut(solid(rectangle(40, 20)), "back", Depth(rule="floor", mm=4.0), name="cavity"), 20.0)
    shaft = floor_of(cut(solid(rectangle(10, 10)), "front", Depth(rule="through"), name="shaft"), 20.0)
    got = body(solid(rectangle(100, 40)), ONE, [cavity, shaft])
    assert got.mass_g == pytest.approx((80_000 - 800 * 16 - 100 * 4) / 1000, rel=1e-12)


def test_what_lies_outside_the_edge_takes_nothing() -> None:
    """Half of a pocket runs out over the edge: only the half inside is gone."""
    floor = floor_of(cut(solid(rectangle(40, 20, x=50)), "front", Depth(rule="depth", mm=5.0)), 20.0)
    got = body(solid(rectangle(100, 40)), ONE, [floor])
    assert got.mass_g == pytest.approx((80_000 - 400 * 5) / 1000, rel=1e-12)


def test_bands() -> None:
    """A band of a box is the box's own width times its length, whichever way it runs."""
    box = solid(rectangle(60, 40))
    assert band(box, (1.0, 0.0), -10, 20).area == pytest.approx(30 * 40)
    assert band(box, (0.0, -1.0), -10, 15).bounds == pytest.approx((-30, -15, 30, 10))
    assert band(box, (1.0, 0.0), -30, 30) is box
    assert s_range(box, (0.6, 0.8)) == pytest.approx((-30 * 0.6 - 20 * 0.8, 30 * 0.6 + 20 * 0.8))
