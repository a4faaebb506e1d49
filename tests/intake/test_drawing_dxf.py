"""DXF drawings: units, layers, blocks, names, forms of the file; and our own cut files read back."""

from __future__ import annotations

import io
import math
import random
from pathlib import Path

import pytest
from ezdxf.document import Drawing
from ezdxf.enums import InsertUnits
from ezdxf.math import Vec3
from ezdxf.units import conversion_factor

from pipeline.core.errors import Refused
from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.intake.drawing import read_document, read_drawing
from pipeline.intake.drawing.contours import as_contour
from pipeline.intake.drawing.dxf import UNITS, read_dxf
from pipeline.intake.drawing.names import find
from pipeline.intake.look import look, look_rows, look_text
from pipeline.intake.recipe import read_recipe
from pipeline.packet.dxf import dxf_bytes
from pipeline.packet.shop_files import shop_files
from pipeline.packet.written import Circle
from tests.intake.dxf_drawings import (
    Pair,
    area,
    block,
    document,
    dxf,
    fault,
    layer,
    line,
    messages,
    pairs,
    polyline,
    section,
    taken,
    thing,
)
from tests.packet import factory

SQUARE = polyline((0, 0), (1, 0), (1, 1), (0, 1))


def insert(name: str, x: float, y: float, *more: Pair, layer: str = "a") -> str:
    return thing("INSERT", (2, name), (10, x), (20, y), *more, layer=layer)


# -- units -----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("code", "mm"),
    [
        (1, 25.4),
        (2, 304.8),
        (4, 1),
        (5, 10),
        (6, 1000),
        (8, 25.4e-6),
        (9, 0.0254),
        (10, 914.4),
        (13, 1e-3),
        (14, 100),
    ],
)
def test_a_unit_square_in_each_unit(code: int, mm: float) -> None:
    """$INSUNITS (outside_checks.md F2) with the exact factors of the units."""
    doc = document(SQUARE, units=code)
    assert doc.unit_mm == mm
    assert doc.sized == "mm"
    assert doc.shapes[0].bounds == (0, 0, mm, mm)


def test_all_units_against_ezdxf() -> None:
    """ezdxf's own factors, to their rounding (astronomical ones: three digits); it has none for some units."""
    assert sorted(UNITS) == list(range(1, 25))
    for code, (_, mm) in UNITS.items():
        if code in (8, 9, 21, 22, 23, 24):  # microinch, mil, US survey units
            continue
        assert mm == pytest.approx(
            conversion_factor(InsertUnits(code), InsertUnits.Millimeters), rel=2e-3 if code > 17 else 1e-8
        )
    # 1 US survey foot = 1200/3937 m (NIST Handbook 44, appendix C), 0.6 micrometres longer than a foot (2 in a million).
    assert UNITS[21][1] == pytest.approx(304.8006096012192, abs=1e-9)
    assert [UNITS[c][1] / UNITS[21][1] for c in (22, 23, 24)] == pytest.approx([1 / 12, 3, 5280])


@pytest.mark.parametrize("code", [0, None, 77])
def test_without_a_unit_there_is_no_size(code: int | None) -> None:
    doc = document(SQUARE, units=code, header=pairs((9, "$MEASUREMENT"), (70, 0)))
    assert (doc.sized, doc.unit_mm) == ("none", 1.0)
    assert "hints at inches" in doc.unit


# -- forms of the file -----------------------------------------------------------------------------
def mixed(version: str) -> Drawing:
    """An outline of a line, an arc and a polyline; a circle inside it; 800 + 100 π − 16 π mm² (a stadium)."""
    doc = Drawing.new(version)
    doc.header["$INSUNITS"] = 4
    doc.layers.add("Körper")
    at = {"layer": "Körper"}
    space = doc.modelspace()
    space.add_line((0, 0), (40, 0), dxfattribs=at)
    space.add_arc((40, 10), 10, -90, 90, dxfattribs=at)
    space.add_polyline2d([(40, 20, 0), (0, 20, 1), (0, 0, 0)], format="xyb", dxfattribs=at)
    space.add_circle((20, 10), 4, dxfattribs=at)
    return doc


STADIUM = 800 + 100 * math.pi - 16 * math.pi


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
@pytest.mark.parametrize("form", ["asc", "bin"])
def test_every_version_as_text_and_binary(version: str, form: str, tmp_path: Path) -> None:
    """Written by ezdxf, which shares nothing with our reader; the layer's name in code page or UTF-8."""
    mixed(version).saveas(tmp_path / "d.dxf", fmt=form)
    doc = read_document(tmp_path / "d.dxf", "d.dxf")
    assert area(
        doc,
        "Körper" if version != "R12" else next(e.id for e in doc.entries if e.kind == "layer" and "rper" in e.id),
    ).area == pytest.approx(STADIUM, abs=1e-9)
    assert doc.findings == ()


def test_line_ends_comments_blanks_and_what_other_programs_hang_on() -> None:
    """CR LF, lone CR, comments, a byte order mark, trailing blanks, extended data and 102 groups change nothing."""
    foreign: tuple[Pair, ...] = ((102, "{HELD"), (10, 99), (102, "}"), (1001, "X"), (1010, 5), (10, 77))
    text = pairs((999, "a comment")) + dxf(
        thing("CIRCLE", (5, "2F"), (10, 3), (999, "x"), (20, 4), (40, 5), *foreign)
    )
    for data in (
        text.encode(),
        text.replace("\n", "\r\n").encode(),
        text.replace("\n", "\r").encode(),
        b"\xef\xbb\xbf" + text.encode() + b"\n \n\x1a",
    ):
        doc = read_dxf(data, "t.dxf")
        assert doc.shapes[0].bounds == pytest.approx((-2, -1, 8, 9))
        assert doc.entries[doc.shapes[0].entry].name == "2F"


@pytest.mark.parametrize(
    ("page", "encoding"), [("ANSI_1251", "cp1251"), ("ANSI_932", "cp932"), ("dos850", "cp850")]
)
def test_names_in_the_code_page_of_the_header(page: str, encoding: str) -> None:
    name = {"cp1251": "корпус", "cp932": "胴体", "cp850": "Körper"}[encoding]
    header = pairs((9, "$ACADVER"), (1, "AC1015"), (9, "$DWGCODEPAGE"), (3, page))
    data = dxf(polyline((0, 0), (3, 0), (0, 3), layer=name), header=header).encode(encoding)
    assert area(read_dxf(data, "t.dxf"), name).area == 4.5


def test_names_with_escapes() -> None:
    assert area(document(polyline((0, 0), (3, 0), (0, 3), layer="K\\U+00F6rper")), "Körper").area == 4.5


# -- layers ----------------------------------------------------------------------------------------
def test_frozen_and_off_layers_and_invisible_objects_are_hidden_with_the_reason() -> None:
    table = layer("cold", flags=1) + layer("dark", colour=-3) + layer("held", flags=4)
    body = "".join(
        polyline((0, 0), (3, 0), (0, 3), layer=n, more=((60, 1),) if n == "seen" else ())
        for n in ("cold", "dark", "held", "seen")
    )
    doc = document(body, layers=table)
    assert 'its layer "cold" is frozen' in taken(doc, "cold").problem
    assert 'its layer "dark" is off' in taken(doc, "dark").problem
    assert "marked invisible" in taken(doc, "seen").problem
    assert area(doc, "held").area == 4.5


def test_layer_names_do_not_mind_the_case() -> None:
    doc = document(polyline((0, 0), (3, 0), (0, 3), layer="BODY"), layers=layer("Body", flags=1))
    assert "frozen" in taken(doc, "Body").problem


def test_a_layer_wins_over_a_handle_of_the_same_name() -> None:
    """Handles are hexadecimal, so a layer may be called like one."""
    body = polyline((0, 0), (3, 0), (0, 3), layer="BED") + polyline((0, 0), (1, 0), (0, 1), more=((5, "BED"),))
    assert area(document(body), "BED").area == 4.5


# -- blocks ----------------------------------------------------------------------------------------
FLAG = polyline((0, 0), (4, 0), (4, 1), layer="0")
"""A triangle of area 2 with its centre of area at (8/3, 1/3), on layer 0."""


@pytest.mark.parametrize(
    ("given", "area_mm2", "centre"),
    [
        ((), 2.0, (100 + 8 / 3, 1 / 3)),
        (((41, 2), (42, 3)), 12.0, (100 + 16 / 3, 1)),
        (((50, 90),), 2.0, (100 - 1 / 3, 8 / 3)),
        (((41, -1),), 2.0, (100 - 8 / 3, 1 / 3)),
        (((41, 2), (50, 90)), 4.0, (100 - 1 / 3, 16 / 3)),
        (((210, 0), (220, 0), (230, -1)), 2.0, (-100 - 8 / 3, 1 / 3)),
        (((210, 0), (220, 0), (230, -1), (50, 90)), 2.0, (-100 + 1 / 3, 8 / 3)),
        (((70, 3), (71, 2), (44, 10), (45, 20)), 12.0, (110 + 8 / 3, 10 + 1 / 3)),
        (((70, 2), (44, 10), (50, 90), (41, 2)), 8.0, (100 - 1 / 3, 5 + 16 / 3)),
    ],
)
def test_an_inserted_block(given: tuple[Pair, ...], area_mm2: float, centre: tuple[float, float]) -> None:
    """Scale, then turn, then place; rows and columns turn but aren't scaled; centres worked out by hand."""
    found = area(document(insert("flag", 100, 0, *given), blocks=block("flag", FLAG)))
    assert found.area == pytest.approx(area_mm2, abs=1e-9)
    assert found.centroid == pytest.approx(centre, abs=1e-9)


@pytest.mark.parametrize("scale", [(1.0, 1.0), (-2.0, 2.0), (1.5, 0.5)])
def test_blocks_against_the_matrices_of_ezdxf(scale: tuple[float, float]) -> None:
    """Nested twice with base points, mirrored, turned, scaled unevenly (so that the inner one is skewed)."""
    doc = Drawing.new("R2010")
    inner = doc.blocks.new("inner", base_point=(3, 1))
    inner.add_lwpolyline([(0, 0), (7, 0), (5, 3), (1, 4)], close=True)
    outer = doc.blocks.new("outer", base_point=(-2, 5))
    refs = [
        outer.add_blockref("inner", (11, 4), dxfattribs={"xscale": 2, "yscale": -1.5, "rotation": 30}),
        outer.add_blockref("inner", (-9, 2), dxfattribs={"xscale": -1, "rotation": 100, "extrusion": (0, 0, -1)}),
    ]
    at = {"xscale": scale[0], "yscale": scale[1], "rotation": -20}
    whole = doc.modelspace().add_blockref("outer", (50, 60), dxfattribs=at).matrix44()
    corners = [Vec3(p) for p in ((0, 0), (7, 0), (5, 3), (1, 4))]
    wanted = [whole.transform(r.matrix44().transform(p)) for r in refs for p in corners]
    doc.header["$INSUNITS"] = 4
    text = io.StringIO()
    doc.write(text)
    read = read_dxf(text.getvalue().encode(), "t.dxf")
    got = [s.p for shape in read.shapes for p in shape.subpaths for s in p.segments]
    assert len(got) == len(wanted) == 8
    assert max(abs(z - complex(w.x, w.y)) for z, w in zip(got, wanted, strict=True)) < 1e-9


def test_layer_zero_of_a_block_is_the_layer_of_its_insertion() -> None:
    """What lies on layer 0 follows the insertion, what lies on another layer stays there (as when exploded)."""
    body = block("part", FLAG + polyline((0, 5), (2, 5), (0, 7), layer="other"))
    doc = document(insert("part", 0, 0, (5, "7A"), layer="mine") + insert("part", 50, 0, layer="off"), blocks=body,
                   layers=layer("off", colour=-7))  # fmt: skip
    assert area(doc, "mine").area == 2
    assert area(doc, "other").area == 4
    assert area(doc, "7A").area == 4
    assert "off" in taken(doc, "off").problem
    assert area(doc, "part").area == pytest.approx(2 + 2 + 2)  # both insertions, less what is off


def test_a_frozen_insertion_hides_all_of_its_block() -> None:
    body = block("part", polyline((0, 5), (2, 5), (0, 7), layer="other"))
    doc = document(insert("part", 0, 0, layer="cold"), blocks=body, layers=layer("cold", flags=1))
    assert 'layer "cold" is frozen' in taken(doc, "other").problem


def test_a_block_that_is_not_there_or_elsewhere_is_told() -> None:
    doc = document(insert("none", 0, 0) + insert("far", 0, 0, layer="b"), blocks=block("far", "", flags=4))
    assert 'the block "none", which isn\'t in the drawing' in fault(doc)
    assert "never fetched" in fault(doc, "b")
    assert "a block that isn't in the drawing is left out (2 times" in messages(doc)
    assert "its scale is zero" in fault(document(insert("f", 0, 0, (41, 0)), blocks=block("f", FLAG)))


def test_a_block_inserted_nowhere_is_named_so() -> None:
    problem = find(document(SQUARE, blocks=block("spare", FLAG)), "spare")
    assert "inserted nowhere" in getattr(problem, "wrong", "")


@pytest.mark.parametrize(
    ("blocks", "why"),
    [
        (block("a", insert("b", 0, 0)) + block("b", insert("a", 0, 0)), '"a" contains a copy of itself'),
        (
            "".join(block(f"b{n}", insert(f"b{n + 1}", 0, 0) * 10) for n in range(8)) + block("b8", FLAG) + block("a", insert("b0", 0, 0)),
            "more than 20000 copies",
        ),
        (block("a", insert("b", 0, 0, (70, 30000), (71, 30000))) + block("b", ""), "more than 20000 copies"),
        ("".join(block(f"n{k}", insert(f"n{k + 1}", 0, 0)) for k in range(70)) + block("a", insert("n0", 0, 0)), "more than 60 deep"),
    ],
)  # fmt: skip
def test_blocks_without_end_are_refused(blocks: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        document(insert("a", 0, 0), blocks=blocks)


# -- what isn't read -------------------------------------------------------------------------------
def test_nothing_is_dropped_in_silence() -> None:
    kinds = {
        "TEXT": "text", "MTEXT": "text", "HATCH": "hatches", "SOLID": "filled patches", "IMAGE": "pictures",
        "DIMENSION": "dimensions", "3DSOLID": "solids", "XLINE": "endless", "MLINE": "multiple lines",
        "ACME_THING": "unknown kind",
    }  # fmt: skip
    for kind, words in kinds.items():
        doc = document(polyline((0, 0), (3, 0), (0, 3)) + thing(kind, (5, "33"), (10, 0), (20, 0)))
        assert words in messages(doc), kind
        assert f'on layer "a"; the first is {kind} 33' in messages(doc)
        assert area(doc).area == 4.5
        assert "which isn't read" in fault(doc, "33")


def test_paper_layouts_attributes_and_points_are_told() -> None:
    body = line(0, 0, 9, 9, (67, 1)) + thing("VIEWPORT", (67, 1), (10, 0)) + thing("POINT", (10, 1), (20, 2))
    tagged = insert("flag", 0, 0, (66, 1)) + thing("ATTRIB", (1, "words")) + thing("SEQEND")
    doc = document(body + tagged, blocks=block("flag", FLAG))
    said = messages(doc)
    assert "stands on a paper layout isn't read (once" in said
    assert "points are read as marks only (once" in said
    assert "text isn't read (once" in said
    assert area(doc).area == 2


# -- recipes ---------------------------------------------------------------------------------------
def recipe(folder: Path, drawing: str, *lines: str) -> Recipe:
    (folder / "t.dxf").write_text(drawing, encoding="utf-8")
    steps = lines or ("steps: {part: {kind: outline, drawn: a}}",)
    (folder / "t.yaml").write_text("\n".join(("design: wren", "drawing: t.dxf", *steps, "")), encoding="utf-8")
    return read_recipe(folder / "t.yaml")


MARKS = (
    thing("POINT", (10, 10), (20, 10), layer="zero")
    + thing("CIRCLE", (10, 10), (20, 30), (40, 1), layer="up")
    + line(10, 18, 10, 22, layer="cross")
    + line(8, 20, 12, 20, layer="cross")
)


def test_a_recipe_reads_a_dxf_in_its_frame(tmp_path: Path) -> None:
    """Origin at a POINT, x toward a circle above it, 20 drawn mm known to be 40: everything turns and grows."""
    body = polyline((10, 10), (20, 10), (20, 40)) + MARKS
    given = "frame: {origin: zero, x_toward: up, known: [{between: [zero, up], is: 40}]}"
    found = read_drawing(recipe(tmp_path, dxf(body, units=0), given, "steps: {part: {kind: outline, drawn: a}}"))
    region = found.objects["a"].region
    assert region is not None
    assert region.area == pytest.approx(150 * 4, abs=1e-9)
    # (10,10), (20,10), (20,40) less the origin, turned by −90°, times 2
    assert region.bounds == pytest.approx((0, -20, 60, 0), abs=1e-9)
    assert found.objects["up"].mark is not None
    assert found.objects["up"].mark.at == pytest.approx((40, 0), abs=1e-9)
    assert found.scale_mm == pytest.approx(2)


def test_a_cross_of_two_lines_on_a_layer_is_a_mark(tmp_path: Path) -> None:
    given = ("frame: {origin: cross}", "steps: {part: {kind: outline, drawn: a}}")
    found = read_drawing(recipe(tmp_path, dxf(SQUARE + MARKS), *given))
    region = found.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((-10, -20, -9, -19))


def test_without_a_frame_zero_is_the_drawings_own(tmp_path: Path) -> None:
    found = read_drawing(recipe(tmp_path, dxf(polyline((-7, 3), (1, 3), (1, 9)), units=5)))
    region = found.objects["a"].region
    assert region is not None
    assert region.bounds == pytest.approx((-70, 30, 10, 90))


def test_a_unit_against_a_known_length_is_asked_about(tmp_path: Path) -> None:
    """Drawn in inches, saved as millimetres: the factor is named."""
    given = "frame: {origin: zero, known: [{between: [zero, up], is: 508}]}"
    found = read_drawing(recipe(tmp_path, dxf(SQUARE + MARKS), given, "steps: {part: {kind: outline, drawn: a}}"))
    (said,) = [f for f in found.findings if f.check == "drawing-scale"]
    assert "25.4 times as large as its unit says" in said.message
    assert "inch" in said.message


def test_all_takes_the_whole_drawing_less_its_marks(tmp_path: Path) -> None:
    body = (
        SQUARE
        + polyline((5, 5), (8, 5), (5, 8), layer="b")
        + thing("CIRCLE", (10, 0), (20, 0), (40, 9), layer="x-mark")
    )
    found = read_drawing(recipe(tmp_path, dxf(body), "steps: {part: {kind: outline, drawn: all}}"))
    assert found.all.region is not None
    assert found.all.region.area == pytest.approx(1 + 4.5)


def test_look_lists_objects_layers_and_blocks(tmp_path: Path) -> None:
    body = polyline((0, 0), (3, 0), (0, 3), more=((5, "2F"),)) + insert("flag", 9, 0, (5, "30"), layer="tools")
    (tmp_path / "d.dxf").write_text(dxf(body, units=1, blocks=block("flag", FLAG)), encoding="utf-8")
    report = look(tmp_path / "d.dxf")
    assert [(r["name"], r["kind"]) for r in look_rows(report)] == [("2F", "LWPOLYLINE"), ("", "LWPOLYLINE")]
    assert look_rows(report)[0]["size_mm"] == pytest.approx([76.2, 76.2])
    text = look_text(report)
    assert "its unit is the inch" in text
    for words in ('group "a" holds 1', 'group "tools" holds 2', 'group "flag" holds 2', 'group "30" holds 2'):
        assert words in text


# -- what is no DXF ---------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"AC1032\x00\x00", "DWG drawing"),
        (b"<svg/>", "isn't a DXF drawing"),
        (b"%PDF-1.7\n", "isn't a DXF drawing"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "isn't a DXF drawing"),
        (b"0\nEOF\n", "has no sections"),
        (dxf(SQUARE).encode()[:-6], "ends before its end mark"),
        (dxf(SQUARE).encode()[:-40], 'ends before its section "ENTITIES" does'),
        ((section("HEADER", "") + pairs((0, "EOF"))).encode(), "no section ENTITIES"),
        (dxf(SQUARE).replace("90\n4", "ninety\n4").encode(), '"ninety" stands where a group code belongs'),
    ],
)
def test_what_is_no_dxf_is_refused_in_a_sentence(data: bytes, why: str) -> None:
    with pytest.raises(Refused) as refused:
        read_dxf(data, "t.dxf")
    assert why in refused.value.show()
    assert refused.value.problems[0].place is not None


def test_binary_files_cut_anywhere_are_refused(tmp_path: Path) -> None:
    mixed("R2010").saveas(tmp_path / "d.dxf", fmt="bin")
    data = (tmp_path / "d.dxf").read_bytes()
    for share in (0.003, 0.1, 0.37, 0.6, 0.99):
        with pytest.raises(Refused, match=r"ends|sections"):
            read_dxf(data[: int(len(data) * share)], "t.dxf")


def test_damaged_files_are_read_or_refused_and_nothing_else(tmp_path: Path) -> None:
    """300 files with a few bytes or lines changed, of both forms: never another error than Refused."""
    text = dxf(
        insert("flag", 1, 2, (70, 2)) + thing("ARC", (10, 0), (20, 0), (40, 3), (50, 0), (51, 90)) + SQUARE,
        blocks=block(
            "flag",
            FLAG
            + thing("SPLINE", (71, 1), (40, 0), (40, 0), (40, 1), (40, 1), (10, 0), (20, 0), (10, 5), (20, 1)),
        ),
        layers=layer("a"),
    )
    mixed("R2000").saveas(tmp_path / "d.dxf", fmt="bin")
    binary = (tmp_path / "d.dxf").read_bytes()
    dice = random.Random(20270314)
    refused = 0
    for n in range(300):
        if n % 3:
            lines = text.splitlines()
            for _ in range(dice.randint(1, 3)):
                k = dice.randrange(len(lines))
                lines[k] = dice.choice(
                    ["", "0", "-1", "1e9", "nan", "ENDSEC", "flag", "210", "70", lines[dice.randrange(len(lines))]]
                )
            data = "\n".join(lines).encode()
        else:
            raw = bytearray(binary)
            for _ in range(dice.randint(1, 30)):
                raw[dice.randrange(len(raw))] = dice.randrange(256)
            data = bytes(raw)
        try:
            for entry in (doc := read_dxf(data, "t.dxf")).entries:
                doc.members(entry.index)
        except Refused:
            refused += 1
    assert 30 < refused < 270


def test_a_file_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.intake.drawing.dxf_groups.MAX_BYTES", 1000)
    with pytest.raises(Refused, match="MB large"):
        read_dxf(dxf(SQUARE * 20).encode(), "t.dxf")


# -- our own files read back -----------------------------------------------------------------------
@pytest.mark.parametrize("flavour", ["R2010", "R12"])
def test_our_own_cut_files_are_drawings_too(flavour: str) -> None:
    """Each closed curve of a cut file comes back with its area and length to 1e-6, under its layer's name."""
    shops = {"router": Shop(dxf=flavour), "laser": factory.laser(dxf=flavour)}  # type: ignore[arg-type]  # by parameter
    files = shop_files(factory.derived(factory.recipe(shops)), (factory.cover_nest(),))
    compared = 0
    for file in files:
        doc = read_dxf(dxf_bytes(file), file.stem)
        assert doc.sized == ("mm" if flavour == "R2010" else "none")
        for on in file.layers:
            entry = find(doc, on.name)
            shapes = [s for s in doc.members(getattr(entry, "index", -1)) if not s.unread]
            assert len(shapes) == len(on.curves)
            for shape, curve in zip(shapes, on.curves, strict=True):
                (path,) = shape.subpaths
                got = as_contour(path)
                if isinstance(curve, Circle):
                    assert got.area == pytest.approx(math.pi * curve.r**2, abs=1e-6)
                    continue
                assert got.closed == curve.closed
                assert got.length == pytest.approx(curve.length, abs=1e-6)
                if curve.closed:
                    assert got.area == pytest.approx(curve.area, abs=1e-6)
                compared += 1
    assert compared >= 10
