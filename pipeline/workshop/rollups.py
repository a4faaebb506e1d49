"""The parts list added up: by material, by shop, by layer and tool, by assembly."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pipeline.steps.values import Blank, Derived, Nest, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.minutes import set_up_minutes
from pipeline.workshop.quote import Quote, total_of
from pipeline.workshop.shop_time import EACH, shop_times, things

Rows = list[dict[str, Any]]
LAYERS = "By layer and tool"


def rollups(derived: Derived, nests: Sequence[Nest], bill: Quote) -> dict[str, Rows]:
    """All of them by title."""
    return {
        "By material": by_material(derived, nests, bill),
        "By shop": by_shop(derived, bill),
        "By assembly": by_assembly(derived, bill),
        LAYERS: by_layer(derived, bill),
    }


def by_material(derived: Derived, nests: Sequence[Nest], bill: Quote) -> Rows:
    """One row a stock and shop: pieces, sheets, net area, what of the bought sheets that is, mass, cost."""
    recipe = derived.recipe
    found = []
    for shop, name in dict.fromkeys((n.shop, n.sheet) for n in nests):
        mine = [n for n in nests if (n.shop, n.sheet) == (shop, name)]
        pieces = {p.name: p for p in derived.pieces if (p.shop, p.sheet) == (shop, name)}
        laid = [pieces[q.piece] for n in mine for q in n.placements]
        net, bought = sum(p.region.area for p in laid), sum(n.size[0] * n.size[1] for n in mine)
        masses = [p.mass_g for p in laid]
        found.append(
            {
                "material": name,
                "words": recipe.sheets[name].material or None,
                "shop": shop,
                "pieces": len(laid),
                "sheets": len(mine),
                "net_m2": round(net * 1e-6, 6),
                "bought_m2": round(bought * 1e-6, 6),
                "yield_percent": round(net / bought * 100, 3),
                "all_mass_g": None if None in masses else round(sum(m or 0.0 for m in masses), 3),
                "cost": total_of(
                    [x for x in bill.lines if x.kind in ("sheet", "scrap") and x.shop == shop and x.stock == name]
                ),
                "drawn_from": " ".join(dict.fromkeys(p.step for p in laid)),
            }
        )
    return found


def by_shop(derived: Derived, bill: Quote) -> Rows:
    """One row a shop: set-ups, clampings, tool changes, minutes, cost of its time."""
    found = []
    for name, t in shop_times(derived, bill.work.loads).items():
        shop = shop_named(derived.recipe, name)
        mine = [x for x in things(derived) if x.shop == name]
        found.append(
            {
                "shop": name,
                "process": shop.process,
                "set_ups": t.set_ups,
                "clampings": t.clampings,
                "tool_changes": t.tool_changes,
                "cutting_min": round(t.cutting, 6),
                "machine_min": round(t.minutes, 6),
                "cost": total_of([x for x in bill.lines if x.kind in ("once", "machine") and x.shop == name]),
                "drawn_from": " ".join(dict.fromkeys(x.step for x in mine)),
            }
        )
    return found


def by_layer(derived: Derived, bill: Quote) -> Rows:
    """One row a shop, work and tool: metres with every pass, metres from cut to cut, pierces, minutes."""
    make = derived.recipe.make
    sums: dict[tuple[str, str, str], dict[str, Any]] = {}
    steps: dict[tuple[str, str, str], dict[str, None]] = {}
    for w in bill.work.runs:
        key = w.shop, w.run.work, w.run.cutter
        row = sums.setdefault(key, {"cut_m": 0.0, "between_m": 0.0, "pierces": 0.0, "minutes": 0.0})
        copies = w.each * make + w.once
        row["cut_m"] += copies * w.run.path_mm / 1000
        row["between_m"] += copies * w.run.between_mm / 1000
        row["pierces"] += copies * w.run.pierces
        row["minutes"] += copies * w.run.minutes
        steps.setdefault(key, {})[w.step] = None
    return [
        {
            "shop": shop,
            "work": work.replace("_", " ").lower(),
            "tool": tool,
            "cut_m": round(row["cut_m"], 3),
            "between_m": round(row["between_m"], 3),
            "pierces": round(row["pierces"]) or None,
            "minutes": round(row["minutes"], 3),
            "drawn_from": " ".join(steps[shop, work, tool]),
        }
        for (shop, work, tool), row in sums.items()
    ]


def by_assembly(derived: Derived, bill: Quote) -> Rows:
    """One row for each blank with its laminations, for lone parts, what is bought, and what is made once."""
    recipe = derived.recipe
    inner = {v.piece for b in derived.blanks for v in b.laminations}
    found = []
    for b in derived.blanks:
        own = [p for p in derived.pieces if p.name in {v.piece for v in b.laminations}]
        found.append(_assembly(derived, b.name, [b, *own], b.count + sum(p.count for p in own), b.mass_g))
    lone = [p for p in derived.pieces if p.role in EACH and p.name not in inner]
    jigs = [p for p in derived.pieces if p.role not in EACH]
    for name, pieces, each in (("panels and covers", lone, True), ("templates, gauges and coupons", jigs, False)):
        if pieces:
            masses = [
                None if p.mass_g is None else p.mass_g * p.count / (recipe.make if each else 1) for p in pieces
            ]
            mass = None if None in masses else sum(m or 0.0 for m in masses)
            found.append(_assembly(derived, name, pieces, sum(p.count for p in pieces), mass))
    if recipe.hardware:
        found.append(
            {
                "assembly": "bought parts",
                "pieces": sum(h.count for h in recipe.hardware.values()) * recipe.make,
                "all_mass_g": round(sum(h.mass * h.count for h in recipe.hardware.values()), 3) or None,
                "cutting_min": None,
                "cost": total_of([x for x in bill.lines if x.kind == "bought"]),
                "drawn_from": "hardware",
            }
        )
    return found


def _assembly(
    derived: Derived, name: str, own: Sequence[Piece | Blank], count: int, mass_g: float | None
) -> dict[str, Any]:
    minutes = 0.0
    for x in own:
        shop = shop_named(derived.recipe, x.shop)
        minutes += x.count * sum(set_up_minutes(s, shop, x.thickness_mm) for s in x.set_ups)
    return {
        "assembly": name,
        "pieces": count,
        "all_mass_g": None if mass_g is None else round(mass_g, 3),
        "cutting_min": round(minutes, 3),
        "cost": None,
        "drawn_from": " ".join(dict.fromkeys(x.step for x in own)),
    }
