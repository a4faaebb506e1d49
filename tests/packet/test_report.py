"""report.html: complete, honest about holding back, and harmless whatever a title says."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from pipeline.core.findings import Finding
from pipeline.packet.report import write_report
from pipeline.packet.report_frame import script
from pipeline.packet.shop_files import shop_files
from pipeline.steps.values import Derived
from tests.packet import factory as f
from tests.packet.whole import ASK, TOTALS, WORK

HOSTILE = "<script>alert(1)</script>\"'&<img src=x onerror=y>"
STOP = Finding(
    check="floor-thin", severity="stop", message="The floor is <b>1.2</b> thin", step="control", piece="blank"
)
VOID = {"meta", "img", "br", "input", "link", "hr"}


class Page(HTMLParser):
    """Tags, attributes and text of a page; fails on a tag closed out of turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""
        self.headings: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self._open.append(tag)
        if tag == "h3":
            self.headings.append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1] in ("style", "script"):
            return
        self.text += data
        if self._open and self._open[-1] == "h3":
            self.headings[-1] += data


def report(
    folder: Path, derived: Derived | None = None, *findings: Finding, held: bool = False, **more: Any
) -> tuple[str, Page]:
    values: dict[str, Any] = {"proof_line": "All files were read back.", "cautions": ("Wear ear muffs.",)}
    values |= more
    cautions = values.pop("cautions")
    write_report(
        folder, derived or f.derived(), (f.cover_nest(),), WORK, findings, TOTALS, cautions, held=held, **values
    )
    text = (folder / "report.html").read_text(encoding="utf-8")
    return text, Page(text)


def test_a_hostile_title_stays_text(tmp_path: Path) -> None:
    """No element comes out of a title, a message or a caution, and it is read as it was written."""
    plain = report(tmp_path)[1]
    finding = Finding(check="x", severity="ask", message=HOSTILE, step="s", remedy=HOSTILE, accepted=HOSTILE)
    text, page = report(
        tmp_path, f.derived(f.recipe(title=HOSTILE)), finding, cautions=(HOSTILE,), proof_line=HOSTILE
    )
    assert page.tags.count("script") == 1  # the page's own
    assert text.count("<script") == 1
    assert f"<script>{script()}</script></body>" in text
    assert "img" not in page.tags
    assert all(not k.startswith("on") for k, _ in page.attributes)
    assert set(page.tags) - set(plain.tags) <= {"details", "summary", "strong", "span"}
    assert page.text.count(HOSTILE) == 7  # title, heading, message, its acceptance, remedy, proof, caution


def test_a_picture_for_every_set_up(tmp_path: Path) -> None:
    """One card with one picture for each set-up of each piece and blank, one for each sheet, two for each stack
    (taken apart, and in section), and two for each outline: as it is printed, and as it is signed."""
    derived = f.derived()
    _, page = report(tmp_path, derived)
    seen = [h for h in page.headings if "seen from the" in h]
    want = [f"{o.name}, seen from the {s.face}" for o in (*derived.blanks, *derived.pieces) for s in o.set_ups]
    assert seen == want
    assert len(want) == 4
    outlines = sum(1 for r in derived.results.values() if r.kind == "outline" and r.region)
    kept = 1 if "use" in page.tags else 0  # the hidden one that holds what is drawn twice
    assert page.tags.count("svg") - kept == len(want) + 2 * len(derived.blanks) + 1 + 2 * outlines
    assert page.attributes.count(("role", "img")) == page.tags.count("svg") - kept
    assert all(v for k, v in page.attributes if k == "aria-label")


@pytest.mark.parametrize("held", [True, False])
def test_a_held_packet_says_so_at_the_top(tmp_path: Path, held: bool) -> None:
    """A stop holds it; so does a proof that failed, and then the report says that this is why."""
    page = report(tmp_path, None, STOP, held=held)[1]
    assert "HELD: nothing of this packet should be cut yet. The floor is <b>1.2</b> thin" in page.text
    assert page.text.index("HELD") < page.text.index("Decisions")
    assert "Ready" not in page.text


def test_a_failed_proof_holds_too(tmp_path: Path) -> None:
    page = report(tmp_path, None, ASK, held=True)[1]
    assert "HELD: nothing of this packet should be cut yet. The files did not pass their proof." in page.text


def test_a_ready_packet_counts_its_questions(tmp_path: Path) -> None:
    page = report(tmp_path, None, ASK)[1]
    assert "HELD" not in page.text
    assert "Ready: the files were read back and agree with the design. 1 question is open below." in page.text
    assert "move the pocket 0.20 toward the centreline" in page.text
    assert "open below" not in report(tmp_path)[1].text


def test_it_asks_for_nothing(tmp_path: Path) -> None:
    """No style sheet, font, picture or address of another file, and no script but its own: it opens without a
    network."""
    text, page = report(tmp_path, None, ASK)
    assert {"link", "img", "iframe", "object", "image", "form"} & set(page.tags) == set()
    assert all(k not in ("src", "xlink:href", "srcset", "action") for k, _ in page.attributes)
    links = [v or "" for k, v in page.attributes if k == "href"]
    ids = [v for k, v in page.attributes if k == "id"]
    assert links
    assert all(v.startswith("#") and v[1:] in ids for v in links)
    assert len(ids) == len(set(ids))
    own = text.replace(script(), "").replace("http-equiv", "")
    for word in ("http", "//", "url(", "@import", "/nowhere", str(tmp_path)):
        assert word not in own
    for word in ("http", "fetch", "import", "eval", "innerHTML"):
        assert word not in script()


def test_numbers_a_maker_asks_first(tmp_path: Path) -> None:
    """Body W is 332 long and 240 wide (its circles: 20 - 120 to 190 + 42, twice 120); the blank 23.55 thick."""
    page = report(tmp_path)[1]
    for words in ("Length332.0 mm", "Width240.0 mm", "Thickness23.55 mm", "Mass1266 g", "Cost45.50", "Sheets1"):
        assert words in page.text
    assert "because the back is done" in page.text


def test_what_has_no_price_costs_a_dash(tmp_path: Path) -> None:
    for nothing in (None, 0.0):
        write_report(
            tmp_path,
            f.derived(),
            (),
            (),
            (),
            {**TOTALS, "cost": nothing, "mass_g": None},
            (),
            held=False,
            proof_line="",
        )
        words = Page((tmp_path / "report.html").read_text(encoding="utf-8")).text
        assert "Cost– no prices given" in words
        assert "Mass– not known" in words
        assert "0.00" not in words[: words.index("Sheets")]


def test_what_changed(tmp_path: Path) -> None:
    """Pieces and files by the revision they are unchanged since; a blank by its own name among them."""
    derived, nests = f.derived(), (f.cover_nest(),)
    files = shop_files(derived, nests)
    _, page = report(tmp_path, derived, files=files, since={"cover": "A", "blank (glued)": "A"})
    words = page.text[page.text.index("Since when") :]
    new, same = words.split("Not changed since revision A: need not be programmed again")
    assert new.startswith("Since whenPiecesFilesNew or changed with revision Bblank-1heron-B_blank-1")
    assert same.startswith("cover, blank (glued)heron-B_")
    assert "heron-B_blank_x1" in same
    assert "heron-B_blank-1" not in same[: same.index("What was") if "What was" in same else None]
    assert "everything counts as new with revision B" in report(tmp_path, derived, files=files)[1].text
    assert "What changed" not in report(tmp_path, derived)[1].text


def test_the_same_bytes_again(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert report(tmp_path / "a", None, ASK, STOP)[0] == report(tmp_path / "b", None, STOP, ASK)[0]


def test_findings_with_pictures_the_worst_five_open(tmp_path: Path) -> None:
    """The same cards as the check page has; the rest is folded, not left away."""
    many = [replace(ASK, message=f"Thin {k}", measured=float(k)) for k in range(7)]
    text, page = report(tmp_path, None, *many)
    plain = report(tmp_path)[1]
    assert page.tags.count("svg") - plain.tags.count("svg") == 7
    section = text[text.index('id="decisions-and-notes"') :]
    assert [f"Thin {k}" in section.split("<details>")[0] for k in range(7)] == [True] * 5 + [False] * 2
    assert "2 more findings" in page.text
