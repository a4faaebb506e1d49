"""What is engraved on a template, windows, and sets. A wrong feed arrow is a safety defect: it is read back from
the written files, of both faces, both hands and both turn-over axes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
import shapely

from pipeline.core.recipe import Frame
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.path import build
from pipeline.steps.template import Follow
from pipeline.steps.values import Piece, Result, World
from tests.readback import CASES, loops
from tests.steps.factory import body_w, derived, step, world

Point = tuple[float, float]
BEARING = Follow(bearing=12.7, cutter=12.7)


def framed(w: World, **more: object) -> World:
    return replace(w, recipe=replace(w.recipe, frame=Frame(), **more))  # type: ignore[arg-type]


def guide(shape: Region, use: str = "outside", **more: object) -> Result:
    made = step("guide", "template", of="s", use=use, follow=BEARING, **{"sheet": "mdf9", **more})
    return derived(framed(world(step("s", "outline"), made, drawn={"s": shape})))["guide"]


def engraved(piece: Piece) -> list[list[Point]]:
    """The strokes that are no text, as points."""
    ops = [o for s in piece.set_ups for o in s.ops if o.work == "ENGRAVE"]
    return [[(float(x), float(y)) for x, y in c.xy] for o in ops for c in o.contours]


# -- arrows, read back from the files ----------------------------------------------------------------
def arrows(path: Path) -> Iterator[tuple[Point, Point]]:
    """(tail, tip) of each arrow of a file: a line of 24 that ends at the middle vertex of a two-line head."""
    lines = []
    for e in ezdxf.readfile(path).modelspace():
        if "_ENGRAVE_" not in e.dxf.layer:
            continue
        if e.dxftype() == "LINE":
            lines.append([(e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y)])
        elif e.dxftype() == "LWPOLYLINE" and not e.closed:
            lines.append([(x, y) for x, y in e.get_points("xy")])
    heads = [v for v in lines if len(v) == 3]
    for shaft in lines:
        if len(shaft) != 2 or abs(math.dist(*shaft) - 24.0) > 1e-3:
            continue
        for tail, tip in (shaft, shaft[::-1]):
            for left, point, right in heads:
                barbs_back = math.dist(left, tail) < 24.0 and math.dist(right, tail) < 24.0
                if math.dist(point, tip) < 1e-3 and barbs_back:
                    yield tail, tip


def sense(tail: Point, tip: Point, loop: list[Point]) -> float:
    """Positive when an arrow runs anticlockwise round a convex loop, by its moment about the loop's middle."""
    cx, cy = shapely.Polygon(loop).centroid.coords[0]
    return (tail[0] - cx) * (tip[1] - tail[1]) - (tail[1] - cy) * (tip[0] - tail[0])


def largest(path: Path, work: str) -> list[Point]:
    """The largest contour of a work, as vertices."""
    doc = ezdxf.readfile(path)
    names = [layer.dxf.name for layer in doc.layers if layer.dxf.name.endswith(work)]
    found = [[(x, y) for x, y, _ in loop] for n in names for loop in loops(doc, n) if len(loop) > 2]
    return max(found, key=lambda loop: shapely.Polygon(loop).area)


TEMPLATES = {
    "back_guide": "outside",
    "first": "opening",
    "guides-body": "outside",
    "guides-control": "opening",
    "guides-pickup": "opening",
}


@pytest.mark.parametrize("over", ["x", "y"])
def test_feed_arrows_in_the_written_files(tmp_path: Path, over: str) -> None:
    """Hand router, cutter turning clockwise seen from above: anticlockwise round an outside edge, clockwise in an
    opening (trade 5.3, published), as each file shows it, which is with the up face up: fronts and backs, right-
    and left-handed, turned over about either axis."""
    for p in (CASES / "templates").iterdir():
        text = p.read_text(encoding="utf-8")
        (tmp_path / p.name).write_text(text.replace("turn_over: x", f"turn_over: {over}"), encoding="utf-8")
    answer = build([tmp_path / "templates.yaml"], out=tmp_path / "out")
    assert answer.exit_code == 0, answer.said
    seen = 0
    for variant in ("templates", "templates-left"):
        shop = tmp_path / "out" / variant / "shops" / "router"
        for name, use in TEMPLATES.items():
            (path,) = shop.glob(f"{variant}-A_{name}_mdf_x1.dxf")
            found = list(arrows(path))
            assert len(found) == 2, (variant, name, found)
            loop = largest(path, "CUT_OUTSIDE" if use == "outside" else "CUT_INSIDE")
            for tail, tip in found:
                turning = sense(tail, tip, loop)
                assert turning > 0 if use == "outside" else turning < 0, (variant, name, over)
                # It lies on the template's own wood.
                middle = shapely.Point((tail[0] + tip[0]) / 2, (tail[1] + tip[1]) / 2)
                assert shapely.Polygon(loop).contains(middle) == (use == "outside")
                seen += 1
    assert seen == 20


def test_the_reader_of_arrows_sees_a_wrong_one() -> None:
    """The measure of the test above: against and with the clock round a square."""
    square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
    assert sense((2.0, -1.0), (8.0, -1.0), square) > 0
    assert sense((8.0, -1.0), (2.0, -1.0), square) < 0


def test_words_stand_by_the_arrows() -> None:
    """ "Hand router" at each arrow, and which way the cutter turns."""
    (piece,) = guide(body_w()).pieces
    words = [t.text for t in piece.set_ups[0].labels]
    assert words.count("HAND ROUTER") == 2
    assert "CUTTER TURNS" in words
    assert "CLOCKWISE" in words
    assert "WASTE OUTSIDE" in words
    (hole,) = guide(solid(rectangle(80.0, 50.0, 8.0)), "opening").pieces
    assert "WASTE INSIDE" in [t.text for t in hole.set_ups[0].labels]


# -- centreline, crosses -----------------------------------------------------------------------------
def test_centreline_and_crosses() -> None:
    """The x axis from edge to edge (1 short of each), interrupted by nothing; two crosses exactly 100.0 apart."""
    (piece,) = guide(body_w()).pieces
    lines = engraved(piece)
    on_axis = [v for v in lines if len(v) == 2 and v[0][1] == v[1][1] == 0.0]
    assert on_axis == [[(pytest.approx(-99.0, abs=0.002), 0.0), (pytest.approx(231.0, abs=0.002), 0.0)]]
    short = [v for v in lines if len(v) == 2 and math.dist(*v) == pytest.approx(6.0) and v not in on_axis]
    centres = sorted({(round((a[0] + b[0]) / 2, 6), round((a[1] + b[1]) / 2, 6)) for a, b in short})
    assert len(short) == 4
    assert math.dist(*centres) == pytest.approx(100.0, abs=1e-9)
    assert [t.text for t in piece.set_ups[0].labels].count("100.0") == 1
    wood = piece.region.polygon.buffer(-0.5)
    assert all(wood.contains(shapely.LineString(v)) for v in lines)


def test_without_a_frame_there_is_no_centreline() -> None:
    """The x axis of a page is its lower edge, and no centreline."""
    made = step("guide", "template", of="s", use="outside", follow=BEARING, sheet="mdf9")
    (piece,) = derived(world(step("s", "outline"), made, drawn={"s": body_w()}))["guide"].pieces
    assert not any(len(v) == 2 and v[0][1] == v[1][1] == 0.0 for v in engraved(piece))


def test_marks_as_asked() -> None:
    """Text alone, or nothing."""
    (text,) = guide(body_w(), marks="text").pieces
    assert engraved(text) == []
    assert len(text.set_ups[0].labels) == 3
    (bare,) = guide(body_w(), marks="none").pieces
    assert bare.set_ups[0].labels == ()


def test_no_room_is_said() -> None:
    """A strip 14 wide has no room for crosses."""
    made = guide(solid(rectangle(60.0, 14.0)))
    assert any("no room" in r and "crosses" in r for r in made.reports)


# -- windows -----------------------------------------------------------------------------------------
def test_windows_of_a_laser_end_in_points_on_the_line() -> None:
    """2 by 25 with ends of 90 degrees (trade 5.3): area 2·25 + 2·1·1, both on the centreline, near both ends."""
    (piece,) = guide(body_w(), sheet="ply3", windows=True).pieces
    holes = piece.region.parts[0].holes
    assert [abs(h.area) for h in holes] == pytest.approx([52.0, 52.0])
    spans = sorted((h.bounds[0], h.bounds[2]) for h in holes)
    assert spans[0][0] - (-100.0) == pytest.approx(9.0, abs=0.1)  # 8 of wood and half the slot's width
    assert 232.0 - spans[1][1] == pytest.approx(9.0, abs=0.1)
    for h in holes:
        tips = [p for p in h.xy.tolist() if abs(p[1]) < 1e-9]
        assert sorted(p[0] for p in tips) == pytest.approx([h.bounds[0], h.bounds[2]])


def test_windows_of_a_router_are_as_wide_as_its_cutter_asks() -> None:
    """The smallest cutter is 3: slots of 3.2 with round ends, and engraved notches of 90 degrees beside them."""
    (piece,) = guide(body_w(), windows=True).pieces
    holes = piece.region.parts[0].holes
    assert [abs(h.area) for h in holes] == pytest.approx([(25 - 3.2) * 3.2 + math.pi * 1.6**2] * 2)
    notches = [v for v in engraved(piece) if len(v) == 3 and v[1][1] == 0.0]
    assert len(notches) == 4
    for a, tip, b in notches:
        one, two = (a[0] - tip[0], a[1] - tip[1]), (b[0] - tip[0], b[1] - tip[1])
        assert one[0] * two[0] + one[1] * two[1] == pytest.approx(0.0, abs=1e-9)


def test_a_scored_line_lies_on_the_underside() -> None:
    """Clear plastic: the line from edge to edge on the other face, which cuts nothing else."""
    (piece,) = guide(body_w(), scored=True, material="acrylic").pieces
    front, back = piece.set_ups
    assert (front.face, back.face) == ("front", "back")
    (score,) = [o for o in back.ops if o.work == "SCORE"]
    assert score.contours[0].bounds == pytest.approx((-100.0, 0.0, 232.0, 0.0), abs=0.001)
    assert {o.work for o in back.ops} == {"SCORE", "REFERENCE"}
    assert {t.depth_mm for t in front.labels} == {0.2}


# -- sets --------------------------------------------------------------------------------------------
def test_a_set_has_what_its_stack_needs(tmp_path: Path) -> None:
    """Outline, both cavities (the one with the ledge in one hole), and a drill guide with marks of 2; index holes
    the same in all that hold them."""
    answer = build([CASES / "templates" / "templates.yaml"], out=tmp_path / "out")
    assert answer.exit_code == 0, answer.said
    shop = tmp_path / "out" / "templates" / "shops" / "router"
    names = sorted(p.name.split("_mdf")[0].removeprefix("templates-A_") for p in shop.glob("*_mdf_x1.dxf"))
    assert names == ["back_guide", "first", "guides-body", "guides-control", "guides-drill", "guides-pickup"]
    drill = ezdxf.readfile(shop / "templates-A_guides-drill_mdf_x1.dxf")
    marks = sorted(
        (e.dxf.center.x, e.dxf.center.y)
        for e in drill.modelspace().query("CIRCLE[layer=='FRONT_DRILL_DIA2-00_THROUGH']")
    )
    assert marks == [pytest.approx((0.0, -27.0)), pytest.approx((0.0, 37.0))]
    pins = {}
    for name in ("guides-body", "guides-drill"):
        doc = ezdxf.readfile(shop / f"templates-A_{name}_mdf_x1.dxf")
        pins[name] = sorted(
            (round(e.dxf.center.x, 6), round(e.dxf.radius, 6))
            for e in doc.modelspace().query("CIRCLE")
            if e.dxf.radius > 2
        )
    assert pins["guides-body"] == pins["guides-drill"] == [(-80.0, 3.0), (190.0, 4.0)]
