"""Gaps, overlaps, duplicates, loops, doubled lines (trade.md 1.8): what is mended, and what is told of it."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.findings import Finding
from pipeline.geometry.contour import Contour, arc_centres
from pipeline.geometry.region import Region
from pipeline.intake.drawing.take import Taken
from tests.intake import outlines
from tests.intake.drawings import taken
from tests.intake.outlines import LINE, Edge


def line(d: str) -> Taken:
    return taken(f'<path id="a" {LINE} d="{d}"/>')


def sure(found: Taken) -> Region:
    assert found.region is not None, found.problem
    return found.region


def only(found: Taken) -> Finding:
    (told,) = found.findings
    return told


def outer(found: Taken) -> Contour:
    (part,) = sure(found).parts
    return part.outer


# -- gaps of 0.05 to 1 mm ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("d", "gap"),
    [
        ("M0.3 0H40V40H0V0.4", 0.5),
        ("M-0.3 0H40V40H0V-0.4", 0.5),
        ("M0.3 0H40V40H0V-0.4", 0.5),
        ("M0 0H40V40H0V0.06", 0.06),
        ("M0 0H40V40H0V1", 1.0),
    ],
    ids=["both too short", "both too long", "one each", "just too wide", "the widest"],
)
def test_lines_are_run_to_where_they_meet(d: str, gap: float) -> None:
    """A 40 mm square: its corner comes back sharp, whichever way the ends missed it."""
    found = line(d)
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert len(outer(found)) == 4
    told = only(found)
    assert (told.check, told.severity) == ("drawing-gap", "ask")
    assert told.measured == pytest.approx(gap, abs=1e-9)
    assert "where their tangents meet" in told.message
    assert told.at_mm is not None
    assert math.dist(told.at_mm, (0, 100)) <= gap


def test_parallel_ends_are_joined_by_a_straight_line() -> None:
    """The two ends of a step, 0.2 beside and 0.4 above each other: their tangents never meet."""
    found = line("M20 0H40V40H0V0.4H19.8")
    assert sure(found).area == pytest.approx(1600 - 19.8 * 0.4 - 0.2 * 0.4 / 2, abs=1e-9)
    told = only(found)
    assert told.severity == "ask"
    assert "by a straight line" in told.message
    assert told.measured == pytest.approx(math.hypot(0.2, 0.4), abs=1e-9)
    (repair,) = found.repairs
    assert repair.what == "joined"
    assert repair.moved_mm == pytest.approx(math.hypot(0.2, 0.4) / 2, abs=1e-9)
    assert repair.at_mm == pytest.approx((19.9, 99.8), abs=1e-9)


def test_tangents_that_meet_too_far_off_are_not_followed() -> None:
    """Nearly parallel ends 0.5 mm apart: their lines meet 2 mm away, more than twice the gap."""
    found = line("M20 0L60 4V40H0V4.5L20 0.5")
    assert "by a straight line" in only(found).message


def test_an_arc_is_kept_and_run_on_by_its_tangent() -> None:
    """A half disc whose arc ends 0.3 mm above its diameter and whose diameter is 0.4 mm short."""
    rise = math.asin(0.3 / 20)
    x = 20 - 20 * math.cos(rise)
    found = line(f"M0.4 50H40A20 20 0 0 0 {x!r} 49.7")
    contour = outer(found)
    (bulge,) = [b for b in contour.bulges if abs(b) > 1e-9]
    k = int((abs(contour.bulges) > 1e-9).nonzero()[0][0])
    centre, radius = arc_centres(contour.starts[k : k + 1], contour.ends[k : k + 1], contour.bulges[k : k + 1])
    assert radius[0] == pytest.approx(20, abs=1e-9)
    assert centre[0] == pytest.approx((20, 50), abs=1e-9)
    assert bulge > 0
    # Sector and triangle of the arc, then the kite between tangent and diameter.
    corner = x - 0.3 * math.tan(rise)
    exact = 200 * (math.pi - rise) + 20 * 0.3 / 2 + 0.3 * (20 - corner) / 2 - 0.3 * 20 / 2
    assert sure(found).area == pytest.approx(exact, abs=1e-6)
    assert "where their tangents meet" in only(found).message


def test_a_free_curve_is_kept_and_joined() -> None:
    found = line("M10 50C10 10 90 10 90 50H10.6")
    assert len(outer(found).free.nonzero()[0]) > 2
    assert only(found).measured == pytest.approx(0.6, abs=1e-9)


def test_a_nearly_full_circle_closes() -> None:
    """An arc that ends 0.5 mm before it comes round."""
    t = 0.5 / 20
    found = line(f"M70 50A20 20 0 1 1 {50 + 20 * math.cos(t)!r} {50 - 20 * math.sin(t)!r}")
    assert sure(found).area == pytest.approx(400 * math.pi, abs=0.01)
    assert only(found).severity == "ask"
    found = line(f"M70 50A20 20 0 1 1 {50 + 20 * math.cos(t / 20)!r} {50 - 20 * math.sin(t / 20)!r}")
    assert outer(found).circle() == pytest.approx((50, 50, 20), abs=0.03)
    assert only(found).severity == "note"


def test_many_gaps_are_told_one_by_one_the_widest_first() -> None:
    """A polygon of twelve sides, each side short by its own bit at its end."""
    corners = [50 + 40 * math.cos(k * math.pi / 6) + 1j * (50 + 40 * math.sin(k * math.pi / 6)) for k in range(13)]
    sides = []
    for k, (p, q) in enumerate(pairwise(corners)):
        q -= (q - p) / abs(q - p) * (0.1 + k / 20)
        sides.append(f"M{p.real!r} {p.imag!r}L{q.real!r} {q.imag!r}")
    found = line(" ".join(sides))
    assert sure(found).area == pytest.approx(0.5 * 12 * 1600 * math.sin(math.pi / 6), abs=1e-6)
    told = [f.measured for f in found.findings if f.measured is not None]
    assert told == pytest.approx([0.65 - k / 20 for k in range(8)], abs=1e-9)
    assert found.findings[-1].message.endswith("So were 4 narrower gaps.")
    assert len(found.repairs) == 12


def test_a_filled_path_keeps_its_straight_edge_and_is_told_by_the_same_thresholds() -> None:
    """SVG closes a fill by a straight line: the corner is not restored."""
    told = {}
    for gap in (0.04, 0.5, 3.0):
        found = taken(f'<path id="a" d="M{0.8 * gap} 0H40V40H0V{0.6 * gap}"/>')
        cut_off = 0.0 if gap < 0.05 else 0.24 * gap * gap
        assert sure(found).area == pytest.approx(1600 - cut_off, abs=1e-9 if cut_off else 1.0)
        told[gap] = (only(found).check, only(found).severity)
    assert told == {
        0.04: ("drawing-gap", "note"), 0.5: ("drawing-gap", "ask"), 3.0: ("drawing-open", "ask"),
    }  # fmt: skip


# -- gaps that stay, ends that are unclear ------------------------------------------------------------
def test_a_gap_over_a_millimetre_names_both_ends_and_the_distance() -> None:
    found = taken(f'<g id="a" {LINE}><path d="M0 0H40V40"/><path d="M38.8 40H0V1.5"/></g>')
    assert found.region is None
    assert "at x 40.00, y 60.00 mm and at x 38.80, y 60.00 mm, lie 1.20 mm apart" in found.problem


def test_three_ends_within_a_millimetre_are_refused_with_their_place() -> None:
    found = taken(f'<g id="a" {LINE}><path d="M0 0H40V40H0V0.4"/><path d="M-0.3 -0.3L-20 -20"/></g>')
    assert found.region is None
    assert "Three or more ends" in found.problem
    assert "x 0.00, y 100.00 mm" in found.problem


@pytest.mark.parametrize("end", ["40.5 -0.4", "40 0.9", "40.03 0"])
def test_a_loose_end_beside_a_joined_corner_is_a_third_end(end: str) -> None:
    """Beside a corner inside one path it is only an open line, since no two ends meet there."""

    def beside(square: str) -> Taken:
        return taken(f'<g id="a" {LINE}><path d="{square}"/><path d="M{end}L60 -9"/></g>')

    found = beside("M0 0H40 M40 0V40H0V0")
    assert found.region is None
    assert "Three or more ends" in found.problem
    found = beside("M0 0H40V40 M40 40H0V0")
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert [f.check for f in found.findings] == ["drawing-open"]


def test_nearest_ends_are_joined_not_the_first_ones() -> None:
    """Ends at 0, 0.9 and 1.7 mm: no three within 1 mm of each other, so the nearer two are one another's."""
    far = f'<path d="M0 0H40V40H0V0.8"/><path d="M0 -0.9V-30" {LINE}/>'
    found = taken(f'<g id="a" {LINE}>{far}</g>')
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert [f.check for f in found.findings] == ["drawing-gap", "drawing-open"]


def test_a_chain_of_tiny_pieces_hangs_together() -> None:
    """A circle of 4000 lines of 0.03 mm, each a path of its own: ends nearer than 0.05 mm everywhere."""
    n = 4000
    points = [(50 + 20 * math.cos(2 * math.pi * k / n), 50 + 20 * math.sin(2 * math.pi * k / n)) for k in range(n)]
    points.append(points[0])
    d = " ".join(f"M{p[0]!r} {p[1]!r}L{q[0]!r} {q[1]!r}" for p, q in pairwise(points))
    assert sure(line(d)).area == pytest.approx(n / 2 * 400 * math.sin(2 * math.pi / n), abs=1e-3)


def test_a_short_dash_is_not_closed_on_itself() -> None:
    found = taken(f'<g id="a" {LINE}><rect width="30" height="30"/><path d="M50 50h0.4l0.3 0.3"/></g>')
    assert sure(found).area == pytest.approx(900, abs=1e-9)
    assert [f.check for f in found.findings] == ["drawing-open"]


# -- overlaps and duplicates ----------------------------------------------------------------------------
def test_a_square_drawn_past_its_start_is_one_square() -> None:
    found = line("M0 0H40V40H0V0H15")
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    told = only(found)
    assert (told.check, told.severity) == ("drawing-overlap", "note")
    assert "15.00 mm" in told.message


def test_arcs_that_overlap_make_a_circle() -> None:
    """Two arcs of 200 degrees on one circle overlap at both ends."""
    c, s = 20 * math.cos(math.radians(10)), 20 * math.sin(math.radians(10))
    one = f"M{50 + c!r} {50 - s!r}A20 20 0 1 1 {50 - c!r} {50 - s!r}"
    two = f"M{50 - c!r} {50 + s!r}A20 20 0 1 1 {50 + c!r} {50 + s!r}"
    found = line(f"{one} {two}")
    assert outer(found).circle() == pytest.approx((50, 50, 20), abs=1e-9)
    assert only(found).check == "drawing-overlap"


def test_an_overlap_across_a_corner() -> None:
    found = taken(f'<g id="a" {LINE}><path d="M10 0H40V25"/><path d="M25 0H40V40H0V0H20"/></g>')
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert len(outer(found)) == 4


def test_lines_beside_each_other_are_not_united() -> None:
    """0.02 mm apart is more than one line: the ends fall together at both corners, which is no clear area."""
    found = line("M0 0H40 M0 0.02H40 M40 0V40H0V0")
    assert found.region is None


def test_an_open_line_on_a_closed_contour_is_a_duplicate() -> None:
    ring = f'<rect width="40" height="40" {LINE}/><path d="M0 10V0H25" {LINE}/>'
    found = taken(f'<g id="a">{ring}</g>')
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert only(found).check == "drawing-duplicate"
    chord = f'<circle cx="50" cy="50" r="20" {LINE}/><path d="M30 50H70" {LINE}/>'
    assert [f.check for f in taken(f'<g id="a">{chord}</g>').findings] == ["drawing-open"]


# -- loops, points --------------------------------------------------------------------------------------
@pytest.mark.parametrize("paint", [LINE, ""], ids=["line", "fill"])
def test_a_small_curl_at_a_corner_goes(paint: str) -> None:
    """A square whose corner runs round 0.8 × 0.8 mm beyond itself."""
    found = taken(f'<path id="a" {paint} d="M0 0H40.8V-0.8H40V40H0Z"/>')
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert len(outer(found)) == 4
    told = only(found)
    assert (told.check, told.severity) == ("drawing-loop", "note")
    assert told.measured == pytest.approx(0.64, abs=1e-9)
    assert told.at_mm == pytest.approx((40, 100), abs=1e-9)
    (repair,) = found.repairs
    assert repair.moved_mm == pytest.approx(0.8 * math.sqrt(2), abs=1e-9)


def test_a_curl_of_a_free_curve_goes() -> None:
    found = line("M0 0H40C41 0 41 -1 40.5 -1C40 -1 40 0 40 1V40H0Z")
    assert [f.check for f in found.findings] == ["drawing-loop"]
    assert sure(found).area == pytest.approx(1600, abs=1.0)


def test_several_curls_all_go() -> None:
    found = line("M0 0H40.8V-0.8H40V40.5H40.5V40H0Z")
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert [f.measured for f in found.findings] == pytest.approx([0.64, 0.25], abs=1e-9)


@pytest.mark.parametrize(
    "d", ["M0 0H41.2V-1.2H40V40H0Z", "M0 0L0.9 0.9H0L0.9 0Z"], ids=["too large", "a small figure eight"]
)
def test_other_crossings_stay_refused_with_their_place(d: str) -> None:
    found = line(d)
    assert found.region is None
    assert "crosses itself at x" in found.problem


def test_lines_without_length_go() -> None:
    found = taken(f'<g id="a" {LINE}><rect width="40" height="40"/><path d="M5 5L5 5.0000001M7 7z"/></g>')
    assert sure(found).area == pytest.approx(1600, abs=1e-9)
    assert [(f.check, f.severity) for f in found.findings] == [("drawing-point", "note")]


# -- strokes that were turned into outlines -------------------------------------------------------------
def ring(x: float, w: float) -> str:
    return f"M{x} {x}V{x + w}H{x + w}V{x}Z"


@pytest.mark.parametrize(
    ("body", "spacing"),
    [
        (f'<path d="{ring(10, 60)}{ring(10.3, 59.4)}" fill-rule="evenodd"/>', 0.3),
        (f'<path d="{ring(10, 60)}{ring(10.5, 59)}" {LINE}/>', 0.5),
        (f'<circle cx="50" cy="50" r="20" {LINE}/><circle cx="50" cy="50" r="20.1" {LINE}/>', 0.1),
        ('<rect x="10" y="10" width="60" height="0.4"/>', 0.4),
        (f'<path d="M10 10H60V50H59.75V10.25H10Z" {LINE}/>', 0.25),
        (f'<path d="{ring(10, 60)}{ring(10.3, 59.4)}"/>', 0.3),
    ],
    ids=["even-odd", "two lines", "circles", "one thin shape", "bent", "filled over"],
)
def test_a_stroke_turned_into_an_outline_is_asked_about(body: str, spacing: float) -> None:
    told = [f for f in taken(f'<g id="a">{body}</g>').findings if f.check == "drawing-doubled"]
    assert [f.severity for f in told] == ["ask"]
    assert told[0].measured == pytest.approx(spacing, rel=0.02)
    assert told[0].remedy


@pytest.mark.parametrize(
    "body",
    [
        f'<path d="{ring(10, 60)}{ring(10.8, 58.4)}" {LINE}/>',
        f'<circle cx="50" cy="50" r="20" {LINE}/><circle cx="50.2" cy="50" r="19.7" {LINE}/>',
        '<path d="M10 10H70L10 11Z"/>',
        '<rect x="10" y="10" width="4" height="0.4"/>',
    ],
    ids=["a rim", "off centre", "a wedge", "a peg hole"],
)
def test_other_narrow_shapes_are_left_alone(body: str) -> None:
    assert "drawing-doubled" not in [f.check for f in taken(f'<g id="a">{body}</g>').findings]


# -- whole outlines, cut up -------------------------------------------------------------------------------
seeds = st.integers(0, 10_000)


def cuts_of(edges: list[Edge], rng: random.Random) -> list[tuple[int, float]]:
    """Two or more edges, each cut once between a third and two thirds of it."""
    chosen = sorted(rng.sample(range(len(edges)), rng.randint(2, len(edges))))
    return [(k, rng.uniform(0.35, 0.65)) for k in chosen]


@settings(max_examples=60)
@given(seeds)
def test_an_outline_cut_up_with_small_gaps_comes_back(seed: int) -> None:
    """Moving an end by g changes the area by at most g times the length of what it ends: g × perimeter in all."""
    rng = random.Random(seed)
    edges = outlines.outline(seed)
    cuts = cuts_of(edges, rng)
    gaps = [rng.uniform(0.001, 0.0499) for _ in cuts]
    found = taken(outlines.shuffled(outlines.cut(edges, cuts, [-g for g in gaps]), rng))
    bound = max(gaps) * outlines.perimeter(edges)
    assert sure(found).area == pytest.approx(outlines.area(edges), abs=bound)
    told = only(found)
    assert told.severity == "note"
    assert told.message.startswith(f"{len(gaps)} gaps")
    assert told.measured == pytest.approx(max(gaps), abs=1e-6)


@settings(max_examples=60)
@given(seeds)
def test_an_outline_cut_up_with_wide_gaps_comes_back_and_is_asked_about(seed: int) -> None:
    """Lines and flat arcs with gaps up to 1 mm on an edge: bridged along it, so the area barely changes: the
    rise of a chord of 1 mm over radii of 30 mm and more is 1/240 mm, a triangle of half a square millimetre."""
    rng = random.Random(seed)
    edges = outlines.outline(seed)
    cuts = cuts_of(edges, rng)
    gaps = [rng.uniform(0.06, 0.95) for _ in cuts]
    found = taken(outlines.shuffled(outlines.cut(edges, cuts, [-g for g in gaps]), rng))
    assert sure(found).area == pytest.approx(outlines.area(edges), abs=0.02 * len(gaps))
    assert {f.severity for f in found.findings} == {"ask"}
    assert len(found.repairs) == len(gaps)


@settings(max_examples=60)
@given(seeds)
def test_an_outline_cut_up_with_overlaps_comes_back(seed: int) -> None:
    rng = random.Random(seed)
    edges = outlines.outline(seed)
    cuts = cuts_of(edges, rng)
    laps = [rng.uniform(0.05, 0.2) * edges[k].length for k, _ in [*cuts[1:], cuts[0]]]
    found = taken(outlines.shuffled(outlines.cut(edges, cuts, laps), rng))
    assert sure(found).area == pytest.approx(outlines.area(edges), abs=1e-6)
    told = only(found)
    assert (told.check, told.severity) == ("drawing-overlap", "note")
    assert told.measured == len(cuts)


@settings(max_examples=40)
@given(seeds)
def test_an_outline_drawn_twice_counts_once(seed: int) -> None:
    """Reversed, begun at another corner, and in pieces that are all drawn twice."""
    rng = random.Random(seed)
    edges = outlines.outline(seed)
    turned = [*edges[2:], *edges[:2]]
    back = [e.reversed() for e in reversed(turned)]
    exact = outlines.area(edges)
    whole = "".join(f'<path d="{outlines.path_data(e, True)}" {LINE}/>' for e in (edges, turned, back))
    found = taken(f'<g id="a">{whole}</g>')
    assert sure(found).area == pytest.approx(exact, abs=1e-6)
    assert only(found).measured == 2
    pieces = outlines.cut(edges, cuts_of(edges, rng), [0.0] * len(edges))
    found = taken(outlines.shuffled([*pieces, *pieces], rng))
    assert sure(found).area == pytest.approx(exact, abs=1e-6)
    assert only(found).check == "drawing-overlap"


def test_what_is_sound_is_untouched() -> None:
    """Body of a drawing without any fault: nothing told, nothing repaired."""
    edges = outlines.outline(7)
    found = taken(f'<path id="a" d="{outlines.path_data(edges, True)}"/>')
    assert (found.findings, found.repairs) == ((), ())
    assert sure(found).area == pytest.approx(outlines.area(edges), abs=1e-9)
