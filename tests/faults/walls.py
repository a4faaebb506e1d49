"""Faults of walls and floors: thin parts (3), floors (13), break-through (14), the edge (15), overlaps (31)."""

from __future__ import annotations

import math
from typing import Any

import shapely

from tests.faults.case import Case, Seed
from tests.faults.design import Design, Raw, body, cavity, hole, large, panel, polygon


def hourglass(neck: float, r: float = 30.0, half: float = 100.0) -> str:
    """A bar whose sides two arcs of radius r bite until ``neck`` is left at x = 0, y up."""
    y = neck / 2 + r  # the arcs' centres lie on x = 0 at ±y; the bar is 2·(neck/2 + 20) high
    top = neck / 2 + 20
    w = math.sqrt(r * r - (y - top) ** 2)
    return (
        f"M{-half},{-top} H{-w} A{r},{r} 0 0 0 {w},{-top} H{half} V{top} H{w} A{r},{r} 0 0 0 {-w},{top} H{-half} Z"
    )


def bar(neck: float) -> str:
    """Two squares of 80 joined by a straight neck 30 long about x = 0."""
    n = neck / 2
    return polygon(
        [
            (-95, -40),
            (-15, -40),
            (-15, -n),
            (15, -n),
            (15, -40),
            (95, -40),
            (95, 40),
            (15, 40),
            (15, n),
            (-15, n),
            (-15, 40),
            (-95, 40),
        ]
    )


# -- 3 -----------------------------------------------------------------------------------------------------
def _thin() -> list[Case]:
    neck, middle = shapely.LineString([(-15, 0), (15, 0)]), shapely.Point(0, 0)
    tongue = polygon(
        [(-100, -60), (100, -60), (100, -1.2), (140, -1.2), (140, 1.2), (100, 1.2), (100, 60), (-100, 60)]
    )
    bite = {"bite": cavity(0, -60, 40, 30, 4, through=True)}
    dart = polygon([(-100, -60), (60, -60), (160, 0), (60, 60), (-100, 60)])
    return [
        Case(
            fault=3,
            name="a waist of 1.5",
            design=panel({}, outline=hourglass(1.5)),
            seed=Seed(check="part-thin", measured=1.5, limit=3, where=middle),
        ),
        Case(
            fault=3,
            name="a neck of 2.95",
            design=panel({}, outline=bar(2.95)),
            seed=Seed(check="part-thin", measured=2.95, limit=3, where=neck, also=("corner-sharp",)),
        ),
        Case(
            fault=3,
            name="a tongue beside openings",
            design=panel(bite | {"hole": hole(-40, 20, 60, 40)}, outline=tongue),
            seed=Seed(
                check="part-thin",
                measured=2.4,
                limit=3,
                where=shapely.LineString([(100, 0), (140, 0)]),
                also=("corner-sharp",),
            ),
        ),
        Case(fault=3, name="a neck of 3.05", design=panel({}, outline=hourglass(3.05))),
        Case(fault=3, name="a point of 62 degrees", design=panel({}, outline=dart)),
        Case(fault=3, name="1.6 of thin laser ply", design=panel({}, outline=hourglass(1.6), sheet="thin")),
    ]


# -- 13 ----------------------------------------------------------------------------------------------------
def _floor() -> list[Case]:
    def well(depth: float, **more: Any) -> Raw:
        return {"well": cavity(80, 20, 80, 50, depth=depth, **more)}

    inside = shapely.box(40, -5, 120, 45)
    pair = {"under": cavity(80, 20, 60, 40, 8, face="back", depth=15.5), **well(18)}
    legal = {"under": cavity(80, 20, 60, 40, 8, face="back", depth=14.5), **well(18)}
    ramp = {"well": cavity(80, 20, 80, 50, depth=29, tilt={"angle": 3, "deeper": "+x"})}
    deep = 80 * math.tan(math.radians(3))
    board = panel({"well": cavity(0, 0, 80, 50, depth=9.6)})
    return [
        Case(
            fault=13,
            name="1 left",
            design=body(well(34.5)),
            seed=Seed(check="floor-thin", severity="stop", measured=1, limit=1.5, where=inside, mends=True),
        ),
        Case(
            fault=13,
            name="2.99 left",
            design=body(well(32.51)),
            seed=Seed(check="floor-thin", measured=2.99, limit=3, where=inside, mends=True),
        ),
        Case(
            fault=13,
            name="2 left between two faces, among others",
            design=large(pair),
            seed=Seed(check="floor-thin", measured=2, limit=3, where=shapely.box(50, 0, 110, 40), mends=True),
        ),
        Case(
            fault=13,
            name="a ramp that gets too deep",
            design=body(ramp),
            seed=Seed(
                check="floor-thin",
                measured=35.5 - 29 - deep,
                limit=3,
                where=shapely.LineString([(120, -5), (120, 45)]),
                mends=True,
            ),
        ),
        Case(
            fault=13,
            name="a panel",
            design=board,
            seed=Seed(check="floor-thin", measured=2.4, limit=3, where=shapely.box(-40, -25, 40, 25), mends=True),
        ),
        Case(fault=13, name="3 left", design=body(well(32.5))),
        Case(fault=13, name="3 left between two faces", design=large(legal)),
        Case(fault=13, name="3 left in a panel", design=panel({"well": cavity(0, 0, 80, 50, depth=9)})),
    ]


# -- 14 ----------------------------------------------------------------------------------------------------
def _meet() -> list[Case]:
    def two(gap: float, **more: Any) -> Raw:
        return {"one": cavity(20, 20, 60, 40), "two": cavity(80 + gap, 20, 60, 40, **more)}

    wall = shapely.box(49.9, 0, 55.1, 40)
    over = {"one": cavity(60, 20, 80, 50), "two": cavity(90, 40, 80, 50, face="back", depth=19.5)}
    return [
        Case(
            fault=14,
            name="2 between two pockets",
            design=body(two(2)),
            seed=Seed(check="cavities-meet", measured=2, limit=5, where=wall, mends=True),
        ),
        Case(
            fault=14,
            name="4.98 between two pockets",
            design=body(two(4.98)),
            seed=Seed(check="cavities-meet", measured=4.98, limit=5, where=wall, mends=True),
        ),
        Case(
            fault=14,
            name="through into the other face, among others",
            design=large(over),
            seed=Seed(
                check="cavities-meet",
                severity="stop",
                measured=-2,
                limit=3,
                where=shapely.box(50, 15, 100, 45),
                mends=True,
            ),
        ),
        Case(
            fault=14,
            name="a bore past a pocket",
            design=_bore(2.5),
            seed=Seed(check="bore-near", measured=2.5, limit=3, where=shapely.box(-1, -21, 41, -19)),
        ),
        Case(fault=14, name="5 between two pockets", design=body(two(5.0))),
        Case(
            fault=14,
            name="one over the other with 3 between",
            design=large({**over, "two": {**over["two"], "depth": 14.5}}),
        ),
        Case(fault=14, name="side by side at other heights", design=body(two(2, face="back", depth=14))),
        Case(fault=14, name="a bore past a pocket with 3 between", design=_bore(3.0)),
    ]


def _bore(left: float) -> Design:
    """A bore of 6 along y = -20, by hand from cell to nest, past a pocket with ``left`` of wood between them."""
    steps = {
        "cell": cavity(-60, -20, 80, 40),
        "nest": cavity(120, -20, 60, 40, depth=28),
        "near": cavity(20, -20 - 3 - left - 10, 40, 20, 8, depth=25),
        "wire": {
            "kind": "channel",
            "from": "cell",
            "to": "nest",
            "drilled": {"diameter": 6, "depth": 8, "slope": 8.0, "entry": [-20, -20], "toward": [90, -20]},
        },
    }
    return body(steps, by_hand=["wire"])


# -- 15 ----------------------------------------------------------------------------------------------------
def _edge() -> list[Case]:
    def near(wall: float, **more: Any) -> Raw:
        return {"well": cavity(70, 130 - wall - 20, 80, 40, **more)}

    def line(wall: float) -> shapely.LineString:
        return shapely.LineString([(38, 130 - wall), (102, 130 - wall)])

    # The outline's corner has its centre at (160, 90) and r 40, the pocket's at (180, 110) and r 8.
    gap = 40 - 20 * math.sqrt(2) - 8
    spot = shapely.Point(180 + 8 / math.sqrt(2), 110 + 8 / math.sqrt(2))
    open_end = {"mouth": cavity(165, 0, 80, 60, 8, depth=16, open="+x")}
    return [
        Case(
            fault=15,
            name="6 to the edge",
            design=body(near(6)),
            seed=Seed(check="wall-thin", measured=6, limit=10, where=line(6), mends=True),
        ),
        Case(
            fault=15,
            name="9.95 to the edge",
            design=body(near(9.95)),
            seed=Seed(check="wall-thin", measured=9.95, limit=10, where=line(9.95), mends=True),
        ),
        Case(
            fault=15,
            name="from the back, among others",
            design=large(near(7.5, face="back")),
            seed=Seed(check="wall-thin", measured=7.5, limit=10, where=line(7.5), mends=True),
        ),
        Case(
            fault=15,
            name="round the outline's corner",
            design=body({"well": cavity(156, 86, 64, 64, 8)}),
            seed=Seed(check="wall-thin", measured=gap, limit=10, where=spot, mends=True),
        ),
        Case(fault=15, name="10 to the edge", design=body(near(10.0))),
        Case(fault=15, name="open square through the edge", design=large(open_end)),
        Case(fault=15, name="10 to the edge from the back, among others", design=large(near(10.0, face="back"))),
    ]


# -- 31 ----------------------------------------------------------------------------------------------------
def _overlap() -> list[Case]:
    def two(dx: float, a: float, b: float) -> Raw:
        return {"one": cavity(20, 20, 60, 40, depth=a), "two": cavity(20 + dx, 20, 60, 40, depth=b)}

    shared = shapely.box(10, 0, 50, 40)
    inner = {"one": cavity(20, 20, 90, 60, 12, depth=4), "two": cavity(20, 20, 40, 30, depth=8)}
    sliver = {"one": cavity(20, 20, 60, 40, 0.0, depth=6), "two": cavity(79.5, 20, 60, 40, 0.0, depth=8)}
    return [
        Case(
            fault=31,
            name="half over one another",
            design=panel(two(20, 5, 8)),
            seed=Seed(check="depth-overlap", measured=40 * 40 - 4 * (1 - math.pi / 4) * 64, where=shared),
        ),
        Case(
            fault=31,
            name="half a millimetre over one another",
            design=panel(sliver),
            seed=Seed(
                check="depth-overlap", measured=20, where=shapely.box(49.4, 0, 50.1, 40), also=("corner-sharp",)
            ),
        ),
        Case(
            fault=31,
            name="in a glued blank, among others",
            design=large({"one": cavity(60, 20, 60, 40, depth=10), "two": cavity(80, 20, 60, 40, depth=16)}),
            seed=Seed(check="cavities-meet", measured=-10, where=shapely.box(50, 0, 90, 40)),
        ),
        Case(fault=31, name="one in the floor of the other", design=panel(inner)),
        Case(fault=31, name="equally deep", design=panel(two(20, 6, 6))),
        Case(
            fault=31,
            name="in two faces",
            design=panel(
                {"one": cavity(20, 20, 60, 40, depth=4), "two": cavity(40, 20, 60, 40, face="back", depth=5)}
            ),
        ),
    ]


CASES = [*_thin(), *_floor(), *_meet(), *_edge(), *_overlap()]
