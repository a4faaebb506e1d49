"""The order of work in the report: a checklist for the bench, a "because" on each row, boxes to tick on paper."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from pipeline.packet.work_rows import KINDS, Block, Row, blocks
from pipeline.steps.values import WorkLine

STYLE = """
.work-kinds{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .7rem;margin:.4rem 0 1rem;
font-size:.92rem}
.work-kinds dd{margin:0}
.work-day{margin:1.6rem 0 .3rem;padding:.25rem .6rem;background:#efe9dc;font-size:1.05rem}
.work-group{margin:1rem 0 .2rem;font-size:1rem}
.work-visit{margin:0 0 .3rem;font-size:.92rem;color:#4a4a4a}
ol.work{padding:0;margin:0;list-style:none}
ol.work>li{display:grid;grid-template-columns:1.2rem 3.6rem 1fr;gap:0 .5rem;background:#fff;
border-bottom:1px solid #e6e0d4;padding:.4rem .6rem;break-inside:avoid}
ol.work .work-n{color:#4a4a4a;font-variant-numeric:tabular-nums;white-space:nowrap}
.work-box{display:inline-block;width:.9rem;height:.9rem;border:1.5px solid #333;background:#fff;
vertical-align:-.12rem}
.work-what{overflow-wrap:anywhere}
.work-tool{font-weight:600;white-space:nowrap}
.work-tail{color:#4a4a4a}
ol.work .work-pieces{display:flex;flex-wrap:wrap;gap:.1rem 1rem;padding:0;margin:.2rem 0 0;list-style:none}
.work-because{margin:.15rem 0 0;color:#3d3d3d;font-size:.92rem}
.work-kind{display:inline-block;border:1px solid currentColor;border-radius:.2rem;padding:0 .35rem;
font-size:.82rem;margin-right:.35rem;white-space:nowrap}
.work-kind.must{color:#1b1b1b}.work-kind.quality{color:#00598a;border-style:dashed}
.work-kind.safety{color:#a33c00;border-width:2px;font-weight:700}.work-kind.place{color:#00664b;border-style:dotted}
.work-price{font-weight:600}
@media(max-width:34rem){ol.work>li{grid-template-columns:1.2rem 2.6rem 1fr;gap:0 .3rem;padding:.4rem .3rem}}
@media print{.work-day{background:#fff;border-bottom:2px solid #333;break-after:avoid}
.work-group{break-after:avoid}.work-visit{break-after:avoid}ol.work>li{padding:.2rem .3rem}}
"""
BOX = '<span class="work-box" aria-hidden="true"></span>'


def work_section(work: Sequence[WorkLine]) -> str:
    """The inside of the report's section "Order of work" as HTML; empty when there is nothing to do."""
    if not work:
        return ""
    parts = [_kinds(work)]
    day = 0
    for block in blocks(work):
        if block.day != day:
            day = block.day
            early = " at the earliest" if day > 1 else ""
            parts.append(f'<h3 class="work-day">Day {day}{early}</h3>')
        parts.append(_block(block))
    return "".join(parts)


def _kinds(work: Sequence[WorkLine]) -> str:
    """What the words before each "because" mean, of those that come up."""
    used = {w.kind for w in work}
    rows = "".join(
        f'<dt><span class="work-kind {kind}">{kind}</span></dt><dd>{escape(words)}</dd>'
        for kind, words in KINDS.items()
        if kind in used
    )
    return (
        "<p>Tick each box as it is done. Every line says why it stands where it stands, and the word before it "
        f'what sort of reason that is:</p><dl class="work-kinds">{rows}</dl>'
    )


def _block(block: Block) -> str:
    head = f'<h4 class="work-group">{escape(block.group)}</h4>' if block.group else ""
    visit = f'<p class="work-visit">{escape(block.visit)}</p>' if block.visit else ""
    start = block.rows[0].first
    return f'{head}{visit}<ol class="work" start="{start}">{"".join(_row(r) for r in block.rows)}</ol>'


def _row(row: Row) -> str:
    line = row.line
    several = len(row.pieces) > 1
    tail = escape(", ".join(row.where))
    tool = f' <span class="work-tool">{escape(line.cutter)}</span>' if line.cutter else ""
    each = "".join(f"<li>{BOX} {escape(p)}</li>" for p in row.pieces)
    pieces = f'<ul class="work-pieces">{each}</ul>' if several else ""
    where = f' <span class="work-tail">({tail})</span>' if tail else ""
    price = f' <span class="work-price">({escape(line.price)})</span>' if line.price else ""
    return (
        f'<li value="{row.first}">{BOX if not several else "<span></span>"}'
        f'<span class="work-n">{escape(row.number)}</span>'
        f'<div class="work-what">{escape(line.work)}{tool}'
        f"{where}{pieces}"
        f'<p class="work-because"><span class="work-kind {line.kind}">{escape(row.reason)}</span>'
        f"because {escape(line.because)}{price}</p></div></li>"
    )
