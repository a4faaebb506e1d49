"""Designs made by hand for the workshop's tests: no reader, no steps, only values.

Body W is the worked example of the trade notes: the hull of two circles as exactly 2 lines and
2 arcs; its closed forms stand in `body_w_measures`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pipeline.core.place import Place
from pipeline.core.recipe import By, Frame, HardwarePart, Recipe, Sheet, Step
from pipeline.core.shop import Cutter, Rates, Shop
from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.steps.cavity import Spec as CavitySpec
from pipeline.steps.cover import Spec as CoverSpec
from pipeline.steps.holes import Spec as HolesSpec
from pipeline.steps.stack import Spec as StackSpec
from pipeline.steps.template import Follow
from pipeline.steps.template import Spec as TemplateSpec
from pipeline.steps.values import Blank, Derived, Drawing, Drawn, Lamination, Op, Piece, Result, SetUp

FILE = "wren.yaml"
BIRCH = Sheet(
    measured={"A": 11.8, "B": 11.7, "C": 11.9}, size=(1220.0, 610.0), grain="x", density=680.0, price=38.0
)
MDF = Sheet(measured={"A": 9.1}, size=(900.0, 600.0), density=740.0, price=8.4)
PLY3 = Sheet(measured={"A": 3.1}, size=(600.0, 300.0), density=660.0, price=4.2, shop="laser")
ROUTER = Shop(name="router", rates=Rates(hour=60.0, feed=2500.0, pass_depth=4.0))
LASER = Shop(name="laser", process="laser", bed=(700.0, 500.0), kerf=0.18, rates=Rates(hour=90.0, feed=1200.0))
DRILLS = (Cutter(DC=5.0, APMX=50.0, LU=55.0, DMM=5.0, kind="drill"),)


def hull_of_circles(x: float, r: float, x2: float, r2: float) -> Contour:
    """Convex hull of two circles on the x axis (x < x2, r > r2): two lines and two arcs."""
    a = math.asin((r - r2) / (x2 - x))
    big = [(x + r * math.sin(a), s * r * math.cos(a)) for s in (1, -1)]
    small = [(x2 + r2 * math.sin(a), s * r2 * math.cos(a)) for s in (-1, 1)]
    far, near = math.tan((math.pi + 2 * a) / 4), math.tan((math.pi - 2 * a) / 4)
    return chain([*big, *small], [far, 0.0, near, 0.0])


BODY_W = solid(hull_of_circles(20.0, 120.0, 190.0, 42.0))


def body_w_measures() -> tuple[float, float, float]:
    """(area, perimeter, centroid x) of body W by elementary geometry, without our contours.

    Two circular sectors (centroid 2R sin β / 3β, β the half angle) and two right trapezoids between
    the centre line and the tangents, each cut into two triangles.
    """
    big, small, x0, x1 = 120.0, 42.0, 20.0, 190.0
    d = x1 - x0
    s = math.sqrt(d * d - (big - small) ** 2)
    a = math.asin((big - small) / d)
    parts = [
        (big**2 * (math.pi / 2 + a), x0 - 2 * big * math.sin(math.pi / 2 + a) / (3 * (math.pi / 2 + a))),
        (small**2 * (math.pi / 2 - a), x1 + 2 * small * math.sin(math.pi / 2 - a) / (3 * (math.pi / 2 - a))),
    ]
    p = x0 + big * math.sin(a), big * math.cos(a)
    q = x1 + small * math.sin(a), small * math.cos(a)
    for u, v, w in (((x0, 0.0), (x1, 0.0), q), ((x0, 0.0), q, p)):
        twice = (v[0] - u[0]) * (w[1] - u[1]) - (w[0] - u[0]) * (v[1] - u[1])
        parts.append((abs(twice), (u[0] + v[0] + w[0]) / 3))  # the triangle and its mirror image
    area = sum(part[0] for part in parts)
    perimeter = 2 * s + big * (math.pi + 2 * a) + small * (math.pi - 2 * a)
    return area, perimeter, sum(m * x for m, x in parts) / area


def ring(outer: float, inner: float) -> Region:
    """A round ring by its radii."""
    return region([Part(circle(0, 0, outer), (circle(0, 0, inner),))])


def piece(name: str, shape: Region, **more: Any) -> Piece:
    """A piece that is cut out and nothing else; inner contours are openings."""
    face = more.pop("face", "front")
    inner = tuple(h for p in shape for h in p.holes)
    ops = [Op(work="CUT_INSIDE", face=face, contours=inner)] if inner else []
    ops.append(Op(work="CUT_OUTSIDE", face=face, contours=tuple(p.outer for p in shape)))
    values: dict[str, Any] = {
        "name": name,
        "role": "panel",
        "step": name,
        "sheet": "birch12",
        "letter": "",
        "shop": "router",
        "count": 1,
        "thickness_mm": 11.8,
        "region": shape,
        "cut": shape,
        "set_ups": (SetUp(face=face, ops=tuple(ops)),),
        "mass_g": None,
    }
    return Piece(**(values | more))


def place(line: int) -> Place:
    return Place(file=FILE, line=line, column=3)


def step(name: str, kind: str, needs: Mapping[str, str] | None = None, spec: Any = None, line: int = 9) -> Step:
    return Step(name=name, kind=kind, spec=spec, after=(), needs=needs or {}, places={"": place(line)})


def derived(
    *results: Result,
    steps: tuple[Step, ...] = (),
    sheets: Mapping[str, Sheet] | None = None,
    shops: Mapping[str, Shop] | None = None,
    hardware: Mapping[str, HardwarePart] | None = None,
    make: int = 1,
    turn_over: str = "x",
) -> Derived:
    known = {s.name: s for s in steps}
    for r in results:
        known.setdefault(r.step, step(r.step, r.kind))
    recipe = Recipe(
        design="wren",
        title="Wren",
        revision="A",
        by=By(),
        make=make,
        parameters={},
        drawing="wren.svg",
        drawing_place=place(2),
        frame=Frame(turn_over=turn_over),  # type: ignore[arg-type]  # a plain str keeps the call short
        shops=shops or {"router": ROUTER, "laser": LASER},
        sheets=sheets or {"birch12": BIRCH, "mdf9": MDF, "ply3": PLY3},
        hardware=hardware or {},
        steps=known,
        balance=None,
        notes=(),
        accepted=(),
        variant="",
        tolerance=0.005,
        made="",
        root="",
        path=FILE,
        inputs=(),
        places={"": place(1), "sheets": place(4)},
    )
    whole = Drawn(name="all", region=None, lines=(), mark=None, place=Place(file="wren.svg"))
    return Derived(
        recipe=recipe,
        drawing=Drawing(file="wren.svg", objects={}, all=whole),
        order=tuple(known.values()),
        results={r.step: r for r in results},
    )


def of_pieces(*pieces: Piece, **more: Any) -> Derived:
    """A design whose only step gives these pieces."""
    return derived(Result(step="parts", kind="outline", pieces=pieces), **more)


def body_w(make: int = 1, **more: Any) -> Derived:
    """Body W as a stack of three: neck pocket from the front and control cavity from the back of the
    glued blank, a hollow in lamination 2, index pins, a cover, an outline template."""
    sheets = ("A", "B", "C")
    z = (0.0, 11.85, 23.6)
    neck = solid(rectangle(62.0, 42.2, 6.5, x=200.0))
    control = solid(rectangle(80.0, 45.0, 8.0, x=-30.0, y=-45.0))
    pins = (disc(-60.0, 40.0, 3.0), disc(150.0, 0.0, 4.0))
    hollow = region([Part(BODY_W.parts[0].outer, (rectangle(60.0, 30.0, 5.0, x=60.0),))])
    laminations = []
    for n, (letter, t) in enumerate(zip(sheets, (11.8, 11.7, 11.9), strict=True), start=1):
        shape = hollow if n == 2 else BODY_W
        drills = [
            Op(work="DRILL", face="front", contours=p.contours, diameter_mm=d, through=True, step="pins")
            for p, d in zip(pins, (6.0, 8.0), strict=True)
        ]
        plain = piece(f"blank-{n}", shape)
        laminations.append(
            piece(
                f"blank-{n}",
                shape,
                role="lamination",
                step="blank",
                letter=letter,
                thickness_mm=t,
                count=make,
                grain="x",
                mass_g=shape.area * t * 680e-6,
                set_ups=(SetUp(face="front", ops=(*drills, *plain.set_ups[0].ops)),),
            )
        )
    back = SetUp(
        face="back",
        ops=(
            Op(work="INDEX", face="back", contours=pins[0].contours + pins[1].contours, step="pins"),
            Op(work="POCKET", face="back", contours=control.contours, depth_mm=32.15, step="control"),
        ),
    )
    front = SetUp(
        face="front",
        ops=(
            Op(work="INDEX", face="front", contours=pins[0].contours + pins[1].contours, step="pins"),
            Op(work="RAMP", face="front", contours=neck.contours, depth_mm=16.0, deep_mm=18.1, step="neck_pocket"),
            Op(work="CUT_OUTSIDE", face="front", contours=(BODY_W.parts[0].outer,), step="body"),
        ),
    )
    blank = Blank(
        name="blank",
        step="blank",
        shop="router",
        count=make,
        laminations=tuple(
            Lamination(number=n, sheet="birch12", letter=x, z0=a, z1=a + p.thickness_mm, piece=p.name)
            for n, (x, a, p) in enumerate(zip(sheets, z, laminations, strict=True), start=1)
        ),
        thickness_mm=35.5,
        region=BODY_W,
        set_ups=(back, front),
        mass_g=1266.0,
        centre_mm=(49.87, 2.84, 18.0),
        by_hand=("pickup",),
    )
    cover = piece(
        "cover", solid(rectangle(88.5, 53.5, 12.25, x=-30.0, y=-45.0)), role="cover", sheet="ply3", letter="A",
        shop="laser", thickness_mm=3.1, mass_g=9.5, count=make,
    )  # fmt: skip
    guide = piece(
        "pickup_guide", ring(60.0, 20.0), role="template", sheet="mdf9", letter="A", thickness_mm=9.1, mass_g=70.0
    )

    def plain(face: str) -> CavitySpec:
        return CavitySpec(face=face, depth=10.0)  # type: ignore[arg-type]  # a face's name

    follow = Follow(cutter=8.0, bush=17.0)
    steps = (
        step("body", "outline"),
        step("neck_pocket", "cavity", spec=plain("front")),
        step("control", "cavity", spec=plain("back")),
        step("pickup", "cavity", spec=plain("front")),
        step("pins", "holes", spec=HolesSpec(at=((-60.0, 40.0), (150.0, 0.0)), diameter=(6.0, 8.0), role="index")),
        step(
            "blank",
            "stack",
            {"body": "outline", "control": "cut_blank", "neck_pocket": "cut_blank", "pins": "ears"},
            spec=StackSpec(outline="body", laminations=("birch12 A", "birch12 B", "birch12 C"), ears="pins"),
        ),
        step("cover", "cover", {"control": "of"}, spec=CoverSpec(of="control", sheet="ply3", gap=0.25)),
        step(
            "pickup_guide",
            "template",
            {"pickup": "of"},
            spec=TemplateSpec(of="pickup", use="opening", follow=follow, sheet="mdf9"),
        ),
    )
    return derived(
        Result(step="blank", kind="stack", region=BODY_W, pieces=tuple(laminations), blanks=(blank,)),
        Result(step="cover", kind="cover", pieces=(cover,)),
        Result(step="pickup_guide", kind="template", pieces=(guide,)),
        steps=steps,
        make=make,
        **more,
    )
