"""The report's section on mass and balance: what weighs what, how it hangs, sits and stands, what would help."""

from __future__ import annotations

from html import escape

from pipeline.packet import balance_pictures as pictures
from pipeline.packet.balance_html import figure, plain, table
from pipeline.packet.balance_ink import STYLE
from pipeline.packet.balance_strap import levers_part, strap_part
from pipeline.steps.values import Derived
from pipeline.workshop.balance import Balanced, balance_of, object_outline
from pipeline.workshop.levers import Setting
from pipeline.workshop.mass import mass_and_centre, shares, unknown
from pipeline.workshop.seat import GRAVITY, HAND_N, WAIST_MM
from pipeline.workshop.stands import HAND_MM, INSIDE_MM


def balance_section(derived: Derived) -> str:
    """The inside of the section as HTML; empty where nothing has a mass."""
    found = shares(derived)
    if not any(s.mass_g for s in found):
        return ""
    b = balance_of(derived)
    if b is None:
        mass, centre = mass_and_centre(derived)
        up = -1.0 if derived.recipe.mirrored else 1.0
        b = Balanced(
            mass_g=mass,
            centre_mm=centre,
            up=up,
            outline=object_outline(derived),
            setting=Setting(),
            untold=unknown(derived),
        )
    parts = [
        _masses(derived, b),
        _seated(derived, b),
        strap_part(derived, b),
        levers_part(b),
        _legs(b),
        _base(derived, b),
        _wall(derived, b),
        _hand(derived, b),
    ]
    notes = "".join(f"<li>{escape(line)}</li>" for line in b.untold)
    tail = f"<ul>{notes}</ul>" if notes else ""
    return f'<div class="balance">{"".join(p for p in parts if p)}{tail}</div>'


# -- mass ----------------------------------------------------------------------------------------------
def _masses(derived: Derived, b: Balanced) -> str:
    found = [s for s in shares(derived) if s.mass_g is None or s.mass_g]
    placed = any(s.at_mm is not None for s in found)

    def row(name: str, mass: float | None, at: tuple[float, float, float] | None) -> list[str]:
        spots = ("",) * 3 if at is None else tuple(plain(f"{v + 0.0:.1f}") for v in at)
        return [name, _gram(mass), *(spots if placed else ())]

    rows = [row(s.name, s.mass_g, s.at_mm) for s in found]
    rows.append(row("all together", b.mass_g, b.centre_mm))
    words = _mass_words(b)
    held = b.now or b.stool or b.standing or b.hung or b.carried
    picture = "" if held else figure(pictures.plan(derived, b), "")
    head = ["What", "Mass g", *(("x", "y", "z") if placed else ())]
    weights = table("Masses and their places", head, rows)
    return f"<p>{words}</p>{picture}{weights}"


def _mass_words(b: Balanced) -> str:
    if b.mass_g is None:
        return "What it weighs in all can't be told."
    if b.centre_mm is None:
        return f"It weighs {b.mass_g:.0f} g. Where its centre of gravity lies can't be told."
    x, y, z = (plain(f"{v:.1f}") for v in b.centre_mm)
    return (
        f"It weighs {b.mass_g:.0f} g, and its centre of gravity lies at x {x}, y {y}, {z} mm above the back. "
        "Densities vary by a tenth from board to board: weigh a sheet, and write what you find as its density "
        "(mass over length × width × thickness)."
    )


def _gram(value: float | None) -> str:
    return "not known" if value is None else plain(f"{value:.0f}" if abs(value) >= 100 else f"{value:.1f}")


# -- seated --------------------------------------------------------------------------------------------
def _seated(derived: Derived, b: Balanced) -> str:
    seat = b.now.seat if b.now else None
    if seat is None:
        return ""
    said = [plain(f"The thigh carries it from x {seat.low:.0f} to {seat.high:.0f}.")]
    if seat.stable:
        said.append(
            f"The centre of gravity, at x {plain(f'{seat.centre_x:.1f}')}, lies above it: it stays as it is put."
        )
    else:
        side = "nut" if seat.over_mm > 0 else "tail"
        said.append(
            f"The centre of gravity, at x {seat.centre_x:.1f}, lies {abs(seat.over_mm):.1f} mm beyond it on the "
            f"{side} side and turns it by {abs(seat.moment_nmm) / 1000:.2f} Nm."
        )
        if seat.hand_n is not None:
            does = "lifts" if seat.hand_n > 0 else "presses down"
            said.append(
                f"The hand at the nut {does} with {abs(seat.hand_n):.2f} N "
                f"({abs(seat.hand_n) / GRAVITY * 1000:.0f} g); up to {HAND_N:g} N is comfortable."
            )
    if b.waist is not None:
        said.append(
            f"Where it rests the waist is {b.waist.depth_mm:.1f} mm deep under its chord "
            f"({WAIST_MM:g} or more keep it from sliding)."
        )
    return f"<h3>On the thigh</h3>{figure(pictures.sitting(derived, b), ' '.join(said))}"


# -- what stands, hangs, is carried --------------------------------------------------------------------
def _legs(b: Balanced) -> str:
    s = b.stool
    if s is None:
        return ""
    w = s.worst
    said = (
        f"The lines between neighbouring feet lie {w.distance_mm:.1f} mm from the middle (R·cos(π/n)). "
        f"A load of {s.load_g / 1000:g} kg at {s.seat_mm:.0f} mm turns it by {w.turns_nmm / 1000:.1f} Nm about "
        f"the worst of them, and its own weight holds {w.holds_nmm / 1000:.1f} Nm against it: "
        f"{'it tips' if s.tips else 'it stands'}. "
    )
    if s.seat_mm > w.distance_mm:
        said += f"At the rim it bears {s.most_g / 1000:.1f} kg. "
    said += f"A load is safe within {s.safe_mm:.0f} mm of the middle. This is no test to EN 1022."
    return f"<h3>On its legs</h3>{figure(pictures.legs(b), said)}"


def _base(derived: Derived, b: Balanced) -> str:
    s = b.standing
    if s is None:
        return ""
    said = (
        f"Standing on {s.on}, the centre of gravity lies {s.inside_mm:.1f} mm inside the edge of the base "
        f"({INSIDE_MM:g} or more), and it may lean by {s.lean_deg:.0f}° before it falls."
    )
    if s.device_mm is not None:
        said += f" What is put on it has its own centre {s.device_mm:.1f} mm inside."
    return f"<h3>On its base</h3>{figure(pictures.base(derived, b), said)}"


def _wall(derived: Derived, b: Balanced) -> str:
    if b.hung is None:
        return ""
    h = b.hung[1]
    if h.height_mm <= 0:
        said = f"The point it hangs on lies {-h.height_mm:.1f} mm below the centre of gravity: it turns over."
    else:
        said = (
            f"The point it hangs on lies {h.height_mm:.1f} mm above the centre of gravity, which is "
            f"{abs(h.off_mm):.1f} mm to its side: it hangs turned by {abs(h.tilt_deg):.1f}°."
        )
    return f"<h3>At the wall</h3>{figure(pictures.wall(derived, b), said)}"


def _hand(derived: Derived, b: Balanced) -> str:
    if b.carried is None:
        return ""
    said = (
        f"The centre of gravity lies {b.carried[0]:.1f} mm from the line of the hand; within {HAND_MM:g} mm "
        "(green dashes) it doesn't pull at the wrist."
    )
    return f"<h3>In the hand</h3>{figure(pictures.carried(derived, b), said)}"


__all__ = ["STYLE", "balance_section"]
