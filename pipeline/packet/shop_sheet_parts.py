"""What lies on a nested sheet: each kind of part with its mark in the picture."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.packet.layers import two_decimals
from pipeline.packet.shop_sheet_seen import Seen, Shown

MOST = 24
"""So many kinds of parts are told by mark; a sheet with more is read in its drawing, where names are engraved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One kind of part: its mark, in words, and the middle of each copy in the file's coordinates."""

    mark: str
    said: str
    places: tuple[tuple[float, float], ...]


def parts(sheet: Shown) -> tuple[Part, ...]:
    """The parts of a nest in the order in which they lie; none for a set-up of one piece or blank."""
    if sheet.nest is None:
        return ()
    by_name: dict[str, list[Seen]] = {}
    for seen in sheet.seen:
        by_name.setdefault(seen.thing.name, []).append(seen)
    return tuple(_part(f"P{n}", copies) for n, copies in enumerate(list(by_name.values())[:MOST], start=1))


def parts_words(sheet: Shown, found: tuple[Part, ...]) -> tuple[str, ...]:
    """One sentence that lists them; empty where there are none."""
    if not found:
        return ()
    more = len({seen.thing.name for seen in sheet.seen}) - len(found)
    rest = f"; {more} more kinds, named in the drawing" if more else ""
    return (f"Parts: {'; '.join(f'{p.mark} {p.said}' for p in found)}{rest}.",)


def _part(mark: str, copies: list[Seen]) -> Part:
    thing, face = copies[0].thing, copies[0].set_up.face
    x0, y0, x1, y1 = thing.region.bounds
    long, short = sorted((x1 - x0, y1 - y0), reverse=True)
    count = f"{len(copies)} × " if len(copies) > 1 else ""
    back = ", back up" if face == "back" else ""
    return Part(
        mark=mark,
        said=f"{count}{thing.name} {two_decimals(long)} × {two_decimals(short)}{back}",
        places=tuple(c.move.point((x0 + x1) / 2, (y0 + y1) / 2) for c in copies),
    )
