"""Path data for pictures: each curve written once, however often it is drawn; in few lines and arcs, y down.

A picture moves a curve by a ``transform`` (see `matrix`), so that the same text serves front and back, piece and
sheet, and the report can keep it once (`shared.py`).
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from functools import cache

import numpy as np
import shapely

from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.transform import Move
from pipeline.packet.refits import known
from pipeline.packet.strokes import GRID, placed_signs

PICTURE_MM = 0.02
"""How far a line in a picture may lie from the curve it stands for, where that is not fitted for cutting."""
DECIMALS = 2
"""Decimals of a millimetre in pictures."""
KEPT = 512
"""So many curves are remembered, the last used; a catalogue of designs must not fill the memory."""

_done: OrderedDict[tuple[bytes, bytes, bool], str] = OrderedDict()


def number(value: float) -> str:
    """A short decimal for pictures, without trailing zeros or minus zero."""
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_data(contours: Iterable[Contour], move: Move | None = None) -> str:
    """SVG path data of contours, moved; equal curves are worked out once."""
    if move is not None and move != Move():
        return "".join(_data(move.contour(_pictured(c))) for c in contours)
    return "".join(_kept(c) for c in contours)


def matrix(move: Move) -> str:
    """A move as a ``transform`` attribute for what is drawn with y down, "" when it moves nothing."""
    if move == Move():
        return ""
    s = -1.0 if move.mirrors else 1.0
    a, b = move.a, move.b
    turned = " ".join(_fine(v) for v in (a, -b, s * b, s * a))
    return f' transform="matrix({turned} {number(move.e)} {number(-move.f)})"'


def forget() -> None:
    """Forget all curves: every packet begins afresh."""
    _done.clear()


def _kept(contour: Contour) -> str:
    key = contour.xy.tobytes(), contour.bulge.tobytes(), contour.closed
    if key in _done:
        _done.move_to_end(key)
        return _done[key]
    made = _done[key] = _data(_pictured(contour))
    while len(_done) > KEPT:
        _done.popitem(last=False)
    return made


def _pictured(contour: Contour) -> Contour:
    """A contour as it is drawn in pictures: as it is cut; one that is cut nowhere by as few chords as do."""
    made = known(contour)
    if made is not None:
        return made
    xy = contour.flatten(PICTURE_MM / 2)[0]
    line = shapely.LineString(np.vstack([xy, xy[:1]]) if contour.closed else xy)
    points = shapely.get_coordinates(shapely.simplify(line, PICTURE_MM / 2, preserve_topology=False))
    if contour.closed and len(points) < 4:  # smaller than what a picture shows
        return line_chain(xy, closed=True)
    return line_chain(points[:-1] if contour.closed else points, closed=contour.closed)


def _data(contour: Contour) -> str:
    """One contour: relative steps between rounded points, so that nothing adds up; an anticlockwise arc has sweep
    flag 0 with y down."""
    unit = 10**DECIMALS
    points = np.rint(contour.xy * (unit, -unit)).astype(np.int64)
    start = points[0]
    ends = np.concatenate([points[1:], points[:1]]) if contour.closed else points[1:]
    steps = (ends - (points if contour.closed else points[:-1])).tolist()
    chords = np.hypot(*(contour.ends - contour.starts).T)
    words = [f"M{_short(start[0])} {_short(start[1])}"]
    last = len(steps) - 1
    for i, ((dx, dy), b, chord) in enumerate(zip(steps, contour.bulges.tolist(), chords.tolist(), strict=True)):
        if not (dx or dy):
            continue
        if b and chord * abs(b) * unit > 0.5:  # flatter arcs are lines to the eye
            # One decimal more, because the far side of a long arc lies off by a multiple of its radius's rounding.
            r = f"{chord * (1 + b * b) / (4 * abs(b)):.{DECIMALS + 1}f}".rstrip("0").rstrip(".")
            words.append(f"a{r} {r} 0 {int(abs(b) > 1)} {int(b < 0)} {_short(dx)} {_short(dy)}")
        elif not contour.closed or i < last:
            words.append(f"l{_short(dx)} {_short(dy)}")
    return "".join(words) + ("z" if contour.closed else "")


@cache
def _short(n: int) -> str:
    """Hundredths as a short decimal."""
    return number(n / 10**DECIMALS)


def _fine(value: float) -> str:
    """An entry of a turning: enough decimals for a sheet of metres."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


# -- engraved words --------------------------------------------------------------------------------
def words_path(look: str, text: str, at: tuple[float, float], height: float, turn_deg: float) -> str:
    """One engraved line of words as a path of class ``look``, from the left end of its baseline."""
    data = "".join(
        f"M{number(x0 + x)} {number(-y)}{rest}"
        for x0, strokes in placed_signs(text)
        for x, y, rest in (_stroke(s) for s in strokes)
    )
    scale = height / GRID
    turned = f" rotate({number(-turn_deg)})" if turn_deg else ""
    return (
        f'<path class="{look}" style="--s:{_fine(1 / scale)}" '
        f'transform="translate({number(at[0])} {number(-at[1])}){turned} scale({_fine(scale)})" d="{data}"/>'
    )


_strokes: dict[int, tuple[float, float, str]] = {}


def _stroke(contour: Contour) -> tuple[float, float, str]:
    """Where a stroke of the alphabet begins and the rest of its path; the alphabet's contours live for ever."""
    key = id(contour)
    if key not in _strokes:
        data = _data(contour)
        cut = min(i for i, c in enumerate(data) if c in "al")
        x, y = contour.xy[0].tolist()
        _strokes[key] = (x, y, data[cut:])
    return _strokes[key]
