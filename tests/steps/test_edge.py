"""Edges of a stack: where they run, what is skipped, what the bearing meets, and what is told of it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.core.recipe import Sheet, Step
from pipeline.geometry.contour import chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.cavity import Tilt
from pipeline.steps.edge import Bevel, Edge, Scoop, Treatment
from pipeline.steps.fits import Shape
from pipeline.steps.mirror import mirrored
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Blank, Derived, Result, World
from tests.steps.factory import SHEETS, body_w, step, world

THIN = {"thin": Sheet(measured={"A": 10.5}, density=700.0), "veneer": Sheet(measured={"A": 0.6}, density=680.0)}
PLATE = solid(rectangle(200, 100, 20))
W = ("birch12 A", "birch12 B", "birch12 C", "veneer A")
W_EDGE = 885.39796
NECK = step(
    "neck",
    "cavity",
    opening=Shape(rectangle=(60.0, 42.2), corner=6.5),
    centre=(202.0, 0.0),
    depth=16.0,
    tilt=Tilt(angle=2.0, deeper="+x"),
    open="+x",
)


def made(edge: Edge, *steps: Step, outline: Region | None = None, drawn: Any = None, **spec: Any) -> Result:
    """The stack of body W, or of another outline, with these edges."""
    body = step("body", "outline", drawn=("body",))
    given = {"outline": "body", "laminations": W, "glue": 0.05, "edge": edge, **spec}
    w = world(body, *steps, step("blank", "stack", **given), drawn={"body": outline or body_w(), **(drawn or {})})
    recipe = replace(w.recipe, sheets={**SHEETS, **THIN})
    results: dict[str, Result] = {}
    for s in recipe.steps.values():
        results[s.name] = KINDS[s.kind].make(
            s.name, s.spec, World(recipe=recipe, drawing=w.drawing, results=results)
        )
    return results["blank"]


def rounded(radius: float = 6.0, **fields: Any) -> Treatment:
    return Treatment(round=radius, **fields)


def row(result: Result, n: int = 0) -> dict[str, Any]:
    return dict(result.numbers["edge"][n])


def found(result: Result, check: str) -> list[Finding]:
    return [f for f in result.findings if f.check == check]


def blank(result: Result) -> Blank:
    return result.blanks[0]


# -- where it runs ------------------------------------------------------------------------------------
def test_all_round_by_default() -> None:
    result = made(Edge(front=(rounded(),)))
    (run,) = blank(result).edges
    assert (run.face, run.kind, run.size_mm, run.by) == ("front", "round", 6.0, "bit")
    assert run.edge.closed
    assert run.edge.length == pytest.approx(W_EDGE, abs=1e-5)
    # the line where the rounding begins is the parallel: P − 2π·6 (Steiner)
    (line,) = run.lines
    assert line.length == pytest.approx(W_EDGE - 12 * math.pi, abs=1e-5)
    assert row(result)["section_mm"] == [
        [u, pytest.approx(6 - math.sqrt(36 - u * u), abs=1e-12)] for u in (0, 1, 2, 3, 4, 5, 6)
    ]


def test_laminations_stay_full() -> None:
    """The bearing needs the wall: pieces are what they are without edges (trade.md 4.1)."""
    with_edges, without = made(Edge(front=(rounded(),), back=(rounded(),))), made(Edge())
    assert [p.region.area for p in with_edges.pieces] == [p.region.area for p in without.pieces]
    assert with_edges.blanks[0].mass_g == without.blanks[0].mass_g
    assert with_edges.findings == without.findings


def test_skip_leaves_the_mouth_and_the_bearing() -> None:
    """The pocket is 42.2 wide: its corners stand at ±asin(21.1/42) on the tip's circle, 42·φ along the edge; the
    bearing's 6.35 are added. [D]"""
    mouth = 42 * math.asin(21.1 / 42)
    result = made(Edge(front=(rounded(skip=("neck",)),)), NECK, cut=("neck",))
    (skipped,) = row(result)["skipped"]
    assert skipped["because"] == "neck"
    assert skipped["from_mm"] == pytest.approx(W_EDGE - mouth - 6.35, abs=1e-3)
    assert skipped["to_mm"] == pytest.approx(W_EDGE + mouth + 6.35, abs=1e-3)
    (run,) = row(result)["runs"]
    assert run["length_mm"] == pytest.approx(W_EDGE - 2 * mouth - 12.7, abs=2e-3)
    phi = (mouth + 6.35) / 42
    assert run["from_at_mm"] == pytest.approx([190 + 42 * math.cos(phi), 42 * math.sin(phi)], abs=1e-3)
    assert found(result, "edge-mouth") == []
    assert not blank(result).edges[0].edge.closed


def test_a_mouth_that_is_not_skipped_is_told() -> None:
    result = made(Edge(front=(rounded(),)), NECK, cut=("neck",))
    (f,) = found(result, "edge-mouth")
    assert f.severity == "ask"
    assert "skip: [neck]" in f.remedy
    (mouth,) = row(result)["mouths"]
    assert mouth["mouth_mm"][1] - mouth["mouth_mm"][0] == pytest.approx(2 * 42 * math.asin(21.1 / 42), abs=1e-3)
    assert mouth["dip_mm"] == 6.35  # wider than the bearing: it falls in


def test_a_mouth_above_the_bearing_is_none() -> None:
    """From the back, 36.15 thick: the bearing runs at z 6 … 11; the pocket's floor lies at z 18."""
    assert found(made(Edge(back=(rounded(),)), NECK, cut=("neck",)), "edge-mouth") == []


def test_along_and_between_name_the_same_stretch() -> None:
    """On a plate of 200 × 100 the right side runs from s = 0 at (100, −30)."""
    along = made(Edge(front=(rounded(along=(10, 40)),)), outline=PLATE)
    between = made(Edge(front=(rounded(between=((110.0, -20.0), (110.0, 10.0))),)), outline=PLATE)
    for result in (along, between):
        (run,) = row(result)["runs"]
        assert (run["from_mm"], run["to_mm"]) == pytest.approx((10, 40))
        assert run["from_at_mm"] == pytest.approx([100, -20])
        assert run["to_at_mm"] == pytest.approx([100, 10])
    (back,) = row(made(Edge(front=(rounded(along=(40, 10)),)), outline=PLATE))["runs"]
    assert back["length_mm"] == pytest.approx(2 * 160 + 2 * 60 + 40 * math.pi - 30, abs=1e-6)


# -- the wall, the bearing, ridges ---------------------------------------------------------------------
def test_no_wall_for_the_bearing_is_a_stop() -> None:
    """trade.md 4.1 [D]: 10.5 thick, r 4 both: 2.5 < 5, at most r 2.7; told once."""
    result = made(Edge(front=(rounded(4.0),), back=(rounded(4.0),)), laminations=("thin",))
    (f,) = found(result, "edge-wall")
    assert (f.severity, f.measured, f.limit, f.face) == ("stop", 2.5, 5.0, "back")
    for words in ("round both edges by 2.7 at most", "offcut taped back on", "table with a fence", "rasp"):
        assert words in f.remedy
    assert row(result)["wall_left_mm"] == 2.5
    fine = made(Edge(front=(rounded(2.7),), back=(rounded(2.7),)), laminations=("thin",))
    assert found(fine, "edge-wall") == []


def test_the_wall_counts_only_where_both_edges_are_rounded() -> None:
    apart = Edge(front=(rounded(4.0, along=(10, 100)),), back=(rounded(4.0, along=(120, 200)),))
    assert found(made(apart, laminations=("thin",)), "edge-wall") == []
    by_hand = Edge(front=(rounded(4.0),), back=(rounded(4.0, by="hand"),))
    (f,) = found(made(by_hand, laminations=("thin",)), "edge-wall")
    assert f.face == "front"
    one = made(Edge(front=(rounded(6.0),)), laminations=("thin",))
    (f,) = found(one, "edge-wall")
    assert (f.measured, "round it by 5.5 at most" in f.remedy) == (4.5, True)


def test_a_bevel_takes_the_wall_too() -> None:
    bevel = Treatment(bevel=Bevel(shape="even", run=10.0, drop=3.0))
    (f,) = found(made(Edge(front=(bevel,), back=(rounded(4.0),)), laminations=("thin",)), "edge-wall")
    assert f.measured == pytest.approx(10.5 - 4 - 3)


def test_concave_curves_that_the_bearing_bridges() -> None:
    """An L with an inner fillet of 4: bearing 12.7 leaves (6.35 − 4)(√2 − 1) = 0.973 at its middle. [D]"""
    quarter = math.tan(math.pi / 8)
    shape = solid(
        chain(
            [(-80, -80), (80, -80), (80, 0), (4, 0), (0, 4), (0, 80), (-80, 80)],
            [0, 0, 0, -quarter, 0, 0, 0],
        )
    )
    result = made(Edge(front=(rounded(3.0),)), outline=shape)
    (f,) = found(result, "edge-concave")
    assert (f.severity, f.limit) == ("ask", 6.35)
    assert f.measured == pytest.approx(4.0)
    assert "bearing of 8 or less" in f.remedy
    (bridged,) = row(result)["bridged"]
    assert bridged["depth_mm"] == pytest.approx(2.35 * (math.sqrt(2) - 1), abs=2e-3)
    middle = 4 - 4 / math.sqrt(2)
    assert bridged["at_mm"] == pytest.approx([middle, middle], abs=0.05)
    small = made(Edge(front=(rounded(3.0, bearing=8.0),)), outline=shape)
    assert found(small, "edge-concave") == []


def test_a_tip_tighter_than_the_rounding_makes_a_ridge() -> None:
    result = made(Edge(front=(rounded(6.0),)), outline=solid(rectangle(200, 100, 4)))
    (f,) = found(result, "edge-ridge")
    assert (f.severity, f.limit) == ("ask", 6.0)
    assert f.measured == pytest.approx(4.0)
    # the section has come in by 4 at √(36 − 4) above its beginning
    assert f"{math.sqrt(32):.2f}" in f.message
    assert len(row(result)["ridges_at_mm"]) == 4
    sharp = made(Edge(front=(rounded(6.0, along=(10, 90)),)), outline=solid(rectangle(200, 100, 4)))
    assert found(sharp, "edge-ridge") == []


# -- what is taken off ---------------------------------------------------------------------------------
def test_removed_by_pappus() -> None:
    """A cylinder of radius 50: the torus-like rest by Pappus: A·2π(R − n̄) with A = r²(1 − π/4) and
    n̄ = r(5/6 − π/4)·… = ∫n²/2 / ∫n; densities of birch12 (680): all of the rounding lies in it."""
    from pipeline.geometry.shapes import circle

    r, big = 6.0, 50.0
    section, square = r * r * (1 - math.pi / 4), r**3 * (5 / 3 - math.pi / 2)
    wanted = section * 2 * math.pi * (big - square / (2 * section))
    result = made(Edge(back=(rounded(r),)), outline=solid(circle(0, 0, big)))
    assert row(result)["removed_mm3"] == pytest.approx(wanted, rel=1e-9)
    assert row(result)["removed_g"] == pytest.approx(wanted * 680e-6, rel=1e-9)
    assert row(result)["removed_exact"] is True
    ridge = made(Edge(back=(rounded(r),)), outline=solid(rectangle(200, 100, 4)))
    assert row(ridge)["removed_exact"] is False


# -- drawn, never cut ----------------------------------------------------------------------------------
def test_lines_stand_in_the_set_ups_that_there_are() -> None:
    result = made(Edge(front=(rounded(skip=("neck",)),), back=(rounded(),)), NECK, cut_blank=("neck",))
    (set_up,) = blank(result).set_ups  # the back has no work, so it gets none for its line
    assert set_up.face == "front"
    lines = [o for o in set_up.ops if o.work == "REFERENCE" and o.step == "blank"]
    assert [len(o.contours) for o in lines] == [1]
    assert not lines[0].contours[0].closed
    assert made(Edge(front=(rounded(),))).blanks[0].set_ups == ()


def test_mirrored_runs_are_mirrored() -> None:
    w = world(step("body", "outline", drawn=("body",)), drawn={"body": PLATE})
    result = made(Edge(front=(rounded(along=(10, 40)),)), outline=PLATE)
    there = mirrored(Derived(recipe=w.recipe, drawing=w.drawing, order=(), results={"blank": result}))
    (before,), (after,) = blank(result).edges, there.blanks[0].edges
    assert after.edge.xy[:, 1].tolist() == (-before.edge.xy[:, 1]).tolist()
    assert after.lines[0].xy[:, 1].tolist() == (-before.lines[0].xy[:, 1]).tolist()
    run = there.results["blank"].numbers["edge"][0]["runs"][0]
    assert run["to_at_mm"] == pytest.approx([100, -10])
    assert run["from_mm"] == 10


# -- what is refused -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("treatment", "words"),
    [
        (Treatment(), "doesn't say what is done"),
        (Treatment(round=3.0, scoop=Scoop(depth=3, radius=50)), "at once"),
        (rounded(along=(0, 10), between=((0.0, 0.0), (1.0, 1.0))), "both `between` and `along`"),
        (rounded(along=(10, 10)), "begins where it ends"),
        (Treatment(bevel=Bevel(shape="even", drop=3.0)), "needs its `run`"),
        (Treatment(bevel=Bevel(shape="plane", drop=3.0)), "either its `run` or its inner `line`"),
        (Treatment(bevel=Bevel(shape="plane", run=20.0, drop=3.0)), "needs a stretch"),
        (Treatment(bevel=Bevel(shape="plane", run=20.0, drop=3.0, fade=9.0), along=(0, 90)), "can't fade"),
        (Treatment(scoop=Scoop(depth=11, radius=150)), "needs a stretch"),
        (Treatment(scoop=Scoop(depth=11, radius=10), along=(0, 90)), "can't be 11 deep"),
    ],
)
def test_refused_with_words(treatment: Treatment, words: str) -> None:
    with pytest.raises(Refused) as refused:
        made(Edge(front=(treatment,)), outline=PLATE)
    assert words in str(refused.value)
