"""The report's sheets: each with its parts as they lie, the order of its cuts, and what is worth keeping."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape

from pipeline.core.recipe import Recipe
from pipeline.geometry.region import Region
from pipeline.geometry.transform import Move
from pipeline.packet.nest_words import leftover_words, spare_words
from pipeline.packet.path_text import matrix, number, path_data
from pipeline.packet.pictures import picture
from pipeline.packet.views import placed, turned_over
from pipeline.steps.values import Derived, Leftover, Nest, NestCut

STYLE = """
.nest-keep{fill:none;stroke:#007a5a;stroke-width:var(--w);stroke-dasharray:calc(var(--w)*6) calc(var(--w)*3)}
.nest-off{fill:#fff;stroke:#a33c00;stroke-width:var(--w)}
.nest-hatch{stroke:#a33c00;stroke-width:calc(var(--w)*.6);fill:none}
.nest-spare{fill:#e3eff7;stroke:#00598a;stroke-width:var(--w);stroke-dasharray:calc(var(--w)*2) var(--w)}
.nest-grain{fill:none;stroke:#555;stroke-width:var(--w)}
.nest-facts{margin:.3rem 0}.nest-cuts td,.nest-cuts th{padding:.15rem .6rem}
details.nest-order>summary{cursor:pointer;padding:.2rem 0}
"""
PICTURE_PX = 560
LETTER = 0.6
"""Width of a letter as a share of its height."""
Box = tuple[float, float, float, float]
Shapes = Mapping[str, tuple[Region, Move]]


def nests_section(derived: Derived, nests: Sequence[Nest]) -> str:
    """The inside of the section on sheets as HTML; empty where no part lies on a sheet."""
    if not nests:
        return ""
    recipe = derived.recipe
    # A nest shows its sheet as the machinist sees it, so back pieces lie turned over.
    shapes: Shapes = {p.name: (p.cut, turned_over(p.set_ups[0].face, recipe)) for p in derived.pieces}
    cards = "".join(_card(recipe, nest, nests, shapes) for nest in nests)
    return f'{_words(nests)}{_table(recipe, nests)}<div class="cards">{cards}</div>'


def _words(nests: Sequence[Nest]) -> str:
    """How to read the pictures; only of what stands in them."""
    words = [
        "Numbers: the order in which the parts are cut free, small before large, what lies in an opening first."
    ]
    if any(n.leftovers for n in nests):
        words.append("Green dashes: rectangles worth keeping.")
    if any(n.keep_out for n in nests):
        words.append("Hatched: kept out of.")
    if any(p.spare for n in nests for p in n.placements):
        words.append("Dashed blue parts: spares.")
    return f"<p>{' '.join(words)}</p>"


def _table(recipe: Recipe, nests: Sequence[Nest]) -> str:
    """One row a sheet: size, parts, how much of it is used."""
    rows = "".join(
        f'<tr><th scope="row">{escape(sheet_name(n, nests))}</th><td>{escape(n.shop)}</td>'
        f"<td>{n.size[0]:g} × {n.size[1]:g}{' (offcut)' if n.offcut else ''}</td>"
        f'<td class="n">{n.thickness_mm:.2f}</td><td class="n">{len(n.placements)}</td>'
        f'<td class="n">{n.used * 100:.1f} %</td><td class="n">{n.length_mm:.0f}</td></tr>'
        for n in nests
    )
    head = "".join(
        f'<th scope="col"{c}>{escape(t)}</th>'
        for t, c in (
            ("Sheet", ""), ("Shop", ""), ("Size mm", ""), ("Thickness mm", ' class="n"'), ("Parts", ' class="n"'),
            ("Yield", ' class="n"'), ("Length used mm", ' class="n"'),
        )
    )  # fmt: skip
    label = "Sheets and how much of each is used"
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{label}"><table><caption>{label}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def sheet_name(nest: Nest, nests: Sequence[Nest]) -> str:
    """Stock and letter, with the number where there are several of a letter."""
    several = sum((n.sheet, n.letter) == (nest.sheet, nest.letter) for n in nests) > 1
    return f"{nest.sheet} {nest.letter}".strip() + (f", sheet {nest.number}" if several else "")


def _card(recipe: Recipe, nest: Nest, nests: Sequence[Nest], shapes: Shapes) -> str:
    name = sheet_name(nest, nests)
    spare = spare_words(nest)
    facts = [
        f"{_parts_word(len(nest.placements))}, {nest.used * 100:.1f} % of the "
        f"{'offcut' if nest.offcut else 'sheet'} used, cut by {nest.shop}.",
        *([f"Spare: {spare}."] if spare else []),
        *(["The layout is one that was kept from a search."] if nest.kept else []),
        *(f"Worth keeping: {leftover_words(v)} mm." for v in nest.leftovers),
    ]
    told = "".join(f'<p class="nest-facts">{escape(f)}</p>' for f in facts)
    return (
        f'<div class="card"><h3>{escape(name)}</h3>{_picture(recipe, nest, shapes, name)}{told}'
        f"{_order(nest, name)}</div>"
    )


def _parts_word(count: int) -> str:
    return "1 part" if count == 1 else f"{count} parts"


# -- the order -----------------------------------------------------------------------------------
def _order(nest: Nest, name: str) -> str:
    """The cuts in their order, folded away where there are many."""
    if len(nest.cuts) < 2:
        return ""
    rows = "".join(
        f'<tr><td class="n">{k}</td><td>{escape(_cut_words(nest, c))}</td>'
        f"<td>{escape(_because(nest, c))}</td></tr>"
        for k, c in enumerate(nest.cuts, start=1)
    )
    return (
        f'<details class="nest-order"><summary>Order of the cuts on {escape(name)}</summary>'
        '<table class="nest-cuts"><thead><tr><th scope="col" class="n">Cut</th><th scope="col">What</th>'
        f'<th scope="col">Because</th></tr></thead><tbody>{rows}</tbody></table></details>'
    )


def _cut_words(nest: Nest, cut: NestCut) -> str:
    part = f"{cut.placement + 1} {nest.placements[cut.placement].piece}"
    if cut.work == "CUT_OUTSIDE":
        return f"outside of {part}"
    return f"{'the opening' if cut.contours == 1 else f'{cut.contours} openings'} of {part}"


def _because(nest: Nest, cut: NestCut) -> str:
    if cut.inner:
        inner = ", ".join(str(k + 1) for k in cut.inner)
        return f"{inner} inside {'is' if len(cut.inner) == 1 else 'are'} free already"
    return "the sheet is still whole there" if cut.work == "CUT_INSIDE" else "it frees the part"


# -- the picture -----------------------------------------------------------------------------------
def _picture(recipe: Recipe, nest: Nest, shapes: Shapes, name: str) -> str:
    w, h = nest.size
    text = 13 * max(w, 1.0) / PICTURE_PX
    body = [_stock(nest)]
    for p in nest.placements:
        region, over = shapes[p.piece]
        look = "nest-spare" if p.spare else "part"
        data = path_data(region.contours)
        body.append(f'<path class="{look}" fill-rule="evenodd"{matrix(over.then(placed(p)))} d="{data}"/>')
    body += [_kept(v) for v in nest.leftovers]
    body += [_off(box, text) for box in nest.keep_out]
    body += _grain(recipe, nest, text)
    body += _labels(nest, shapes, text)
    count = _parts_word(len(nest.placements))
    return picture(f"{name}, {w:g} by {h:g}, with {count} numbered as they are cut", (0, 0, w, h), body, pad=0.03)


def _stock(nest: Nest) -> str:
    w, h = nest.size
    points = nest.corners or ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))
    return f'<path class="stock" d="M{"L".join(f"{number(x)} {number(-y)}" for x, y in points)}Z"/>'


def _kept(v: Leftover) -> str:
    x, y, w, h = v.box
    return (
        f'<rect class="nest-keep" x="{number(x)}" y="{number(-y - h)}" width="{number(w)}" height="{number(h)}"/>'
        f'<text class="says" x="{number(x + w / 2)}" y="{number(-y - h / 2)}">{w:.0f} × {h:.0f}</text>'
    )


def _off(box: Box, text: float) -> str:
    """A place that is kept out of, hatched."""
    x, y, w, h = box
    lines = []
    at = text / 2
    while at < w + h:
        a, b = max(0.0, at - h), min(at, w)
        lines.append(f"M{number(x + a)} {number(-(y + at - a))}L{number(x + b)} {number(-(y + at - b))}")
        at += max(text / 2, (w + h) / 40)
    return (
        f'<rect class="nest-off" x="{number(x)}" y="{number(-y - h)}" width="{number(w)}" height="{number(h)}"/>'
        f'<path class="nest-hatch" d="{"".join(lines)}"/>'
    )


def _grain(recipe: Recipe, nest: Nest, text: float) -> Iterator[str]:
    """An arrow along the grain of the sheet in its upper left corner."""
    grain = recipe.sheets[nest.sheet].grain
    if grain == "none":
        return
    long, head = 4 * text, text / 2
    a, b = number(head), number(head / 2)
    x, y = text, -nest.size[1] + text
    if grain == "x":
        ends = f"M{number(x)} {number(y)}h{number(long)}"
        tips = f"m-{a} -{b}l{a} {b}l-{a} {b}"
    else:
        ends = f"M{number(x)} {number(y)}v{number(long)}"
        tips = f"m-{b} -{a}l{b} {a}l{b} -{a}"
    yield f'<path class="nest-grain" d="{ends}{tips}"/>'


def _labels(nest: Nest, shapes: Shapes, text: float) -> Iterator[str]:
    """Number and name in the middle of each part; the number alone where the name is too long for it."""
    for n, p in enumerate(nest.placements, start=1):
        region, over = shapes[p.piece]
        move = over.then(placed(p))
        x, y = move.point(*region.polygon.representative_point().coords[0])
        xs = [move.point(a, b)[0] for a in region.bounds[::2] for b in region.bounds[1::2]]
        words = f"{n} {p.piece}"
        if len(words) * text * LETTER > max(xs) - min(xs):
            words = str(n)
        yield f'<text class="says" x="{number(x)}" y="{number(-y + text * 0.35)}">{escape(words)}</text>'
