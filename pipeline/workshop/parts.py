"""The parts list: every blank, piece and bought part, every sheet, and all that costs money, one row each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.core.shop import Shop
from pipeline.geometry.region import Region
from pipeline.steps.values import Blank, Derived, Nest, Piece, SetUp
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.minutes import set_up_minutes, tools
from pipeline.workshop.quote import Line, Quote, quote
from pipeline.workshop.shop_time import EACH

COLUMNS = (
    "item", "level", "part", "what", "drawn_from", "since", "sheet", "letter", "thickness_mm", "grain", "each",
    "count", "unit", "length_mm", "width_mm", "cut_length_mm", "cut_width_mm", "area_mm2", "mass_g", "make_or_buy",
    "shop", "set_ups", "tool_changes", "minutes", "price", "cost", "fits", "note",
)  # fmt: skip
"""Keys of a row, in order.

``drawn_from`` names the steps a row comes from. ``each`` is for one object (None for what is made once), ``count``
for the order. ``length_mm`` and ``width_mm`` are of the design edge, ``cut_…`` what is sawn or cut: with allowance
and ears; a blank's is what comes out of the press. ``mass_g``, ``minutes``, ``set_ups``, ``tool_changes`` and
``price`` are of one, ``cost`` of all. A made piece has no price of its own: sheets and machine time are rows by
themselves, so the costs add up to the order's.
"""
UNPRICED = "no price given"
WHAT: Mapping[str, str] = {
    "once": "once for the order",
    "sheet": "sheet",
    "scrap": "scrap",
    "machine": "machine time",
    "supply": "used up",
    "hand": "by hand",
}


def part_rows(
    derived: Derived,
    nests: Sequence[Nest],
    bill: Quote | None = None,
    since: Mapping[str, str] | None = None,
) -> list[dict[str, Any]]:
    """Rows with the keys of COLUMNS; None where a column doesn't apply or isn't known.

    A blank comes before its laminations, in the order of derivation; then bought parts as the recipe lists them,
    sheets, machine time and supplies. The letter is that of the sheets a piece really lies on. ``bill`` is the
    order's quote where it has been made already, ``since`` maps pieces to the revision they are unchanged since.
    """
    recipe = derived.recipe
    bill = bill or quote(derived, nests)
    rows: list[dict[str, Any]] = []
    for result in derived.results.values():
        inner = {v.piece for b in result.blanks for v in b.laminations}
        pieces = {p.name: p for p in result.pieces}
        for b in result.blanks:
            own = [pieces[v.piece] for v in b.laminations if v.piece in pieces]
            rows.append(_blank_row(derived, b, own, since or {}))
            rows += [_piece_row(derived, p, nests, since or {}, 2) for p in dict.fromkeys(own)]
        rows += [_piece_row(derived, p, nests, since or {}, 1) for p in result.pieces if p.name not in inner]
    priced = {line.name: line for line in bill.lines if line.kind == "bought"}
    for name, part in recipe.hardware.items():
        size: tuple[float | None, ...] = (*part.size, None, None, None)
        rows.append(
            {
                "level": 1,
                "part": name,
                "what": "bought, measured" if part.measured else "bought",
                "drawn_from": f"hardware.{name}",
                "each": part.count,
                "length_mm": size[0],
                "width_mm": size[1],
                "thickness_mm": size[2],
                "mass_g": part.mass or None,
                "make_or_buy": "buy",
                **_money(priced[name]),
            }
        )
    for line in bill.lines:
        if line.kind != "bought":
            rows.append(_line_row(line))
    numbered = ({**row, "item": i} for i, row in enumerate(rows, start=1))
    return [{key: row.get(key) for key in COLUMNS} for row in numbered]


def _line_row(line: Line) -> dict[str, Any]:
    minutes = round(line.amount * 60, 6) if line.unit == "h" else None
    return {
        "level": 1,
        "part": line.name,
        "what": WHAT[line.kind],
        "drawn_from": " ".join(line.steps) or "quote",
        "sheet": line.name if line.kind == "sheet" else None,
        "make_or_buy": "buy" if line.kind in ("sheet", "scrap", "supply") else "make",
        "shop": line.shop or None,
        "minutes": minutes,
        **_money(line),
    }


def _money(line: Line) -> dict[str, Any]:
    lacks = UNPRICED if line.price is None else ""
    return {
        "count": round(line.amount, 6),
        "unit": line.unit,
        "price": line.price,
        "cost": line.cost,
        "note": "; ".join(x for x in (line.note, lacks) if x) or None,
    }


def _piece_row(
    derived: Derived, p: Piece, nests: Sequence[Nest], since: Mapping[str, str], level: int
) -> dict[str, Any]:
    recipe = derived.recipe
    on = dict.fromkeys(n.letter for n in nests for q in n.placements if q.piece == p.name)
    shop = shop_named(recipe, p.shop)
    step = recipe.steps.get(p.step)
    stock = recipe.sheets.get(p.sheet)
    notes = [stock.material if stock else ""]
    if p.allowance_mm:
        notes.append(f"cut edge {p.allowance_mm:g} mm outside the design edge")
    if p.role not in EACH:
        notes.append("made once")
    return {
        "level": level,
        "part": p.name,
        "what": p.role,
        "drawn_from": p.step,
        "since": since.get(p.name, recipe.revision),
        "sheet": p.sheet,
        "letter": " ".join(on) or p.letter,
        "thickness_mm": round(p.thickness_mm, 6),
        "grain": p.grain,
        "each": p.count / recipe.make if p.role in EACH else None,
        "count": p.count,
        "unit": "piece",
        **_measures(p.region, p.grain),
        **_cut([p], p.grain),
        "mass_g": p.mass_g,
        "make_or_buy": "make",
        "shop": p.shop,
        **_work(p.set_ups, shop, p.thickness_mm),
        "fits": " ".join(n for n, why in step.needs.items() if why.split(".")[0] in FITS) or None
        if step
        else None,
        "note": "; ".join(n for n in notes if n) or None,
    }


FITS = ("of", "fit", "width")
"""Fields that name what a piece is made to fit: the cavity of a cover or template, the shape of a gauge."""


def _blank_row(
    derived: Derived, b: Blank, own: Sequence[Piece], since: Mapping[str, str]
) -> dict[str, Any]:  # fmt: skip
    shop = shop_named(derived.recipe, b.shop)
    grain = own[0].grain if own else "none"
    return {
        "level": 1,
        "part": b.name,
        "what": "blank",
        "drawn_from": b.step,
        "since": since.get(f"{b.name} (glued)", derived.recipe.revision),
        "sheet": " + ".join(v.piece for v in b.laminations),
        "thickness_mm": round(b.thickness_mm, 6),
        "each": b.count / derived.recipe.make,
        "count": b.count,
        "unit": "piece",
        **_measures(b.region, grain),
        **_cut(own, grain),
        "mass_g": b.mass_g,
        "make_or_buy": "make",
        "shop": b.shop,
        **_work(b.set_ups, shop, b.thickness_mm),
        "note": f"by hand after glue-up: {', '.join(b.by_hand)}" if b.by_hand else None,
    }


def _work(set_ups: Sequence[SetUp], shop: Shop, thickness_mm: float) -> dict[str, Any]:
    """Set-ups, tool changes and minutes of cutting of one copy."""
    return {
        "set_ups": len(set_ups),
        "tool_changes": sum(len(tools(s, shop, thickness_mm)) for s in set_ups),
        "minutes": round(sum(set_up_minutes(s, shop, thickness_mm) for s in set_ups), 3),
    }


def _measures(region: Region, grain: str) -> dict[str, float]:
    """Box of the design edge, its length along the grain (the longer side where there is none), and net area."""
    length, width = _box([region], grain)
    return {"length_mm": length, "width_mm": width, "area_mm2": round(region.area, 3)}


def _cut(own: Sequence[Piece], grain: str) -> dict[str, float]:
    """The box of what is sawn or cut: all cut edges together."""
    if not own:
        return {}
    length, width = _box([p.cut for p in own], grain)
    return {"cut_length_mm": length, "cut_width_mm": width}


def _box(regions: Sequence[Region], grain: str) -> tuple[float, float]:
    boxes = [r.bounds for r in regions]
    w = max(b[2] for b in boxes) - min(b[0] for b in boxes)
    h = max(b[3] for b in boxes) - min(b[1] for b in boxes)
    along, across = (h, w) if grain == "y" or (grain == "none" and h > w) else (w, h)
    return round(along, 3), round(across, 3)
