"""All cases: seeded faults and near misses, by fault number."""

from __future__ import annotations

from tests.faults import body_w, cutters, edges, lasers, shapes, sheets, walls
from tests.faults.case import Case

CASES: tuple[Case, ...] = tuple(
    sorted(
        (c for m in (cutters, walls, shapes, sheets, lasers, edges, body_w) for c in m.CASES),
        key=lambda c: (c.fault, c.seed is None),
    )
)
