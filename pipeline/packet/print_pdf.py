"""Full-size prints, tiled on paper: lines to lay hardware on, judge by eye and tape to a foam model.

One drawing is placed once as a form and shown through the window of every tile, so tiles can't
disagree. Lines are 0.25 mm (ISO 128 narrow); the edge is the middle of the line.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.recipe import Recipe
from pipeline.packet.disk import plainly
from pipeline.packet.names import file_prefix
from pipeline.packet.print_how import PLAIN, How
from pipeline.packet.print_labels import Name, named
from pipeline.packet.print_page import NO_SCALING, THIN_MM, Head, numbered, rules, strips, tiled_square
from pipeline.packet.print_path import LEGEND, draw_stroke
from pipeline.packet.print_room import Room
from pipeline.packet.print_scene import Scene, from_the_back, scenes
from pipeline.packet.print_sheets import called, finish, new_canvas, new_page
from pipeline.packet.print_tile import CENTRE_DASH, FORM, Tile, draw_tile, laid_out, origin, square_place
from pipeline.packet.shop_sheet_ink import INK, NARROW_MM, pen, write
from pipeline.packet.tiles import CHECK_MM, LEADER_MM, Tiling, paper_named, tiling
from pipeline.steps.values import Derived

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas


def write_prints(folder: Path, derived: Derived, how: How = PLAIN) -> tuple[str, ...]:
    """Write ``print/<design>[-<variant>]-<rev>_<name>_<paper>….pdf`` for every scene, and the extras asked for.

    Gives the paths written. Raises Refused where an extra can't be made, MachineFailed.
    """
    prefix = file_prefix(derived.recipe)
    made: dict[str, bytes] = {}
    for scene in scenes(derived):
        shown = from_the_back(scene, _turn_over(derived.recipe)) if how.back else scene
        made[f"{prefix}_{scene.name}_{_paper(shown, how)}{_tail(how)}"] = print_pdf(derived, shown, how)
    if how.also:
        from pipeline.packet.print_extras import extra_scenes, loose_prints

        tail = _tail(replace(how, back=False))  # they aren't turned over
        for word, scene in extra_scenes(derived, how):
            made[f"{prefix}_{scene.name}_{_paper(scene, how)}_{word}{tail}"] = print_pdf(derived, scene, how)
        for word, name, data in loose_prints(derived, how):
            made[f"{prefix}_{name}{word}{tail}"] = data
    with plainly(folder / "print"):
        (folder / "print").mkdir(parents=True, exist_ok=True)
        for stem, data in made.items():
            (folder / f"print/{stem}.pdf").write_bytes(data)
    return tuple(f"print/{stem}.pdf" for stem in made)


def _turn_over(recipe: Recipe) -> str:
    return recipe.frame.turn_over if recipe.frame else "x"


def _tail(how: How) -> str:
    return ("_back" if how.back else "") + ("_corrected" if how.measured else "")


def _paper(scene: Scene, how: How) -> str:
    x0, y0, x1, y1 = scene.bounds
    return tiling(x1 - x0, y1 - y0, how.paper).paper


def print_pdf(derived: Derived, scene: Scene, how: How = PLAIN) -> bytes:
    """The tiled print of one scene as a PDF file, byte-equal for equal inputs."""
    x0, y0, x1, y1 = scene.bounds
    plain = tiling(x1 - x0, y1 - y0, how.paper)
    paper = paper_named(plain.paper)
    scale = how.scale(paper)
    tiles = tiling(x1 - x0, y1 - y0, plain.paper, scale=scale)
    head = Head(
        design=called(derived.recipe),
        what=scene.what or f"{scene.name}, seen from the {scene.view}",
        held=how.held,
        correction=how.correction(paper),
        rule_mm=paper.rule_mm,
        legend=_legend(scene),
    )
    left, bottom = origin(scene, tiles)
    room = Room((left, bottom, left + tiles.span[0], bottom + tiles.span[1]))
    room.lines(s.contour for s in scene.strokes)
    for _, x, y in scene.marks:
        room.box((x - 3.5, y - 0.5, x + 3.5, y + 0.5))
        room.box((x - 0.5, y - 3.5, x + 0.5, y + 3.5))
    if _has_axis(scene):
        room.box((left, -0.5, x1, 0.5))
    square = square_place(scene, tiles, room)
    names = named(scene, room)
    laid = laid_out(scene, tiles, room, square)
    out = io.BytesIO()
    canvas = new_canvas(out, f"{called(derived.recipe)}: {head.what}, full size")
    canvas.beginForm(FORM, left - x0, -5, x1 - x0 + 5, y1 - y0 + 5)
    _drawing(canvas, scene, names, left)
    canvas.endForm()
    if not tiles.lead and not any(t.square for t in laid):
        new_page(canvas, tiles, scale)
        strips(canvas, tiles, head, "Check sheet", "")
        rules(canvas, tiles, head)
        _, _, right, top = tiles.window
        tiled_square(canvas, tiles, head, (right - CHECK_MM) / 2, top - CHECK_MM - 10.0, "Check sheet")
        canvas.showPage()
    for n, tile in enumerate(laid, start=1):
        new_page(canvas, tiles, scale)
        _sheet(canvas, scene, tiles, tile, head, n)
        canvas.showPage()
    return finish(canvas, out)


def _legend(scene: Scene) -> tuple[str, ...]:
    if scene.legend:
        return (scene.legend,)
    kinds = [LEGEND[s] for s in ("edge", "front", "back", "carve") if any(k.style == s for k in scene.strokes)]
    full, short = (", ".join(k[i] for k in kinds) for i in (0, 1))
    return f"{full}. The edge is the middle of the line.", f"{short}. Edge: middle of the line."


def _has_axis(scene: Scene) -> bool:
    return scene.axis and scene.bounds[1] < 0.0 < scene.bounds[3]


def _sheet(canvas: Canvas, scene: Scene, tiles: Tiling, tile: Tile, head: Head, n: int) -> None:
    draw_tile(canvas, scene, tiles, tile)
    sheet = f"Sheet {n} of {tiles.sheets}"
    with_rules = tile.square is not None or bool(tiles.lead)
    second = numbered(
        (
            f"{sheet}: {NO_SCALING}",
            "trim right and bottom" if tiles.sheets > 1 else "",
            head.correction,
        )
    )
    strips(canvas, tiles, head, tile.name, "" if with_rules else second, (tile.column, tile.row))
    if not with_rules:
        return
    rules(canvas, tiles, head)
    if tile.square is not None:
        x, y = tile.square
        left, bottom = tiles.window[:2]
        tiled_square(canvas, tiles, head, x - tile.window[0] + left, y - tile.window[1] + bottom, sheet)
    else:
        top = tiles.window[3]
        for x in (LEADER_MM + 2.0, tiles.page[0] - LEADER_MM - 2.0 - CHECK_MM):
            tiled_square(canvas, tiles, head, x, top - CHECK_MM - 2.0, sheet)


def _drawing(canvas: Canvas, scene: Scene, names: tuple[Name, ...], left: float) -> None:
    """All strokes and names, with the scene's lower left corner at the origin; the centreline from ``left`` on."""
    x0, y0, x1, _ = scene.bounds
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for stroke in scene.strokes:
        draw_stroke(canvas, stroke, x0, y0)
    if _has_axis(scene):
        pen(canvas, NARROW_MM, INK, CENTRE_DASH)
        canvas.line(left - x0, -y0, x1 - x0, -y0)
    pen(canvas)
    for _, x, y in scene.marks:
        canvas.line(x - x0 - 3.0, y - y0, x - x0 + 3.0, y - y0)
        canvas.line(x - x0, y - y0 - 3.0, x - x0, y - y0 + 3.0)
    for name in names:
        write(canvas, name.x - x0, name.y - y0, name.text)
        if name.leader is not None:
            (xa, ya), (xb, yb) = name.leader
            pen(canvas, THIN_MM)
            canvas.line(xa - x0, ya - y0, xb - x0, yb - y0)
            pen(canvas)
