"""report.html: one page for the maker. It opens from a file, asks for nothing and needs no script to be read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from pipeline.core.findings import Finding, worst_first
from pipeline.packet import (
    balance_page,
    finding_cards,
    finding_pictures,
    nest_page,
    parts_page,
    path_text,
    pictures,
    report_blank,
    report_design,
    report_sections,
    report_stack,
    signoff,
    work_page,
)
from pipeline.packet.finding_sections import Woods
from pipeline.packet.report_blank import blank_page
from pipeline.packet.report_changes import changes
from pipeline.packet.report_design import design
from pipeline.packet.report_frame import PAGE_STYLE, page
from pipeline.packet.report_pieces import pieces
from pipeline.packet.shop_file import ShopFile
from pipeline.steps.values import Derived, Nest, WorkLine
from pipeline.workshop.quote import Quote

STYLES = (
    pictures.STYLE,
    signoff.STYLE,
    finding_pictures.STYLE,
    finding_cards.STYLE,
    report_design.STYLE,
    report_blank.STYLE,
    report_stack.STYLE,
    report_sections.STYLE,
    balance_page.STYLE,
    nest_page.STYLE,
    work_page.STYLE,
    parts_page.STYLE,
)


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
    files: Sequence[ShopFile] = (),
    since: Mapping[str, str] | None = None,
    bill: Quote | None = None,
    recut: str = "",
    styles: Sequence[str] = (),
) -> None:
    """Write ``report.html`` into a packet's folder.

    ``since``: see `report_changes.changes`; ``bill``: the quote where it has been made already; ``recut``: the
    inside of the section on what was cut (`compare.recut_page`), with its ``styles``.
    """
    r = derived.recipe
    path_text.forget()
    found = worst_first(tuple(findings))
    woods = Woods(derived)
    header = (
        f"<h1>{escape(r.title)}</h1><p>{escape(_named(derived))}</p>"
        f"{_state(found, held, bool(derived.pieces))}{_six(derived, totals, bill)}"
    )
    sections = (
        ("Decisions and notes", finding_cards.cards(found, derived, woods)),
        ("Design", design(derived)),
        ("Outlines to agree", _cards(signoff.signoffs(derived))),
        (
            "Blank" if len(derived.blanks) == 1 else "Blanks",
            "".join(blank_page(b, derived, woods) for b in derived.blanks),
        ),
        ("Pieces", pieces(derived)),
        ("Cavities in section", _piece_sections(derived, woods)),
        ("Mass and balance", balance_page.balance_section(derived)),
        ("Sheets", nest_page.nests_section(derived, nests)),
        ("Order of work", work_page.work_section(work)),
        ("Parts and price", parts_page.parts_section(derived, nests, bill, since)),
        ("What changed", changes(derived, files, since or {})),
        ("What was cut", recut),
        ("What was worked out", _told(derived)),
        ("Proof", f"<p>{escape(proof_line)}</p>"),
        ("Cautions", "<ul>" + "".join(f"<li>{escape(c)}</li>" for c in cautions) + "</ul>"),
    )
    text = page(f"{r.title} - revision {r.revision}", header, sections, (*STYLES, *styles))
    (folder / "report.html").write_text(text, encoding="utf-8", newline="\n")


def _named(derived: Derived) -> str:
    r = derived.recipe
    by = ", ".join(w for w in (r.by.owner, r.by.drawn, r.by.issued) if w)
    variant = f", variant {r.variant}" if r.variant else ""
    return f"Design {r.design}{variant}, revision {r.revision}" + (f" ({by})" if by else "")


def _state(found: Sequence[Finding], held: bool, cuts: bool) -> str:
    """The one sentence that the page opens with."""
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


def _six(derived: Derived, totals: Mapping[str, Any], bill: Quote | None) -> str:
    boxes = [r.region.bounds for r in derived.results.values() if r.region and r.kind in ("outline", "stack")]
    length = max((b[2] - b[0] for b in boxes), default=0.0)
    width = max((b[3] - b[1] for b in boxes), default=0.0)
    blanks = derived.blanks
    thick = max(
        (b.thickness_mm for b in blanks), default=max((p.thickness_mm for p in derived.pieces), default=0.0)
    )
    mass, cost, sheets = totals.get("mass_g"), totals.get("cost"), totals.get("sheets")
    money = f" {bill.currency}" if bill and bill.currency else ""
    count = sum(sheets.values()) if isinstance(sheets, Mapping) else (sheets or 0)
    rows = (
        ("Length", f"{length:.1f} mm", ""),
        ("Width", f"{width:.1f} mm", ""),
        ("Thickness", f"{thick:.2f} mm", "") if thick else ("Thickness", "–", "nothing is cut from a sheet"),
        ("Mass", f"{mass:.0f} g", "") if mass else ("Mass", "–", "not known"),
        ("Cost", f"{cost:.2f}{money}", "") if cost else ("Cost", "–", "no prices given"),
        ("Sheets", str(count), ""),
    )
    return (
        '<dl class="six">'
        + "".join(
            f"<div><dt>{k}</dt><dd>{escape(v)}{f' <small>{escape(why)}</small>' if why else ''}</dd></div>"
            for k, v, why in rows
        )
        + "</dl>"
    )


def _cards(inside: str) -> str:
    return f'<div class="cards">{inside}</div>' if inside else ""


def _piece_sections(derived: Derived, woods: Woods) -> str:
    """Sections through the cavities of pieces that are no laminations of a blank."""
    glued = {lam.piece for b in derived.blanks for lam in b.laminations}
    cards = []
    for piece in derived.pieces:
        if piece.name not in glued and any(o.work in ("POCKET", "RAMP") for s in piece.set_ups for o in s.ops):
            inside = report_sections.sections(piece, derived, woods)
            if inside:
                cards.append(f'<div class="card whole"><h3>{escape(piece.name)}</h3>{inside}</div>')
    return _cards("".join(cards))


def _told(derived: Derived) -> str:
    """What the steps have to say for themselves: heights, fits, repairs, presses, what found no room."""
    lines = [line for step in derived.order for line in derived.results[step.name].reports]
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


__all__ = ["PAGE_STYLE", "write_report"]
