"""Faults of parts, sheets and layouts: no fit stated (18), unmeasured parts (19), no face or depth (20), sheets
that are not as thick as sold (22), beds (23), gaps (24), grain (25), things left out (26)."""

from __future__ import annotations

from typing import Any

import shapely

from pipeline.workshop.nest import clearances
from tests.faults.case import Case, Seed
from tests.faults.design import (
    LASER,
    PLY,
    ROUTER,
    SHEETS,
    Design,
    Outcome,
    Raw,
    body,
    cavity,
    hole,
    large,
    panel,
    rounded,
)


def _fit() -> list[Case]:
    def bay(**more: Any) -> Raw:
        return {
            "bay": {
                "kind": "cavity",
                "part": {"rectangle": [60, 40], "corner": 7},
                "centre": [100, 20],
                "depth": 16,
                **more,
            }
        }

    two = {**bay(fit="slide"), "bed": {"kind": "cavity", "part": {"circle": 40}, "centre": [90, -60], "depth": 10}}
    return [
        Case(fault=18, name="no fit", design=body(bay()), seed=Seed(check="", refused="fit")),
        Case(fault=18, name="no fit among others", design=large(bay()), seed=Seed(check="", refused="fit")),
        Case(fault=18, name="one of two has none", design=body(two), seed=Seed(check="", refused="fit")),
        Case(fault=18, name="slide", design=body(bay(fit="slide"))),
        Case(fault=18, name="in millimetres", design=body(bay(fit=0.15))),
        Case(fault=18, name="press, among others", design=large(bay(fit="press"))),
    ]


def _unmeasured() -> list[Case]:
    def bay(measured: bool) -> Raw:
        part = {"size": [60, 40, 20], **({"measured": True} if measured else {})}
        return {"hardware": {"cell": part}}

    step = {
        "bay": {
            "kind": "cavity",
            "part": {"of": "cell", "corner": 7},
            "fit": "slide",
            "centre": [100, 20],
            "depth": 16,
        }
    }
    two = {
        **step,
        "bed": {"kind": "cavity", "part": {"of": "lamp"}, "fit": 0.3, "centre": [100, -60], "depth": 16},
    }
    both: Raw = {
        "hardware": {"cell": {"size": [60, 40], "measured": True}, "lamp": {"size": [40, 40], "round": True}}
    }
    seed = Seed(check="part-unmeasured", where=shapely.box(69, -1, 131, 41))
    all_measured: Raw = {"hardware": {k: {**v, "measured": True} for k, v in both["hardware"].items()}}
    return [
        Case(fault=19, name="nobody measured it", design=body(step, **bay(False)), seed=seed),
        Case(fault=19, name="among others", design=large(step, **bay(False)), seed=seed),
        Case(
            fault=19,
            name="one of two",
            design=body(two, **both),
            seed=Seed(check="part-unmeasured", where=shapely.Point(100, -60).buffer(20)),
        ),
        Case(fault=19, name="measured", design=body(step, **bay(True))),
        Case(fault=19, name="measured, among others", design=large(step, **bay(True))),
        Case(fault=19, name="both measured", design=body(two, **all_measured)),
    ]


def _governs() -> list[Case]:
    def well(**more: Any) -> Raw:
        return {
            "well": {"kind": "cavity", "opening": {"rectangle": [80, 50], "corner": 8}, "centre": [80, 20], **more}
        }

    said = Seed(check="", refused="how deep it goes")
    return [
        Case(fault=20, name="depth and floor", design=body(well(depth=10, floor=20)), seed=said),
        Case(fault=20, name="neither", design=body(well()), seed=said),
        Case(
            fault=20,
            name="no such face, among others",
            design=large(well(depth=10, face="left")),
            seed=Seed(check="", refused="front"),
        ),
        Case(fault=20, name="depth", design=body(well(depth=10))),
        Case(fault=20, name="floor", design=body(well(floor=20))),
        Case(fault=20, name="through", design=body(well(through=True))),
    ]


def _thick() -> list[Case]:
    def with_a(a: float) -> Raw:
        return {"sheets": {**SHEETS, "ply": {**PLY, "measured": {"A": a, "B": 11.9, "C": 11.9}}}}

    well = {"well": cavity(80, 20, 80, 50)}
    return [
        Case(
            fault=22,
            name="10.6 of 12",
            design=body(well, **with_a(10.6)),
            seed=Seed(check="sheet-measured", measured=1.4, limit=0.76),
        ),
        Case(
            fault=22,
            name="11.23 of 12, where 11.24 is allowed",
            design=body(well, **with_a(11.23)),
            seed=Seed(check="sheet-measured", measured=0.77, limit=0.76),
        ),
        Case(
            fault=22,
            name="too thick, among others",
            design=large(well, **with_a(12.6)),
            seed=Seed(check="sheet-measured", measured=0.6, limit=0.56),
        ),
        Case(fault=22, name="11.25 of 12", design=body(well, **with_a(11.25))),
        Case(fault=22, name="12.55 of 12", design=body(well, **with_a(12.55))),
        Case(fault=22, name="11.8 of 12, among others", design=large(well, **with_a(11.8))),
    ]


def _bed() -> list[Case]:
    def bed(x: float, y: float) -> Raw:
        return {"shops": {"router": {**ROUTER, "bed": [x, y]}, "laser": LASER}}

    def seed(measured: float, limit: float) -> Seed:
        return Seed(check="too-large", severity="stop", measured=measured, limit=limit)

    well = {"well": hole(80, 20, 80, 50)}
    small = {**SHEETS, "board": {"measured": {"A": 12.0}, "nominal": 12, "size": [320, 230]}}
    return [
        Case(
            fault=23,
            name="a panel of 300 on a bed of 250",
            design=panel(well, **bed(250, 250)),
            seed=seed(300, 250),
        ),
        Case(
            fault=23,
            name="a panel of 300 on a bed of 299.9",
            design=panel(well, **bed(299.9, 299.9)),
            seed=seed(300, 299.9),
        ),
        Case(
            fault=23,
            name="a body among others",
            design=large({}, **bed(500, 255)),
            seed=seed(260, 255),
        ),
        Case(fault=23, name="a sheet less its border", design=panel(well, sheets=small), seed=seed(300, 296)),
        Case(fault=23, name="turned on the bed", design=panel(well, **bed(200, 300))),
        Case(fault=23, name="as large as the bed", design=large({}, **bed(400, 260))),
        Case(
            fault=23,
            name="a sheet 24 larger",
            design=panel(well, sheets={**small, "board": {**small["board"], "size": [324, 224]}}),
        ),
    ]


def _gaps() -> list[Case]:
    def many(process: str, gap: float, sheet: str, n: int = 3) -> Design:
        shop = {**(ROUTER if process == "router" else LASER), "gap": gap}
        names = [f"part_{i}" for i in range(n)]
        return Design(
            steps={p: {"kind": "outline", "drawn": p, "sheet": sheet} for p in names},
            drawing={p: rounded(80 + 7 * i, 60, 8, 200 * i) for i, p in enumerate(names)},
            shops={"router": ROUTER, "laser": LASER, process: shop},
            nested=True,
        )

    def least(outcome: Outcome) -> float:
        """The exact gap, by the layout's own measure on the curves."""
        assert outcome.derived is not None
        return min(clearances(outcome.derived, n)[0] for n in outcome.nests)

    def seed(severity: str, limit: float) -> Seed:
        return Seed(check="parts-close", severity=severity, measured=least, limit=limit, mends=True)

    return [
        Case(
            fault=24, name="3 apart for a cutter of 12", design=many("router", 3, "board"), seed=seed("stop", 12)
        ),
        Case(
            fault=24, name="13 apart for a cutter of 12", design=many("router", 13, "board"), seed=seed("ask", 14)
        ),
        Case(
            fault=24, name="six parts on a laser, 1 apart", design=many("laser", 1, "thin", 6), seed=seed("ask", 2)
        ),
        Case(fault=24, name="14 apart", design=many("router", 14, "board")),
        Case(fault=24, name="the trade's own gap", design=many("router", 0, "board")),
        Case(fault=24, name="six parts on a laser, 2 apart", design=many("laser", 2, "thin", 6)),
    ]


def _grain() -> list[Case]:
    def veneered(**more: Any) -> Raw:
        sheet = {"measured": {"A": 0.6}, "density": 680, **more}
        return {"laminations": ["ply A", "ply B", "skin"], "sheets": {**SHEETS, "skin": sheet}}

    bare = {k: v for k, v in PLY.items() if k != "grain"}
    mixed: Raw = {"laminations": ["ply A", "core A"], "sheets": {**SHEETS, "core": bare}}
    plain: Raw = {"sheets": {**SHEETS, "ply": bare}}
    none: Raw = {"laminations": ["ply A", "core A"], "sheets": {**SHEETS, "core": {**bare, "grain": "none"}}}
    well = {"well": cavity(80, 20, 80, 50, depth=10)}
    inside = shapely.Point(0, 0)

    def seed() -> Seed:
        return Seed(check="grain-unstated", measured=0, limit=1, where=inside, mends=True)

    return [
        Case(fault=25, name="a veneer", design=body(well, **veneered()), seed=seed()),
        Case(fault=25, name="one sheet of two", design=body(well, **mixed), seed=seed()),
        Case(
            fault=25,
            name="a veneer among others",
            design=large({}, **{**veneered(), "laminations": ["ply A", "ply B", "ply C", "skin"]}),
            seed=seed(),
        ),
        Case(fault=25, name="a veneer with its grain", design=body(well, **veneered(grain="x"))),
        Case(fault=25, name="none has any", design=body(well, **plain)),
        Case(fault=25, name="one is said to have none", design=body(well, **none)),
    ]


def _missing() -> list[Case]:
    well = {"well": hole(80, 20, 80, 50)}
    no_sheet = panel(well)
    no_sheet = no_sheet.having(steps={**no_sheet.steps, "plate": {**no_sheet.steps["plate"], "sheet": "oak"}})
    blank = {**SHEETS, "board": {"nominal": 12}}
    empty = {**SHEETS, "board": {"measured": {}, "nominal": 12}}
    plate = panel(well)
    two = plate.having(steps={**plate.steps, "plate": {**plate.steps["plate"], "count": 2}})
    return [
        Case(fault=26, name="no such stock", design=no_sheet, seed=Seed(check="", refused="oak")),
        Case(
            fault=26,
            name="no thickness",
            design=panel(well, sheets=blank),
            seed=Seed(check="", refused="measured"),
        ),
        Case(
            fault=26,
            name="no sheet of a stock",
            design=panel(well, sheets=empty),
            seed=Seed(check="", refused="no sheet"),
        ),
        Case(fault=26, name="all stated", design=panel(well)),
        Case(fault=26, name="two of them", design=two),
        Case(fault=26, name="a body, all stated", design=body({"well": cavity(80, 20, 80, 50)})),
    ]


CASES = [*_fit(), *_unmeasured(), *_governs(), *_thick(), *_bed(), *_gaps(), *_grain(), *_missing()]
