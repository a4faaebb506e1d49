"""Faults of edges and covers (35, 36) and of hand work: templates (39), screws (40).

The bearing needs T − r_f − r_b ≥ h_b (trade.md 4.1: 10.5 with r 4 both leaves 2.5; r ≤ 2.7 cures it); a recess
keeps r + 3 from the outline (3.3); first pass Lc − (tt + p − h) with h = 4 (5.2: 25.4 and 12 → 17.4).
"""

from __future__ import annotations

from typing import Any

import shapely

from tests.faults.case import Case, Seed
from tests.faults.design import SHEETS, Design, Raw, body, cavity, large

EDGE = shapely.box(-200, -130, 200, 130).boundary.buffer(12)


def _wall() -> list[Case]:
    def sheet(t: float) -> Raw:
        ply = {"measured": {"A": t}, "grain": "x", "density": 680}
        return {"laminations": ["ply A"], "sheets": {**SHEETS, "ply": ply}}

    def both(front: float, back: float, **more: Any) -> Raw:
        return {"edge": {"front": {"round": front, **more}, "back": {"round": back, **more}}}

    return [
        Case(
            fault=35,
            name="10.5 with 4 both",
            design=body({}, **sheet(10.5), **both(4, 4)),
            seed=Seed(check="edge-wall", severity="stop", measured=2.5, limit=5, where=EDGE, mends=True),
        ),
        Case(
            fault=35,
            name="10.5 with 2.8 both",
            design=body({}, **sheet(10.5), **both(2.8, 2.8)),
            seed=Seed(check="edge-wall", severity="stop", measured=4.9, limit=5, where=EDGE, mends=True),
        ),
        Case(
            fault=35,
            name="16 both, among others",
            design=large({}, **both(16, 16)),
            seed=Seed(
                check="edge-wall",
                severity="stop",
                measured=3.5,
                limit=5,
                where=EDGE,
                mends=True,
                also=("cover-edge",),
            ),
        ),
        Case(fault=35, name="10.5 with 2.7 both", design=body({}, **sheet(10.5), **both(2.7, 2.7))),
        Case(fault=35, name="10.5 with 4 both by hand", design=body({}, **sheet(10.5), **both(4, 4, by="hand"))),
        Case(fault=35, name="6 both, among others", design=large({}, **both(6, 6))),
    ]


def _cover() -> list[Case]:
    def bay(flat: float, face: str = "back") -> Raw:
        """A control cavity with a ledge of 4.5, its recess ``flat`` from the lower edge."""
        return {
            "bay": cavity(
                60, -130 + flat + 4.5 + 25, 80, 50, face=face, depth=14, ledge={"width": 4.5, "depth": 3}
            )
        }

    def line(flat: float) -> shapely.LineString:
        return shapely.LineString([(10, -130 + flat), (110, -130 + flat)])

    rounded: Raw = {"edge": {"front": {"round": 6}, "back": {"round": 6}}}
    only_front: Raw = {"edge": {"front": {"round": 6}}}
    return [
        Case(
            fault=36,
            name="6 flat under a rounding of 6",
            design=body(bay(6), **rounded),
            seed=Seed(check="cover-edge", measured=6, limit=9, where=line(6), mends=True),
        ),
        Case(
            fault=36,
            name="8.95 under a rounding of 6",
            design=body(bay(8.95), **rounded),
            seed=Seed(check="cover-edge", measured=8.95, limit=9, where=line(8.95), mends=True),
        ),
        Case(
            fault=36,
            name="2 flat and no rounding, among others",
            design=large(bay(2)),
            seed=Seed(check="cover-edge", measured=2, limit=3, where=line(2), mends=True, also=("wall-thin",)),
        ),
        Case(fault=36, name="9 under a rounding of 6", design=body(bay(9), **rounded)),
        Case(fault=36, name="6 with the other face rounded", design=body(bay(6), **only_front)),
        Case(fault=36, name="6 and no rounding, among others", design=large(bay(6))),
    ]


def _template() -> list[Case]:
    mdf = {**SHEETS, "mdf": {"measured": {"A": 12.0}, "nominal": 12, "size": [1220, 900], "density": 740}}

    def guided(follow: Raw, size: tuple[float, float] = (80, 50), company: bool = False, **more: Any) -> Design:
        guide = {
            "kind": "template",
            "of": "well",
            "use": "opening",
            "follow": follow,
            "sheet": "mdf",
            "margin": 90,
            **more,
        }
        make = large if company else body
        return make({"well": cavity(60, 20, *size), "guide": guide}, by_hand=["well"], sheets=mdf)

    def bit(length: float, packing: float) -> Raw:
        return {"bearing": 12.7, "cutter": 12.7, "length": length, "packing": packing}

    bush = {"bush": 17, "cutter": 8, "reach": 60}
    return [
        Case(
            fault=39,
            name="25.4 long over 12",
            design=guided(bit(25.4, 0)),
            seed=Seed(check="first-pass", measured=17.4, limit=6.35, mends=True),
        ),
        Case(
            fault=39,
            name="packed just too low",
            design=guided(bit(25.4, 11.0)),
            seed=Seed(check="first-pass", measured=6.4, limit=6.35, mends=True),
        ),
        Case(
            fault=39,
            name="a collar too long, among others",
            design=guided({**bush, "collar": 11.6}, company=True),
            seed=Seed(check="bush-collar", measured=11.6, limit=11.5, mends=True),
        ),
        Case(
            fault=39,
            name="a margin too narrow for the base",
            design=guided({**bush, "collar": 8}, (150, 100), margin=30),
            seed=Seed(check="router-tips", where=shapely.box(-20, -35, 140, 75), mends=True),
        ),
        Case(fault=39, name="packed", design=guided(bit(25.4, 11.1))),
        Case(fault=39, name="a collar of 11.5", design=guided({**bush, "collar": 11.5}, company=True)),
        Case(fault=39, name="a short bit", design=guided(bit(12.7, 0))),
    ]


def _screws() -> list[Case]:
    def posts(**more: Any) -> Raw:
        return {"posts": {"kind": "holes", "at": [[60, 20], [90, 20]], **more}}

    under = {"bay": cavity(75, 20, 90, 60, face="back", depth=14)}
    at = shapely.Point(60, 20)
    spots = shapely.MultiPoint([(60, 20), (90, 20)])
    # 35.5 − 14 is 21.5 over the bay's roof; a drill of 3 has a tip of 0.3 · 3 = 0.9.
    return [
        Case(
            fault=40,
            name="out into a cavity",
            design=body({**under, **posts(diameter=3, depth=22)}),
            seed=Seed(
                check="hole-hits",
                severity="stop",
                measured=-1.4,
                limit=3,
                where=spots,
                mends=True,
                also=("cavities-meet",),
            ),
        ),
        Case(
            fault=40,
            name="2.9 short of a cavity",
            design=body({**under, **posts(diameter=3, depth=17.7)}),
            seed=Seed(check="hole-hits", measured=2.9, limit=3, where=spots, mends=True),
        ),
        Case(
            fault=40,
            name="12 of a screw of 4",
            design=body(posts(fastener="wood 4", length=12, **{"for": "pilot"})),
            seed=Seed(check="screw-short", measured=12, limit=16, where=at, mends=True),
        ),
        Case(
            fault=40,
            name="15.9 of a screw of 4, among others",
            design=large(posts(fastener="wood 4", length=15.9, **{"for": "pilot"})),
            seed=Seed(check="screw-short", measured=15.9, limit=16, where=at, mends=True),
        ),
        Case(
            fault=40,
            name="a tip near the other face",
            design=body(posts(diameter=6, depth=32.5)),
            seed=Seed(check="drill-tip", measured=35.5 - 32.5 - 1.8, limit=2, where=spots, mends=True),
        ),
        Case(fault=40, name="3 short of a cavity", design=body({**under, **posts(diameter=3, depth=17.6)})),
        Case(
            fault=40,
            name="16 of a screw of 4",
            design=large(posts(fastener="wood 4", length=16, **{"for": "pilot"})),
        ),
        Case(fault=40, name="through", design=body(posts(diameter=3, through=True))),
    ]


CASES = [*_wall(), *_cover(), *_template(), *_screws()]
