"""The page of `mouldloft check`: each finding with its picture, its number and its line."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.core.errors import MachineFailed
from pipeline.core.findings import Finding
from pipeline.packet.check_page import check_page, write_check_page
from tests.packet import factory as f
from tests.packet.test_print import DESIGN
from tests.packet.test_report import HOSTILE, Page
from tests.packet.whole import ASK

PLACED = replace(ASK, place=replace(f.PLACE, line=12, column=5, text="    depth: 16  # <neck>"))


def test_a_finding_with_all_it_has() -> None:
    """Severity, message, place in the design, number, limit, remedy, and the line of the recipe as written."""
    page = Page(check_page(DESIGN, (PLACED,)))
    for words in (
        "ask",
        "The wall beside the neck pocket is thin",
        "wall-thin; blank; x 160.0, y 25.5, front; measured 7.80, limit 8.00 mm",
        "To do: move the pocket 0.20 toward the centreline",
        "heron.yaml:12:5",
        "depth: 16 # <neck>",  # blanks that set out columns are gone
    ):
        assert words in page.text


def test_the_picture_shows_the_place() -> None:
    """The cross's ring stands in the middle of the picture, with the number beside it."""
    text = check_page(DESIGN, (PLACED,))
    assert re.findall(r'viewBox="([^"]+)"', text) == ["0 0 360 236"]
    assert re.search(r'<circle class="spot" cx="180" cy="118"', text)
    assert ">7.80 mm</text>" in text
    assert ">limit 8.00 mm</text>" in text


def test_the_worst_five_are_open_the_rest_folded() -> None:
    """Worst first whatever the order they come in; accepted ones by themselves, with who, since when and why."""
    rest = [replace(ASK, message=f"Thin {k}", measured=7.9 - k / 10, place=None) for k in range(7)]
    done = replace(ASK, message="Done", accepted="blended", accepted_by="AR", accepted_since="A")
    text = check_page(DESIGN, (done, *rest))
    head, folded, accepted = text.split("<details>")
    assert re.findall(r"Thin \d(?=</h3>)", head) == ["Thin 6", "Thin 5", "Thin 4", "Thin 3", "Thin 2"]
    assert folded.startswith("<summary>2 more findings</summary>")
    assert re.findall(r"Thin \d(?=</h3>)", folded) == ["Thin 1", "Thin 0"]
    assert accepted.startswith("<summary>1 finding that the maker accepts</summary>")
    assert "Accepted by AR since revision A: blended" in accepted
    assert text == check_page(DESIGN, (*rest[::-1], done))
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_nothing_open() -> None:
    text = check_page(DESIGN, (replace(ASK, accepted="seen"),))
    assert "Nothing is open." in text
    assert "1 finding that the maker accepts" in text


def test_one_picture_for_each_finding_that_has_a_place() -> None:
    """A finding without a place still has its card."""
    bare = Finding(check="unmeasured-part", severity="note", message="The bridge is not measured.", step="bridge")
    page = Page(check_page(DESIGN, (PLACED, bare, replace(PLACED, at_mm=(0.0, 0.0)))))
    assert page.tags.count("svg") == 2
    assert page.text.count("unmeasured-part; bridge") == 1


def test_no_findings() -> None:
    page = Page(check_page(DESIGN, ()))
    assert "No findings." in page.text
    assert "svg" not in page.tags


def test_hostile_words_stay_words() -> None:
    """Title, message, remedy, source line and reason of acceptance come out as text."""
    place = replace(f.PLACE, text=HOSTILE)
    finding = replace(ASK, message=HOSTILE, remedy=HOSTILE, accepted=HOSTILE, place=place)
    design = replace(DESIGN, recipe=replace(DESIGN.recipe, title=HOSTILE))
    text = check_page(design, (finding,))
    page = Page(text)
    assert "<script" not in text
    assert "img" not in page.tags
    assert all(not k.startswith("on") for k, _ in page.attributes)
    assert page.text.count(HOSTILE) == 7  # title, heading, message, its picture, remedy, line, acceptance
    assert all(k not in ("src", "href") for k, _ in page.attributes)


def test_where_it_is_written(tmp_path: Path) -> None:
    """In the folder asked for, under the packet's name; a variant's page beside it; a failure is told plainly."""
    assert write_check_page(tmp_path / "out", DESIGN, (PLACED,)) == tmp_path / "out/heron.check.html"
    left = replace(DESIGN, recipe=replace(DESIGN.recipe, variant="left"))
    assert write_check_page(tmp_path / "out", left, ()).name == "heron-left.check.html"
    text = (tmp_path / "out/heron.check.html").read_bytes()
    assert text == check_page(DESIGN, (PLACED,)).encode()
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(MachineFailed, match="file"):
        write_check_page(tmp_path / "file", DESIGN, ())
