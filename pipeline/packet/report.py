"""report.html: one page for the maker. It opens from a file, asks for nothing and needs no script."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from pipeline.core.findings import Finding, worst_first
from pipeline.geometry.region import Region
from pipeline.geometry.transform import Move
from pipeline.packet.finding_cards import STYLE as CARD_STYLE
from pipeline.packet.finding_cards import cards
from pipeline.packet.finding_pictures import STYLE as FINDING_STYLE
from pipeline.packet.pictures import STYLE, nest_picture, scene_picture, setup_picture, stack_picture
from pipeline.packet.print_scene import scenes
from pipeline.packet.signoff import STYLE as SIGN_STYLE
from pipeline.packet.signoff import signoffs
from pipeline.packet.views import turned_over
from pipeline.steps.values import Blank, Derived, Nest, Piece, WorkLine

PAGE_STYLE = """
:root{color-scheme:light}
body{font:16px/1.5 system-ui,sans-serif;color:#1b1b1b;background:#fbfaf7;margin:0}
main{max-width:70rem;margin:0 auto;padding:1rem 1.2rem 4rem}
h1{font-size:1.7rem;margin:.5rem 0 0}
h2{font-size:1.25rem;margin:2.4rem 0 .6rem;border-bottom:2px solid #ddd6c8;padding-bottom:.2rem}
h3{font-size:1.02rem;margin:1.2rem 0 .3rem}
.state{font-size:1.1rem;padding:.7rem 1rem;border-left:.5rem solid #009e73;background:#fff;margin:1rem 0}
.held{border-left-color:#d55e00}
dl.six{display:grid;grid-template-columns:repeat(auto-fit,minmax(9rem,1fr));gap:.6rem;margin:1rem 0}
dl.six div{background:#fff;border:1px solid #ddd6c8;padding:.5rem .8rem}
dl.six dt{font-size:.85rem;color:#4a4a4a}dl.six dd{margin:0;font-size:1.3rem}
table{border-collapse:collapse;width:100%;background:#fff;font-size:.94rem}
.wide{overflow-x:auto}
th,td{text-align:left;padding:.3rem .6rem;border-bottom:1px solid #e6e0d4;vertical-align:top}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
.cards{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,30rem),1fr));gap:1rem}
.card{background:#fff;border:1px solid #ddd6c8;padding:.8rem;break-inside:avoid}
.card.whole{grid-column:1/-1}
.sev{font-weight:700}.sev.stop{color:#a33c00}.sev.ask{color:#00598a}.sev.note{color:#4a4a4a}
.legend span{display:inline-block;margin-right:1.2rem}
ol.work{padding:0;list-style:none}ol.work li{background:#fff;border-bottom:1px solid #e6e0d4;padding:.35rem .6rem}
ol.work .because{color:#4a4a4a;font-size:.92rem;display:block;margin-left:2.9rem}
ol.work .box{display:inline-block;width:.9rem;height:.9rem;border:1.5px solid #333}
ol.work .box{margin-right:.6rem;vertical-align:-.1rem}
ol.work .num{display:inline-block;width:1.7rem;color:#4a4a4a}
a{color:#00598a}
@media print{body{background:#fff;font-size:11px}main{max-width:none}.card{border-color:#999}}
"""


def write_report(
    folder: Path,
    derived: Derived,
    nests: Sequence[Nest],
    work: Sequence[WorkLine],
    findings: Iterable[Finding],
    totals: Mapping[str, Any],
    cautions: Sequence[str],
    *,
    held: bool,
    proof_line: str,
) -> None:
    """Write ``report.html`` into a packet's folder."""
    r = derived.recipe
    # A nest shows its sheet as the machinist sees it, so back pieces lie turned over.
    nested = {p.name: (p.cut, turned_over(p.set_ups[0].face, r)) for p in derived.pieces}
    found = worst_first(tuple(findings))
    title = f"{r.title} - revision {r.revision}"
    parts = [
        f"<header><h1>{escape(r.title)}</h1><p>Design {escape(r.design)}, revision {escape(r.revision)}"
        f"{_by(derived)}</p>{_state(found, held, bool(derived.pieces))}</header>",
        _six(derived, totals),
        _design(derived),
        _outlines(derived),
        _section("Decisions and notes", cards(found, derived)),
        _stacks(derived),
        _pieces(derived),
        _nests(nests, nested),
        _told(derived),
        _work(work),
        _parts(derived, totals),
        _section("Proof", f"<p>{escape(proof_line)}</p>"),
        _section("Cautions", "<ul>" + "".join(f"<li>{escape(c)}</li>" for c in cautions) + "</ul>"),
    ]
    page = (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{PAGE_STYLE}{STYLE}{SIGN_STYLE}{FINDING_STYLE}{CARD_STYLE}</style></head>\n"
        f"<body><main>\n{chr(10).join(p for p in parts if p)}\n</main></body></html>\n"
    )
    (folder / "report.html").write_text(page, encoding="utf-8", newline="\n")


def _told(derived: Derived) -> str:
    """What the steps have to say for themselves: heights, fits, repairs, presses, what found no room."""
    lines = [line for step in derived.order for line in derived.results[step.name].reports]
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return _section("What was worked out", f"<ul>{items}</ul>") if items else ""


def _section(title: str, body: str) -> str:
    slug = title.lower().replace(" ", "-")
    return f'<section aria-labelledby="{slug}"><h2 id="{slug}">{escape(title)}</h2>{body}</section>'


def _by(derived: Derived) -> str:
    by = derived.recipe.by
    words = [w for w in (by.owner, by.drawn, by.issued) if w]
    return f" ({escape(', '.join(words))})" if words else ""


def _state(found: Sequence[Finding], held: bool, cuts: bool) -> str:
    stops = [f for f in found if f.holds]
    asks = sum(1 for f in found if f.severity == "ask" and not f.accepted)
    if held or stops:
        why = stops[0].message if stops else "The files did not pass their proof."
        text = f"HELD: nothing of this packet should be cut yet. {why}"
        return f'<p class="state held">{escape(text)}</p>'
    if not cuts:
        text = "Nothing to cut yet: no step names a sheet. The full-size print is ready."
        return f'<p class="state">{escape(text)}</p>'
    more = f" {asks} {'question is' if asks == 1 else 'questions are'} open below." if asks else ""
    return f'<p class="state">{escape("Ready: the files were read back and agree with the design." + more)}</p>'


def _six(derived: Derived, totals: Mapping[str, Any]) -> str:
    boxes = [r.region.bounds for r in derived.results.values() if r.region and r.kind in ("outline", "stack")]
    length = max((b[2] - b[0] for b in boxes), default=0.0)
    width = max((b[3] - b[1] for b in boxes), default=0.0)
    blanks = derived.blanks
    thick = max(
        (b.thickness_mm for b in blanks), default=max((p.thickness_mm for p in derived.pieces), default=0.0)
    )
    mass = totals.get("mass_g")
    sheets = totals.get("sheets")
    count = sum(sheets.values()) if isinstance(sheets, Mapping) else (sheets or 0)
    rows = (
        ("Length", f"{length:.1f} mm"),
        ("Width", f"{width:.1f} mm"),
        ("Thickness", f"{thick:.2f} mm"),
        ("Mass", f"{mass:.0f} g" if mass else "not known"),
        ("Cost", f"{totals.get('cost', 0):.2f}"),
        ("Sheets", str(count)),
    )
    return '<dl class="six">' + "".join(f"<div><dt>{k}</dt><dd>{escape(v)}</dd></div>" for k, v in rows) + "</dl>"


def _design(derived: Derived) -> str:
    """The outlines with all that is cut and drawn in them, as they are printed full size."""
    cards = "".join(f'<div class="card">{scene_picture(s)}</div>' for s in scenes(derived))
    words = "Seen from the front. Blue: cut from the front; orange: cut from the back; green dashes: carve lines."
    return _section("Design", f'<p>{words}</p><div class="cards">{cards}</div>')


def _outlines(derived: Derived) -> str:
    cards = signoffs(derived)
    return _section("Outlines to agree", f'<div class="cards">{cards}</div>') if cards else ""


def _stacks(derived: Derived) -> str:
    cards = []
    for blank in derived.blanks:
        numbers = derived.results[blank.step].numbers
        cards.append(
            f'<div class="card whole"><h3>{escape(blank.name)}: {blank.thickness_mm:.2f} mm thick</h3>'
            f"{stack_picture(blank, numbers.get('cuts', ()))}"
            "<p>Heights are to scale; places along the body are not.</p>"
            f"{_cut_table(numbers.get('cuts', ()))}</div>"
        )
        cards += [_card(derived, blank, s) for s in blank.set_ups]
    return _section("Blank", f'{LEGEND}<div class="cards">{"".join(cards)}</div>') if cards else ""


def _cut_table(cuts: Sequence[Mapping[str, Any]]) -> str:
    rows = "".join(
        f"<tr><td>{escape(str(c['cut']))}</td><td>{escape(str(c['face']))}</td>"
        f'<td class="n">{_range(c["depth_mm"], c["deep_mm"])}</td>'
        f'<td class="n">{_range(c["floor_z_mm"], c["deep_floor_z_mm"])}</td>'
        f'<td class="n">{c["remains_mm"]:.2f}</td></tr>'
        for c in cuts
    )
    head = (
        '<tr><th>Cut</th><th>From</th><th class="n">Depth</th>'
        '<th class="n">Above the back</th><th class="n">Remains</th></tr>'
    )
    return f'<div class="wide"><table><thead>{head}</thead><tbody>{rows}</tbody></table></div>' if rows else ""


def _range(a: float, b: float) -> str:
    return f"{a:.2f}" if abs(a - b) < 0.005 else f"{a:.2f} to {b:.2f}"


LEGEND = (
    '<p class="legend"><span>black line: cut through</span><span>blue: pocket</span>'
    "<span>orange: sloped floor or drilled</span><span>green dashes: for reference</span>"
    "<span>grey dashes: stock</span><span>purple circle: index hole</span></p>"
)


def _pieces(derived: Derived) -> str:
    cards = [_card(derived, p, s) for p in derived.pieces for s in p.set_ups]
    return _section("Pieces", f'<div class="cards">{"".join(cards)}</div>') if cards else ""


def _card(derived: Derived, owner: Piece | Blank, set_up: Any) -> str:
    move = turned_over(set_up.face, derived.recipe)
    x0, y0, x1, y1 = owner.region.bounds
    facts = [f"{x1 - x0:.2f} × {y1 - y0:.2f} × {owner.thickness_mm:.2f} mm"]
    if isinstance(owner, Piece):
        facts.append(f"{owner.sheet} {owner.letter}".strip())
        facts.append(f"{owner.count} off")
        if owner.allowance_mm:
            facts.append(f"cut edge {owner.allowance_mm:.2f} outside the design edge")
    if owner.mass_g:
        facts.append(f"{owner.mass_g:.0f} g")
    facts.append(f"shop: {owner.shop}")
    view = "seen from the back" if set_up.face == "back" else "seen from the front"
    return (
        f'<div class="card"><h3>{escape(owner.name)}, {view}</h3>'
        f"{setup_picture(owner, set_up, move)}<p>{escape('; '.join(facts))}</p></div>"
    )


def _nests(nests: Sequence[Nest], nested: Mapping[str, tuple[Region, Move]]) -> str:
    cards = [
        f'<div class="card"><h3>{escape(n.sheet)} {escape(n.letter)}, sheet {n.number}</h3>'
        f"{nest_picture(n, nested)}"
        f"<p>{_parts_word(len(n.placements))}, {n.used * 100:.1f} % of the sheet used, "
        f"shop: {escape(n.shop)}</p></div>"
        for n in nests
    ]
    return _section("Sheets", f'<div class="cards">{"".join(cards)}</div>') if cards else ""


def _work(work: Sequence[WorkLine]) -> str:
    rows = []
    for w in work:
        tail = ", ".join(x for x in (w.piece, w.face, w.cutter) if x)
        rows.append(
            f'<li><span class="box" aria-hidden="true"></span><span class="num">{w.n}</span>{escape(w.work)}'
            f"{' (' + escape(tail) + ')' if tail else ''}"
            f'<span class="because">because {escape(w.because)}</span></li>'
        )
    return _section("Order of work", f'<ol class="work">{"".join(rows)}</ol>') if rows else ""


def _parts(derived: Derived, totals: Mapping[str, Any]) -> str:
    rows = [
        f"<tr><td>{escape(p.name)}</td><td>{escape(p.role)}</td><td>{escape(p.sheet)} {escape(p.letter)}</td>"
        f'<td class="n">{p.count}</td><td class="n">{p.thickness_mm:.2f}</td>'
        f'<td class="n">{p.region.area:.1f}</td><td class="n">{_mass(p.mass_g)}</td></tr>'
        for p in derived.pieces
    ]
    rows += [
        f"<tr><td>{escape(name)}</td><td>bought</td><td></td>"
        f'<td class="n">{h.count}</td><td></td><td></td><td class="n">{h.mass * h.count:.0f}</td></tr>'
        for name, h in derived.recipe.hardware.items()
    ]
    head = (
        '<tr><th>Part</th><th>What</th><th>Sheet</th><th class="n">Count</th><th class="n">Thickness mm</th>'
        '<th class="n">Area mm²</th><th class="n">Mass g</th></tr>'
    )
    minutes = totals.get("machine_minutes")
    tail = "<p>The cost counts whole sheets, bought parts that have a price, and machine time.</p>"
    tail += f"<p>About {minutes:.0f} machine minutes.</p>" if minutes else ""
    return _section(
        "Parts",
        f'<div class="wide"><table><thead>{head}</thead><tbody>{"".join(rows)}</tbody></table></div>{tail}',
    )


def _parts_word(count: int) -> str:
    return "1 part" if count == 1 else f"{count} parts"


def _mass(mass_g: float | None) -> str:
    return "" if mass_g is None else f"{mass_g:.0f}"
