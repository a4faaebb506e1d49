"""How a full-size print is wanted: on which paper, corrected for which printer, from which face, with what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from pipeline.core.errors import refuse
from pipeline.core.text import listed, quoted
from pipeline.packet.tiles import Paper, paper_named

Extra = Literal["strip", "contours", "gauges", "hand", "leg"]
EXTRAS: tuple[str, ...] = get_args(Extra)
OFF_SHARE = 0.05
"""A rule that is off by more wasn't printed by a poor printer but scaled by a program (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class How:
    """``paper``: a name, or several with commas between; ``measured``: what the maker read on the two rules (x, y)
    of an earlier print; ``back``: as seen from the back; ``held``: HELD on every sheet; ``also``: the extras,
    only those that the design has where ``if_any``; ``thickness_mm``: of the edge strip where no blank says it."""

    paper: str = "A4"
    measured: tuple[float, float] | None = None
    back: bool = False
    held: bool = False
    also: tuple[str, ...] = ()
    if_any: bool = False
    thickness_mm: float | None = None

    def scale(self, paper: Paper) -> tuple[float, float]:
        """What to print larger by: the rule's length over what it measured, for x and y (trade.md 11)."""
        if self.measured is None:
            return 1.0, 1.0
        return paper.rule_mm / self.measured[0], paper.rule_mm / self.measured[1]

    def correction(self, paper: Paper) -> str:
        """What every sheet says of it; "" for a print as it comes."""
        if self.measured is None:
            return ""
        x, y = self.scale(paper)
        return f"corrected by x {x:.5f}, y {y:.5f}"


PLAIN = How()
"""The outline on A4, as it stands in every packet."""


def how_asked(
    paper: str = "A4",
    *,
    measured: str = "",
    back: bool = False,
    also: str = "",
    thickness_mm: float | None = None,
) -> How:
    """What the command line asks for, checked. Raises Refused with a sentence that says what would be right."""
    named = [paper_named(n) for n in paper.split(",")]
    extras = tuple(dict.fromkeys(e.strip() for e in also.split(",") if e.strip()))
    every = "all" in extras
    extras = EXTRAS if every else extras
    for e in extras:
        if e not in EXTRAS:
            raise refuse(
                f"There is no extra print called {quoted(e)}.",
                expected=f"{listed(EXTRAS)}, several with commas between, or all",
            )
    if thickness_mm is not None and not 1.0 <= thickness_mm <= 250.0:
        raise refuse(f"An edge {thickness_mm:g} mm thick can't be printed as a strip.", expected="1 to 250 mm")
    return How(
        paper=",".join(p.name for p in named),
        measured=_measured(measured, named[0].rule_mm) if measured else None,
        back=back,
        also=extras,
        if_any=every,
        thickness_mm=thickness_mm,
    )


def _measured(text: str, rule_mm: float) -> tuple[float, float]:
    try:
        x, y = (float(v) for v in text.split(","))
    except ValueError:
        raise refuse(
            f"What was measured can't be read: {quoted(text)}.",
            expected=f"two lengths in mm, of the rule along x and of that along y, such as {rule_mm - 0.8:.1f},"
            f"{rule_mm:.1f}",
        ) from None
    for name, v in (("x", x), ("y", y)):
        if not abs(v - rule_mm) <= OFF_SHARE * rule_mm:
            raise refuse(
                f"The rule along {name} is {rule_mm:.0f} mm long on this paper, and {v:g} mm were measured: no "
                "printer is so far off.",
                expected=f"{rule_mm * (1 - OFF_SHARE):.0f} to {rule_mm * (1 + OFF_SHARE):.0f} mm",
                remedy="print the first print again at 100 %, with no scaling to fit, and measure that",
            )
    return x, y
