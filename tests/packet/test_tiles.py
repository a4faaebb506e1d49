"""Tiles of a full-size print: papers, how many sheets, and that they cover the drawing."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.packet.tiles import PAGE_LIMIT_MM, Tiling, count, paper_named, papers, tiling

SHEETS = sorted(n for n, p in papers().items() if p.size)
ROLLS = [n for n, p in papers().items() if p.width]


def counted(width: float, height: float, paper: str, way: str, margin: float) -> tuple[int, int]:
    size = paper_named(paper).size
    assert size is not None
    w, h = size if way == "portrait" else size[::-1]
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


def test_of_several_papers_the_fewest_sheets_then_the_least_paper() -> None:
    """By hand: 260 x 400 stands on one A3 (usable 281 x 404) and on one Tabloid (263.4 x 415.8), whose sheet is
    smaller by 279.4 * 431.8 < 297 * 420; 300 x 400 needs two of either but one B2 (484 x 691)."""
    assert tiling(260, 400, "A3,Tabloid").paper == "Tabloid"
    assert tiling(275, 400, "A3,Tabloid").paper == "A3"
    assert (tiling(300, 410, "A3,Tabloid,B2").paper, tiling(300, 410, "A3,Tabloid,B2").sheets) == ("B2", 1)


def test_papers() -> None:
    """ISO 216 in mm (outside_checks.md 5.1): each is the larger one halved, rounded down; US sheets in inches."""
    for series, largest in (("A", (841, 1189)), ("B", (1000, 1414))):
        size = largest
        for n in range(6):
            assert paper_named(f"{series}{n}").size == size
            size = (size[1] // 2, size[0])
    inches = {
        "Letter": (8.5, 11), "Legal": (8.5, 14), "Tabloid": (11, 17),
        "ANSI-C": (17, 22), "ANSI-D": (22, 34), "ANSI-E": (34, 44),
    }  # fmt: skip
    for name, (w, h) in inches.items():
        assert paper_named(name).size == pytest.approx((w * 25.4, h * 25.4))
    assert [papers()[n].width for n in ROLLS] == [420, 594, 610, 841, 914]  # trade.md 11
    assert paper_named("tabloid").name == "Tabloid"


def test_an_unknown_paper_is_refused_with_the_names() -> None:
    with pytest.raises(Refused) as told:
        tiling(10, 10, "A9")
    assert "no paper called" in told.value.show()
    assert "Letter" in told.value.show()


def test_rules_are_as_long_as_the_paper_takes() -> None:
    """A rule of 200 needs 5 mm at either end: 210 wide at least."""
    assert {n: paper_named(n).rule_mm for n in ("A4", "Letter", "roll-420", "A5", "B5")} == {
        "A4": 200.0, "Letter": 200.0, "roll-420": 200.0, "A5": 100.0, "B5": 100.0,
    }  # fmt: skip


def test_names() -> None:
    """Row letter, column number, from the upper left: the top row of two is the higher one; AA comes after Z."""
    t = tiling(470, 320)
    assert [t.name(c, r) for r in (0, 1) for c in (0, 1)] == ["A1", "A2", "B1", "B2"]
    assert t.corner(0, 0)[1] > t.corner(0, 1)[1] == 0.0
    assert [t.name(11, r) for r in (25, 26, 51, 52, 701, 702)] == ["Z12", "AA12", "AZ12", "BA12", "ZZ12", "AAA12"]


@given(st.floats(1, 3000), st.floats(1, 2000), st.sampled_from(SHEETS))
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


@given(st.floats(50, 12_000), st.floats(50, 1500), st.sampled_from(ROLLS))
def test_a_roll_is_one_piece_along_x_up_to_the_longest_page(width: float, height: float, roll: str) -> None:
    """trade.md 11; a PDF page is at most 14,400 points = 5080 mm long (ISO 32000-1, annex C)."""
    t = tiling(width, height, roll)
    assert t.page[0] <= PAGE_LIMIT_MM + 1e-6
    assert t.page[1] == papers()[roll].width
    assert t.columns * (t.usable[0] - t.overlap) + t.overlap == pytest.approx(width)
    assert (t.columns == 1) == (width + 2 * (t.margin + t.lead) <= PAGE_LIMIT_MM + 1e-6)
    assert t.lead >= 20 + 100  # the leader and the check square


def test_a_corrected_print_lies_as_the_one_that_was_measured() -> None:
    """x stays x: the page turns as it would without. What it takes in true mm is less by the factor."""
    plain, fixed = tiling(470, 320, "A4"), tiling(470, 320, "A4", scale=(200 / 199.2, 1.0))
    assert fixed.page == pytest.approx((297 * 199.2 / 200, 210.0))
    assert (plain.columns, plain.rows) == (fixed.columns, fixed.rows)
    assert tiling(545, 320, "A4").columns == 2  # 2 * 271 + 10 = 552 reach; 545 still does less 0.4 %: 549.6
    assert tiling(551, 320, "A4", scale=(200 / 199.2, 1.0)).columns == 3
