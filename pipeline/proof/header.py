"""What a shop file states of itself in its header: version, units, extents."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.findings import Finding
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected
from pipeline.proof.matching import Told

MILLIMETRES = 4.0
"""$INSUNITS of a file in millimetres (DXF reference)."""
VERSION = {"R2010": "AC1024", "R12": "AC1009"}


def wrong_header(want: Expected, drawn: Drawn, name: str) -> Iterator[Finding]:
    """A version, units or extents that aren't what the file holds."""
    told = Told(file=name, want=want)
    flavour = want.shop.dxf
    if drawn.version != VERSION[flavour]:
        yield told.finding(
            f"It is of the version {drawn.version or 'of nothing'}; {want.shop.name} takes {flavour} "
            f"({VERSION[flavour]})."
        )
    if drawn.number("$MEASUREMENT") not in (None, 1.0):
        yield told.finding("Its header says that it is drawn in inches ($MEASUREMENT is 0).")
    units = drawn.number("$INSUNITS")
    if (flavour == "R2010" and units != MILLIMETRES) or units not in (None, MILLIMETRES):
        yield told.finding(f"Its header doesn't say millimetres ($INSUNITS is {units}, not 4).")
    low, high = drawn.point("$EXTMIN"), drawn.point("$EXTMAX")
    boxes = [e.contour.bounds for e in drawn.entities if e.contour is not None]
    if not boxes:
        return
    true = (
        min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)
    )  # fmt: skip
    stated = (*low, *high) if low and high else None
    if stated is None:
        yield told.finding("Its header doesn't state its extents.")
    elif max(abs(s - t) for s, t in zip(stated, true, strict=True)) > 0.001:
        yield told.finding(
            f"Its header states extents of {_box(stated)}; what is drawn reaches over {_box(true)}."
        )


def _box(b: tuple[float, ...]) -> str:
    return f"({b[0]:.3f}, {b[1]:.3f}) to ({b[2]:.3f}, {b[3]:.3f})"
