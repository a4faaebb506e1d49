"""From operations and words to files: layers in order, the legend, what stands beside; a laser's two files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from pipeline.core.shop import Shop
from pipeline.packet import legend
from pipeline.packet.beside import beside
from pipeline.packet.entries import Entry
from pipeline.packet.layers import LASER_WORKS, WORKS, shop_layer
from pipeline.packet.shop_file import Drawn, Kind, ShopFile, Words
from pipeline.packet.written import Bounds, bounds_of

PAGE_MARGIN_MM = 2.0
"""Paper around the lines of a picture, so that the outermost ones show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What goes into one file (a laser's: two): see ShopFile. ``lines`` begin its legend; ``sheet`` is the
    rectangle of a nested sheet."""

    shop: Shop
    stem: str
    kind: Literal["set-up", "nest"]
    subjects: tuple[tuple[str, str], ...]
    entries: tuple[Entry, ...]
    words: tuple[Words, ...]
    lines: tuple[str, ...]
    blank: bool = False
    sheet: Bounds | None = None


def assembled(plan: Plan) -> list[ShopFile]:
    """The file of a router, or the cut file and the reference of a laser."""
    layers, lines = _layers(plan), _legend(plan)
    if plan.shop.process != "laser":
        return [_worded(plan, plan.stem, plan.kind, layers, lines)]
    cut = [v for v in layers if v.work in LASER_WORKS]
    # Beside what a laser must not cut, the reference shows what it does cut, for the eye.
    name = shop_layer("REFERENCE", plan.shop)
    shown = [replace(v, name=name, ours="REFERENCE", work="REFERENCE") for v in cut]
    rest = _merged([*(v for v in layers if v.work not in LASER_WORKS), *shown])
    return [
        _file(plan, plan.stem, plan.kind, cut, (), lines, plan.sheet),
        _worded(plan, f"{plan.stem}_reference", "reference", rest, lines),
    ]


def _layers(plan: Plan) -> list[Drawn]:
    """One for each of our layer names, in the order of works."""
    by_name: dict[str, list[Entry]] = {}
    for e in sorted(plan.entries, key=lambda e: WORKS.index(e.op.work)):
        by_name.setdefault(e.name, []).append(e)
    return [
        Drawn(
            name=shop_layer(name, plan.shop),
            ours=name,
            work=entries[0].op.work,
            curves=tuple(c for e in entries for c in e.curves),
            depth_mm=entries[0].op.depth_mm,
        )
        for name, entries in by_name.items()
    ]


def _legend(plan: Plan) -> tuple[str, ...]:
    ordered = sorted(plan.entries, key=lambda e: WORKS.index(e.op.work))
    first = {e.name: e.op for e in reversed(ordered)}
    names = list(dict.fromkeys(e.name for e in ordered))
    count = {n: sum(len(e.curves) for e in ordered if e.name == n) for n in names}
    return legend.wrapped(
        [
            *plan.lines,
            legend.UNITS,
            *legend.layer_lines((shop_layer(n, plan.shop), first[n], count[n]) for n in names),
            *(r for e in ordered if e.ramp for r in legend.ramp_lines(shop_layer(e.name, plan.shop), e.ramp)),
            legend.CAUTION,
            legend.process_caution(plan.shop),
        ]
    )


def _merged(layers: Sequence[Drawn]) -> list[Drawn]:
    """Layers of the same name as one, in the order of works."""
    by_name: dict[str, Drawn] = {}
    for v in layers:
        had = by_name.get(v.name)
        by_name[v.name] = replace(v, curves=(*had.curves, *v.curves), depth_mm=None) if had else v
    return sorted(by_name.values(), key=lambda v: WORKS.index(v.work))


def _worded(plan: Plan, stem: str, kind: Kind, layers: Sequence[Drawn], lines: tuple[str, ...]) -> ShopFile:
    """A file with its legend and check square beside what it shows."""
    around = bounds_of(tuple(c for v in layers for c in v.curves)) or (0.0, 0.0, 0.0, 0.0)
    square, frame, said = beside(around, lines)
    check = shop_layer("CHECK_SQUARE", plan.shop)
    more = [
        *layers,
        Drawn(name=check, ours="CHECK_SQUARE", work="CHECK_SQUARE", curves=square),
        Drawn(name=shop_layer("TEXT", plan.shop), ours="TEXT", work="TEXT", curves=frame),
    ]
    return _file(plan, stem, kind, more, (*plan.words, *said), lines, None)


def _file(
    plan: Plan,
    stem: str,
    kind: Kind,
    layers: Sequence[Drawn],
    words: tuple[Words, ...],
    lines: tuple[str, ...],
    page: Bounds | None,
) -> ShopFile:
    bounds = bounds_of(tuple(c for v in layers for c in v.curves)) or (0.0, 0.0, 0.0, 0.0)
    m = PAGE_MARGIN_MM
    return ShopFile(
        shop=plan.shop.name,
        stem=stem,
        flavour=plan.shop.dxf,
        kind=kind,
        subjects=plan.subjects,
        blank=plan.blank,
        layers=tuple(layers),
        words=words,
        text_layer=shop_layer("TEXT", plan.shop),
        lines=lines,
        bounds=bounds,
        page=page or (bounds[0] - m, bounds[1] - m, bounds[2] + m, bounds[3] + m),
    )
