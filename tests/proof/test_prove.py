"""The proof passes what the writers write, whatever the shop asks for, and nothing else."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.core.shop import Shop
from pipeline.geometry.contour import chain, line_chain
from pipeline.geometry.shapes import circle, rectangle
from pipeline.steps.values import Label
from tests.packet import factory
from tests.proof.packets import BACK, FRONT, LAMINATION, NEST, REFERENCE, Packet, egg, heron, plate, single


# -- what is right ---------------------------------------------------------------------------------
def test_a_packet_as_written_is_proved(tmp_path: Path) -> None:
    """Lines and arcs come back as they are, to the rounding of the sixth decimal."""
    proof = heron(tmp_path).read()
    assert proof.findings == ()
    assert proof.ok
    assert 0.0 < proof.worst_mm < 2e-6
    assert proof.where is not None
    assert (tmp_path / proof.where.file).is_file()


def test_a_free_form_outline_is_measured_within_the_tolerance(tmp_path: Path) -> None:
    """Few arcs stand for 4000 fine ones; they lie within the 0.005 mm that the recipe allows, and not at zero."""
    proof = single(tmp_path, plate("egg", egg(), circle(10, 5, 20).reversed())).read()
    assert proof.findings == ()
    assert 1e-5 < proof.worst_mm <= 0.005


@pytest.mark.parametrize("datum", ["frame", "corner", "pin"])
@pytest.mark.parametrize("turn_over", ["x", "y"])
@pytest.mark.parametrize("dxf", ["R2010", "R12"])
def test_every_zero_axis_and_flavour(tmp_path: Path, datum: Any, turn_over: Any, dxf: Any) -> None:
    shops = {"router": Shop(datum=datum, dxf=dxf), "laser": factory.laser(datum=datum, dxf=dxf)}
    assert heron(tmp_path, factory.recipe(shops, turn_over=turn_over)).texts() == []


def test_a_laser_that_wants_pieces(tmp_path: Path) -> None:
    shops = {"router": Shop(), "laser": factory.laser(wants="pieces")}
    packet = heron(tmp_path, factory.recipe(shops))
    assert (tmp_path / "shops/laser/heron-B_cover_ply3_x2_reference.dxf").is_file()
    assert packet.texts() == []


def test_the_shops_own_layer_names(tmp_path: Path) -> None:
    """Whole names, names without their numbers and works; two of ours may be one of theirs."""
    own = {"FRONT_CUT_OUTSIDE": "AROUND", "BACK_POCKET": "SUNK", "DRILL": "BORE", "STOCK": "AIR", "INDEX": "AIR"}
    shops = {"router": Shop(layers=own), "laser": factory.laser()}
    assert heron(tmp_path, factory.recipe(shops)).texts() == []


def test_kerf_in_the_lines(tmp_path: Path) -> None:
    """Half the kerf outside outer lines and inside openings, for both straight and free-form edges."""
    laser = factory.laser(compensation="kerf", wants="pieces", kerf=0.2)
    shops = {"router": Shop(), "laser": laser}
    eggs = plate("egg", egg(), rectangle(40, 20, x=5, y=3).reversed(), shop="laser")
    packet = Packet(tmp_path, factory.derived(factory.recipe(shops), pieces=(eggs, factory.cover(2)), blanks=()))
    assert packet.texts() == []
    undone = {**shops, "laser": replace(laser, compensation="none")}
    asked = factory.derived(factory.recipe(undone), pieces=(eggs, factory.cover(2)), blanks=())
    off = Packet(tmp_path / "b", asked)
    off.derived = packet.derived
    said = off.texts("off the design")
    assert len(said) >= 3
    away = [float(re.search(r"is ([0-9.]+) mm off", s)[1]) for s in said]  # type: ignore[index]  # all match
    assert all(0.095 <= a <= 0.105 for a in away)


def test_labels_on_mirrored_and_turned_work(tmp_path: Path) -> None:
    """Engraved and plain words at odd turns on a back set-up, centred and not, read the right way round."""
    labels = tuple(
        Label(text=f"Ab 1/{turn}", at=(x, 20.0), height_mm=4.0, turn_deg=turn, engrave=engrave, centred=centred)
        for x, turn, engrave, centred in (
            (-60.0, 0.0, True, False),
            (0.0, 90.0, True, True),
            (40.0, 135.0, False, False),
            (80.0, 200.0, False, True),
        )
    )  # fmt: skip
    piece = plate("sign", rectangle(300, 200, 10), labels=labels)
    set_up = replace(
        piece.set_ups[0], face="back", ops=tuple(replace(o, face="back") for o in piece.set_ups[0].ops)
    )
    for axis in ("x", "y"):
        made = factory.derived(
            factory.recipe(turn_over=axis), pieces=(replace(piece, set_ups=(set_up,)),), blanks=()
        )
        assert Packet(tmp_path / axis, made).texts() == []


# -- written otherwise, but the same ---------------------------------------------------------------
def test_numbers_written_otherwise(tmp_path: Path) -> None:
    """1.0 as 1.000000000E+00 is the same number; Windows line ends are line ends."""
    packet = heron(tmp_path)

    def change(text: str) -> str:
        lines = text.split("\n")
        for i in range(0, len(lines) - 1, 2):
            if lines[i].strip() in ("10", "20", "40", "42") and "." in lines[i + 1]:
                lines[i + 1] = f"{float(lines[i + 1]):.15E}"
        return "\r\n".join(lines)

    for name in (LAMINATION, BACK, FRONT, NEST, REFERENCE):
        packet.text(name, change)
    assert packet.texts() == []


def test_other_order_start_and_direction(tmp_path: Path) -> None:
    """Entities in reverse order, polylines from another vertex and the other way round are the same drawing."""
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        for line in space.query("LWPOLYLINE"):
            rows = np.array(line.get_points("xyb"))
            if line.closed:
                rows = np.roll(rows, -(len(rows) // 2), axis=0)
                back = rows[::-1].copy()
                back[:, 2] = -np.roll(rows[::-1, 2], -1)
                line.set_points(back.tolist(), format="xyb")
        handles = [(e.dxf.handle, h) for e, h in zip(space, [e.dxf.handle for e in space][::-1], strict=True)]
        space.set_redraw_order(handles)
        space.entity_space.entities.reverse()

    packet.drawn(BACK, change)
    packet.drawn(FRONT, change)
    assert packet.texts() == []


def test_the_archive_is_read_and_not_compared_by_bytes(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    shop = tmp_path / "shops/router"

    def archive(change: Any) -> None:
        with zipfile.ZipFile(tmp_path / "shops/router.zip", "w") as z:
            for path in sorted(shop.iterdir()):
                z.writestr(path.name, change(path.name, path.read_text(encoding="utf-8")))

    archive(lambda name, text: text.replace("\n", "\r\n"))
    assert packet.texts() == []
    archive(lambda name, text: text.replace("FRONT_RAMP_Z16-00", "FRONT_RAMP_Z15-00"))
    assert packet.texts("router.zip/heron-B_blank_x1_front.dxf: FRONT_RAMP_Z15-00_Z17-89 doesn't say")
    (shop / "heron-B_blank_x1_front.dxf").rename(tmp_path / "aside.dxf")
    archive(lambda name, text: text)
    assert packet.texts("The archive lacks heron-B_blank_x1_front.dxf")


# -- spoiled ---------------------------------------------------------------------------------------
def only(packet: Packet, part: str) -> str:
    """The one message that tells of it; everything the proof says is a stop."""
    found = packet.read().findings
    assert all(f.severity == "stop" and f.check == "proof" and f.place for f in found)
    texts = [f.message for f in found if part in f.message]
    assert texts, [f.message for f in found]
    return texts[0]


def by_layer(space: Any, layer: str) -> list[Any]:
    return list(space.query(f"*[layer=='{layer}']"))


def test_a_vertex_moved_by_two_hundredths(tmp_path: Path) -> None:
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        (line,) = by_layer(space, "FRONT_CUT_OUTSIDE")
        rows = [list(r) for r in line.get_points("xyb")]
        x, y = rows[0][0] - 20, rows[0][1]  # on the large circle about (20, 0): outward, square to line and arc
        rows[0][0] += 0.02 * x / np.hypot(x, y)
        rows[0][1] += 0.02 * y / np.hypot(x, y)
        line.set_points(rows, format="xyb")

    packet.drawn(LAMINATION, change)
    proof = packet.read()
    assert [f.step for f in proof.findings if "off the design's" in f.message] == ["blank"]
    assert proof.worst_mm == pytest.approx(0.02, rel=0.1)  # the arc of the same bulge swells a little, too
    assert proof.where is not None
    assert proof.where.file == LAMINATION


def test_a_vertex_moved_less_than_the_tolerance_passes(tmp_path: Path) -> None:
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        (hole,) = [e for e in by_layer(space, "FRONT_CUT_INSIDE") if e.dxftype() == "CIRCLE"]
        hole.dxf.radius += 0.004

    packet.drawn(LAMINATION, change)
    proof = packet.read()
    assert proof.findings == ()
    assert proof.worst_mm == pytest.approx(0.004, abs=1e-6)


def test_a_layer_on_the_wrong_face(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    packet.text(BACK, lambda t: t.replace("BACK_POCKET_Z32-15", "FRONT_POCKET_Z32-15"))
    assert "stands on the front; the design cuts this from the back (BACK_POCKET_Z32-15)" in only(
        packet, "stands on"
    )


def test_a_wrong_depth_in_a_layer_name(tmp_path: Path) -> None:
    """32.145 rounds half up to 32.15; 32.14 would be half to even."""
    packet = heron(tmp_path)
    packet.text(BACK, lambda t: t.replace("BACK_POCKET_Z32-15", "BACK_POCKET_Z32-14"))
    assert "32.14 deep, not 32.15 deep" in only(packet, "doesn't say what the design says")


def test_a_missing_hole(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    packet.drawn(LAMINATION, lambda s: s.delete_entity(by_layer(s, "FRONT_CUT_INSIDE")[0]))
    assert "The layer FRONT_CUT_INSIDE is missing, with 1 contours." in only(packet, "missing")
    assert "is cut in none of its set-ups" in only(packet, "An edge of blank-1")


def test_a_contour_drawn_twice(tmp_path: Path) -> None:
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        (line,) = by_layer(space, "FRONT_CUT_OUTSIDE")
        space.add_lwpolyline(line.get_points("xyb"), "xyb", close=True, dxfattribs={"layer": line.dxf.layer})

    packet.drawn(LAMINATION, change)
    assert "drawn twice" in only(packet, "On FRONT_CUT_OUTSIDE")
    assert "stand in more than one set-up, or one is too many" in only(packet, "Through contours")


def test_an_open_contour(tmp_path: Path) -> None:
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        by_layer(space, "FRONT_CUT_OUTSIDE")[0].closed = False

    packet.drawn(LAMINATION, change)
    assert "its ends are" in only(packet, "is not closed")


def test_a_file_of_another_scale(tmp_path: Path) -> None:
    """Inches for millimetres: everything 25.4 times smaller, the check square too."""
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        for e in space:
            e.scale(1 / 25.4, 1 / 25.4, 1.0)

    packet.drawn(FRONT, change)
    assert "3.937 by 3.937 mm, not 100.00" in only(packet, "check square")
    assert len(packet.texts("off the design's")) >= 4
    assert packet.texts("extents")


def test_a_back_file_that_is_not_mirrored(tmp_path: Path) -> None:
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        for e in space:
            if e.dxftype() in ("LWPOLYLINE", "CIRCLE") and e.dxf.layer not in ("CHECK_SQUARE", "TEXT"):
                if e.dxftype() == "CIRCLE":
                    e.dxf.center = (e.dxf.center.x, -e.dxf.center.y)
                else:
                    rows = np.array(e.get_points("xyb")) * (1, -1, -1)
                    e.set_points(rows.tolist(), format="xyb")

    packet.drawn(BACK, change)
    assert "BACK_POCKET" in only(packet, "off the design's")
    assert packet.texts("On BACK_ENGRAVE_Z0-30 the contour of BACK is")


def test_index_holes_that_do_not_fall_together(tmp_path: Path) -> None:
    """0.05 mm between front and back is told; so is a hole of another width."""
    packet = heron(tmp_path)

    def move(space: Any) -> None:
        for e in by_layer(space, "INDEX"):
            e.dxf.center = (e.dxf.center.x + 0.05, e.dxf.center.y)

    packet.drawn(FRONT, move)
    assert "0.050 mm away" in only(packet, "doesn't fall on one of")
    other = heron(tmp_path / "b")
    other.drawn(FRONT, lambda s: [setattr(e.dxf, "radius", 3.5) for e in by_layer(s, "INDEX")])
    assert "7.00 wide here and 6.00 in" in only(other, "7.00 wide")


def test_a_drill_of_another_width_than_its_layer(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    packet.drawn(BACK, lambda s: [setattr(e.dxf, "radius", 2.6) for e in by_layer(s, "BACK_DRILL_DIA5-00_Z12-00")])
    assert "A hole of 5.200 mm stands on BACK_DRILL_DIA5-00_Z12-00" in only(packet, "A hole of")


def test_header_lies(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    packet.text(FRONT, lambda t: re.sub(r"(\$INSUNITS\s+70\s+)4", r"\g<1>1", t))
    assert "$INSUNITS is 1.0, not 4" in only(packet, "millimetres")
    packet.text(BACK, lambda t: re.sub(r"(\$EXTMAX\n\s*10\n)[^\n]+", r"\g<1>9999.0", t))
    assert "9999.000" in only(packet, "extents")


def test_words(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    packet.text(FRONT, lambda t: t.replace("revision B", "revision A"))
    assert "revision A; its name says heron-B" in only(packet, "speak of")
    packet.text(BACK, lambda t: t.replace("battery side", "bass side"))
    assert "'battery side' don't stand where they belong" in only(packet, "battery")

    def backward(space: Any) -> None:
        next(iter(space.query("TEXT"))).dxf.text_generation_flag = 2

    packet.drawn(LAMINATION, backward)
    assert "backward" in only(packet, "backward")


def test_mirrored_letters(tmp_path: Path) -> None:
    """Letters mirrored in their place: the asymmetric ones give it away."""
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        lines = by_layer(space, "FRONT_ENGRAVE_Z0-30")
        points = np.vstack([np.array(e.get_points("xyb")) for e in lines])
        middle = (points[:, 0].min() + points[:, 0].max()) / 2
        for e in lines:
            rows = np.array(e.get_points("xyb"))
            rows[:, 0] = 2 * middle - rows[:, 0]
            rows[:, 2] *= -1
            e.set_points(rows.tolist(), format="xyb")

    packet.drawn(LAMINATION, change)
    assert "the contour of Heron B 1/3 is" in only(packet, "Heron B 1/3")


def test_missing_and_strange_files(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    (tmp_path / FRONT).rename(tmp_path / "shops/router/heron-A_blank_x1_front.dxf")
    assert f"{FRONT}: This file is missing" in only(packet, "missing")
    said = only(packet, "a shop could cut it by mistake")
    assert "heron-A_blank_x1_front.dxf" in said
    assert f"nearest that belongs here is {FRONT}" in said


def test_a_laser_file_holds_only_what_the_laser_does(tmp_path: Path) -> None:
    packet = heron(tmp_path)
    packet.drawn(NEST, lambda s: s.add_line((0, 0), (5, 5), dxfattribs={"layer": "CARVE_LINE"}))
    assert "cut, engrave and score layers only" in only(packet, "a laser's")


def test_what_shops_send_back(tmp_path: Path) -> None:
    """Splines, lines on cut layers, things off the plane, hidden layers, unknown layers."""
    packet = heron(tmp_path)

    def change(space: Any) -> None:
        space.add_spline([(0, 0), (5, 5), (9, 0)], dxfattribs={"layer": "FRONT_CUT_INSIDE"})
        space.add_circle((0, 0), 3, dxfattribs={"layer": "Layer 1"})
        by_layer(space, "FRONT_CUT_OUTSIDE")[0].dxf.elevation = 2.0
        space.doc.layers.get("FRONT_CUT_INSIDE").off()

    packet.drawn(LAMINATION, change)
    assert "A SPLINE on FRONT_CUT_INSIDE" in only(packet, "SPLINE")
    assert "'Layer 1' says neither face nor work" in only(packet, "Layer 1")
    assert "doesn't lie flat" in only(packet, "flat")
    assert "off or frozen" in only(packet, "hidden")


def test_a_circle_stays_a_circle_and_arcs_stay_few(tmp_path: Path) -> None:
    """A circle as two arcs is off; so is an edge flattened into a thousand chords, though within the tolerance."""
    packet = heron(tmp_path)

    def two_arcs(space: Any) -> None:
        (hole,) = by_layer(space, "FRONT_CUT_INSIDE")
        x, y, r = hole.dxf.center.x, hole.dxf.center.y, hole.dxf.radius
        space.delete_entity(hole)
        rows = [(x + r, y, 1), (x - r, y, 1)]
        space.add_lwpolyline(rows, "xyb", close=True, dxfattribs={"layer": "FRONT_CUT_INSIDE"})

    packet.drawn(LAMINATION, two_arcs)
    assert "a circle of the design is drawn as a LWPOLYLINE" in only(packet, "circle of the design")

    def chords(space: Any) -> None:
        (line,) = by_layer(space, "FRONT_CUT_OUTSIDE")
        line.set_points(factory.body_w().flatten(0.0005)[0].tolist(), format="xy")

    packet.drawn(FRONT, chords)
    assert "short segments" in only(packet, "short segments")
    assert packet.texts("where the design is smooth")


def test_corners_and_smoothness(tmp_path: Path) -> None:
    """A corner rounded by 0.01 mm lies within the tolerance and is told; a drawn corner of 1° is no fault."""
    box = rectangle(80, 50)
    packet = single(tmp_path, plate("box", box))
    path = "shops/router/heron-B_box_birch12_x1.dxf"

    def rounded(space: Any) -> None:
        (line,) = by_layer(space, "FRONT_CUT_OUTSIDE")
        r, b = 0.01, np.tan(np.pi / 8)
        rows = [
            (-40 + r, -25, 0),
            (40 - r, -25, b),
            (40, -25 + r, 0),
            (40, 25, 0),
            (-40, 25, 0),
            (-40, -25 + r, b),
        ]
        line.set_points([(float(x), float(y), float(k)) for x, y, k in rows], format="xyb")

    packet.drawn(path, rounded)
    assert "a corner of 90.0° of the design is rounded off" in only(packet, "rounded off")
    kinked = line_chain([(0, 0), (50, 0.5), (100, 0), (100, 40), (0, 40)])
    assert single(tmp_path / "b", plate("box", kinked)).texts() == []


def test_a_break_in_a_smooth_curve(tmp_path: Path) -> None:
    """One vertex of an egg pushed by 0.004 mm stays within the tolerance; the breaks of 0.1° and more show."""
    packet = single(tmp_path, plate("egg", egg()))
    path = "shops/router/heron-B_egg_birch12_x1.dxf"

    def change(space: Any) -> None:
        (line,) = by_layer(space, "FRONT_CUT_OUTSIDE")
        rows = np.array(line.get_points("xyb"))
        d = np.roll(rows[:, :2], -1, axis=0) - rows[:, :2]
        i = int(np.argmin(np.hypot(*d.T)))
        away = np.array([-d[i, 1], d[i, 0]]) / np.hypot(*d[i])
        rows[i, :2] += 0.004 * away
        rows[(i + 1) % len(rows), 2] += 0.004
        line.set_points(rows.tolist(), format="xyb")

    packet.drawn(path, change)
    assert packet.texts("where the design is smooth") or packet.texts("off the design's")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda b: b[: len(b) // 2], "cut off"),
        (lambda b: b"\x1a\x00" + b, "not text"),
        (lambda b: b.replace(b"ENTITIES", b"ENTITEIS"), "no section of entities"),
        (lambda b: b.replace(b"\nLWPOLYLINE\n", b"\nLWPOLYLINE\n  x\n", 1), "group code"),
        (lambda b: b"", "no section"),
    ],
)
def test_a_file_that_is_no_dxf_is_a_finding(tmp_path: Path, spoil: Any, says: str) -> None:
    """A damaged file holds the packet back with one sentence and raises nothing."""
    packet = heron(tmp_path)
    path = tmp_path / FRONT
    path.write_bytes(spoil(path.read_bytes()))
    assert packet.texts(FRONT)
    assert any(says in t or "middle of a group" in t or "no end mark" in t for t in packet.texts(FRONT))


def test_bulges_count(tmp_path: Path) -> None:
    """Same vertices, one arc turned into a chord."""
    capsule = chain([(-30, -10), (30, -10), (30, 10), (-30, 10)], [0, 1, 0, 1])
    packet = single(tmp_path, plate("pill", capsule))
    path = "shops/router/heron-B_pill_birch12_x1.dxf"

    def change(space: Any) -> None:
        (line,) = by_layer(space, "FRONT_CUT_OUTSIDE")
        rows = [list(r) for r in line.get_points("xyb")]
        rows[next(i for i, r in enumerate(rows) if r[2])][2] = 0.0
        line.set_points(rows, format="xyb")

    packet.drawn(path, change)
    found = [f for f in packet.read().findings if "off the design's" in f.message]
    assert found[0].measured == pytest.approx(10.0, abs=1e-3)
