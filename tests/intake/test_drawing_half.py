"""Half outlines: open lines that an outline with `mirror` takes, from the drawing to the whole shape."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.core.errors import Refused
from pipeline.geometry.contour import Contour
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.steps.values import Result
from tests.geometry.test_symmetry import waisted
from tests.intake.drawings import recipe, svg

PAGE = 'width="400mm" height="300mm" viewBox="0 0 400 300"'
MARKS = '<path id="zero" fill="none" stroke="black" d="M145 150h10M150 145v10"/>'
MARKS += '<path id="nose" fill="none" stroke="black" d="M295 150h10M300 145v10"/>'
FRAME = "frame: {origin: zero, x_toward: nose}"
LINE = 'fill="none" stroke="black"'


def d(c: Contour, decimals: int) -> str:
    """The path of an open contour of arcs, its zero at (150, 150) of a page whose y runs down."""
    radius = [
        np.hypot(*(q - p)) * (1 + b * b) / (4 * abs(b)) for p, q, b in zip(c.starts, c.ends, c.bulges, strict=True)
    ]
    at = [f"{150 + x:.{decimals}f} {150 - y:.{decimals}f}" for x, y in c.xy.tolist()]
    arcs = [
        f"A{r:.{decimals}f} {r:.{decimals}f} 0 {int(abs(b) > 1)} {int(b < 0)} {q}"
        for r, b, q in zip(radius, c.bulges.tolist(), at[1:], strict=True)
    ]
    return f"M{at[0]}" + "".join(arcs)


def outline(folder: Path, body: str, fields: str) -> Result:
    steps = f"steps: {{body: {{kind: outline, {fields}}}}}"
    read = recipe(folder, svg(MARKS + body, PAGE), FRAME, steps)
    return derive(read, read_drawing(read)).results["body"]


@pytest.mark.parametrize("decimals", [9, 6, 4])
def test_a_half_of_three_arcs_comes_out_as_four(tmp_path: Path, decimals: int) -> None:
    """The oracle of trade.md 1.5, also with the four decimals that drawing programs write."""
    made = outline(
        tmp_path, f'<path id="half" {LINE} d="{d(waisted(), decimals)}"/>', "drawn: half, mirror: {about: x}"
    )
    assert (made.numbers["arcs"], made.numbers["lines"], made.numbers["free_segments"]) == (4, 0, 0)
    assert made.region is not None
    assert np.abs(made.region.contours[0].xy[:, 1]).min() > 1
    assert [f.check for f in made.findings] == []


@pytest.mark.parametrize("axis", ["M30 150H400", "M50 150H390", "M395 150H45"])
def test_the_drawn_axis_is_dropped(tmp_path: Path, axis: str) -> None:
    """In the same group, longer than the half or from end to end: the most common wrong cut (trade.md 1.5)."""
    body = f'<g id="half" {LINE}><path d="{d(waisted(), 6)}"/><path d="{axis}"/></g>'
    made = outline(tmp_path, body, "drawn: half, mirror: {about: x}")
    assert (made.numbers["arcs"], made.numbers["lines"]) == (4, 0)
    assert "dropped" in [r.what for r in made.repairs]


def test_a_half_in_two_objects(tmp_path: Path) -> None:
    """Two lines that meet, named one by one, are one half."""
    half = waisted()
    first = Contour(half.xy[:3], np.append(half.bulge[:2], 0.0), half.free[:3], False)
    last = Contour(half.xy[2:], half.bulge[2:], half.free[2:], False)
    body = f'<path id="a" {LINE} d="{d(first, 6)}"/><path id="b" {LINE} d="{d(last, 6)}"/>'
    made = outline(tmp_path, body, "drawn: [a, b], mirror: {about: x}")
    assert (made.numbers["arcs"], made.numbers["lines"]) == (4, 0)


def test_a_filled_half(tmp_path: Path) -> None:
    """A path that was left with the default fill."""
    made = outline(tmp_path, f'<path id="half" d="{d(waisted(), 6)}"/>', "drawn: half, mirror: {}")
    assert (made.numbers["arcs"], made.numbers["lines"]) == (4, 0)


def test_a_free_half_has_no_vertex_on_the_axis(tmp_path: Path) -> None:
    """Cubics that meet the axis square: the fine chain crosses it within one arc on either side."""
    body = f'<path id="half" {LINE} d="M350 150C350 90 300 100 250 110S50 100 50 150"/>'
    made = outline(tmp_path, body, "drawn: half, mirror: {}")
    assert made.region is not None
    (c,) = made.region.contours
    assert np.abs(c.xy[:, 1]).min() > 1e-6
    assert made.numbers["lines"] + made.numbers["arcs"] == 0
    assert [f.check for f in made.findings] == []


def test_all_of_a_drawing_may_be_a_half(tmp_path: Path) -> None:
    """`all` takes what the drawing holds less its marks, here one open line."""
    body = f'<path id="half" {LINE} d="{d(waisted(), 6)}"/>'
    marks = body.replace("half", "line")
    made = outline(tmp_path, marks, "drawn: all, mirror: {}")
    assert made.numbers["arcs"] == 4


def test_open_lines_are_refused_where_no_half_is_taken(tmp_path: Path) -> None:
    """The same object is no outline without `mirror`, nor with a half that is kept of a whole."""
    body = f'<path id="half" {LINE} d="{d(waisted(), 6)}"/>'
    for fields in ("drawn: half", "drawn: half, mirror: {keep: +y}"):
        with pytest.raises(Refused, match="open"):
            outline(tmp_path, body, fields)


def test_an_end_beside_the_axis_is_refused(tmp_path: Path) -> None:
    """With the place of the recipe's line."""
    body = f'<path id="half" {LINE} d="M350 147L300 100L60 100L50 150"/>'
    with pytest.raises(Refused) as refused:
        outline(tmp_path, body, "drawn: half, mirror: {}")
    (problem,) = refused.value.problems
    assert "ends at x 200.0, y 3.0 mm, 3.00 mm from the x axis" in problem.wrong
    assert problem.place is not None
    assert problem.place.line > 0
