"""A glued blank in the report: taken apart, in section, its depths, and its set-ups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from pipeline.packet.finding_sections import Woods
from pipeline.packet.report_pieces import blank_cards
from pipeline.packet.report_sections import sections
from pipeline.packet.report_stack import lamination_table, stack_picture
from pipeline.steps.values import Blank, Derived

APART = (
    "Lifted apart, the front on top. Blue: pockets from the front; orange dashes: pockets in the face below; "
    "chain lines: where the pins go through."
)
STYLE = """
.apart{margin:0;display:flex;flex-wrap:wrap;gap:.4rem 1.4rem}.apart>*{flex:1 1 17rem;min-width:0}
.apart>svg,.apart>.seen{flex:0 1 auto;width:min(100%,40rem)}.apart figcaption{font-size:.94rem;color:#333}
"""


def blank_page(blank: Blank, derived: Derived, woods: Woods) -> str:
    """All there is to say of one blank, as cards."""
    numbers = derived.results[blank.step].numbers
    cut = sections(blank, derived, woods)
    count = len(blank.laminations)
    title = (
        f"{blank.name}: {count} {'lamination' if count == 1 else 'laminations'}, {blank.thickness_mm:.2f} mm thick"
    )
    cards = [
        f'<div class="card whole"><h3>{escape(title)}</h3><figure class="apart">{stack_picture(blank, derived)}'
        f"<figcaption>{APART}</figcaption></figure>{lamination_table(blank, numbers)}</div>",
        f'<div class="card whole"><h3>Sections through {escape(blank.name)}</h3>{cut}</div>' if cut else "",
        f'<div class="card whole">{cut_table(blank, numbers.get("cuts", ()))}</div>',
        *blank_cards(blank, derived),
    ]
    return f'<div class="cards">{"".join(cards)}</div>'


def cut_table(blank: Blank, cuts: Sequence[Mapping[str, Any]]) -> str:
    """Every cut's depth, floor and what is left; cuts of one step with the same numbers share a line."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for c in cuts:
        key = (
            str(c["step"]),
            str(c["face"]),
            spread(c["depth_mm"], c["deep_mm"]),
            spread(c["floor_z_mm"], c["deep_floor_z_mm"]),
            f"{c['remains_mm']:.2f}",
            f" in lamination {c['lamination']}" if c.get("lamination") else "",
        )
        rows.setdefault(key, []).append(str(c["cut"]))
    if not rows:
        return "<p>Nothing is cut in it but its edge.</p>"
    body = "".join(
        f'<tr><th scope="row">{escape(names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}")}</th>'
        f'<td>{escape(face + inside)}</td><td class="n">{depth}</td><td class="n">{floor}</td>'
        f'<td class="n">{left}</td></tr>'
        for (_, face, depth, floor, left, inside), names in rows.items()
    )
    head = (
        '<tr><th scope="col">Cut</th><th scope="col">From</th><th scope="col" class="n">Depth mm</th>'
        '<th scope="col" class="n">Floor above the back mm</th><th scope="col" class="n">Left mm</th></tr>'
    )
    name = escape(blank.name, quote=True)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="Depths in {name}"><table>'
        f"<caption>Depths, floors and what is left under them</caption><thead>{head}</thead>"
        f"<tbody>{body}</tbody></table></div>"
    )


def spread(a: float, b: float) -> str:
    """One number, or two where a floor slopes."""
    return f"{a:.2f}" if abs(a - b) < 0.005 else f"{a:.2f} to {b:.2f}"
