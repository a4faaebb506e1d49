"""Golden comparisons, found by listing: body W before and after an edit, in text and as JSON; their pages.

A folder of ``cases`` holds ``edit.yaml`` (what is edited: `outline` takes the hull's numbers, `replace` pairs
of texts, `before` pairs that hold in both), ``made.yaml`` (what was cut), and the golden ``compare.txt`` and
``compare.json``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
import yaml

from pipeline.compare.comparison import Comparison, comparison
from pipeline.compare.page import page
from pipeline.compare.recut import verdicts
from pipeline.compare.words import rows_of, text_of
from pipeline.intake.made import Made, made_of_text
from tests.compare import factory as f

CASES = Path(__file__).parent / "cases"
NAMES = sorted(p.name for p in CASES.iterdir() if p.is_dir())


def pairs(words: list[str]) -> list[tuple[str, str]]:
    return list(zip(words[::2], words[1::2], strict=True))


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Comparison]:
    done: dict[str, Comparison] = {}

    def made(case: str) -> Comparison:
        if case not in done:
            home = tmp_path_factory.mktemp(case)
            edit = yaml.safe_load((CASES / case / "edit.yaml").read_text(encoding="utf-8"))
            both = pairs(edit.get("before", []))
            old = f.packet(f.body_w(home / "a", both), home / "body-w-A")
            path = f.body_w(
                home / "b",
                [*both, *pairs(edit.get("replace", []))],
                outline=f.hull(**edit["outline"]) if "outline" in edit else "",
                revision=edit.get("revision", "A"),
            )
            register = made_of_text((CASES / case / "made.yaml").read_bytes(), "made.yaml")
            new = f.now(path, Made())
            found = verdicts(new, register, lambda r: old)
            done[case] = comparison(old, new, verdicts=found)
        return done[case]

    return made


@pytest.mark.parametrize("case", NAMES)
def test_text_and_json(
    case: str, compared: Callable[[str], Comparison], golden: Callable[[Path, str], None]
) -> None:
    found = compared(case)
    golden(CASES / case / "compare.txt", text_of(found) + "\n")
    golden(CASES / case / "compare.json", json.dumps(rows_of(found), indent=1, ensure_ascii=False) + "\n")


class _Page(HTMLParser):
    """What a page loads or runs, its ids and what refers to them, figures and header cells."""

    def __init__(self) -> None:
        super().__init__()
        self.strange: list[str] = []
        self.ids: list[str] = []
        self.used: list[str] = []
        self.figures: list[dict[str, str | None]] = []
        self.headers: list[dict[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.strange += [tag] if tag in ("script", "link", "img", "iframe", "object", "use", "image") else []
        self.strange += [k for k, v in attrs if k in ("src", "href", "xlink:href") or k.startswith("on")]
        self.ids += [str(found["id"])] if "id" in found else []
        self.used += re.findall(r"url\(#([^)]+)\)", str(found.get("fill", "")))
        if tag == "svg":
            self.figures.append(found)
        if tag == "th":
            self.headers.append(found)


@pytest.mark.parametrize("case", NAMES)
def test_the_page_stands_alone(case: str, compared: Callable[[str], Comparison]) -> None:
    """Nothing is loaded, nothing runs, every pattern is there once; figures and headers say what they are;
    added and removed wood have two patterns of their own, old lines are dashed."""
    found = compared(case)
    html = page(found)
    seen = _Page()
    seen.feed(html)
    assert seen.strange == []
    assert len(seen.ids) == len(set(seen.ids))
    assert set(seen.used) <= set(seen.ids)
    assert all(v.get("role") == "img" and v.get("aria-label") for v in seen.figures)
    assert all(v.get("scope") in ("col", "row") for v in seen.headers)
    assert ".cmp .old{" in html
    assert "stroke-dasharray" in html
    changed = [t for t in found.things if t.state != "same"]
    assert html.count('class="piece"') == len(changed)
    for t in changed:
        if t.worst is not None:
            assert f"{t.thing.said}: {t.worst.what} at its worst place" in html.replace("&#x27;", "'")
    patterns = {i.rpartition("-")[2] for i in seen.ids}
    assert patterns <= {"comes", "goes"}
    assert patterns == {"comes", "goes"} or not changed


def test_the_arrow_is_as_long_as_the_move(compared: Callable[[str], Comparison]) -> None:
    """At the tip, from (232, 0) to (234, 0), in the picture's millimetres; the number stands beside it."""
    html = page(compared("tip-out"))
    at = html.index("blank-1: the outside at its worst place, 2.000 mm")
    arrow = re.search(r'class="arrow" d="M([\d.]+) (-?[\d.]+)L', html[at:])
    tip = re.search(r'class="tip" points="([\d.]+),(-?[\d.]+) ', html[at:])
    assert arrow is not None
    assert tip is not None
    assert [float(arrow[1]), float(arrow[2])] == pytest.approx([232.0, 0.0], abs=2e-3)
    assert [float(tip[1]), float(tip[2])] == pytest.approx([234.0, 0.0], abs=2e-3)
    assert ">2.000 mm</text>" in html[at:]


def test_hostile_names_stay_text(compared: Callable[[str], Comparison]) -> None:
    """What a register says stands in the page as words."""
    from dataclasses import replace

    found = compared("tip-out")
    evil = "<script>alert(1)</script>"
    bad = replace(
        found, verdicts=tuple(replace(v, because=evil, remarks=(evil,), piece=evil) for v in found.verdicts)
    )
    assert "<script" not in page(bad)
