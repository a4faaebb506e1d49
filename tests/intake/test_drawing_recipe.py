"""``read_drawing``: names, frame, scale, ``all``, and what is told."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import Recipe
from pipeline.intake.drawing import read_drawing
from pipeline.intake.drawing.names import named_drawn
from pipeline.intake.drawing.size import likely_mistake
from pipeline.steps.values import Drawing
from tests.intake.drawings import PAGE, recipe, svg

MARKS = (
    '<g id="frame" fill="none" stroke="black"><path id="zero" d="M45 60h10M50 55v10"/>'
    '<circle id="nose" cx="50" cy="20" r="2"/><path id="rule" d="M10 90H110"/></g>'
)
BODY = '<rect id="a" x="50" y="20" width="30" height="40"/>'
STEP = "steps: {part: {kind: outline, drawn: a}}"


def read(folder: Path, body: str, *lines: str, page: str = PAGE) -> Drawing:
    return read_drawing(recipe(folder, svg(body, page), *(lines or (STEP,))))


def checks(drawing: Drawing) -> list[tuple[str, str]]:
    return [(f.check, f.severity) for f in drawing.findings]


def refusal(folder: Path, body: str, *lines: str, page: str = PAGE) -> str:
    with pytest.raises(Refused) as refused:
        read(folder, body, *lines, page=page)
    return refused.value.show()


# -- frame ----------------------------------------------------------------------------------------
def test_without_a_frame_zero_is_the_lower_left_corner_of_the_page(tmp_path: Path) -> None:
    drawing = read(tmp_path, BODY)
    assert drawing.objects["a"].region is not None
    assert drawing.objects["a"].region.bounds == pytest.approx((50, 40, 80, 80), abs=1e-12)
    assert drawing.scale_mm == 1.0


def test_origin_and_direction_of_x(tmp_path: Path) -> None:
    """From (50, 40) the mark lies straight up, so up becomes +x and left becomes +y."""
    drawing = read(tmp_path, BODY + MARKS, "frame: {origin: zero, x_toward: nose}", STEP)
    region = drawing.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((0, -30, 40, 0), abs=1e-12)
    zero, nose = drawing.objects["zero"].mark, drawing.objects["nose"].mark
    assert zero is not None
    assert nose is not None
    assert zero.at == pytest.approx((0, 0), abs=1e-12)
    assert nose.at == pytest.approx((40, 0), abs=1e-12)


@pytest.mark.parametrize(
    ("known", "k"),
    [
        ("{between: [zero, nose], is: 100}", 2.5),
        ("{between: [rule], is: 100}", 1.0),
        ("{between: rule, is: 254}", 2.54),
        ("{between: [a], is: 80}", 2.0),
    ],
)
def test_a_known_length_wins(tmp_path: Path, known: str, k: float) -> None:
    """Between two marks (40 mm as drawn), of a line (100), of an object's width along x (40 when x runs up)."""
    frame = f"frame: {{origin: zero, x_toward: nose, known: [{known}]}}"
    drawing = read(tmp_path, BODY + MARKS, frame, STEP)
    region = drawing.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((0, -30 * k, 40 * k, 0), abs=1e-9)
    assert drawing.scale_mm == pytest.approx(k, rel=1e-12)
    assert checks(drawing) == ([] if k == 1 else [("drawing-scale", "ask")])


@pytest.mark.parametrize(("is_", "asked"), [(40.11, False), (39.89, False), (40.13, True), (39.87, True)])
def test_three_in_a_thousand_is_the_limit(tmp_path: Path, is_: float, asked: bool) -> None:
    drawing = read(tmp_path, BODY + MARKS, f"frame: {{known: [{{between: [zero, nose], is: {is_}}}]}}", STEP)
    assert bool(drawing.findings) is asked


@pytest.mark.parametrize(
    ("factor", "says"),
    [
        (25.4, "inch"), (1 / 25.4, "inch"), (96 / 72, "1/72"), (72 / 96, "1/96"), (96 / 90, "1/90"),
        (10, "centimetre"), (25.4 / 96, "pixel"), (25.4 / 72, "point"), (1.25, "1/72"),
    ],
)  # fmt: skip
def test_the_usual_mistake_is_named(factor: float, says: str) -> None:
    """trade.md 1.2 and outside_checks.md N1; within half a percent."""
    assert says in likely_mistake(factor)
    assert says in likely_mistake(factor * 1.004)
    assert likely_mistake(factor * 1.0251) == ""


def test_a_factor_is_told_in_the_finding(tmp_path: Path) -> None:
    """A length of 40 that is known to be 53.3333 was drawn in units of 1/72 inch."""
    drawing = read(tmp_path, BODY + MARKS, "frame: {known: [{between: [zero, nose], is: 53.33333}]}", STEP)
    (told,) = drawing.findings
    assert "1.33333 times" in told.message
    assert "1/72 inch taken for 1/96 inch" in told.message


def test_known_lengths_that_disagree_are_asked_about(tmp_path: Path) -> None:
    known = "{between: [zero, nose], is: 40.4}, {between: rule, is: 100}"
    drawing = read(tmp_path, BODY + MARKS, f"frame: {{known: [{known}]}}", STEP)
    k = (40.4 * 40 + 100 * 100) / (40**2 + 100**2)
    assert drawing.scale_mm == pytest.approx(k, rel=1e-12)
    assert checks(drawing) == [("drawing-scale", "ask")]
    assert "zero to nose" in drawing.findings[0].message


def test_a_drawing_without_size_needs_a_known_length(tmp_path: Path) -> None:
    page = 'viewBox="0 0 200 100"'
    assert "nothing tells how large it is" in refusal(tmp_path, BODY + MARKS, page=page)
    frame = "frame: {known: [{between: [zero, nose], is: 80}]}"
    region = read(tmp_path, BODY + MARKS, frame, STEP, page=page).objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((100, 80, 160, 160), abs=1e-9)


def test_pixels_alone_are_asked_about(tmp_path: Path) -> None:
    drawing = read(tmp_path, BODY, page='width="200" height="100"')
    assert checks(drawing) == [("drawing-scale", "ask")]
    assert drawing.scale_mm == pytest.approx(25.4 / 96, rel=1e-12)


def test_without_a_page_an_origin_is_needed(tmp_path: Path) -> None:
    known = "known: [{between: [zero, nose], is: 80}]"
    assert "lower left corner" in refusal(tmp_path, BODY + MARKS, f"frame: {{{known}}}", STEP, page="")
    drawing = read(tmp_path, BODY + MARKS, f"frame: {{origin: zero, {known}}}", STEP, page="")
    region = drawing.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((0, 0, 60, 80), abs=1e-9)


def test_marks_at_one_place_give_no_direction(tmp_path: Path) -> None:
    body = BODY + '<circle id="p" cx="9" cy="9" r="1"/><circle id="q" cx="9" cy="9" r="2"/>'
    assert "stand at the same place" in refusal(tmp_path, body, "frame: {origin: p, x_toward: q}", STEP)


# -- names ------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "body",
    [
        BODY,
        f'<g id="a">{BODY.replace(" id", " class")}</g>',
        f'<g xmlns:e="urn:editor" e:groupmode="layer" e:label="a">{BODY.replace(" id", " class")}</g>',
        BODY.replace('id="a"', 'id="x1" xmlns:e="urn:e" e:label="a"'),
        BODY.replace('id="a"', 'id="x1" data-name="a"'),
        f'<defs>{BODY.replace(chr(34) + "a", chr(34) + "r")}</defs><use id="a" href="#r"/>',
        f'<g id="a"><g>{BODY.replace(" id", " class")}</g></g>',
    ],
)
def test_an_object_answers_to_id_label_and_layer(tmp_path: Path, body: str) -> None:
    region = read(tmp_path, body).objects["a"].region
    assert region is not None
    assert region.area == pytest.approx(1200, abs=1e-9)


def test_an_id_goes_before_a_label(tmp_path: Path) -> None:
    other = '<circle id="b" xmlns:e="urn:e" e:label="a" cx="150" cy="50" r="5"/>'
    region = read(tmp_path, BODY + other).objects["a"].region
    assert region is not None
    assert region.area == pytest.approx(1200, abs=1e-9)


def test_a_label_that_two_objects_have_is_not_clear(tmp_path: Path) -> None:
    labelled = BODY.replace("id=", 'xmlns:e="urn:e" e:label=')
    assert 'has 2 objects called "a"' in refusal(tmp_path, labelled + labelled)


def test_several_names_are_taken_together(tmp_path: Path) -> None:
    """An unfilled ring in another one is a hole, also when a recipe names the two."""
    rings = "".join(
        f'<circle id="{n}" cx="50" cy="50" r="{r}" fill="none" stroke="red"/>' for n, r in (("a", 40), ("b", 10))
    )
    drawing = read(tmp_path, rings, "steps: {part: {kind: outline, drawn: [a, b]}}")
    whole = drawing.several["a", "b"].region
    assert whole is not None
    assert whole.area == pytest.approx(math.pi * (1600 - 100), rel=1e-12)


def test_all_is_the_drawing_less_its_marks(tmp_path: Path) -> None:
    body = (
        BODY
        + MARKS.replace('<path id="rule" d="M10 90H110"/>', "")
        + '<circle id="spare-mark" r="3" cx="9" cy="9"/>'
    )
    drawing = read(
        tmp_path, body, "frame: {origin: zero, x_toward: nose}", "steps: {part: {kind: outline, drawn: all}}"
    )
    assert drawing.all.region is not None
    assert drawing.all.region.area == pytest.approx(1200, abs=1e-9)
    assert drawing.findings == ()


def test_a_background_is_asked_about(tmp_path: Path) -> None:
    drawing = read(
        tmp_path, '<rect width="200" height="100"/>' + BODY, "steps: {part: {kind: outline, drawn: all}}"
    )
    assert checks(drawing) == [("drawing-page", "ask")]


def test_what_is_not_named_is_not_worked_out(tmp_path: Path) -> None:
    """A broken object that no step takes doesn't stop the others; naming it does."""
    broken = '<path id="b" d="M0 0X"/>'
    drawing = read(tmp_path, BODY + broken)
    assert list(drawing.objects) == ["a"]
    assert drawing.all.region is None
    assert "character 5" in refusal(tmp_path, BODY + broken, "steps: {part: {kind: outline, drawn: b}}")
    assert "character 5" in refusal(tmp_path, BODY + broken, "steps: {part: {kind: outline, drawn: all}}")


def test_objects_outside_the_page_are_told(tmp_path: Path) -> None:
    drawing = read(tmp_path, BODY + '<rect x="300" y="5" width="9" height="9"/>')
    assert checks(drawing) == [("drawing-page", "note")]


def test_names_come_from_the_annotations_of_every_kind(tmp_path: Path) -> None:
    read_recipe_ = recipe(
        tmp_path,
        svg(""),
        "balance: {seat: s, strap: [f, b]}",
        "notes: [{at: pin, text: mind}, {at: [1, 2], text: no mark}]",
        "steps:",
        "  one: {kind: outline, drawn: [a, b]}",
        "  two: {kind: cavity, opening: {circle: 20}, centre: spot, depth: 5}",
        "  three: {kind: cavity, drawn: c, depth: 5}",
    )
    named = named_drawn(read_recipe_)
    assert list(named.drawn) == ["a", "b", "c"]
    assert named.alone == {"c"}
    assert list(named.several) == [("a", "b")]
    assert sorted(named.marks) == ["b", "f", "pin", "s", "spot"]
    place, step = named.drawn["b"]
    assert (place.line, step) == (6, "one")


def test_a_missing_drawing_is_refused_in_a_sentence(tmp_path: Path) -> None:
    made: Recipe = recipe(tmp_path, svg(BODY))
    (tmp_path / "t.svg").unlink()
    with pytest.raises(Refused, match=r'There is no drawing "t\.svg"'):
        read_drawing(made)


def test_the_same_drawing_gives_the_same_numbers_under_another_similarity(tmp_path: Path) -> None:
    """Body W turned, mirrored and scaled by groups and brought back by its marks: area k², still 4 segments."""
    from tests.intake.test_drawing_path import body_w

    marks = '<circle id="p" cx="120" cy="150" r="1"/><circle id="q" cx="290" cy="150" r="1"/>'
    whole = f'<g transform="rotate(37 5 9) scale(0.5 -0.5)"><path id="a" d="{body_w()}"/>{marks}</g>'
    frame = "frame: {origin: p, x_toward: q, known: [{between: [p, q], is: 170}]}"
    region = read(tmp_path, whole, frame, STEP).objects["a"].region
    assert region is not None
    assert len(region.parts[0].outer) == 4
    assert region.area == pytest.approx(55883.61, abs=0.005)
    assert region.bounds == pytest.approx((-120, -120, 212, 120), abs=1e-6)
