"""Small designs for the checks: plan rules and sheets by hand, cut by the real stack and panel steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from pipeline.checks import findings
from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Accepted, By, HardwarePart, Recipe, Sheet, Step
from pipeline.core.shop import Cutter, Shop
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.registry import KINDS
from pipeline.steps.values import (
    Cut,
    Depth,
    Derived,
    Drawing,
    Drawn,
    Op,
    Piece,
    Result,
    SetUp,
    Tilt,
    World,
)

PLACE = Place(file="test.yaml", line=1, column=1)
SHEETS = {
    "ply": Sheet(measured={"A": 11.8, "B": 11.7, "C": 11.9}, nominal=12.0, density=680.0),
    "veneer": Sheet(measured={"A": 0.6}),
    "panel": Sheet(measured={"A": 12.0}, nominal=12.0, size=(1220.0, 610.0), grain="x"),
    "ply3": Sheet(measured={"A": 3.1}, shop="laser"),
}
SIX = Shop(cutters=(Cutter(DC=6.0, APMX=60.0, LU=80.0, DMM=6.0),))
"""A shop with one long cutter of radius 3, as trade.md's corner oracle has it."""


def cut(
    name: str,
    region: Region,
    *,
    face: Any = "front",
    depth: float | None = None,
    floor: float | None = None,
    through: bool = False,
    tilt: Tilt | None = None,
    step: str = "",
    fit: str = "",
    lamination: int | None = None,
    diameter: float | None = None,
) -> Cut:
    """A plan rule, with exactly one of depth, floor, through; with none the sheet's thickness."""
    rule: Any = (
        "depth" if depth is not None else "floor" if floor is not None else "through" if through else "sheet"
    )
    return Cut(
        step=step or name, name=name, region=region, design=region, face=face, fit=fit, lamination=lamination,
        depth=Depth(rule=rule, mm=depth or floor or 0.0, tilt=tilt), diameter_mm=diameter,
    )  # fmt: skip


def box(x: float, y: float, width: float, height: float, corner: float = 8.0) -> Region:
    return solid(rectangle(width, height, corner, x=x, y=y))


def recipe(
    steps: Sequence[Step],
    *,
    shop: Shop | None = None,
    accepted: Sequence[Accepted] = (),
    hardware: Mapping[str, HardwarePart] | None = None,
    sheets: Mapping[str, Sheet] | None = None,
) -> Recipe:
    return Recipe(
        design="test", title="Test", revision="B", by=By(), make=1, parameters={}, drawing="test.svg",
        drawing_place=PLACE, frame=None, sheets=sheets or SHEETS, hardware=hardware or {},
        shops={"router": shop or Shop(), "laser": Shop(name="laser", process="laser", cutters=())},
        steps={s.name: s for s in steps}, balance=None, notes=(), accepted=tuple(accepted), variant="",
        tolerance=0.005, made="", root="", path="test.yaml", inputs=(),
        places={"": PLACE, "accepted.0": Place(file="test.yaml", line=90, column=5)},
    )  # fmt: skip


def step(name: str, kind: str, spec: Any = None, line: int = 10, **needs: str) -> Step:
    """A step; ``needs`` maps step names to the field that names them. Its depth stands at column 40."""
    at = Place(file="test.yaml", line=line, column=3)
    return Step(
        name=name, kind=kind, spec=spec or SimpleNamespace(), after=(), needs=needs,
        places={"": at, "depth": replace(at, column=40)},
    )  # fmt: skip


def blank(
    outline: Region,
    *cuts: Cut,
    laminations: tuple[str, ...] = ("ply A", "ply B", "ply C"),
    in_blank: tuple[str, ...] = (),
    needs: Mapping[str, Mapping[str, str]] | None = None,
    told_shop: Shop | None = None,
    **more: Any,
) -> Derived:
    """A glued blank with these cuts, made by the real `stack` step; ``in_blank`` names steps that are cut in the
    blank, all others in the laminations. ``needs`` adds edges between the cuts."""
    by_step: dict[str, list[Cut]] = {}
    for c in cuts:
        by_step.setdefault(c.step, []).append(c)
    spec = KINDS["stack"].spec(
        outline="body", laminations=laminations, glue=0.05, cut=tuple(n for n in by_step if n not in in_blank),
        cut_blank=in_blank,
    )  # fmt: skip
    steps = [step("body", "outline")]
    for line, name in enumerate(by_step, 11):
        kind = "holes" if by_step[name][0].diameter_mm else "cavity"
        steps.append(step(name, kind, line=line, **(needs or {}).get(name, {})))
    steps.append(step("blank", "stack", spec, line=30))
    r = recipe(steps, shop=told_shop, **more)
    results = {"body": Result(step="body", kind="outline", region=outline)}
    for name, mine in by_step.items():
        results[name] = Result(step=name, kind=r.steps[name].kind, cuts=tuple(mine))
    world = World(recipe=r, drawing=drawing(), results=results)
    made = {**results, "blank": KINDS["stack"].make("blank", spec, world)}
    return Derived(recipe=r, drawing=drawing(), order=tuple(r.steps.values()), results=made)


def panel(
    edge: Region,
    *ops: Op,
    shop: str = "router",
    sheet: str = "panel",
    thickness: float = 12.0,
    cuts: Sequence[Cut] = (),
    grain: Any = "none",
    found: Sequence[Finding] = (),
    told_shop: Shop | None = None,
    **more: Any,
) -> Derived:
    """A panel of one sheet with these operations besides its outer edge; ``cuts`` are its steps' plan rules."""
    outer = Op(work="CUT_OUTSIDE", face="front", contours=tuple(p.outer for p in edge.parts), step="plate")
    faces: list[Any] = [f for f in ("back", "front") if f == "front" or any(o.face == f for o in ops)]
    set_ups = tuple(
        SetUp(face=f, ops=(*(o for o in ops if o.face == f), *((outer,) if f == "front" else ()))) for f in faces
    )
    piece = Piece(
        name="plate", role="panel", step="plate", sheet=sheet, letter="A", shop=shop, count=1,
        thickness_mm=thickness, region=edge, cut=edge, set_ups=set_ups, mass_g=None, grain=grain,
    )  # fmt: skip
    names = dict.fromkeys([*(o.step for o in ops if o.step), *(c.step for c in cuts)])
    steps = [*(step(n, "cavity", line=11 + i) for i, n in enumerate(names)), step("plate", "outline", line=20)]
    r = recipe(steps, shop=told_shop, **more)
    results = {n: Result(step=n, kind="cavity", cuts=tuple(c for c in cuts if c.step == n)) for n in names}
    results["plate"] = Result(step="plate", kind="outline", region=edge, pieces=(piece,), findings=tuple(found))
    return Derived(recipe=r, drawing=drawing(), order=tuple(steps), results=results)


def drawing(found: Sequence[Finding] = ()) -> Drawing:
    nothing = Drawn(name="all", region=None, lines=(), mark=None, place=PLACE)
    return Drawing(file="test.svg", objects={}, all=nothing, findings=tuple(found))


def pocket(region: Region, depth: float, name: str = "hollow", face: Any = "front") -> Op:
    return Op(work="POCKET", face=face, contours=region.contours, depth_mm=depth, step=name)


def opening(region: Region, name: str = "hole") -> Op:
    return Op(work="CUT_INSIDE", face="front", contours=region.contours, step=name)


def told(derived: Derived, check: str) -> tuple[Finding, ...]:
    """The findings of one check, worst first."""
    return tuple(f for f in findings(derived) if f.check == check)


def only(derived: Derived, check: str) -> Finding:
    """The one finding of a check; fails when there are none or several."""
    (found,) = told(derived, check)
    return found


__all__ = ["PLACE", "SIX", "View", "blank", "box", "cut", "drawing", "only", "opening", "panel", "pocket", "told"]
