"""What is said of a nested sheet: in which order it is cut, and what of it is worth keeping."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pipeline.steps.values import Leftover, Nest

ORDER = "Cut openings before outsides, small parts before large ones."


def order_lines(nest: Nest) -> Iterator[str]:
    """The rule, and each part that lies in an opening of another."""
    if len(nest.placements) > 1:
        yield ORDER
    names = [p.piece for p in nest.placements]
    for cut in nest.cuts:
        if cut.work == "CUT_INSIDE" and cut.inner:
            inside = _counted([names[k] for k in cut.inner])
            yield f"{inside} lie in an opening of {names[cut.placement]}: cut them out before that opening."


def leftover_lines(nest: Nest) -> Iterator[str]:
    """One line for each rectangle that is worth keeping."""
    for left in nest.leftovers:
        yield f"Worth keeping: {leftover_words(left)}."


def leftover_words(left: Leftover) -> str:
    """A rectangle's size and where it lies."""
    x, y, w, h = left.box
    of = f" out of an opening of {left.piece}" if left.kind == "drop-out" else ""
    return f"{w:.0f} x {h:.0f} at x {x:.0f}, y {y:.0f}{of}"


def spare_words(nest: Nest) -> str:
    """The spares on a sheet; empty where there are none."""
    names = [p.piece for p in nest.placements if p.spare]
    return _counted(names) if names else ""


def _counted(names: Sequence[str]) -> str:
    """ "2 of a, b": names with how many there are of each."""
    once = dict.fromkeys(names)
    return ", ".join(f"{names.count(n)} of {n}" if names.count(n) > 1 else n for n in once)
