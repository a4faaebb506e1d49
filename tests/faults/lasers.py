"""Faults of sheets: small holes (27), thin webs (28), small parts (29), half-deep cuts (37).

Least hole of a laser max(1, t/2), least web max(1.5, t/2); on a router max(3, T/4), a fastener's own diameter
(trade.md 7.4 and 8; common practice, no source). The thin sheet here is 3.1: 1.55 for both.
"""

from __future__ import annotations

import math
from typing import Any

import shapely

from tests.faults.case import Case, Seed
from tests.faults.design import Raw, body, cavity, hole, panel, ring, rounded, tray


def drilled(*at: tuple[float, float], diameter: float = 3, **more: Any) -> Raw:
    deep = {} if {"depth", "floor", "through", "length"} & set(more) else {"through": True}
    wide = {} if "fastener" in more else {"diameter": diameter}
    return {"pins": {"kind": "holes", "at": [list(p) for p in at], **wide, **deep, **more}}


def _small_holes() -> list[Case]:
    spot = shapely.Point(40, -40)
    return [
        Case(
            fault=27,
            name="0.8 wide",
            design=panel(drilled((40, -40), diameter=0.8), sheet="thin"),
            seed=Seed(check="hole-small", measured=0.8, limit=1.55, where=spot, mends=True),
        ),
        Case(
            fault=27,
            name="1.5 wide",
            design=panel(drilled((40, -40), diameter=1.5), sheet="thin"),
            seed=Seed(check="hole-small", measured=1.5, limit=1.55, where=spot, mends=True),
        ),
        Case(
            fault=27,
            name="one of three in a tray",
            design=tray(
                {
                    "pins": {
                        "kind": "holes",
                        "at": [[40, -40], [0, -40], [-40, -40]],
                        "diameter": [1.2, 3, 2],
                        "through": True,
                    }
                }
            ),
            seed=Seed(check="hole-small", measured=1.2, limit=1.55, where=spot, mends=True),
        ),
        Case(fault=27, name="1.55 wide", design=panel(drilled((40, -40), diameter=1.55), sheet="thin")),
        Case(fault=27, name="1.6 wide, in a tray", design=tray(drilled((40, -40), diameter=1.6))),
        Case(
            fault=27,
            name="a short slot",
            design=panel({"slot": cavity(0, 0, 20, 1.6, 0.8, through=True)}, sheet="thin"),
        ),
    ]


def _webs() -> list[Case]:
    def slots(web: float) -> Raw:
        return {
            "one": cavity(-40, -50, 30, 20, 2, through=True),
            "two": cavity(-10 + web, -50, 30, 20, 2, through=True),
        }

    between = shapely.box(-25.1, -60, -23, -40)
    edge = shapely.Point(0, -100)
    # The edge lies at y = -100; a hole of 5 at -100 + w + 2.5 keeps w.
    return [
        Case(
            fault=28,
            name="0.9 between two openings",
            design=panel(slots(0.9), sheet="thin"),
            seed=Seed(check="web-thin", measured=0.9, limit=1.55, where=between, mends=True),
        ),
        Case(
            fault=28,
            name="1.5 between two openings of a tray",
            design=tray(slots(1.5)),
            seed=Seed(check="web-thin", measured=1.5, limit=1.55, where=between, mends=True),
        ),
        Case(
            fault=28,
            name="a hole 2.9 from the edge",
            design=panel(drilled((0, -94.6), diameter=5)),
            seed=Seed(check="web-thin", measured=2.9, limit=3, where=edge.buffer(3), mends=True),
        ),
        Case(
            fault=28,
            name="an insert nearer than its diameter",
            design=body(
                {"pins": {"kind": "holes", "at": [[100, 118]], "fastener": "M6", "for": "insert", "length": 15}}
            ),
            seed=Seed(
                check="web-thin", measured=12 - 4.25, limit=8.5, where=shapely.Point(100, 118 + 4.25), mends=True
            ),
        ),
        Case(
            fault=28,
            name="a hole beside a cavity",
            design=body({"well": cavity(60, 20, 80, 50), **drilled((104.2, 20), diameter=4, depth=15)}),
            seed=Seed(check="web-thin", measured=2.2, limit=3, where=shapely.Point(102.2, 20), mends=True),
        ),
        Case(fault=28, name="1.56 between two openings", design=tray(slots(1.56))),
        Case(fault=28, name="a hole 3 from the edge", design=panel(drilled((0, -94.5), diameter=5))),
        Case(
            fault=28,
            name="a hole in the floor of a cavity",
            design=body({"well": cavity(60, 20, 80, 50, depth=10), **drilled((60, 20), diameter=4, depth=20)}),
        ),
    ]


def _small_parts() -> list[Case]:
    def seed(measured: float, limit: float, x: float = 0.0) -> Seed:
        return Seed(check="part-small", severity="note", measured=measured, limit=limit, where=shapely.Point(x, 0))

    company = {"tag": {"kind": "outline", "drawn": "tag", "sheet": "thin"}}
    two = tray({})
    return [
        Case(
            fault=29,
            name="a washer of 20",
            design=panel({}, outline=ring(0, 0, 10), sheet="thin"),
            seed=seed(20, 30),
        ),
        Case(
            fault=29,
            name="a square in a circle of 29.7",
            design=panel({}, outline="M-10.5,-10.5 H10.5 V10.5 H-10.5 Z", sheet="thin"),
            seed=seed(21 * math.sqrt(2), 30),
        ),
        Case(
            fault=29,
            name="a tag beside a tray",
            design=two.having(steps={**two.steps, **company}, drawing={**two.drawing, "tag": ring(400, 0, 12)}),
            seed=seed(24, 30, 400),
        ),
        Case(
            fault=29,
            name="38 cm² on a router",
            design=panel({}, outline=rounded(76, 50, 0.001)),
            seed=Seed(check="part-small", severity="note", measured=3800, limit=4000, where=shapely.Point(0, 0)),
        ),
        Case(fault=29, name="a washer of 31", design=panel({}, outline=ring(0, 0, 15.5), sheet="thin")),
        Case(fault=29, name="41 cm² on a router", design=panel({}, outline=rounded(82, 50, 3))),
        Case(
            fault=29,
            name="a tag of 40 beside a tray",
            design=two.having(steps={**two.steps, **company}, drawing={**two.drawing, "tag": ring(400, 0, 20)}),
        ),
    ]


def _half() -> list[Case]:
    lasered: Raw = {
        "sheets": {
            "ply": {
                "measured": {"A": 5.8, "B": 5.9, "C": 6.0},
                "nominal": 6,
                "grain": "x",
                "density": 680,
                "shop": "laser",
            },
            "thin": {"measured": {"A": 3.1}, "nominal": 3, "size": [600, 400], "density": 660, "shop": "laser"},
        }
    }
    # From the back: 0–5.8, glue, 5.85–11.75, glue, 11.8–17.8.

    def bay(depth: float, **more: Any) -> Raw:
        return {"bay": cavity(80, 20, 80, 50, face="back", depth=depth, **more)}

    inside = shapely.box(40, -5, 120, 45)
    company = {"other": cavity(-80, 20, 80, 50, face="back", depth=11.77)}

    def seed(measured: float) -> Seed:
        return Seed(check="laser-half-depth", measured=measured, where=inside, mends=True)

    return [
        Case(
            fault=37,
            name="half of a panel",
            design=panel({"well": hole(0, 0, 80, 50, 8) | {"depth": 1.5}}, sheet="thin"),
            seed=Seed(check="laser-half-depth", measured=1.5, where=shapely.box(-40, -25, 40, 25)),
        ),
        Case(
            fault=37,
            name="1.2 into the third sheet",
            design=body(bay(13), cut=["bay"], perimeter=False, **lasered),
            seed=seed(1.2),
        ),
        Case(
            fault=37,
            name="0.3 short of the glue, among others",
            design=body({**company, **bay(11.45)}, cut=["bay", "other"], perimeter=False, **lasered),
            seed=Seed(check="laser-half-depth", measured=5.6, where=inside, mends=True),
        ),
        Case(fault=37, name="to the glue line", design=body(bay(11.77), cut=["bay"], perimeter=False, **lasered)),
        Case(
            fault=37, name="cut through", design=panel({"well": cavity(0, 0, 80, 50, through=True)}, sheet="thin")
        ),
        Case(
            fault=37,
            name="two cavities to the glue line",
            design=body({**company, **bay(5.82)}, cut=["bay", "other"], perimeter=False, **lasered),
        ),
    ]


CASES = [*_small_holes(), *_webs(), *_small_parts(), *_half()]
