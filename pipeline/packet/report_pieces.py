"""Every piece and blank in the report: a card for each set-up, equal ones once, with its sizes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape

from pipeline.core.text import listed
from pipeline.packet.pictures import setup_picture
from pipeline.packet.views import turned_over
from pipeline.steps.values import Blank, Derived, Piece, SetUp

LEGEND = (
    '<p class="legend"><span>black line: cut through</span><span>blue: pocket</span>'
    "<span>orange: sloped floor or drilled</span><span>green dashes: for reference</span>"
    "<span>grey dashes: stock</span><span>purple circle: index hole</span></p>"
)


def pieces(derived: Derived) -> str:
    """The cards of all pieces as HTML; pieces that look the same and lie on one stock share a card."""
    groups: dict[tuple[str, str], tuple[list[str], SetUp, Piece, str]] = {}
    for piece in derived.pieces:
        for set_up in piece.set_ups:
            drawn = setup_picture(piece, set_up, turned_over(set_up.face, derived.recipe))
            # The same picture but for the name that a screen reader says.
            key = (re.sub(r' aria-label="[^"]*"', "", drawn, count=1), "; ".join(facts(piece)))
            groups.setdefault(key, ([], set_up, piece, drawn))[0].append(piece.name)
    cards = "".join(
        card(listed(names, "and"), set_up, drawn, facts(piece)) for names, set_up, piece, drawn in groups.values()
    )
    return f'{LEGEND}<div class="cards small">{cards}</div>' if cards else ""


def blank_cards(blank: Blank, derived: Derived) -> Iterator[str]:
    """The set-ups of a glued blank, a card each."""
    for set_up in blank.set_ups:
        drawn = setup_picture(blank, set_up, turned_over(set_up.face, derived.recipe))
        yield card(blank.name, set_up, drawn, facts(blank))


def card(name: str, set_up: SetUp, drawn: str, said: list[str]) -> str:
    view = "seen from the back" if set_up.face == "back" else "seen from the front"
    return f'<div class="card"><h3>{escape(name)}, {view}</h3>{drawn}<p>{escape("; ".join(said))}</p></div>'


def facts(owner: Piece | Blank) -> list[str]:
    """Size, sheet, count, allowance, mass and shop, a phrase each."""
    x0, y0, x1, y1 = owner.region.bounds
    said = [f"{x1 - x0:.2f} × {y1 - y0:.2f} × {owner.thickness_mm:.2f} mm"]
    if isinstance(owner, Piece):
        said.append(f"{owner.sheet} {owner.letter}".strip())
    said.append(f"{owner.count} to make")
    if isinstance(owner, Piece) and owner.allowance_mm:
        a0, b0, a1, b1 = owner.cut.bounds
        said.append(
            f"cut edge {owner.allowance_mm:.2f} outside the design edge, {a1 - a0:.2f} × {b1 - b0:.2f} as cut"
        )
    if owner.mass_g:
        said.append(f"{owner.mass_g:.0f} g")
    said.append(f"shop: {owner.shop}")
    return said
