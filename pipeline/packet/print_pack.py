"""Small things on as few pages as hold them: rectangles with room between them, by the largest free rectangles.

The free area of a page is kept as the set of all largest empty rectangles; each thing goes where its shorter side
leaves the least (the "maximal rectangles, best short side fit" of the packing literature). Few things are tried in
every order, many in some good ones; the fewest pages win, then the least height of the last one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

GAP_MM = 4.0
SORTED = 5
"""Ways to sort many things."""
ALL_ORDERS = 6
"""Up to so many things every order is tried: 720 of them."""
CLOSE_MM = 1e-6

Rect = tuple[float, float, float, float]
"""(x, y, width, height) mm, y down from the top of the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where thing number ``thing`` lies: page, upper left corner from the page's; ``turned`` by 90°."""

    thing: int
    page: int
    x: float
    y: float
    turned: bool


def packed(
    sizes: Sequence[tuple[float, float]], page: tuple[float, float], *, gap: float = GAP_MM
) -> tuple[Spot, ...] | None:
    """Places for all rectangles (width, height), or None where one of them fits on no page."""
    best: tuple[Spot, ...] | None = None
    score = (0, 0.0)
    area = sum((w + gap) * (h + gap) for w, h in sizes) / ((page[0] + gap) * (page[1] + gap))
    least = max(1, math.ceil(area - CLOSE_MM))
    for n, order in enumerate(_orders(sizes)):
        if n >= SORTED and score[0] + 1 == least:
            break  # no order needs fewer pages
        found = _in_order(sizes, order, page, gap)
        if found is None:
            return None
        last = max((s.page for s in found), default=0)
        low = max((s.y + sizes[s.thing][0 if s.turned else 1] for s in found if s.page == last), default=0.0)
        if best is None or (last, round(low, 6)) < score:
            best, score = found, (last, round(low, 6))
    return best


def _orders(sizes: Sequence[tuple[float, float]]) -> Iterator[tuple[int, ...]]:
    n = range(len(sizes))
    for key in (
        lambda i: (-sizes[i][0] * sizes[i][1], i),
        lambda i: (-max(sizes[i]), -min(sizes[i]), i),
        lambda i: (-min(sizes[i]), -max(sizes[i]), i),
        lambda i: (-sizes[i][0] - sizes[i][1], i),
        lambda i: (-sizes[i][1], -sizes[i][0], i),
    ):
        yield tuple(sorted(n, key=key))
    if len(sizes) <= ALL_ORDERS:
        yield from permutations(n)


def _in_order(
    sizes: Sequence[tuple[float, float]], order: Sequence[int], page: tuple[float, float], gap: float
) -> tuple[Spot, ...] | None:
    whole: Rect = (0.0, 0.0, page[0] + gap, page[1] + gap)
    pages: list[list[Rect]] = []
    found: list[Spot] = []
    for i in order:
        w, h = sizes[i][0] + gap, sizes[i][1] + gap
        choice = min((v for k, free in enumerate(pages) for v in _fits(free, w, h, k)), default=None)
        if choice is None:
            pages.append([whole])
            choice = min(_fits([whole], w, h, len(pages) - 1), default=None)
            if choice is None:
                return None
        k, _, _, y, x, turned = choice
        a, b = (h, w) if turned else (w, h)
        pages[k] = _less(pages[k], (x, y, a, b))
        found.append(Spot(thing=i, page=k, x=x, y=y, turned=turned))
    return tuple(sorted(found, key=lambda s: s.thing))


def _fits(
    free: Sequence[Rect], w: float, h: float, page: int
) -> Iterator[tuple[int, float, float, float, float, bool]]:
    """(page, what the shorter side leaves, what the longer leaves, y, x, turned) of every way that fits."""
    for x, y, fw, fh in free:
        for turned in (False, True):
            a, b = (h, w) if turned else (w, h)
            if a <= fw + CLOSE_MM and b <= fh + CLOSE_MM:
                rest = sorted((fw - a, fh - b))
                yield page, round(rest[0], 6), round(rest[1], 6), y, x, turned


def _less(free: Sequence[Rect], used: Rect) -> list[Rect]:
    """The largest free rectangles when one more is used."""
    ux, uy, uw, uh = used
    cut: list[Rect] = []
    for x, y, w, h in free:
        if ux >= x + w - CLOSE_MM or ux + uw <= x + CLOSE_MM or uy >= y + h - CLOSE_MM or uy + uh <= y + CLOSE_MM:
            cut.append((x, y, w, h))
            continue
        if ux > x + CLOSE_MM:
            cut.append((x, y, ux - x, h))
        if ux + uw < x + w - CLOSE_MM:
            cut.append((ux + uw, y, x + w - ux - uw, h))
        if uy > y + CLOSE_MM:
            cut.append((x, y, w, uy - y))
        if uy + uh < y + h - CLOSE_MM:
            cut.append((x, uy + uh, w, y + h - uy - uh))
    return [
        r
        for i, r in enumerate(cut)
        if not any(_holds(o, r) and (o != r or j < i) for j, o in enumerate(cut) if j != i)
    ]


def _holds(a: Rect, b: Rect) -> bool:
    return (
        a[0] <= b[0] + CLOSE_MM
        and a[1] <= b[1] + CLOSE_MM
        and a[0] + a[2] >= b[0] + b[2] - CLOSE_MM
        and a[1] + a[3] >= b[1] + b[3] - CLOSE_MM
    )
