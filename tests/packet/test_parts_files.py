"""parts.csv, parts.xlsx, report.html and packet.json hold the same numbers; a price changes nothing else."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import pytest

from pipeline.packet.xlsx import CREATED, HEADS, parts_xlsx, plain
from pipeline.path import build
from pipeline.workshop.nest import nests
from pipeline.workshop.parts import COLUMNS, part_rows
from pipeline.workshop.quote import quote
from pipeline.workshop.rollups import rollups
from tests.packet.sheets_read import Cell, sheets, table
from tests.workshop.factory import body_w

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">
<rect id="plate" x="20" y="20" width="240" height="150" fill="#ccc"/>
<circle id="hole" cx="60" cy="60" r="6"/></svg>"""
RECIPE = """design: tray
title: Tray
revision: B
make: 3
drawing: tray.svg
shops: {router: {name: router, rates: {hour: %(hour)s, programming: 12, first: 5, pass_depth: 4}}}
sheets:
  ply: {measured: {A: 9.1}, size: [600, 300], density: 680, price: %(price)s, material: birch ply}
  mdf: {measured: {A: 9.0}, size: [600, 300], density: 740}
hardware:
  foot: {count: 4, mass: 3.5, price: 0.65, measured: true, at: [20, 20, 0]}
  hook: {count: 1, mass: 12}
steps:
  plate: {kind: outline, drawn: plate, sheet: ply, cut: [hole, dish]}
  hole: {kind: cavity, drawn: hole, face: front, through: true}
  dish: {kind: cavity, opening: {rectangle: [90, 60], corner: 8}, centre: [150, 100], face: front, depth: 4}
  guide: {kind: template, of: dish, use: opening, follow: {bush: 17, cutter: 8}, sheet: mdf}
quote: {currency: EUR, tax: 20, priced: 1 March 2027, breaks: [1, 3, 30], supplies: {cutter: {price: %(cutter)s}}}
"""


def project(folder: Path, *, price: float = 11.5, hour: float = 54.0, cutter: float = 19.0) -> Path:
    folder.mkdir(parents=True)
    (folder / "configs").mkdir()
    (folder / "tray.svg").write_text(DRAWING, encoding="utf-8")
    recipe = folder / "tray.yaml"
    recipe.write_text(RECIPE % {"price": price, "hour": hour, "cutter": cutter}, encoding="utf-8")
    return recipe


@pytest.fixture(scope="module")
def packet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tray")
    answer = build([project(folder / "p")], out=folder / "out")
    assert answer.exit_code == 0, answer.said
    return folder / "out" / "tray"


def csv_rows(packet: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((packet / "parts.csv").read_text(encoding="utf-8"))))


def as_cell(text: str) -> Cell:
    try:
        return float(text)
    except ValueError:
        return text or None


class Tables(HTMLParser):
    """The tables of a page by their caption: rows of cells."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, list[list[str]]] = {}
        self.rows: list[list[str]] = []
        self.inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("caption", "th", "td", "small"):
            self.inside.append(tag)
        if tag == "table":
            self.rows = []
        elif tag == "tr":
            self.rows.append([])
        elif tag in ("th", "td"):
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        if self.inside and self.inside[-1] == "caption":
            self.found[data] = self.rows
        elif self.inside and self.inside[-1] in ("th", "td"):
            self.rows[-1][-1] += data


def page_tables(packet: Path) -> dict[str, list[list[str]]]:
    reader = Tables()
    reader.feed((packet / "report.html").read_text(encoding="utf-8"))
    return reader.found


def test_csv_and_workbook_hold_the_same_cells(packet: Path) -> None:
    listed = csv_rows(packet)
    assert tuple(listed[0]) == COLUMNS
    book = sheets(packet / "parts.xlsx")
    assert list(book) == ["Parts", "Roll-ups", "Quote"]
    rows = table(book["Parts"])
    assert len(rows) == len(listed) > 10
    heads = {k: f"{HEADS[k]} EUR" if k in ("price", "cost") else HEADS[k] for k in COLUMNS}
    for mine, theirs in zip(listed, rows, strict=True):
        assert {heads[k]: as_cell(v) for k, v in mine.items()} == theirs


def test_the_costs_add_up_to_the_total_everywhere(packet: Path) -> None:
    total = json.loads((packet / "packet.json").read_text(encoding="utf-8"))["totals"]["cost"]
    assert total > 0
    costs = [float(r["cost"]) for r in csv_rows(packet) if r["cost"]]
    assert sum(costs) == pytest.approx(total, abs=1e-9)
    page = sheets(packet / "parts.xlsx")["Quote"]
    lines = table(page, 1)
    assert sum(float(r["Cost EUR"] or 0) for r in lines if r["Drawn from (step)"] or r["What"]) == pytest.approx(
        total, abs=1e-9
    )
    said = {str(row[0]): row[5] for row in page if len(row) > 5 and str(row[0]).startswith(("Total", "Tax"))}
    assert said["Total without tax"] == total
    assert said["Total with tax"] == pytest.approx(total * 1.2, abs=0.005)
    tables = page_tables(packet)
    shown = {row[0]: row[3] for row in tables["The order of 3 objects"][1:]}
    assert shown["Total without tax"] == f"{total:.2f}"
    assert f"<strong>{total:.2f} EUR</strong>" in (packet / "report.html").read_text(encoding="utf-8")


def test_the_report_shows_the_same_lines(packet: Path) -> None:
    """Every line with its price and cost; and a dash, never 0.00, where there is no price."""
    shown = {row[0]: row[2:4] for row in page_tables(packet)["The order of 3 objects"][1:]}
    for row in csv_rows(packet):
        if row["what"] in ("blank", "template", "panel"):
            continue
        price, cost = row["price"], row["cost"]
        expected = [f"{float(price):.2f}", f"{float(cost):.2f}"] if price else ["–", "–"]
        if not (row["what"] == "scrap" and not price):
            assert shown[row["part"]] == expected, row
    assert shown["hook"] == ["–", "–"]
    hook = next(r for r in csv_rows(packet) if r["part"] == "hook")
    assert (hook["price"], hook["cost"], hook["note"]) == ("", "", "no price given")


def test_the_report_shows_the_same_sizes_and_minutes(packet: Path) -> None:
    made = {row[0]: row for row in page_tables(packet)["What is made"][1:]}
    listed = {r["part"]: r for r in csv_rows(packet)}
    assert set(made) == {"plate", "guide"}
    for name, row in made.items():
        mine = listed[name]
        assert row[1] == f"{float(mine['length_mm']):.1f} × {float(mine['width_mm']):.1f}"
        assert row[2] == f"{float(mine['cut_length_mm']):.1f} × {float(mine['cut_width_mm']):.1f}"
        assert row[5:8] == [mine["count"], f"{float(mine['mass_g']):.0f}", f"{float(mine['minutes']):.1f}"]
    assert listed["plate"]["count"] == "3"
    assert listed["guide"]["count"] == "1"


def test_minutes_are_those_of_packet_json(packet: Path) -> None:
    found = json.loads((packet / "packet.json").read_text(encoding="utf-8"))["totals"]["machine_minutes"]
    page = sheets(packet / "parts.xlsx")["Roll-ups"]
    start = next(k for k, row in enumerate(page) if row and row[0] == "By shop")
    rows = table(page, start + 1)
    assert sum(float(r["Machine min"] or 0) for r in rows) == pytest.approx(found, abs=1e-5)
    shown = page_tables(packet)["By shop"]
    at = shown[0].index("In all min")
    assert [r[at] for r in shown[1:]] == [f"{float(r['Machine min'] or 0):.1f}" for r in rows]


def test_breaks_are_the_same_in_workbook_and_report(packet: Path) -> None:
    page = sheets(packet / "parts.xlsx")["Quote"]
    start = next(k for k, row in enumerate(page) if row and row[0] == "Other quantities")
    rows = table(page, start + 1)
    assert [r["Objects"] for r in rows] == [1, 3, 30]
    shown = page_tables(packet)["Other quantities"]
    assert [r[:4] for r in shown[1:]] == [
        [
            f"{float(r['Objects'] or 0):.0f}",
            *(f"{float(r[k] or 0):.2f}" for k in ("One object EUR", "One with tax EUR", "Total EUR")),
        ]
        for r in rows
    ]


def test_the_workbook_is_the_same_every_time_and_bears_no_clock() -> None:
    design = body_w()
    found, _ = nests(design)
    bill = quote(design, found)
    given = (design.recipe, part_rows(design, found, bill), rollups(design, found, bill), bill)
    data = parts_xlsx(*given)
    assert data == parts_xlsx(*given)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {i.date_time[:3] for i in archive.infolist()} == {(1980, 1, 1)}
        core = archive.read("docProps/core.xml").decode()
    assert core.count(CREATED.isoformat()) == 2
    assert "<dc:creator></dc:creator>" in core


def test_words_a_workbook_can_t_hold_become_spaces() -> None:
    assert plain("a\x00b\x1fc\ud800d\uffffe") == "a b c d e"
    assert len(plain("x" * 40_000)) == 32_000


# -- a changed price is not a changed design ---------------------------------------------------------
def test_a_changed_price_stales_nothing_but_lists_and_report(tmp_path: Path) -> None:
    """Same keys, same shop files, same prints, byte for byte; the lists, report and record differ."""
    outs = []
    for name, more in (("a", {}), ("b", {"price": 19.75, "hour": 71.0, "cutter": 3.0})):
        answer = build([project(tmp_path / name / "p", **more)], out=tmp_path / name / "out")
        assert answer.exit_code == 0, answer.said
        outs.append(tmp_path / name / "out" / "tray")
    one, two = (json.loads((o / "packet.json").read_text(encoding="utf-8")) for o in outs)
    assert [s["key"] for s in one["steps"]] == [s["key"] for s in two["steps"]]
    assert one["totals"]["cost"] < two["totals"]["cost"]
    differ = {
        f["path"]
        for f, g in zip(one["files"], two["files"], strict=True)
        if (f["path"], f["sha256"]) != (g["path"], g["sha256"])
    }
    assert differ == {"parts.csv", "parts.xlsx", "report.html"}
