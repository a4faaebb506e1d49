"""Everything the shops get, as values: one file a set-up or a sheet, in the machinist's view."""

from __future__ import annotations

from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.geometry.contour import line_chain
from pipeline.packet import legend
from pipeline.packet.assemble import Plan, assembled
from pipeline.packet.beside import cross
from pipeline.packet.entries import Entry, Fit, drawn, entries_of, fitter, kerf_in_lines
from pipeline.packet.names import file_prefix
from pipeline.packet.refits import forget
from pipeline.packet.shop_file import ShopFile, Words
from pipeline.packet.views import datum, index_pins, placed, turned_over
from pipeline.steps.values import Blank, Derived, Nest, Piece


def shop_files(derived: Derived, nests: tuple[Nest, ...]) -> tuple[ShopFile, ...]:
    """All files for all shops, in the order of pieces, blanks and nests.

    A piece goes into its nest when its shop wants nests, the nest has room for it and one set-up does it; every
    other piece, and each blank, gets a file for each of its set-ups. A laser's file is followed by its reference.
    Raises Refused when a kerf is wider than an opening, or a shop's layer name can't be written.
    """
    forget()  # pictures show what is cut as it is fitted here; what another design left must not change a byte
    fit = fitter(derived.recipe.tolerance)
    in_nests = {p.piece for n in nests for p in n.placements if _shop(derived.recipe, n.shop).wants == "nests"}
    files: list[ShopFile] = []
    for piece in derived.pieces:
        if piece.name not in in_nests or len(piece.set_ups) > 1:
            files += _piece_files(derived, piece, fit)
    for blank in derived.blanks:
        files += _blank_files(derived, blank, fit)
    by_name = {p.name: p for p in derived.pieces}
    for nest in nests:
        if _shop(derived.recipe, nest.shop).wants == "nests":
            files += _nest_files(derived, nest, nests, by_name, fit)
    return tuple(files)


# -- set-ups -------------------------------------------------------------------------------------
def _piece_files(derived: Derived, piece: Piece, fit: Fit) -> list[ShopFile]:
    recipe, shop = derived.recipe, _shop(derived.recipe, piece.shop)
    stem = f"{file_prefix(recipe)}_{piece.name}_{piece.sheet}_x{piece.count}"
    title = legend.piece_lines(piece, recipe)
    if kerf_in_lines(shop):
        title.append(legend.true_size_line(piece))
    return _set_up_files(derived, shop, piece, stem, title, piece.allowance_mm, fit)


def _blank_files(derived: Derived, blank: Blank, fit: Fit) -> list[ShopFile]:
    recipe, shop = derived.recipe, _shop(derived.recipe, blank.shop)
    stem = f"{file_prefix(recipe)}_{blank.name}_x{blank.count}"
    return _set_up_files(derived, shop, blank, stem, legend.blank_lines(blank), 0.0, fit)


def _set_up_files(
    derived: Derived,
    shop: Shop,
    subject: Piece | Blank,
    stem: str,
    title: list[str],
    allowance: float,
    fit: Fit,
) -> list[ShopFile]:
    recipe = derived.recipe
    pins = index_pins(derived, subject.set_ups)
    pin = pins[0].circle() if pins else None
    files: list[ShopFile] = []
    for set_up in subject.set_ups:
        over = turned_over(set_up.face, recipe)
        move, zero = datum(set_up, pins, over, shop)
        entries, words = entries_of(set_up, (move,), shop, subject.name, fit)
        entries.append(drawn("DATUM", cross(), shop))
        lines = [
            *legend.heading(recipe),
            *title,
            legend.face_line(set_up.face, recipe),
            legend.compensation_line(allowance, shop, moved=kerf_in_lines(shop) > 0),
            legend.zero_line(zero, recipe, 2 * pin[2] if pin else None),
        ]
        suffix = f"_{set_up.face}" if len(subject.set_ups) > 1 else ""
        files += assembled(
            Plan(
                shop=shop,
                stem=stem + suffix,
                kind="set-up",
                subjects=((subject.name, set_up.face),),
                blank=isinstance(subject, Blank),
                entries=tuple(entries),
                words=tuple(words),
                lines=tuple(lines),
            )
        )
    return files


def _nest_files(
    derived: Derived, nest: Nest, nests: tuple[Nest, ...], by_name: dict[str, Piece], fit: Fit
) -> list[ShopFile]:
    """One sheet: its lower left corner is zero; each copy is turned to its face, then placed."""
    recipe, shop = derived.recipe, _shop(derived.recipe, nest.shop)
    same = [n for n in nests if (n.sheet, n.letter) == (nest.sheet, nest.letter)]
    stem = "-".join(
        [
            f"{file_prefix(recipe)}_nest-{nest.sheet}",
            *([nest.letter] if nest.letter else []),
            *([str(nest.number)] if len(same) > 1 else []),
        ]
    )
    entries: list[Entry] = []
    words: list[Words] = []
    pieces: list[Piece] = []
    for placement in nest.placements:
        piece = by_name[placement.piece]
        if len(piece.set_ups) != 1:
            continue
        pieces.append(piece)
        set_up = piece.set_ups[0]
        moves = (turned_over(set_up.face, recipe), placed(placement))
        more, said = entries_of(set_up, moves, shop, piece.name, fit)
        entries += more
        words += said
    w, h = nest.size
    sheet = line_chain(nest.corners or box_corners(0.0, 0.0, w, h))
    keep_out = tuple(line_chain(box_corners(*box)) for box in nest.keep_out)
    entries += [drawn("STOCK", (sheet,), shop), drawn("DATUM", cross(), shop)]
    entries += [drawn("KEEP_CLEAR", keep_out, shop)] if keep_out else []
    subjects = tuple(dict.fromkeys((p.name, str(p.set_ups[0].face)) for p in pieces))
    once = tuple({p.name: p for p in pieces}.values())
    kerf = kerf_in_lines(shop)
    lines = [
        *legend.heading(recipe),
        *legend.nest_lines(nest, pieces, recipe),
        *legend.nest_compensation_lines(once, shop, moved=kerf > 0),
        *(legend.true_size_line(p) for p in once if kerf),
        legend.zero_line("sheet", recipe),
    ]
    return assembled(
        Plan(
            shop=shop,
            stem=stem,
            kind="nest",
            subjects=subjects,
            entries=tuple(entries),
            words=tuple(words),
            lines=tuple(lines),
            sheet=(0.0, 0.0, w, h),
        )
    )


def box_corners(x: float, y: float, w: float, h: float) -> list[tuple[float, float]]:
    """The corners of a box, anticlockwise."""
    return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]


def _shop(recipe: Recipe, name: str) -> Shop:
    """The shop of that name (its own, else the recipe's key for it)."""
    for shop in recipe.shops.values():
        if shop.name == name:
            return shop
    return recipe.shops[name]
