"""The page of a comparison, ``<design>.compare.html``: self-contained, without scripts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

from pipeline.compare.changes import Change
from pipeline.compare.comparison import Comparison
from pipeline.compare.measure import clock, signed, spot
from pipeline.compare.picture import STYLE as PICTURE_STYLE
from pipeline.compare.picture import pictures
from pipeline.compare.recut import still_to_make
from pipeline.compare.recut_page import STYLE as RECUT_STYLE
from pipeline.compare.recut_page import recut_section
from pipeline.compare.rigid import said
from pipeline.compare.things import Compared, size_of
from pipeline.compare.words import STATES, name_of
from pipeline.packet.disk import plainly

STYLE = """
:root{color-scheme:light}
body{font:16px/1.5 system-ui,sans-serif;color:#1b1b1b;background:#fbfaf7;margin:0}
main{max-width:72rem;margin:0 auto;padding:1rem 1.2rem 4rem}
h1{font-size:1.6rem;margin:.5rem 0}h2{font-size:1.25rem;margin:2.2rem 0 .6rem;border-bottom:2px solid #ddd6c8}
h3{font-size:1.05rem;margin:1.6rem 0 .3rem}
table{border-collapse:collapse;width:100%;background:#fff;font-size:.94rem}
th,td{text-align:left;padding:.3rem .6rem;border-bottom:1px solid #e6e0d4;vertical-align:top}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
.wide{overflow-x:auto}.figures{display:flex;flex-wrap:wrap;gap:1rem;margin:.6rem 0}
figure{margin:0;max-width:100%}figcaption{font-size:.9rem;color:#3a3a3a}
figure.whole{width:622px}figure.inset{width:332px}
section.piece{break-inside:avoid}
@media print{body{background:#fff;font-size:11px}main{max-width:none}}
"""


def write_page(out: Path, found: Comparison) -> Path:
    """Write the page into ``out`` and give its path. Raises MachineFailed."""
    path = out / f"{name_of(found.new)}.compare.html"
    with plainly(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(page(found), encoding="utf-8", newline="\n")
    return path


def page(found: Comparison) -> str:
    """The whole page as HTML."""
    old, new = found.old, found.new
    title = f"{name_of(new)}: revision {old.revision} against {new.revision}"
    parts = [
        f"<h1>{escape(title)}</h1>",
        f"<p>Old: {escape(old.source)}. New: {escape(new.source)}. All lengths are in millimetres, places in the "
        "design frame; 12 o'clock is up. Changes under 0.005 mm count as the same.</p>",
        _summary(found),
        _recut(found),
    ]
    changed = [t for t in found.things if t.state not in ("same",)]
    if changed:
        parts.append("<h2>Piece by piece</h2>")
        parts += [_piece(t, n) for n, t in enumerate(changed)]
    if found.work:
        rows = [(w.what, w.old or "–", w.new or "–") for w in found.work]
        parts += ["<h2>Order of work</h2>", _table("Order of work", ("What", "It was", "It is"), rows)]
    if found.totals:
        rows = [(f.what, f.old, f.new) for f in found.totals]
        parts += [
            "<h2>What it adds up to</h2>",
            _table("Totals", ("What", "It was", "It is"), rows, numbers=(1, 2)),
        ]
    body = "\n".join(p for p in parts if p)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}{PICTURE_STYLE}{RECUT_STYLE}</style></head>\n"
        f"<body><main>\n{body}\n</main></body></html>\n"
    )


def _summary(found: Comparison) -> str:
    if found.same:
        return "<p><strong>Nothing has changed.</strong></p>"
    rows = []
    for t in found.things:
        worst = t.worst
        number = f"{size_of(worst):.3f}" if worst is not None else ""
        where = f"{spot(worst.at, 1)}, {worst.clock}" if worst is not None else ""
        rows.append((t.thing.said, STATES[t.state] + (f", was {t.was}" if t.was else ""), number, where))
    return _table("Summary", ("Piece", "State", "Largest move", "Where"), rows, numbers=(2,))


def _recut(found: Comparison) -> str:
    if not found.verdicts:
        return f"<h2>What was cut</h2><p>{escape(found.unknown)}</p>" if found.unknown else ""
    wanted = still_to_make(found.new, found.verdicts)
    said_ = ", ".join(f"{n} of {t.said}" for t, n in wanted)
    more = f"<p>Still to make: {escape(said_)}.</p>" if said_ else "<p>Nothing is left to make.</p>"
    return f"<h2>What was cut: the re-cut list</h2>{recut_section(found.verdicts)}{more}"


def _piece(t: Compared, n: int) -> str:
    head = f"<h3>{escape(t.thing.said)}: {escape(STATES[t.state])}</h3>"
    notes = []
    if t.was:
        notes.append(f"It was called {t.was}.")
    if t.problem:
        notes.append(t.problem)
    if t.relabelled and t.state != "relabelled":
        notes.append("Other words or marks are engraved on it.")
    notes += [f"{f.what}: {f.old} → {f.new}." for f in t.facts]
    move = t.move
    if move is not None:
        notes.append(f"All of it lies elsewhere, the same shape: {said(move)}.")
    text = "".join(f"<p>{escape(v[:1].upper() + v[1:])}</p>" for v in notes)
    lines = [c for c in t.changed if c.holes is None]
    holes = [c for c in t.changed if c.holes is not None]
    tables = ""
    if t.state not in ("added", "gone"):
        tables = (_lines(lines, t) if lines else "") + (_holes(holes, t) if holes else "")
    return f'<section class="piece">{head}{text}{pictures(t, n)}{tables}</section>'


def _lines(changes: Sequence[Change], t: Compared) -> str:
    head = (
        "Line", "Outward", "Where", "Inward", "Where", "RMS", "Area", "Along the edge", "Lines and arcs", "Depth",
    )  # fmt: skip
    rows = []
    for c in changes:
        s, depth = c.spread, f"{c.depths[0]} → {c.depths[1]}" if c.depths else ""
        if c.state in ("added", "gone"):
            state = "new" if c.state == "added" else "gone"
            rows.append((f"{c.what}: {state}", "", spot(c.at), *[""] * 7))
            continue
        if s is None or not c.moved:
            rows.append((c.what, f"{c.worst.mm:.3f}" if c.moved else "", *[""] * 7, depth))
            continue
        ways = []
        for w in (s.outward, s.inward):
            there = w.mm >= 0.005
            ways += [f"{w.mm:.3f}" if there else "0", _where(w.at, c.centre) if there else ""]
        along = c.along
        count = f"{c.segments[0]} → {c.segments[1]}" if c.segments[0] != c.segments[1] else f"{c.segments[1]}"
        rows.append(
            (
                c.what,
                *ways,
                f"{s.rms_mm:.3f}",
                signed(c.area_mm2),
                "" if along is None else f"{along:.1f}",
                count,
                depth,
            )
        )
    return _table(f"Lines of {t.thing.said}", head, rows, numbers=(1, 3, 5, 6, 7, 8))


def _where(at: tuple[float, float], centre: tuple[float, float]) -> str:
    return f"{spot(at)}, {clock(at, centre)}"


def _holes(changes: Sequence[Change], t: Compared) -> str:
    rows = []
    for c in changes:
        assert c.holes is not None
        old, new = c.holes
        dx, dy = c.shift
        depth = f"{c.depths[0]} → {c.depths[1]}" if c.depths else ""
        wide = f"{old.diameter:.2f} → {new.diameter:.2f}" if abs(c.resized_mm) >= 0.005 else f"{new.diameter:.2f}"
        rows.append((c.what, spot(new.at), f"{dx:+.3f}", f"{dy:+.3f}", wide, depth))
    head = ("Hole", "Is at", "Moved in x", "Moved in y", "Diameter", "Depth")
    return _table(f"Holes of {t.thing.said}", head, rows, numbers=(2, 3, 4))


def _table(label: str, head: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: Sequence[int] = ()) -> str:
    top = "".join(
        f'<th scope="col"{" class=n" if i in numbers else ""}>{escape(h)}</th>' for i, h in enumerate(head)
    )
    body = []
    for row in rows:
        cells = [f'<th scope="row">{escape(row[0])}</th>']
        cells += [
            f"<td{' class=n' if i in numbers else ''}>{escape(v)}</td>" for i, v in enumerate(row[1:], start=1)
        ]
        body.append(f"<tr>{''.join(cells)}</tr>")
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(label, quote=True)}"><table>'
        f"<thead><tr>{top}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )
