"""The best order where each set-up can be finished in one go: dynamic programming over the sets of set-ups left.

How many tool changes the rest costs depends on what is left and on the tool in hand alone, and a wrong tool in
hand costs one change at most. So for each set of set-ups left it is enough to know the least number of changes
and with which tools in hand it is reached; with any other tool it is one more. Within a set-up the same counts
come from the search of `order_search`, for each tool to begin and to end with.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from pipeline.workshop.order_search import ANY, Found, GaveUp, Operation, Visit

MOST = 14
"""More set-ups than that aren't looked at all together."""


class _One:
    """One set-up: the tool changes of its operations from a tool in hand to the tool that it ends with."""

    def __init__(self, tools: tuple[str, ...], before: frozenset[tuple[int, int]]) -> None:
        self.tools = tools
        self.visit = Visit([("", t) for t in tools], before)
        self.known: dict[tuple[str, str, int], tuple[int, ...] | None] = {}
        self.named = list(dict.fromkeys(t for t in tools if t))
        held = {a for a, _ in before}
        last = {t for i, t in enumerate(tools) if i not in held}
        self.ends = self.named if "" in tools else [t for t in self.named if t in last]
        self.entries = self._entries()

    def order(self, start: str, end: str, changes: int) -> tuple[int, ...] | None:
        """The order from a tool in hand to another with at most so many changes."""
        key = (start, end, changes)
        if key not in self.known:
            self.known[key] = self.visit.within(0, changes, ("", start), end) if changes >= 0 else None
        return self.known[key]

    def _entries(self) -> dict[str, tuple[int, frozenset[str]]]:
        """For each tool with which it can begin: the least changes, and the tools that it then ends with."""
        found: dict[str, tuple[int, frozenset[str]]] = {}
        for start in self.named:
            if not self._begins(start):
                continue
            least = next(c for c in range(len(self.tools) + 1) if self.order(start, "", c) is not None)
            found[start] = (least, frozenset(e for e in self.ends if self.order(start, e, least) is not None))
        return found

    def _begins(self, tool: str) -> bool:
        """Is anything ready for this tool, after what needs none?"""
        return any(self.tools[i] == tool for i in self.visit.carried_on(0, "", tool)[1])


@lru_cache(maxsize=512)  # alike pieces, and what a caution leaves as it was
def _one(tools: tuple[str, ...], before: frozenset[tuple[int, int]]) -> _One:
    return _One(tools, before)


def by_set_ups(operations: Sequence[Operation], before: frozenset[tuple[int, int]]) -> Found | None:
    """The best order with each set-up in one go; None where set-ups must be gone back to, or are too many."""
    members: dict[str, list[int]] = {}
    for i, (set_up, _) in enumerate(operations):
        members.setdefault(set_up, []).append(i)
    if "" in members or not 1 < len(members) <= MOST:
        return None
    names = list(members)
    number = {m: k for k, name in enumerate(names) for m in members[name]}
    needs = [0] * len(names)
    for a, b in before:
        if number[a] != number[b]:
            needs[number[b]] |= 1 << number[a]
    try:
        ones = []
        for name in names:
            place = {m: i for i, m in enumerate(members[name])}
            inside = frozenset((place[a], place[b]) for a, b in before if a in place and b in place)
            ones.append(_one(tuple(operations[m][1] for m in members[name]), inside))
        return _Plan(ones, list(members.values()), needs).found()
    except GaveUp:
        return None


class _Plan:
    """Least tool changes for every set of set-ups that can be left."""

    def __init__(self, ones: list[_One], members: list[list[int]], needs: list[int]) -> None:
        self.ones, self.members = ones, members
        self.needs = needs
        self.full = (1 << len(ones)) - 1
        self.every = frozenset(t for one in ones for t in one.named)
        self.table: dict[int, tuple[int, frozenset[str]]] = {0: (0, self.every)}

    def found(self) -> Found | None:
        """The whole order, going forward: of equally good set-ups the first of the list."""
        if not self._possible():
            return None
        left, tool, order = self.full, "", list[int]()
        total = wanted = self.best(left)[0]
        while left:
            left, tool, did, spent = self._next(left, tool, wanted)
            order += did
            wanted -= spent
        return Found(order=tuple(order), set_ups=len(self.ones) - 1, tools=total, exact=True)

    def _possible(self) -> bool:
        left = self.full
        while left:
            ready = self.ready(left)
            if not ready:
                return False
            left &= ~sum(1 << k for k in ready)
        return True

    def ready(self, left: int) -> list[int]:
        return [k for k, needs in enumerate(self.needs) if left >> k & 1 and not needs & left]

    def best(self, left: int) -> tuple[int, frozenset[str]]:
        """The least tool changes for what is left, and the tools in hand with which there are no more."""
        known = self.table.get(left)
        if known is not None:
            return known
        costs: dict[str, int] = {}
        for k in self.ready(left):
            rest = left & ~(1 << k)
            after, good = self.best(rest)
            one = self.ones[k]
            if not one.named:  # nothing is cut: the tool in hand stays
                for t in self.every:
                    costs[t] = min(costs.get(t, ANY), after + (t not in good))
            for t, (changes, ends) in one.entries.items():
                costs[t] = min(costs.get(t, ANY), changes + after + ends.isdisjoint(good))
        least = min(costs.values(), default=0)
        known = (least, frozenset(t for t, c in costs.items() if c == least) if costs else self.every)
        self.table[left] = known
        return known

    def _next(self, left: int, tool: str, wanted: int) -> tuple[int, str, list[int], int]:
        """The first set-up with which the changes that are wanted can be kept; what is left, the tool then in
        hand, its operations, its changes."""
        for k in self.ready(left):
            rest, one = left & ~(1 << k), self.ones[k]
            after, good = self.best(rest)
            ways = []
            for end in one.ends or [tool]:
                order = one.order(tool, end, wanted - after - (end not in good and bool(end)))
                if order is not None:
                    ways.append((order, end))
            if ways:
                order, end = min(ways)
                return rest, end, [self.members[k][i] for i in order], self._changes(one, order, tool)
        raise AssertionError("the changes that are wanted can be kept")

    @staticmethod
    def _changes(one: _One, order: tuple[int, ...], tool: str) -> int:
        changes = 0
        for i in order:
            changes += bool(one.tools[i]) and bool(tool) and one.tools[i] != tool
            tool = one.tools[i] or tool
        return changes
