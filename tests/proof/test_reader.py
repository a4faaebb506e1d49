"""The proof's own reader and layer names, each against what the format or the blueprint says."""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import Any

import pytest

from pipeline.core.shop import Shop
from pipeline.packet.layers import layer_name, shop_layer
from pipeline.proof.dxf import read_dxf
from pipeline.proof.expect import expected_files, layer_of, titled
from pipeline.proof.groups import DxfBroken
from pipeline.proof.layer import Layer, ours, parse, theirs, two_decimals
from pipeline.proof.matching import Matching
from pipeline.proof.seen import Seen
from pipeline.proof.sheet import wrong_in_file
from pipeline.steps.values import Op
from tests.proof.packets import BACK, NEST, heron


def dxf(*entities: str) -> bytes:
    """The least file that holds these entities, written as `code value, code value`."""
    lines = ["0", "SECTION", "2", "ENTITIES"]
    for entity in entities:
        for pair in entity.split(", "):
            code, value = pair.split(" ", 1)
            lines += [code, value]
    return "\n".join([*lines, "0", "ENDSEC", "0", "EOF", ""]).encode()


def only(*entities: str) -> Any:
    (found,) = read_dxf(dxf(*entities)).entities
    return found


# -- reader ----------------------------------------------------------------------------------------
def test_bulge_of_one_hangs_below() -> None:
    """outside_checks F4: bulge 1 from (0,0) to (10,0) is a half circle about (5,0), r 5, below the chord."""
    e = only("0 LWPOLYLINE, 8 X, 90 2, 70 0, 10 0, 20 0, 42 1, 10 10, 20 0")
    assert e.contour.bounds == pytest.approx((0, -5, 10, 0), abs=1e-12)
    assert e.contour.length == pytest.approx(5 * math.pi)


def test_quarter_circle_of_either_flavour() -> None:
    """outside_checks F4: bulge 0.4142135624 from (10,0) to (0,10) has its centre at (0,0) and r 10."""
    light = only("0 LWPOLYLINE, 8 X, 70 1, 10 10, 20 0, 42 0.4142135624, 10 0, 20 10, 10 0, 20 0")
    old = only(
        "0 POLYLINE, 8 X, 66 1, 70 1", "0 VERTEX, 8 X, 10 10, 20 0, 42 0.4142135624", "0 VERTEX, 8 X, 10 0, 20 10",
        "0 VERTEX, 8 X, 10 0, 20 0", "0 SEQEND, 8 X",
    )  # fmt: skip
    for e in (light, old):
        assert e.contour.closed
        assert e.contour.area == pytest.approx(25 * math.pi, rel=1e-9)
    assert (light.line, light.layer) == (5, "X")


def test_arc_runs_anticlockwise() -> None:
    """From 350° to 10° through 0°, not the other way round."""
    e = only("0 ARC, 8 X, 10 0, 20 0, 40 10, 50 350, 51 10")
    assert e.contour.length == pytest.approx(10 * math.radians(20))
    assert e.contour.bounds[2] == pytest.approx(10.0)


def test_text() -> None:
    e = only("0 TEXT, 8 T, 10 1, 20 2, 40 5, 1 \\U+00D8 8 %%c 90%%d, 50 30")
    assert (e.text, e.at, e.turn_deg, e.mirrored) == ("Ø 8 Ø 90°", (1.0, 2.0), 30.0, False)
    assert only("0 TEXT, 8 T, 10 1, 20 2, 40 5, 1 a, 71 2").mirrored
    assert only("0 MTEXT, 8 T, 10 1, 20 2, 40 5, 3 one , 1 two").text == "one two"


@pytest.mark.parametrize(
    "entity",
    [
        "0 LWPOLYLINE, 8 X, 70 1, 10 0, 20 0, 10 0, 20 0, 10 5, 20 0, 10 5, 20 5",  # two vertices in one place
        "0 LWPOLYLINE, 8 X, 70 1, 10 0, 20 0",
        "0 LWPOLYLINE, 8 X, 70 1, 43 2, 10 0, 20 0, 10 5, 20 0, 10 5, 20 5",  # a width
        "0 CIRCLE, 8 X, 10 0, 20 0, 40 0",
        "0 CIRCLE, 8 X, 40 5",
        "0 ARC, 8 X, 10 0, 20 0, 40 5",
        "0 LINE, 8 X, 10 0, 20 0",
        "0 CIRCLE, 8 X, 10 1e9, 20 0, 40 5",
    ],
)
def test_faulty_entities_say_so(entity: str) -> None:
    assert only(entity).problem


@pytest.mark.parametrize(
    "entity",
    ["0 CIRCLE, 8 X, 10 0, 20 0, 30 1, 40 5", "0 CIRCLE, 8 X, 10 0, 20 0, 40 5, 210 0, 220 0, 230 -1"],
)
def test_off_the_plane(entity: str) -> None:
    """An extrusion along −z mirrors what is drawn."""
    assert not only(entity).flat


@pytest.mark.parametrize(
    "data",
    [
        b"", b"0\nSECTION\n", b"0\nSECTION\n2\nENTITIES\n0\nEOF\n", b"\xff\xfe0\x00", b"%PDF-1.4\n1\n",
        dxf("0 CIRCLE, 8 X, 10 nan, 20 0, 40 5"), dxf("0 CIRCLE, 8 X, 10 1e400, 20 0, 40 5"),
        dxf("0 LWPOLYLINE, 8 X, 10 0, 10 5, 20 5"), dxf("0 POLYLINE, 8 X", "0 VERTEX, 10 0, 20 0", "0 LINE, 8 X"),
    ],
)  # fmt: skip
def test_unreadable(data: bytes) -> None:
    with pytest.raises(DxfBroken, match=r"\.$"):
        read_dxf(data)


def test_damage_is_told_and_never_raised(tmp_path: Path) -> None:
    """200 files with a byte changed, lines lost or doubled: each is proved, told, or no readable DXF."""
    packet = heron(tmp_path)
    files = [w for w in expected_files(packet.derived, packet.nests) if w.path in (BACK, NEST)]
    matching = Matching(recipe=titled(packet.derived.recipe))
    dice = random.Random(7)
    told = 0
    for n in range(200):
        want = files[n % 2]
        data = bytearray((tmp_path / want.path).read_bytes())
        spot, size = dice.randrange(len(data)), dice.randrange(1, 400)
        match dice.randrange(3):
            case 0:
                data[spot] = dice.randrange(256)
            case 1:
                del data[spot : spot + size]
            case _:
                data[spot:spot] = data[spot : spot + size]
        try:
            drawn = read_dxf(bytes(data))
        except DxfBroken:
            told += 1
            continue
        found = list(wrong_in_file(want, drawn, matching, want.path))
        assert all(f.severity == "stop" for f in found)
        told += bool(found)
    assert told > 50  # much of a file is styles and handles, which no shop cuts


# -- layer names -----------------------------------------------------------------------------------
NAMES = [
    ("FRONT_CUT_OUTSIDE", Layer(work="CUT_OUTSIDE", face="front")),
    ("FRONT_POCKET_Z16-00", Layer(work="POCKET", face="front", depth="16.00")),
    ("FRONT_RAMP_Z16-00_Z17-89", Layer(work="RAMP", face="front", depth="16.00", deep="17.89")),
    ("FRONT_DRILL_DIA5-00_Z22-00", Layer(work="DRILL", face="front", diameter="5.00", depth="22.00")),
    ("BACK_DRILL_DIA8-00_THROUGH", Layer(work="DRILL", face="back", diameter="8.00", through=True)),
    ("FRONT_GROOVE_DIA6-00_Z5-00", Layer(work="GROOVE", face="front", diameter="6.00", depth="5.00")),
    ("FRONT_ENGRAVE_Z0-30", Layer(work="ENGRAVE", face="front", depth="0.30")),
    ("BACK_SCORE", Layer(work="SCORE", face="back")),
    ("CHECK_SQUARE", Layer(work="CHECK_SQUARE")),
]


@pytest.mark.parametrize(("name", "layer"), NAMES)
def test_names_of_the_closed_list(name: str, layer: Layer) -> None:
    """The blueprint's own examples, taken apart and spelled again."""
    assert parse(name) == layer
    assert str(layer) == name


@pytest.mark.parametrize(
    "name",
    [
        "",
        "0",
        "Cuts",
        "FRONT_POCKET",
        "FRONT_POCKET_Z16",
        "FRONT_POCKET_Z16-0",
        "SIDE_CUT_INSIDE",
        "front_cut_inside",
        "FRONT_STOCK",
        "FRONT_DRILL_DIA5-00",
        "FRONT_RAMP_Z1-00",
        "FRONT_SCORE ",
    ],
)
def test_names_that_say_nothing(name: str) -> None:
    assert parse(name) is None


@pytest.mark.parametrize(
    ("mm", "written"),
    [
        (16, "16.00"),
        (0.005, "0.01"),
        (32.145, "32.15"),
        (17.885, "17.89"),
        (2.675, "2.68"),
        (11.899999999999999, "11.90"),
    ],
)
def test_half_up(mm: float, written: str) -> None:
    """Halves go up as a person rounds them, not as binary numbers happen to lie (2.675 is 2.67499… inside)."""
    assert two_decimals(mm) == written


@pytest.mark.parametrize(
    "own",
    [
        {},
        {"FRONT_POCKET": "SUNK"},
        {"POCKET": "SUNK", "DRILL": "BORE", "RAMP": "SLOPE"},
        {"FRONT_POCKET_Z16-00": "P16", "STOCK": "AIR", "CUT_OUTSIDE": "OUT"},
    ],
)
def test_a_shops_own_names_as_the_writer_spells_them(own: dict[str, str]) -> None:
    """Two pieces of code that share nothing agree on each name, and the way back."""
    ops = [
        Op(work="POCKET", face="front", contours=(), depth_mm=16.0),
        Op(work="POCKET", face="back", contours=(), depth_mm=8.545),
        Op(work="RAMP", face="front", contours=(), depth_mm=16.0, deep_mm=17.885),
        Op(work="DRILL", face="back", contours=(), diameter_mm=8.0, through=True),
        Op(work="DRILL", face="front", contours=(), diameter_mm=5.0, depth_mm=22.0),
        Op(work="CUT_OUTSIDE", face="front", contours=()),
        Op(work="STOCK", face="front", contours=()),
    ]
    shop = Shop(layers=own)
    for op in ops:
        name = str(layer_of(op, shop))
        assert name == layer_name(op)
        assert theirs(name, own) == shop_layer(name, shop)
        assert ours(theirs(name, own), own) == name


# -- views -----------------------------------------------------------------------------------------
@pytest.mark.parametrize("flip", ["", "x", "y"])
@pytest.mark.parametrize("turn", [0.0, 90.0, 180.0, 270.0, 33.0])
def test_there_and_back(flip: str, turn: float) -> None:
    """Turned over, turned on the sheet, shifted; and back to where it was. Turned over it is a mirror image."""
    seen = Seen(flip=flip, turn_deg=turn, dx=11.0, dy=-7.0)
    assert seen.back(*seen.point(3.0, 5.0)) == pytest.approx((3.0, 5.0), abs=1e-12)
    (ox, oy), (ax, ay), (bx, by) = seen.point(0, 0), seen.point(1, 0), seen.point(0, 1)
    determinant = (ax - ox) * (by - oy) - (ay - oy) * (bx - ox)
    assert determinant == pytest.approx(-1.0 if flip else 1.0)


def test_turning_over() -> None:
    """trade.md 2.2: about the centreline (x, y) → (x, −y), end over end (x, y) → (−x, y)."""
    assert Seen(flip="x").point(3, 5) == (3, -5)
    assert Seen(flip="y").point(3, 5) == (-3, 5)
