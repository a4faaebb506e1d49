"""Pictures of findings: what stands on them, read back and measured by their own scale bar."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from pipeline.checks import findings
from pipeline.core.findings import Finding, Shown
from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.region import Region
from pipeline.geometry.shapes import rectangle
from pipeline.packet.finding_cards import acceptance, line_of
from pipeline.packet.finding_pictures import pictures
from pipeline.packet.finding_sections import Wood as WoodValue
from pipeline.packet.finding_sections import Woods, lowered, section
from pipeline.steps.mirror import mirrored
from pipeline.steps.values import Derived, EdgeRun, Tilt
from tests.checks import factory as c
from tests.packet import factory as f


def area(x: float, y: float, width: float, height: float, corner: float = 8.0) -> Region:
    """A rectangle by its lower left corner."""
    return c.box(x + width / 2, y + height / 2, width, height, corner)


EDGE = area(0, 0, 200, 120, 20)
SHOWN_PX = (360.0, 236.0)
HOSTILE = "<script>alert(1)</script>\"'&<img src=x onerror=y>"


def made(derived: Derived, check: str) -> tuple[Finding, list[ET.Element]]:
    """The first finding of a check and its pictures."""
    found = next(v for v in findings(derived) if v.check == check)
    return found, drawn(found, derived)


def drawn(found: Finding, derived: Derived) -> list[ET.Element]:
    return list(ET.fromstring(f"<p>{pictures(found, Woods(derived), 'f1')}</p>"))


def marks(picture: ET.Element, look: str) -> list[str]:
    return [e.get("d", "") for e in picture.iter() if e.get("class") == look]


def words(picture: ET.Element) -> list[str]:
    return [e.text or "" for e in picture.iter("text")]


def scale(picture: ET.Element) -> float:
    """Dots a mm, by the scale bar and the length that is written beside it."""
    bars = [m for d in marks(picture, "dim") if (m := re.match(r"M8 [\d.]+v8M8 [\d.]+h([\d.]+)m0", d))]
    (said,) = [w for w in words(picture) if re.fullmatch(r"\d+ mm", w)]
    assert len(bars) == 1
    return float(bars[0][1]) / float(said.split()[0])


def lengths(picture: ET.Element, look: str) -> list[tuple[float, float]]:
    """(dx, dy) in mm of the straight lines of one kind, y up."""
    k = scale(picture)
    found = []
    for d in marks(picture, look):
        m = re.fullmatch(r"M(-?[\d.]+) (-?[\d.]+)L(-?[\d.]+) (-?[\d.]+)", d)
        if m:
            x0, y0, x1, y1 = (float(v) for v in m.groups())
            found.append(((x1 - x0) / k, (y0 - y1) / k))
    return found


def tips(picture: ET.Element) -> list[tuple[float, float]]:
    """Points of arrowheads, in mm from the picture's upper left corner, y down."""
    k = scale(picture)
    return [
        (float(m[1]) / k, float(m[2]) / k)
        for d in marks(picture, "tip")
        if (m := re.match(r"M(-?[\d.]+) (-?[\d.]+)L", d))
    ]


def measured(picture: ET.Element) -> float:
    """Distance of the two arrowheads in mm: what the dimension line measures."""
    a, b = tips(picture)
    return math.dist(a, b)


def thin_floor(face: Any = "front") -> Derived:
    return c.blank(EDGE, c.cut("bay", area(60, 40, 80, 30), face=face, floor=1.4))


# -- the number and the limit, to scale -------------------------------------------------------------
@pytest.mark.parametrize("wall", [1.5, 4.0, 7.8])
def test_a_wall_stands_on_its_dimension_line(wall: float) -> None:
    """The arrowheads are as far apart as the wall is thick, by the picture's own scale bar (a tenth of a dot is
    written); the dotted line beside it is as long as the limit."""
    found, (picture,) = made(c.blank(EDGE, c.cut("bay", area(wall, 40, 60, 30), depth=5.0)), "wall-thin")
    assert measured(picture) == pytest.approx(wall, abs=0.15 / scale(picture))
    assert f"{wall:.2f} mm" in words(picture)
    assert "limit 10.00 mm" in words(picture)
    longest = max(math.hypot(*v) for v in lengths(picture, "limit"))
    assert longest == pytest.approx(found.limit, abs=0.15 / scale(picture))


def test_a_floor_is_measured_in_a_section() -> None:
    """1.4 mm under the floor, from the back face up; plywood in three layers 11.8 + 11.7 + 11.9 with glue 0.05."""
    _, (plan, side) = made(thin_floor(), "floor-thin")
    a, b = tips(side)
    assert a[0] == pytest.approx(b[0], abs=1e-6)
    assert measured(side) == pytest.approx(1.4, abs=0.15 / scale(side))
    assert "1.40 mm" in words(side)
    assert marks(plan, "cutline")
    assert "1.40 mm" not in words(plan)
    assert "front face" in words(plan)


def test_a_back_face_is_turned_over() -> None:
    """Turned over the x axis, the wall beside a bay near the lower edge is seen above the bay: from the bay to the
    edge the line runs up, on the front it runs down."""
    bay = area(60, 5, 80, 30)
    for face, sign in (("front", -1.0), ("back", 1.0)):
        found, (picture,) = made(c.blank(EDGE, c.cut("bay", bay, face=face, depth=5.0)), "wall-thin")
        assert found.shown is not None
        assert found.shown.ends_mm is not None
        assert found.shown.ends_mm[1][1] < found.shown.ends_mm[0][1]  # toward the lower edge in the design
        tall = max(lengths(picture, "limit"), key=lambda v: abs(v[1]))
        assert math.copysign(1.0, tall[1]) == sign
        assert ("front face" if face == "front" else "back face, turned over") in words(picture)


def test_a_corner_with_what_the_cutter_leaves() -> None:
    """A cutter of 6 in a square corner: 3(√2 − 1) = 1.243 mm are left (outside_checks O1), it stands 3 mm from
    both walls, and the sliver is filled."""
    derived = c.panel(EDGE, c.pocket(area(50, 30, 60, 40, 0), 5.0), told_shop=c.SIX)
    found, (picture,) = made(derived, "corner-sharp")
    k = scale(picture)
    (circle,) = [e for e in picture.iter("circle") if e.get("class") == "cutter"]
    assert float(circle.get("r", "")) / k == pytest.approx(3.0, abs=0.1 / k)
    assert measured(picture) == pytest.approx(3 * (math.sqrt(2) - 1), abs=0.2 / k)
    assert "Ø6" in words(picture)
    (sliver,) = marks(picture, "left")
    points = [tuple(float(v) for v in p.split()) for p in re.findall(r"[ML](-?[\d.]+ -?[\d.]+)", sliver)]
    # r²(cot(θ/2) − (π − θ)/2) with θ = 90°: 9(1 − π/4) mm².
    assert shapely.Polygon(points).area / k**2 == pytest.approx(9 * (1 - math.pi / 4), rel=0.03)
    assert found.shown is not None
    x, y = found.shown.cutter_at_mm or (0.0, 0.0)
    corner = min(((50, 30), (110, 30), (110, 70), (50, 70)), key=lambda p: math.dist(p, (x, y)))
    assert abs(x - corner[0]) == pytest.approx(3.0, abs=0.01)
    assert abs(y - corner[1]) == pytest.approx(3.0, abs=0.01)


def test_a_narrow_slot_with_the_cutter_over_it() -> None:
    found, (picture,) = made(
        c.panel(EDGE, c.pocket(area(50, 30, 60, 2.2, 0), 5.0), told_shop=c.SIX), "slot-narrow"
    )
    assert found.measured == pytest.approx(2.2, abs=0.02)
    assert measured(picture) == pytest.approx(2.2, abs=0.25 / scale(picture))
    (circle,) = [e for e in picture.iter("circle") if e.get("class") == "cutter"]
    assert float(circle.get("r", "")) * 2 / scale(picture) == pytest.approx(6.0, abs=0.2 / scale(picture))


def test_a_cutter_that_is_too_short_is_seen_from_the_side() -> None:
    """60 deep with a cutter that reaches 38: the dimension is the depth, the dotted line the reach."""
    derived = c.panel(
        EDGE, c.pocket(area(50, 30, 60, 40), 60.0), thickness=70.0, told_shop=replace(c.SIX, cutters=SHORT)
    )
    found = next(v for v in findings(derived) if (v.check, v.step) == ("tool-reach", "hollow"))
    side = drawn(found, derived)[-1]
    assert (found.measured, found.limit) == (60.0, 38.0)
    assert measured(side) == pytest.approx(60.0, abs=0.15 / scale(side))
    assert max(math.hypot(*v) for v in lengths(side, "limit")) == pytest.approx(38.0, abs=0.15 / scale(side))
    assert marks(side, "cutter")


SHORT = (replace(c.SIX.cutters[0], APMX=38.0, LU=40.0, DMM=6.0),)


# -- sections ---------------------------------------------------------------------------------------
def wood_of(derived: Derived, name: str = "blank") -> WoodValue:
    wood = Woods(derived).of(name, "", (0.0, 0.0))
    assert wood is not None
    return wood


def test_heights_in_a_section() -> None:
    """Layers as the sheets measure, 5 deep from the front and 8 from the back: T = 35.4 + 2 · 0.05 = 35.5."""
    derived = c.blank(
        EDGE,
        c.cut("up", area(60, 40, 30, 30), depth=5.0),
        c.cut("down", area(100, 40, 30, 30), face="back", depth=8.0),
    )
    cut = section(wood_of(derived), (75.0, 55.0), (1.0, 0.0), 60.0)
    assert cut.total == pytest.approx(35.5)
    assert one(cut.wood_at(0.0)) == pytest.approx((0.0, 30.5))
    assert one(cut.wood_at(40.0)) == pytest.approx((8.0, 35.5))
    assert one(cut.air_at(40.0)) == pytest.approx((0.0, 8.0))
    assert one(cut.wood_at(-20.0)) == pytest.approx((0.0, 35.5))
    assert [(round(v.bounds[1], 6), round(v.bounds[3], 6)) for v in cut.layers] == [
        (0.0, 11.8), (11.85, 23.55), (23.6, 35.5),
    ]  # fmt: skip
    assert [(round(v.bounds[1], 6), round(v.bounds[3], 6)) for v in cut.glue] == [(11.8, 11.85), (23.55, 23.6)]


def test_a_slope_in_a_section() -> None:
    """1.5° down toward +x from 10 mm: 10 + x tan 1.5° deep."""
    bay = area(60, 40, 80, 30)
    tilt = Tilt(angle_deg=1.5, toward=(1.0, 0.0), shallow=60.0, deep=140.0)
    derived = c.blank(EDGE, c.cut("bay", bay, depth=10.0, tilt=tilt))
    cut = section(wood_of(derived), (100.0, 55.0), (1.0, 0.0), 60.0)
    for t in (-30.0, 0.0, 35.0):
        deep = 10.0 + (40.0 + t) * math.tan(math.radians(1.5))
        assert cut.wood_at(t)[0][1] == pytest.approx(35.5 - deep, abs=1e-4)


def one(spans: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    (span,) = spans
    return span


def run_of(kind: Any, size: float, edge: Contour, *lines: Contour) -> EdgeRun:
    return EdgeRun(face="front", kind=kind, size_mm=size, edge=edge, lines=lines, from_mm=0.0, to_mm=edge.length)


def test_a_rounding_is_a_quarter_circle() -> None:
    """Depth R − √(R² − (R − u)²) at u from the edge: R at the edge, 0 at R, and where u = R(1 − 1/√2) as deep as
    it is far from the edge (45° on a quarter circle)."""
    run = run_of("round", 6.0, rectangle(200, 120, 20, x=100, y=60))
    edge = shapely.LineString(np.vstack([(xy := run.edge.flatten()[0]), xy[:1]]))
    u = np.array([0.0, 6 * (1 - 1 / math.sqrt(2)), 3.0, 6.0, 20.0])
    down = lowered(run, edge, shapely.points(u, np.full(len(u), 60.0)))
    assert down[0] == pytest.approx(6.0, abs=1e-4)
    assert down[1] == pytest.approx(u[1], abs=1e-4)
    assert down[2] == pytest.approx(6 - math.sqrt(36 - 9), abs=1e-4)
    assert down[3:] == pytest.approx([0.0, 0.0], abs=1e-4)


def test_treatments_end_where_their_stretch_ends() -> None:
    """A straight edge along y = 0 from x 0 to 50: nothing is lowered beside it."""
    line = line_chain([(0, 0), (50, 0)], closed=False)
    points = shapely.points([25.0, -2.0, 52.0], [1.0, 1.0, 1.0])
    for run in (
        run_of("round", 6.0, line),
        run_of("bevel", 6.0, line, line_chain([(0, 10), (50, 10)], closed=False)),
    ):
        down = lowered(run, shapely.LineString([(0, 0), (50, 0)]), points)
        assert down[0] > 1.0
        assert down[1:] == pytest.approx([0.0, 0.0])


def test_a_bevel_and_a_hollow() -> None:
    """From nothing at the inner line to full depth at the edge: half-way a bevel is half as deep, a hollow a
    quarter."""
    line, inner = line_chain([(0, 0), (50, 0)], closed=False), line_chain([(0, 10), (50, 10)], closed=False)
    points = shapely.points([25.0] * 3, [0.0, 5.0, 10.0])
    flat = shapely.LineString([(0, 0), (50, 0)])
    assert lowered(run_of("bevel", 4.0, line, inner), flat, points) == pytest.approx([4.0, 2.0, 0.0], abs=1e-6)
    assert lowered(run_of("scoop", 4.0, line, inner), flat, points) == pytest.approx([4.0, 1.0, 0.0], abs=1e-6)


def test_a_pocket_and_a_ramp_of_a_piece() -> None:
    """The factory's blank is not asked here: a panel's own operations give its section, a ramp by its table."""
    ramp = replace(
        c.pocket(area(60, 40, 70, 30), 4.0, face="back"),
        work="RAMP", deep_mm=7.5, ramp=((60.0, 55.0, 4.0), (130.0, 55.0, 7.5), (60.0, 40.0, 4.0)),
    )  # fmt: skip
    cut = section(wood_of(c.panel(EDGE, ramp), "plate"), (95.0, 55.0), (1.0, 0.0), 60.0)
    assert one(cut.wood_at(0.0)) == pytest.approx((5.75, 12.0), abs=1e-6)
    assert one(cut.wood_at(20.0)) == pytest.approx((6.75, 12.0), abs=1e-6)


# -- what every picture has -------------------------------------------------------------------------
FAULTS = {
    "floor-thin": thin_floor(),
    "wall-thin": c.blank(EDGE, c.cut("bay", area(4, 40, 60, 30), face="back", depth=5.0)),
    "cavities-meet": c.blank(
        EDGE, c.cut("a", area(60, 40, 30, 30), depth=5.0), c.cut("b", area(93, 40, 30, 30), depth=5.0)
    ),
    "corner-sharp": c.panel(EDGE, c.pocket(area(50, 30, 60, 40, 0), 5.0)),
    "slot-narrow": c.panel(EDGE, c.pocket(area(50, 30, 60, 2, 0), 5.0)),
    "laser-half-depth": c.panel(
        EDGE, c.pocket(area(50, 30, 60, 40), 1.5), shop="laser", sheet="ply3", thickness=3.1
    ),
}


@pytest.mark.parametrize("check", FAULTS)
def test_every_picture_is_readable_and_named(check: str) -> None:
    """A title and a description that its label names, few bytes, and words inside the picture: they are 12.5
    dots high on 360, which is 11 px on a phone that is 320 wide."""
    found, pictured = made(FAULTS[check], check)
    ids = [e.get("id") for p in pictured for e in p.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    for picture in pictured:
        title, desc = picture.find("title"), picture.find("desc")
        assert title is not None
        assert desc is not None
        assert (picture.get("role"), picture.get("aria-labelledby")) == (
            "img",
            f"{title.get('id')} {desc.get('id')}",
        )
        assert title.text
        assert picture.get("viewBox") == "0 0 360 236"
        for text in picture.iter("text"):
            assert 0 <= float(text.get("x", "")) <= SHOWN_PX[0]
            assert 10 <= float(text.get("y", "")) <= SHOWN_PX[1]
        assert len(ET.tostring(picture)) < 9000
    assert any(f"{found.measured:.2f} mm" in words(p) for p in pictured)
    assert found.at_mm is not None
    x, y = found.at_mm
    assert f"x {x:.1f}, y {y:.1f} mm" in (pictured[0].findtext("desc") or "")


@pytest.mark.parametrize("check", FAULTS)
def test_the_same_bytes_again(check: str) -> None:
    found = next(v for v in findings(FAULTS[check]) if v.check == check)
    assert pictures(found, Woods(FAULTS[check]), "f1") == pictures(found, Woods(FAULTS[check]), "f1")
    assert not re.search(r"-0[ \"LMZ]|nan|inf|e-\d", pictures(found, Woods(FAULTS[check]), "f1"))


def test_nothing_without_a_place() -> None:
    bare = Finding(check="x", severity="note", message="m", step="bay")
    assert pictures(bare, Woods(thin_floor()), "f1") == ""


def test_a_place_outside_of_everything() -> None:
    """Far off, on a piece that isn't there, or beside all wood: still a picture, without what it can't draw."""
    for far in ((5000.0, 5000.0), (-30.0, 60.0)):
        odd = Finding(check="deep-odd", severity="note", message="m", piece="gone", at_mm=far, measured=3.0)
        for derived in (thin_floor(), f.derived()):
            for picture in drawn(odd, derived):
                assert picture.tag == "svg"


def test_hostile_words() -> None:
    odd = replace(
        next(v for v in findings(thin_floor()) if v.check == "floor-thin"), message=HOSTILE, unit=HOSTILE
    )
    text = pictures(odd, Woods(thin_floor()), "f1")
    assert "<script" not in text
    assert "<img" not in text
    assert ET.fromstring(f"<p>{text}</p>").findtext("svg/title", "").endswith(HOSTILE)


def test_what_a_check_shows_goes_before_what_is_found_by_itself() -> None:
    """A finding that tells only a place and a number gets its line to the edge that is so far away."""
    derived = c.blank(EDGE, c.cut("bay", area(60, 40, 60, 30), depth=5.0))
    odd = Finding(check="edge-near", severity="ask", message="m", piece="blank", at_mm=(60.0, 60.0), measured=60.0)
    (picture,) = drawn(odd, derived)
    assert measured(picture) == pytest.approx(60.0, abs=0.2 / scale(picture))
    shown = replace(odd, shown=Shown(ends_mm=((60.0, 55.0), (80.0, 55.0))), measured=20.0)
    (picture,) = drawn(shown, derived)
    assert measured(picture) == pytest.approx(20.0, abs=0.2 / scale(picture))


# -- the recipe line and the acceptance ---------------------------------------------------------------
@pytest.mark.parametrize(
    ("line", "column", "marked"),
    [
        ("  bay:   {kind: cavity, depth: 16}", 3, "bay"),
        ("  bay:   {kind: cavity, depth: 16}", 32, "16"),
        ("  bay: {part: {size: [1, 2]}, depth: 16}", 15, "{size: [1, 2]}"),
        ("    depth: 16  # <deep>", 12, "16 # &lt;deep&gt;"),
    ],
)
def test_the_line_with_what_is_meant(line: str, column: int, marked: str) -> None:
    place = replace(f.PLACE, text=line, column=column)
    assert re.findall("<u>(.*)</u>", line_of(place)) == [marked]
    plain = re.sub("</?u>", "", line_of(place))
    assert plain.replace("&lt;", "<").replace("&gt;", ">") == re.sub(" +", " ", line).strip()


def test_who_accepts() -> None:
    done = Finding(
        check="x", severity="ask", message="m", accepted="blended", accepted_by="AR", accepted_since="B"
    )
    assert acceptance(done) == "Accepted by AR since revision B: blended"
    assert acceptance(replace(done, accepted_by="", accepted_since="")) == "Accepted: blended"


def test_a_left_handed_variant_shows_its_own_side() -> None:
    """All that a picture draws is mirrored with the place: (x, y) to (x, −y)."""
    derived = c.panel(EDGE, c.pocket(area(50, 30, 60, 40, 0), 5.0))
    found = next(v for v in findings(derived) if v.check == "corner-sharp")
    results = {n: replace(r, findings=(found,)) for n, r in derived.results.items()}
    (left, *_) = next(iter(mirrored(replace(derived, results=results)).results.values())).findings
    assert found.shown is not None
    assert left.shown is not None
    assert found.at_mm is not None
    assert left.at_mm == (found.at_mm[0], -found.at_mm[1])
    for mine, theirs in (
        (left.shown.ends_mm, found.shown.ends_mm),
        (left.shown.left_mm[0], found.shown.left_mm[0]),
        ((left.shown.cutter_at_mm,), (found.shown.cutter_at_mm,)),
    ):
        assert mine is not None
        assert theirs is not None
        assert [(p[0], -p[1]) for p in mine if p] == [p for p in theirs if p]
    assert left.shown.cutter_mm == found.shown.cutter_mm
