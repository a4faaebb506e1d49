"""Floors, walls and cavities in a glued blank, against trade.md's worked body W and on both sides of limits."""

from __future__ import annotations

import math

import pytest

from pipeline.geometry.contour import chain
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc
from pipeline.steps.values import Cut, Derived, Tilt
from tests.checks.factory import blank, box, cut, only, panel, pocket, told

BODY = box(0, 0, 400, 300, 40)
T = 35.5  # 11.8 + 11.7 + 11.9 and two glue lines of 0.05


def body_w() -> Region:
    """trade.md: the convex hull of circle R 120 at (20, 0) and circle R 42 at (190, 0)."""
    a = math.acos((120 - 42) / 170)
    c, s = math.cos(a), math.sin(a)
    points = [(20 + 120 * c, -120 * s), (190 + 42 * c, -42 * s), (190 + 42 * c, 42 * s), (20 + 120 * c, 120 * s)]
    return solid(chain(points, [0.0, math.tan(a / 2), 0.0, math.tan((math.pi - a) / 2)]))


def control(recess_mm: float = 4.5) -> tuple[Cut, Cut]:
    """Body W's control cavity 80 × 45 r 8 at (−30, −45) from the back, and its recess 3 deep."""
    shape = box(-30, -45, 80, 45)
    return (
        cut("control", shape, face="back", floor=4.0),
        cut("control recess", offset(shape, recess_mm), face="back", depth=3.0, step="control"),
    )


# -- walls -----------------------------------------------------------------------------------------
def test_body_w_control_keeps_its_wall() -> None:
    """trade.md 3.3: control to outline 10.69, more than 10; moved 1.6 toward it, it is less."""
    assert told(blank(body_w(), *control()), "wall-thin") == ()
    found = only(blank(body_w(), cut("control", box(-30.8, -46.4, 80, 45), face="back", floor=4.0)), "wall-thin")
    assert found.severity == "ask"
    assert found.limit == 10.0
    assert found.measured is not None
    assert 10.69 - 1.62 < found.measured < 10.0
    assert "inward" in found.remedy


def test_body_w_control_wall_is_10_69() -> None:
    """The distance itself: a limit between 10.68 and 10.70 would tell it."""
    from pipeline.checks import wall_thin
    from pipeline.checks.flat import nearest, outer, thin

    ((_, taken),) = _voids(blank(body_w(), *control()))
    edge = outer(thin(body_w().polygon)).boundary
    assert nearest(taken[0].shape, edge)[0] == pytest.approx(10.69, abs=0.006)
    assert nearest(taken[1].shape, edge)[0] == pytest.approx(6.19, abs=0.006)
    assert wall_thin.is_recess(taken[1], taken)
    assert not wall_thin.is_recess(taken[0], taken)


def _voids(derived: Derived):  # type: ignore[no-untyped-def]  # the pair of View.blanks, spelled there
    from pipeline.checks.view import View

    return View(derived=derived).blanks


def test_body_w_neck_pocket_feathers_out() -> None:
    """trade.md 3.2: pocket 42.2 wide out through the tip; the wall is 10 at x 214.06 and 0 at 226.32."""
    neck = cut("neck", box(222, 0, 100, 42.2, 6.5), depth=16.0)
    found = only(blank(body_w(), neck, in_blank=("neck",)), "wall-thin")
    assert found.measured == 0.0
    assert found.at_mm is not None
    assert found.at_mm[0] == pytest.approx(226.32, abs=0.3)
    assert "feathers out to nothing" in found.message
    start = float(found.message.split("from (")[1].split(",")[0])
    assert start == pytest.approx(214.06, abs=0.3)


def test_a_mouth_cut_square_through_the_edge_is_no_thin_wall() -> None:
    """Horns 12 wide beside an open pocket say nothing, 9 wide they do, with their own width."""
    wide, narrow = box(190, 0, 100, 300 - 24), box(190, 0, 100, 300 - 18)
    square = box(0, 0, 400, 300, 0)
    assert told(blank(square, cut("neck", wide, depth=16.0)), "wall-thin") == ()
    found = only(blank(square, cut("neck", narrow, depth=16.0)), "wall-thin")
    assert found.measured == pytest.approx(9.0, abs=0.01)


def test_recess_near_the_outline() -> None:
    """A cover's recess keeps 3 mm of flat wood (trade.md 3.3); its own check speaks of it, not the wall's."""
    near = blank(body_w(), *control(10.69 - 2.5))
    found = only(near, "cover-edge")
    assert found.measured == pytest.approx(2.5, abs=0.01)
    assert found.step == "control"
    assert told(near, "wall-thin") == ()
    assert told(blank(body_w(), *control(10.69 - 3.1)), "cover-edge") == ()


# -- floors ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("floor", "severity"), [(4.0, None), (3.0, None), (2.9, "ask"), (1.5, "ask"), (1.4, "stop")]
)
def test_floor_to_the_far_face(floor: float, severity: str | None) -> None:
    """trade.md 8, fault 13: ask under 3, stop under 1.5."""
    found = told(blank(BODY, cut("control", box(0, 0, 80, 50), face="back", floor=floor)), "floor-thin")
    assert [f.severity for f in found] == ([severity] if severity else [])
    if found:
        assert found[0].measured == pytest.approx(floor)
        assert f"{3 - floor:.2f} mm shallower" in found[0].remedy


@pytest.mark.parametrize(
    ("web", "check", "severity"),
    [
        (3.1, "", ""),
        (2.0, "floor-thin", "ask"),
        (0.5, "floor-thin", "stop"),
        (-0.5, "cavities-meet", "stop"),
    ],
)
def test_web_between_two_faces(web: float, check: str, severity: str) -> None:
    """Front 16 deep, back so deep that ``web`` is left where they lie over one another (trade.md 3.7)."""
    made = blank(
        BODY,
        cut("front", box(0, 0, 80, 50), depth=16.0),
        cut("rear", box(30, 10, 80, 50), face="back", depth=T - 16.0 - web),
        in_blank=("front", "rear"),
    )
    found = told(made, "floor-thin") + told(made, "cavities-meet")
    assert [(f.check, f.severity) for f in found] == ([(check, severity)] if check else [])
    if found:
        assert found[0].measured == pytest.approx(web, abs=1e-6)
        assert found[0].at_mm is not None
        assert -10 <= found[0].at_mm[0] <= 40  # where both are: x −10 to 40


def test_a_sloped_floor_is_measured_where_the_two_overlap() -> None:
    """Depth 16 at x −40, growing by tan 5° toward +x: over the back cavity (x 20 to 40) it is 16 + 80·tan 5°."""
    tilt = Tilt(angle_deg=5.0, toward=(1.0, 0.0), shallow=-40.0, deep=40.0)
    deep = 16.0 + 80 * math.tan(math.radians(5.0))
    front = cut("front", box(0, 0, 80, 50, 0), depth=16.0, tilt=tilt)
    rear = cut("rear", box(60, 0, 80, 40, 0), face="back", depth=T - deep - 2.0)
    found = only(blank(BODY, front, rear, in_blank=("front", "rear")), "floor-thin")
    assert found.measured == pytest.approx(2.0, abs=1e-6)
    assert found.at_mm is not None
    assert found.at_mm[0] == pytest.approx(40.0, abs=0.01)
    shallow = cut("rear", box(-60, 0, 80, 40, 0), face="back", depth=T - deep - 2.0)  # over x −40 to −20
    made = blank(BODY, front, shallow, in_blank=("front", "rear"))
    assert told(made, "floor-thin") == ()


def test_what_is_meant_to_meet_may() -> None:
    """A channel that needs both its cavities, and a hole bored into one, break in on purpose."""
    first, last = cut("a", box(-80, 0, 60, 60), depth=20.0), cut("b", box(80, 0, 60, 60), face="back", depth=20.0)
    wire = cut("wire", box(0, 0, 110, 8, 4), face="back", depth=6.0, lamination=2)
    needs = {"wire": {"a": "from", "b": "to"}}
    made = blank(BODY, first, last, wire, cut("string", disc(80, 0, 3), through=True, diameter=6.0), needs=needs)
    assert told(made, "cavities-meet") == ()
    assert [f.step for f in told(blank(BODY, first, last, wire), "cavities-meet")] != []


def test_wall_between_two_cavities() -> None:
    """Side by side at the same height: 5 of plywood edge is enough, less is asked (trade.md 3.7)."""

    def pair(gap: float, depth: float) -> Derived:
        return blank(
            BODY,
            cut("a", box(-40, 0, 80, 60), depth=20.0),
            cut("b", box(40 + gap, 0, 80, 60), face="back", depth=depth),
            in_blank=("a", "b"),
        )

    assert told(pair(5.1, 20.0), "cavities-meet") == ()
    found = only(pair(4.0, 20.0), "cavities-meet")
    assert (found.severity, found.limit) == ("ask", 5.0)
    assert found.measured == pytest.approx(4.0, abs=0.01)
    assert told(pair(4.0, 10.0), "cavities-meet") == ()  # 20 + 10 < 35.5: one lies above the other


def test_panel_pockets_of_both_faces() -> None:
    """A sheet of 12 with 5 from each face keeps 2 where they overlap, 7 where they don't."""
    over = panel(BODY, pocket(box(0, 0, 80, 50), 5.0, "a"), pocket(box(20, 0, 80, 50), 5.0, "b", "back"))
    found = only(over, "floor-thin")
    assert found.measured == pytest.approx(2.0)
    assert found.severity == "ask"
    apart = panel(BODY, pocket(box(-60, 0, 80, 50), 5.0, "a"), pocket(box(60, 0, 80, 50), 5.0, "b", "back"))
    assert told(apart, "floor-thin") == ()
    assert only(panel(BODY, pocket(box(0, 0, 80, 50), 10.6)), "floor-thin").severity == "stop"
