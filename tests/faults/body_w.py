"""Body W, the worked example of trade.md: its feathering pocket walls (15) and its recess under a rounding (36).

trade.md 3.2: the nearest distance from a pocket wall to the outline is 10 at x 214.06, 8 at x 216.66, 0 at
x 226.32; closed form with the tip's circle, R 42 about (190, 0), and the wall at y = ±21.1:
x = 190 + √((42 − d)² − 21.1²).
3.3: the recess lies 6.19 from the outline, under a rounding of 6 that wants 9; 0.19 stays flat.
"""

from __future__ import annotations

import math

import shapely

from tests.faults.case import Case, Seed
from tests.faults.design import ROUTER, Design, Raw, cavity

TIP, RADIUS, HALF = 190.0, 42.0, 21.1


def wall_x(wall: float) -> float:
    """Where the pocket's wall is so thick, on the tip's circle."""
    return TIP + math.sqrt((RADIUS - wall) ** 2 - HALF * HALF)


def outline() -> str:
    """The hull of circle R 120 about (20, 0) and circle R 42 about (190, 0): two lines and two arcs."""
    sin = (120 - 42) / 170
    cos = math.sqrt(1 - sin * sin)
    x0, y0, x1, y1 = 20 + 120 * sin, 120 * cos, 190 + 42 * sin, 42 * cos
    return f"M{x0},{-y0} L{x1},{-y1} A42,42 0 0 1 {x1},{y1} L{x0},{y0} A120,120 0 1 1 {x0},{-y0} Z"


def design(*, pocket: bool = True, control: bool = True, edge: float = 6.0, centre: Raw | None = None) -> Design:
    """Body W without its templates; the sheets of 11.8, 11.7 and 11.9 and a veneer of 0.6."""
    steps: Raw = {"body": {"kind": "outline", "drawn": "body"}}
    if pocket:
        steps["neck_pocket"] = {
            "kind": "cavity",
            "opening": {"rectangle": [60, 42.2], "corner": 6.5},
            "centre": [202, 0],
            "depth": 16,
            "tilt": {"angle": 2, "deeper": "+x"},
            "open": "+x",
        }
    if control:
        steps["control"] = cavity(-30, -45, 80, 45, 8, face="back", floor=4, ledge={"width": 4.5, "depth": 3})
    rounded: Raw = {"edge": {"front": {"round": edge}, "back": {"round": edge}}} if edge else {}
    if edge and pocket:
        rounded["edge"]["front"]["skip"] = ["neck_pocket"]
    steps["blank"] = {
        "kind": "stack",
        "outline": "body",
        "laminations": ["ply A", "ply B", "ply C", "veneer"],
        "glue": 0.05,
        "cut_blank": [n for n in ("neck_pocket", "control") if n in steps] + ["body"],
        **rounded,
    }
    sheets: Raw = {
        "ply": {"measured": {"A": 11.8, "B": 11.7, "C": 11.9}, "nominal": 12, "grain": "x", "density": 680},
        "veneer": {"measured": {"A": 0.6}, "grain": "x", "density": 680},
    }
    return Design(steps=steps, drawing={"body": outline()}, sheets=sheets, shops={"router": ROUTER})


ENDS = shapely.MultiPoint([(wall_x(0), HALF), (wall_x(0), -HALF)])
# The recess's corner nearest to R 120 about (20, 0): centre (-62, -59.5) with r 12.5, 120 - |(-82, -59.5)| - 12.5.
RECESS = 120 - math.hypot(82, 59.5) - 12.5
AWAY = math.hypot(82, 59.5)
CORNER = shapely.Point(20 - 82 / AWAY * (120 - RECESS), -59.5 / AWAY * (120 - RECESS))
ON_EDGE = shapely.Point(20 - 82 / AWAY * 120, -59.5 / AWAY * 120)
CASES = [
    Case(
        fault=15,
        name="body W: the pocket's walls feather out",
        design=design(control=False),
        seed=Seed(check="wall-thin", measured=0, limit=10, where=ENDS, mends=True),
    ),
    Case(
        fault=36,
        name="body W: the recess under the rounding",
        design=design(pocket=False),
        seed=Seed(
            check="cover-edge", measured=RECESS, limit=9, where=shapely.LineString([CORNER, ON_EDGE]), mends=True
        ),
    ),
    Case(fault=15, name="body W without its pocket", design=design(pocket=False, edge=0.0)),
]
