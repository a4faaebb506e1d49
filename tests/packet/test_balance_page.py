"""The balance section: pictures measured, words that anybody may put into a name harmless, tables that can be
read."""

from __future__ import annotations

import html.parser
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.core.balance import Balance, Legs
from pipeline.core.recipe import HardwarePart
from pipeline.geometry.shapes import disc
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.packet.balance_page import STYLE, balance_section
from pipeline.steps.values import Derived
from pipeline.workshop.balance import Balanced, balance_of
from tests.workshop.factory import body_w, of_pieces, piece

HOME = Path(__file__).parents[2]
Spot = tuple[float, float]


@pytest.fixture(scope="module", params=["", "left"])
def heron(request: pytest.FixtureRequest) -> Derived:
    recipe = read_recipe(HOME / "configs/recipes/heron.yaml", variant=request.param)
    return derive(recipe, read_drawing(recipe))


def asked(design: Derived, balance: Balance) -> Derived:
    return replace(design, recipe=replace(design.recipe, balance=balance))


def pictures(section: str) -> list[ET.Element]:
    return [ET.fromstring(m) for m in re.findall(r"<svg.*?</svg>", section, re.S)]


def spots(picture: ET.Element, look: str) -> list[list[Spot]]:
    """The corners of straight paths of a class."""
    found = []
    for e in picture.iter("path"):
        if e.get("class") == look and not e.get("transform"):
            numbers = [float(v) for v in re.findall(r"-?[\d.]+", e.get("d") or "")]
            found.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return found


def balanced(design: Derived) -> Balanced:
    b = balance_of(design)
    assert b is not None
    return b


def test_the_strap_is_drawn_to_scale_and_the_centre_hangs_plumb(heron: Derived) -> None:
    """The strap's two sides keep their ratio and the buttons their distance; shoulder and centre stand on one
    plumb line; the line through the buttons has turned by the tilt that the caption tells."""
    b = balanced(heron)
    assert b.now is not None
    assert b.now.hang is not None
    assert b.best is not None
    assert b.best.after.hang is not None
    _, before, after = pictures(balance_section(heron))
    for picture, state in ((before, b.now), (after, b.best.after)):
        ((front, shoulder, tail),) = spots(picture, "strap")
        a, t = state.front, b.setting.tail
        assert a is not None
        assert t is not None
        assert state.hang is not None
        lengths = [math.dist(state.hang.shoulder or (0, 0), p) for p in (a, t)]
        k = math.dist(front, tail) / math.dist(a, t)
        drawn = [math.dist(shoulder, p) / k for p in (front, tail)]
        assert drawn == pytest.approx(lengths, rel=2e-3)
        assert sum(drawn) == pytest.approx(1100.0, rel=2e-3)
        ((top, bottom),) = spots(picture, "plumb")
        ring = next(e for e in picture.iter("circle") if e.get("class") == "ring")
        assert top[0] == bottom[0] == float(ring.get("cx") or "nan") == shoulder[0]
        way = 1.0 if b.up > 0 else -1.0
        drawn_deg = math.degrees(math.atan2(tail[1] - front[1], way * (front[0] - tail[0])))
        flat = math.degrees(math.atan2(a[1] - t[1], a[0] - t[0]))
        assert drawn_deg - flat == pytest.approx(state.hang.tilt_deg, abs=0.1)
        scale = next(e for e in picture.iter("path") if e.get("class") == "wood").get("transform") or ""
        p, q = (float(v) for v in re.findall(r"-?[\d.]+", scale)[:2])
        assert math.hypot(p, q) == pytest.approx(k, rel=2e-3)


def test_a_left_handed_neck_points_to_the_left(heron: Derived) -> None:
    """Seen from the front: the nut lies right of the centre, for a left-handed player left of it."""
    seated = pictures(balance_section(heron))[0]
    ((_, tip),) = spots(seated, "force")
    ring = next(e for e in seated.iter("circle") if e.get("class") == "ring")
    side = tip[0] - float(ring.get("cx") or "nan")
    assert (side > 0) == (not heron.recipe.mirrored)
    assert abs(side) > 50


def test_every_number_of_a_change_stands_as_a_pair(heron: Derived) -> None:
    """trade.md 10.2: always the before and after pair, never one number; beside it only the change of mass."""
    section = balance_section(heron)
    table = section[section.index("What each change does") :]
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', table)
    b = balanced(heron)
    assert [name for name, _ in rows] == [v.name for v in b.tried]
    assert b.now is not None
    for (_, cells), lever in zip(rows, b.tried, strict=True):
        mass, *pairs = re.findall(r"<td[^>]*>(.*?)</td>", cells)
        change = lever.after.mass_g - b.now.mass_g
        assert mass == ("same" if change == 0 else f"{change:+.0f}".replace("-", "\u2212"))
        assert len(pairs) == 6
        assert all(pair.count(" → ") == 1 for pair in pairs)
        index = pairs[1].split(" → ")
        assert index == [f"{100 * (b.now.index or 0):.1f}", f"{100 * (lever.after.index or 0):.1f}"]


def test_tables_and_pictures_can_be_read_aloud(heron: Derived) -> None:
    section = balance_section(heron)
    for picture in pictures(section):
        assert picture.get("role") == "img"
        assert picture.get("aria-label") == picture.findtext("title")
    tables = re.findall(r"<table>.*?</table>", section)
    assert len(tables) == 3
    for table in tables:
        assert "<th>" not in table
        assert table.count('scope="col"') == table.split("</thead>")[0].count("<th ")
    for region in re.findall(r'<div class="wide"([^>]*)>', section):
        assert 'tabindex="0" role="region" aria-label="' in region


class _Balanced(html.parser.HTMLParser):
    """Fails on a tag that is closed in the wrong order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        return


HOSTILE = '<script>alert(1)</script>"\u2019&'


def test_names_come_out_harmless() -> None:
    parts = {
        HOSTILE: HardwarePart(mass=700.0, at=(600.0, 0.0, 20.0)),
        "b": HardwarePart(mass=90.0, at=(-90.0, 0.0, 9.0)),
    }
    held = Balance(
        seat=(40.0, -110.0), strap=((400.0, 60.0), (-95.0, 5.0)), nut=(700.0, 0.0), pieces={HOSTILE: 0.0}
    )
    section = balance_section(asked(body_w(hardware=parts), held))
    assert "<script" not in section
    assert "&lt;script&gt;" in section
    reader = _Balanced()
    reader.feed(section)
    assert reader.open == []


def test_nothing_that_weighs_nothing_to_tell() -> None:
    assert balance_section(of_pieces(piece("body", disc(0, 0, 50.0), role="template"))) == ""
    unweighed = balance_section(of_pieces(piece("body", disc(0, 0, 50.0))))
    assert unweighed == ""


def test_without_balance_the_masses_and_where_the_centre_lies() -> None:
    section = balance_section(body_w())
    (picture,) = pictures(section)
    assert picture.get("aria-label") == "Seen from the front: where the centre of gravity lies"
    assert "It weighs 1276 g" in section
    assert "On the strap" not in section


def test_a_stool_is_drawn_to_scale() -> None:
    """Feet on their circle, tipping lines R/2 from the middle for three legs (trade.md 10.4), the load at its
    place."""
    parts = [
        piece("seat", disc(0, 0, 160.0), mass_g=1900.0),
        piece("leg", disc(0, 0, 20.0), mass_g=350.0, count=3),
    ]
    legs = Legs(count=3, radius=200.0, seat=160.0)
    section = balance_section(asked(of_pieces(*parts), Balance(legs=legs)))
    (picture,) = pictures(section)
    circles = {e.get("class"): float(e.get("r") or "nan") for e in picture.iter("circle")}
    k = circles["level"] / 200.0
    assert circles["wood"] / k == pytest.approx(160.0, rel=1e-3)
    middle = next((float(e.get("cx") or "nan"), float(e.get("cy") or "nan")) for e in picture.iter("circle"))
    feet = [
        (float(e.get("cx") or "nan"), float(e.get("cy") or "nan"))
        for e in picture.iter("circle")
        if e.get("class") == "button"
    ]
    assert [math.dist(f, middle) / k for f in feet] == pytest.approx([200.0] * 3, rel=1e-3)
    for (x0, y0), (x1, y1) in spots(picture, "edge"):
        half = math.dist(((x0 + x1) / 2, (y0 + y1) / 2), middle)
        assert half / k == pytest.approx(100.0, rel=1e-3)
    assert "it tips" in section


def test_all_classes_are_styled_within_the_section(heron: Derived) -> None:
    """Every class that a picture uses has its look, and every rule stays within the section."""
    used = {c for p in pictures(balance_section(heron)) for e in p.iter() if (c := e.get("class"))}
    for look in used:
        assert f".balance .{look}{{" in STYLE or f"text.{look}{{" in STYLE, look
    assert all(
        rule.strip().startswith(".balance ") for rule in STYLE.replace("}", "}\n").splitlines() if rule.strip()
    )
