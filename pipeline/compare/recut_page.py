"""The re-cut list as the inside of a section of a page: what is in hand, what becomes of it, what is still to
make."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from pipeline.core.verdict import Verdict

STYLE = """
table.recut{border-collapse:collapse;width:100%;background:#fff}
table.recut th,table.recut td{text-align:left;padding:.35rem .6rem;border-bottom:1px solid #e6e0d4}
table.recut th,table.recut td{vertical-align:top}
table.recut td.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
table.recut .verdict{font-weight:700;white-space:nowrap}
table.recut .verdict::before{display:inline-block;width:1.3em;content:"✓"}
table.recut .verdict.work::before{content:"✎"}
table.recut .verdict.lost::before{content:"✗"}
table.recut .verdict.lost{color:#a33c00}
table.recut .verdict.work{color:#00598a}
table.recut .verdict.good{color:#00573f}
table.recut .more{display:block;color:#4a4a4a;font-size:.93em}
"""
GOOD = ("good as is", "continue")
WORK = ("trim down", "open up", "re-register", "re-label", "keep, new set-up sheet", "measure it")


def recut_section(verdicts: Sequence[Verdict]) -> str:
    """The list as HTML, "" without any; class names belong to STYLE."""
    if not verdicts:
        return ""
    rows = "".join(_row(v) for v in verdicts)
    stay = sum(v.in_hand for v in verdicts if v.stays)
    lost = sum(v.in_hand for v in verdicts if not v.stays)
    told = f"{stay} of {stay + lost} pieces in hand can be used, as they are or after some work."
    return (
        f"<p>{told} Tolerances: templates 0.10 mm, rough laminations 0.20, press fits 0.05; index holes 0.05.</p>"
        '<div class="wide" tabindex="0" role="region" aria-label="Pieces in hand and what becomes of them">'
        '<table class="recut"><thead><tr><th scope="col">Piece</th><th scope="col">Cut from</th>'
        '<th scope="col">In hand</th><th scope="col">Verdict</th><th scope="col">Off, mm</th>'
        '<th scope="col">Because</th><th scope="col">Still to make</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></div>"
    )


def _row(v: Verdict) -> str:
    look = "good" if v.what in GOOD else "work" if v.what in WORK else "lost"
    more = "".join(f'<span class="more">{escape(r)}</span>' for r in v.remarks)
    number = "" if v.mm is None else f"{v.mm:.2f}"
    return (
        f'<tr><th scope="row">{escape(v.said)}</th><td>{escape(v.revision or "?")}</td>'
        f'<td class="n">{v.in_hand}</td>'
        f'<td class="verdict {look}">{escape(v.what)}</td><td class="n">{number}</td>'
        f'<td>{escape(v.because)}{more}</td><td class="n">{v.to_make or "–"}</td></tr>'
    )
