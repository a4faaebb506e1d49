"""What one file for a shop shows: which pieces or blank, by which set-up, moved how from the design frame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.shop import Shop
from pipeline.geometry.transform import Move
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.views import Zero, datum, index_pins, placed, turned_over
from pipeline.steps.values import Blank, Derived, Nest, Piece, SetUp
from pipeline.workshop.cutters import shop_named


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One thing with the set-up that is drawn; ``move`` takes the design frame to the file's coordinates."""

    thing: Piece | Blank
    set_up: SetUp
    move: Move


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A file with everything in it, a copy on a nest each. ``nest`` is None for a set-up of one piece or blank;
    ``curves_of`` are the files whose lines make its picture (a laser's two)."""

    file: ShopFile
    shop: Shop
    seen: tuple[Seen, ...]
    nest: Nest | None
    zero: Zero | None
    curves_of: tuple[ShopFile, ...]

    @property
    def first(self) -> Seen:
        return self.seen[0]

    @property
    def thickness_mm(self) -> float:
        return self.nest.thickness_mm if self.nest else self.first.thing.thickness_mm


def shown(derived: Derived, files: Sequence[ShopFile], nests: Sequence[Nest]) -> tuple[Shown, ...]:
    """Every set-up and every nested sheet among the files, in their order.

    Files without anything in them, and those that are only looked at, are left out.
    """
    by_stem = {(f.shop, f.stem): f for f in files}
    wanted = iter(n for n in nests if shop_named(derived.recipe, n.shop).wants == "nests")
    found: list[Shown] = []
    for f in files:
        if f.kind == "reference":
            continue
        beside = by_stem.get((f.shop, f"{f.stem}_reference"))
        nest = next(wanted) if f.kind == "nest" else None
        seen, zero = _on_sheet(derived, nest) if nest else _alone(derived, f)
        if seen:
            found.append(
                Shown(
                    file=f,
                    shop=shop_named(derived.recipe, f.shop),
                    seen=seen,
                    nest=nest,
                    zero=zero,
                    curves_of=(f, beside) if beside else (f,),
                )
            )
    return tuple(found)


def _alone(derived: Derived, f: ShopFile) -> tuple[tuple[Seen, ...], Zero | None]:
    name, face = f.subjects[0]
    things: Sequence[Piece | Blank] = derived.blanks if f.blank else derived.pieces
    thing = next(t for t in things if t.name == name)
    set_up = next(s for s in thing.set_ups if s.face == face)
    pins = index_pins(derived, thing.set_ups)
    over = turned_over(set_up.face, derived.recipe)
    move, zero = datum(set_up, pins, over, shop_named(derived.recipe, thing.shop))
    return (Seen(thing=thing, set_up=set_up, move=move),), zero


def _on_sheet(derived: Derived, nest: Nest) -> tuple[tuple[Seen, ...], Zero | None]:
    by_name: Mapping[str, Piece] = {p.name: p for p in derived.pieces}
    seen = []
    for placement in nest.placements:
        piece = by_name[placement.piece]
        if len(piece.set_ups) == 1:
            set_up = piece.set_ups[0]
            move = turned_over(set_up.face, derived.recipe).then(placed(placement))
            seen.append(Seen(thing=piece, set_up=set_up, move=move))
    return tuple(seen), None
