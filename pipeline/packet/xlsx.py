"""parts.xlsx: the parts list, its roll-ups and the quote, for a spreadsheet; the same numbers as parts.csv.

Nothing in it is a formula or a link: words are written as words, numbers as numbers.
"""

from __future__ import annotations

import datetime
import io
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pipeline.core.recipe import Recipe
from pipeline.packet.names import packet_name
from pipeline.workshop.quote import KINDS, Quote

CREATED = datetime.datetime(2000, 1, 1)
"""Stands in the file in place of a clock."""
HEADS: Mapping[str, str] = {
    "item": "Item", "level": "Level", "part": "Part", "what": "What", "drawn_from": "Drawn from (step)",
    "since": "Since revision", "sheet": "Sheet", "letter": "Letter", "thickness_mm": "Thickness mm",
    "grain": "Grain along", "each": "For one object", "count": "Count", "unit": "Unit",
    "length_mm": "Design length mm", "width_mm": "Design width mm", "cut_length_mm": "Cut length mm",
    "cut_width_mm": "Cut width mm", "area_mm2": "Net area mm²", "mass_g": "Mass of one g",
    "make_or_buy": "Make or buy", "shop": "Shop", "set_ups": "Set-ups", "tool_changes": "Tool changes",
    "minutes": "Machine minutes", "price": "Unit price", "cost": "Cost", "fits": "Fits", "note": "Note",
    "all_mass_g": "Mass g",
    "material": "Material", "words": "In words", "pieces": "Pieces", "sheets": "Sheets", "net_m2": "Net m²",
    "bought_m2": "Bought m²", "yield_percent": "Yield %", "process": "Process", "clampings": "Clampings",
    "cutting_min": "Cutting min", "machine_min": "Machine min", "work": "Work", "tool": "Tool",
    "cut_m": "Cut m", "between_m": "From cut to cut m", "pierces": "Pierces", "assembly": "Assembly",
}  # fmt: skip
"""Headings of columns, with their units."""
KIND_HEADS: Mapping[str, str] = {
    "once": "Once for the order",
    "sheet": "Sheets",
    "scrap": "Scrap",
    "machine": "Machine time",
    "bought": "Bought parts",
    "supply": "Used up",
    "hand": "By hand",
}
"""What the kinds of a quote's lines are called."""
MONEY = ("price", "cost")
"""Columns of money."""
WIDEST = 60
MOST_WORDS = 32_000
"""A cell of a spreadsheet holds 32,767 characters."""


def money_head(word: str, currency: str) -> str:
    """A heading with the money it is in."""
    return f"{word} {currency}" if currency else word


def parts_xlsx(
    recipe: Recipe,
    rows: Sequence[Mapping[str, Any]],
    rollups: Mapping[str, Sequence[Mapping[str, Any]]],
    bill: Quote,
) -> bytes:
    """The workbook's bytes. ``rollups`` maps a title to its rows; equal inputs give equal bytes."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    title = plain(f"{recipe.title}, revision {recipe.revision}")
    book.set_properties({"created": CREATED, "title": title, "subject": packet_name(recipe)})
    pages = _Pages(book, bill.currency)
    pages.table("Parts", list(rows))
    pages.begin("Roll-ups")
    for name, found in rollups.items():
        pages.block(name, found)
    pages.begin("Quote")
    _quote(pages, recipe, bill)
    book.close()
    return out.getvalue()


def _quote(pages: _Pages, recipe: Recipe, bill: Quote) -> None:
    pages.block(
        f"The order of {recipe.make}",
        [
            {
                "part": line.name,
                "what": KIND_HEADS[line.kind],
                "count": line.amount,
                "unit": line.unit,
                "price": line.price,
                "cost": line.cost,
                "drawn_from": " ".join(line.steps) or None,
                "note": line.note or None,
            }
            for line in bill.lines
        ],
    )
    tax = recipe.quote.tax
    pages.words("Total without tax" if tax is not None else "Total, no tax added", bill.total)
    if tax is not None:
        pages.words(f"Tax of {tax:g} %", bill.tax)
        pages.words("Total with tax", bill.with_tax)
    if bill.unpriced:
        pages.words(f"Not in it, because no price is given: {', '.join(bill.unpriced)}.")
    pages.gap()
    sheets = list(dict.fromkeys(name for b in bill.breaks for name in b.sheets))
    pages.block(
        "Other quantities",
        [
            {
                "Objects": b.objects,
                **{f"Sheets of {name}": b.sheets.get(name) for name in sheets},
                **{money_head(KIND_HEADS[k], bill.currency): b.costs[k] for k in KINDS},
                money_head("Total", bill.currency): b.total,
                money_head("One object", bill.currency): b.unit,
                **({money_head("One with tax", bill.currency): b.with_tax} if tax is not None else {}),
            }
            for b in bill.breaks
        ],
        money=[
            money_head(w, bill.currency) for w in (*KIND_HEADS.values(), "Total", "One object", "One with tax")
        ],
    )
    for sentence in bill.assumed:
        pages.words(sentence)


class _Pages:
    """Writes tables one below the other, and keeps the widths that the columns need."""

    def __init__(self, book: Any, currency: str) -> None:
        self.book, self.currency = book, currency
        self.bold = book.add_format({"bold": True})
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.money = book.add_format({"num_format": "#,##0.00", "valign": "top"})
        self.number = book.add_format({"num_format": "General", "valign": "top"})
        self.top = book.add_format({"valign": "top"})
        self.page: Any = None
        self.row = 0
        self.widths: dict[int, int] = {}

    def begin(self, name: str) -> None:
        self.page, self.row, self.widths = self.book.add_worksheet(name), 0, {}
        self.page.set_landscape()
        self.page.set_paper(9)  # A4
        self.page.fit_to_pages(1, 0)

    def table(self, name: str, rows: Sequence[Mapping[str, Any]]) -> None:
        """A sheet of its own: the heading stays in sight and on every printed page."""
        self.begin(name)
        columns = self._rows(rows)
        self.page.freeze_panes(1, 3)
        self.page.repeat_rows(0)
        if rows:
            self.page.autofilter(0, 0, len(rows), len(columns) - 1)

    def block(self, title: str, rows: Sequence[Mapping[str, Any]], money: Sequence[str] = MONEY) -> None:
        """A titled table below what is there; ``money`` names its columns of money."""
        if not rows:
            return
        if not self.row:
            self.page.freeze_panes(2, 0)
        self.page.write_string(self.row, 0, plain(title), self.bold)
        self.row += 1
        self._rows(rows, money)
        self.gap()

    def words(self, text: str, number: float | None = None) -> None:
        self.page.write_string(self.row, 0, plain(text))
        if number is not None:
            self.page.write_number(self.row, 5, number, self.money)
        self.row += 1

    def gap(self) -> None:
        self.row += 1

    def _rows(self, rows: Iterable[Mapping[str, Any]], money: Sequence[str] = MONEY) -> list[str]:
        listed = list(rows)
        columns = list(dict.fromkeys(key for row in listed for key in row))
        for k, key in enumerate(columns):
            head = money_head(HEADS[key], self.currency) if key in MONEY else HEADS.get(key, key)
            self.page.write_string(self.row, k, plain(head), self.head)
            self._widen(k, max((len(w) for w in head.split()), default=1))
        self.row += 1
        for row in listed:
            for k, key in enumerate(columns):
                self._cell(k, row.get(key), money=key in money)
            self.row += 1
        return columns

    def _cell(self, column: int, value: Any, *, money: bool) -> None:
        if value is None:
            return
        if isinstance(value, int | float) and not isinstance(value, bool):
            number = round(float(value), 6) + 0.0
            self.page.write_number(self.row, column, number, self.money if money else self.number)
            self._widen(column, len(f"{number:g}") + 2)
        else:
            text = plain(str(value))
            self.page.write_string(self.row, column, text, self.top)
            self._widen(column, len(text))

    def _widen(self, column: int, width: int) -> None:
        wide = min(max(self.widths.get(column, 6), width + 1), WIDEST)
        if wide != self.widths.get(column):
            self.widths[column] = wide
            self.page.set_column(column, column, wide)


def plain(text: str) -> str:
    """Words as a cell holds them: signs that a file of this kind can't hold become spaces."""
    kept = "".join(" " if unicodedata.category(c) in ("Cc", "Cs") or c in "\ufffe\uffff" else c for c in text)
    return kept[:MOST_WORDS]
