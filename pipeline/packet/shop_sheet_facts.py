"""What a page of a shop sheet says: gathered as values, before anything is drawn.

A shop reads nothing here of other shops, of prices, or of what the maker still doubts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from pipeline.core.recipe import Recipe
from pipeline.packet import legend
from pipeline.packet.changes import changed_and_same, file_since
from pipeline.packet.layers import two_decimals
from pipeline.packet.names import file_prefix
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_sheet_clamps import Clamps, clamps
from pipeline.packet.shop_sheet_depths import DepthRow, depth_rows
from pipeline.packet.shop_sheet_gauge import Gauge, gauges
from pipeline.packet.shop_sheet_parts import Part, parts, parts_words
from pipeline.packet.shop_sheet_seen import Shown
from pipeline.packet.views import index_pins
from pipeline.steps.values import Blank, Derived, WorkLine
from pipeline.workshop.cautions import ALWAYS, CNC, DUST, LASER


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page. ``heading``, ``stuff`` (count, material, thickness) and ``face`` stand on top, ``facts`` under
    the picture; ``tools`` are what is done with which cutter, in order; this is set-up ``number`` ``of`` all
    that the shop has."""

    sheet: Shown
    recipe: Recipe
    heading: str
    stuff: str
    face: str
    set_up: str
    facts: str
    parts: tuple[Part, ...]
    tools: tuple[tuple[str, str], ...]
    rows: tuple[DepthRow, ...]
    gauges: tuple[Gauge, ...]
    clamps: Clamps | None
    flip: tuple[Literal["x", "y"], float] | None
    revision: tuple[str, ...]
    cautions: tuple[str, ...]
    held: bool
    number: int
    of: int


def pages(
    derived: Derived, mine: Sequence[Shown], files: Sequence[ShopFile], work: Sequence[WorkLine],
    *, held: bool, since: Mapping[str, str],
) -> tuple[Page, ...]:  # fmt: skip
    """The pages of one shop: ``mine`` are its set-ups and sheets, ``files`` its files."""
    return tuple(_page(derived, s, files, work, held, since, n, len(mine)) for n, s in enumerate(mine, start=1))


def _page(
    derived: Derived, s: Shown, files: Sequence[ShopFile], work: Sequence[WorkLine],
    held: bool, since: Mapping[str, str], number: int, of: int,
) -> Page:  # fmt: skip
    recipe = derived.recipe
    heading, face, set_up = _heading(s)
    on_sheet = parts(s)
    return Page(
        sheet=s,
        recipe=recipe,
        heading=heading,
        stuff=_stuff(s),
        face=face,
        set_up=set_up,
        facts=" ".join(f.rstrip(".") + "." for f in (*_facts(derived, s), *parts_words(s, on_sheet))),
        parts=on_sheet,
        tools=_tools(s, work),
        rows=depth_rows(s, derived),
        gauges=gauges(s, derived),
        clamps=clamps(s, derived),
        flip=_flip(recipe, s),
        revision=_revision(s, files, since, recipe),
        cautions=(*ALWAYS, *(LASER if s.shop.process == "laser" else CNC), *DUST),
        held=held,
        number=number,
        of=of,
    )


def _heading(s: Shown) -> tuple[str, str, str]:
    """What it is, which face lies up, which set-up of how many."""
    if s.nest:
        ups = dict.fromkeys((seen.thing.name, str(seen.set_up.face)) for seen in s.seen)
        backs = [name for name, face in ups if face == "back"]
        letter = f" {s.nest.letter}" if s.nest.letter else ""
        face = "front lies up"
        if backs:
            face = "back lies up" if len(backs) == len(ups) else "faces as marked"
        return f"Sheet {s.nest.sheet}{letter}", face, "one sheet"
    thing, face = s.first.thing, str(s.first.set_up.face)
    order = [x.face for x in thing.set_ups]
    count = f"set-up {order.index(s.first.set_up.face) + 1} of {len(order)}"
    what = f"Glued blank: {thing.name}" if isinstance(thing, Blank) else thing.name
    return what, f"{face} lies up", f"{count}, {face} up"


def _stuff(s: Shown) -> str:
    """How many, of what, how thick."""
    thick = f"{two_decimals(s.thickness_mm)} thick"
    if s.nest:
        return f"cut 1, {f'{s.nest.sheet} {s.nest.letter}'.strip()}, measured {thick}"
    thing = s.first.thing
    if isinstance(thing, Blank):
        return f"cut {thing.count}, {len(thing.laminations)} laminations, {thick}"
    return f"cut {thing.count}, {f'{thing.sheet} {thing.letter}'.strip()}, measured {thick}"


def _facts(derived: Derived, s: Shown) -> tuple[str, ...]:
    recipe, moved = derived.recipe, s.shop.compensation == "kerf" and s.shop.kerf > 0
    pieces = [seen.thing for seen in s.seen if not isinstance(seen.thing, Blank)]
    if s.nest:
        once = tuple({p.name: p for p in pieces}.values())
        return (
            f"Sheet {two_decimals(s.nest.size[0])} × {two_decimals(s.nest.size[1])}, cut once as drawn",
            legend.material_line(s.nest, recipe),
            *legend.nest_compensation_lines(once, s.shop, moved=moved),
            legend.zero_line("sheet", recipe),
        )
    thing = s.first.thing
    pins = index_pins(derived, thing.set_ups)
    pin = pins[0].circle() if pins else None
    return (
        *(legend.blank_lines(thing) if isinstance(thing, Blank) else legend.piece_lines(thing, recipe)),
        *_turning(recipe, s),
        legend.compensation_line(0.0 if isinstance(thing, Blank) else thing.allowance_mm, s.shop, moved=moved),
        legend.zero_line(s.zero or "frame", recipe, 2 * pin[2] if pin else None),
    )


def _turning(recipe: Recipe, s: Shown) -> tuple[str, ...]:
    over = recipe.frame.turn_over if recipe.frame else "x"
    faces = [x.face for x in s.first.thing.set_ups]
    if len(faces) == 1:
        back = faces[0] == "back"
        return (f"One set-up. Drawn as it looks turned over about the {over} axis (arrow).",) if back else ()
    if s.first.set_up.face == faces[0]:
        return (f"Set-up 1 of {len(faces)}; then turn the work over about the {over} axis (arrow).",)
    return (f"Set-up {len(faces)} of {len(faces)}, after turning the work over about the {over} axis (arrow).",)


def _flip(recipe: Recipe, s: Shown) -> tuple[Literal["x", "y"], float] | None:
    """The axis where it stands in the file; None where nothing is turned over."""
    if s.nest or (len(s.first.thing.set_ups) == 1 and s.first.set_up.face == "front"):
        return None
    over = recipe.frame.turn_over if recipe.frame else "x"
    x, y = s.first.move.point(0.0, 0.0)
    return over, y if over == "x" else x


def _tools(s: Shown, work: Sequence[WorkLine]) -> tuple[tuple[str, str], ...]:
    """The lines of the order of work done in this set-up; on a sheet the same work of all parts is one."""
    mine = {(seen.thing.name, str(seen.set_up.face)) for seen in s.seen}
    lines = [w for w in work if (w.piece, str(w.face)) in mine and w.cutter and w.who == s.shop.name]
    if not s.nest:
        # "drill 3 (not on the shop's list)": the remark stands with what is done.
        split = [(w.work, *w.cutter.partition(" (")) for w in lines]
        return tuple((f"{work}{gap}{remark}", cutter) for work, cutter, gap, remark in split)
    last = {(w.work.split(" (")[0].split(",")[0], w.cutter): w.n for w in lines}  # a coupon is cut before the rest
    return tuple(sorted(last, key=lambda told: last[told]))


def _revision(s: Shown, files: Sequence[ShopFile], since: Mapping[str, str], recipe: Recipe) -> tuple[str, ...]:
    own = file_since(s.file, since, recipe.revision)
    prefix = f"{file_prefix(recipe)}_"
    this = (
        f"Revision {recipe.revision}. This file is new or changed with it."
        if own == recipe.revision
        else f"Revision {recipe.revision}. This file is unchanged since {own}: no need to program it again."
    )
    new, same = changed_and_same(files, since, recipe.revision)
    lists = [("New or changed", new), *((f"Unchanged since {r}", these) for r, these in same.items())]
    return (this, *(f"{w}: {', '.join(f.stem.removeprefix(prefix) for f in fs)}." for w, fs in lists if fs))
