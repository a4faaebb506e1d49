"""What stands on one tile of a print: the drawing through its window, overlap bands, crosses, centreline."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from pipeline.packet.print_page import GREY, INK, THIN_MM, frame
from pipeline.packet.print_room import Box, Room
from pipeline.packet.print_scene import Scene
from pipeline.packet.shop_sheet_ink import LETTER_MM, NARROW_MM, pen, width, write
from pipeline.packet.tiles import CHECK_MM, Tiling

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

FORM = "drawing"
HATCH_MM = 6.0
CROSS_MM = 3.0
"""Half the length of a cross."""
ARROW_MM = 5.0
CENTRE_DASH = (12.0, 2.0, 1.0, 2.0)
CENTRELINE = "the centreline runs this way"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cross:
    """A cross in the middle of an overlap, ``at`` in the scene, with its words and where they begin."""

    at: tuple[float, float]
    text: str
    words: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One tile: its ``window`` in the scene, its crosses, and what found room on it: the check square's corner, a
    centreline's arrow (on the line itself, or ``aside`` where the line doesn't cross this tile)."""

    column: int
    row: int
    name: str
    window: Box
    crosses: tuple[Cross, ...]
    arrow: tuple[float, float] | None = None
    aside: bool = False
    square: tuple[float, float] | None = None


def origin(scene: Scene, tiles: Tiling) -> tuple[float, float]:
    """Lower left corner of all windows in the scene: what paper there is to spare lies left and above, on the
    first sheet."""
    return scene.bounds[2] - tiles.span[0], scene.bounds[1]


Square = tuple[int, int, tuple[float, float]]
"""Column and row of the tile that the check square stands on, and its lower left corner in the scene."""


def square_place(scene: Scene, tiles: Tiling, room: Room) -> Square | None:
    """Where the check square meets nothing, on the first tile that has the room; None where no tile has.

    The bands, the crosses and the square's own place are taken. A roll has its squares beside the drawing.
    """
    _take_bands(scene, tiles, room)
    order = [(c, r) for r in range(tiles.rows) for c in range(tiles.columns)]
    for c, r in order:
        for x, y in _cross_places(_window(scene, tiles, c, r), tiles.overlap):
            room.box((x - CROSS_MM, y - CROSS_MM, x + CROSS_MM, y + CROSS_MM))
    trial = room.copy()
    for c, r in order:
        for text, spots in _cross_words(scene, tiles.overlap, _window(scene, tiles, c, r)):
            trial.box(_words_box(width(text), spots[0]))
    for c, r in order if not tiles.lead else ():
        at = trial.free(_inner(tiles, c, r, _window(scene, tiles, c, r)), CHECK_MM + 2.0, CHECK_MM + 2.0)
        if at is not None:
            room.box((at[0], at[1], at[0] + CHECK_MM + 2.0, at[1] + CHECK_MM + 2.0))
            return c, r, (at[0] + 1.0, at[1] + 1.0)
    return None


def laid_out(scene: Scene, tiles: Tiling, room: Room, square: Square | None) -> tuple[Tile, ...]:
    """All tiles, row by row from the top, with places for the words of the crosses and for the arrows."""
    return tuple(
        _laid(scene, tiles, room, c, r, square[2] if square and square[:2] == (c, r) else None)
        for r in range(tiles.rows)
        for c in range(tiles.columns)
    )


def _laid(
    scene: Scene, tiles: Tiling, room: Room, column: int, row: int, square: tuple[float, float] | None
) -> Tile:
    window = _window(scene, tiles, column, row)
    crosses = tuple(_crosses(scene, tiles.overlap, room, window))
    arrow, aside = None, False
    if scene.axis:
        arrow, aside = _arrow(room, window, _inner(tiles, column, row, window))
    return Tile(
        column=column,
        row=row,
        name=tiles.name(column, row),
        window=window,
        crosses=crosses,
        arrow=arrow,
        aside=aside,
        square=square,
    )


def _window(scene: Scene, tiles: Tiling, column: int, row: int) -> Box:
    x, y = origin(scene, tiles)
    cx, cy = tiles.corner(column, row)
    w, h = tiles.usable
    return x + cx, y + cy, x + cx + w, y + cy + h


def _take_bands(scene: Scene, tiles: Tiling, room: Room) -> None:
    """No words stand in an overlap: they would be cut through."""
    x, y = origin(scene, tiles)
    dx, dy = tiles.step
    o, (w, h) = tiles.overlap, tiles.span
    for c in range(1, tiles.columns):
        room.box((x + c * dx, y, x + c * dx + o, y + h))
    for r in range(1, tiles.rows):
        room.box((x, y + r * dy, x + w, y + r * dy + o))


def _inner(tiles: Tiling, column: int, row: int, window: Box) -> Box:
    """The window without its overlaps."""
    x0, y0, x1, y1 = window
    o = tiles.overlap
    return (
        x0 + (o if column > 0 else 1.0),
        y0 + (o if row < tiles.rows - 1 else 1.0),
        x1 - (o if column < tiles.columns - 1 else 1.0),
        y1 - (o if row > 0 else 1.0),
    )


def _cross_places(window: Box, overlap: float) -> Iterator[tuple[float, float]]:
    """The middles of the four overlap corners."""
    for x in (window[0] + overlap / 2, window[2] - overlap / 2):
        for y in (window[1] + overlap / 2, window[3] - overlap / 2):
            yield x, y


def _cross_words(scene: Scene, overlap: float, window: Box) -> Iterator[tuple[str, list[tuple[float, float]]]]:
    """The coordinates of each cross in the design, and where they may stand clear of the bands, the best first."""
    inward = overlap / 2 + 1.0
    for px, py in _cross_places(window, overlap):
        way = 1 if px < (window[0] + window[2]) / 2 else -1
        up = 1 if py < (window[1] + window[3]) / 2 else -1
        text = f"{_plain(px * scene.signs[0])}, {_plain(py * scene.signs[1])}"
        x = px + way * inward - (width(text) if way < 0 else 0.0)
        y = py + up * inward - (LETTER_MM if up < 0 else 0.0)
        yield (
            text,
            [(x + way * a, y + up * b) for b in (0.0, 4.0, 8.0, 14.0, 22.0) for a in (0.0, 8.0, 18.0, 30.0)],
        )


def _crosses(scene: Scene, overlap: float, room: Room, window: Box) -> Iterator[Cross]:
    """The crosses of a tile; the room of their words is taken."""
    places = _cross_places(window, overlap)
    for at, (text, spots) in zip(places, _cross_words(scene, overlap, window), strict=True):
        words = room.least(spots, partial(_words_box, width(text)))
        room.box(_words_box(width(text), words))
        yield Cross(at=at, text=text, words=words)


def _words_box(long: float, at: tuple[float, float]) -> Box:
    return at[0] - 0.8, at[1] - 1.2, at[0] + long + 0.8, at[1] + LETTER_MM + 0.6


def _plain(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}"


def _arrow(room: Room, window: Box, inner: Box) -> tuple[tuple[float, float] | None, bool]:
    """Where the centreline's arrow stands: on the line where nothing else is near, else beside with words."""
    x0, _, x1, _ = inner
    if window[1] < 0.0 < window[3]:
        spots = [x0 + (x1 - x0) * k / 20 for k in range(2, 19)]
        # The line itself takes the cells of one or two rows; anything else is in the way.
        return (room.least(spots, lambda x: (x - 7.0, 0.6, x + 4.0, 3.0)), 0.0), False
    long = 24.0 + width(CENTRELINE)
    at = room.free(inner, long + 2.0, 5.0)
    if at is None:
        return None, True
    room.box((at[0], at[1], at[0] + long + 2.0, at[1] + 5.0))
    return (at[0] + 1.0, at[1] + 1.2), True


# -- drawing --------------------------------------------------------------------------------------
def draw_tile(canvas: Canvas, scene: Scene, tiles: Tiling, tile: Tile) -> None:
    """The drawing through the tile's window, and all that belongs to this tile inside the window."""
    left, bottom, right, top = tiles.window
    canvas.saveState()
    path = canvas.beginPath()
    path.rect(left, bottom, right - left, top - bottom)
    canvas.clipPath(path, stroke=0, fill=0)
    # From here on the scene's own coordinates hold.
    canvas.translate(left - tile.window[0], bottom - tile.window[1])
    canvas.saveState()
    canvas.translate(scene.bounds[0], scene.bounds[1])
    canvas.doForm(FORM)
    canvas.restoreState()
    _bands(canvas, tiles, tile)
    for cross in tile.crosses:
        x, y = cross.at
        pen(canvas, THIN_MM)
        canvas.line(x - CROSS_MM, y, x + CROSS_MM, y)
        canvas.line(x, y - CROSS_MM, x, y + CROSS_MM)
        write(canvas, *cross.words, cross.text)
    if tile.arrow is not None:
        _draw_arrow(canvas, tile.arrow, scene, aside=tile.aside)
    canvas.restoreState()
    frame(canvas, tiles)


def _bands(canvas: Canvas, tiles: Tiling, tile: Tile) -> None:
    """Overlaps hatched lightly, with a cut line through their crosses: right and bottom alone."""
    x0, y0, x1, y1 = tile.window
    o = tiles.overlap
    if tile.column < tiles.columns - 1:
        pen(canvas, THIN_MM, "#BBBBBB")
        y = y0 + o
        while y < y1 - 2 * o:
            canvas.line(x1 - o, y, x1, y + o)
            y += HATCH_MM
        _cut_line(canvas, x1 - o / 2, y0, x1 - o / 2, y1)
    if tile.row < tiles.rows - 1:
        pen(canvas, THIN_MM, "#BBBBBB")
        x = x0 + o
        while x < x1 - 2 * o:
            canvas.line(x, y0, x + o, y0 + o)
            x += HATCH_MM
        _cut_line(canvas, x0, y0 + o / 2, x1, y0 + o / 2)


def _cut_line(canvas: Canvas, xa: float, ya: float, xb: float, yb: float) -> None:
    pen(canvas, THIN_MM, GREY, (2.0, 1.5))
    canvas.line(xa, ya, xb, yb)


def _draw_arrow(canvas: Canvas, at: tuple[float, float], scene: Scene, *, aside: bool) -> None:
    """An open arrow head the way x grows in the design; beside the line also a piece of it, with words."""
    way = scene.signs[0]
    x, y = at
    if aside:
        pen(canvas, NARROW_MM, INK, CENTRE_DASH)
        canvas.line(x, y + LETTER_MM / 2, x + 20.0, y + LETTER_MM / 2)
        write(canvas, x + 23.0, y, CENTRELINE)
        x, y = (x + 20.0 if way > 0 else x), y + LETTER_MM / 2
    pen(canvas, NARROW_MM)
    canvas.line(x - way * ARROW_MM, y + ARROW_MM / 3, x, y)
    canvas.line(x - way * ARROW_MM, y - ARROW_MM / 3, x, y)
