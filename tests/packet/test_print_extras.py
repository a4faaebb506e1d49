"""Strips, gauges, contours and sizes for the hand: measured on the paper."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import rectangle
from pipeline.packet.print_contours import contour_scenes
from pipeline.packet.print_extras import HAND_MM, loose_prints
from pipeline.packet.print_how import EXTRAS, how_asked
from pipeline.packet.print_pdf import write_prints
from pipeline.packet.print_strip import strip_things
from pipeline.steps.values import Derived, Lamination, Result
from tests.packet import factory as f
from tests.packet.pages import lines, size, words
from tests.packet.printed import design, squares

ROOT = Path(__file__).parents[2]


def sheets(data: bytes) -> list[pdfium.PdfPage]:
    """The pages; they keep their document open."""
    return list(pdfium.PdfDocument(data))


def loose(derived: Derived, asked: str, **more: object) -> dict[str, bytes]:
    how = how_asked(also=asked, **more)  # type: ignore[arg-type]  # as the command line gives them
    return {word: data for word, _, data in loose_prints(derived, how)}


# -- the strip of the edge --------------------------------------------------------------------------
def body_w_perimeter() -> float:
    """Two tangents and two arcs: circles R 120 and R 42, 170 apart (trade.md's body W)."""
    a = math.acos((120 - 42) / 170)
    return 2 * math.sqrt(170**2 - (120 - 42) ** 2) + 2 * 42 * a + 2 * 120 * (math.pi - a)


def test_the_strip_is_as_long_as_the_outline_and_as_high_as_it_is_thick() -> None:
    """Its pieces' boxes, measured on the paper, add up to body W's perimeter in closed form."""
    data = loose(design(), "strip", thickness_mm=36.0)["_strip"]
    long = 0.0
    for page in sheets(data):
        for line in lines(page):
            x0, y0, x1, y1 = line.box
            full = not line.dashes and len(line.points) >= 4 and not line.filled
            if full and abs(y1 - y0 - 36.0) < 0.02 and x1 - x0 > 40:
                long += x1 - x0
    assert long == pytest.approx(body_w_perimeter(), abs=0.05)


def test_the_strip_has_a_tick_and_a_number_every_50() -> None:
    data = loose(design(), "strip", thickness_mm=36.0)["_strip"]
    numbers = sorted(int(w.text) for p in sheets(data) for w in words(p) if w.text.isdigit())
    assert numbers == list(range(0, math.floor(body_w_perimeter()) + 1, 50))


def test_corners_and_centreline_of_a_rectangle() -> None:
    """300 x 120 about (0, 0): zero at the lower right corner, corners at 0, 120, 420 and 540, the centreline at 60
    and 480."""
    base = design()
    region = solid(rectangle(300.0, 120.0))
    box = replace(base, results={**base.results, "body": replace(base.results["body"], region=region)})
    things = strip_things(box, "body", how_asked(thickness_mm=30.0), 5000.0)
    (thing,) = things
    texts = [w.text for w in thing.words]
    assert [t for t in texts if t.startswith("corner")] == [
        "corner 0.0",
        "corner 120.0",
        "corner 420.0",
        "corner 540.0",
    ]
    assert [t for t in texts if t.startswith("centreline")] == ["centreline 60.0", "centreline 480.0"]
    assert thing.size[0] == pytest.approx(840.0 + 12.0)


def test_glue_lines_stand_on_the_strip_at_their_heights() -> None:
    """A blank of three sheets 12, 11.8 and 11.7 with glue lines of 0.1: tops at 12.00 and 23.90."""
    base = design()
    blank = replace(
        f.blank(),
        thickness_mm=35.7,
        laminations=tuple(
            Lamination(number=n, sheet="birch12", letter="A", z0=a, z1=b, piece=f"blank-{n}")
            for n, a, b in ((1, 0.0, 12.0), (2, 12.1, 23.9), (3, 24.0, 35.7))
        ),
    )
    spec = type("Spec", (), {"outline": "body"})()
    steps = {**base.recipe.steps, "blank": replace(base.recipe.steps["blank"], spec=spec)}
    made = replace(
        base,
        recipe=replace(base.recipe, steps=steps),
        results={**base.results, "blank": Result(step="blank", kind="stack", blanks=(blank,))},
    )
    data = loose(made, "strip")["_strip"]
    found: set[float] = set()
    for page in sheets(data):
        every = [v for v in lines(page) if not v.filled]
        outer = [
            v.box for v in every if not v.dashes and abs(v.box[3] - v.box[1] - 35.7) < 0.02 and len(v.points) > 3
        ]
        dashed = [v.box for v in every if v.dashes and v.box[3] - v.box[1] < 0.01 and v.box[2] - v.box[0] > 40]
        for box in outer:
            found |= {
                round(d[1] - box[1], 1) for d in dashed if abs(d[0] - box[0]) < 0.1 and box[1] < d[1] < box[3]
            }
    assert found == {12.0, 23.9}


def test_a_strip_needs_a_thickness() -> None:
    with pytest.raises(Refused) as told:
        loose(design(), "strip")
    assert "--thickness" in told.value.show()


# -- gauges, hand, leg ------------------------------------------------------------------------------
def gauges(count: int) -> Derived:
    base = design()
    plate = replace(f.lamination(), role="gauge", set_ups=())
    plates = tuple(
        replace(plate, name=f"gauge-{n}", region=solid(rectangle(60.0 + n / 10, 40.0)))
        for n in range(1, count + 1)
    )
    return replace(base, results={**base.results, "section": Result(step="section", kind="gauges", pieces=plates)})


def test_all_gauges_on_as_few_pages_as_hold_them_full_size() -> None:
    """Plates of at most 61.6 x 40 on 281 x 194: four abreast (258) and four high (172) are 16, and the check
    square takes no sheet of its own: with 10 it stands on theirs, with 16 it is left to the rules."""
    for count, with_square in ((4, 1), (10, 1), (16, 0)):
        pages = sheets(loose(gauges(count), "gauges")["_gauges"])
        assert len(pages) == 1
        assert len(squares(pages[0])) == with_square
        found = sorted(
            round(max(v.box[2] - v.box[0], v.box[3] - v.box[1]), 2)
            for v in lines(pages[0])
            if len(v.points) >= 4 and abs(min(v.box[2] - v.box[0], v.box[3] - v.box[1]) - 40.0) < 0.02
        )
        assert found == pytest.approx([60.0 + n / 10 for n in range(1, count + 1)], abs=0.02)
        texts = " ".join(w.text for w in words(pages[0]))
        assert "print at 100 %, no scaling" in texts
        assert "revision B" in texts


def test_a_gauge_too_large_for_the_paper_is_refused() -> None:
    base = gauges(1)
    (plate,) = base.results["section"].pieces
    large = replace(plate, region=solid(rectangle(400.0, 220.0)))
    big = replace(
        base, results={**base.results, "section": Result(step="section", kind="gauges", pieces=(large,))}
    )
    with pytest.raises(Refused) as told:
        loose(big, "gauges")
    assert "gauge-1 is 400 x 220 mm" in told.value.show()
    assert loose(big, "gauges", paper="A2")


def test_the_hand_is_190_by_85() -> None:
    """trade.md 11. Turned on the page or not; and it is one closed line."""
    (page,) = sheets(loose(design(), "hand")["_hand"])
    boxes = [v.box for v in lines(page) if len(v.points) > 50]
    ((x0, y0, x1, y1),) = boxes
    assert sorted((x1 - x0, y1 - y0)) == pytest.approx(sorted(HAND_MM), abs=0.02)


def test_every_extra_is_the_same_bytes_twice() -> None:
    made = gauges(5)
    assert loose(made, "strip,gauges,hand,leg", thickness_mm=30.0) == loose(
        gauges(5), "strip,gauges,hand,leg", thickness_mm=30.0
    )


# -- contours ---------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def curlew() -> Derived:
    from pipeline.verbs import _derived

    return _derived(ROOT / "configs/recipes/curlew.yaml")


def test_glue_lines_come_to_the_surface_where_the_bevel_is_as_deep(curlew: Derived) -> None:
    """An even bevel of run w and drop h has the depth d at w (1 − d/h) inside the outline: every point of a glue
    line's contour lies so far in, by GEOS's own distance."""
    (scene,) = contour_scenes(curlew)
    (blank,) = curlew.blanks
    row = next(r for r in curlew.results["blank"].numbers["edge"] if r["kind"] == "bevel")
    rim = blank.region.polygon.boundary
    wanted = {}
    for lam in blank.laminations[:-1]:
        depth = blank.thickness_mm - lam.z1
        if depth < row["drop_mm"]:
            wanted[f"glue line z {lam.z1:.2f}"] = row["run_mm"] * (1 - depth / row["drop_mm"])
    found = {s.label: s for s in scene.strokes if s.style == "carve"}
    assert set(found) == set(wanted)
    assert wanted
    for label, inset in wanted.items():
        points, _ = found[label].contour.flatten(0.05)
        away = shapely.distance(rim, shapely.points(points))
        assert np.abs(away - inset).max() < 0.02


def test_a_print_with_all_extras_leaves_out_what_there_is_not(tmp_path: Path) -> None:
    """Body W has no stack and no gauges: of `all`, hand and leg remain; asked for by name, they are refused."""
    made = write_prints(tmp_path, design(), how_asked(also="all"))
    assert made == ("print/heron-B_body_A4.pdf", "print/heron-B_A4_hand.pdf", "print/heron-B_A4_leg.pdf")
    for extra in ("contours", "gauges"):
        with pytest.raises(Refused):
            write_prints(tmp_path, design(), how_asked(also=extra))
    assert set(EXTRAS) == {"strip", "contours", "gauges", "hand", "leg"}


# -- what the command line asks ---------------------------------------------------------------------
@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"paper": "A9"}, "no paper called"),
        ({"also": "strips"}, "no extra print called"),
        ({"measured": "199.2"}, "can't be read"),
        ({"measured": "a,b"}, "can't be read"),
        ({"measured": "150,200"}, "no printer is so far off"),
        ({"measured": "nan,200"}, "no printer is so far off"),
        ({"thickness_mm": 0.0}, "can't be printed as a strip"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(asked: dict[str, object], said: str) -> None:
    with pytest.raises(Refused) as told:
        how_asked(**asked)  # type: ignore[arg-type]  # as the command line gives them
    assert said in told.value.show()


def test_loose_things_keep_their_size_on_a_corrected_print() -> None:
    data = loose(design(), "leg", measured="199.2,200.4")["_leg"]
    (page,) = sheets(data)
    assert sorted(size(page)) == pytest.approx([210, 297], abs=0.01)
    (circle,) = [v.box for v in lines(page) if len(v.points) > 50]
    assert circle[2] - circle[0] == pytest.approx(160 * 200 / 199.2, abs=0.02)
    assert circle[3] - circle[1] == pytest.approx(160 * 200 / 200.4, abs=0.02)
