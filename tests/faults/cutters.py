"""Faults of cutters: sharp corners (1), narrow slots (2), rounded floors (5), reach (6).

Numbers: a corner of radius ρ cut with r leaves (r − ρ)(√2 − 1) at 90° (trade.md 3.1: r 3, ρ 0 → 1.243); reach is
LU − 2, no deeper than APMX where the shank is as thick as the cutter (trade.md 8, fault 6; outside_checks K10).
"""

from __future__ import annotations

import math
from typing import Any

import shapely

from tests.faults.case import Case, Seed
from tests.faults.design import CUTTERS, LASER, Design, Raw, body, cavity, large, panel, polygon

BISECTOR = math.sqrt(2) - 1


def corners(x: float, y: float, w: float, h: float) -> shapely.MultiPoint:
    return shapely.MultiPoint([(x + i * w / 2, y + j * h / 2) for i in (-1, 1) for j in (-1, 1)])


def shops(*cutters: Raw) -> Raw:
    router = {"name": "router", "process": "router", "bed": [1300, 900], "cutters": list(cutters)}
    return {"router": router, "laser": LASER}


# -- 1 -----------------------------------------------------------------------------------------------------
def _sharp() -> list[Case]:
    square = body({"well": cavity(60, 20, 80, 50, 0)})
    small = body({"well": cavity(60, 20, 80, 50, 2.8)})
    fitted = {
        "well": {
            "kind": "cavity",
            "part": {"rectangle": [60, 40], "corner": 1},
            "fit": "slide",
            "centre": [100, 20],
            "depth": 16,
        }
    }
    ell = panel({}, outline=polygon([(0, 0), (150, 0), (150, 60), (60, 60), (60, 120), (0, 120)]))
    at = corners(60, 20, 80, 50)
    return [
        Case(
            fault=1,
            name="square corners",
            design=square,
            seed=Seed(check="corner-sharp", measured=3 * BISECTOR, where=at, mends=True),
        ),
        Case(
            fault=1,
            name="corners of 2.8 for a radius of 3",
            design=small,
            seed=Seed(
                check="corner-sharp",
                measured=0.2 * BISECTOR,
                where=corners(60, 20, 80 - 1.5, 50 - 1.5),
                mends=True,
            ),
        ),
        Case(
            fault=1,
            name="a fit among others",
            design=large(fitted),
            seed=Seed(
                check="corner-sharp",
                severity="stop",
                measured=(3 - 1.1) * BISECTOR,
                where=corners(100, 20, 60.2, 40.2),
                mends=True,
            ),
        ),
        Case(
            fault=1,
            name="the inner corner of a panel",
            design=ell.having(shops=shops(CUTTERS[1])),
            seed=Seed(check="corner-sharp", measured=3 * BISECTOR, where=shapely.Point(60, 60)),
        ),
        Case(fault=1, name="corners of 3 for a radius of 3", design=body({"well": cavity(60, 20, 80, 50, 3)})),
        Case(
            fault=1,
            name="a relief in each corner",
            design=large({"well": cavity(100, 20, 60, 40, 0, relief="dogbone", cutter=6)}),
        ),
        Case(
            fault=1,
            name="3 mm deep, where the small cutter reaches",
            design=body({"well": cavity(60, 20, 80, 50, 1.5, depth=11)}),
        ),
    ]


# -- 2 -----------------------------------------------------------------------------------------------------
def _narrow() -> list[Case]:
    def slot(width: float, **more: float) -> Raw:
        return {"slot": cavity(70, 10, 60, width, width / 2, **more)}

    line = shapely.LineString([(40, 10), (100, 10)])
    channel = {
        "bay": cavity(60, 60, 60, 40, 8, face="back"),
        "nest": cavity(60, -50, 60, 40, 8, face="back"),
        "wire": {
            "kind": "channel",
            "from": "bay",
            "to": "nest",
            "width": 2.5,
            "lamination": 2,
            "face": "back",
            "depth": 6,
        },
    }
    wide = {**channel, "wire": {**channel["wire"], "width": 3}}
    return [
        Case(
            fault=2,
            name="4 wide",
            design=body(slot(4)),
            seed=Seed(check="slot-narrow", severity="stop", measured=4, limit=6, where=line, mends=True),
        ),
        Case(
            fault=2,
            name="5.9 wide",
            design=body(slot(5.9)),
            seed=Seed(check="slot-narrow", severity="stop", measured=5.9, limit=6, where=line, mends=True),
        ),
        Case(
            fault=2,
            name="a wire's way among others",
            design=large(channel, cut=["wire"]),
            seed=Seed(
                check="slot-narrow",
                severity="stop",
                measured=2.5,
                limit=3,
                where=shapely.box(58.7, -30, 61.3, 40),
                mends=True,
            ),
        ),
        Case(fault=2, name="6 wide", design=body(slot(6))),
        Case(fault=2, name="3 wide and shallow", design=body(slot(3, depth=9))),
        Case(fault=2, name="a wire's way of 3", design=large(wide, cut=["wire"])),
    ]


# -- 5 -----------------------------------------------------------------------------------------------------
def _round_end() -> list[Case]:
    def heel(**more: float) -> Raw:
        return {
            "well": {
                "kind": "cavity",
                "part": {"rectangle": [60, 40], "corner": 7},
                "fit": "slide",
                "centre": [100, 20],
                "depth": 16,
                **more,
            }
        }

    def nosed(re: float) -> Raw:
        return shops(CUTTERS[0], {**CUTTERS[1], "RE": re}, {**CUTTERS[2], "RE": re})

    inside = shapely.box(69.9, -0.1, 130.1, 40.1)
    mixed = shops(CUTTERS[0], {**CUTTERS[1], "RE": 1}, CUTTERS[2])
    return [
        Case(
            fault=5,
            name="all cutters rounded by 2",
            design=body(heel(), shops=nosed(2)),
            seed=Seed(check="floor-round", measured=2, where=inside),
        ),
        Case(
            fault=5,
            name="rounded by 0.11",
            design=body(heel(), shops=nosed(0.11)),
            seed=Seed(check="floor-round", measured=0.11, where=inside),
        ),
        Case(
            fault=5,
            name="among others",
            design=large(heel(), shops=nosed(1.5)),
            seed=Seed(check="floor-round", measured=1.5, where=inside),
        ),
        Case(fault=5, name="rounded by 0.09", design=body(heel(), shops=nosed(0.09))),
        Case(fault=5, name="a flat cutter makes it too", design=body(heel(), shops=mixed)),
        Case(
            fault=5, name="nothing must sit there", design=large({"well": cavity(100, 20, 60, 40)}, shops=nosed(2))
        ),
    ]


# -- 6 -----------------------------------------------------------------------------------------------------
def _reach() -> list[Case]:
    six = {"DC": 6, "APMX": 25, "LU": 30, "DMM": 6}
    necked = {"DC": 8, "APMX": 20, "LU": 32, "DMM": 6}
    fine = {"DC": 3, "APMX": 40, "LU": 50, "DMM": 3}

    def well(depth: float, corner: float = 8, **more: Any) -> Design:
        return body({"well": cavity(60, 20, 80, 50, corner, depth=depth)}, perimeter=False, **more)

    inside = shapely.box(20, -5, 100, 45)
    company = {n: cavity(x, 70, 50, 30) for n, x in (("bay", -100), ("nest", 0), ("room", 100))}
    hidden = body({**company, "well": cavity(60, -40, 80, 50, floor=4)}, perimeter=False, shops=shops(six, necked))
    return [
        Case(
            fault=6,
            name="30 deep",
            design=well(30, shops=shops(six)),
            seed=Seed(check="tool-reach", severity="stop", measured=30, limit=25, where=inside, mends=True),
        ),
        Case(
            fault=6,
            name="25.05 deep",
            design=well(25.05, shops=shops(six)),
            seed=Seed(check="tool-reach", severity="stop", measured=25.05, limit=25, where=inside, mends=True),
        ),
        Case(
            fault=6,
            name="a floor among others",
            design=hidden,
            seed=Seed(
                check="tool-reach",
                severity="stop",
                measured=31.5,
                limit=30,
                where=shapely.box(20, -65, 100, -15),
                mends=True,
            ),
        ),
        Case(
            fault=6,
            name="more than five times as deep as wide",
            design=well(15.6, 1.6, shops=shops(fine)),
            seed=Seed(check="tool-reach", measured=5.2, limit=5, where=inside, mends=True),
        ),
        Case(fault=6, name="25 deep", design=well(25, shops=shops(six))),
        Case(fault=6, name="30 deep with a thin shank", design=well(30, shops=shops(necked))),
        Case(fault=6, name="five times as deep as wide", design=well(15, 1.6, shops=shops(fine))),
    ]


CASES = [*_sharp(), *_narrow(), *_round_end(), *_reach()]
