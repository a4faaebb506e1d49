"""Pictures of balance: hanging on its strap, sitting on a thigh, standing, at a wall, in the hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import shapely

from pipeline.packet.balance_ink import (
    WIDE_PX,
    Point,
    Sheet,
    arrow,
    centre_mark,
    circle,
    extent,
    line,
    thing,
    words,
)
from pipeline.packet.path_text import number
from pipeline.steps.values import Derived
from pipeline.workshop.balance import UP, Balanced
from pipeline.workshop.levers import State
from pipeline.workshop.stands import HAND_MM, INSIDE_MM
from pipeline.workshop.strap import turned


def neck(tilt_deg: float) -> str:
    """A tilt in words."""
    if abs(tilt_deg) < 0.05:
        return "neck level"
    return f"neck {abs(tilt_deg):.1f}° {'up' if tilt_deg > 0 else 'down'}"


# -- on the strap --------------------------------------------------------------------------------------
def hanging(derived: Derived, b: Balanced, s: State, title: str, others: Sequence[State] = ()) -> str:
    """The outline at the tilt it hangs at, with strap, shoulder, centre and plumb line. ``others`` are drawn at
    the same scale in a picture of their own; where ``s`` isn't as it is, that is dashed. Empty without a
    tilt."""
    hang, tail, front = s.hang, b.setting.tail, s.front
    if hang is None or hang.tilt_deg is None or hang.shoulder is None:
        return ""
    if b.outline is None or front is None or tail is None:
        return ""
    tilt = hang.tilt_deg
    spots = [p for v in (s, *others) for p in _swung(derived, b, v)]
    sheet = replace(Sheet.around(spots, (0.0, 0.0), up=b.up), about=s.centre, tilt_deg=tilt)
    g, p = sheet.at(s.centre), sheet.at(hang.shoulder)
    ends = sheet.at(front), sheet.at(tail)
    body: list[str] = []
    if b.now is not None and s is not b.now and b.now.hang is not None and b.now.hang.tilt_deg is not None:
        old = replace(sheet, about=b.now.centre, tilt_deg=b.now.hang.tilt_deg)
        body.append(old.path(b.outline.contours, "ghost"))
    body += thing(derived, b.outline, sheet)
    body += [
        circle("body", (p[0], p[1] + 9), 9),
        line("strap", ends[0], p, ends[1]),
        line("plumb", p, (g[0], min(g[1] + 46, sheet.height - 4))),
        line("level", (max(g[0] - 90, 6), g[1]), (min(g[0] + 90, WIDE_PX - 6), g[1])),
        *(circle("button", e, 3.6) for e in ends),
        centre_mark(g),
        words("shoulder", (p[0] + 14 * b.up, p[1] + 4), anchor="start" if b.up > 0 else "end"),
        words("front button", (ends[0][0], ends[0][1] - 8)),
        words("tail button", (ends[1][0], ends[1][1] - 8)),
        words(neck(tilt), (g[0], min(g[1] + 60, sheet.height - 6)), strong=True),
    ]
    said = f"{title}: hanging with the {neck(tilt)}, the centre of gravity plumb under the shoulder"
    return sheet.drawn(said, body)


def _swung(derived: Derived, b: Balanced, s: State) -> list[Point]:
    """What frames a state, turned as it hangs about its centre."""
    if s.hang is None or s.hang.tilt_deg is None or s.hang.shoulder is None or b.outline is None:
        return []
    points = [*extent(derived, b.outline, b.up), s.hang.shoulder]
    return [turned(p, s.centre, s.hang.tilt_deg) for p in points]


# -- on the thigh --------------------------------------------------------------------------------------
def sitting(derived: Derived, b: Balanced) -> str:
    """The outline on the thigh, with the interval it rests on, the centre's plumb line and the hand's force."""
    seat = b.now.seat if b.now else None
    if seat is None or b.now is None or b.outline is None or b.setting.seat is None:
        return ""
    x, y = b.setting.seat
    if b.waist is not None:
        y = b.waist.at[1]
    r = b.setting.thigh_mm
    low = min(q for _, q in extent(derived, b.outline, b.up))
    points = [*extent(derived, b.outline, b.up), (x - r, y - r), (x + r, min(low, y - r) - 6)]
    hand = b.setting.nut
    if hand:
        points.append((hand[0], hand[1] - 40))
    sheet = Sheet.around(points, b.now.centre, up=b.up)
    g, c = sheet.at(b.now.centre), sheet.at((x, y - r))
    bottom = sheet.height - 16
    rim = [sheet.at((v, y))[0] for v in (seat.low, seat.high)]
    sides = [f"{v:.0f}".replace("-", "\u2212") for v in (seat.low, seat.high)][:: 1 if b.up > 0 else -1]
    body = [circle("body", c, r * sheet.k), *thing(derived, b.outline, sheet)]
    if b.waist is not None:
        body.append(line("level", *(sheet.at(e) for e in b.waist.chord)))
    body += [line("edge", (e, c[1] - r * sheet.k - 26), (e, bottom)) for e in rim]
    body += [
        line("plumb", (g[0], g[1] - 30), (g[0], bottom)),
        centre_mark(g),
        words("thigh", (c[0], min(c[1] + 5, bottom - 2))),
        words(f"x {sides[0]}", (min(rim) - 4, bottom + 12), anchor="end"),
        words(sides[1], (max(rim) + 4, bottom + 12), anchor="start"),
    ]
    if hand and seat.hand_n is not None:
        h = sheet.at(hand)
        if abs(seat.hand_n) >= 0.005:
            way = 1.0 if seat.hand_n > 0 else -1.0
            body.append(arrow((h[0], h[1] + way * 46), (h[0], h[1] + way * 10)))
        body.append(words(f"hand {abs(seat.hand_n):.2f} N", (h[0], h[1] + 62), strong=True))
    where = "over the thigh" if seat.stable else f"{abs(seat.over_mm):.1f} mm beyond the thigh"
    return sheet.drawn(f"Seated: the centre of gravity lies {where}", body)


# -- standing ------------------------------------------------------------------------------------------
def legs(b: Balanced) -> str:
    """The foot circle from above with feet, tipping lines, the circle that is sat on, the centre and the worst
    line."""
    s = b.stool
    if s is None:
        return ""
    reach = max(s.radius_mm, s.seat_mm)
    x, y = s.centre
    sheet = Sheet.around([(x - reach, y - reach), (x + reach, y + reach)], s.centre, rim=44)
    middle = sheet.at(s.centre)
    worst = s.worst
    load = sheet.at((x + s.seat_mm * worst.toward[0], y + s.seat_mm * worst.toward[1]))
    centre = sheet.at(b.centre_mm[:2]) if b.centre_mm else middle
    body = [
        circle("wood", middle, s.seat_mm * sheet.k),
        circle("level", middle, s.radius_mm * sheet.k),
        *(line("edge", *(sheet.at(e) for e in v.ends)) for v in s.lines),
        line("force", *(sheet.at(e) for e in worst.ends)),
        *(circle("button", sheet.at(f), 5) for f in s.feet),
        line("level", middle, load),
        circle("tip", load, 5),
        centre_mark(centre),
        words(f"{worst.distance_mm:.0f} to the tipping line", (middle[0], middle[1] + 26)),
        words(f"load at {s.seat_mm:.0f}", (load[0], load[1] + (18 if load[1] > middle[1] else -10)), strong=True),
    ]
    return sheet.drawn(
        f"Stool from above: {len(s.feet)} feet on a circle of radius {s.radius_mm:.0f}, tipping lines between "
        f"neighbouring feet {worst.distance_mm:.0f} mm from the middle, the load {s.seat_mm:.0f} mm out",
        body,
    )


def base(derived: Derived, b: Balanced) -> str:
    """The base from above, the line that a centre of gravity stays within, and the centre with all that it
    carries."""
    s = b.standing
    if s is None or b.centre_mm is None:
        return ""
    hull = shapely.get_coordinates(s.base)
    points = [(float(x), float(y)) for x, y in hull]
    sheet = Sheet.around([*points, s.centre], s.centre, rim=36)
    inner = shapely.buffer(s.base, -INSIDE_MM)
    rims = [[(float(x), float(y)) for x, y in shapely.get_coordinates(v)] for v in shapely.get_parts(inner)]
    g = sheet.at(s.centre)
    body = [
        f'<path class="wood" d="M{"L".join(f"{number(x)} {number(y)}" for x, y in map(sheet.at, points))}Z"/>',
        *(line("edge", *(sheet.at(p) for p in rim)) for rim in rims if rim),
    ]
    asked = derived.recipe.balance.stands if derived.recipe.balance else None
    if asked is not None and asked.device is not None:
        d = sheet.at(asked.device.at[:2])
        body += [circle("part", d, 7), words("put on it", (d[0], d[1] - 12))]
    body += [centre_mark(g), words(f"{s.inside_mm:.0f} inside the edge", (g[0], g[1] + 24), strong=True)]
    return sheet.drawn(
        f"From above: the base, and the centre of gravity {s.inside_mm:.0f} mm within its edge", body
    )


# -- at the wall, in the hand --------------------------------------------------------------------------
def wall(derived: Derived, b: Balanced) -> str:
    """The outline as it hangs on its point."""
    if b.hung is None or b.outline is None or b.held is None or derived.recipe.balance is None:
        return ""
    point, h = b.hung
    ux, uy = UP[derived.recipe.balance.up]
    tilt = math.degrees(math.atan2(ux, uy)) + h.tilt_deg  # up is turned up, then it swings
    sheet = Sheet.around([*extent(derived, b.outline, b.up), point], point, tilt_deg=tilt, up=b.up)
    p, g = sheet.at(point), sheet.at(b.held)
    body = [
        *thing(derived, b.outline, sheet),
        line("plumb", (p[0], max(p[1] - 20, 4)), (p[0], sheet.height - 6)),
        circle("button", p, 4),
        centre_mark(g),
        words(f"turns by {abs(h.tilt_deg):.1f}°", (g[0], g[1] + 24), strong=True),
    ]
    return sheet.drawn(f"At the wall: it hangs on its point, turned by {abs(h.tilt_deg):.1f} degrees", body)


def carried(derived: Derived, b: Balanced) -> str:
    """The outline with the line of the hand, and the centre's distance from it."""
    if b.carried is None or b.outline is None or b.held is None:
        return ""
    away, ends, foot = b.carried
    sheet = Sheet.around([*extent(derived, b.outline, b.up), *ends], b.held, up=b.up)
    n = _across(ends)
    sides = [[(x + s * HAND_MM * n[0], y + s * HAND_MM * n[1]) for x, y in ends] for s in (1, -1)]
    g = sheet.at(b.held)
    body = [
        *thing(derived, b.outline, sheet),
        *(line("edge", *(sheet.at(p) for p in side)) for side in sides),
        line("force", *(sheet.at(p) for p in ends)),
        line("level", g, sheet.at(foot)),
        centre_mark(g),
        words(f"{away:.1f} from the hand", (g[0], g[1] + 24), strong=True),
    ]
    return sheet.drawn(f"In the hand: the centre of gravity lies {away:.1f} mm from the line of the hand", body)


def _across(ends: tuple[Point, Point]) -> Point:
    (x0, y0), (x1, y1) = ends
    d = math.dist(*ends)
    return -(y1 - y0) / d, (x1 - x0) / d


def plan(derived: Derived, b: Balanced) -> str:
    """Where the centre lies in the outline; for what is neither held nor set down."""
    if b.outline is None or b.held is None:
        return ""
    sheet = Sheet.around(extent(derived, b.outline, b.up), b.held, up=b.up)
    g = sheet.at(b.held)
    body = [*thing(derived, b.outline, sheet), centre_mark(g), words("centre of gravity", (g[0], g[1] + 22))]
    return sheet.drawn("Seen from the front: where the centre of gravity lies", body)
