"""Random nests, and what shapely alone says of them: for the suite and for `python -m tests.bench.nests`."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from pipeline.core.recipe import Offcut, Sheet
from pipeline.core.shop import Shop
from pipeline.geometry.contour import chain, line_chain
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.steps.values import Derived, Nest, Piece
from tests.workshop.factory import hull_of_circles, of_pieces, piece

FINE_MM = 0.0005
"""Curves are measured on chords this near to them, so two of them may seem nearer by twice as much."""


def random_design(seed: int) -> Derived:
    """A shop with its gap and border, a stock with sheets and offcuts, and up to 14 pieces of all kinds."""
    draw = random.Random(seed)
    laser = draw.random() < 0.4
    shop = Shop(
        name="shop",
        process="laser" if laser else "router",
        gap=draw.choice([0.0, 0.5, 2.0, 5.0, 8.0, 12.7]),
        border=draw.choice([0.0, 4.0, 10.0, 20.0]),
        bed=draw.choice([(1300.0, 900.0), (1300.0, 900.0), (500.0, 380.0)]),
    )
    size = draw.choice([(300.0, 200.0), (420.0, 297.0), (600.0, 300.0), (1220.0, 610.0), (250.0, 700.0)])
    measured = {"A": draw.choice([3.1, 6.0, 11.8]), "B": 11.7}
    offcuts: dict[str, Offcut] = {}
    if draw.random() < 0.5:
        measured["D"] = 11.9
        offcuts["D"] = _offcut(draw, size)
    if draw.random() < 0.3:
        x, y = draw.uniform(0, size[0] - 40), draw.uniform(0, size[1] - 30)
        offcuts["A"] = Offcut(keep_out=((x, y, draw.uniform(10, 60), draw.uniform(10, 60)),))
    grain = draw.choice(["none", "x", "y"])
    sheet = Sheet(measured=measured, size=size, grain=grain, offcuts=offcuts)  # type: ignore[arg-type]  # a word
    pieces = [_piece(draw, n, min(size), shop="shop", letters=tuple(measured)) for n in range(draw.randint(1, 14))]
    made = of_pieces(*pieces, shops={"shop": shop}, sheets={"birch12": sheet}, turn_over=draw.choice(["x", "y"]))
    spare = {p.step: 1 for p in pieces if draw.random() < 0.2}
    return replace(made, recipe=replace(made.recipe, spare=spare))


def _offcut(draw: random.Random, size: tuple[float, float]) -> Offcut:
    w, h = size[0] * draw.uniform(0.3, 0.9), size[1] * draw.uniform(0.4, 0.9)
    keep_out = tuple(
        (draw.uniform(-20, w), draw.uniform(-20, h), draw.uniform(5, 80), draw.uniform(5, 80))
        for _ in range(draw.randint(0, 2))
    )
    if draw.random() < 0.5:
        return Offcut(size=(w, h), keep_out=keep_out)
    a, b = draw.uniform(0.3, 0.7) * w, draw.uniform(0.3, 0.7) * h
    corners = ((0.0, 0.0), (w, 0.0), (w, b), (a, b + 5.0), (a, h), (0.0, h * 0.9))
    return Offcut(corners=corners, keep_out=keep_out)


def _piece(draw: random.Random, n: int, most: float, shop: str, letters: tuple[str, ...]) -> Piece:
    role = draw.choice(["panel", "panel", "lamination", "template", "coupon"])
    return piece(
        f"p{n}",
        _shape(draw, most * draw.uniform(0.08, 0.7)),
        role=role,
        letter=draw.choice(letters),
        count=draw.choice([1, 1, 1, 2, 4]),
        grain=draw.choice(["none", "x", "y"]),
        face=draw.choice(["front", "front", "back"]),
        shop=shop,
    )


def _shape(draw: random.Random, s: float) -> Region:
    """Something about ``s`` across: boxes, discs, rings, hulls of circles, stars, half moons, frames."""
    x, y = draw.uniform(-50, 50), draw.uniform(-50, 50)
    match draw.randrange(7):
        case 0:
            return solid(rectangle(s, s * draw.uniform(0.2, 1.0), s * draw.uniform(0, 0.1), x=x, y=y))
        case 1:
            return disc(x, y, s / 2)
        case 2:
            return region([Part(circle(x, y, s / 2), (circle(x, y, s * draw.uniform(0.1, 0.45)),))])
        case 3:
            return solid(hull_of_circles(x, s * 0.3, x + s * 0.5, s * draw.uniform(0.05, 0.25)))
        case 4:
            angles = sorted(draw.uniform(0, 2 * math.pi) for _ in range(draw.randint(5, 11)))
            points = [(x + s * draw.uniform(0.15, 0.5) * math.cos(a), y + s * draw.uniform(0.15, 0.5) * math.sin(a))
                      for a in angles]  # fmt: skip
            shape = shapely.Polygon(points)
            if shape.is_valid and shape.area > s * s / 50:
                return solid(line_chain(shapely.get_coordinates(shapely.orient_polygons(shape).exterior)[:-1]))
            return disc(x, y, s / 2)
        case 5:
            return solid(chain([(x, y), (x + s, y)], [math.tan(math.pi / 4), -0.3]))
        case _:
            hole = rectangle(s * 0.7, s * 0.5, s * 0.05, x=x, y=y)
            return region([Part(rectangle(s, s * 0.8, 0.0, x=x, y=y), (hole,))])


def seen(design: Derived, p: Piece) -> shapely.Geometry:
    """A piece as its nest shows it, turned over here, not by the product: back pieces about the frame's axis."""
    shape = p.cut.polygon
    if p.set_ups[0].face == "front":
        return shape
    frame = design.recipe.frame
    flip = np.array([-1.0, 1.0] if frame is not None and frame.turn_over == "y" else [1.0, -1.0])
    return shapely.transform(shape, lambda xy: xy * flip)


def lying(design: Derived, nest: Nest) -> list[shapely.Geometry]:
    """Its parts where they lie, by shapely alone."""
    known = {p.name: seen(design, p) for p in design.pieces}
    return [
        shapely.affinity.translate(shapely.affinity.rotate(known[p.piece], p.turn_deg, origin=(0, 0)), p.dx, p.dy)
        for p in nest.placements
    ]


def violations(design: Derived, nests: tuple[Nest, ...]) -> Iterator[str]:
    """Every overlap, gap, border, keep-out, grain, letter or count that is violated."""
    recipe = design.recipe
    shop, stock = recipe.shops["shop"], recipe.sheets["birch12"]
    gap, border = shop.part_gap, shop.sheet_border
    if shop.process == "laser" and shop.gap == 0.0:
        gap = max(gap, max(stock.measured.values()) / 2)
    pieces = {p.name: p for p in design.pieces}
    for nest in nests:
        shapes = lying(design, nest)
        name = f"{nest.letter} {nest.number}"
        w, h = nest.size
        outline = shapely.Polygon(nest.corners) if nest.corners else shapely.box(0, 0, w, h)
        for i, s in enumerate(shapes):
            for j in range(i):
                if shapely.distance(s, shapes[j]) < gap - 2 * FINE_MM - 1e-4:
                    yield f"{name}: parts {shapely.distance(s, shapes[j]):.4f} apart, {gap} wanted"
                if shapely.intersection(s, shapes[j]).area > 0:
                    yield f"{name}: parts over each other"
            if not shapely.covers(outline, s) or shapely.distance(s, outline.exterior) < border - FINE_MM - 1e-4:
                yield f"{name}: a part {shapely.distance(s, outline.exterior):.4f} from the edge, {border} wanted"
            for x, y, kw, kh in nest.keep_out:
                if shapely.distance(s, shapely.box(x, y, x + kw, y + kh)) < gap - FINE_MM - 1e-4:
                    yield f"{name}: a part in a place to keep out of"
            bed = (
                (w, h)
                if (w <= shop.bed[0] and h <= shop.bed[1]) or (w <= shop.bed[1] and h <= shop.bed[0])
                else shop.bed
            )
            if s.bounds[2] > bed[0] + 1e-6 or s.bounds[3] > bed[1] + 1e-6:
                yield f"{name}: a part beyond the bed"
        for p in nest.placements:
            piece_ = pieces[p.piece]
            along = {"x": p.turn_deg % 180 == 0, "y": p.turn_deg % 180 == 90}
            if (
                "none" not in (piece_.grain, stock.grain)
                and not along["x" if piece_.grain == stock.grain else "y"]
            ):
                yield f"{name}: {p.piece} across the grain"
            if piece_.role == "lamination" and nest.letter != piece_.letter:
                yield f"{name}: {p.piece} from another sheet"
        if nest.letter == "D" and nest.number > 1:
            yield "a second offcut"
    laid = [(p.piece, p.copy) for n in nests for p in n.placements]
    if len(set(laid)) < len(laid):
        yield "a copy laid twice"
