"""letter.txt: the message to send with the files, one part for each shop, honest about open questions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence

from pipeline.core.findings import Finding, worst_first
from pipeline.core.recipe import Recipe
from pipeline.core.verdict import Verdict
from pipeline.packet.changes import since_key
from pipeline.packet.layers import two_decimals
from pipeline.packet.legend import CAUTION
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_sheet_seen import Shown, shown
from pipeline.steps.values import Blank, Derived, Nest, Piece

WIDTH = 92


def letter_text(
    derived: Derived,
    files: Sequence[ShopFile],
    nests: Sequence[Nest],
    findings: Iterable[Finding],
    *,
    held: bool,
    since: Mapping[str, str],
    recut: Sequence[Verdict] = (),
) -> str:
    """The letter. ``since`` maps pieces and blanks (`changes.since_key`) to the revision they are unchanged since
    (absent: this one); ``recut`` are verdicts on what was cut before."""
    shops = list(dict.fromkeys(f.shop for f in files))
    asks = [f for f in worst_first(tuple(findings)) if f.severity == "ask" and not f.accepted]
    sheets = {(s.file.shop, s.file.stem): s for s in shown(derived, files, nests)}
    parts = []
    if held:
        parts.append(_filled("HELD: this packet is not released. Nothing of it should be cut or sent yet.", ""))
    for k, shop in enumerate(shops):
        if k:
            parts.append("-" * WIDTH)
        mine = [f for f in files if f.shop == shop]
        questions = [f for f in asks if _concerns(f, shop, derived)]
        parts.append(_to_shop(derived, shop, mine, nests, questions, since, sheets, recut))
    if not shops:
        parts.append("This packet holds no files for a shop.")
    return "\n\n".join(parts) + "\n"


def _to_shop(
    derived: Derived,
    shop: str,
    files: Sequence[ShopFile],
    nests: Sequence[Nest],
    asks: Sequence[Finding],
    since: Mapping[str, str],
    sheets: Mapping[tuple[str, str], Shown],
    recut: Sequence[Verdict],
) -> str:
    recipe = derived.recipe
    variant = f", variant {recipe.variant}" if recipe.variant else ""
    things = {(v.name, isinstance(v, Blank)): v for v in _things(derived)}
    lines = [
        f"To the shop: {_plain(shop)}",
        f"About: {_plain(recipe.title or recipe.design)}; design {recipe.design}{variant}, "
        f"revision {recipe.revision}",
        "",
        "Good day,",
        "",
        _filled(
            f"Here are the files of revision {recipe.revision}. All drawings are full size in millimetres, "
            "one file for each set-up or sheet, drawn as the work lies on the machine. Each file says what is "
            "included in its lines and where its zero stands. shop-sheet.pdf has a page for each of them, to lie "
            "beside the machine: depths, tools, and what to gauge.",
            "",
        ),
        "",
        "Files",
    ]
    for f in files:
        lines.append(_filled(f"{f.stem} ({', '.join(f.formats)}): {_what(f, things, sheets)}", "  "))
    lines += ["", "Material, by our own layout", *_materials([n for n in nests if n.shop == shop])]
    lines += ["", "What changed", *_changes(files, recipe, since), *_in_hand(files, recut), "", "Questions"]
    if not asks:
        lines.append("  None.")
    else:
        lines.append("  Please tell us what you think. Where we hear nothing, the answer given here holds.")
    for n, ask in enumerate(asks, 1):
        lines.append(_filled(f"{n}. {_question(ask)}", "  "))
        lines.append(_filled("Our answer if we hear nothing: cut it as drawn.", "     "))
        if ask.remedy:
            lines.append(_filled(f"What else could be done: {_sentence(ask.remedy)}", "     "))
    lines += ["", _filled(CAUTION, ""), "", "Thank you."]
    if recipe.by.owner:
        lines += [_plain(recipe.by.owner)]
    return "\n".join(lines)


def _what(
    f: ShopFile, things: Mapping[tuple[str, bool], Piece | Blank], sheets: Mapping[tuple[str, str], Shown]
) -> str:
    if f.kind == "reference":
        return "to look at, not to cut: what the cut file beside it must not hold."
    if f.kind == "nest":
        return _on_sheet(sheets.get((f.shop, f.stem)))
    name, face = f.subjects[0]
    thing = things[name, f.blank]
    thick = f"{two_decimals(thing.thickness_mm)} thick, {thing.count} to make, {face} up."
    if isinstance(thing, Piece):
        return f"{name}, {thing.sheet} {thing.letter}, {thick}"
    return f"glued blank {name}, {thick}"


def _on_sheet(sheet: Shown | None) -> str:
    """The material of a nested sheet and how many of each part lie on it."""
    if sheet is None or sheet.nest is None:
        return "one sheet without parts."
    counts: dict[str, int] = {}
    for seen in sheet.seen:
        counts[seen.thing.name] = counts.get(seen.thing.name, 0) + 1
    parts = ", ".join(f"{n} of {name}" if n > 1 else name for name, n in counts.items())
    stock = f"{sheet.nest.sheet} {sheet.nest.letter}".strip()
    return f"one sheet of {stock}, {two_decimals(sheet.nest.thickness_mm)} thick, with {parts}."


def _materials(nests: Sequence[Nest]) -> list[str]:
    """One line for each stock and size: how many sheets, how thick."""
    counts: dict[str, int] = {}
    for n in nests:
        size = " x ".join(str(two_decimals(v)) for v in n.size)
        what = f"{n.sheet} {n.letter}".strip()
        line = f"{what}, {size}, measured {two_decimals(n.thickness_mm)} thick"
        counts[line] = counts.get(line, 0) + 1
    if not counts:
        return ["  No sheets; the glued blanks come from us."]
    return [_filled(f"{line}: {n} {'sheet' if n == 1 else 'sheets'}.", "  ") for line, n in counts.items()]


def _changes(files: Sequence[ShopFile], recipe: Recipe, since: Mapping[str, str]) -> list[str]:
    names = dict.fromkeys((name, f.blank) for f in files for name, _ in f.subjects)
    last = {(n, blank): since.get(since_key(n, blank=blank), recipe.revision) for n, blank in names}
    old = [(n, r) for (n, _), r in last.items() if r != recipe.revision]
    new = dict.fromkeys(n for (n, _), r in last.items() if r == recipe.revision)
    lines = [_filled(f"New or changed with revision {recipe.revision}: {', '.join(new) or 'nothing'}.", "  ")]
    for revision in dict.fromkeys(r for _, r in old):
        same = ", ".join(n for n, r in old if r == revision)
        lines.append(
            _filled(f"Not changed since revision {revision}: {same}. No need to program these again.", "  ")
        )
    return lines


def _in_hand(files: Sequence[ShopFile], recut: Sequence[Verdict]) -> list[str]:
    """What of this shop's was cut before and stays valid, and how many are still to make (trade.md 12.4)."""
    mine = {(name, f.blank) for f in files for name, _ in f.subjects}
    about = [v for v in recut if (v.piece, v.blank) in mine]
    if not about:
        return []
    lines = ["", "Already cut"]
    for v in about:
        said = f"{v.said}, cut from revision {v.revision}: "
        said += f"stays valid ({v.what})" if v.stays else f"no longer valid ({v.what})"
        lines.append(_filled(f"{said}; still to make: {v.to_make or 'none'}.", "  "))
    return lines


def _question(f: Finding) -> str:
    where = ", ".join(
        w
        for w in (
            f.piece or f.step,
            f.face,
            f"near x {f.at_mm[0]:.2f}, y {f.at_mm[1]:.2f} of the design" if f.at_mm else "",
        )
        if w
    )
    numbers = "; ".join(
        f"{what} {value:.2f} {f.unit}"
        for what, value in (("measured", f.measured), ("limit", f.limit))
        if value is not None
    )
    return f"{where}: {_sentence(f.message)}{f' ({numbers})' if numbers else ''}"


def _concerns(f: Finding, shop: str, derived: Derived) -> bool:
    """True when the shop cuts the piece, or anything of the step, that a finding speaks of.

    What the drawing lacks and how covers sit is the maker's own business.
    """
    if f.check.startswith(("drawing-", "cover-", "smooth-", "chambers-")):
        return False
    mine = [v for v in _things(derived) if v.shop == shop]
    if f.piece:
        return any(v.name == f.piece for v in mine)
    steps = {v.step for v in mine} | {op.step for v in mine for s in v.set_ups for op in s.ops}
    return f.step in steps


def _things(derived: Derived) -> list[Piece | Blank]:
    return [*derived.pieces, *derived.blanks]


def _sentence(text: str) -> str:
    plain = _plain(text).strip()
    return plain if plain.endswith((".", "?", "!")) else plain + "."


def _plain(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _filled(text: str, indent: str) -> str:
    return textwrap.fill(
        _plain(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  " if indent else "",
        break_on_hyphens=False,
    )
