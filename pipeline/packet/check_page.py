"""The page of `mouldloft check`: every finding with its place, zoomed, its number and what would mend it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

from pipeline.core.findings import Finding
from pipeline.packet.disk import plainly
from pipeline.packet.names import packet_name
from pipeline.packet.pictures import STROKES, STYLE, number, path_data, picture
from pipeline.packet.print_scene import Scene, scenes
from pipeline.packet.report import PAGE_STYLE
from pipeline.steps.values import Derived

WINDOW_MM = 40.0
"""How far a picture reaches around the place of a finding."""


def write_check_page(out: Path, derived: Derived, found: Sequence[Finding]) -> Path:
    """Write ``<out>/<design>.check.html``; its path. Raises MachineFailed."""
    r = derived.recipe
    name = packet_name(r)
    path = out / f"{name}.check.html"
    with plainly(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(check_page(derived, found), encoding="utf-8", newline="\n")
    return path


def check_page(derived: Derived, found: Sequence[Finding]) -> str:
    """The page as HTML; needs no script and asks for nothing."""
    r = derived.recipe
    drawn = scenes(derived)
    cards = "".join(_card(f, drawn) for f in found) or "<p>No findings.</p>"
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(r.title)}: findings</title><style>{PAGE_STYLE}{STYLE}</style></head><body><main>"
        f"<h1>{escape(r.title)}: findings</h1><p>Revision {escape(r.revision)}. Worst first. Seen from the front; "
        "the cross is the place.</p>"
        f'<div class="cards">{cards}</div></main></body></html>\n'
    )


def _card(f: Finding, drawn: Sequence[Scene]) -> str:
    lines = [f'<div class="card"><h2><span class="sev {f.severity}">{f.severity}</span> {escape(f.message)}</h2>']
    if f.at_mm:
        lines.append(zoomed(f, drawn))
    facts = [escape(f.check), escape(f.piece or f.step)]
    if f.at_mm:
        facts.append(f"x {f.at_mm[0]:.1f}, y {f.at_mm[1]:.1f}" + (f", {escape(f.face)}" if f.face else ""))
    if f.measured is not None:
        limit = f", limit {f.limit:.2f}" if f.limit is not None else ""
        facts.append(f"measured {f.measured:.2f}{limit} {escape(f.unit)}")
    lines.append(f"<p>{'; '.join(x for x in facts if x)}</p>")
    if f.remedy:
        lines.append(f"<p><strong>To do:</strong> {escape(f.remedy)}</p>")
    if f.place:
        lines.append(f"<p>{escape(str(f.place))}<br><code>{escape(f.place.text.strip())}</code></p>")
    if f.accepted:
        lines.append(f"<p>Accepted: {escape(f.accepted)}</p>")
    return "".join(lines) + "</div>"


def zoomed(f: Finding, drawn: Sequence[Scene]) -> str:
    """The place of a finding and what lies around it, with a cross and the measured number."""
    assert f.at_mm is not None
    x, y = f.at_mm
    reach = WINDOW_MM
    body = []
    for scene in drawn:
        for stroke in scene.strokes:
            x0, y0, x1, y1 = stroke.contour.bounds
            if x0 < x + reach and x1 > x - reach and y0 < y + reach and y1 > y - reach:
                body.append(f'<path class="{STROKES[stroke.style]}" d="{path_data((stroke.contour,))}"/>')
    body.append(
        f'<path d="M{number(x - 4)} {number(-y)}h8M{number(x)} {number(-y - 4)}v8" fill="none" stroke="#d55e00" '
        'stroke-width="0.7"/>'
        f'<circle cx="{number(x)}" cy="{number(-y)}" r="2.5" fill="none" stroke="#d55e00" stroke-width="0.7"/>'
    )
    if f.measured is not None:
        body.append(
            f'<text x="{number(x + 5)}" y="{number(-y - 4)}" font-size="4">'
            f"{f.measured:.2f} {escape(f.unit)}</text>"
        )
    return picture(
        f"{f.message} At x {x:.1f}, y {y:.1f}.",
        (x - reach, y - reach * 0.6, x + reach, y + reach * 0.6),
        body,
        width_px=460,
        pad=0,
    )
