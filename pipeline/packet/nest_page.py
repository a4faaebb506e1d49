"""The report's sheets: each with its parts as they lie, and what is told of it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from pipeline.packet.pictures import nest_picture
from pipeline.packet.views import turned_over
from pipeline.steps.values import Derived, Nest

STYLE = ""


def nests_section(derived: Derived, nests: Sequence[Nest]) -> str:
    """The inside of the section on sheets as HTML; empty where no part lies on a sheet."""
    r = derived.recipe
    # A nest shows its sheet as the machinist sees it, so back pieces lie turned over.
    nested = {p.name: (p.cut, turned_over(p.set_ups[0].face, r)) for p in derived.pieces}
    cards = [
        f'<div class="card"><h3>{escape(n.sheet)} {escape(n.letter)}, sheet {n.number}</h3>'
        f"{nest_picture(n, nested)}"
        f"<p>{_parts_word(len(n.placements))}, {n.used * 100:.1f} % of the sheet used, "
        f"shop: {escape(n.shop)}</p></div>"
        for n in nests
    ]
    return f'<div class="cards">{"".join(cards)}</div>' if cards else ""


def _parts_word(count: int) -> str:
    return "1 part" if count == 1 else f"{count} parts"
