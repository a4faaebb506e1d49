"""The best order of one visit to a machine: fewest set-up changes (flips), then fewest tool changes.

Up to `EXACT` operations the order is the best there is; beyond that it is made by the rule of trade notes 13.3,
and is still the best where it comes down to a bound that no order can pass. Both do first all that is ready for
the set-up and tool in hand: bringing an operation forward to where it costs nothing can't make the rest dearer,
because a change costs the same whatever it leads from (the cost is a metric). Of equally good orders the answer
is the one that carries on with what is in hand and then takes the earlier operations of the list.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

EXACT = 20
"""Up to so many operations of one visit the order is proven to be the best."""
STATES = 200_000
"""States looked at before the search gives up: only links that go to and fro between set-ups need so many."""
ANY = 1 << 30
Operation = tuple[str, str]
"""(set-up, tool); an empty one leaves what is in hand as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """An order of the operations as their places in the list; ``exact``: none has fewer changes.

    The first set-up and the first tool are no changes. ``set_ups`` and ``tools`` count changes.
    """

    order: tuple[int, ...]
    set_ups: int
    tools: int
    exact: bool


class GaveUp(Exception):
    """The search has looked at as many states as it may."""


def best_order(operations: Sequence[Operation], before: Iterable[tuple[int, int]], *, exact: int = EXACT) -> Found:
    """The order of operations, by their places in the list; ``before`` holds pairs (a, b): a comes before b.

    Raises ValueError when operations wait for one another. Ties go to the place in the list.
    """
    return _best(tuple(operations), frozenset(before), exact)


@lru_cache(maxsize=512)  # variants and prices ask for the same visits again
def _best(operations: tuple[Operation, ...], before: frozenset[tuple[int, int]], exact: int) -> Found:
    visit = Visit(operations, before)
    told = visit.by_rule()
    least = visit.least(0, "", "")
    if len(operations) > exact:
        proven = (told.set_ups, told.tools) == least
        return Found(order=told.order, set_ups=told.set_ups, tools=told.tools, exact=proven)
    from pipeline.workshop.order_set_ups import by_set_ups

    found = by_set_ups(operations, before)
    if found is not None:
        return found
    try:
        return visit.exactly(told, least)
    except GaveUp:
        return told


class Visit:
    """Operations as bits, what each waits for, and how often set-ups and tools must still be taken at least."""

    def __init__(self, operations: Sequence[Operation], before: Iterable[tuple[int, int]]) -> None:
        self.n = len(operations)
        self.set_up = [s for s, _ in operations]
        self.tool = [t for _, t in operations]
        self.needs = [0] * self.n
        self.follow: list[list[int]] = [[] for _ in operations]
        for a, b in sorted(before):
            self.needs[b] |= 1 << a
            self.follow[a].append(b)
        upward = self._upward()
        self.set_up_blocks = blocks(upward, self.follow, self.set_up)
        self.tool_blocks = blocks(upward, self.follow, self.tool)
        both = [f"{s}\0{t}" if s and t else "" for s, t in operations]
        self.pair_blocks = blocks(upward, self.follow, both)
        self.all = (1 << self.n) - 1
        self.left = STATES

    def _upward(self) -> list[int]:
        """All operations, each before those that it waits for: the last ones come first."""
        waits = [n.bit_count() for n in self.needs]
        ready = [i for i in range(self.n) if not waits[i]]
        for i in ready:
            for x in self.follow[i]:
                waits[x] -= 1
                if not waits[x]:
                    ready.append(x)
        if len(ready) < self.n:
            raise ValueError("these operations wait for one another")
        return ready[::-1]

    def ready(self, done: int) -> list[int]:
        return [i for i, needs in enumerate(self.needs) if not done >> i & 1 and needs & done == needs]

    def carried_on(self, done: int, set_up: str, tool: str) -> tuple[int, list[int]]:
        """What is done after all that can be done with what is in hand; what that was, in its order."""
        did: list[int] = []
        fits = [
            i
            for i in range(self.n)
            if not done >> i & 1 and self.set_up[i] in (set_up, "") and self.tool[i] in (tool, "")
        ]
        while True:
            for i in fits:
                if not done >> i & 1 and self.needs[i] & done == self.needs[i]:
                    did.append(i)
                    done |= 1 << i
                    break
            else:
                return done, did

    def choices(self, done: int, set_up: str, tool: str) -> list[tuple[str, str, int]]:
        """What could be taken next: (set-up, tool, first operation), in the order of the list."""
        found: dict[tuple[str, str], int] = {}
        for i in self.ready(done):
            found.setdefault((self.set_up[i] or set_up, self.tool[i] or tool), i)
        return [(s, t, i) for (s, t), i in found.items()]

    def least(self, done: int, set_up: str, tool: str, most_set_ups: int = ANY) -> tuple[int, int]:
        """Changes that are at least still to come, of set-ups and of tools.

        A chain of operations in which a tool comes up in b separate blocks needs that tool b times, or b - 1
        when it is in hand and the chain begins with it; different tools are taken at different times. The same
        holds for pairs of set-up and tool, where each block begins with a change of one of the two: so there are
        as many tool changes as such blocks, less the set-up changes that are allowed (``most_set_ups``).
        """
        ready = self.ready(done)
        tools = _sum(ready, self.tool_blocks, tool)
        pairs = _sum(ready, self.pair_blocks, f"{set_up}\0{tool}" if set_up and tool else "") - most_set_ups
        return _sum(ready, self.set_up_blocks, set_up), max(tools, pairs)

    def by_rule(self) -> Found:
        """Stay with set-up and tool while an operation is ready; else stay with the set-up, and take the tool
        with which most can be done in a row; ties to the first of the list."""
        done, set_up, tool = 0, "", ""
        order: list[int] = []
        set_ups = tools = 0
        while True:
            done, did = self.carried_on(done, set_up, tool)
            order += did
            if done == self.all:
                return Found(order=tuple(order), set_ups=set_ups, tools=tools, exact=False)
            ways = self.choices(done, set_up, tool)
            ways = [w for w in ways if w[0] == set_up] or ways
            s, t, _ = max(ways, key=lambda w: (len(self.carried_on(done, w[0], w[1])[1]), -w[2]))
            set_ups += s != set_up and bool(set_up)
            tools += t != tool and bool(tool)
            set_up, tool = s, t

    def exactly(self, told: Found, least: tuple[int, int]) -> Found:
        """The best order, which is no worse than ``told`` and no better than ``least``. May raise GaveUp."""
        set_ups = next((f for f in range(least[0], told.set_ups) if self.within(f, ANY)), told.set_ups)
        for tools in range(least[1], told.tools + 1 if set_ups == told.set_ups else self.n):
            order = self.within(set_ups, tools)
            if order is not None:
                return Found(order=order, set_ups=set_ups, tools=tools, exact=True)
        raise AssertionError("the changes of the order by the rule are enough")

    def within(
        self, set_ups: int, tools: int, start: Operation = ("", ""), end: str = ""
    ) -> tuple[int, ...] | None:
        """The first order with at most so many changes, from a set-up and tool in hand, that ends with the tool
        ``end`` (any when empty); None when there is none. May raise GaveUp."""
        failed: dict[tuple[int, str, str, int], int] = {}

        def search(done: int, set_up: str, tool: str, f: int, c: int) -> list[int] | None:
            done, did = self.carried_on(done, set_up, tool)
            if done == self.all:
                return did if end in ("", tool) else None
            key = (done, set_up, tool, f)
            if failed.get(key, -1) >= c:
                return None
            self.left -= 1
            if not self.left:
                raise GaveUp
            least = self.least(done, set_up, tool, f)
            if least[0] <= f and least[1] <= c:
                for s, t, _ in self.choices(done, set_up, tool):
                    f2 = f - (s != set_up and bool(set_up))
                    c2 = c - (t != tool and bool(tool))
                    if f2 >= 0 and c2 >= 0:
                        rest = search(done, s, t, f2, c2)
                        if rest is not None:
                            return did + rest
            failed[key] = c
            return None

        found = search(0, *start, set_ups, tools)
        return None if found is None else tuple(found)


def blocks(upward: list[int], follow: list[list[int]], held: list[str]) -> list[tuple[dict[str, int], ...]]:
    """For each operation and each thing held (set-up or tool): in how many separate blocks it comes up along
    the chains that begin with that operation, at most; first when it isn't in hand before, then when it is."""
    kinds = sorted({h for h in held if h})
    found: list[tuple[dict[str, int], ...]] = [()] * len(held)
    for i in upward:
        own = held[i]
        rows: tuple[dict[str, int], dict[str, int]] = ({}, {})
        for kind in kinds:
            for in_hand in (0, 1):
                still = in_hand if not own else int(own == kind)
                later = max((found[x][still][kind] for x in follow[i]), default=0)
                rows[in_hand][kind] = later + (own == kind and not in_hand)
        found[i] = rows
    return found


def _sum(ready: list[int], found: list[tuple[dict[str, int], ...]], held: str) -> int:
    """How often things must be taken at least; the very first one is no change."""
    if not ready:
        return 0
    most = 0
    for kind in found[ready[0]][0]:
        in_hand = int(kind == held)
        most += max(found[i][in_hand][kind] for i in ready)
    return most if held else max(0, most - 1)
