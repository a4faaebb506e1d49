"""Small designs as values, made by hand: what the writers get from the other rooms."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pipeline.core.place import Place
from pipeline.core.recipe import By, Frame, InputFile, Recipe, Sheet, Step
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.steps.values import (
    Blank,
    Cut,
    Depth,
    Derived,
    Drawing,
    Drawn,
    Label,
    Lamination,
    Nest,
    Op,
    Piece,
    Placement,
    Result,
    SetUp,
)

PLACE = Place(file="heron.yaml", line=1, column=1, text="design: heron")


def body_w() -> Contour:
    """trade.md's worked body: convex hull of the circles R 120 at (20, 0) and R 42 at (190, 0)."""
    a = math.acos((120 - 42) / 170)
    c, s = math.cos(a), math.sin(a)
    points = [
        (20 + 120 * c, -120 * s),
        (190 + 42 * c, -42 * s),
        (190 + 42 * c, 42 * s),
        (20 + 120 * c, 120 * s),
    ]
    return chain(points, [0.0, math.tan(a / 2), 0.0, math.tan((math.pi - a) / 2)])


def recipe(
    shops: Mapping[str, Shop] | None = None,
    *,
    revision: str = "B",
    variant: str = "",
    title: str = "Heron, a travel tenor",
    turn_over: Any = "x",
    root: str = "/nowhere",
    made: str = "",
) -> Recipe:
    names = ("body", "blank", "cover", "pins")
    needs: dict[str, dict[str, str]] = {"blank": {"body": "outline", "pins": "ears"}, "cover": {}}
    return Recipe(
        design="heron",
        title=title,
        revision=revision,
        by=By(owner="Saltmarsh Workshop", drawn="AR", issued="2027-03-14"),
        make=1,
        parameters={},
        drawing=f"{root}/heron.svg",
        drawing_place=PLACE,
        frame=Frame(origin="bridge-mark", turn_over=turn_over),
        shops=shops or {"router": Shop(), "laser": laser()},
        sheets={
            "birch12": Sheet(measured={"A": 11.8, "B": 11.7}, nominal=12, material="birch plywood", grain="x"),
            "ply3": Sheet(measured={"A": 3.1}, size=(600.0, 300.0), shop="laser"),
        },
        hardware={},
        steps={
            n: Step(name=n, kind="outline", spec=None, after=(), needs=needs.get(n, {}), places={"": PLACE})
            for n in names
        },
        balance=None,
        notes=(),
        accepted=(),
        variant=variant,
        tolerance=0.005,
        made=made,
        root=root,
        path=f"{root}/heron.yaml",
        inputs=(InputFile(path="heron.yaml", sha256="0" * 64), InputFile(path="heron.svg", sha256="1" * 64)),
        places={"": PLACE},
    )


def laser(**changes: Any) -> Shop:
    return replace(Shop(name="laser", process="laser", wants="nests", kerf=0.2, cutters=()), **changes)


def pins() -> tuple[Cut, ...]:
    return tuple(
        Cut(
            step="pins",
            name=f"pins-{i}",
            region=disc(x, 0, d / 2),
            design=disc(x, 0, d / 2),
            face="front",
            depth=Depth(rule="through"),
            diameter_mm=d,
            index=True,
        )
        for i, (x, d) in enumerate(((-115.0, 6.0), (247.0, 8.0)), 1)
    )


def neck_pocket() -> Contour:
    """An asymmetric pocket off the centreline, so that a mirrored one can't pass for it."""
    return rectangle(62, 44, 6.5, x=160, y=3)


def lamination() -> Piece:
    """One set-up, an opening, index holes, engraved and plain words."""
    edge, opening = body_w(), circle(60, 25, 20).reversed()
    ops = (
        *(drill(c, "front") for c in pins()),
        Op(work="CUT_INSIDE", face="front", contours=(opening,), step="blank"),
        Op(work="CUT_OUTSIDE", face="front", contours=(edge,), step="blank"),
    )
    shape = region([Part(edge, (opening,))])
    labels = (
        Label(text="Heron B 1/3", at=(-40.0, -30.0), height_mm=6.0, engrave=True),
        Label(text="this side up", at=(20.0, 0.0), height_mm=5.0, centred=True),
    )
    return Piece(
        name="blank-1",
        role="lamination",
        step="blank",
        sheet="birch12",
        letter="A",
        shop="router",
        count=1,
        thickness_mm=11.8,
        region=shape,
        cut=shape,
        set_ups=(SetUp(face="front", ops=ops, labels=labels),),
        mass_g=400.0,
        grain="x",
        allowance_mm=0.5,
    )


def drill(cut: Cut, face: Any) -> Op:
    return Op(
        work="DRILL",
        face=face,
        contours=cut.region.contours,
        diameter_mm=cut.diameter_mm,
        through=True,
        step=cut.step,
    )


def index(cut: Cut, face: Any) -> Op:
    return Op(work="INDEX", face=face, contours=cut.region.contours, step=cut.step)


def blank(shop: str = "router") -> Blank:
    """Both faces: pocket with an island and holes from the back, a ramp and the perimeter from the front."""
    stock = rectangle(420, 280, x=60, y=0)
    control = rectangle(80, 46, 8, x=20, y=-50)
    island = circle(20, -50, 5).reversed()
    back = SetUp(
        face="back",
        ops=(
            *(drill(c, "back") for c in pins()),
            Op(work="POCKET", face="back", contours=(control, island), depth_mm=32.145, step="control"),
            Op(work="DRILL", face="back", contours=(circle(100, 40, 2.5),), depth_mm=12.0, diameter_mm=5.0),
            Op(work="REFERENCE", face="back", contours=(body_w(),), step="body"),
            Op(work="STOCK", face="back", contours=(stock,)),
        ),
        labels=(
            Label(text="BACK", at=(-60.0, 20.0), height_mm=8.0, engrave=True),
            Label(text="battery side", at=(0.0, 60.0), height_mm=5.0, turn_deg=30.0),
        ),
    )
    ramp = ((124.0, 3.0, 16.0), (194.0, 3.0, 17.886))
    front = SetUp(
        face="front",
        ops=(
            *(index(c, "front") for c in pins()),
            Op(
                work="RAMP",
                face="front",
                contours=(neck_pocket(),),
                depth_mm=16.0,
                deep_mm=17.885,
                ramp=ramp,
                step="neck_pocket",
            ),
            Op(
                work="GROOVE",
                face="front",
                contours=(line_chain([(0, 40), (40, 60), (90, 60)], closed=False),),
                diameter_mm=6.0,
                depth_mm=5.0,
                step="wire",
            ),
            Op(work="CUT_OUTSIDE", face="front", contours=(body_w(),), step="body"),
            Op(work="STOCK", face="front", contours=(stock,)),
        ),
    )
    return Blank(
        name="blank",
        step="blank",
        shop=shop,
        count=1,
        laminations=(
            Lamination(number=1, sheet="birch12", letter="A", z0=0.0, z1=11.8, piece="blank-1"),
            Lamination(number=2, sheet="birch12", letter="B", z0=11.85, z1=23.55, piece="blank-2"),
        ),
        thickness_mm=23.55,
        region=solid(body_w()),
        set_ups=(back, front),
        mass_g=900.0,
        centre_mm=(48.0, 0.0, 11.0),
    )


def cover(count: int = 1, face: Any = "front") -> Piece:
    """A laser's plate: an L of plain lines, two holes, a scored line, an engraved word, a note."""
    edge = line_chain([(0, 0), (90, 0), (90, 25), (40, 25), (40, 50), (0, 50)])
    holes = (circle(8, 8, 1.25), circle(82, 8, 1.25))
    shape = region([Part(edge, tuple(h.reversed() for h in holes))])
    ops = (
        Op(work="DRILL", face=face, contours=(holes[0],), diameter_mm=2.5, through=True, step="cover"),
        Op(work="CUT_INSIDE", face=face, contours=(holes[1].reversed(),), step="cover"),
        Op(work="SCORE", face=face, contours=(line_chain([(40, 0), (40, 25)], closed=False),), step="cover"),
        Op(work="CARVE_LINE", face=face, contours=(line_chain([(5, 5), (5, 45)], closed=False),)),
        Op(work="CUT_OUTSIDE", face=face, contours=(edge,), step="cover"),
    )
    labels = (
        Label(text="B", at=(20.0, 25.0), height_mm=6.0, engrave=True),
        Label(text="glue side", at=(10.0, 40.0), height_mm=4.0),
    )
    return Piece(
        name="cover",
        role="cover",
        step="cover",
        sheet="ply3",
        letter="A",
        shop="laser",
        count=count,
        thickness_mm=3.1,
        region=shape,
        cut=shape,
        set_ups=(SetUp(face=face, ops=ops, labels=labels),),
        mass_g=6.0,
    )


def cover_nest(*, copies: int = 2) -> Nest:
    return Nest(
        sheet="ply3",
        letter="A",
        number=1,
        shop="laser",
        size=(600.0, 300.0),
        thickness_mm=3.1,
        placements=tuple(
            Placement(piece="cover", copy=i + 1, turn_deg=90 * i, dx=60.0 + 200 * i, dy=10.0)
            for i in range(copies)
        ),
        used=0.03,
    )


def derived(
    made_for: Recipe | None = None,
    *,
    pieces: tuple[Piece, ...] | None = None,
    blanks: tuple[Blank, ...] | None = None,
) -> Derived:
    r = made_for or recipe()
    nothing = Drawn(name="all", region=Region(), lines=(), mark=None, place=PLACE)
    results = {
        "body": Result(step="body", kind="outline", region=solid(body_w()), numbers={"area_mm2": 55883.61}),
        "pins": Result(step="pins", kind="holes", cuts=pins()),
        "blank": Result(
            step="blank",
            kind="stack",
            pieces=(lamination(),) if pieces is None else pieces,
            blanks=(blank(),) if blanks is None else blanks,
            numbers={"thickness_mm": 23.55, "spans_mm": [[0.0, 11.8], [11.85, 23.55]]},
        ),
        "cover": Result(step="cover", kind="cover", pieces=(cover(2),) if pieces is None else ()),
    }
    return Derived(
        recipe=r,
        drawing=Drawing(file="heron.svg", objects={}, all=nothing),
        order=tuple(r.steps.values()),
        results=results,
    )
