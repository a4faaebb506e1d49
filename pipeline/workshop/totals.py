"""What a packet adds up to: mass, sheets, cost, machine time."""

from __future__ import annotations

from typing import Any

from pipeline.steps.values import Derived, Nest
from pipeline.workshop.mass import mass_and_centre
from pipeline.workshop.quote import Quote, quote
from pipeline.workshop.shop_time import machine_minutes


def totals(derived: Derived, nests: tuple[Nest, ...], bill: Quote | None = None) -> dict[str, Any]:
    """The ``totals`` of packet.json.

    ``mass_g`` and ``centre_of_mass_mm`` are of one object (null when something is unknown),
    ``sheets`` maps each stock to the sheets it takes, ``cost`` (without tax; null when nothing has a price) and
    ``machine_minutes`` are of the whole order. ``bill`` is the order's quote where it has been made already.
    """
    mass, centre = mass_and_centre(derived)
    cost = (bill or quote(derived, nests)).total
    return {
        "mass_g": None if mass is None else _tidy(mass),
        "centre_of_mass_mm": None if centre is None else [_tidy(v) for v in centre],
        "sheets": sheets(nests),
        "cost": cost,
        "machine_minutes": _tidy(sum(machine_minutes(derived, nests).values())),
    }


def sheets(nests: tuple[Nest, ...]) -> dict[str, int]:
    """How many physical sheets of each stock, by name."""
    used = sorted({(n.sheet, n.letter, n.number) for n in nests})
    return {stock: sum(s == stock for s, _, _ in used) for stock in dict.fromkeys(s for s, _, _ in used)}


def _tidy(value: float) -> float:
    return round(value, 6) + 0.0
