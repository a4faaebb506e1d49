"""Pieces of HTML for the balance section: figures, tables, numbers."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape


def signed(degrees: float) -> str:
    """An angle in degrees with its sign."""
    return "0.0" if abs(degrees) < 0.05 else plain(f"{degrees:+.1f}")


def plain(number: str) -> str:
    """A number with a real minus sign."""
    return number.replace("-", "\u2212")


def figure(svg: str, caption: str) -> str:
    """A picture with its caption; the caption alone where there is no picture."""
    if not svg:
        return f"<p>{escape(caption)}</p>" if caption else ""
    return f"<figure>{svg}{f'<figcaption>{escape(caption)}</figcaption>' if caption else ''}</figure>"


def table(name: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table of texts, the first of each row its header; it scrolls by itself where it is too wide."""
    first, *others = head
    top = f'<th scope="col">{escape(first)}</th>' + "".join(
        f'<th scope="col" class="n">{escape(h)}</th>' for h in others
    )
    body = "".join(
        f'<tr><th scope="row">{escape(r[0])}</th>'
        + "".join(f'<td class="n">{escape(c)}</td>' for c in r[1:])
        + "</tr>"
        for r in rows
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(name, quote=True)}">'
        f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>"
    )
