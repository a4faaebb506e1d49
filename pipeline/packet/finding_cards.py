"""Findings as cards for pages: words, pictures, what would mend it, and the recipe line that this would change."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.packet.finding_pictures import pictures
from pipeline.packet.finding_sections import Woods
from pipeline.steps.values import Derived

HOW = (
    "Worst first. Each place is drawn as its face looks when it lies up. Solid blue is cut from that face, "
    "dashed orange from the other one, black goes through. The number stands on its dimension line, its limit is "
    "the dotted line beside it."
)
"""How to read the cards and their pictures."""
FIVE = 5
"""So many findings a person is shown at a time."""

STYLE = """
.card .line{font:13px/1.4 ui-monospace,monospace;background:#f4f1ea;padding:.3rem .5rem;overflow-wrap:anywhere}
.card .line b{font-weight:400;color:#4a4a4a;display:block}
details{margin:1rem 0}details>summary{cursor:pointer;font-weight:600;padding:.4rem 0}
.card h3.what{margin:.1rem 0 .4rem;font-weight:500}
.facts{color:#333;margin:.3rem 0}
"""


def cards(found: Sequence[Finding], derived: Derived, woods: Woods | None = None) -> str:
    """All findings as HTML, worst first as they come: the worst five open ones, the others folded away, and the
    accepted ones by themselves. ``woods``: what other pictures of the design have worked out already."""
    if not found:
        return "<p>No findings.</p>"
    woods = woods or Woods(derived)
    open_ = [(i, f) for i, f in enumerate(found) if not f.accepted]
    accepted = [(i, f) for i, f in enumerate(found) if f.accepted]
    parts = [f"<p>{HOW}</p>"]
    if not open_:
        parts.append("<p>Nothing is open.</p>")
    parts.append(_grid(open_[:FIVE], woods))
    if len(open_) > FIVE:
        more = len(open_) - FIVE
        parts.append(_folded(f"{more} more {'finding' if more == 1 else 'findings'}", open_[FIVE:], woods))
    if accepted:
        n = len(accepted)
        parts.append(_folded(f"{n} {'finding' if n == 1 else 'findings'} that the maker accepts", accepted, woods))
    return "".join(parts)


def _grid(rows: Sequence[tuple[int, Finding]], woods: Woods) -> str:
    return f'<div class="cards">{"".join(card(f, woods, f"f{i + 1}") for i, f in rows)}</div>' if rows else ""


def _folded(words: str, rows: Sequence[tuple[int, Finding]], woods: Woods) -> str:
    return f"<details><summary>{escape(words)}</summary>{_grid(rows, woods)}</details>"


def card(f: Finding, woods: Woods, key: str) -> str:
    """One finding; ``key`` is the beginning of the ids in it."""
    lines = [
        f'<div class="card" id="{key}"><h3 class="what"><span class="sev {f.severity}">{f.severity}</span> '
        f"{escape(f.message)}</h3>",
        pictures(f, woods, key),
        f'<p class="facts">{"; ".join(escape(x) for x in facts(f))}</p>',
    ]
    if f.remedy:
        lines.append(f"<p><strong>To do:</strong> {escape(f.remedy)}</p>")
    if f.place:
        lines.append(f'<p class="line"><b>{escape(str(f.place))}</b>{line_of(f.place)}</p>')
    if f.accepted:
        lines.append(f"<p>{escape(acceptance(f))}</p>")
    return "".join(lines) + "</div>"


def line_of(place: Place) -> str:
    """The recipe line as HTML, with the name or value that the place points at underlined."""
    if not place.column:
        return escape(_single(place.text).strip())
    start = place.column - 1
    end = start + _length(place.text[start:])
    before, spot, after = place.text[:start], place.text[start:end], place.text[end:]
    return f"{escape(_single(before).lstrip())}<u>{escape(_single(spot))}</u>{escape(_single(after).rstrip())}"


def _length(words: str) -> int:
    """How far the name or value reaches that these words begin with: a name up to its colon, a list or mapping up
    to its closing bracket, else up to the next comma or bracket."""
    name = re.match(r"[\w-]+(?=:)", words)
    if name:
        return name.end()
    depth = 0
    for i, c in enumerate(words):
        depth += (c in "[{") - (c in "]}")
        if depth < 0 or (depth == 0 and c == ","):
            return i
        if depth == 0 and c in "]}":
            return i + 1
    return len(words)


def _single(words: str) -> str:
    """Runs of blanks as one: recipes are set out in columns."""
    return re.sub(r"\s+", " ", words)


def facts(f: Finding) -> list[str]:
    """Check, piece, place and numbers of a finding, a phrase each."""
    words = [f.check, f.piece or f.step]
    if f.at_mm:
        words.append(f"x {f.at_mm[0]:.1f}, y {f.at_mm[1]:.1f}" + (f", {f.face}" if f.face else ""))
    if f.measured is not None:
        limit = f", limit {f.limit:.2f}" if f.limit is not None else ""
        words.append(f"measured {f.measured:.2f}{limit} {f.unit}")
    return [w for w in words if w]


def acceptance(f: Finding) -> str:
    """Who accepts a finding, since when and why, as one sentence."""
    who = f" by {f.accepted_by}" if f.accepted_by else ""
    since = f" since revision {f.accepted_since}" if f.accepted_since else ""
    return f"Accepted{who}{since}: {f.accepted}"
