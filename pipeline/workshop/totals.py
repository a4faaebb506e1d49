"""What a packet adds up to: mass, sheets, cost, machine time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.steps.values import Derived, Nest
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.mass import mass_and_centre
from pipeline.workshop.minutes import machine_minutes


def totals(derived: Derived, nests: tuple[Nest, ...]) -> dict[str, Any]:
    """The ``totals`` of packet.json.

    ``mass_g`` and ``centre_of_mass_mm`` are of one object (null when something is unknown),
    ``sheets`` maps each stock to the sheets it takes, ``cost`` and ``machine_minutes`` are of the
    whole order.
    """
    mass, centre = mass_and_centre(derived)
    minutes = machine_minutes(derived, nests)
    return {
        "mass_g": None if mass is None else _tidy(mass),
        "centre_of_mass_mm": None if centre is None else [_tidy(v) for v in centre],
        "sheets": sheets(nests),
        "cost": _tidy(sum(costs(derived, nests, minutes).values())),
        "machine_minutes": _tidy(sum(minutes.values())),
    }


def sheets(nests: tuple[Nest, ...]) -> dict[str, int]:
    """How many physical sheets of each stock, by name."""
    used = sorted({(n.sheet, n.letter, n.number) for n in nests})
    return {stock: sum(s == stock for s, _, _ in used) for stock in dict.fromkeys(s for s, _, _ in used)}


def costs(derived: Derived, nests: tuple[Nest, ...], minutes: Mapping[str, float]) -> dict[str, float]:
    """What the order costs: whole sheets, bought parts, machine time, in the recipe's money."""
    recipe = derived.recipe
    return {
        "sheets": sum(recipe.sheets[stock].price * count for stock, count in sheets(nests).items()),
        "hardware": sum(p.price * p.count for p in recipe.hardware.values()) * recipe.make,
        "machine": sum(shop_named(recipe, shop).rates.hour * m / 60 for shop, m in minutes.items()),
    }


def _tidy(value: float) -> float:
    return round(value, 6) + 0.0
