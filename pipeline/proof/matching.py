"""Which contour of a file is which of the design, and how far apart the two are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.geometry.contour import Contour
from pipeline.proof.compare import ROUNDING_MM, Off, off, off_parallel, same_vertices
from pipeline.proof.expect import Expected, Titled, Wanted
from pipeline.proof.groups import Entity

PARALLEL_MM = 0.001
"""What measuring on flattened forms can add."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The largest distance so far, and where."""

    mm: float
    file: str
    at: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Where a finding of the proof stands: a file, perhaps a line of it."""

    file: str
    want: Expected | None = None
    line: int = 0

    def finding(
        self,
        message: str,
        *,
        at: tuple[float, float] | None = None,
        subject: str = "",
        step: str = "",
        measured: float | None = None,
        limit: float | None = None,
        unit: str = "mm",
        remedy: str = "don't send this packet; build it again, and report it if this comes back",
    ) -> Finding:
        """A `stop`. ``at`` is in the file's coordinates; the finding carries it in the design frame."""
        where = f" at ({at[0]:.3f}, {at[1]:.3f}) of the file" if at else ""
        one = self.want.subjects[0] if self.want and len(self.want.subjects) == 1 else ""
        one_view = self.want is not None and self.want.sheet is None and self.want.kind != "nest"
        back = self.want.seen.back(*at) if at and self.want and one_view else None
        return Finding(
            check="proof",
            severity="stop",
            message=f"{self.file}: {message}{' (' + where.strip() + ')' if where else ''}",
            step=step,
            piece=subject or one,
            at_mm=back,
            face=self.want.face if self.want else "",
            measured=measured,
            limit=limit,
            unit=unit,
            remedy=remedy,
            place=Place(file=self.file, line=self.line, column=1 if self.line else 0),
        )


Measured = tuple[Contour, Off]
"""A contour of a file, turned back to the design, and how far it is off."""


@dataclass(slots=True)
class Matching:
    """Measures contours once each, and keeps the worst distance of a whole packet."""

    recipe: Titled
    worst: Worst | None = None
    _known: dict[tuple[bytes, bytes, float], list[Measured]] = field(default_factory=dict)

    @property
    def limit_mm(self) -> float:
        return self.recipe.tolerance + ROUNDING_MM

    def limit_for(self, wanted: Wanted) -> float:
        return self.limit_mm + (PARALLEL_MM if wanted.grown_mm else 0.0)

    def distance(self, found: Contour, wanted: Wanted, file: str) -> Off:
        """How far a contour of a file is from the one the design wants there; the worst is kept."""
        away = self.measured(found, wanted)
        if self.worst is None or away.mm > self.worst.mm:
            self.worst = Worst(mm=away.mm, file=file, at=away.at)
        return away

    def measured(self, found: Contour, wanted: Wanted) -> Off:
        """The same without keeping it. Measured in the design frame; a contour that was written several
        times (in laminations, references, copies on a sheet) is measured once, and the others against that."""
        design, grown = wanted.design, wanted.grown_mm
        back = wanted.seen.contour_back(found)
        seen_before = self._known.setdefault(_key(wanted), [])
        for other, known in seen_before:
            apart = same_vertices(back, other)
            if apart is not None:
                return Off(mm=known.mm + apart.mm, at=wanted.seen.point(*known.at))
        away = off_parallel(back, design, grown) if grown and found.closed else off(back, design)
        seen_before.append((back, away))
        return Off(mm=away.mm, at=wanted.seen.point(*away.at))

    def so_far(self, wanted: Sequence[Wanted]) -> tuple[tuple[Measured, ...], ...]:
        """What was measured against each of these contours up to now."""
        return tuple(tuple(self._known.get(_key(w), ())) for w in wanted)

    def beginning(self, wanted: Sequence[Wanted]) -> Matching:
        """One that knows what this one knows of these contours, and has no worst of its own yet."""
        known = {_key(w): list(m) for w, m in zip(wanted, self.so_far(wanted), strict=True)}
        return Matching(recipe=self.recipe, _known=known)

    def went_on(self, wanted: Sequence[Wanted], known: Sequence[Sequence[Measured]], worst: Worst | None) -> None:
        """Take over what another one that began from this one has measured."""
        for w, measured in zip(wanted, known, strict=True):
            self._known[_key(w)] = list(measured)
        if worst is not None and (self.worst is None or worst.mm > self.worst.mm):
            self.worst = worst


def _key(wanted: Wanted) -> tuple[bytes, bytes, float]:
    return wanted.design.xy.tobytes(), wanted.design.bulge.tobytes(), wanted.grown_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Contours of one layer: which belong together, which of the design are missing, which are too many."""

    pairs: tuple[tuple[Entity, Wanted], ...]
    missing: tuple[Wanted, ...]
    extra: tuple[Entity, ...]


def paired(found: Sequence[Entity], wanted: Sequence[Wanted], near_mm: float = math.inf) -> Pairs:
    """Pairs contours by their bounding boxes, the nearest pair first; boxes further apart than ``near_mm``
    never pair."""
    drawn = [e for e in found if e.contour is not None]
    if not drawn or not wanted:
        return Pairs(pairs=(), missing=tuple(wanted), extra=tuple(drawn))
    a = np.array([e.contour.bounds for e in drawn if e.contour is not None])
    b = np.array([_bounds(w) for w in wanted])
    apart = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2)
    i_free, j_free = set(range(len(drawn))), set(range(len(wanted)))
    chosen: dict[int, int] = {}
    for flat in np.argsort(apart, axis=None, kind="stable").tolist():
        i, j = divmod(flat, len(wanted))
        if apart[i, j] > near_mm:
            break
        if i in i_free and j in j_free:
            i_free.discard(i)
            j_free.discard(j)
            chosen[i] = j
            if not i_free or not j_free:
                break
    return Pairs(
        pairs=tuple((drawn[i], wanted[j]) for i, j in sorted(chosen.items())),
        missing=tuple(w for j, w in enumerate(wanted) if j in j_free),
        extra=tuple(e for i, e in enumerate(drawn) if i in i_free),
    )


def _bounds(wanted: Wanted) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = wanted.seen.contour(wanted.design).bounds
    g = wanted.grown_mm
    return x0 - g, y0 - g, x1 + g, y1 + g
