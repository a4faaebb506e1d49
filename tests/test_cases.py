"""Golden designs, found by listing: each is built, built again, and compared with what was read and agreed."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from pipeline.path import build
from tests.readback import CASES, area, bounds, counts, length, loops, packet_folder, project, touched, tree

NAMES = sorted(p.name for p in CASES.iterdir() if p.is_dir())
HELD = {"held"}
"""Cases that a `stop` finding holds back; every other must build."""


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """``built(case)``: the packet's folder, built once for all tests here."""
    done: dict[str, Path] = {}

    def folder(case: str) -> Path:
        if case not in done:
            answer = build([CASES / case / f"{case}.yaml"], out=tmp_path_factory.mktemp(case) / "out")
            assert answer.exit_code == (1 if case in HELD else 0), answer.said
            done[case] = packet_folder(answer.data)
        return done[case]

    return folder


def packet(folder: Path) -> dict[str, Any]:
    return dict(json.loads((folder / "packet.json").read_text(encoding="utf-8")))


def step(found: dict[str, Any], name: str) -> dict[str, Any]:
    return dict(next(s for s in found["steps"] if s["name"] == name))


def extract(folder: Path) -> dict[str, Any]:
    """The part of a packet that a golden holds: what a maker would notice if it changed."""
    found = packet(folder)
    facts = (
        "name",
        "role",
        "face",
        "thickness_mm",
        "area_mm2",
        "perimeter_mm",
        "bounds_mm",
        "count",
        "sheet",
        "letter",
    )
    return {
        "pieces": [{k: p[k] for k in facts if k in p} for p in found["pieces"]],
        "blanks": [{k: b[k] for k in ("name", "thickness_mm", "laminations")} for b in found["blanks"]],
        "steps": [{k: v for k, v in s.items() if k != "key"} for s in found["steps"]],
        "findings": [{k: f[k] for k in ("check", "severity", "step", "piece")} for f in found["findings"]],
        "totals": found["totals"],
        "layers": {p.relative_to(folder).as_posix(): counts(p) for p in sorted(folder.rglob("*.dxf"))},
    }


def same(a: Any, b: Any, where: str = "") -> list[str]:
    """Where two JSON values differ: numbers by more than 1e-6 (absolute under 1, else relative)."""
    if isinstance(a, dict) and isinstance(b, dict):
        off = [f"{where}.{k} stands in one alone" for k in sorted(a.keys() ^ b.keys())]
        return off + [x for k in sorted(a.keys() & b.keys()) for x in same(a[k], b[k], f"{where}.{k}")]
    if isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        return [x for i, (p, q) in enumerate(zip(a, b, strict=True)) for x in same(p, q, f"{where}[{i}]")]
    if type(a) in (int, float) and type(b) in (int, float):
        return [] if abs(a - b) <= 1e-6 * max(1.0, abs(a)) else [f"{where}: {a} was {b}"]
    return [] if a == b else [f"{where}: {a!r} was {b!r}"]


@pytest.mark.parametrize("case", NAMES)
def test_case_is_as_agreed(case: str, built: Callable[[str], Path], request: pytest.FixtureRequest) -> None:
    now, path = extract(built(case)), CASES / case / "expected.json"
    if request.config.getoption("--refresh"):
        path.write_text(json.dumps(now, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    assert path.is_file(), "expected.json is missing; write it with --refresh and read it"
    assert same(now, json.loads(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("case", NAMES)
def test_second_run_writes_nothing(case: str, built: Callable[[str], Path]) -> None:
    out = built(case).parent
    files, times = tree(out), touched(out)
    again = build([CASES / case / f"{case}.yaml"], out=out)
    assert again.data["designs"][0]["state"] == "nothing to do"
    assert again.exit_code == (1 if case in HELD else 0)
    assert tree(out) == files
    assert touched(out) == times


# -- body W: trade.md's worked example; every number below is derived there or here, none by the product --
R, r, D = 120.0, 42.0, 170.0
S, ALPHA = math.sqrt(D * D - (R - r) ** 2), math.asin((R - r) / D)
HULL_AREA = (R + r) * S + R * R * (math.pi / 2 + ALPHA) + r * r * (math.pi / 2 - ALPHA)
HULL_PERIMETER = 2 * S + R * (math.pi + 2 * ALPHA) + r * (math.pi - 2 * ALPHA)
"""Hull of circles R at (20, 0) and r at (190, 0), the centres D apart (trade.md, head)."""


def test_closed_forms_are_those_of_the_trade() -> None:
    """The issue names 55 883.61 and 885.398."""
    assert pytest.approx(55883.61, abs=0.005) == HULL_AREA
    assert pytest.approx(885.398, abs=0.0005) == HULL_PERIMETER


def test_body_w_outline_is_two_lines_and_two_arcs(built: Callable[[str], Path]) -> None:
    """The glued blank's perimeter, cut by `cut_blank: [body]`, read back from the DXF."""
    folder = built("body-w")
    (loop,) = loops(ezdxf.readfile(folder / "shops/router/body-w-A_blank_x1.dxf"), "FRONT_CUT_OUTSIDE")
    assert sorted(b != 0 for _, _, b in loop) == [False, False, True, True]
    # coordinates have 6 decimals: the area may be off by perimeter × 5e-7, the length by 4 × 1e-6
    assert area(loop) == pytest.approx(HULL_AREA, abs=1e-3)
    assert length(loop) == pytest.approx(HULL_PERIMETER, abs=1e-5)
    assert bounds(loop) == pytest.approx((20 - R, -R, 190 + r, R), abs=2e-6)
    body = step(packet(folder), "body")
    assert (body["lines"], body["arcs"], body["free_segments"]) == (2, 2, 0)
    assert body["area_mm2"] == pytest.approx(HULL_AREA, rel=1e-9)
    assert body["perimeter_mm"] == pytest.approx(HULL_PERIMETER, rel=1e-9)


def test_body_w_offset_keeps_lines_and_arcs(built: Callable[[str], Path]) -> None:
    """Inner parallel: P − 2π·4.5 = 857.124 (Steiner; trade.md 5, oracle), A − P·4.5 + π·4.5²."""
    folder = built("body-w")
    inner = step(packet(folder), "inner")["offsets"][0]
    assert inner["perimeter_mm"] == pytest.approx(857.124, abs=0.0005)
    assert inner["perimeter_mm"] == pytest.approx(HULL_PERIMETER - 9 * math.pi, rel=1e-9)
    assert inner["area_mm2"] == pytest.approx(HULL_AREA - 4.5 * HULL_PERIMETER + 4.5**2 * math.pi, rel=1e-9)
    assert (inner["lines"], inner["arcs"]) == (2, 2)
    # the outside template for bush 17 and cutter 8 is the same curve, and comes out of its file so
    (loop,) = loops(ezdxf.readfile(folder / "shops/router/body-w-A_bush_guide_mdf_x1.dxf"), "FRONT_CUT_OUTSIDE")
    assert sorted(b != 0 for _, _, b in loop) == [False, False, True, True]
    assert length(loop) == pytest.approx(857.124, abs=0.0005)


def test_body_w_stack_heights(built: Callable[[str], Path]) -> None:
    """Sheets 11.8, 11.7, 11.9 and a veneer of 0.6 with 0.05 of glue between (trade.md 3.7, worked)."""
    found = packet(built("body-w"))
    spans = [(x["z0"], x["z1"]) for x in found["blanks"][0]["laminations"]]
    for span, wanted in zip(spans, [(0, 11.80), (11.85, 23.55), (23.60, 35.50), (35.55, 36.15)], strict=True):
        assert span == pytest.approx(wanted, abs=1e-9)
    work = {(lam["lamination"], w["cut"]): w for lam in step(found, "blank")["laminations"] for w in lam["work"]}
    # neck pocket 16.00 deep at the bridge end is z 20.15; 60 mm on it is 60·tan 2° deeper (trade.md 3.7)
    pocket = work[2, "neck_pocket"]
    assert (pocket["action"], pocket["face"]) == ("ramp", "front")
    assert pocket["depth_mm"] == pytest.approx(23.55 - 20.15, abs=1e-9)
    assert pocket["depth_mm"] == pytest.approx(3.40, abs=0.005)
    assert pocket["deep_mm"] == pytest.approx(3.40 + 60 * math.tan(math.radians(2)), abs=1e-9)
    assert pocket["deep_mm"] == pytest.approx(5.50, abs=0.005)
    assert pocket["remains_mm"] == pytest.approx(8.30, abs=1e-9)
    assert pocket["remains_deep_mm"] == pytest.approx(6.20, abs=0.005)
    assert work[3, "neck_pocket"]["action"] == work[4, "neck_pocket"]["action"] == "through"
    # control cavity leaves 4.00 below the front: floor at z 32.15 (trade.md 3.7)
    assert work[1, "control"]["action"] == work[2, "control"]["action"] == "through"
    deep = work[3, "control"]
    assert (deep["action"], deep["face"]) == ("pocket", "back")
    assert deep["depth_mm"] == pytest.approx(32.15 - 23.60, abs=1e-9) == pytest.approx(8.55, abs=1e-9)
    assert deep["remains_mm"] == pytest.approx(3.35, abs=1e-9)
    assert (1, "neck_pocket") not in work
    assert (4, "control") not in work


def test_body_w_layers_carry_those_depths(built: Callable[[str], Path]) -> None:
    folder = built("body-w") / "shops" / "router"
    assert "FRONT_RAMP_Z3-40_Z5-50" in counts(folder / "body-w-A_blank-2_ply_x1.dxf")
    assert "BACK_POCKET_Z8-55" in counts(folder / "body-w-A_blank-3_ply_x1.dxf")


def test_body_w_recess(built: Callable[[str], Path]) -> None:
    """80 × 45 r 8 widened by 4.5: 89 × 54 with corner 12.5, area 89·54 − (4 − π)·12.5² = 4671.87."""
    folder = built("body-w")
    recess = step(packet(folder), "control")["recess"]
    assert recess["area_mm2"] == pytest.approx(89 * 54 - (4 - math.pi) * 12.5**2, rel=1e-9)
    assert recess["area_mm2"] == pytest.approx(4671.87, abs=0.005)
    assert recess["least_convex_radius_mm"] == pytest.approx(12.5, abs=1e-9)
    (loop,) = loops(ezdxf.readfile(folder / "shops/router/body-w-A_blank-1_ply_x1.dxf"), "BACK_POCKET_Z3-00")
    assert area(loop) == pytest.approx(4671.87, abs=0.005)
    radii = {
        round(math.hypot(x1 - x0, y1 - y0) * (1 + b * b) / (4 * abs(b)), 4)
        for (x0, y0, b), (x1, y1, _) in zip(loop, loop[1:] + loop[:1], strict=True)
        if b
    }
    assert radii == {12.5}


def test_follower_offsets(built: Callable[[str], Path]) -> None:
    """Half the difference of bush and cutter: (17 − 8)/2 and (30 − 12)/2 (trade.md 5)."""
    found = packet(built("body-w"))
    assert step(found, "bush_guide")["follower_offset_mm"] == 4.5
    assert step(found, "wide_guide")["follower_offset_mm"] == 9.0


def test_body_w_mass_and_centre(built: Callable[[str], Path]) -> None:
    """Pocket, control and ledge taken out, 680 kg/m³: 1.266 kg at (49.87, 2.84) (trade.md 10, oracle)."""
    totals = packet(built("body-w"))["totals"]
    assert totals["mass_g"] == pytest.approx(1266, abs=0.5)
    assert totals["centre_of_mass_mm"][:2] == pytest.approx([49.87, 2.84], abs=0.005)


# -- the small cases: closed forms -------------------------------------------------------------------
def test_six_lines_are_six(built: Callable[[str], Path]) -> None:
    """120 × 80 less a circle of radius 10, after the known length has doubled the drawing."""
    recipe = (CASES / "six-lines" / "six-lines.yaml").read_text(encoding="utf-8")
    assert len(recipe.splitlines()) == 6
    folder = built("six-lines")
    drawing = ezdxf.readfile(next(folder.rglob("*.dxf")))
    (outer,), (inner,) = loops(drawing, "FRONT_CUT_OUTSIDE"), loops(drawing, "FRONT_CUT_INSIDE")
    assert area(outer) - area(inner) == pytest.approx(9600 - 100 * math.pi, abs=1e-3)
    assert drawing.modelspace().query('CIRCLE[layer=="FRONT_CUT_INSIDE"]').first.dxf.radius == pytest.approx(10)
    assert packet(folder)["pieces"][0]["area_mm2"] == pytest.approx(9600 - 100 * math.pi, rel=1e-9)


def test_laser_nest_takes_the_beam_off(built: Callable[[str], Path]) -> None:
    """Kerf 0.2: half of it outward on edges of radius 40, inward on bores of radius 10 (outside checks X10);
    the packet still states the design edge, π(40² − 10²)."""
    folder = built("laser-nest")
    space = ezdxf.readfile(next(p for p in folder.rglob("*.dxf") if "reference" not in p.name)).modelspace()
    outer = [c for c in space.query("CIRCLE") if c.dxf.layer == "FRONT_CUT_OUTSIDE"]
    inner = [c for c in space.query("CIRCLE") if c.dxf.layer == "FRONT_CUT_INSIDE"]
    assert [round(c.dxf.radius, 9) for c in outer] == [40.1] * 3
    assert [round(c.dxf.radius, 9) for c in inner] == [9.9] * 3
    assert packet(folder)["pieces"][0]["area_mm2"] == pytest.approx(1500 * math.pi, rel=1e-9)
    centres = [(c.dxf.center.x, c.dxf.center.y) for c in outer]
    for i, (x, y) in enumerate(centres):
        assert 40 + 8 - 1e-6 <= x <= 300 - 48 + 1e-6  # border 8 of a sheet of 300 × 200
        assert 40 + 8 - 1e-6 <= y <= 200 - 48 + 1e-6
        assert all(math.dist((x, y), other) >= 80 + 2 - 1e-6 for other in centres[:i])  # gap 2


def test_laser_never_cuts_half_through(built: Callable[[str], Path]) -> None:
    folder = built("laser-half")
    found = packet(folder)
    assert ("laser-half-depth", "rest") in {(f["check"], f["step"]) for f in found["findings"]}
    cut = next(p for p in folder.rglob("*.dxf") if "reference" not in p.name)
    assert counts(cut) == {"FRONT_CUT_OUTSIDE": {"LWPOLYLINE": 1}}
    assert counts(cut.with_name(cut.stem + "_reference.dxf"))["REFERENCE"]["CIRCLE"] == 1


def test_r12_files_and_their_zero(built: Callable[[str], Path]) -> None:
    """POLYLINE with bulges; zero at the first pin (−30, 0), or at the lower left corner of the link."""
    folder = built("r12")
    for shop, dx, dy in (("pin", 30, 0), ("corner", 70, 20)):
        path = next((folder / "shops" / shop).glob("*.dxf"))
        drawing = ezdxf.readfile(path)
        assert drawing.dxfversion == "AC1009"
        assert not drawing.audit().errors
        assert {e.dxftype() for e in drawing.modelspace()} <= {"POLYLINE", "CIRCLE", "TEXT", "LINE", "ARC"}
        (link,) = loops(drawing, "FRONT_CUT_OUTSIDE")
        assert sorted(b != 0 for _, _, b in link) == [False, False, True, True]
        assert bounds(link) == pytest.approx((-70 + dx, -20 + dy, 70 + dx, 20 + dy), abs=2e-6)
        assert area(link) == pytest.approx(100 * 40 + 400 * math.pi, abs=1e-3)
        (six,) = loops(drawing, "FRONT_DRILL_DIA6-00_THROUGH")
        assert bounds(six) == pytest.approx((-33 + dx, -3 + dy, -27 + dx, 3 + dy), abs=2e-6)


def test_two_faces_tie_at_the_pins(built: Callable[[str], Path]) -> None:
    """Turned over about x, (x, y) of the back file is (x, −y) of the front one."""
    folder = built("two-faces") / "shops" / "router"
    front = ezdxf.readfile(next(folder.glob("*_front.dxf"))).modelspace()
    back = ezdxf.readfile(next(folder.glob("*_back.dxf"))).modelspace()
    index = sorted((c.dxf.center.x, c.dxf.center.y, c.dxf.radius) for c in front.query('CIRCLE[layer=="INDEX"]'))
    drilled = sorted(
        (c.dxf.center.x, -c.dxf.center.y, c.dxf.radius) for c in back.query("CIRCLE") if "DRILL" in c.dxf.layer
    )
    assert drilled == index == [(-80.0, 10.0, 3.0), (80.0, -5.0, 4.0)]
    # the well (−30, −20) stands at (−30, +20) on the back, 18.2 − 5 deep; the edge is cut from the front alone
    (well,) = loops(ezdxf.readfile(next(folder.glob("*_back.dxf"))), "BACK_POCKET_Z13-20")
    assert bounds(well) == pytest.approx((-50, 8, -10, 32), abs=2e-6)
    assert not [e for e in back if "_CUT_" in e.dxf.layer]
    (edge,) = loops(ezdxf.readfile(next(folder.glob("*_front.dxf"))), "FRONT_CUT_OUTSIDE")
    (shown,) = loops(ezdxf.readfile(next(folder.glob("*_back.dxf"))), "REFERENCE")
    assert sorted((round(x, 6), round(-y, 6)) for x, y, _ in shown) == sorted(
        (round(x, 6), round(y, 6)) for x, y, _ in edge
    )


def test_plain_page_is_in_inches(built: Callable[[str], Path]) -> None:
    """6 × 3.5 in, an inch from the left and half an inch from the bottom; 1 in = 25.4 mm."""
    folder = built("plain-page")
    board = packet(folder)["pieces"][0]
    assert board["bounds_mm"] == pytest.approx([25.4, 12.7, 177.8, 101.6], abs=1e-9)
    assert board["area_mm2"] == pytest.approx(21 * 645.16, rel=1e-12)
    assert board["thickness_mm"] == pytest.approx(19.05, abs=1e-12)
    (loop,) = loops(ezdxf.readfile(next(folder.rglob("*.dxf"))), "FRONT_CUT_OUTSIDE")
    assert bounds(loop) == pytest.approx((25.4, 12.7, 177.8, 101.6), abs=1e-6)


def test_a_held_packet_leaves_the_last_good_one(tmp_path: Path) -> None:
    """Good, then too deep for the cutter that fits, then good again: the good packet stays, `.held` goes."""
    recipe, out = project(tmp_path, "held") / "held.yaml", tmp_path / "out"
    deep = recipe.read_text(encoding="utf-8")
    recipe.write_text(deep.replace("depth: 22", "depth: 10"), encoding="utf-8")
    assert build([recipe], out=out).exit_code == 0
    good, times = tree(out / "held"), touched(out / "held")
    recipe.write_text(deep, encoding="utf-8")
    answer = build([recipe], out=out)
    assert (answer.exit_code, answer.data["designs"][0]["state"]) == (1, "held")
    assert tree(out / "held") == good
    assert touched(out / "held") == times
    held = out / "held.held"
    assert any(f["severity"] == "stop" and not f["accepted"] for f in packet(held)["findings"])
    assert list(held.rglob("*.dxf")), "a held packet is whole, shop files included"
    assert "HELD" in (held / "report.html").read_text(encoding="utf-8")
    assert "HELD" in (held / "letter.txt").read_text(encoding="utf-8")
    recipe.write_text(deep.replace("depth: 22", "depth: 9"), encoding="utf-8")
    assert build([recipe], out=out).exit_code == 0
    assert not held.exists()
    assert tree(out / "held") != good
