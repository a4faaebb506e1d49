"""Dimension lines and labels of a section: widths along it, depths in it, the laminations beside it."""

from __future__ import annotations

import math

from pipeline.packet.finding_marks import Frame, num, text
from pipeline.steps.values import Blank

TIP = 8.0
"""Length of an arrowhead in dots."""
LINE = 13.0
MOST_LABELS = 14


def level(frame: Frame, a: float, b: float, y: float, face: float) -> str:
    """A level dimension line from ``a`` to ``b`` (mm along the section) at ``y`` dots, with lines to the ``face``
    (dots) and its number above it; in a narrow opening the arrows point in from outside."""
    xa, xb = frame.at((a, 0.0))[0], frame.at((b, 0.0))[0]
    outside = xb - xa < 3 * TIP
    ends = (xa - 16, xb + 16) if outside else (xa, xb)
    way = -TIP if outside else TIP
    tips = "".join(f"M{num(x)} {num(y)}l{num(s)} 2.6v-5.2z" for x, s in ((xa, way), (xb, -way)))
    beyond = y + math.copysign(4.0, y - face)
    return (
        f'<path class="keyline" d="M{num(xa)} {num(face)}V{num(beyond)}M{num(xb)} {num(face)}V{num(beyond)}"/>'
        f'<path class="dim" d="M{num(ends[0])} {num(y)}H{num(ends[1])}"/><path class="tip" d="{tips}"/>'
        + text((xa + xb) / 2, y - 4, f"{b - a:.2f}", "middle")
    )


def upright(x: float, ya: float, yb: float, words: str, *, before: bool = False, turned: bool = False) -> str:
    """An upright dimension line between two heights in dots, its number after it, ``before`` it, or ``turned``
    along it."""
    top, bottom = min(ya, yb), max(ya, yb)
    outside = bottom - top < 3 * TIP
    ends = (top - 15, bottom + 15) if outside else (top, bottom)
    way = -TIP if outside else TIP
    tips = "".join(f"M{num(x)} {num(y)}l2.6 {num(s)}h-5.2z" for y, s in ((top, way), (bottom, -way)))
    lines = (
        f'<path class="dim" d="M{num(x)} {num(ends[0])}V{num(ends[1])}M{num(x - 5)} {num(top)}h10'
        f'M{num(x - 5)} {num(bottom)}h10"/><path class="tip" d="{tips}"/>'
    )
    middle = (top + bottom) / 2
    if turned:
        place = f"translate({num(x - 4)} {num(middle)}) rotate(-90)"
        return lines + f'<g transform="{place}">{text(0, 0, words, "middle")}</g>'
    if before:
        return lines + text(x - 7, middle + 4, words, "end")
    return lines + text(x + 7, middle + 4, words)


def laminations(blank: Blank, frame: Frame, right: float) -> list[str]:
    """Number, letter and thickness of each lamination right of ``right`` dots, spread where they are thin."""
    rows = [
        (frame.at((0.0, (v.z0 + v.z1) / 2))[1], f"{v.number} {v.letter or v.sheet} {v.z1 - v.z0:.2f}")
        for v in blank.laminations
    ]
    if len(rows) > MOST_LABELS:
        return [text(right + 6, rows[len(rows) // 2][0] + 4, f"{len(rows)} layers")]
    ys = [y for y, _ in rows]
    for k in range(1, len(ys)):  # from the back, which is the lowest, upward
        ys[k] = min(ys[k], ys[k - 1] - LINE)
    down = sum(y - z for (y, _), z in zip(rows, ys, strict=True)) / len(ys)
    body = []
    for (y, words), z in zip(rows, ys, strict=True):
        body.append(f'<path class="dim" d="M{num(right)} {num(y)}L{num(right + 6)} {num(z + down)}"/>')
        body.append(text(right + 8, z + down + 4, words))
    return body
