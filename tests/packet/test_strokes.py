"""Engraved words are strokes of one cutter: every sign there, in proportion, never a font."""

from __future__ import annotations

import math
import string

import numpy as np
import pytest

from pipeline.packet.strokes import alphabet, text_strokes, text_width, unknown_signs

NEEDED = string.ascii_letters + string.digits + ".,-+/():Ø°×±%='&"


def test_every_sign_that_labels_need_is_there() -> None:
    assert unknown_signs(NEEDED + " ") == ()


@pytest.mark.parametrize("sign", sorted(alphabet()))
def test_a_sign_stays_in_its_box_and_can_be_cut(sign: str) -> None:
    """ISO 3098: capitals are 10/10 h high, tails reach at most 3/10 h below; no segment is without length."""
    strokes = text_strokes(sign, 0, 0, 10)
    assert strokes
    width = text_width(sign, 10)
    for c in strokes:
        x0, y0, x1, y1 = c.bounds
        assert x0 >= -0.3
        assert x1 <= width + 0.6
        assert y0 >= -3.0
        assert y1 <= 11.0
        assert np.hypot(*(c.ends - c.starts).T).min() > 0.1


@pytest.mark.parametrize("sign", string.ascii_uppercase + string.digits)
def test_capitals_and_figures_are_as_high_as_asked(sign: str) -> None:
    boxes = [c.bounds for c in text_strokes(sign, 0, 0, 7.0)]
    assert max(b[3] for b in boxes) == pytest.approx(7.0, abs=0.71 if sign == "Q" else 1e-9)
    assert min(b[1] for b in boxes) == pytest.approx(0.0, abs=0.71 if sign == "Q" else 1e-9)


@pytest.mark.parametrize("sign", "acemnorsuvwxz")
def test_small_letters_are_seven_tenths(sign: str) -> None:
    """ISO 3098 type B: height of small letters without stem or tail 7/10 h."""
    assert max(c.bounds[3] for c in text_strokes(sign, 0, 0, 10)) == pytest.approx(7.0)


@pytest.mark.parametrize("sign", "OoDCSeacdgpqbnmhu0698235JU")
def test_round_letters_run_smoothly(sign: str) -> None:
    """Where a stroke's arc meets its neighbour inside a round letter there is no break of more than a corner asks:
    every arc is tangent to at least one neighbour."""
    for c in text_strokes(sign, 0, 0, 10):
        start, end = c.tangents()
        n = len(c)
        for i in range(n):
            if abs(c.bulges[i]) < 1e-12:
                continue
            joints = []
            if c.closed or i > 0:
                joints.append(float(start[i] @ end[i - 1]))
            if c.closed or i < n - 1:
                joints.append(float(end[i] @ start[(i + 1) % n]))
            assert not joints or max(joints) > math.cos(math.radians(0.01))


def test_letters_stand_two_tenths_apart() -> None:
    """ISO 3098 type B: 2/10 h clear between strokes of 1/10 h, 6/10 h clear between words."""
    height = 10.0
    clear = text_width("HH", height) - 2 * text_width("H", height) - height / 10
    assert clear == pytest.approx(2.0)
    words = text_width("H H", height) - 2 * text_width("H", height) - height / 10
    assert words == pytest.approx(6.0)


def test_text_is_turned_and_centred_about_its_point() -> None:
    """Turned by 90° the text of half the height runs up, centred on its middle."""
    strokes = text_strokes("HEH", 30, 40, 5.0, 90.0, centred=True)
    boxes = np.array([c.bounds for c in strokes])
    middle = (boxes[:, :2].min(axis=0) + boxes[:, 2:].max(axis=0)) / 2
    assert middle == pytest.approx((30, 40))
    across, along = boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)
    assert (across, along) == pytest.approx((5.0, text_width("HEH", 5.0)))


def test_an_unknown_sign_is_a_box_and_is_named() -> None:
    """A sign we lack shows as a box a machinist can see, and the caller can tell which it was."""
    assert unknown_signs("Höhe ≥ 3 ≥") == ("ö", "≥")
    (box,) = text_strokes("≥", 0, 0, 10)
    assert box.closed
    assert len(box) == 4
    assert text_strokes("   ", 0, 0, 10) == ()
    assert text_width("", 10) == 0.0
