"""Known lengths: calibrations and their uncertainty, stretched scans, unit mistakes (trade.md 1.2)."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.intake.drawing import read_drawing
from pipeline.intake.drawing.size import likely_mistake
from pipeline.steps.values import Drawing
from tests.intake.drawings import PAGE, recipe, svg

STEP = "steps: {part: {kind: outline, drawn: a}}"
BODY = '<rect id="a" x="20" y="10" width="150" height="80"/>'
RULES = (
    '<g fill="none" stroke="black"><path id="long" d="M20 95H160"/><path id="short" d="M20 5H45"/>'
    '<path id="tall" d="M10 90V10"/><path id="slant" d="M20 20L80 80"/><path id="other" d="M20 80L80 20"/></g>'
)
UNSIZED = 'viewBox="0 0 200 100"'


def read(folder: Path, frame: str, page: str = PAGE, body: str = BODY) -> Drawing:
    return read_drawing(recipe(folder, svg(body + RULES, page), f"frame: {{{frame}}}", STEP))


def told(drawing: Drawing, check: str = "drawing-scale") -> list[Finding]:
    return [f for f in drawing.findings if f.check == check]


# -- calibrations -------------------------------------------------------------------------------------
def test_a_calibration_says_what_it_measures(tmp_path: Path) -> None:
    """140 mm as drawn, 280 in truth: 0.3 mm over 280 is 0.3 × 300 / 280 over a body of 300 mm."""
    drawing = read(tmp_path, "known: [{between: long, is: 280}]")
    (c,) = drawing.calibrations
    assert c.name == "long"
    assert c.true_mm == 280
    assert c.drawn_mm == pytest.approx(140, abs=1e-12)
    assert c.comes_out_mm == pytest.approx(280, abs=1e-9)
    assert c.ends[0] == pytest.approx((40, 10), abs=1e-9)
    assert c.ends[1] == pytest.approx((320, 10), abs=1e-9)
    assert c.plus_minus_mm == pytest.approx(0.3 * 300 / 280, abs=1e-9)


@pytest.mark.parametrize(("length", "reading", "error"), [(50, 0.3, 1.8), (400, 0.3, 0.225), (50, 0.05, 0.3)])
def test_a_short_ruler_makes_a_large_error(tmp_path: Path, length: float, reading: float, error: float) -> None:
    """trade.md 1.2: 0.3 mm on a 50 mm ruler is 1.8 mm over 300; on a 400 mm centreline it is 0.23."""
    body = f'<rect id="a" width="300" height="80"/><path id="rule" stroke="black" d="M0 90h{length}"/>'
    known = f"known: [{{between: rule, is: {length}, reading: {reading}}}]"
    (c,) = read(tmp_path, known, body=body).calibrations
    assert c.plus_minus_mm == pytest.approx(error, abs=1e-9)


def test_two_known_lengths_give_two_calibrations(tmp_path: Path) -> None:
    drawing = read(tmp_path, "known: [{between: long, is: 140.1}, {between: short, is: 25}]")
    assert [c.name for c in drawing.calibrations] == ["long", "short"]
    k = (140.1 * 140 + 25 * 25) / (140**2 + 25**2)
    assert [c.comes_out_mm for c in drawing.calibrations] == pytest.approx([140 * k, 25 * k], abs=1e-9)


def test_the_width_of_an_object_has_its_ends_at_half_height(tmp_path: Path) -> None:
    (c,) = read(tmp_path, "known: [{between: a, is: 150}]").calibrations
    assert c.ends[0] == pytest.approx((20, 50), abs=1e-9)
    assert c.ends[1] == pytest.approx((170, 50), abs=1e-9)


def test_a_short_length_that_sets_the_scale_is_asked_about(tmp_path: Path) -> None:
    drawing = read(tmp_path, "known: [{between: short, is: 25}]", UNSIZED)
    (f,) = told(drawing)
    assert f.severity == "ask"
    assert f.measured == 25
    assert f.limit == pytest.approx(0.6 * 150, abs=1e-9)
    assert "1.80 mm wrong" in f.message  # 0.3 × 150 / 25
    assert "at least 90 mm" in f.remedy


@pytest.mark.parametrize(
    ("known", "page", "n"),
    [
        ("{between: short, is: 25}", PAGE, 0),  # the page says the same: it sets the scale
        ("{between: short, is: 25.05}", PAGE, 0),
        ("{between: short, is: 26}", PAGE, 2),  # unlike the page, and short
        ("{between: long, is: 140}", UNSIZED, 0),  # 140 is more than 0.6 × 150
        ("{between: tall, is: 80}", UNSIZED, 1),
        ("{between: short, is: 25}, {between: long, is: 140}", UNSIZED, 0),  # the longest counts
    ],
)
def test_when_a_short_length_matters(tmp_path: Path, known: str, page: str, n: int) -> None:
    assert len(told(read(tmp_path, f"known: [{known}]", page))) == n


# -- stretched scans ------------------------------------------------------------------------------------
ACROSS = "{between: long, is: 140.7}, {between: tall, is: 80}"


def test_a_stretched_scan_is_asked_about(tmp_path: Path) -> None:
    """140.7 of 140 drawn is 0.5 % more than 80 of 80."""
    drawing = read(tmp_path, f"known: [{ACROSS}]", UNSIZED)
    (f,) = told(drawing)
    assert f.severity == "ask"
    assert f.measured == pytest.approx(1.005, abs=1e-9)
    assert f.limit == pytest.approx(1.003)
    assert "0.50 %" in f.message
    assert "`stretch: true`" in f.remedy


def test_three_in_a_thousand_of_stretch_pass(tmp_path: Path) -> None:
    assert told(read(tmp_path, "known: [{between: long, is: 140.4}, {between: tall, is: 80}]")) == []


def test_slanting_lengths_offer_no_stretch(tmp_path: Path) -> None:
    """At 45 degrees both tell of x and y alike: they only disagree."""
    s = 60 * math.sqrt(2)
    drawing = read(tmp_path, f"known: [{{between: slant, is: {1.01 * s}}}, {{between: other, is: {s}}}]")
    assert sum("don't agree" in f.message for f in told(drawing)) == 2
    assert not any("stretched" in f.message for f in told(drawing))


def test_stretch_scales_x_and_y_apart(tmp_path: Path) -> None:
    drawing = read(tmp_path, f"stretch: true, known: [{ACROSS}]")
    region = drawing.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((20 * 1.005, 10, 170 * 1.005, 90), abs=1e-9)
    assert region.area == pytest.approx(150 * 80 * 1.005, abs=1e-9)
    assert [c.comes_out_mm for c in drawing.calibrations] == pytest.approx([140.7, 80], abs=1e-9)
    assert drawing.scale_mm == pytest.approx(math.sqrt(1.005), abs=1e-12)
    assert told(drawing) == []
    (f,) = told(drawing, "drawing-stretch")
    assert f.severity == "note"
    assert "1.005" in f.message
    assert "y by 1" in f.message


def test_stretch_goes_by_the_frame_axes(tmp_path: Path) -> None:
    """With x along the page's y, the tall rule stretches x; lengths a little askew count with both parts."""
    marks = '<circle id="p" cx="10" cy="90" r="1"/><circle id="q" cx="10" cy="10" r="1"/>'
    leaning = '<path id="lean" fill="none" stroke="black" d="M20 95L160 90"/>'
    true = math.hypot(1.01 * 5, 0.99 * 140)
    known = f"[{{between: [p, q], is: 80.8}}, {{between: lean, is: {true!r}}}]"
    frame = f"origin: p, x_toward: q, stretch: true, known: {known}"
    drawing = read(tmp_path, frame, body=BODY + marks + leaning)
    region = drawing.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((0, -160 * 0.99, 80 * 1.01, -10 * 0.99), abs=1e-9)


def test_circles_that_become_ellipses_are_told(tmp_path: Path) -> None:
    body = '<circle id="a" cx="90" cy="50" r="30"/>'
    drawing = read(tmp_path, f"stretch: true, known: [{ACROSS}]", body=body)
    region = drawing.objects["a"].region
    assert region is not None
    assert region.area == pytest.approx(math.pi * 900 * 1.005, rel=1e-6)
    assert any("elliptic" in f.message for f in told(drawing, "drawing-stretch"))
    plain = read(tmp_path, "known: [{between: long, is: 140}]", body=body)
    assert plain.findings == ()


def test_more_lengths_than_needed_must_agree(tmp_path: Path) -> None:
    drawing = read(tmp_path, f"stretch: true, known: [{ACROSS}, {{between: short, is: 25.4}}]")
    assert ["short" in f.message for f in told(drawing)] == [True]


@pytest.mark.parametrize(
    "known", ["{between: long, is: 140}", "{between: long, is: 140}, {between: short, is: 25}"]
)
def test_stretch_needs_a_length_along_both(tmp_path: Path, known: str) -> None:
    with pytest.raises(Refused) as refused:
        read(tmp_path, f"stretch: true, known: [{known}]")
    assert "the known lengths don't fix both" in refused.value.show()
    assert "one length along x and one along y" in refused.value.show()


# -- unit mistakes ---------------------------------------------------------------------------------------
INCH, PIXEL, POINT, OLD = "inch", "1/96 inch", "1/72 inch", "1/90 inch"
MISTAKES = [
    (25.4, ("an inch",)),
    (25.4 / 96, ("a pixel", PIXEL)),
    (25.4 / 72, ("a point", POINT)),
    (25.4 / 90, ("a pixel", OLD)),
    (96 / 72, (POINT, PIXEL)),
    (96 / 90, (OLD, PIXEL)),
    (90 / 72, (POINT, OLD)),
    (10.0, ("a centimetre",)),
]
"""True over drawn, and what was taken for what (trade.md 1.2, outside_checks.md N1)."""
OFF = st.floats(-0.0049, 0.0049)


@given(st.sampled_from(MISTAKES), OFF)
def test_every_usual_mistake_and_its_inverse_is_named(mistake: tuple[float, tuple[str, ...]], off: float) -> None:
    factor, words = mistake
    said, inverse = likely_mistake(factor * (1 + off)), likely_mistake((1 + off) / factor)
    for word in words:
        assert word in said
        assert word in inverse
    # What was taken is named first, so the inverse names it last.
    assert words[0] in said.split(" taken for ")[0]
    assert words[0] in inverse.split(" taken for ")[1]


@given(st.floats(0.01, 100))
def test_other_factors_are_not_named(factor: float) -> None:
    known = [f for k, _ in MISTAKES for f in (k, 1 / k)]
    near = min(abs(factor / k - 1) for k in known)
    assert (likely_mistake(factor) != "") == (near <= 0.005)


@pytest.mark.parametrize(("factor", "shown"), [(25.4, "25.4"), (3.779528, "3.77953"), (2.834646, "2.83465")])
def test_the_factor_stands_in_the_finding(tmp_path: Path, factor: float, shown: str) -> None:
    """The decimals of trade.md 1.2."""
    drawing = read(tmp_path, f"known: [{{between: long, is: {140 * factor}}}]")
    (f,) = told(drawing)
    assert f"{shown} times" in f.message
    assert "That is the factor of" in f.message
