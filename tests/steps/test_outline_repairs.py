"""The repairs that an outline's recipe asks for: traced off, mirrored, smoothed, symmetric (trade.md 1)."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest

from pipeline.core.errors import Refused
from pipeline.core.place import Place
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.deviation import deviation
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.geometry.transform import shift, turn
from pipeline.steps.outline import Mirror
from pipeline.steps.values import Drawing, Drawn, Repair, Result, World
from tests.geometry.test_symmetry import waisted
from tests.geometry.wobbles import traced
from tests.steps.factory import body_w, derived, step, world


def made(
    region: Region | None, lines: tuple[Contour, ...] = (), repairs: tuple[Repair, ...] = (), **fields: Any
) -> Result:
    """The outline of one drawn object called "shape"."""
    w = world(step("body", "outline", drawn=("shape",), **fields))
    thing = Drawn(
        name="shape",
        region=region,
        lines=lines,
        mark=None,
        place=Place(file="test.svg"),
        problem="" if region else "It is open.",
        repairs=repairs,
    )
    drawing = Drawing(file="test.svg", objects={"shape": thing}, all=thing)
    result = derived(World(recipe=w.recipe, drawing=drawing, results={}))["body"]
    json.dumps(dict(result.numbers), allow_nan=False)  # what a packet states of it
    return result


def checks(result: Result) -> list[tuple[str, str]]:
    return [(f.check, f.severity) for f in result.findings]


# -- traced off ----------------------------------------------------------------------------------
def test_a_trace_is_shrunk_by_what_the_pencil_stood_off() -> None:
    """Body W traced 3.5 mm outside (an unsplit pencil, trade.md 1.1): the outline is body W again. Steiner: the
    trace's area is A + Pd + πd²."""
    trace = offset(body_w(), 3.5)
    result = made(trace, traced_off=3.5)
    assert result.region is not None
    assert deviation(result.region, body_w()).worst_mm < 1e-6
    assert result.before is trace
    assert result.numbers["traced_area_mm2"] == pytest.approx(
        55883.61 + 885.398 * 3.5 + math.pi * 3.5**2, abs=0.02
    )
    assert result.numbers["area_mm2"] == pytest.approx(55883.61, abs=0.01)
    (repair,) = result.repairs
    assert repair.what == "traced off"
    assert repair.moved_mm == pytest.approx(3.5, abs=1e-6)
    assert "stood 3.5 mm outside" in result.reports[0]


def test_a_trace_that_is_too_narrow_is_refused_or_asked_about() -> None:
    """Nothing is left of a disc of 3; a dumbbell with a neck of 6 falls apart at 3.5."""
    with pytest.raises(Refused, match=r"Nothing of body is left 3\.5 mm inside"):
        made(solid(circle(0, 0, 3)), traced_off=3.5)
    neck = line_chain(
        [
            (-40, -20),
            (-10, -20),
            (-10, -3),
            (10, -3),
            (10, -20),
            (40, -20),
            (40, 20),
            (10, 20),
            (10, 3),
            (-10, 3),
            (-10, 20),
            (-40, 20),
        ]
    )
    result = made(solid(neck), traced_off=3.5)
    assert checks(result) == [("traced-parts", "ask")]


# -- halves --------------------------------------------------------------------------------------
def test_a_drawn_half_and_its_axis() -> None:
    """Three tangent arcs and a line along the axis give four arcs (trade.md 1.5); the line is dropped and told."""
    axis = line_chain([(-120, 0), (260, 0)], closed=False)
    result = made(None, (waisted(), axis), mirror=Mirror(about="x"))
    assert result.region is not None
    assert (result.numbers["arcs"], result.numbers["lines"]) == (4, 0)
    assert checks(result) == []
    assert [r.what for r in result.repairs] == ["dropped", "mirrored"]
    assert "the axis itself is drawn, 380.0 mm long" in result.reports[0]
    assert result.numbers["mirror"]["keep"] == "drawn"
    assert [e["done"] for e in result.numbers["mirror"]["ends"]] == ["nothing", "nothing"]
    # The picture of what was drawn: the half, closed along the axis.
    assert result.before is not None
    assert result.before.area == pytest.approx(result.region.area / 2)


def test_a_half_that_was_filled_is_the_same() -> None:
    """A filled half is closed along the axis by its fill: that line is dropped as well."""
    half = waisted()
    shut = solid(Contour(half.xy, half.bulge, half.free, True))
    result = made(shut, mirror=Mirror())
    assert (result.numbers["arcs"], result.numbers["lines"]) == (4, 0)
    assert [r.what for r in result.repairs] == ["dropped", "mirrored"]


def test_a_half_about_y() -> None:
    """The same half turned by a right angle, about the y axis."""
    half = turn(90).contour(waisted())
    result = made(None, (half,), mirror=Mirror(about="y"))
    plain = made(None, (waisted(),), mirror=Mirror())
    assert result.region is not None
    assert plain.region is not None
    assert deviation(result.region, turn(90).region(plain.region)).worst_mm < 1e-9
    assert result.numbers["arcs"] == 4


@pytest.mark.parametrize(("gap", "severity"), [(0.3, "note"), (1.2, "ask")])
def test_ends_beside_the_axis(gap: float, severity: str) -> None:
    """At most 0.5 mm: told; at most 2 mm: asked; both are put on the axis (trade.md 1.5)."""
    half = line_chain([(40, gap), (40, 25), (-40, 25), (-40, 0)], closed=False)
    result = made(None, (half,), mirror=Mirror())
    assert checks(result) == [("mirror-gap", severity)]
    (finding,) = result.findings
    assert finding.measured == pytest.approx(gap)
    assert finding.at_mm == pytest.approx((40.0, gap))
    assert f"{gap:.3f} mm from the axis" in finding.message
    assert result.numbers["area_mm2"] == pytest.approx(80 * 50)
    assert result.repairs[-1].moved_mm == pytest.approx(gap)


def test_ends_too_far_from_the_axis_are_refused_together() -> None:
    """Both ends are named with their place and distance."""
    half = line_chain([(40, 3), (40, 25), (-40, 25), (-40, 4.5)], closed=False)
    with pytest.raises(Refused) as caught:
        made(None, (half,), mirror=Mirror())
    text = caught.value.show()
    assert "ends at x 40.0, y 3.0 mm, 3.00 mm from the x axis" in text
    assert "ends at x -40.0, y 4.5 mm, 4.50 mm from the x axis" in text


@pytest.mark.parametrize(
    ("off", "found"), [(1.0, [("mirror-square", "note")]), (6.0, [("mirror-square", "ask")]), (14.0, [])]
)
def test_what_is_told_of_the_tangent(off: float, found: list[tuple[str, str]]) -> None:
    """Under 2° bent and told, to 10° asked, beyond that a point that is meant (trade.md 1.5)."""
    half = line_chain([(40 + 25 * math.tan(math.radians(off)), 0), (40, 25), (-40, 25), (-40, 0)], closed=False)
    result = made(None, (half,), mirror=Mirror())
    assert checks(result) == found
    for f in result.findings:
        assert f.measured == pytest.approx(off)
        assert f.unit == "deg"
    on_axis = (
        [v for c in result.region.contours for v in c.xy.tolist() if abs(v[1]) < 1e-6] if result.region else []
    )
    assert len(on_axis) == (0 if off == 1.0 else 1)


def test_what_is_no_half_is_refused() -> None:
    """A whole shape, a closed shape beside the axis, and nothing at all."""
    with pytest.raises(Refused, match="lies on both sides of the x axis"):
        made(body_w(), mirror=Mirror())
    with pytest.raises(Refused, match="has no open line"):
        made(solid(circle(0, 50, 20)), mirror=Mirror())
    with pytest.raises(Refused, match=r"can't be half an outline\. It is open"):
        made(None, mirror=Mirror())


# -- both halves ---------------------------------------------------------------------------------
@pytest.mark.parametrize(("keep", "about", "x"), [("+y", "x", 0), ("-y", "x", 0), ("+x", "y", 1), ("-x", "y", 1)])
def test_one_of_two_halves_is_kept(keep: str, about: str, x: int) -> None:
    """A rectangle with a notch on one side: kept or gone on both, by the half that was chosen."""
    notched = line_chain([(-40, -25), (40, -25), (40, 25), (10, 25), (10, 20), (-10, 20), (-10, 25), (-40, 25)])
    region = turn(-90).region(solid(notched)) if x else solid(notched)
    result = made(region, mirror=Mirror(about=about, keep=keep))  # type: ignore[arg-type]  # words of the spec
    area = 80 * 50 - (2 * 20 * 5 if keep.startswith("+") else 0)
    assert result.numbers["area_mm2"] == pytest.approx(area)
    assert result.before is region
    assert result.repairs[0].moved_mm == pytest.approx(5.0)
    assert f"the half toward {keep}" in result.reports[0]


def test_the_mean_of_both_halves() -> None:
    """Body W 0.4 mm above x: the halves lie up to 0.8 mm apart, and midway lies the body on the axis."""
    result = made(shift(0, 0.4).region(body_w()), mirror=Mirror(keep="mean"))
    assert result.region is not None
    assert deviation(result.region, body_w()).worst_mm < 0.02
    assert result.numbers["mirror"]["worst_mm"] == pytest.approx(0.8, abs=0.01)
    assert "0.80" in result.reports[0]


def test_the_best_axis() -> None:
    """Body W turned by 20° with the wobble of a hand: mirrored about its own axis it has that axis exactly."""
    drawn = turn(20).region(traced(body_w().contours[0], 0.2, 3))
    result = made(drawn, mirror=Mirror(about="best", keep="+y"))
    angle = result.numbers["mirror"]["angle_deg"]
    assert angle == pytest.approx(20.0, abs=0.1)
    assert result.region is not None
    again = made(result.region, symmetric=True)
    assert again.numbers["symmetry"]["worst_mm"] < 0.001
    assert again.numbers["symmetry"]["angle_deg"] == pytest.approx(angle, abs=0.01)


@pytest.mark.parametrize(
    ("about", "keep", "said"),
    [
        ("x", "+x", "no half \\+x to keep"),
        ("y", "-y", "no half -y to keep"),
        ("best", "drawn", "both halves are drawn"),
    ],
)
def test_halves_that_the_axis_does_not_part(about: str, keep: str, said: str) -> None:
    """The words are checked against each other before anything is done."""
    with pytest.raises(Refused, match=said):
        made(body_w(), mirror=Mirror(about=about, keep=keep))  # type: ignore[arg-type]  # words of the spec


def test_a_shape_on_one_side_has_no_halves() -> None:
    """`keep: +y` needs both."""
    with pytest.raises(Refused, match="on one side of the axis alone"):
        made(solid(circle(0, 50, 20)), mirror=Mirror(keep="+y"))


# -- symmetric -----------------------------------------------------------------------------------
def test_how_symmetric_it_is_is_told() -> None:
    """Under 1 mm a note that offers `mirror`, over it a question (trade.md 1.4); nothing is moved by it."""
    near = made(turn(3).region(body_w()), symmetric=True)
    assert checks(near) == [("symmetry", "note")]
    assert "`mirror:`" in near.findings[0].remedy
    assert near.numbers["symmetry"]["angle_deg"] == pytest.approx(3.0, abs=0.01)
    assert near.before is None
    assert near.repairs == ()
    odd = chain([(0, 0), (100, 0), (90, 60), (20, 70)], [0.1, 0.0, 0.3, 0.0])
    far = made(solid(odd), symmetric=True)
    assert checks(far) == [("symmetry", "ask")]
    assert "Is this meant to be asymmetric?" in far.findings[0].message


# -- together ------------------------------------------------------------------------------------
def test_repairs_in_their_order() -> None:
    """A trace drawn by hand 3.5 mm outside body W, smoothed and made symmetric: body W within 0.1 mm, in few
    entities, with the repairs that reading made first."""
    trace = traced(offset(body_w(), 3.5).contours[0], 0.2, 9)
    read = Repair(what="joined", moved_mm=0.04, at_mm=(1.0, 2.0), message="one gap is closed")
    result = made(trace, repairs=(read,), traced_off=3.5, smooth=0.35, symmetric=True, mirror=Mirror(keep="+y"))
    assert result.region is not None
    assert deviation(result.region, body_w()).worst_mm < 0.1
    assert result.numbers["lines"] + result.numbers["arcs"] <= 8
    assert result.numbers["free_segments"] == 0
    assert [r.what for r in result.repairs] == ["joined", "traced off", "smoothed", "mirrored"]
    assert [r["what"] for r in result.numbers["repairs"]] == ["joined", "traced off", "smoothed", "mirrored"]
    assert len(result.reports) == 4
    flipped = result.region.contours[0].xy * [1, -1]
    assert deviation(solid(line_chain(flipped)), solid(line_chain(result.region.contours[0].xy))).worst_mm < 1e-9
    assert result.before is trace


def test_a_half_drawn_by_hand_is_smooth_and_symmetric() -> None:
    """A wobbly half of the waisted body: four arcs or a few more, the same on both sides of the axis, and no
    vertex on it."""
    whole = made(None, (waisted(),), mirror=Mirror()).region
    assert whole is not None
    drawn = traced(whole.contours[0], 0.15, 6, 1400).contours[0].xy
    upper = drawn[drawn[:, 1] > 1.0]
    start = int(np.argmax(np.hypot(*(upper - np.roll(upper, 1, axis=0)).T)))
    half = line_chain(np.roll(upper, -start, axis=0), closed=False)
    result = made(None, (half,), mirror=Mirror(), smooth=0.4)
    assert result.region is not None
    assert deviation(result.region, whole).worst_mm < 0.35
    (c,) = result.region.contours
    assert len(c) <= 16
    assert np.abs(c.xy[:, 1]).min() > 1e-3


def test_corners_of_the_recipe() -> None:
    """`corner` says which turns are kept: an octagon's 45° are with 25°, and not with 60°."""
    eight = [(50 * math.cos(k * math.pi / 4), 50 * math.sin(k * math.pi / 4)) for k in range(8)]
    kept = made(solid(line_chain(eight)), smooth=2.0)
    assert kept.numbers["smooth_corners"] == 8
    assert kept.numbers["lines"] == 8
    rounded = made(solid(line_chain(eight)), smooth=2.0, corner=60.0)
    assert rounded.numbers["smooth_corners"] == 0
    assert rounded.numbers["arcs"] > 0
    with pytest.raises(Refused, match="0 degrees for a corner"):
        made(solid(rectangle(20, 20)), smooth=0.1, corner=0.0)


def test_a_smooth_that_is_too_small_is_refused() -> None:
    """Under a micrometre there is nothing to fit."""
    with pytest.raises(Refused, match=r"within 0\.0001 mm"):
        made(traced(circle(0, 0, 40), 0.1, 1, 200), smooth=1e-4)
