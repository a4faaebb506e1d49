"""Verdicts: body W's oracles, and each row of trade.md 12.3."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.compare.recut import verdicts
from pipeline.compare.state import State
from pipeline.core.verdict import Verdict
from pipeline.intake.made import Made, MadePiece
from tests.compare import factory as f

PINS = (
    "steps:\n",
    "steps:\n  pins: {kind: holes, role: index, at: [[-60, 0], [120, 0]], diameter: [6, 8], through: true}\n",
)
"""Index holes inside of body W."""
CARRIED = ("follow: {bush: 17, cutter: 8}, sheet: mdf", "follow: {bush: 17, cutter: 8}, index: pins, sheet: mdf")


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> State:
    """Body W at revision A: a template round it for bush 17 and cutter 8, one for its control cavity, a stack."""
    home = tmp_path_factory.mktemp("old")
    return f.packet(f.body_w(home / "w"), home / "body-w-A")


def after(
    old: State, tmp_path: Path, edits: f.Edits = (), *names: str, outline: str = "", glued: bool = False
) -> dict[str, Verdict]:
    """What comes of pieces cut from A when the recipe is edited; its letter stays, so labels are no matter."""
    made = f.register(*names, glued={"blank": 36.15} if glued else None)
    return f.judged(old, f.now(f.body_w(tmp_path / "new", edits, outline=outline), Made()), made)


def test_nothing_changed(old: State, tmp_path: Path) -> None:
    found = after(old, tmp_path, (), "bush_guide", "wide_guide", "blank-1", glued=True)
    assert {n: v.what for n, v in found.items()} == {
        "blank": "continue",
        "bush_guide": "good as is",
        "wide_guide": "good as is",
    }  # blank-1 is in the glued blank
    assert not any(v.to_make for v in found.values())


def test_a_smaller_tail_is_trimmed(old: State, tmp_path: Path) -> None:
    """Oracle (i): R 120 → 118. Template trim down, max 2.000; the glued blank continues: 1274.6 mm² come off."""
    found = after(old, tmp_path, (), "bush_guide", "wide_guide", outline=f.hull(118.0), glued=True)
    guide = found["bush_guide"]
    assert guide.what == "trim down"
    assert guide.mm == pytest.approx(2.0, abs=1e-4)
    # The template's edge lies 4.5 inside, so its loss is that of inner parallels, A − 4.5 P + 4.5² π (Steiner).
    lost = f.hull_area() - f.hull_area(118.0) - 4.5 * (f.hull_perimeter() - f.hull_perimeter(118.0))
    assert guide.area_mm2 == pytest.approx(lost, abs=0.05)
    assert found["blank"].what == "continue"
    assert "1274.6 mm² come off its outline, 2.00 mm at most." in found["blank"].remarks
    assert found["wide_guide"].what == "good as is"


def test_a_lamination_in_hand_is_trimmed_too(old: State, tmp_path: Path) -> None:
    """Not glued yet: 1274.6 mm² to remove, 2.000 at most, nothing to add."""
    found = after(old, tmp_path, (), "blank-1", outline=f.hull(118.0))["blank-1"]
    assert (found.what, found.tolerance_mm) == ("trim down", 0.20)
    assert found.mm == pytest.approx(2.0, abs=1e-4)
    assert found.area_mm2 == pytest.approx(f.hull_area() - f.hull_area(118.0), abs=0.05)


def test_a_longer_tip_is_made_again(old: State, tmp_path: Path) -> None:
    """Oracle (ii): x 190 → 192. Template and blank remake, 2.000 outward at the tip, 288.3 mm²."""
    found = after(old, tmp_path, (), "bush_guide", "wide_guide", outline=f.hull(x=192.0), glued=True)
    guide, blank = found["bush_guide"], found["blank"]
    assert guide.what == "remake"
    assert guide.mm == pytest.approx(2.0, abs=1e-4)
    assert guide.at_mm == pytest.approx((229.5, 0.0), abs=0.01)
    assert blank.what == "scrap"
    assert blank.mm == pytest.approx(2.0, abs=0.002)
    assert blank.at_mm == pytest.approx((234.0, 0.0), abs=0.6)
    assert blank.area_mm2 == pytest.approx(f.hull_area(x=192.0) - f.hull_area(), abs=0.3)
    assert (guide.to_make, blank.to_make) == (1, 1)
    assert found["wide_guide"].what == "good as is"


@pytest.mark.parametrize(("allowance", "what"), [(1.0, "scrap"), (2.0, "continue"), (3.0, "continue")])
def test_an_allowance_saves_the_blank(allowance: float, what: str, tmp_path: Path) -> None:
    """The cut edge counts, not the design edge (trade.md 12.3): 2 more at the tip lie in an allowance of 2."""
    edit = ("glue: 0.05,", f"glue: 0.05, allowance: {allowance},")
    old = f.packet(f.body_w(tmp_path / "w", [edit]), tmp_path / "p")
    found = after(old, tmp_path, [edit], outline=f.hull(x=192.0), glued=True)
    assert found["blank"].what == what
    if what == "scrap":
        assert found["blank"].mm == pytest.approx(1.0, abs=0.002)


def test_within_the_tolerance(old: State, tmp_path: Path) -> None:
    """0.07 more at the tip is good as is on a template; 0.15 is good on a rough lamination alone."""
    found = after(old, tmp_path, (), "bush_guide", "blank-1", outline=f.hull(x=190.07))
    assert found["bush_guide"].what == "good as is"
    assert found["bush_guide"].because == "It fits within 0.07 mm."
    found = after(old, tmp_path / "2", (), "bush_guide", "blank-1", outline=f.hull(x=190.15))
    assert (found["bush_guide"].what, found["blank-1"].what) == ("remake", "good as is")


def test_an_opening_is_opened_up_or_made_again(old: State, tmp_path: Path) -> None:
    """Control 80 × 45 → 82 × 45: 1 wider at both ends; → 78 × 45: wood is missing."""
    wider = after(old, tmp_path, [("{rectangle: [80, 45]", "{rectangle: [82, 45]")], "wide_guide")["wide_guide"]
    assert wider.what == "open up"
    assert wider.mm == pytest.approx(1.0, abs=1e-3)
    assert wider.area_mm2 == pytest.approx(2 * (45 + 18), abs=0.1)  # the opening is 9 larger all round
    less = after(old, tmp_path / "2", [("{rectangle: [80, 45]", "{rectangle: [78, 45]")], "wide_guide")[
        "wide_guide"
    ]
    assert less.what == "remake"
    assert less.mm == pytest.approx(1.0, abs=1e-3)


def test_a_small_place_in_mdf_can_be_built_up(tmp_path: Path) -> None:
    """A notch of 12 that is to be closed is local: in MDF it may be filled, in plywood it may not."""
    from pipeline.compare.judge import judged
    from pipeline.compare.state import Line, Thing
    from pipeline.compare.things import compared
    from pipeline.geometry.contour import line_chain

    def plate(notch: bool, sheet: str) -> Thing:
        top = [(56.0, 40.0), (56.0, 36.0), (44.0, 36.0), (44.0, 40.0)] if notch else []
        outside = line_chain([(0, 0), (100, 0), (100, 40), *top, (0, 40)])
        line = Line(work="CUT_OUTSIDE", face="front", contour=outside)
        return Thing(name="plate", blank=False, lines=(line,), role="panel", sheet=sheet, thickness_mm=9)

    empty = State(source="", design="d", variant="", revision="A", things=())
    for sheet, remarks in (("mdf9", 1), ("birch12", 0)):
        found = judged(compared(plate(True, sheet), plate(False, sheet)), empty, empty)
        assert found.what == "remake"
        assert found.mm == pytest.approx(4.0, abs=1e-6)
        assert len(found.remarks) == remarks
    assert (
        "12 mm long: it can be built up with filler"
        in judged(compared(plate(True, "mdf9"), plate(False, "mdf9")), empty, empty).remarks[0]
    )


def test_a_moved_index_hole_asks_for_new_ones(tmp_path: Path) -> None:
    """The shape is good; its index hole went 1.5 along: re-register. Within 0.05 it is the same hole."""
    old = f.packet(f.body_w(tmp_path / "w", [PINS, CARRIED]), tmp_path / "p")
    for by, what in ((1.5, "re-register"), (0.04, "good as is")):
        edit = (PINS[0], PINS[1].replace("[120, 0]", f"[{120 + by}, 0]"))
        found = after(old, tmp_path / f"{by}", [edit, CARRIED], "bush_guide")["bush_guide"]
        assert found.what == what
        if what == "re-register":
            assert found.mm == pytest.approx(by, abs=1e-6)
            assert found.tolerance_mm == 0.05


def test_a_shape_that_went_from_its_index_holes(tmp_path: Path) -> None:
    """The outline drawn 0.4 farther along, the index holes where they were: the shape is good, its place isn't."""
    old = f.packet(f.body_w(tmp_path / "w", [PINS, CARRIED]), tmp_path / "p")
    outline = f.hull(x=190.4, at=20.4)
    found = after(old, tmp_path, [PINS, CARRIED], "bush_guide", outline=outline)["bush_guide"]
    assert found.what == "re-register"
    assert found.mm == pytest.approx(0.4, abs=1e-4)
    assert "+0.40 in x, +0.00 in y from its index holes" in found.because


def test_a_piece_that_lies_elsewhere_is_the_same_piece(old: State, tmp_path: Path) -> None:
    """Control one to the right, and its template, that carries no index holes, with it."""
    found = after(old, tmp_path, [("centre: [-30, -45]", "centre: [-29, -45]")], "wide_guide")["wide_guide"]
    assert found.what == "good as is"
    assert "lies elsewhere" in found.because


def test_other_words_alone(old: State, tmp_path: Path) -> None:
    """The letter on the label, or another pair of follower and cutter with the same offset: re-label."""
    new = f.now(f.body_w(tmp_path / "b", revision="B"), Made())
    found = f.judged(old, new, f.register("bush_guide", "wide_guide"))
    assert {v.what for v in found.values()} == {"re-label"}
    pair = ("follow: {bush: 17, cutter: 8}", "follow: {bush: 21, cutter: 12}")
    found = after(old, tmp_path, [pair], "bush_guide")
    assert found["bush_guide"].what == "re-label"
    assert "followed by 21 with cutter 12 now, and was made for 17 with 8" in found["bush_guide"].because


def test_another_pair_with_another_offset(old: State, tmp_path: Path) -> None:
    """Bush 16 for cutter 8 wants an edge 0.5 farther out than bush 17: the old template can't be used."""
    pair = ("follow: {bush: 17, cutter: 8}", "follow: {bush: 16, cutter: 8}")
    found = after(old, tmp_path, [pair], "bush_guide")["bush_guide"]
    assert found.what == "remake"
    assert found.mm == pytest.approx(0.5, abs=1e-4)


def test_depth_alone_is_a_new_sheet(old: State, tmp_path: Path) -> None:
    """Floor 4 → 3.5: the pocket in lamination 3 is 0.5 deeper; the template's engraved depth is struck out."""
    found = after(old, tmp_path, [("floor: 4", "floor: 3.5")], "wide_guide", "blank-3", "blank-2")
    assert found["wide_guide"].what == "keep, new set-up sheet"
    assert "floor 3.50 now, and was by floor 4.00" in found["wide_guide"].because
    assert found["blank-3"].what == "keep, new set-up sheet"
    assert "was 8.55 deep" in found["blank-3"].because
    assert found["blank-2"].what == "good as is"
    # The other way round the wood is gone: 0.5 of it, more than 0.20.
    less = after(old, tmp_path / "2", [("floor: 4", "floor: 4.5")], "blank-3")["blank-3"]
    assert less.what == "remake"
    assert less.mm == pytest.approx(0.5, abs=1e-9)


def test_a_margin_rules_nothing(old: State, tmp_path: Path) -> None:
    found = after(old, tmp_path, [("margin: 90", "margin: 84")], "wide_guide")["wide_guide"]
    assert found.what == "good as is"
    assert "which nothing follows" in found.remarks[0]


def test_cavities_that_are_cut_already_stand_in_the_way(old: State, tmp_path: Path) -> None:
    """Glued, then control moved 3: it is named in every lamination that it is cut in, with how far it reaches."""
    blank = after(old, tmp_path, [("centre: [-30, -45]", "centre: [-27, -45]")], glued=True)["blank"]
    assert blank.what == "scrap"
    assert blank.mm == pytest.approx(3.0, abs=0.01)
    (way,) = (r for r in blank.remarks if r.startswith("In the way"))
    for words in (
        "control in blank-1",
        "the recess of control in blank-1",
        "control in blank-2",
        "control in blank-3",
    ):
        assert words in way
    assert "blank-4" not in way
    assert "neck" not in way


def test_a_floor_that_is_too_low_already(old: State, tmp_path: Path) -> None:
    """Floor 4 → 4.5 after glue-up: 0.50 of wood are missing below it; 4 → 3.5 is only cut deeper."""
    blank = after(old, tmp_path, [("floor: 4", "floor: 4.5")], glued=True)["blank"]
    assert blank.what == "scrap"
    assert blank.mm == pytest.approx(0.5, abs=1e-3)
    assert "control in blank-3" in blank.remarks[0]
    assert "0.50 mm too deep" in blank.remarks[0]
    assert after(old, tmp_path / "2", [("floor: 4", "floor: 3.5")], glued=True)["blank"].what == "continue"


def test_a_slope_that_is_cut_already(old: State, tmp_path: Path) -> None:
    """The neck pocket is a ramp: 1 deeper continues, 1 less deep is wood that is gone, by 1 at its shallow end."""
    assert after(old, tmp_path, [("depth: 16", "depth: 17")], glued=True)["blank"].what == "continue"
    blank = after(old, tmp_path / "2", [("depth: 16", "depth: 15")], glued=True)["blank"]
    assert blank.what == "scrap"
    assert "neck_pocket in blank-2" in blank.remarks[0]


def test_one_lamination_more(old: State, tmp_path: Path) -> None:
    edit = ("[ply A, ply B, ply C, veneer]", "[veneer, ply A, ply B, ply C, veneer]")
    assert after(old, tmp_path, [edit], glued=True)["blank"].what == "scrap"


def test_what_is_no_longer_there(old: State, tmp_path: Path) -> None:
    """A piece that the design has no more, one under another name, and one from a revision that nobody kept."""
    gone = after(old, tmp_path, [("  wide_guide: ", "  # wide_guide: ")], "wide_guide")["wide_guide"]
    assert gone.what == "not needed"
    named = after(old, tmp_path / "2", [("  wide_guide: ", "  control_guide: ")], "wide_guide")
    assert named["control_guide"].what == "re-label"
    assert "was called wide_guide" in named["control_guide"].because
    lost = f.judged(old, old, f.register("bush_guide", revision="P2"))["bush_guide"]
    assert lost.what == "measure it"
    assert "revision P2 was never issued" in lost.because.replace("Revision", "revision")


# -- what was measured -----------------------------------------------------------------------------
def measured(old: State, new: State, **row: Any) -> Verdict:
    """The verdict on the template round the body, with what was measured on it."""
    made = Made(made=(MadePiece(piece="bush_guide", revision="A", **row),))
    return f.judged(old, new, made)["bush_guide"]


def test_gauged_dimensions_decide(old: State) -> None:
    """Its page asks for A, the length: 323 (332 less 4.5 at both ends). 323.08 is good, 323.3 is trimmed, 322.7 is
    lost; B, the width, likewise."""
    (a, b) = (g for t in old.things if t.name == "bush_guide" for g in t.gauges)
    assert (a.letter, a.kind, b.letter) == ("A", "outside", "B")
    assert (a.size_mm, b.size_mm) == pytest.approx((332 - 9, 240 - 9))
    good = measured(old, old, gauged={"A": 323.08})
    assert good.what == "good as is"
    assert any(
        "A (longest length, as cut) measures 323.08; 323.00 is wanted: within 0.10." in r for r in good.remarks
    )
    large = measured(old, old, gauged={"A": 323.3})
    assert large.what == "trim down"
    assert large.mm == pytest.approx(0.3, abs=1e-5)
    small = measured(old, old, gauged={"A": 323.02, "B": 230.6})
    assert small.what == "remake"
    assert small.mm == pytest.approx(0.4, abs=1e-5)


def test_what_was_measured_counts_against_the_new_drawing(old: State, tmp_path: Path) -> None:
    """The tail is 2 smaller now, so A shall be 321: a template that came out at 323.0 is 2 too long."""
    new = f.now(f.body_w(tmp_path / "n", outline=f.hull(118.0)), Made())
    found = measured(old, new, gauged={"A": 323.0})
    assert found.what == "trim down"
    assert any("321.00 is wanted and 323.00 was" in r for r in (found.because, *found.remarks))


def test_size_thickness_and_condition_are_told(old: State) -> None:
    found = measured(old, old, size=(230.95, 323.02), measured=9.6, condition="a dent at the tail")
    assert found.what == "good as is"
    assert any("width measures 230.95" in r for r in found.remarks)
    assert "It is 9.60 thick as measured, and the files count with 9.00." in found.remarks
    assert "Its condition: a dent at the tail." in found.remarks


def test_a_letter_that_no_page_asks_for(old: State) -> None:
    found = measured(old, old, gauged={"C": 12.0})
    assert found.what == "good as is"
    assert any("C was measured, and no page of revision A asks for it" in r for r in found.remarks)


def test_a_gauged_opening_and_two_holes(tmp_path: Path) -> None:
    """An opening that came out too wide is lost, one too narrow is opened; index holes off by more than 0.05."""
    old = f.packet(f.body_w(tmp_path / "w", [PINS, CARRIED]), tmp_path / "p")
    guide = old.thing("wide_guide")
    assert guide is not None
    opening = next(g for g in guide.gauges if g.kind == "inside")
    for off, what in ((0.2, "remake"), (-0.2, "open up"), (0.05, "good as is")):
        sizes: Any = {opening.letter: opening.size_mm + off}
        row = MadePiece(piece="wide_guide", revision="A", gauged=sizes)
        assert f.judged(old, old, Made(made=(row,)))["wide_guide"].what == what
    bush = old.thing("bush_guide")
    assert bush is not None
    pins = next(g for g in bush.gauges if g.kind == "centres")
    assert pins.size_mm == pytest.approx(180.0)
    for off, what in ((0.06, "re-register"), (0.04, "good as is")):
        sizes = {pins.letter: 180.0 + off}
        row = MadePiece(piece="bush_guide", revision="A", gauged=sizes)
        assert f.judged(old, old, Made(made=(row,)))["bush_guide"].what == what


def test_how_many_are_still_to_make(old: State, tmp_path: Path) -> None:
    """Two in hand of four wanted; one of them from a revision nobody kept doesn't count."""
    new = f.now(f.body_w(tmp_path / "n", [("design: body-w", "design: body-w\nmake: 4")]), Made())
    rows = Made(
        made=(MadePiece(piece="blank-1", revision="A", count=2), MadePiece(piece="blank-1", revision="P1"))
    )
    found = verdicts(new, rows, lambda r: old if r == "A" else "gone")
    assert [v.to_make for v in found] == [2, 2]
