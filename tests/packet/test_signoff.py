"""The picture that a maker signs (trade.md 1.9): everything on it, at the right place, with the right number."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from xml.etree import ElementTree

import pytest
import shapely

from pipeline.core.place import Place
from pipeline.core.recipe import Frame
from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.moves import moves
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.packet.report import PAGE_STYLE
from pipeline.packet.signoff import FONT_PX, STYLE, signoff_picture, signoffs
from pipeline.steps.measures import least_arcs, least_radii
from pipeline.steps.values import Calibration, Derived, Drawn, Mark, Repair, Result
from tests.packet import factory as f

PLACE = Place(file="heron.yaml", line=1, column=1, text="design: heron")
BOX = solid(rectangle(100, 50, x=50, y=25))
KNOWN = (
    Calibration(
        name="bridge to nut", ends=((0.0, 0.0), (300.0, 0.0)),
        true_mm=300.0, drawn_mm=287.53, comes_out_mm=300.0, plus_minus_mm=0.31,
    ),
    Calibration(
        name="width", ends=((20.0, -110.0), (20.0, 110.0)),
        true_mm=220.0, drawn_mm=211.4, comes_out_mm=220.57, plus_minus_mm=0.42,
    ),
    Calibration(
        name="ruler", ends=((-90.0, -90.0), (40.0, 50.0)),
        true_mm=191.0, drawn_mm=183.0, comes_out_mm=191.05, plus_minus_mm=0.5,
    ),
)  # fmt: skip


def bean() -> Contour:
    """A waisted shape whose dimension lines have little room: arcs out and in."""
    points = [(0, 0), (60, -8), (140, 0), (150, 90), (90, 60), (10, 80)]
    return chain(points, [0.3, -0.2, 0.5, -0.4, 0.3, 0.6])


def derived(shape: Region, *, known: tuple[Calibration, ...] = (), frame: bool = True, **more: object) -> Derived:
    """A design with one outline; the frame's marks are a bridge at zero and a nut at x 300."""
    made = f.derived()
    result = Result(step="body", kind="outline", region=shape, **more)  # type: ignore[arg-type]  # fields of Result
    objects = {
        name: Drawn(name=name, region=None, lines=(), mark=Mark(name=name, at=(x, 0.0)), place=PLACE)
        for name, x in (("bridge", 0.0), ("nut", 300.0))
    }
    return replace(
        made,
        recipe=replace(made.recipe, frame=Frame(origin="bridge", x_toward="nut") if frame else None),
        drawing=replace(made.drawing, objects=objects, calibrations=known),
        results={**made.results, "body": result},
        order=made.order[:1],
    )


def tree(design: Derived) -> ElementTree.Element:
    return ElementTree.fromstring(signoff_picture("body", design.results["body"], design)[0])


def lines(picture: ElementTree.Element, look: str) -> list[list[tuple[float, float]]]:
    """The straight lines of a look, y up again."""
    found = []
    for path in picture.iter("path"):
        if path.get("class") == look:
            for run in filter(None, path.get("d", "").split("M")):
                found.append([(float(x), -float(y)) for x, y in (p.split() for p in run.split("L"))])
    return found


def words(picture: ElementTree.Element) -> list[str]:
    return [t.text or "" for t in picture.iter("text")]


def boxes(picture: ElementTree.Element) -> Iterator[tuple[str, shapely.Geometry]]:
    """Every text with the place it covers (letters half as wide as high: narrow, so that a meeting is real)."""

    def of(t: ElementTree.Element, x: float, y: float) -> shapely.Geometry:
        size = float(t.get("font-size", "0"))
        half = len(t.text or "") * size * 0.25
        return shapely.box(x - half, -y, x + half, -y + size * 0.7)

    turned = {id(t) for g in picture.iter("g") for t in g.iter("text")}
    for t in picture.iter("text"):
        if id(t) not in turned:
            yield t.text or "", of(t, float(t.get("x", "nan")), float(t.get("y", "nan")))
    for g in picture.iter("g"):
        x, y, turn = (float(v) for v in re.findall(r"-?[\d.]+", g.get("transform", "")))
        for t in g.iter("text"):
            box = shapely.affinity.rotate(of(t, 0.0, float(t.get("y", "nan"))), -turn, origin=(0, 0))
            yield t.text or "", shapely.affinity.translate(box, x, -y)


# -- moves ---------------------------------------------------------------------------------------
def test_moves_are_found_with_their_way_and_length() -> None:
    """One side of a rectangle moves by 0.4: all moves are 0.4 along x, up to its corners, and 10 apart."""
    found, left_out = moves(BOX, solid(rectangle(100.4, 50, x=50.2, y=25)), 0.1, 5.0, 10.0)
    assert not left_out
    assert max(m.at[1] for m in found) - min(m.at[1] for m in found) >= 40
    for m in found:
        assert m.mm == pytest.approx(0.4, abs=1e-9)
        assert m.at[0] == pytest.approx(100, abs=1e-9)
        assert m.to == pytest.approx((100.4, m.at[1]), abs=1e-9)
    assert 4 <= len(found) <= 6  # a side of 50
    assert all(math.dist(a.at, b.at) >= 10 for a, b in itertools.combinations(found, 2))


def test_moves_of_a_circle_are_radial() -> None:
    found, _ = moves(solid(circle(5, 7, 30)), solid(circle(5, 7, 30.25)), 0.1, 5.0, 15.0)
    assert len(found) >= 9  # 2 π 30 / 15, less what greedy spacing wastes: at most half
    for m in found:
        assert m.mm == pytest.approx(0.25, abs=0.003)
        assert math.atan2(m.to[1] - 7, m.to[0] - 5) == pytest.approx(
            math.atan2(m.at[1] - 7, m.at[0] - 5), abs=1e-3
        )


def test_small_moves_have_no_arrow_and_what_went_is_told() -> None:
    assert moves(BOX, solid(rectangle(100.09, 50, x=50.045, y=25)), 0.1, 5.0, 10.0) == ((), False)
    holed = region([Part(rectangle(100, 50, x=50, y=25), (circle(50, 25, 4),))])
    assert moves(holed, BOX, 0.1, 5.0, 10.0) == ((), True)
    # The straight side of a half that was mirrored begins at the outline, and still it didn't move.
    half = solid(rectangle(100, 25, x=50, y=12.5))
    assert moves(half, BOX, 0.1, 5.0, 10.0) == ((), True)
    with pytest.raises(ValueError, match="empty"):
        moves(BOX, Region(), 0.1, 5.0, 10.0)


# -- the picture ---------------------------------------------------------------------------------
def test_arrows_are_ten_times_as_long_and_numbered() -> None:
    after = solid(rectangle(100.4, 50, x=50.2, y=25))
    picture = tree(derived(after, before=BOX))
    shafts = [run for run in lines(picture, "moved") if len(run) == 2]
    assert shafts
    for a, b in shafts:
        assert (b[0] - a[0], b[1] - a[1]) == pytest.approx((4.0, 0.0), abs=2e-3)
    assert "0.40" in words(picture)


def test_without_repairs_there_is_no_arrow() -> None:
    design = derived(BOX)
    assert lines(tree(design), "moved") == []
    text = unescape(signoffs(design))
    assert "none: the outline is as drawn" in text
    assert "none given: the scale is the drawing's own" in text
    assert "orange arrows" not in text


def test_grey_below_black() -> None:
    """As drawn first, so that it lies below; each is the outline itself."""
    picture = tree(derived(solid(rectangle(100.4, 50, x=50.2, y=25)), before=BOX))
    looks = [p.get("class") for p in picture.iter("path")]
    assert looks[:2] == ["drawn", "final"]
    data = [p.get("d", "") for p in picture.iter("path")][:2]
    assert ["100.4" in d for d in data] == [False, True]


@pytest.mark.parametrize("shape", [f.body_w(), bean(), circle(0, 0, 40), rectangle(40, 300, 5, x=20, y=0)])
@pytest.mark.parametrize("known", [(), KNOWN])
def test_dimension_lines_lie_beside_the_outline_and_words_beside_each_other(
    shape: Contour, known: tuple[Calibration, ...]
) -> None:
    solid_shape = solid(shape)
    picture = tree(derived(solid_shape, known=known))
    over = [run for run in lines(picture, "over") if math.dist(*run) > 20]  # not the slashes at their ends
    assert len(over) == 2
    assert len(lines(picture, "known")) == len(known)
    for run in (*over, *lines(picture, "known")):
        assert shapely.LineString(run).distance(solid_shape.polygon) > 1.0
    covered = list(boxes(picture))
    for (a, one), (b, two) in itertools.combinations(covered, 2):
        assert not one.intersects(two), (a, b)
    edge = solid_shape.polygon.boundary
    for text, box in covered:
        assert not box.intersects(edge), text


def test_overall_length_and_width_have_the_outline_s_own_numbers() -> None:
    """Body W is 332 by 240 (trade.md); its lines are as long as it is."""
    picture = tree(derived(solid(f.body_w())))
    assert {"332.00", "240.00"} <= set(words(picture))
    sizes = sorted(round(math.dist(*run), 3) for run in lines(picture, "over"))[-2:]
    assert sizes == [240.0, 332.0]


def test_a_known_length_shows_both_numbers_and_is_as_long_as_its_ends_lie_apart() -> None:
    picture = tree(derived(solid(f.body_w()), known=KNOWN))
    assert {"bridge to nut: 300.00 true", "drawn 287.53, comes out 300.00 ± 0.31"} <= set(words(picture))
    for run, c in zip(lines(picture, "known"), KNOWN, strict=True):
        (ax, ay), (bx, by) = run
        (px, py), (qx, qy) = c.ends
        assert (bx - ax, by - ay) == pytest.approx((qx - px, qy - py), abs=2e-3)
        # Moved square to itself, so that the extension lines stand square on it.
        assert (ax - px) * (qx - px) + (ay - py) * (qy - py) == pytest.approx(0, abs=1.0)
    text = signoffs(derived(solid(f.body_w()), known=KNOWN))
    said = (
        "width: 220.00 mm true, 211.40 mm as drawn, comes out as 220.57 mm; ± 0.42 mm over the longest dimension"
    )
    assert said in text


def test_the_centreline_and_the_lines_of_the_marks() -> None:
    picture = tree(derived(solid(f.body_w())))
    (axis,) = lines(picture, "axis")
    assert axis[0][1] == axis[1][1] == 0.0
    assert axis[0][0] < -100  # past the tail of body W
    assert axis[1][0] > 300  # past the nut
    bridge, nut = lines(picture, "mark")
    assert bridge[0][0] == bridge[1][0] == 0.0
    assert bridge[0][1] < -120 < 120 < bridge[1][1]
    assert nut[0][0] == nut[1][0] == 300.0
    assert {"bridge", "nut", "centreline"} <= set(words(picture))


def test_without_a_frame_there_is_no_centreline() -> None:
    picture = tree(derived(solid(f.body_w()), frame=False))
    assert lines(picture, "axis") == lines(picture, "mark") == []
    assert "centreline" not in words(picture)


def test_least_radii_with_their_places() -> None:
    """Body W's small circle is R 42 at (190, 0), so its arc's middle is (232, 0); a round hole is concave."""
    convex, concave = least_arcs(solid(f.body_w()))
    assert convex is not None
    assert (convex[0], *convex[1]) == pytest.approx((42, 232, 0), abs=1e-9)
    assert concave is None
    holed = region([Part(rectangle(100, 50, 8, x=50, y=25), (circle(60, 25, 5),))])
    convex, concave = least_arcs(holed)
    assert convex is not None
    assert concave is not None
    assert (convex[0], concave[0]) == pytest.approx((8, 5), abs=1e-9) == least_radii(holed)
    assert math.dist(concave[1], (60, 25)) == pytest.approx(5, abs=1e-9)
    picture = tree(derived(holed))
    assert {"least convex radius 8.00", "least concave radius 5.00"} <= set(words(picture))
    spots = [(float(c.get("cx", "nan")), -float(c.get("cy", "nan"))) for c in picture.iter("circle")]
    assert any(math.dist(s, (60, 25)) == pytest.approx(5, abs=2e-3) for s in spots)
    assert "least concave radius: none, it has no such arc" in signoffs(derived(solid(f.body_w())))


def test_repairs_stand_beside_with_their_numbers_and_at_their_places() -> None:
    repairs = (
        Repair(what="joined", moved_mm=0.031, at_mm=(100.0, 25.0), message="Two ends were joined."),
        Repair(what="smoothed", moved_mm=0.4, at_mm=(100.0, 50.0), message="Hand wobble <was> taken out."),
    )
    design = derived(solid(rectangle(100.4, 50, x=50.2, y=25)), before=BOX, repairs=repairs)
    text = signoffs(design)
    assert (
        "<ol><li><b>joined, 0.031 mm at x 100.0, y 25.0:</b> Two ends were joined.</li>"
        "<li><b>smoothed, 0.400 mm at x 100.0, y 50.0:</b> Hand wobble &lt;was&gt; taken out.</li></ol>"
    ) in text
    picture = tree(design)
    assert {"repair 1", "repair 2"} <= set(words(picture))
    places = {
        (float(c.get("cx", "nan")), -float(c.get("cy", "nan")))
        for c in picture.iter("circle")
        if c.get("class") == "where"
    }
    assert places == {(100.0, 25.0), (100.0, 50.0)}


def test_what_was_dropped_is_told_without_an_arrow() -> None:
    holed = region([Part(rectangle(100, 50, x=50, y=25), (circle(50, 25, 4),))])
    design = derived(BOX, before=holed)
    assert lines(tree(design), "moved") == []
    assert "Grey lines over 5 mm from the outline were left out or replaced: no arrows there." in signoffs(design)


def test_it_can_be_signed_and_read_aloud() -> None:
    text = signoffs(derived(BOX))
    assert '<p class="agree">agreed: <span></span> date <span></span></p>' in text
    picture = tree(derived(BOX))
    assert picture.findtext("title") == "body: as drawn and as it will be"
    assert picture.get("aria-label") == picture.findtext("title")
    assert "100.00 mm long and 50.00 mm wide" in (picture.findtext("desc") or "")


def test_outlines_that_are_the_same_are_signed_once() -> None:
    design = derived(BOX)
    base = design.order[0]
    rim = replace(base, name="rim")
    other = replace(base, name="tray")
    results = {**design.results, "rim": replace(design.results["body"], step="rim")}
    results["tray"] = Result(step="tray", kind="outline", region=disc(0, 0, 9))
    text = signoffs(replace(design, order=(base, rim, other), results=results))
    assert re.findall(r"<h3>(.*?):", text) == ["body and rim", "tray"]
    assert text.count("agreed:") == 2


def test_no_outline_no_card() -> None:
    design = derived(BOX)
    assert signoffs(replace(design, order=())) == ""


def test_letters_are_readable_and_colours_are_from_the_palette() -> None:
    """13 pixels at the picture's full width, which fits beside the list in the page's 70rem."""
    for shape in (f.body_w(), circle(0, 0, 2), rectangle(2000, 30, x=0, y=0)):
        picture = tree(derived(solid(shape), known=KNOWN))
        _, _, width, height = (float(v) for v in picture.get("viewBox", "").split())
        pixel = float(picture.get("width", "nan")) / width
        assert pixel == pytest.approx(float(picture.get("height", "nan")) / height, rel=0.01)
        for t in picture.iter("text"):
            assert float(t.get("font-size", "0")) * pixel == pytest.approx(FONT_PX, rel=0.01)
    assert "max-width:70rem" in PAGE_STYLE
    okabe_ito = {"000", "e69f00", "56b4e9", "009e73", "f0e442", "0072b2", "d55e00", "cc79a7"}
    greys = {c for c in re.findall(r"#(\w+)", STYLE) if len(set(re.findall("..", c) if len(c) == 6 else c)) == 1}
    assert set(re.findall(r"#(\w+)", STYLE)) <= okabe_ito | greys


def test_a_hostile_name_stays_text() -> None:
    bad = '<script>alert("1")</script>'
    known = (replace(KNOWN[0], name=bad),)
    text = signoffs(derived(BOX, known=known))
    assert "<script" not in text
    assert f"{bad}: 300.00 true" in words(tree(derived(BOX, known=known)))
