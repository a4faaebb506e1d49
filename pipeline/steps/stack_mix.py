"""How thick a stack gets: sheets for a wanted thickness, mixes of sheets, and what it may be off by.

trade.md 6.1 and 6.2: n laminations of a sheet t with glue lines g make n·t + (n − 1)·g (common practice, no
source); the limits of EN 315 are from memory, and agree with two mills' tables.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

MORE_PIECES = 4
"""How many pieces more than the fewest are still worth offering."""
MEASURED_MM = 0.1
"""What a sheet is off by after it was measured (trade.md 6.2; common practice, no source)."""
PLY_MM = 2.0
"""Thinner sheets are veneers: EN 315 says nothing of them, and no blank is made up of them."""


def count_for(
    wanted_mm: float, sheet_mm: float, glue_mm: float = 0.0, veneers_mm: float = 0.0
) -> tuple[int, float]:
    """(n, thickness): how many laminations of one sheet come nearest to a wanted thickness, one at least.

    n = round((T − veneers + g)/(t + g)), thickness = n·t + (n − 1)·g + veneers (trade.md 6.2).
    """
    n = max(1, math.floor((wanted_mm - veneers_mm + glue_mm) / (sheet_mm + glue_mm) + 0.5))
    return n, n * sheet_mm + (n - 1) * glue_mm + veneers_mm


def limits(nominal_mm: float) -> tuple[float, float]:
    """(thinnest, thickest) that EN 315 allows of sanded plywood: −(0.4 + 0.03 t), +(0.2 + 0.03 t)."""
    return nominal_mm - (0.4 + 0.03 * nominal_mm), nominal_mm + (0.2 + 0.03 * nominal_mm)


def bought(nominals_mm: Sequence[float], glue_mm: float = 0.0) -> tuple[float, float]:
    """(thinnest, thickest) stack of sheets bought by these nominal thicknesses, unmeasured (worst case).

    A veneer counts as it is.
    """
    ends = [limits(t) if t >= PLY_MM else (t, t) for t in nominals_mm]
    lines = (len(ends) - 1) * glue_mm
    return sum(low for low, _ in ends) + lines, sum(high for _, high in ends) + lines


def measured_error(count: int) -> float:
    """What a stack of measured sheets is likely off by, either way: √N · 0.1 mm (trade.md 6.2)."""
    return math.sqrt(count) * MEASURED_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """Sheets for one blank: their names from the back, in balanced order, and the thickness they make."""

    sheets: tuple[str, ...]
    thickness_mm: float


def mixes(sheets: Mapping[str, float], wanted_mm: float, glue_mm: float = 0.0) -> tuple[Mix, ...]:
    """Mixes of available sheets for a wanted thickness, fewest pieces first.

    Of every number of pieces the nearest one that isn't thicker and the nearest one that is, as long as it
    comes nearer than all with fewer pieces do on its side; up to MORE_PIECES beyond what the thickest sheet
    needs. Every mix of sheets is looked at, any sheet any number of times; of equal ones that with the fewest
    sheets that have no partner of their own kind (so that it can be laid in balance). What misses by more than
    half the thickest sheet is left out where anything comes nearer.
    """
    if not sheets or wanted_mm <= 0:
        return ()
    names = sorted(sheets, key=lambda n: (-sheets[n], n))
    most = math.ceil((wanted_mm + glue_mm) / (sheets[names[0]] + glue_mm)) + MORE_PIECES
    found: list[Mix] = []
    under = over = math.inf
    for count, sums in sorted(_sums(names, sheets, wanted_mm, most).items()):
        totals = sorted(
            ((um / 1000.0 + (count - 1) * glue_mm, best) for um, best in sums.items()), key=lambda v: v[0]
        )
        low = [v for v in totals if v[0] <= wanted_mm + 1e-9][-1:]
        high = [v for v in totals if v[0] > wanted_mm + 1e-9][:1]
        if low and wanted_mm - low[0][0] < under - 1e-9:
            under = wanted_mm - low[0][0]
            found.append(_mix(names, sheets, *low[0]))
        if high and high[0][0] - wanted_mm < over - 1e-9:
            over = high[0][0] - wanted_mm
            found.append(_mix(names, sheets, *high[0]))
        if under < 1e-9:
            break
    near = [m for m in found if abs(m.thickness_mm - wanted_mm) <= sheets[names[0]] / 2 + 1e-9] or found
    return tuple(sorted(near, key=lambda m: (len(m.sheets), abs(m.thickness_mm - wanted_mm), m.sheets)))


Ways = dict[int, tuple[int, tuple[int, ...]]]
"""Sum in µm → (sheets without a partner, how many of each sheet): the best way to reach it."""


def _sums(names: Sequence[str], sheets: Mapping[str, float], wanted_mm: float, most: int) -> dict[int, Ways]:
    """Every sum of up to ``most`` sheets that isn't a whole sheet too thick, by the number of sheets."""
    top = round((wanted_mm + sheets[names[0]]) * 1000)
    ways: dict[int, Ways] = {0: {0: (0, ())}}
    for name in names:
        t = round(sheets[name] * 1000)
        grown: dict[int, Ways] = {}
        for count, sums in ways.items():
            for total, (odd, counts) in sums.items():
                for more in range(most - count + 1):
                    if total + more * t > top:
                        break
                    way = (odd + more % 2, (*counts, more))
                    known = grown.setdefault(count + more, {}).get(total + more * t)
                    # Of equal ones the one with more of the thicker sheets.
                    if known is None or (way[0], [-c for c in way[1]]) < (known[0], [-c for c in known[1]]):
                        grown[count + more][total + more * t] = way
        ways = grown
    return {count: sums for count, sums in ways.items() if count}


def _mix(names: Sequence[str], sheets: Mapping[str, float], total: float, way: tuple[int, tuple[int, ...]]) -> Mix:
    listed = [n for n, count in zip(names, way[1], strict=True) for _ in range(count)]
    return Mix(sheets=balanced({n: sheets[n] for n in names}, listed), thickness_mm=total)


def balanced(thickness_mm: Mapping[str, float], listed: Sequence[str]) -> tuple[str, ...]:
    """Sheets in an order that is as symmetric about mid-plane as they allow: pairs of the same sheet outside,
    the thickest outermost; those without a partner in the middle, each opposite the one nearest to it."""
    rank = {n: (-thickness_mm[n], n) for n in thickness_mm}
    pairs: list[tuple[str, str]] = []
    single: list[str] = []
    for name in sorted(set(listed), key=lambda n: rank[n]):
        n = listed.count(name)
        pairs += [(name, name)] * (n // 2)
        single += [name] * (n % 2)
    middle: list[str] = []
    if len(single) % 2:
        # The one that is left over lies where it does nothing; the others pair off best without it.
        gaps = [
            sum(thickness_mm[a] - thickness_mm[b] for a, b in _twos(single[:i] + single[i + 1 :]))
            for i in range(len(single))
        ]
        middle = [single.pop(min(range(len(single)), key=lambda i: (gaps[i], i)))]
    pairs += _twos(single)
    return (*(a for a, _ in pairs), *middle, *(b for _, b in reversed(pairs)))


def _twos(names: Sequence[str]) -> list[tuple[str, str]]:
    return list(zip(names[::2], names[1::2], strict=True))
