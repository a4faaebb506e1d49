"""DXF files as other programs see them: read back with ezdxf, which shares nothing with the R12 writer."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from typing import Any

import ezdxf
import pytest
from ezdxf import bbox
from ezdxf.math import Vec2, bulge_center, bulge_radius

from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour
from pipeline.packet.dxf import dxf_bytes, dxf_text
from pipeline.packet.dxf_r12 import r12_text
from pipeline.packet.layers import CLOSED_WORKS, CUT_WORKS
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_files import shop_files
from pipeline.packet.written import Circle
from pipeline.steps.values import Derived
from tests.packet import factory as f
from tests.packet.test_layers import GRAMMAR

HOSTILE = 'x\n  0\nSECTION %%c ^J \\U+0041 {\\fArial;} "<b>&amp;</b>" \x00\x1b \u202e Ж 鳥 =1+1'


def files(flavour: str = "R2010", derived: Derived | None = None) -> list[ShopFile]:
    shops = {"router": Shop(dxf=flavour), "laser": f.laser(dxf=flavour)}  # type: ignore[arg-type]  # names by parameter
    return list(shop_files(derived or f.derived(f.recipe(shops)), (f.cover_nest(),)))


def read(file: ShopFile) -> Any:
    data = dxf_bytes(file)
    return ezdxf.read(io.StringIO(data.decode("ascii" if file.flavour == "R12" else "utf-8")))


def area_and_length(entity: Any) -> tuple[float, float]:
    """Of a closed polyline with bulges: Green's theorem over chords and circular segments, by ezdxf's radii."""
    if entity.dxftype() == "CIRCLE":
        return math.pi * entity.dxf.radius**2, 2 * math.pi * entity.dxf.radius
    if entity.dxftype() == "LWPOLYLINE":
        rows = [(x, y, b) for x, y, b in entity.get_points("xyb")]
    else:
        rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in entity.vertices]
    area = length = 0.0
    for (x0, y0, b), (x1, y1, _) in zip(rows, rows[1:] + rows[:1], strict=True):
        area += (x0 * y1 - x1 * y0) / 2
        if b == 0:
            length += math.dist((x0, y0), (x1, y1))
            continue
        r, sweep = bulge_radius((x0, y0), (x1, y1), b), 4 * math.atan(abs(b))
        length += r * sweep
        area += math.copysign(r * r * (sweep - math.sin(sweep)) / 2, b)
        assert Vec2(bulge_center((x0, y0), (x1, y1), b)).distance((x0, y0)) == pytest.approx(r)
    return area, length


@pytest.mark.parametrize("flavour", ["R2010", "R12"])
def test_every_file_is_clean_and_holds_only_what_it_may(flavour: str) -> None:
    """No audit errors; closed polylines and circles on cut layers; layer names of the scheme; millimetres."""
    for file in files(flavour):
        doc = read(file)
        audit = doc.audit()
        assert (audit.errors, audit.fixes) == ([], [])
        if flavour == "R2010":
            assert doc.header["$INSUNITS"] == 4
            assert doc.header["$MEASUREMENT"] == 1
        assert doc.dxfversion == {"R2010": "AC1024", "R12": "AC1009"}[flavour]
        polyline = {"R2010": "LWPOLYLINE", "R12": "POLYLINE"}[flavour]
        work = {v.name: v.work for v in file.layers}
        seen = 0
        for e in doc.modelspace():
            layer = e.dxf.layer
            assert GRAMMAR.fullmatch(layer)
            assert layer in doc.layers
            if layer == "TEXT" and e.dxftype() == "TEXT":
                continue
            seen += 1
            assert e.dxftype() in (polyline, "CIRCLE")
            if e.dxftype() != "CIRCLE":
                closed = e.closed if flavour == "R2010" else e.is_closed
                assert closed or work[layer] not in CLOSED_WORKS
        assert seen == sum(len(v.curves) for v in file.layers)
        assert any(v.work in CUT_WORKS for v in file.layers) or file.kind == "reference"


@pytest.mark.parametrize("flavour", ["R2010", "R12"])
def test_body_w_measures_what_trade_md_says(flavour: str) -> None:
    """trade.md 10.1 and 5.3: area 55 883.61 mm², perimeter 885.398 mm, two lines and two arcs."""
    doc = read(next(v for v in files(flavour) if v.stem == "heron-B_blank_x1_front"))
    (edge,) = doc.modelspace().query('*[layer=="FRONT_CUT_OUTSIDE"]')
    area, length = area_and_length(edge)
    assert area == pytest.approx(55_883.61, abs=0.005)
    assert length == pytest.approx(885.398, abs=0.0005)
    bulges = [b for (b,) in edge.get_points("b")] if flavour == "R2010" else [v.dxf.bulge for v in edge.vertices]
    assert sorted(b == 0 for b in bulges) == [False, False, True, True]


@pytest.mark.parametrize("flavour", ["R2010", "R12"])
def test_extents_are_true(flavour: str) -> None:
    """Arcs included: body W reaches x −100 (20 − 120) and y ±120; ezdxf measures the same box of all curves."""
    for file in files(flavour):
        doc = read(file)
        low, high = Vec2(doc.header["$EXTMIN"]), Vec2(doc.header["$EXTMAX"])
        box = bbox.extents((e for e in doc.modelspace() if e.dxftype() != "TEXT"), fast=False)
        assert low.isclose(Vec2(box.extmin), abs_tol=0.02)  # ezdxf flattens arcs to 0.01
        assert high.isclose(Vec2(box.extmax), abs_tol=0.02)
    lamination = next(v for v in files(flavour) if v.stem.startswith("heron-B_blank-1"))
    assert lamination.bounds[1] == -120.0


def test_extents_that_begin_at_zero_are_stated_too() -> None:
    """ezdxf leaves out extents whose lower corner is exactly (0, 0, 0): then they would read 1e20."""
    nest = f.cover_nest(copies=1)
    at_zero = replace(nest, placements=(replace(nest.placements[0], dx=0.0, dy=0.0),))
    cut = next(v for v in shop_files(f.derived(), (at_zero,)) if v.kind == "nest")
    assert cut.bounds[:2] == (0.0, 0.0)
    doc = read(cut)
    assert Vec2(doc.header["$EXTMIN"]).isclose((0, 0), abs_tol=1e-8)
    assert Vec2(doc.header["$EXTMAX"]).isclose((90, 50))


@pytest.mark.parametrize("flavour", ["R2010", "R12"])
def test_coordinates_come_back_to_the_last_digit(flavour: str) -> None:
    """What is in the value is in the file: six decimals, bulges of twelve, no minus zero."""
    for file in files(flavour):
        doc = read(file)
        for layer in file.layers:
            entities = list(
                doc.modelspace().query(f'*[layer=="{layer.name}"]').query("LWPOLYLINE POLYLINE CIRCLE")
            )
            for curve, e in zip(layer.curves, entities, strict=True):
                if isinstance(curve, Circle):
                    assert (e.dxf.center.x, e.dxf.center.y, e.dxf.radius) == (curve.x, curve.y, curve.r)
                    continue
                assert isinstance(curve, Contour)
                rows = (
                    e.get_points("xyb")
                    if flavour == "R2010"
                    else [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in e.vertices]
                )
                assert [tuple(r) for r in rows] == [
                    (x, y, b) for (x, y), b in zip(curve.xy.tolist(), curve.bulge.tolist(), strict=True)
                ]
        assert b"\n-0.0\n" not in dxf_bytes(file)
        assert b"\r" not in dxf_bytes(file)


@pytest.mark.parametrize("flavour", ["R2010", "R12"])
def test_words_can_never_become_structure(flavour: str) -> None:
    """A title with line breaks, codes and control signs is words in the file, and the file stays whole."""
    shops = {"router": Shop(dxf=flavour), "laser": f.laser(dxf=flavour)}  # type: ignore[arg-type]  # names by parameter
    plain = files(flavour)
    bad = files(flavour, f.derived(f.recipe(shops, title=HOSTILE)))
    for file, before in zip(bad, plain, strict=True):
        doc = read(file)
        assert not doc.audit().errors
        if not file.words:
            continue
        assert len(doc.modelspace()) >= len(read(before).modelspace())
        texts = [e.dxf.text for e in doc.modelspace().query("TEXT")]
        assert len(texts) == len(file.words)
        assert not any(ord(c) < 32 for t in texts for c in t)
        said = " ".join(texts)
        assert "%%c" not in said
        assert "^J" not in said
        assert "\\U+" not in said
        assert "SECTION" in said


def test_signs_that_dxf_reads_as_codes_are_spelled_out() -> None:
    """%% and ^ begin codes in TEXT (DXF reference); the backslash begins \\U+XXXX."""
    assert dxf_text("100%%c ^J a\\U+0041") == "100% %c ^ J a/U+0041"
    assert dxf_text("%%%%") == "% % % %"
    assert dxf_text("Ø 5 × 3°") == "Ø 5 × 3°"
    assert r12_text("Ø 5 × 3° ±0.1 Härte 鳥") == "%%c 5 x 3%%d %%p0.1 Harte ?"


def test_r12_is_plain_ascii_with_short_names() -> None:
    for file in files("R12"):
        data = dxf_bytes(file)
        data.decode("ascii")
        assert b"LWPOLYLINE" not in data
        assert all(len(v.name) <= 31 for v in file.layers)


def test_lines_tell_layers_apart_without_colour() -> None:
    """Each layer carries its own colour and line type; entities carry none of their own."""
    doc = read(files()[1])
    assert doc.layers.get("BACK_POCKET_Z32-15").dxf.linetype.upper() == "LONG_DASH"
    assert doc.layers.get("BACK_POCKET_Z32-15").rgb == (230, 159, 0)
    assert doc.layers.get("STOCK").color == 7
    for e in doc.modelspace():
        assert not e.dxf.hasattr("color")
        assert not e.dxf.hasattr("linetype")


def test_the_words_stay_within_the_stated_extents() -> None:
    """The frame round the words is part of the extents and wide enough for the longest line of a wide font:
    0.9 of the height a letter."""
    for file in files():
        for w in file.words:
            if w.turn_deg == 0:
                assert w.x + 0.9 * w.height_mm * len(w.text) <= file.bounds[2] + 1e-6
                assert file.bounds[1] <= w.y <= file.bounds[3]
