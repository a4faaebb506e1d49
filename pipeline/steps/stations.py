"""The stations of a neck: what each section is where the recipe says it, and what lies between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from pipeline.core.errors import Problem, refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.text import quoted
from pipeline.geometry.scale import Board
from pipeline.geometry.sections import Section, monotone
from pipeline.steps.common import few_enough, mm, place_in, refuse_all
from pipeline.steps.gauges import Spec, place_of

SAME_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One section along the neck: ``x`` from the bridge line, the ``fret`` there (whole or not, None without a
    fretboard), ``thickness`` as the recipe measures it, ``section`` below the fretboard. ``key`` is the recipe's
    own name of a stated station, "" between two of them."""

    key: str
    x: float
    fret: float | None
    thickness: float
    section: Section

    @property
    def words(self) -> str:
        """As it stands on the gauge and on the neck: ``X 215 / FRET 12``; frets only where whole."""
        whole = self.fret is not None and abs(self.fret - round(self.fret)) < 1e-6
        return f"X {mm(self.x)}" + (f" / FRET {round(self.fret or 0.0)}" if whole else "")


def places(step: Step, spec: Spec, board: Board | None) -> tuple[Place, ...]:
    """The stations in the recipe's order; with `every` all of them from the nut's end on, those between included.

    Width, thickness, exponents and lean between stations follow monotone cubics, so no one of them dips or
    swells there; a fretboard gives its own width. Raises Refused where a section can't be.
    """
    stated = [_stated(step, spec, key, board) for key in spec.stations]
    in_order = sorted(stated, key=lambda s: s.x)
    refuse_all(
        Problem(
            wrong=f"The stations {quoted(a.key)} and {quoted(b.key)} are one place, x {b.x:.2f}.",
            place=place_in(step, f"stations.{b.key}"),
            expected="each place once",
        )
        for a, b in pairwise(in_order)
        if b.x - a.x < SAME_MM
    )
    if spec.every is None:
        return tuple(stated)
    found = [in_order[0]]
    for a, b in pairwise(in_order):
        parts = ceil((b.x - a.x) / spec.every - 1e-9)
        few_enough(step, "every", parts, "gauges between two stations")
        found += [_between(in_order, a.x + (b.x - a.x) * k / parts, spec, board) for k in range(1, parts)]
        found.append(b)
    return tuple(reversed(found))


def _stated(step: Step, spec: Spec, key: str, board: Board | None) -> Place:
    station = spec.stations[key]
    what, number = place_of(key) or ("x", 0.0)
    x = board.scale.x_of(number) if what == "fret" and board else number
    path = f"stations.{key}"
    if board is not None and isinstance(spec.width, str) and not board.span[0] - 1e-6 <= x <= board.span[1] + 1e-6:
        raise refuse(
            f"The station {quoted(key)} lies at x {x:.2f}, off the fretboard {spec.width}.",
            place=place_in(step, path),
            expected=f"an x from {board.span[0]:.2f} to {board.span[1]:.2f}",
        )
    if x <= 0.0:
        raise refuse(
            f"The station {quoted(key)} lies on the bridge line.",
            place=place_in(step, path),
            expected="an x above 0",
        )
    lean = station.lean or spec.lean
    lean_mm = 0.0 if lean is None else lean.toward_bass
    width = _width(spec, board, x) if station.width is None else station.width
    if 2 * abs(lean_mm) >= width:
        raise refuse(
            f"The thickest point at {quoted(key)} would lie {abs(lean_mm):g} from the middle of {width:.2f}.",
            place=place_in(step, f"{path}.lean" if station.lean else "lean"),
            expected=f"less than {width / 2:.2f}",
        )
    bass, treble = station.bass or spec.bass, station.treble or spec.treble
    return _place(spec, board, key, x, station.thickness, width, lean_mm, (bass.p, bass.m, treble.p, treble.m))


def _between(stated: list[Place], x: float, spec: Spec, board: Board | None) -> Place:
    xs = [s.x for s in stated]

    def at(values: list[float]) -> float:
        return monotone(xs, values, x)

    own = isinstance(spec.width, str) and all(spec.stations[s.key].width is None for s in stated)
    width = _width(spec, board, x) if own else at([s.section.width for s in stated])
    plus, minus = [s.section.plus for s in stated], [s.section.minus for s in stated]
    shape = (
        at([v[0] for v in plus]),
        at([v[1] for v in plus]),
        at([v[0] for v in minus]),
        at([v[1] for v in minus]),
    )
    return _place(
        spec,
        board,
        "",
        x,
        at([s.thickness for s in stated]),
        width,
        at([s.section.lean for s in stated]),
        shape,
    )


def _place(
    spec: Spec,
    board: Board | None,
    key: str,
    x: float,
    thickness: float,
    width: float,
    lean: float,
    shape: tuple[float, float, float, float],
) -> Place:
    return Place(
        key=key,
        x=x,
        fret=None if board is None else board.scale.fret_at(x) + 0.0,
        thickness=thickness,
        section=Section(
            width=width,
            depth=thickness - spec.board if spec.from_ == "fretboard top" else thickness,
            lean=lean,
            plus=shape[:2],
            minus=shape[2:],
        ),
    )


def _width(spec: Spec, board: Board | None, x: float) -> float:
    if isinstance(spec.width, str):
        assert board is not None
        return board.width_at(x)
    return float(spec.width or 0.0)


def tapers(step: Step, found: tuple[Place, ...]) -> Iterator[Finding]:
    """A `note` for each stated station that is thinner than the one before it, seen from the nut."""
    stated = sorted((s for s in found if s.key), key=lambda s: -s.x)
    for a, b in pairwise(stated):
        if b.thickness < a.thickness - 1e-9:
            yield Finding(
                check="taper-turns",
                severity="note",
                message=(
                    f"The neck of {step.name} gets thinner away from the nut: {mm(a.thickness)} at {a.key}, "
                    f"{mm(b.thickness)} at {b.key}."
                ),
                step=step.name,
                at_mm=(b.x, 0.0),
                measured=b.thickness,
                limit=a.thickness,
                remedy=f"give {b.key} a thickness of at least {mm(a.thickness)}, or leave it if the dip is meant",
                place=place_in(step, f"stations.{b.key}.thickness"),
            )
