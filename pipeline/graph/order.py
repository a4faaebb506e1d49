"""The order of derivation: which step is made before which, always the same one."""

from __future__ import annotations

from heapq import heapify, heappop, heappush

from pipeline.core.errors import Problem, Refused
from pipeline.core.recipe import Recipe, Step


def ordered(recipe: Recipe) -> tuple[Step, ...]:
    """The recipe's steps, each after all that it needs; between equals the name decides.

    The order depends on names and needs alone, not on where a step stands in the file. Raises
    Refused with one problem for every unknown name and for every group of steps that wait for one
    another.
    """
    unknown = [
        Problem(
            wrong=f"{step.name} needs {need} ({why}), but there is no step of that name.",
            place=step.place(why),
            expected=f"one of: {', '.join(sorted(recipe.steps))}",
        )
        for step in recipe.steps.values()
        for need, why in step.needs.items()
        if need not in recipe.steps
    ]
    if unknown:
        raise Refused(unknown)

    waits = {name: len(step.needs) for name, step in recipe.steps.items()}
    followers: dict[str, list[str]] = {name: [] for name in recipe.steps}
    for step in recipe.steps.values():
        for need in step.needs:
            followers[need].append(step.name)
    ready = [name for name, left in waits.items() if not left]
    heapify(ready)
    order: list[Step] = []
    while ready:
        name = heappop(ready)
        order.append(recipe.steps[name])
        for follower in followers[name]:
            waits[follower] -= 1
            if not waits[follower]:
                heappush(ready, follower)
    if len(order) < len(recipe.steps):
        raise Refused(_ring_problem(recipe, sorted(ring)) for ring in sorted(_rings(recipe), key=min))
    return tuple(order)


def _rings(recipe: Recipe) -> list[set[str]]:
    """The groups of steps that wait for one another."""
    import networkx as nx  # 0.1 s, so only where something is wrong

    needs = nx.DiGraph()
    needs.add_edges_from((need, step.name) for step in recipe.steps.values() for need in step.needs)
    return [
        ring
        for ring in nx.strongly_connected_components(needs)
        if len(ring) > 1 or any(needs.has_edge(name, name) for name in ring)
    ]


def walk_round(recipe: Recipe, ring: list[str]) -> tuple[str, ...]:
    """The shortest walk from the first name of ``ring`` (by the alphabet) that comes back to it.

    Each name needs the next one, the last one needs the first; ties go to the alphabet.
    """
    start = ring[0]
    inside = set(ring)
    came_from: dict[str, str] = {}
    found = [start]
    for name in found:  # breadth first, so the first way back is a shortest one
        for need in sorted(recipe.steps[name].needs):
            if need == start:
                walk = [name]
                while walk[-1] != start:
                    walk.append(came_from[walk[-1]])
                return tuple(reversed(walk))
            if need in inside and need not in came_from:
                came_from[need] = name
                found.append(need)
    raise AssertionError(f"{start} does not come back to itself")  # contradicts strong connection


def _ring_problem(recipe: Recipe, ring: list[str]) -> Problem:
    walk = walk_round(recipe, ring)
    pairs = zip(walk, (*walk[1:], walk[0]), strict=True)
    links = [(name, need, recipe.steps[name].needs[need]) for name, need in pairs]
    told = ", ".join(f"{name} needs {need} ({why})" for name, need, why in links)
    spots = ", ".join(f"{recipe.steps[name].place(why)} ({name}: {why})" for name, _, why in links)
    first = links[0]
    return Problem(
        wrong=f"these steps wait for one another, so none of them can be made first: {told}.",
        place=recipe.steps[first[0]].place(first[2]),
        expected="steps that can be made one after the other",
        remedy=f"take one of these names out: {spots}",
    )
