"""Each curve fitted once, however often it is written or drawn: laminations share edges, a sheet holds copies."""

from __future__ import annotations

from collections import OrderedDict

from pipeline.geometry.contour import Contour
from pipeline.geometry.fit import TOLERANCE_MM, fitted
from pipeline.graph.codec import signed
from pipeline.graph.once import kept

CODE = ("pipeline.geometry.fit",)
KEPT = 256
"""So many fitted curves are remembered, the last used; a catalogue of designs must not fill the memory."""

Key = tuple[float, bytes, bytes, bytes, bool]
_done: OrderedDict[Key, Contour] = OrderedDict()


def refit(contour: Contour, tolerance_mm: float = TOLERANCE_MM) -> Contour:
    """The contour in few lines and arcs, equal curves once. Raises FitFailed (see `geometry.fit`)."""
    if not contour.free.any():
        return contour
    key = _key(contour, tolerance_mm)
    if key in _done:
        _done.move_to_end(key)
        return _done[key]
    made = _done[key] = kept("refit", (contour, tolerance_mm), lambda: fitted(contour, tolerance_mm), code=CODE)
    while len(_done) > KEPT:
        _done.popitem(last=False)
    return made


def known(contour: Contour, tolerance_mm: float = TOLERANCE_MM) -> Contour | None:
    """The contour as it has been fitted already, itself where nothing is to be fitted, else None."""
    return _done.get(_key(contour, tolerance_mm)) if contour.free.any() else contour


def known_ones() -> tuple[str, ...]:
    """Signs of all that `known` knows: part of what is read by whatever draws with it."""
    return tuple(signed(b"".join((repr((t, closed)).encode(), *parts))) for t, *parts, closed in _done)


def _key(contour: Contour, tolerance_mm: float) -> Key:
    return tolerance_mm, contour.xy.tobytes(), contour.bulge.tobytes(), contour.free.tobytes(), contour.closed


def forget() -> None:
    """Forget all curves: every packet begins afresh."""
    _done.clear()
