"""What has to hold of the offcuts of a stock."""

from __future__ import annotations

from pipeline.core.recipe import Offcut, Sheet
from pipeline.core.text import quoted
from pipeline.intake.reading import Reading

MOST_CORNERS = 200


def check_offcuts(name: str, sheet: Sheet, reading: Reading) -> None:
    """An offcut is a measured sheet, its corners go round once, and what is kept out of lies on it."""
    for letter, offcut in sheet.offcuts.items():
        place = reading.places.get(f"sheets.{name}.offcuts.{letter}") or reading.places[f"sheets.{name}.measured"]
        if letter not in sheet.measured:
            reading.wrong(
                f"The offcut {quoted(letter)} of {quoted(name)} is not measured.",
                place,
                expected=f"its thickness in `measured:`, as in measured: {{{letter}: 11.8}}",
            )
        if offcut.size is not None and offcut.corners:
            reading.wrong(
                f"The offcut {quoted(letter)} of {quoted(name)} has a size and corners.",
                place,
                expected="`size:` for a rectangle, or `corners:` for any other outline",
            )
        elif offcut.corners:
            _corners(name, letter, offcut, sheet, reading)
        w, h = sheet.size_of(letter)
        for n, (x, y, wide, high) in enumerate(offcut.keep_out):
            if x >= w or y >= h or x + wide <= 0 or y + high <= 0:
                reading.wrong(
                    f"This place to keep out of lies beside the sheet {name} {letter}, which is {w:g} by {h:g}.",
                    reading.places.get(f"sheets.{name}.offcuts.{letter}.keep_out.{n}") or place,
                    expected="[x, y, width, height] from its lower left corner",
                )


def _corners(name: str, letter: str, offcut: Offcut, sheet: Sheet, reading: Reading) -> None:
    spot = f"sheets.{name}.offcuts.{letter}.corners"
    place = reading.places.get(spot) or reading.places[f"sheets.{name}.measured"]
    expected = "three corners or more, [x, y] from its lower left, in order round it"
    points = offcut.corners
    if not 3 <= len(points) <= MOST_CORNERS or len(set(points)) < len(points) or _crosses(points):
        reading.wrong(f"The corners of the offcut {quoted(letter)} make no outline.", place, expected=expected)
    elif min(min(p) for p in points) < 0 or any(p[k] > max(sheet.size) + 1e-6 for p in points for k in (0, 1)):
        reading.wrong(
            f"A corner of the offcut {quoted(letter)} lies outside a sheet of {quoted(name)}, which is "
            f"{sheet.size[0]:g} by {sheet.size[1]:g}.",
            place,
            expected=expected,
        )


def _crosses(points: tuple[tuple[float, float], ...]) -> bool:
    """Does a closed line of straight sides cross, touch or lie upon itself?"""
    import shapely

    return not bool(shapely.is_valid(shapely.Polygon(points)))
