"""Outlines that go out as thousands of tiny lines (trade.md 8, fault 7; 1.7).

Curves are written as few arcs; but lines that were already flattened in the drawing are taken as drawn, corner by
corner. A mean segment under 0.5 mm and more than 500 of them is a curve that lost its arcs.
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.geometry.contour import Contour

NAME = "many-segments"
MOST, MEAN_MM = 500, 0.5


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each outline or drawn cavity, at its worst contour."""
    for name, result in view.derived.results.items():
        step = view.steps.get(name)
        if step is None or not getattr(step.spec, "drawn", None) or result.region is None:
            continue
        counted = [(_kept(c), c) for c in result.region.contours]
        n, worst = max(counted, key=lambda row: row[0], default=(0, None))
        if worst is None or n <= MOST or worst.length / n >= MEAN_MM:
            continue
        x0, y0, x1, y1 = worst.bounds
        yield Finding(
            check=NAME,
            severity="ask",
            message=(
                f"{name} is drawn as {n} lines of {worst.length / n:.2f} mm on average; a machine stutters along "
                "them, and a laser burns at each."
            ),
            step=name,
            at_mm=((x0 + x1) / 2, (y0 + y1) / 2),
            measured=float(n),
            limit=float(MOST),
            unit="lines",
            remedy=(
                "draw it with curves, or have it smoothed by `smooth: 0.05`, which replaces them by few arcs"
                if step.kind == "outline"
                else "draw it with curves"
            ),
            place=view.place(name, "drawn"),
        )


def _kept(contour: Contour) -> int:
    """Segments that are written one by one: those of free-form curves are replaced by arcs."""
    return len(contour) - int(contour.free[: len(contour)].sum())
