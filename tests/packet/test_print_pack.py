"""Small things on few pages: never over each other or over the edge, and no page too many where that is known."""

from __future__ import annotations

import math
import random
from itertools import combinations

import pytest

from pipeline.packet.print_pack import packed

PAGE = (281.0, 194.0)


def boxes(sizes, spots):  # type: ignore[no-untyped-def]
    for s in spots:
        w, h = sizes[s.thing][::-1] if s.turned else sizes[s.thing]
        yield s.page, s.x, s.y, s.x + w, s.y + h


def test_nothing_overlaps_or_hangs_over() -> None:
    """200 random heaps: inside the page, 4 mm apart, every thing once, never fewer pages than the areas fill."""
    rng = random.Random(11)
    for _ in range(200):
        sizes = [(rng.uniform(5, 190), rng.uniform(5, 120)) for _ in range(rng.randint(1, 14))]
        spots = packed(sizes, PAGE)
        assert spots is not None
        assert [s.thing for s in spots] == list(range(len(sizes)))
        placed = list(boxes(sizes, spots))
        for _, x0, y0, x1, y1 in placed:
            assert x0 >= -1e-6
            assert y0 >= -1e-6
            assert x1 <= PAGE[0] + 1e-6
            assert y1 <= PAGE[1] + 1e-6
        for a, b in combinations(placed, 2):
            if a[0] == b[0]:
                apart = max(a[1] - b[3], b[1] - a[3], a[2] - b[4], b[2] - a[4])
                assert apart >= 4.0 - 1e-6
        pages = max(s.page for s in spots) + 1
        area = sum((w + 4) * (h + 4) for w, h in sizes) / ((PAGE[0] + 4) * (PAGE[1] + 4))
        assert math.ceil(area - 1e-9) <= pages
        assert {s.page for s in spots} == set(range(pages))


def cut_up(rng: random.Random, x: float, y: float, n: int) -> list[tuple[float, float]]:
    """A rectangle cut edge to edge into n, with gaps of 4 between."""
    if n == 1:
        return [(x, y)]
    k = rng.randint(1, n - 1)
    if x > y:
        at = rng.uniform(0.25, 0.75) * (x - 4)
        return cut_up(rng, at, y, k) + cut_up(rng, x - 4 - at, y, n - k)
    at = rng.uniform(0.25, 0.75) * (y - 4)
    return cut_up(rng, x, at, k) + cut_up(rng, x, y - 4 - at, n - k)


@pytest.mark.parametrize("seed", range(20))
def test_what_was_one_page_comes_back_as_one(seed: int) -> None:
    """Pages cut into 2 to 5 things, shuffled and turned, are one page: nothing to spare, so the order matters."""
    rng = random.Random(seed)
    sizes = [s[::-1] if rng.random() < 0.5 else s for s in cut_up(rng, *PAGE, 2 + seed % 4)]
    rng.shuffle(sizes)
    spots = packed(sizes, PAGE)
    assert spots is not None
    assert {s.page for s in spots} == {0}


def test_what_is_too_large_is_told() -> None:
    assert packed([(10, 10), (282, 10)], (281, 194)) is None
    assert packed([(10, 282)], (281, 194)) is None
    turned = packed([(190, 280)], PAGE)
    assert turned is not None
    assert turned[0].turned
