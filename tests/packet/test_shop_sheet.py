"""shop-sheet.pdf, read back with a PDF reader that shares no code with the writer."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest
import shapely

from pipeline.core.shop import Cutter, Shop
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.packet.changes import changed_and_same, file_since
from pipeline.packet.shop_files import shop_files
from pipeline.packet.shop_sheet import shop_sheets
from pipeline.packet.shop_sheet_clamps import clamps
from pipeline.packet.shop_sheet_depths import depth_rows
from pipeline.packet.shop_sheet_gauge import gauges, general_tolerance
from pipeline.packet.shop_sheet_seen import Shown, shown
from pipeline.packet.written import Circle
from pipeline.steps.values import Cut, Depth, Derived, Nest, Op, Result, SetUp, WorkLine
from tests.packet import factory as f

MM = 72 / 25.4
ROUTER = {"because": "", "who": "router", "piece": "blank"}
WORK = (
    WorkLine(n=1, work="bore the index holes", face="back", cutter="cutter 6", **ROUTER),
    WorkLine(n=2, work="drill 1 hole", face="back", cutter="drill 5 (not on the shop's list)", **ROUTER),
    WorkLine(n=3, work="cut the outside", face="front", cutter="cutter 8", **ROUTER),
    WorkLine(n=4, work="sand", face="", cutter="", because="", piece="blank"),
)


def nests_of(derived: Derived) -> tuple[Nest, ...]:
    return (f.cover_nest(),) if any(p.name == "cover" for p in derived.pieces) else ()


def sheets(
    derived: Derived | None = None, *, held: bool = False, since: dict[str, str] | None = None
) -> dict[str, bytes]:
    d = derived or f.derived()
    nests = nests_of(d)
    return shop_sheets(d, shop_files(d, nests), nests, WORK, held=held, since=since or {})


def texts(data: bytes) -> list[str]:
    """The words of each page, line ends as blanks."""
    with pdfium.PdfDocument(data) as pdf:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in pdf]


def seen(derived: Derived | None = None) -> dict[str, Shown]:
    d = derived or f.derived()
    nests = nests_of(d)
    return {s.file.stem.split("_", 1)[1]: s for s in shown(d, shop_files(d, nests), nests)}


def with_rules() -> Derived:
    """The factory's design with plan rules: the control cavity keeps its floor, a pocket fits a part."""
    derived = f.derived()
    control, part = solid(rectangle(80, 46, 8, x=20, y=-50)), solid(f.neck_pocket())
    rules = {
        "control": Cut(
            step="control",
            name="control",
            region=control,
            design=control,
            face="back",
            depth=Depth(rule="floor", mm=4.0),
        ),
        "neck_pocket": Cut(
            step="neck_pocket",
            name="neck_pocket",
            region=part,
            design=part,
            face="front",
            depth=Depth(rule="depth", mm=16.0),
            fit="slide",
        ),
    }
    more = {n: Result(step=n, kind="cavity", cuts=(c,)) for n, c in rules.items()}
    return replace(derived, results={**derived.results, **more})


# -- pages -------------------------------------------------------------------------------------------
def test_one_page_a_set_up_and_one_a_sheet() -> None:
    made = sheets()
    assert list(made) == ["router", "laser"]
    router, laser = texts(made["router"]), texts(made["laser"])
    assert [re.search(r"heron-B_\S+", t).group() for t in router] == [  # type: ignore[union-attr]
        "heron-B_blank-1_birch12_x1", "heron-B_blank_x1_back", "heron-B_blank_x1_front",
    ]  # fmt: skip
    assert len(laser) == 1
    assert "BACK LIES UP" in router[1]
    assert "FRONT LIES UP" in router[2]
    assert "Set-up 1 of 2; then turn the work over about the x axis" in router[1]
    assert "sheet 2 of 3" in router[1] or "2 of 3" in router[1]
    assert "cut 1, birch12 A, measured 11.80 thick" in router[0]
    assert "P1 2 × cover 90.00 × 50.00" in laser[0]
    assert "drill 5" in router[1]
    assert "drill 1 hole (not on the shop's list)" in router[1]
    assert "sand" not in re.sub("sanding", "", " ".join(router))


def test_the_title_block_has_the_fields_of_iso_7200() -> None:
    """ISO 7200:2004 (outside_checks D3): mandatory are legal owner, identification number, date of issue, sheet
    number, title, approval person, creator, document type; the block is at most 180 mm wide."""
    page = texts(sheets()["router"])[0]
    for field in ("legal owner", "drawing (file)", "date of issue", "sheet", "title", "approved", "created by",
                  "document type", "revision", "language", "scale", "units"):  # fmt: skip
        assert field in page
    for value in ("Saltmarsh Workshop", "Heron, a travel tenor", "2027-03-14", "AR", "shop sheet"):
        assert value in page


def test_letters_are_tall_enough_and_stand_inside_the_frame() -> None:
    """ISO 3098's 2.5 mm is the height of capitals; ISO 5457's frame leaves 20 mm on the left and 10 elsewhere."""
    long = f.recipe(title="Ω " + "W" * 300 + " <script>", revision="B")
    for data in (*sheets().values(), *sheets(f.derived(long)).values()):
        with pdfium.PdfDocument(data) as pdf:
            for page in pdf:
                text = page.get_textpage()
                for i in range(text.count_chars()):
                    box = text.get_charbox(i)
                    char = chr(raw.FPDFText_GetUnicode(text.raw, i))
                    if not char.strip():
                        continue
                    assert 20 * MM <= box[0] <= box[2] <= 200 * MM
                    assert 10 * MM <= box[1] <= box[3] <= 287 * MM
                    if char in "ABDEFHIKLMNPRTXZ":
                        assert box[3] - box[1] >= 2.5 * MM - 0.02


def test_held_stands_on_every_page_and_on_none_otherwise() -> None:
    for data in sheets(held=True).values():
        for page in texts(data):
            assert "HELD: not released." in page
            assert len(re.findall("HELD", page)) == 2
    assert all("HELD" not in page for data in sheets().values() for page in texts(data))


def test_a_shop_reads_nothing_of_others_and_no_price() -> None:
    made = sheets()
    router, laser = " ".join(texts(made["router"])), " ".join(texts(made["laser"]))
    assert not {"cover", "laser", "ply3"} & set(re.findall(r"[\w-]+", router.lower()))
    assert not {"blank", "blank-1", "birch12", "neck_pocket"} & set(re.findall(r"[\w-]+", laser.lower()))
    for word in ("price", "cost", "€", "$"):
        assert word not in router.lower() + laser.lower()


def test_the_picture_has_the_scale_that_is_said() -> None:
    """The stock is 420 by 280 mm, the index holes 362 mm apart: so large, at the page's scale, are the rectangle
    and the dimension line that the PDF reader finds."""
    with pdfium.PdfDocument(sheets()["router"]) as pdf:
        page = pdf[1]
        said = re.search(r"\b1:([\d.]+)", page.get_textpage().get_text_range())
        assert said is not None
        paths = [o.get_bounds() for o in page.get_objects([raw.FPDF_PAGEOBJ_PATH])]
        sizes = [((b[2] - b[0]) / MM * float(said[1]), (b[3] - b[1]) / MM * float(said[1])) for b in paths]
        line = 0.6 * float(said[1])
        for w, h in ((420.0, 280.0), (362.0, 0.0)):
            assert any(-0.5 <= x - w <= line and -0.5 <= y - h <= line for x, y in sizes)


def test_a_depth_table_that_is_too_long_goes_on_another_sheet() -> None:
    ops = tuple(
        Op(
            work="DRILL",
            face="front",
            contours=(circle(5 * i, 0, 1.0),),
            depth_mm=1 + i / 10,
            diameter_mm=2.0,
            step="many",
        )
        for i in range(90)
    )
    piece = replace(f.lamination(), set_ups=(SetUp(face="front", ops=ops),))
    pages = texts(sheets(f.derived(pieces=(piece,), blanks=()))["router"])
    assert len(pages) > 1
    assert "Depths in mm; hold the ticked one, continued" in pages[1]
    # 11.80 thick: 1.00 deep is 10.80 above the table, 9.90 deep is 1.90.
    both = " ".join(pages)
    assert "1.00 10.80" in both
    assert "9.90 1.90" in both
    assert f"1 of {len(pages)}" in pages[0]


# -- depths ------------------------------------------------------------------------------------------
def test_depths_count_from_the_face_and_heights_from_the_table() -> None:
    """By hand, T = 23.55: a hole 12.00 deep ends 11.55 up; a ramp from 16.00 to 17.885 ends 7.55 to 5.665 up."""
    rows = {r.what: r for s in seen().values() for r in depth_rows(s, f.derived()) if s.file.blank}
    hole = next(r for what, r in rows.items() if "Ø5.00" in what)
    assert (hole.depth, hole.height, hole.governs) == ("12.00", "11.55", "face")
    ramp = rows["sloped pocket neck_pocket"]
    assert (ramp.depth, ramp.height) == ("16.00 to 17.89", "7.55 to 5.67")
    groove = rows["groove 6.00 wide wire"]
    assert (groove.depth, groove.height, groove.governs) == ("5.00", "18.55", "face")
    outside = rows["outside"]
    assert (outside.depth, outside.height, outside.governs) == ("23.55 through", "0.00", "")


def test_the_rule_tells_which_reading_is_held() -> None:
    """`floor` holds what is left, so it is read from the table; `depth` is read from the face (trade notes 2)."""
    derived = with_rules()
    held = {r.what: r.governs for s in seen(derived).values() if s.file.blank for r in depth_rows(s, derived)}
    assert held["pocket control"] == "table"
    assert held["sloped pocket neck_pocket"] == "face"


def test_numbers_stand_where_the_file_has_the_cut() -> None:
    """Seen from the back, the hole at (100, 40) lies at (100, −40); the drawing's own circle says the same."""
    back = seen()["blank_x1_back"]
    row = next(r for r in depth_rows(back, f.derived()) if "Ø5.00" in r.what)
    drawn = next(v for v in back.file.layers if v.ours == "BACK_DRILL_DIA5-00_Z12-00").curves[0]
    assert isinstance(drawn, Circle)
    assert row.places == ((100.0, -40.0),) == ((drawn.x, drawn.y),)


# -- what to gauge -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("size", "off"),
    [(0.5, 0.1), (3, 0.1), (3.01, 0.1), (6, 0.1), (6.01, 0.2), (30, 0.2), (30.01, 0.3), (120, 0.3), (120.01, 0.5),
     (400, 0.5), (400.01, 0.8), (1000, 0.8), (1000.01, 1.2), (2000, 1.2), (2000.01, 2.0), (4000, 2.0)],
)  # fmt: skip
def test_general_tolerances_are_those_of_iso_2768(size: float, off: float) -> None:
    """ISO 2768-1 class m (outside_checks, read): 0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2 over its eight ranges."""
    assert general_tolerance(size) == off


def test_what_is_too_small_has_no_general_tolerance() -> None:
    with pytest.raises(ValueError, match=r"0\.5"):
        general_tolerance(0.49)


def test_three_dimensions_from_the_geometry() -> None:
    """Body W: 332 long; pins at −115 and 247 are 362 apart; the pocket for the neck is 44 wide."""
    derived = with_rules()
    there = seen(derived)
    found = [
        (g.letter, round(g.size_mm, 6), g.plus_minus_mm, g.fit)
        for g in gauges(there["blank-1_birch12_x1"], derived)
    ]
    assert found == [("A", 332.0, 0.5, False), ("B", 362.0, 0.1, True), ("C", 40.0, 0.3, False)]
    front = gauges(there["blank_x1_front"], derived)
    assert [(round(g.size_mm, 6), g.fit) for g in front] == [(332.0, False), (44.0, True), (240.0, False)]
    assert front[1].what == "width of neck_pocket, fit slide"
    # Its ends lie on the pocket's long sides, y = 3 ± 22.
    assert sorted(y for _, y in front[1].ends) == pytest.approx([-19.0, 25.0])


def test_a_turned_pocket_is_measured_across() -> None:
    """A 60 × 20 rectangle turned by 30° is 20 wide, whatever its box."""
    from pipeline.geometry.transform import turn

    c = turn(30).contour(rectangle(60, 20))
    op = Op(work="POCKET", face="front", contours=(c,), depth_mm=5.0, step="slot")
    piece = replace(f.lamination(), set_ups=(SetUp(face="front", ops=(op,)),))
    derived = f.derived(pieces=(piece,), blanks=())
    (only,) = gauges(seen(derived)["blank-1_birch12_x1"], derived)
    assert only.size_mm == pytest.approx(20.0, abs=0.002)
    assert math.dist(*only.ends) == pytest.approx(20.0, abs=0.002)


# -- clamps ------------------------------------------------------------------------------------------
def test_clamps_keep_off_what_the_cutter_sweeps() -> None:
    """Trade notes 8, check 38: the path grown by D/2 + 5; outside a cut that is D + 5 from its line."""
    shop = Shop(cutters=(Cutter(DC=8.0, APMX=32.0, LU=40.0, DMM=8.0),))
    derived = f.derived(f.recipe({"router": shop, "laser": f.laser()}))
    there = seen(derived)
    front = clamps(there["blank_x1_front"], derived)
    assert front is not None
    assert not front.may.is_empty
    body = shapely.Polygon(f.body_w().flatten()[0])
    assert front.may.distance(body) == pytest.approx(13.0, abs=0.3)
    assert front.off_mm == 13.0
    assert shapely.box(-150, -140, 270, 140).buffer(0.2).contains(front.may)
    back = clamps(there["blank_x1_back"], derived)
    assert back is not None
    assert back.may.distance(shapely.Polygon(rectangle(80, 46, 8, x=20, y=50).flatten()[0])) == pytest.approx(
        5, abs=0.3
    )
    assert clamps(there["nest-ply3-A"], derived) is None  # a laser


# -- revisions ---------------------------------------------------------------------------------------
def test_a_sheet_is_unchanged_only_when_all_on_it_is() -> None:
    files = shop_files(f.derived(), (f.cover_nest(),))
    nest = next(v for v in files if v.kind == "nest")
    both: Any = replace(nest, subjects=(("cover", "front"), ("plate", "front")))
    assert file_since(both, {"cover": "A", "plate": "A"}, "B") == "A"
    assert file_since(both, {"cover": "A"}, "B") == "B"
    assert file_since(both, {"cover": "A", "plate": "AA"}, "C") == "C"
    blank = next(v for v in files if v.blank)
    assert file_since(blank, {"blank": "A"}, "B") == "B"
    new, same = changed_and_same(files, {"cover": "A"}, "B")
    assert [v.stem for v in same["A"]] == ["heron-B_nest-ply3-A"]
    assert all(v.kind != "reference" for v in new)
    page = texts(sheets(since={"cover": "A"})["laser"])[0]
    assert "This file is unchanged since A: no need to program it again." in page
    assert "Unchanged since A: nest-ply3-A." in page
