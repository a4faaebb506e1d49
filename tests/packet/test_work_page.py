"""The order of work as people read it: rows, headlines, the checklist of the report, the text of the command."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

from pipeline.packet.work_page import STYLE, work_section
from pipeline.packet.work_rows import blocks, work_text
from pipeline.steps.values import WorkLine

MARK = WorkLine(
    n=1, work="engrave the text", piece="a", face="front", cutter="beam", because="marks come first", who="laser",
    kind="must", group="Sheet ply3 A (laser)", day=3, visit="2 set-ups, 1 tool change: no order has fewer",
)  # fmt: skip
LINES = (
    MARK,
    replace(MARK, n=2, piece="b"),
    replace(MARK, n=3, piece="b", work="cut the outside", because="it frees the piece"),
    WorkLine(
        n=4, work="let it rest", piece="blank", face="", cutter="", because="joints sink", kind="quality",
        caution="rest", price="this caution costs 1 day of waiting", group="Glue-up of blank", day=3,
    ),
    WorkLine(
        n=5, work="round the back edge 6", piece="blank", face="back", cutter="bit r 6",
        because="the bearing falls in", kind="safety", group="blank, back up, on the bench", day=4,
    ),
)  # fmt: skip


class Tags(HTMLParser):
    """Counts classes, and sees to it that every element is closed where it should be."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.classes: list[str] = []
        self.open: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)
        self.classes += (dict(attrs).get("class") or "").split()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def parsed(page: str) -> Tags:
    tags = Tags()
    tags.feed(page)
    assert not tags.open
    return tags


def test_lines_that_say_the_same_of_several_pieces_are_one_row():
    rows = [r for b in blocks(LINES) for r in b.rows]
    assert [(r.number, r.pieces) for r in rows] == [
        ("1\u20132", ("a", "b")), ("3", ("b",)), ("4", ("blank",)), ("5", ("blank",)),
    ]  # fmt: skip


def test_rows_stand_under_day_and_headline_and_a_visit_is_told_once():
    found = [(b.day, b.group, b.visit) for b in blocks(LINES)]
    assert found == [
        (3, "Sheet ply3 A (laser)", "laser: 2 set-ups, 1 tool change: no order has fewer"),
        (3, "Glue-up of blank", ""),
        (4, "blank, back up, on the bench", ""),
    ]


def test_what_the_headline_says_is_not_said_again():
    where = [r.where for b in blocks(LINES) for r in b.rows]
    assert where == [("front",), ("b", "front"), (), ()]


def test_every_line_has_a_box_and_a_because():
    tags = parsed(work_section(LINES))
    assert tags.classes.count("work-box") == len(LINES)  # one for each piece, also where they share a row
    text = " ".join("".join(tags.texts).split())
    for line in LINES:
        assert line.work in text
        assert f"because {line.because}" in text
    assert "(this caution costs 1 day of waiting)" in text
    assert "Day 3 at the earliest" in text
    assert text.count("at the earliest") == 2


def test_the_kind_is_a_word_and_explained_where_it_comes_up():
    page = work_section(LINES)
    assert "quality: rest</span>" in page
    assert ">safety</span>because the bearing falls in" in page
    legend = page[page.index("<dl") : page.index("</dl>")]
    assert re.findall(r"<dt><span[^>]*>(\w+)", legend) == ["must", "quality", "safety"]


def test_nothing_to_do_gives_nothing():
    assert work_section(()) == ""
    assert work_text(()) == []


def test_hostile_names_are_text():
    bad = '<script>alert(1)</script>"&'
    line = replace(MARK, work=bad, piece=bad, because=bad, group=bad, cutter=bad, who=bad, visit=bad, price=bad)
    page = work_section((line, replace(line, n=2, piece="b")))
    assert "<script" not in page
    assert "alert(1)" in "".join(parsed(page).texts)


def test_the_text_of_the_command():
    lines = work_text(LINES)
    assert lines[:4] == [
        "Day 3: Sheet ply3 A (laser)",
        "  laser: 2 set-ups, 1 tool change: no order has fewer",
        "  1\u20132. engrave the text (a, b, front, beam)",
        "       because marks come first [must]",
    ]
    assert "       because joints sink [quality: rest; this caution costs 1 day of waiting]" in lines
    assert "    5. round the back edge 6 (bit r 6)" in lines


def test_print_keeps_rows_whole():
    assert "break-inside:avoid" in STYLE
    assert "@media print" in STYLE
