"""The report in a real browser, opened from a file: at the widths of a phone and a desk, by keyboard, on paper.

The rules of accessibility are those of axe (https://github.com/dequelabs/axe-core): a newer one where node has it,
else the one that the dev extra brings.
"""

from __future__ import annotations

import importlib.util
import os
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest

from pipeline import build, check
from tests.browser import Browser, chromium
from tests.readback import CASES, project

FOUND = chromium()
pytestmark = pytest.mark.skipif(
    FOUND is None,
    reason="no Chromium on this machine (Debian: apt-get install chromium); the report was not opened",
)
PHONE, DESK = 390, 1280
DEMOS = CASES.parents[1] / "configs" / "recipes"
REPORTS = ("heron", "held", "sandpiper")
"""With a stack, cavities, balance and prices; held back by a stop; of panels alone, without a stack."""

PICTURES = """[...document.querySelectorAll('svg[role=img]')].map(s => {
  const b = s.getBoundingClientRect(), o = s.closest('details:not([open])');
  return [s.getAttribute('aria-label') || s.querySelector('title')?.textContent || '', !!o, b.width, b.height,
    [...s.querySelectorAll('use')].every(u => document.querySelector(u.getAttribute('href')))];
})"""
HEADINGS = "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => [+h.tagName[1], h.textContent])"
AXE = """axe.run(document, {resultTypes: ['violations']}).then(r => r.violations.map(
  v => [v.impact, v.id, v.nodes.map(n => n.html.slice(0, 160))]))"""


def axe_script() -> str:
    """The text of axe. Fails where the dev extra isn't installed."""
    node = Path(os.environ.get("NODE_PATH", "-")) / "axe-core" / "axe.min.js"
    if node.is_file():
        return node.read_text(encoding="utf-8")
    spec = importlib.util.find_spec("axe_core_python")
    assert spec is not None, "axe-core-python is missing: pip install -e '.[dev]'"
    assert spec.origin is not None
    return (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The reports by name, and the page of findings of the one that is held."""
    home = tmp_path_factory.mktemp("reports")
    recipes = project(home, "held")
    answer = build([DEMOS / "heron.yaml", DEMOS / "sandpiper.yaml", recipes / "held.yaml"], out=home / "out")
    found = {}
    for row in answer.data["designs"]:
        packet = Path(row["packets"][0]["folder"])
        found[packet.name.removesuffix(".held")] = packet / "report.html"
    found["check"] = Path(check([recipes / "held.yaml"], out=home / "out").data["designs"][0]["page"])
    return found


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    assert FOUND is not None
    with Browser(FOUND) as opened:
        yield opened


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("name", [*REPORTS, "check"])
def test_it_opens_from_a_file(browser: Browser, pages: dict[str, Path], name: str, width: int) -> None:
    """Nothing on the console, nothing asked for, every picture there, nothing wider than the window, and nothing
    serious or critical for axe."""
    opened = browser.open(pages[name], width)
    assert opened.errors == []
    assert opened.requests == []
    pictures = browser.value(PICTURES)
    assert len(pictures) >= (1 if name == "check" else 3)
    for says, folded, wide, high, whole in pictures:
        assert says
        assert whole, f"{says}: a curve it draws is not on the page"
        assert folded or (wide > 60 and high > 20), f"{says}: {wide} × {high}"
        assert wide <= width
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value("document.body.scrollWidth") <= width
    browser.value(axe_script() + ";1")
    serious = [v for v in browser.value(AXE) if v[0] in ("serious", "critical")]
    assert serious == []


def test_axe_would_find_something(browser: Browser, pages: dict[str, Path]) -> None:
    """The check above can fail: a picture without a name and a grey word are told."""
    browser.open(pages["sandpiper"], DESK)
    browser.value(axe_script() + ";1")
    browser.value("document.querySelector('svg[role=img]').removeAttribute('aria-label')")
    browser.value("document.querySelector('header p').style.color = '#bbb'")
    found = {v[1] for v in browser.value(AXE) if v[0] in ("serious", "critical")}
    assert {"svg-img-alt", "color-contrast"} <= found


@pytest.mark.parametrize("name", REPORTS)
def test_read_in_order(browser: Browser, pages: dict[str, Path], name: str) -> None:
    """One h1, no level skipped; every entry of the contents leads to a heading, in the order of the page; the skip
    link comes first; ids are there once."""
    browser.open(pages[name], DESK)
    headings = browser.value(HEADINGS)
    assert [level for level, _ in headings].count(1) == 1
    assert headings[0][0] == 1
    for (before, _), (level, words) in pairwise(headings):
        assert level <= before + 1, words
        assert words.strip()
    entries = browser.value("[...document.querySelectorAll('nav a')].map(a => [a.hash.slice(1), a.textContent])")
    seconds = [words for level, words in headings if level == 2]
    assert [words for _, words in entries] == seconds
    assert all(browser.value(f"document.getElementById('{slug}')?.tagName") == "H2" for slug, _ in entries)
    assert browser.value("document.documentElement.lang") == "en"
    browser.press("Tab")
    assert browser.value("document.activeElement.className") == "skip"
    browser.press("Enter")
    assert browser.value("document.activeElement.id") == "main"
    ids = browser.value("[...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids))


def test_the_sentence_and_six_figures_come_first(browser: Browser, pages: dict[str, Path]) -> None:
    """On a phone's first screen, before anything is scrolled."""
    for name, begins in (("sandpiper", "Ready: "), ("held", "HELD: ")):
        browser.open(pages[name], PHONE, 844)
        said, bottom = browser.value(
            "(p => [p.textContent, p.getBoundingClientRect().bottom])(document.querySelector('.state'))"
        )
        assert said.startswith(begins)
        assert bottom < 844
        figures = browser.value("[...document.querySelectorAll('dl.six dt')].map(e => e.textContent)")
        assert figures == ["Length", "Width", "Thickness", "Mass", "Cost", "Sheets"]
        assert browser.value("document.querySelector('dl.six').getBoundingClientRect().bottom") < 844


def test_pictures_enlarge_by_keyboard(browser: Browser, pages: dict[str, Path]) -> None:
    browser.open(pages["heron"], DESK)
    browser.value("document.querySelector('.zoom').focus()")
    before = browser.value("document.querySelector('.seen svg').getBoundingClientRect().width")
    browser.press("Enter")
    assert browser.value("document.querySelector('dialog').open") is True
    assert browser.value("document.querySelector('dialog svg').getBoundingClientRect().width") > before
    assert browser.value("document.querySelectorAll('dialog [id]').length") == 0
    browser.press("Escape")
    assert browser.value("document.querySelector('dialog').open") is False
    assert browser.value("document.activeElement.className") == "zoom"


def test_findings_of_one_kind(browser: Browser, pages: dict[str, Path]) -> None:
    """Buttons for the kinds that are there; they say which is pressed, and hide the others' cards alone."""
    shown = (
        "[...document.querySelectorAll('#decisions-and-notes ~ * .card, #decisions-and-notes ~ .card')]"
        ".filter(c => c.checkVisibility()).map(c => c.querySelector('.sev').textContent)"
    )
    for name in REPORTS:
        browser.open(pages[name], DESK)
        kinds = browser.value("[...document.querySelectorAll('.tools button')].map(b => b.textContent)")
        if not kinds:
            continue
        for kind in kinds[1:]:
            browser.value(
                f"[...document.querySelectorAll('.tools button')].find(b => b.textContent === '{kind}').click()"
            )
            assert set(browser.value(shown)) == {kind}
            pressed = browser.value("document.querySelector('.tools [aria-pressed=true]').textContent")
            assert pressed == kind
        return
    pytest.fail("no report has findings of two kinds")


def test_it_needs_no_script(browser: Browser, pages: dict[str, Path]) -> None:
    """With scripts off the same words and pictures are there."""
    words = "document.querySelector('main').innerText"
    browser.open(pages["heron"], DESK, scripts=False)
    off, pictures = browser.value(words), browser.value(PICTURES)
    assert browser.value("document.querySelector('dialog')") is None
    browser.open(pages["heron"], DESK)
    on = browser.value(words)
    assert browser.value("document.querySelector('dialog') !== null") is True
    buttons = {*browser.value("[...document.querySelectorAll('button')].map(b => b.textContent)")}

    def plain(text: str) -> list[str]:
        return [line for line in text.split("\n") if line.strip() and line.strip() not in buttons]

    assert plain(off) == plain(on)
    assert all(folded or (w > 60 and h > 20) for _, folded, w, h, _ in pictures)


def test_nothing_runs_but_the_pages_own_script(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    """The page's policy stops a script that got in, were there ever one."""
    text = pages["sandpiper"].read_text(encoding="utf-8")
    bad = tmp_path / "bad.html"
    bad.write_text(
        text.replace("</main>", "<script>window.got = 1</script><img src=x onerror='window.got = 1'></main>"),
        encoding="utf-8",
    )
    opened = browser.open(bad, DESK)
    assert browser.value("window.got") is None
    assert any("Content Security Policy" in e for e in opened.errors)


@pytest.mark.parametrize(("paper", "size"), [("A4", (8.27, 11.69)), ("Letter", (8.5, 11.0))])
def test_on_paper(
    browser: Browser, pages: dict[str, Path], tmp_path: Path, paper: str, size: tuple[float, float]
) -> None:
    """Sheets of that paper, none empty; the order of work begins on a sheet of its own; what is folded is printed,
    links and buttons are not; nothing runs off the right edge."""
    browser.open(pages["heron"], DESK)
    path = tmp_path / f"{paper}.pdf"
    browser.pdf(path, width_in=size[0], height_in=size[1])
    document = pypdfium2.PdfDocument(path)
    texts: list[str] = []
    for page in document:
        wide, high = page.get_size()
        assert (round(wide / 72, 1), round(high / 72, 1)) == (round(size[0], 1), round(size[1], 1))
        text_page = page.get_textpage()
        texts.append(text_page.get_text_range())
        boxes = [text_page.get_charbox(i) for i in range(text_page.count_chars())]
        assert boxes
        assert max(b[2] for b in boxes) < wide - 20
    whole = "\n".join(texts)
    begins = [re.sub(r"^\d+ of \d+\s+", "", t.strip()) for t in texts]  # pages are numbered
    assert sum(t.startswith("Order of work") for t in begins) == 1
    assert "To the findings and pictures" not in whole
    assert "Parts and price" in whole
    document.close()
