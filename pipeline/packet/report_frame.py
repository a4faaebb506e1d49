"""The frame of the report: head, style, contents, sections, and the small scripts that it does not need."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from functools import cache
from html import escape
from importlib.resources import files

from pipeline.packet.shared import shared

PAGE_STYLE = """
:root{color-scheme:light}
*{box-sizing:border-box}
body{font:16px/1.5 system-ui,sans-serif;color:#1b1b1b;background:#fbfaf7;margin:0}
main{max-width:70rem;margin:0 auto;padding:1rem 1.2rem 4rem;overflow-wrap:break-word}
h1{font-size:1.7rem;line-height:1.25;margin:.5rem 0 0}
h2{font-size:1.25rem;margin:2.4rem 0 .6rem;border-bottom:2px solid #ddd6c8;padding-bottom:.2rem}
h3{font-size:1.02rem;margin:1.2rem 0 .3rem}
.card>h3:first-child{margin-top:.1rem}.card>:last-child{margin-bottom:.1rem}
.state{font-size:1.1rem;padding:.7rem 1rem;border-left:.5rem solid #009e73;background:#fff;margin:1rem 0}
.held{border-left-color:#d55e00}
dl.six{display:grid;grid-template-columns:repeat(auto-fit,minmax(8.5rem,1fr));gap:.6rem;margin:1rem 0}
dl.six div{background:#fff;border:1px solid #ddd6c8;padding:.5rem .8rem}
dl.six dt{font-size:.85rem;color:#4a4a4a}dl.six dd{margin:0;font-size:1.3rem}
dl.six dd small{display:block;font-size:.85rem;color:#4a4a4a}
table{border-collapse:collapse;width:100%;background:#fff;font-size:.94rem}
caption{text-align:left;font-weight:600;padding:.3rem .6rem}
.wide{overflow-x:auto}.wide+.cards{margin-top:1rem}
th,td{text-align:left;padding:.3rem .6rem;border-bottom:1px solid #e6e0d4;vertical-align:top}
tbody th{font-weight:inherit}.wide td:last-child:not(.n){min-width:11rem}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
.cards{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,30rem),1fr));gap:1rem}
.cards.small{grid-template-columns:repeat(auto-fill,minmax(min(100%,20rem),1fr))}
.card{background:#fff;border:1px solid #ddd6c8;padding:.8rem;break-inside:avoid;min-width:0}
.card.whole{grid-column:1/-1}
.cards.small .pic{max-height:26rem}
.sev{font-weight:700}.sev.stop{color:#a33c00}.sev.ask{color:#00598a}.sev.note{color:#4a4a4a}
.legend span{display:inline-block;margin-right:1.2rem}
a{color:#00598a}
:focus-visible{outline:3px solid #00598a;outline-offset:2px}
"""

REPORT_STYLE = """
.kept{position:absolute}
.skip{position:absolute;left:-99rem}.skip:focus{left:.5rem;top:.5rem;background:#fff;padding:.4rem .8rem;z-index:2}
.contents{max-width:70rem;margin:0 auto;padding:0 1.2rem}
.contents ul{display:flex;flex-wrap:wrap;gap:.1rem 1.1rem;list-style:none;margin:0;padding:.5rem 0}
.contents a{display:inline-block;padding:.15rem 0}
header{max-width:70rem;margin:0 auto;padding:1rem 1.2rem 0}
main{padding-top:0}
.tools{display:flex;flex-wrap:wrap;gap:.5rem;margin:.6rem 0}
.tools button,.zoom,dialog button{font:inherit;font-size:.9rem;background:#fff;color:#00598a;cursor:pointer}
.tools button,.zoom,dialog button{border:1px solid #00598a;border-radius:.2rem;padding:.2rem .7rem}
.tools button[aria-pressed=true]{background:#00598a;color:#fff}
.seen{position:relative;display:block}
.seen>.zoom{position:absolute;bottom:0;right:0;width:1.7rem;height:1.7rem}
.seen>.zoom{padding:0;border-color:#b9b2a3;line-height:1}.seen>svg{cursor:zoom-in}
dialog{border:1px solid #777;max-width:96vw;max-height:96vh;width:96vw;padding:.8rem}
dialog svg{display:block;width:100%;max-width:none;height:auto;max-height:none}
@media(max-width:40rem){main,header,.contents{padding-left:.8rem;padding-right:.8rem}
.pic .says{font-size:calc(var(--t)*1.25)}.stack text{font-size:calc(var(--t)*1.45)}}
@media print{@page{margin:13mm 13mm 15mm;
@bottom-right{content:counter(page) " of " counter(pages);font:8pt sans-serif}}
body{background:#fff;font-size:10.5pt;line-height:1.35}main,header{max-width:none;padding:0 1px}
.contents,.skip,.zoom,.tools{display:none}
h2,h3,caption{break-after:avoid}h2{margin-top:1.2rem}.card{border-color:#999;padding:.5rem}
tr,li,figure,.state{break-inside:avoid}thead{display:table-header-group}.wide{overflow:visible}
.cards{grid-template-columns:1fr 1fr;gap:.5rem}.cards.small{grid-template-columns:1fr 1fr 1fr}
.sections{grid-template-columns:1fr 1fr}
#order-of-work{break-before:page}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}}
"""


@cache
def script() -> str:
    """The page's own script; the page can be read without it."""
    return files("pipeline").joinpath("data/report.js").read_text(encoding="utf-8")


def section(title: str, body: str) -> str:
    """A section with its heading; "" without a body."""
    if not body:
        return ""
    return f'<section aria-labelledby="{slug(title)}"><h2 id="{slug(title)}">{escape(title)}</h2>{body}</section>'


def slug(title: str) -> str:
    return title.lower().replace(" ", "-").replace(",", "")


def page(title: str, header: str, sections: Iterable[tuple[str, str]], styles: Sequence[str]) -> str:
    """The whole page: ``header`` stands above the contents, then (title, inside) of each section."""
    kept_sections = [(name, body) for name, body in sections if body]
    links = "".join(f'<li><a href="#{slug(name)}">{escape(name)}</a></li>' for name, _ in kept_sections)
    body, kept = shared("\n".join(section(name, inside) for name, inside in kept_sections))
    style = "\n".join(s.strip() for s in (PAGE_STYLE, *styles, REPORT_STYLE) if s.strip())
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy()}">'
        f"<title>{escape(title)}</title><style>{style}</style></head>\n"
        f'<body><a class="skip" href="#main">To the findings and pictures</a>{kept}\n'
        f'<header>{header}</header>\n<nav class="contents" aria-label="Contents"><ul>{links}</ul></nav>\n'
        f'<main id="main" tabindex="-1">\n{body}\n</main><script>{script()}</script></body></html>\n'
    )


@cache
def _policy() -> str:
    """Nothing is loaded and no script runs but the page's own, whatever a title or a note may hold."""
    digest = base64.b64encode(hashlib.sha256(script().encode()).digest()).decode()
    return f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
