"""The reader of pictures: path data by the published grammar, and what a shop's picture may not hold."""

from __future__ import annotations

import math

import pytest
import svgelements

from pipeline.packet.svg import path_data
from pipeline.proof.compare import off
from pipeline.proof.groups import DxfBroken
from pipeline.proof.svg import path, read_svg
from tests.packet import factory
from tests.proof.packets import egg

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'


@pytest.mark.parametrize(
    "data",
    [
        "M10 10L40 10L40 30L10 30Z",
        "m10,10 30,0 0,20 -30,0z",
        "M10 10h30v20h-30z",
        "M1e1 10 40 10 40 30 10 30 10 10Z",
    ],
)
def test_one_rectangle_in_many_ways(data: str) -> None:
    """SVG 1.1, 8.3: relative commands, numbers after a move are lines, a last point on the first is no corner."""
    (found,) = path(data)
    assert found.closed
    assert sorted(map(tuple, found.xy.tolist())) == [(10, -30), (10, -10), (40, -30), (40, -10)]
    assert abs(found.area) == pytest.approx(600)


def test_several_contours_in_one_path() -> None:
    closed, open_ = path("M0 0L10 0L10 10ZM20 20L30 20")
    assert (closed.closed, open_.closed) == (True, False)
    assert open_.length == pytest.approx(10)


@pytest.mark.parametrize(("large", "sweep"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_arcs_as_an_independent_reader_has_them(large: int, sweep: int) -> None:
    """Length and middle of an arc of radius 25 over a chord of 30, against svgelements."""
    data = f"M10 20A25 25 0 {large} {sweep} 40 20"
    (found,) = path(data)
    theirs = svgelements.Path(data)
    arc = theirs[1]
    assert found.length == pytest.approx(arc.length(), rel=1e-9)
    middle = arc.point(0.5)
    spots = found.flatten(1e-6)[0]
    assert min(math.dist(p, (middle.x, -middle.y)) for p in spots.tolist()) < 0.02


@pytest.mark.parametrize("contour", [egg(), factory.body_w(), factory.neck_pocket()])
def test_what_is_written_is_read_within_a_tenth_of_a_micrometre(contour) -> None:  # type: ignore[no-untyped-def]
    (found,) = path(path_data(contour))
    assert off(found, contour).mm < 1e-4


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ("M0 0C1 1 2 2 3 3", "neither a line nor an arc"),
        ("M0 0A5 4 0 0 1 3 3", "ellipse"),
        ("M0 0L5", "numbers are missing"),
        ("5 5L6 6", "without a command"),
        ("M0 0L1 1 x", "neither a line nor an arc"),
    ],
)
def test_path_data_that_no_shop_file_holds(data: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        path(data)


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ('<rect width="5" height="5"/>', "A rect doesn't belong"),
        ('<use href="#a"/>', "A use doesn't belong"),
        ('<g style="display:none"/>', "can hide or change"),
        ('<g transform="scale(2)"/>', "moved or scaled"),
        ('<text transform="scale(-1,1)" x="5" y="5">B</text>', "mirrored or moved"),
        ('<circle cx="5" cy="5"/>', "can't be read"),
        ('<svg viewBox="0 0 1 1"/>', "within the picture"),
        ("<style>path{display:none}</style>", "A style doesn't belong"),
    ],
)
def test_strange_things_are_told(inside: str, says: str) -> None:
    picture = read_svg(f"{PAGE}{inside}</svg>".encode())
    assert any(says in sentence for _, sentence in picture.strange)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg",
        b"<html/>",
        b'<!DOCTYPE svg [<!ENTITY a "b">]><svg viewBox="0 0 1 1">&a;</svg>',
        b"\x00\x01",
        b'<svg viewBox="0 0 1 1">',
    ],
)
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(DxfBroken):
        read_svg(data)
