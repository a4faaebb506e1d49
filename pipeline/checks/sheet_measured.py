"""Sheets that are not as thick as they are sold (trade.md 8, fault 22; 6.1).

All heights come from the measured sheets, so a difference is told, not asked; one beyond what the plywood
standard allows is more likely a slip of the calipers, and is asked. Limits: EN 315, sanded,
+(0.2 + 0.03 t) / −(0.4 + 0.03 t) (formula from memory; it agrees with two mills' tables).
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "sheet-measured"
SAME_MM = 0.2


def limits(nominal_mm: float) -> tuple[float, float]:
    """(thinnest, thickest) that EN 315 allows of sanded plywood sold as ``nominal_mm``."""
    return nominal_mm - (0.4 + 0.03 * nominal_mm), nominal_mm + (0.2 + 0.03 * nominal_mm)


def check(view: View) -> Iterator[Finding]:
    """One finding for each sheet in use that differs by more than 0.2 mm from its nominal thickness."""
    recipe = view.derived.recipe
    used: dict[tuple[str, str], list[str]] = {}
    for piece in view.derived.pieces:
        used.setdefault((piece.sheet, piece.letter), []).append(piece.name)
    for name, sheet in recipe.sheets.items():
        for letter, measured in sheet.measured.items():
            pieces = used.get((name, letter))
            if not pieces or sheet.nominal is None:
                continue
            thin, thick = limits(sheet.nominal)
            off = measured - sheet.nominal
            outside = not thin - 1e-9 <= measured <= thick + 1e-9
            if abs(off) <= SAME_MM + 1e-9 and not outside:
                continue
            paths = (f"sheets.{name}.measured.{letter}", f"sheets.{name}.measured", f"sheets.{name}", "")
            place = next((recipe.places[k] for k in paths if k in recipe.places), None)
            if outside:
                message = (
                    f"The sheet {name} {letter} measures {measured:.2f} mm; plywood sold as {sheet.nominal:g} "
                    f"lies between {thin:.2f} and {thick:.2f}."
                )
                remedy = "measure it again at eight places, 50 mm in from the edges, and enter the mean"
            else:
                message = (
                    f"The sheet {name} {letter} is {abs(off):.2f} mm {'thicker' if off > 0 else 'thinner'} than "
                    f"its nominal {sheet.nominal:g} mm; all heights in {_list(pieces)} follow the measured one."
                )
                remedy = "nothing to do if this is the sheet that gets cut; else enter the right one"
            yield Finding(
                check=NAME,
                severity="ask" if outside else "note",
                message=message,
                step="",
                piece=pieces[0],
                measured=abs(off),
                limit=SAME_MM if not outside else (thick - sheet.nominal if off > 0 else sheet.nominal - thin),
                remedy=remedy,
                place=place,
            )


def _list(names: list[str]) -> str:
    return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else names[0]
