"""How the finished object hangs, sits, stands and is carried, where the recipe asks (trade.md 10)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding, Severity
from pipeline.core.place import Place
from pipeline.workshop.balance import Balanced, balance_of
from pipeline.workshop.seat import GRAVITY, HAND_N, WAIST_MM
from pipeline.workshop.stands import HAND_MM, INSIDE_MM

NAME = "balance"


def check(view: View) -> Iterator[Finding]:
    """An `ask` for what can't be held, tires the hand or falls over; a `note` for what only wants knowing."""
    b = balance_of(view.derived)
    if b is None:
        return
    yield from _unknown(view, b)
    yield from _strap(view, b)
    yield from _seat(view, b)
    yield from _legs(view, b)
    yield from _base(view, b)
    yield from _wall(view, b)
    yield from _hand(view, b)


def _place(view: View, path: str) -> Place | None:
    places = view.derived.recipe.places
    return places.get(f"balance.{path}") or places.get("balance")


def _told(
    view: View,
    what: str,
    severity: Severity,
    message: str,
    remedy: str,
    path: str,
    measured: float | None = None,
    limit: float | None = None,
    unit: str = "mm",
) -> Finding:
    """A finding of the whole thing: it has no place on it, its pictures stand in the report's balance section."""
    return Finding(
        check=f"{NAME}-{what}",
        severity=severity,
        message=message,
        measured=None if measured is None else round(measured, 6),
        limit=limit,
        unit=unit,
        remedy=remedy,
        place=_place(view, path),
    )


def _unknown(view: View, b: Balanced) -> Iterator[Finding]:
    """A note where something was asked that can't be told without more."""
    asked = view.derived.recipe.balance
    if b.centre_mm is not None or asked is None:
        return
    if asked.seat or asked.strap or asked.stands or asked.hang or asked.handle:
        yield _told(
            view,
            "unknown",
            "note",
            f"How it balances can't be told. {' '.join(b.untold)}",
            "give every sheet its density, every bought part its place, and say where panels lie under "
            "`balance: {pieces: …}`",
            "pieces",
        )


def _strap(view: View, b: Balanced) -> Iterator[Finding]:
    s, g = b.setting, b.held
    if b.now is None or b.now.index is None or g is None or s.front is None or s.tail is None:
        return
    if b.now.index >= 1.0 or b.now.index <= 0.0:
        front = b.now.index >= 1.0
        button, word = (s.front, "front") if front else (s.tail, "tail")
        beyond = abs(g[0] - button[0])
        yield _told(
            view,
            "strap",
            "ask",
            f"The centre of gravity lies {beyond:.1f} mm beyond the {word} strap button, so no strap holds the "
            "neck level.",
            f"move the {word} button by more than {beyond:.0f} mm toward the {'nut' if front else 'tail'}"
            + (", or take mass off at the nut's end" if front else ", or take mass off at the tail"),
            "strap",
            beyond,
            0.0,
        )
    elif b.now.hang is not None and b.now.hang.friction > s.friction:
        rest = b.now.hang.rest_deg
        how = "and drops right down" if rest is None else f"until it hangs {abs(rest):.0f}° {_way(rest)}"
        yield _told(
            view,
            "slides",
            "note",
            f"The level neck needs a strap with friction {b.now.hang.friction:.2f} on the shoulder, and "
            f"{s.friction:g} is reckoned with: let go it slides {how}.",
            f"take a strap that holds, or: {b.best.name}" if b.best else "take a strap that holds",
            "friction",
            b.now.hang.friction,
            s.friction,
            "",
        )


def _way(degrees: float) -> str:
    return "neck up" if degrees > 0 else "neck down"


def _seat(view: View, b: Balanced) -> Iterator[Finding]:
    seat, g = b.now.seat if b.now else None, b.held
    if seat is None or b.now is None or g is None:
        return
    if seat.hand_n is not None and abs(seat.hand_n) > HAND_N and b.setting.nut is not None:
        lifts = seat.hand_n > 0
        edge = seat.high if lifts else seat.low
        # Mass at the tail (or the nut) that brings the hand to 2 N: M·over − 2 N·arm/g = m·(way to the edge).
        arm = b.setting.nut[0] - edge
        spare = b.now.mass_g * abs(seat.over_mm) - HAND_N * 1000 / GRAVITY * arm
        tail = b.setting.tail[0] if b.setting.tail else edge - 2 * b.setting.thigh_mm
        reach = edge - tail if lifts else arm
        more = spare / reach if reach > 0 else 0.0
        end, other = ("tail", "nut") if lifts else ("nut", "tail")
        yield _told(
            view,
            "seat",
            "ask",
            f"The hand at the nut must {'lift' if lifts else 'press down'} with {abs(seat.hand_n):.2f} N, since "
            f"the centre of gravity lies {abs(seat.over_mm):.1f} mm beyond the thigh.",
            f"take mass off at the {other}'s end"
            + (f", put about {more:.0f} g on at the {end}" if more > 0 else "")
            + ", or let it rest nearer the centre of gravity",
            "seat",
            abs(seat.hand_n),
            HAND_N,
            "N",
        )
    if b.waist is not None and b.waist.depth_mm < WAIST_MM:
        yield _told(
            view,
            "waist",
            "note",
            f"Where it rests on the thigh the waist is {b.waist.depth_mm:.1f} mm deep under its chord, so it "
            "may slide.",
            f"draw it {WAIST_MM:g} mm deep or more there, or let it rest elsewhere",
            "seat",
            b.waist.depth_mm,
            WAIST_MM,
        )


def _legs(view: View, b: Balanced) -> Iterator[Finding]:
    s = b.stool
    if s is None or not s.tips:
        return
    yield _told(
        view,
        "legs",
        "ask",
        f"A load of {s.load_g / 1000:g} kg at {s.seat_mm:.0f} mm from the middle tips it: it turns by "
        f"{s.worst.turns_nmm / 1000:.1f} Nm, and its own weight holds "
        f"{max(s.worst.holds_nmm, 0.0) / 1000:.1f} Nm.",
        "set the feet farther out, take more legs, or make the seat smaller: "
        f"{max(s.safe_mm, 0.0):.0f} mm is safe",
        "legs",
        s.seat_mm,
        round(max(s.safe_mm, 0.0), 3),
    )


def _base(view: View, b: Balanced) -> Iterator[Finding]:
    s = b.standing
    if s is None:
        return
    told = (("its centre of gravity", s.inside_mm), ("the centre of what is put on it", s.device_mm))
    for word, inside in told:
        if inside is None or inside >= INSIDE_MM:
            continue
        where = f"{inside:.1f} mm inside" if inside >= 0 else f"{-inside:.1f} mm outside"
        yield _told(
            view,
            "base",
            "ask",
            f"Standing on {s.on}, {word} lies {where} the edge of the base.",
            f"make the base {INSIDE_MM - inside:.0f} mm longer to that side, or bring the mass nearer its middle",
            "stands",
            inside,
            INSIDE_MM,
        )


def _wall(view: View, b: Balanced) -> Iterator[Finding]:
    if b.hung is None or b.hung[1].height_mm > 0:
        return
    h = b.hung[1]
    yield _told(
        view,
        "hang",
        "ask",
        f"The point it hangs on lies {-h.height_mm:.1f} mm below its centre of gravity, so it turns over.",
        "move that point above the centre of gravity, or hang it on two points",
        "hang",
        h.height_mm,
        0.0,
    )


def _hand(view: View, b: Balanced) -> Iterator[Finding]:
    if b.carried is None or b.carried[0] <= HAND_MM:
        return
    yield _told(
        view,
        "handle",
        "note",
        f"The centre of gravity lies {b.carried[0]:.1f} mm from the line of the hand, so it pulls at the wrist.",
        f"move the handle by {b.carried[0] - HAND_MM:.0f} mm or more toward it",
        "handle",
        b.carried[0],
        HAND_MM,
    )
