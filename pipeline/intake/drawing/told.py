"""What taking an object has to tell: findings for the maker, repairs with what they moved (trade.md 1.8)."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.findings import Finding, Severity
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.geometry.contour import Contour
from pipeline.intake.drawing.bridge import Gap
from pipeline.intake.drawing.doubled import LEAST_MM, MOST_MM, Doubled
from pipeline.intake.drawing.joins import ASK_MM, JOIN_MM
from pipeline.intake.drawing.loops import LOOP_MM2, Curl
from pipeline.intake.drawing.overlap import Overlap
from pipeline.intake.drawing.same import SAME_MM
from pipeline.steps.values import Repair

SHOWN = 8
"""So many places of one kind are told one by one."""
HOW = {
    "corner": "Both sides run on, or end, where their tangents meet",
    "line": "They are joined by a straight line",
}


class Told:
    """Findings and repairs of one object as they come up."""

    def __init__(self, name: str) -> None:
        self.name = quoted(name)
        self.findings: list[Finding] = []
        self.repairs: list[Repair] = []

    def finding(
        self,
        check: str,
        severity: Severity,
        message: str,
        *,
        at: complex | None = None,
        measured: float | None = None,
        limit: float | None = None,
        unit: str = "mm",
        remedy: str = "",
        place: Place | None = None,
    ) -> None:
        self.findings.append(
            Finding(
                check=check,
                severity=severity,
                message=message,
                at_mm=None if at is None else _xy(at),
                measured=measured,
                limit=limit,
                unit=unit,
                remedy=remedy,
                place=place,
            )
        )

    def repair(self, what: str, moved: float, at: complex, message: str) -> None:
        self.repairs.append(Repair(what=what, moved_mm=moved, at_mm=_xy(at), message=message))

    def gaps(self, gaps: Sequence[Gap]) -> None:
        """Closed gaps: the small ones together, each wider one with its place and how it was closed."""
        small = [g for g in gaps if g.how == "moved"]
        if small:
            widest = max(small, key=lambda g: g.width)
            message = (
                f"{count(len(small), 'gap')} of {self.name} {'is' if len(small) == 1 else 'are'} closed; "
                f"the widest is {widest.width:.4f} mm."
            )
            self.finding("drawing-gap", "note", message, at=widest.at, measured=widest.width, limit=JOIN_MM)
            self.repair("joined", widest.moved, widest.at, message)
        wide = sorted((g for g in gaps if g.how != "moved"), key=lambda g: -g.width)
        for n, g in enumerate(wide):
            message = (
                f"{self.name} had a gap of {g.width:.2f} mm at {where(g.at)}. {HOW[g.how]}; "
                f"what is new lies up to {g.moved:.2f} mm from what was drawn."
            )
            self.repair("joined", g.moved, g.at, message)
            if n < SHOWN:
                more = (
                    f" So were {count(len(wide) - SHOWN, 'narrower gap')}."
                    if n == SHOWN - 1 < len(wide) - 1
                    else ""
                )
                self.finding(
                    "drawing-gap",
                    "ask",
                    message + more,
                    at=g.at,
                    measured=g.width,
                    limit=JOIN_MM,
                    remedy="look at this place, and close the gap in the drawing as you mean it",
                )

    def fill_closed(self, name: str, p: complex, q: complex, place: Place) -> None:
        """A filled path whose ends lie apart: its area has a straight edge there (SVG 2, painting)."""
        width = abs(q - p)
        message = (
            f"{quoted(name)} is filled but open: its ends are {width:.2f} mm apart. "
            "Its area is closed by a straight line there, as a fill is."
        )
        self.finding(
            "drawing-gap" if width <= ASK_MM else "drawing-open",
            "ask",
            message,
            at=p,
            measured=width,
            limit=JOIN_MM if width <= ASK_MM else ASK_MM,
            remedy="close the path in the drawing",
            place=place,
        )
        self.repair("joined", width / 2, (p + q) / 2, message)

    def duplicates(self, gone: Sequence[Contour], word: str = "contour") -> None:
        if not gone:
            return
        message = (
            f"{count(len(gone), word)} of {self.name} {'is' if len(gone) == 1 else 'are'} drawn twice "
            f"(within {SAME_MM} mm); one of each counts."
        )
        at = complex(*gone[0].xy[0])
        self.finding("drawing-duplicate", "note", message, at=at, measured=float(len(gone)), unit="")
        self.repair("dropped", 0.0, at, message)

    def overlaps(self, overlaps: Sequence[Overlap]) -> None:
        if not overlaps:
            return
        longest = max(overlaps, key=lambda o: o.length)
        message = (
            f"Lines of {self.name} lie on each other (within {SAME_MM} mm) at {count(len(overlaps), 'place')}, "
            f"the longest for {longest.length:.2f} mm at {where(longest.at)}; they count as one."
        )
        self.finding("drawing-overlap", "note", message, at=longest.at, measured=float(len(overlaps)), unit="")
        self.repair("united", SAME_MM, longest.at, message)

    def curls(self, curls: Sequence[Curl]) -> None:
        for n, c in enumerate(sorted(curls, key=lambda c: -c.area)):
            at = complex(*c.at)
            message = (
                f"A line of {self.name} makes a small loop of {c.area:.3f} mm² at {where(at)}; it is left out."
            )
            self.repair("dropped", c.reach, at, message)
            if n < SHOWN:
                more = ""
                if n == SHOWN - 1 < len(curls) - 1:
                    more = f" So are {count(len(curls) - SHOWN, 'smaller loop')}."
                self.finding(
                    "drawing-loop", "note", message + more, at=at, measured=c.area, limit=LOOP_MM2, unit="mm²"
                )

    def points(self, places: Sequence[complex]) -> None:
        if places:
            message = (
                f"{count(len(places), 'line')} of {self.name} {'has' if len(places) == 1 else 'have'} no length, "
                f"at {where(places[0])}; {'it is' if len(places) == 1 else 'they are'} left out."
            )
            self.finding("drawing-point", "note", message, at=places[0], measured=float(len(places)), unit="")
            self.repair("dropped", 0.0, places[0], message)

    def doubled(self, found: Doubled) -> None:
        what = "two contours" if found.ring else "the two long sides of one contour"
        self.finding(
            "drawing-doubled",
            "ask",
            f"{self.name} seems to hold a stroke that was turned into an outline: {what} run "
            f"{found.spacing:.2f} mm apart all the way. The area between them is the line, not the shape.",
            at=complex(*found.at),
            measured=found.spacing,
            limit=MOST_MM if found.spacing > LEAST_MM else LEAST_MM,
            remedy="draw the edge as one line and don't turn its stroke into a shape; "
            "of two contours delete the one that isn't the edge",
        )

    def ellipses(self, n: int) -> None:
        if n:
            self.finding(
                "drawing-stretch",
                "note",
                f"{count(n, 'round arc')} of {self.name} get elliptic: x and y are scaled differently.",
                measured=float(n),
                unit="",
            )


def where(z: complex) -> str:
    return f"x {z.real + 0.0:.2f}, y {z.imag + 0.0:.2f} mm"


def count(n: int, word: str) -> str:
    return f"1 {word}" if n == 1 else f"{n} {word}s"


def _xy(z: complex) -> tuple[float, float]:
    return z.real + 0.0, z.imag + 0.0
