"""The strap in the report's balance section: friction, the angle it hangs at, and what each change would do."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

from pipeline.packet import balance_pictures as pictures
from pipeline.packet.balance_html import figure, plain, signed, table
from pipeline.steps.values import Derived
from pipeline.workshop.balance import Balanced
from pipeline.workshop.levers import GOOD_INDEX, Lever, State
from pipeline.workshop.strap import STEEPEST_DEG, Slung, grip

TILTS_DEG = (-30, -20, -10, 0, 10, 20, 30)


def strap_part(derived: Derived, b: Balanced) -> str:
    """How it hangs: words, pictures before and after, friction by tilt; empty without a strap."""
    s, now = b.setting, b.now
    if now is None or now.index is None or s.front is None or s.tail is None or b.held is None:
        return ""
    low, high = GOOD_INDEX
    said = [
        f"The front button carries {now.index * 100:.0f} % of the weight with the neck level; {low * 100:.0f} to "
        f"{high * 100:.0f} % hangs well, and from 100 % on no strap holds it."
    ]
    if b.strap is not None:
        said += _strap_words(b)
    figures = _pair(derived, b)
    grips_table = ""
    if b.strap is not None:
        slung = Slung(front=s.front, tail=s.tail, centre=b.held, length_mm=s.length_mm)
        grips = [grip(slung, float(t)) for t in TILTS_DEG]
        rows = [
            [
                pictures.neck(g.tilt_deg),
                "none holds it" if math.isinf(g.friction) else f"{g.friction:.3f}",
                {1: "the neck sinks", -1: "the neck rises", 0: "nothing"}[g.sinks],
                "yes" if g.friction <= s.friction else "no",
            ]
            for g in grips
        ]
        head = ["Held with the", "Friction needed", "What happens without it", f"Holds at {s.friction:g}"]
        grips_table = table("Friction on the shoulder that each tilt needs", head, rows)
    return f"<h3>On the strap</h3><p>{escape(' '.join(said))}</p>{figures}{grips_table}"


def _strap_words(b: Balanced) -> list[str]:
    s, strap = b.setting, b.strap
    assert strap is not None
    said = []
    if strap.held:
        spans = [_open(low, high) for low, high in strap.held]
        said.append(
            f"With friction {s.friction:g} a strap of {s.length_mm:.0f} mm holds it {' and '.join(spans)}."
        )
    else:
        said.append(f"With friction {s.friction:g} a strap of {s.length_mm:.0f} mm holds it at no tilt.")
    hang = b.now.hang if b.now else None
    if hang is None:
        return said
    said.append(f"{_let_go(hang.rest_deg, b.now)}.")
    if s.given and hang.pinned_deg is not None and s.lengths_mm is not None:
        said.append(
            f"Set to {s.lengths_mm[0]:.0f} mm from the front button to the shoulder and {s.lengths_mm[1]:.0f} mm "
            f"from there to the tail button, and not sliding, it hangs with the {pictures.neck(hang.pinned_deg)}."
        )
    below = (
        f"lies {strap.below_mm:.0f} mm below" if strap.below_mm >= 0 else f"lies {-strap.below_mm:.0f} mm above"
    )
    said.append(
        f"The centre of gravity {below} the line through the buttons; a shoulder without friction could hold it "
        f"steady only from {strap.wanted_mm:.0f} mm below on."
    )
    return said


def _let_go(rest_deg: float | None, s: State | None) -> str:
    if rest_deg is None:
        sinks = s is not None and s.index is not None and s.index >= 0.5
        return f"Let go with the neck level, the {'neck' if sinks else 'tail'} drops right down"
    if abs(rest_deg) < 0.05:
        return "Let go with the neck level, it stays so"
    return f"Let go with the neck level, it slides until it hangs with the {pictures.neck(rest_deg)}"


def _open(low: float, high: float) -> str:
    """An interval of tilts in words; its ends at ±60° are only where we stopped looking."""
    if low <= -STEEPEST_DEG and high >= STEEPEST_DEG:
        return "at any tilt"
    if low <= -STEEPEST_DEG:
        return f"with the neck anywhere below {_way(high)}"
    if high >= STEEPEST_DEG:
        return f"with the neck anywhere above {_way(low)}"
    return f"with the neck between {_way(low)} and {_way(high)}"


def _way(degrees: float) -> str:
    if abs(degrees) < 0.05:
        return "level"
    return f"{abs(degrees):.1f}° {'up' if degrees > 0 else 'down'}"


def _pair(derived: Derived, b: Balanced) -> str:
    assert b.now is not None
    others = (b.best.after,) if b.best else ()
    first = figure(pictures.hanging(derived, b, b.now, "As it is", others), f"As it is: {_state_words(b.now)}.")
    second = ""
    if b.best is not None:
        after = b.best.after
        second = figure(
            pictures.hanging(derived, b, after, b.best.name, (b.now,)),
            f"With the {b.best.name}: {_state_words(after)}. Dashed: as it is.",
        )
    return f'<div class="pair">{first}{second}</div>' if first else ""


def _state_words(s: State) -> str:
    tilt = s.hang.tilt_deg if s.hang else None
    words = [] if tilt is None else [pictures.neck(tilt)]
    if s.index is not None:
        words.append(f"{s.index * 100:.0f} % on the front button")
    if s.hang is not None and s.hang.rest_deg is None:
        words.append("and it slides away from there when it is let go")
    return ", ".join(words)


# -- levers --------------------------------------------------------------------------------------------
def levers_part(b: Balanced) -> str:
    """Each change as a pair of numbers; empty where nothing is held."""
    now = b.now
    if now is None or not b.tried:
        return ""
    columns: list[tuple[str, Callable[[State], str]]] = [("Centre x mm", lambda s: plain(f"{s.centre[0]:.1f}"))]
    if now.index is not None:
        columns.append(("On the front button %", lambda s: "" if s.index is None else f"{s.index * 100:.1f}"))
    if now.hang is not None:
        columns.append(("Friction needed, neck level", _friction))
        columns.append(("Let go level, rests neck up °", _rests))
    if now.hang is not None and now.hang.pinned_deg is not None:
        columns.append(("Strap set as it is, hangs neck up °", _pinned))
    if now.seat is not None and now.seat.hand_n is not None:
        columns.append(("Hand at the nut N", _hand_force))
    rows = [
        [v.name, _more(v.after.mass_g - now.mass_g), *(f"{say(now)} → {say(v.after)}" for _, say in columns)]
        for v in b.tried
    ]
    head = ["What is changed", "Mass g", *(name for name, _ in columns)]
    words = "Each line changes one thing: as it is → as it would be."
    most = _most(b.best)
    return f"<h3>What would help</h3><p>{escape(words + most)}</p>" + table("What each change does", head, rows)


def _more(grams: float) -> str:
    return "same" if abs(grams) < 0.05 else plain(f"{grams:+.0f}")


def _most(best: Lever | None) -> str:
    return f" Most helps: {best.name}." if best else " It hangs and sits well as it is."


def _friction(s: State) -> str:
    if s.hang is None:
        return ""
    return "none holds" if math.isinf(s.hang.friction) else f"{s.hang.friction:.2f}"


def _rests(s: State) -> str:
    if s.hang is None:
        return ""
    return "slides away" if s.hang.rest_deg is None else signed(s.hang.rest_deg)


def _pinned(s: State) -> str:
    return "" if s.hang is None or s.hang.pinned_deg is None else signed(s.hang.pinned_deg)


def _hand_force(s: State) -> str:
    return "" if s.seat is None or s.seat.hand_n is None else plain(f"{s.seat.hand_n + 0.0:.2f}")
