"""The page of `mouldloft check`: every finding with its place, zoomed, its number and what would mend it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

from pipeline.core.findings import Finding, worst_first
from pipeline.packet.disk import plainly
from pipeline.packet.finding_cards import STYLE as CARD_STYLE
from pipeline.packet.finding_cards import cards
from pipeline.packet.finding_pictures import STYLE
from pipeline.packet.names import packet_name
from pipeline.packet.report_frame import PAGE_STYLE
from pipeline.steps.values import Derived


def write_check_page(out: Path, derived: Derived, found: Sequence[Finding]) -> Path:
    """Write ``<out>/<design>.check.html``; its path. Raises MachineFailed."""
    name = packet_name(derived.recipe)
    path = out / f"{name}.check.html"
    with plainly(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(check_page(derived, found), encoding="utf-8", newline="\n")
    return path


def check_page(derived: Derived, found: Sequence[Finding]) -> str:
    """The page as HTML; needs no script and asks for nothing."""
    r = derived.recipe
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(r.title)}: findings</title><style>{PAGE_STYLE}{STYLE}{CARD_STYLE}</style></head>"
        "<body><main>"
        f"<h1>{escape(r.title)}: findings</h1><p>Revision {escape(r.revision)}.</p>"
        f"{cards(worst_first(tuple(found)), derived)}</main></body></html>\n"
    )
