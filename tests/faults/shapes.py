"""Faults of drawings: tiny segments (7), gaps (8), duplicates (9), units (10), text (11), letters (12)."""

from __future__ import annotations

import math

import shapely

from tests.faults.case import Case, Seed
from tests.faults.design import Design, body, cavity, hole, large, panel, polygon, ring, rounded, tray


def flattened(n: int, r: float, x: float = 0.0, y: float = 0.0) -> str:
    """A circle as n straight lines."""
    return polygon(
        [(x + r * math.cos(2 * math.pi * i / n), y + r * math.sin(2 * math.pi * i / n)) for i in range(n)]
    )


def _tiny() -> list[Case]:
    middle = shapely.Point(0, 0)
    two = panel({}, drawn={}).having(
        drawing={"plate": rounded(300, 200, 10), "lid": flattened(900, 60, 300)},
        steps={
            "plate": {"kind": "outline", "drawn": "plate", "sheet": "board"},
            "lid": {"kind": "outline", "drawn": "lid", "sheet": "board"},
        },
    )
    return [
        Case(
            fault=7,
            name="3000 lines",
            design=panel({}, outline=flattened(3000, 90)),
            seed=Seed(check="many-segments", measured=3000, where=middle, mends=True),
        ),
        Case(
            fault=7,
            name="501 lines of 0.49",
            design=panel({}, outline=flattened(501, 39)),
            seed=Seed(check="many-segments", measured=501, where=middle, mends=True),
        ),
        Case(
            fault=7,
            name="one of two parts",
            design=two,
            seed=Seed(check="many-segments", measured=900, where=shapely.Point(300, 0), mends=True),
        ),
        Case(fault=7, name="500 lines", design=panel({}, outline=flattened(500, 39))),
        Case(fault=7, name="600 lines of 0.94", design=panel({}, outline=flattened(600, 90))),
        Case(fault=7, name="a true circle", design=panel({}, outline=ring(0, 0, 90))),
    ]


def gapped(gap: float) -> str:
    """A rectangle of 300 by 200 with a gap in its upper side, from x = 0 on."""
    return f"M{gap},-100 H150 V100 H-150 V-100 H0"


def _open() -> list[Case]:
    at = shapely.box(-0.1, 99.9, 1.1, 100.1)
    return [
        Case(fault=8, name="3 open", design=panel({}, outline=gapped(3)), seed=Seed(check="", refused="open")),
        Case(
            fault=8, name="1.05 open", design=panel({}, outline=gapped(1.05)), seed=Seed(check="", refused="open")
        ),
        Case(
            fault=8,
            name="0.5 open, joined and asked about",
            design=panel({"hole": hole(0, 0, 60, 40)}, outline=gapped(0.5)),
            seed=Seed(check="drawing-gap", measured=0.5, where=at),
        ),
        Case(fault=8, name="0.04 open", design=panel({}, outline=gapped(0.04))),
        Case(
            fault=8, name="closed by its last line", design=panel({}, outline="M-150,-100 H150 V100 H-150 V-100")
        ),
        Case(fault=8, name="closed", design=panel({"hole": hole(0, 0, 60, 40)})),
    ]


def _double() -> list[Case]:
    def pair(apart: float) -> Design:
        d = rounded(300, 200, 10) + " " + rounded(300 - 2 * apart, 200 - 2 * apart, 10 - apart)
        return panel({}, outline=d)

    twice = panel({}, outline=rounded(300, 200, 10) + " " + rounded(300, 200, 10))
    edge = shapely.box(-150, -100, 150, 100).boundary
    return [
        Case(
            fault=9,
            name="a stroke turned into an outline",
            design=pair(0.3),
            seed=Seed(
                check="drawing-doubled",
                measured=0.3,
                where=edge,
                also=("part-thin", "falls-apart", "corner-sharp", "web-thin"),
            ),
        ),
        Case(
            fault=9,
            name="0.5 apart",
            design=pair(0.49),
            seed=Seed(
                check="drawing-doubled", measured=0.49, where=edge, also=("part-thin", "falls-apart", "web-thin")
            ),
        ),
        Case(
            fault=9,
            name="drawn twice",
            design=twice,
            seed=Seed(check="drawing-duplicate", severity="note", measured=1, where=edge),
        ),
        Case(fault=9, name="drawn once", design=panel({})),
        Case(
            fault=9,
            name="a frame of 12",
            design=panel({}, outline=rounded(300, 200, 16) + " " + rounded(276, 176, 4)),
        ),
        Case(
            fault=9,
            name="a frame of 8",
            design=panel({}, outline=rounded(300, 200, 16) + " " + rounded(284, 184, 8)),
        ),
    ]


def _units() -> list[Case]:
    def sized(long: float) -> Design:
        return Design(
            steps={"body": {"kind": "outline", "drawn": "body"}},
            drawing={"body": rounded(long, long / 2, long / 10)},
        )

    company = {"other": {"kind": "outline", "drawn": "other"}}
    two = sized(12.6)
    two = two.having(steps={**two.steps, **company}, drawing={**two.drawing, "other": ring(0, 0, 2)})
    at = shapely.Point(0, 0)
    return [
        Case(
            fault=10,
            name="inches read as millimetres",
            design=sized(12.6),
            seed=Seed(check="drawing-size", severity="stop", measured=12.6, limit=20, where=at),
        ),
        Case(
            fault=10,
            name="3001 long",
            design=sized(3001),
            seed=Seed(check="drawing-size", severity="stop", measured=3001, limit=3000, where=at),
        ),
        Case(
            fault=10,
            name="two outlines",
            design=two,
            seed=Seed(check="drawing-size", severity="stop", measured=12.6, limit=20, where=at),
        ),
        Case(fault=10, name="20 long", design=sized(20)),
        Case(fault=10, name="3000 long", design=sized(3000)),
        Case(fault=10, name="320 long", design=sized(320)),
    ]


TEXT = '<text x="0" y="0" font-family="Some Face" font-size="9">HEAD</text>\n'


def _text() -> list[Case]:
    well = {"well": cavity(60, 20, 80, 50)}
    strokes = '<path d="M0,0 h5 v5" fill="none" stroke="black"/>\n'
    seed = Seed(check="drawing-unread")
    return [
        Case(fault=11, name="text in the drawing", design=panel({}, extra=TEXT), seed=seed),
        Case(fault=11, name="text beside a body", design=body(well, extra=TEXT), seed=seed),
        Case(fault=11, name="text among others", design=large(well, extra=TEXT), seed=seed),
        Case(fault=11, name="strokes instead", design=panel({}, extra=strokes)),
        Case(fault=11, name="no text", design=body(well)),
        Case(fault=11, name="strokes beside a body", design=body(well, extra=strokes)),
    ]


def _letters() -> list[Case]:
    def letter(x: float, y: float, island: float) -> str:
        inner = ring(x, y, island) if island else ""
        return f"{ring(x, y, 20)} {inner}"

    def cut(island: float) -> Design:
        steps = {"letter": {"kind": "cavity", "drawn": "letter", "through": True}}
        return panel(steps, sheet="thin", drawn={"letter": letter(30, 10, island)})

    hidden = tray(
        {"letter": {"kind": "cavity", "drawn": "letter", "through": True}}, drawn={"letter": letter(0, -50, 12)}
    )
    bridged = (
        "M-1,-19.9 A20,20 0 1 0 1,-19.9 V-10 A10,10 0 1 1 -1,-10 Z"  # a C turned up: its middle hangs on by 2 mm
    )
    steps = {"letter": {"kind": "cavity", "drawn": "letter", "through": True}}
    return [
        Case(
            fault=12,
            name="a cut O",
            design=cut(10),
            seed=Seed(check="falls-apart", measured=2, limit=1, where=shapely.Point(30, 10).buffer(10)),
        ),
        Case(
            fault=12,
            name="a cut O with a tiny middle",
            design=cut(1),
            seed=Seed(check="falls-apart", measured=2, limit=1, where=shapely.Point(30, 10).buffer(1)),
        ),
        Case(
            fault=12,
            name="a cut O in a tray",
            design=hidden,
            seed=Seed(check="falls-apart", measured=2, limit=1, where=shapely.Point(0, -50).buffer(12)),
        ),
        Case(fault=12, name="no middle", design=cut(0)),
        Case(
            fault=12, name="a middle that hangs on", design=panel(steps, sheet="thin", drawn={"letter": bridged})
        ),
        Case(
            fault=12,
            name="a pocket with an island",
            design=panel(
                {"letter": {"kind": "cavity", "drawn": "letter", "depth": 5}}, drawn={"letter": letter(30, 10, 10)}
            ),
        ),
    ]


CASES = [*_tiny(), *_open(), *_double(), *_units(), *_text(), *_letters()]
