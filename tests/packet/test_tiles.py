"""Tiles of a full-size print: how many, and that they cover the drawing."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.packet.tiles import PAPERS, Tiling, count, tiling


def counted(width: float, height: float, paper: str, way: str, margin: float) -> tuple[int, int]:
    w, h = PAPERS[paper] if way == "portrait" else PAPERS[paper][::-1]
    return count(width, w - 2 * margin, 10.0), count(height, h - 2 * margin, 10.0)


@pytest.mark.parametrize(
    ("paper", "way", "want"),
    [("A4", "portrait", (3, 2)), ("A4", "landscape", (2, 2)), ("A3", "landscape", (2, 2))],
)
def test_the_trades_drawing(paper: str, way: str, want: tuple[int, int]) -> None:
    """trade.md 11: 470 x 320, margin 8, overlap 10."""
    assert counted(470, 320, paper, way, 8.0) == want


@pytest.mark.parametrize(
    ("size", "paper", "way", "want"),
    [
        ((400, 320), "A4", "portrait", (3, 2)),
        ((400, 320), "A4", "landscape", (2, 2)),
        ((400, 320), "Letter", "portrait", (3, 2)),
        ((400, 320), "Letter", "landscape", (2, 2)),
        ((400, 320), "A3", "portrait", (2, 1)),
        ((400, 320), "A3", "landscape", (1, 2)),
        ((1000, 330), "A4", "portrait", (6, 2)),
        ((1000, 330), "A4", "landscape", (4, 2)),
        ((1000, 330), "A3", "portrait", (4, 1)),
        ((1000, 330), "A3", "landscape", (3, 2)),
    ],
)
def test_the_table_of_outside_checks(
    size: tuple[float, float], paper: str, way: str, want: tuple[int, int]
) -> None:
    """outside_checks.md 5.1, margin 10, overlap 10. Its own row for A3 landscape, 1000 x 330,
    says 3 x 1, but 330 doesn't fit into 297 - 20 = 277; its formula gives the 3 x 2 that stands here."""
    assert counted(*size, paper, way, 10.0) == want


def test_the_fewest_sheets_win() -> None:
    """trade.md 11: A4 takes 4 lying and 6 standing, so it lies; one small drawing stands."""
    lying = tiling(470, 320, "A4")
    assert (lying.page, lying.columns, lying.rows, lying.sheets) == ((297.0, 210.0), 2, 2, 4)
    assert lying.usable == (281.0, 194.0)
    assert tiling(470, 320, "A3").usable[0] in (281.0, 404.0)
    assert tiling(100, 100).page == (210.0, 297.0)


def test_papers() -> None:
    """ISO 216 in mm (outside_checks.md 5.1): each is the larger one halved, rounded down; US sheets in inches."""
    a0 = (841, 1189)
    for name in ("A0", "A1", "A2", "A3", "A4"):
        assert PAPERS[name] == a0
        a0 = (a0[1] // 2, a0[0])
    assert PAPERS["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert PAPERS["Tabloid"] == pytest.approx((11 * 25.4, 17 * 25.4))
    with pytest.raises(KeyError):
        tiling(10, 10, "A9")


def test_names() -> None:
    """Row letter, column number, from the upper left: the top row of two is the higher one."""
    t = tiling(470, 320)
    assert [t.name(c, r) for r in (0, 1) for c in (0, 1)] == ["A1", "A2", "B1", "B2"]
    assert t.corner(0, 0)[1] > t.corner(0, 1)[1] == 0.0


@given(st.floats(1, 3000), st.floats(1, 2000), st.sampled_from(sorted(PAPERS)))
def test_tiles_cover_all_and_none_is_idle(width: float, height: float, paper: str) -> None:
    """Neighbours share exactly the overlap, the last tile reaches the end, and one tile fewer would not."""
    t: Tiling = tiling(width, height, paper)
    for n, usable, length, at in (
        (t.columns, t.usable[0], width, [t.corner(c, 0)[0] for c in range(t.columns)]),
        (t.rows, t.usable[1], height, [t.corner(0, r)[1] for r in reversed(range(t.rows))]),
    ):
        assert at[0] == 0.0
        assert all(b - a == pytest.approx(usable - t.overlap) for a, b in pairwise(at))
        assert at[-1] + usable >= length - 1e-6
        if n > 1:
            assert at[-2] + usable < length
