"""The parts list: every piece, blank and bought part, one row each."""

from __future__ import annotations

from typing import Any

from pipeline.geometry.region import Region
from pipeline.steps.values import Derived, Nest
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.minutes import set_up_minutes

COLUMNS = (
    "item", "part", "what", "step", "sheet", "letter", "thickness_mm", "grain", "count", "length_mm",
    "width_mm", "area_mm2", "mass_g", "make_or_buy", "shop", "minutes", "price", "cost",
)  # fmt: skip
"""Keys of a row, in order. ``mass_g``, ``minutes`` and ``price`` are of one, ``cost`` of all; a made
piece has no price of its own (sheets and machine time are charged whole, see the totals)."""


def part_rows(derived: Derived, nests: tuple[Nest, ...]) -> list[dict[str, Any]]:
    """Rows with the keys of COLUMNS; None where a column doesn't apply.

    Made things come in the order of derivation, laminations before their blank, then bought parts as
    the recipe lists them. The letter is that of the sheets a piece really lies on.
    """
    recipe = derived.recipe
    rows: list[dict[str, Any]] = []
    for result in derived.results.values():
        for p in result.pieces:
            on = dict.fromkeys(n.letter for n in nests for q in n.placements if q.piece == p.name)
            shop = shop_named(recipe, p.shop)
            rows.append(
                {
                    "part": p.name,
                    "what": p.role,
                    "step": p.step,
                    "sheet": p.sheet,
                    "letter": " ".join(on) or p.letter,
                    "thickness_mm": round(p.thickness_mm, 6),
                    "grain": p.grain,
                    "count": p.count,
                    **_measures(p.region),
                    "mass_g": p.mass_g,
                    "make_or_buy": "make",
                    "shop": p.shop,
                    "minutes": round(sum(set_up_minutes(s, shop, p.thickness_mm) for s in p.set_ups), 3),
                }
            )
        for b in result.blanks:
            shop = shop_named(recipe, b.shop)
            rows.append(
                {
                    "part": b.name,
                    "what": "blank",
                    "step": b.step,
                    "sheet": " + ".join(v.piece for v in b.laminations),
                    "thickness_mm": round(b.thickness_mm, 6),
                    "count": b.count,
                    **_measures(b.region),
                    "mass_g": b.mass_g,
                    "make_or_buy": "make",
                    "shop": b.shop,
                    "minutes": round(sum(set_up_minutes(s, shop, b.thickness_mm) for s in b.set_ups), 3),
                }
            )
    for name, part in recipe.hardware.items():
        size: tuple[float | None, ...] = (*part.size, None, None, None)
        rows.append(
            {
                "part": name,
                "what": "bought, measured" if part.measured else "bought",
                "count": part.count * recipe.make,
                "length_mm": size[0],
                "width_mm": size[1],
                "thickness_mm": size[2],
                "mass_g": part.mass or None,
                "make_or_buy": "buy",
                "price": part.price or None,
                "cost": part.price * part.count * recipe.make or None,
            }
        )
    numbered = ({**row, "item": i} for i, row in enumerate(rows, start=1))
    return [{key: row.get(key) for key in COLUMNS} for row in numbered]


def _measures(region: Region) -> dict[str, float]:
    """Box (longer side first) and net area of the design edge."""
    xmin, ymin, xmax, ymax = region.bounds
    sides = sorted((xmax - xmin, ymax - ymin), reverse=True)
    return {
        "length_mm": round(sides[0], 3),
        "width_mm": round(sides[1], 3),
        "area_mm2": round(region.area, 3),
    }
