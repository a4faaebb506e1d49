"""The report's section on parts and price: the list, its sums, the quote with what it assumes.

On a narrow screen each row of a list becomes a small card, so that nothing has to be pushed sideways.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from pipeline.packet.xlsx import KIND_HEADS, money_head
from pipeline.steps.values import Derived, Nest
from pipeline.workshop.parts import UNPRICED, part_rows
from pipeline.workshop.quote import KINDS, Quote, quote
from pipeline.workshop.rollups import LAYERS, Rows, rollups

STYLE = """
.parts-sum{font-size:1.05rem}
table.parts caption{text-align:left;font-weight:600;padding:.4rem 0}
table.parts small{color:#4a4a4a;display:block;font-weight:400}
table.parts tr.sum>*{border-top:2px solid #1b1b1b;font-weight:600}
table.parts tr.in th{padding-left:1.6rem}
table.parts th[scope=row]{font-weight:600;min-width:11rem}
.parts-said{font-size:.92rem;color:#333}
@media screen and (max-width:42rem){
table.parts,table.parts tbody,table.parts caption{display:block}
table.parts thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
table.parts tr{display:grid;grid-template-columns:1fr 1fr;gap:.1rem 1rem;padding:.5rem .2rem}
table.parts tr{border-bottom:1px solid #b9b1a0}
table.parts th[scope=row],table.parts td.words{grid-column:1/-1}
table.parts th[scope=row],table.parts td{display:block;border:0;padding:.05rem .4rem;text-align:left}
table.parts td.n{white-space:normal}
table.parts td::before{content:attr(data-head);color:#4a4a4a;font-size:.8rem;display:block}
table.parts td:empty{display:none}
table.parts tr.in{padding-left:1rem}table.parts tr.in th{padding-left:.4rem}
}
"""
NOTHING = "–"
"""What stands where there is no number."""

Cell = tuple[str, str]
"""(HTML, class)."""


def parts_section(
    derived: Derived, nests: Sequence[Nest], bill: Quote | None = None, since: Mapping[str, str] | None = None
) -> str:
    """The inside of the section as HTML. ``bill`` is the order's quote where it has been made already."""
    bill = bill or quote(derived, nests)
    rows, sums = part_rows(derived, nests, bill, since), rollups(derived, nests, bill)
    return "".join(
        (
            _opening(derived, bill),
            _made([r for r in rows if r["make_or_buy"] == "make" and r["area_mm2"] is not None]),
            _bought([r for r in rows if str(r["what"]).startswith("bought")], bill.currency),
            "<h3>Added up</h3>",
            *(_rollup(name, found, bill.currency) for name, found in sums.items() if name != LAYERS),
            f"<details><summary>{LAYERS}: lengths, pierces, minutes</summary>"
            f"{_rollup(LAYERS, sums[LAYERS], bill.currency)}</details>"
            if sums[LAYERS]
            else "",
            "<h3>What it costs</h3>",
            _lines(derived, bill),
            _breaks(derived, bill),
            "<h3>What the price stands on</h3>",
            '<ul class="parts-said">' + "".join(f"<li>{escape(s)}</li>" for s in bill.assumed) + "</ul>",
            "<p>parts.csv and parts.xlsx beside this page hold the same numbers.</p>",
        )
    )


def _opening(derived: Derived, bill: Quote) -> str:
    """What the order comes to, and what is not in it."""
    make, currency = derived.recipe.make, f" {bill.currency}" if bill.currency else ""
    objects = "one object" if make == 1 else f"{make} objects"
    if bill.total is None:
        return f'<p class="parts-sum">No price is given for anything, so {objects} can\'t be priced yet.</p>'
    tax = (
        f", {bill.with_tax:.2f}{currency} with {derived.recipe.quote.tax:g} % tax"
        if bill.with_tax is not None
        else ", no tax added"
    )
    lacks = f" Not in it, because no price is given: {', '.join(bill.unpriced)}." if bill.unpriced else ""
    return (
        f'<p class="parts-sum"><strong>{bill.total:.2f}{escape(currency)}</strong> for {objects}{escape(tax)}.'
        f"{escape(lacks)}</p>"
    )


def _made(rows: Sequence[Mapping[str, Any]]) -> str:
    if not rows:
        return ""
    heads = (
        ("Part", ""), ("Design size mm", "n"), ("To saw or cut mm", "n"), ("Thick mm", "n"), ("Sheet", ""),
        ("Count", "n"), ("Mass g", "n"), ("Minutes", "n"), ("From step", ""),
    )  # fmt: skip
    body = []
    for r in rows:
        more = "; ".join(
            str(x) for x in (r["what"], f"fits {r['fits']}" if r["fits"] else "", r["note"] or "") if x
        )
        sheet = " ".join(str(x) for x in (r["sheet"], r["letter"]) if x)
        cells = [
            (f"{escape(r['part'])}<small>{escape(more)}</small>", ""),
            (_size(r["length_mm"], r["width_mm"]), "n"),
            (_size(r["cut_length_mm"], r["cut_width_mm"]), "n"),
            (_number(r["thickness_mm"], 2), "n"),
            (escape(sheet), ""),
            (str(r["count"]), "n"),
            (_number(r["mass_g"], 0), "n"),
            (_number(r["minutes"], 1), "n"),
            (escape(str(r["drawn_from"])), ""),
        ]
        body.append((cells, "in" if r["level"] == 2 else ""))
    return _table("What is made", heads, body)


def _bought(rows: Sequence[Mapping[str, Any]], currency: str) -> str:
    if not rows:
        return ""
    heads = (
        ("Part", ""), ("Size mm", "n"), ("Count", "n"), ("Mass of one g", "n"),
        (money_head("Price", currency), "n"), (money_head("Cost", currency), "n"), ("From", ""),
    )  # fmt: skip
    body = [
        (
            [
                (f"{escape(r['part'])}<small>{escape(str(r['what']))}</small>", ""),
                (_size(r["length_mm"], r["width_mm"], r["thickness_mm"]), "n"),
                (f"{r['count']:g}", "n"),
                (_number(r["mass_g"], 0), "n"),
                (_money(r["price"]), "n"),
                (_money(r["cost"]), "n"),
                (escape(str(r["drawn_from"])), ""),
            ],
            "",
        )
        for r in rows
    ]
    return _table("What is bought", heads, body)


ROLLUP_HEADS: Mapping[str, tuple[str, int]] = {
    "material": ("Material", -1), "words": ("In words", -1), "shop": ("Shop", -1), "pieces": ("Pieces", 0),
    "sheets": ("Sheets", 0), "net_m2": ("Net m²", 3), "bought_m2": ("Bought m²", 3),
    "yield_percent": ("Used %", 1),
    "all_mass_g": ("Mass g", 0), "process": ("Process", -1), "set_ups": ("Set-ups", 0),
    "clampings": ("Clampings", 0),
    "tool_changes": ("Tool changes", 0), "cutting_min": ("Cutting min", 1), "machine_min": ("In all min", 1),
    "cost": ("Cost", 2), "work": ("Layer", -1), "tool": ("Tool", -1), "cut_m": ("Cut m", 2),
    "between_m": ("From cut to cut m", 2), "pierces": ("Pierces", 0), "minutes": ("Minutes", 1),
    "assembly": ("Assembly", -1), "drawn_from": ("From steps", -1),
}  # fmt: skip
"""Column → its heading and its decimals (-1: words)."""


def _rollup(name: str, rows: Rows, currency: str) -> str:
    """One roll-up; columns that are empty in every row are left out."""
    if not rows:
        return ""
    keys = [k for k in rows[0] if any(r[k] is not None for r in rows)]
    heads = tuple(
        (money_head(ROLLUP_HEADS[k][0], currency) if k == "cost" else ROLLUP_HEADS[k][0], _side(k)) for k in keys
    )
    body = [([(_rolled(k, r[k]), _side(k)) for k in keys], "") for r in rows]
    return _table(name, heads, body)


def _side(key: str) -> str:
    return "n" if ROLLUP_HEADS[key][1] >= 0 else "words" if key == "drawn_from" else ""


def _rolled(key: str, value: Any) -> str:
    decimals = ROLLUP_HEADS[key][1]
    if decimals < 0:
        return escape(str(value or ""))
    return _number(value or None if key in ("cut_m", "between_m") else value, decimals)


def _lines(derived: Derived, bill: Quote) -> str:
    heads = (
        ("What", ""), ("Amount", "n"), (money_head("Price", bill.currency), "n"),
        (money_head("Cost", bill.currency), "n"), ("Counted from", ""),
    )  # fmt: skip
    body: list[tuple[list[Cell], str]] = []
    for line in bill.lines:
        if line.kind == "scrap" and line.price is None:
            continue
        source = "; ".join(x for x in (line.note, f"steps {', '.join(line.steps)}" if line.steps else "") if x)
        body.append(
            (
                [
                    (f"{escape(line.name)}<small>{KIND_HEADS[line.kind].lower()}</small>", ""),
                    (escape(_amount(line.amount, line.unit)), "n"),
                    (_money(line.price), "n"),
                    (_money(line.cost), "n"),
                    (escape(source if line.price is not None else f"{source}; {UNPRICED}".lstrip("; ")), "words"),
                ],
                "",
            )
        )
    tax = derived.recipe.quote.tax
    if bill.total is not None:
        sums = [("Total without tax" if tax is not None else "Total, no tax added", bill.total)]
        if tax is not None:
            sums += [(f"Tax of {tax:g} %", bill.tax or 0.0), ("Total with tax", bill.with_tax or 0.0)]
        body += [([(w, ""), ("", "n"), ("", "n"), (_money(v), "n"), ("", "words")], "sum") for w, v in sums]
    objects = "one object" if derived.recipe.make == 1 else f"{derived.recipe.make} objects"
    return _table(f"The order of {objects}", heads, body)


def _breaks(derived: Derived, bill: Quote) -> str:
    """What one costs when more are made; kinds of cost that nothing has a price for are left out."""
    if not bill.breaks or bill.total is None:
        return ""
    kinds = [k for k in KINDS if any(b.costs[k] is not None for b in bill.breaks)]
    taxed = derived.recipe.quote.tax is not None
    heads = (
        ("Objects", "n"), (money_head("One object", bill.currency), "n"),
        *(((f"with {derived.recipe.quote.tax:g} % tax", "n"),) if taxed else ()),
        (money_head("All", bill.currency), "n"),
        *((KIND_HEADS[k], "n") for k in kinds), ("Sheets to buy", ""),
    )  # fmt: skip
    body = []
    for b in bill.breaks:
        cells = [(str(b.objects), "n"), (_money(b.unit), "n")]
        cells += [(_money(b.with_tax), "n")] if taxed else []
        cells += [(_money(b.total), "n"), *((_money(b.costs[k]), "n") for k in kinds)]
        cells.append((escape(", ".join(f"{n} {name}" for name, n in b.sheets.items())), "words"))
        body.append((cells, ""))
    return _table("Other quantities", heads, body)


def _table(title: str, heads: Sequence[Cell], rows: Sequence[tuple[Sequence[Cell], str]]) -> str:
    """A table whose first column heads its rows. The roles say what it is also where the style takes it apart."""
    head = "".join(f'<th scope="col" role="columnheader"{_class(c)}>{escape(h)}</th>' for h, c in heads)
    body = []
    for cells, look in rows:
        first, *rest = cells
        body.append(
            f'<tr role="row"{_class(look)}><th scope="row" role="rowheader"{_class(first[1])}>{first[0]}</th>'
            + "".join(
                f'<td role="cell" data-head="{escape(h)}"{_class(c)}>{text}</td>'
                for (text, c), (h, _) in zip(rest, heads[1:], strict=True)
            )
            + "</tr>"
        )
    name = escape(title)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{name}"><table role="table" '
        f'class="parts"><caption>{name}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{"".join(body)}</tbody></table></div>'
    )


def _class(name: str) -> str:
    return f' class="{name}"' if name else ""


def _size(*sides: float | None) -> str:
    known = [f"{s:.1f}" for s in sides if s is not None]
    return " × ".join(known) or NOTHING


def _number(value: float | None, decimals: int) -> str:
    return NOTHING if value is None else f"{value:.{decimals}f}"


def _money(value: float | None) -> str:
    return NOTHING if value is None else f"{value:.2f}"


def _amount(value: float, unit: str) -> str:
    """Three decimals at most, and never a nought for something that is there."""
    number = f"{value:.3f}".rstrip("0").rstrip(".") if value >= 0.0005 else f"{value:.1g}"
    return f"{number} {unit}" + ("s" if unit in ("piece", "sheet", "cutter") and value > 1 else "")
