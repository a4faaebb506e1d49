"""Designs without a fault, made in families: nothing above `note` may be said of any of them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tests.faults.design import (
    COMPANY,
    PLY,
    SHEETS,
    Design,
    Raw,
    body,
    cavity,
    hole,
    large,
    panel,
    polygon,
    ring,
    rounded,
    tray,
)

MDF: Raw = {**SHEETS, "mdf": {"measured": {"A": 12.0}, "nominal": 12, "size": [1220, 900], "density": 740}}


def free(n: int, r: float, swell: float) -> str:
    """A closed free-form outline of cubics: r + swell·cos(2t), as Hermite pieces at n places, y up."""
    path, h = "", 2 * math.pi / n / 3
    for i in range(n + 1):
        t = 2 * math.pi * i / n
        rho, slope = r + swell * math.cos(2 * t), -2 * swell * math.sin(2 * t)
        x, y = rho * math.cos(t), rho * math.sin(t)
        dx, dy = slope * math.cos(t) - y, slope * math.sin(t) + x
        if i == 0:
            path, ahead = f"M{x:.5f},{-y:.5f}", (x + dx * h, y + dy * h)
            continue
        path += f" C{ahead[0]:.5f},{-ahead[1]:.5f} {x - dx * h:.5f},{-(y - dy * h):.5f} {x:.5f},{-y:.5f}"
        ahead = (x + dx * h, y + dy * h)
    return path + " Z"


def _panels() -> Iterator[tuple[str, Design]]:
    for i, (w, h, r) in enumerate([(300, 200, 10), (420, 120, 30), (160, 160, 79), (500, 340, 0.5)]):
        wells = {"well": hole(0, 0, w - 60, h - 60, 8), "eye": hole(0, 0, 30, 30, 8) | {"depth": 8}}
        yield f"panel {i + 1}", panel(wells, outline=rounded(w, h, r))
    for i, swell in enumerate((8, 20, 30)):
        yield f"free panel {i + 1}", panel({"eye": hole(0, 0, 60, 40)}, outline=free(16, 110, swell))
    yield (
        "hexagon",
        panel(
            {"eye": hole(0, 0, 60, 40)},
            outline=polygon(
                [(120 * math.cos(math.pi * i / 3), 120 * math.sin(math.pi * i / 3)) for i in range(6)]
            ),
        ),
    )
    pins = {"kind": "holes", "at": [[-100, 60], [100, 60], [0, -60]], "diameter": [6, 8, 5], "through": True}
    yield "drilled panel", panel({"pins": pins, "well": hole(0, 0, 90, 50)})


def _trays() -> Iterator[tuple[str, Design]]:
    yield "tray", tray({})
    for gap in (2, 4, 10):
        cells = {f"cell_{i}": cavity((20 + gap) * (i - 2), -50, 20, 30, 1, through=True) for i in range(5)}
        yield f"tray with webs of {gap}", tray(cells)
    rings = {
        f"eye_{i}": {"kind": "cavity", "opening": {"circle": 2 + i}, "centre": [30 * i - 60, -50], "through": True}
        for i in range(5)
    }
    yield "tray with eyes", tray(rings)
    yield (
        "sharp tray",
        panel(
            {"star": {"kind": "cavity", "drawn": "star", "through": True}},
            sheet="thin",
            drawn={
                "star": polygon(
                    [
                        (
                            (40 if i % 2 else 18) * math.sin(math.pi * i / 5),
                            (40 if i % 2 else 18) * math.cos(math.pi * i / 5),
                        )
                        for i in range(10)
                    ]
                )
            },
        ),
    )


def _bodies() -> Iterator[tuple[str, Design]]:
    yield "body", body({"well": cavity(60, 20, 80, 50)})
    yield "body with company", large({})
    yield "body with an arm rest of wood", large({"well": cavity(90, 50, 60, 40, 6)})
    yield "body cut in its laminations", body({"well": cavity(60, 20, 80, 50, floor=11.82)}, cut=["well"])
    yield "rounded body", large({}, edge={"front": {"round": 6}, "back": {"round": 3}})
    yield (
        "body with a heel",
        body(
            {
                "heel": {
                    "kind": "cavity",
                    "part": {"rectangle": [72, 44], "corner": 6.5},
                    "fit": "slide",
                    "centre": [168, 0],
                    "depth": 16,
                    "tilt": {"angle": 1.5, "deeper": "+x"},
                    "open": "+x",
                }
            }
        ),
    )
    wire: Raw = {
        "bay": cavity(60, 60, 60, 40, 8, face="back"),
        "nest": cavity(60, -50, 60, 40, 8, face="back"),
        "wire": {
            "kind": "channel",
            "from": "bay",
            "to": "nest",
            "width": 8,
            "lamination": 2,
            "face": "back",
            "depth": 6,
        },
    }
    yield "body with a wire's way", body(wire, cut=["wire"])
    yield "body with a wire's way and company", large(wire, cut=["wire"])
    pins = {"kind": "holes", "role": "index", "at": [[-185, 0], [185, 0]], "diameter": [6, 8], "through": True}
    yield "body with pins", body({"pins": pins, "well": cavity(60, 20, 80, 50)})
    yield (
        "body with screws",
        body(
            {
                "rim": {
                    "kind": "holes",
                    "at": [[100, 100], [-100, 100]],
                    "fastener": "wood 4",
                    "for": "pilot",
                    "length": 20,
                }
            }
        ),
    )
    veneer = {**SHEETS, "skin": {"measured": {"A": 0.6}, "grain": "x", "density": 680}}
    yield (
        "veneered body",
        body(
            {"well": cavity(60, 20, 80, 50, floor=8)},
            sheets=veneer,
            laminations=["skin", "ply A", "ply B", "ply C", "skin"],
        ),
    )
    solid = {**SHEETS, "ply": {**PLY, "measured": {"A": 35.0}, "nominal": 35}}
    yield "solid body", body({"well": cavity(60, 20, 80, 50)}, sheets=solid, laminations=["ply A"])
    yield "free body", body({"well": cavity(0, 0, 80, 50)}).having(drawing={"body": free(20, 125, 18)})


def _hand() -> Iterator[tuple[str, Design]]:
    guide = {
        "kind": "template",
        "of": "well",
        "use": "opening",
        "sheet": "mdf",
        "margin": 90,
        "follow": {"bush": 17, "cutter": 8, "collar": 8, "reach": 60},
    }
    yield "a template", body({"well": cavity(60, 20, 80, 50), "guide": guide}, by_hand=["well"], sheets=MDF)
    outside = {
        "kind": "template",
        "of": "body",
        "use": "outside",
        "sheet": "mdf",
        "follow": {"bearing": 12.7, "cutter": 12.7},
    }
    yield "an outside template", body({"well": cavity(60, 20, 80, 50), "guide": outside}, sheets=MDF)
    yield (
        "a template and company",
        body({**COMPANY, "well": cavity(90, 20, 80, 50), "guide": guide}, by_hand=["well"], sheets=MDF),
    )
    yield (
        "offsets",
        panel({}, outline=rounded(300, 200, 40)).having(
            steps={
                "plate": {"kind": "outline", "drawn": "plate"},
                "inner": {"kind": "offset", "of": "plate", "by": -12, "sheet": "board"},
            }
        ),
    )
    yield (
        "a ring",
        panel(
            {"eye": {"kind": "cavity", "drawn": "eye", "through": True}},
            outline=ring(0, 0, 80),
            drawn={"eye": ring(0, 0, 40)},
        ),
    )


DESIGNS: tuple[tuple[str, Design], ...] = (*_panels(), *_trays(), *_bodies(), *_hand())
