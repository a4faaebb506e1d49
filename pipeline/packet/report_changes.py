"""What changed since the revision that went out last: pieces and files, new or as they were."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

from pipeline.packet.changes import changed_and_same, since_key
from pipeline.packet.shop_file import ShopFile
from pipeline.steps.values import Derived


def changes(derived: Derived, files: Sequence[ShopFile], since: Mapping[str, str]) -> str:
    """The inside of the section as HTML; "" when nothing is cut.

    ``since`` maps pieces and blanks (`changes.since_key`) to the revision they are unchanged since.
    """
    now = derived.recipe.revision
    if not files:
        return ""
    pieces = [p.name for p in derived.pieces] + [since_key(b.name, blank=True) for b in derived.blanks]
    if all(since.get(name, now) == now for name in pieces):
        return f"<p>Nothing is known to be as it was: everything counts as new with revision {escape(now)}.</p>"
    changed, same = changed_and_same(files, since, now)
    rows = [
        (f"New or changed with revision {now}", [n for n in pieces if since.get(n, now) == now], changed),
        *(
            (
                f"Not changed since revision {r}: need not be programmed again",
                [n for n in pieces if since.get(n, now) == r],
                kept,
            )
            for r, kept in same.items()
        ),
    ]
    body = "".join(
        f'<tr><th scope="row">{escape(words)}</th><td>{escape(", ".join(names)) or "none"}</td>'
        f"<td>{'<br>'.join(escape(f.stem) for f in kept) or 'none'}</td></tr>"
        for words, names, kept in rows
    )
    return (
        '<div class="wide" tabindex="0" role="region" aria-label="What changed"><table><thead><tr>'
        '<th scope="col">Since when</th><th scope="col">Pieces</th><th scope="col">Files</th></tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )
