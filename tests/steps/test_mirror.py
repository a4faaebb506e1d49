"""A left-handed design: mirrored shapes and places, unmirrored words, and both faces still tied by their pins."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pytest

from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.path import build
from pipeline.steps.mirror import mirrored
from pipeline.steps.values import Derived, Label
from tests.readback import CASES, area, loops

RIGHT = """\
design: pair
drawing: pair.svg
frame: {origin: zero, x_toward: east, turn_over: %s, known: [{between: [zero, east], is: 80}]}
shops: {router: two-faces-shop.yaml}
sheets: {maple: {measured: {A: 18.2}, size: [400, 300], density: 700}, ash: {measured: {A: 30}, size: [400, 300]}}
hardware: {jack: {at: [20, 11, 5], size: [30, 14, 10], mass: 20, measured: true}}
steps:
  pins:  {kind: holes, role: index, at: [[-80, 10], [80, -5]], diameter: [6, 8], through: true}
  dish:  {kind: cavity, drawn: dish, face: front, depth: 7.5}
  well:  {kind: cavity, opening: {rectangle: [40, 24], corner: 6}, centre: [-30, -20], face: back, floor: 5}
  ramp:  {kind: cavity, opening: {rectangle: [24, 16], corner: 4}, centre: [50, 15], turn: 20, face: front,
          depth: 4, tilt: {angle: 3, deeper: +y}}
  guide: {kind: template, of: dish, use: opening, follow: {bush: 17, cutter: 8}, sheet: ash, margin: 40}
  plate: {kind: outline, drawn: plate, sheet: maple, cut: [pins, dish, well, ramp]}
variants: {left: {mirror: true}, thick: {sheets: {maple: {measured: {A: 20}, size: [400, 300], density: 600}}}}
"""


def recipe_file(folder: Path, turn_over: str = "x") -> Path:
    (folder / "configs").mkdir()
    for name in ("two-faces.svg", "two-faces-shop.yaml"):
        text = (CASES / "two-faces" / name).read_text(encoding="utf-8")
        (folder / name.replace("two-faces.svg", "pair.svg")).write_text(text, encoding="utf-8")
    path = folder / "pair.yaml"
    path.write_text(RIGHT % turn_over, encoding="utf-8")
    return path


def derived(path: Path, variant: str = "") -> Derived:
    recipe = read_recipe(path, variant=variant)
    return derive(recipe, read_drawing(recipe))


def words(d: Derived) -> list[Label]:
    return [v for p in d.pieces for s in p.set_ups for v in s.labels]


def test_shapes_move_and_words_do_not(tmp_path: Path) -> None:
    path = recipe_file(tmp_path)
    right, left = derived(path), derived(path, "left")
    for name, r in right.results.items():
        other = left.results[name]
        for a, b in zip(r.cuts, other.cuts, strict=True):
            x, y = a.region.centroid
            assert b.region.centroid == pytest.approx((x, -y), abs=1e-9)
            assert b.region.area == pytest.approx(a.region.area, rel=1e-12)
            assert b.face == a.face
        if r.region:
            x0, y0, x1, y1 = r.region.bounds
            assert other.region is not None
            assert other.region.bounds == pytest.approx((x0, -y1, x1, -y0), abs=1e-9)
            if "bounds_mm" in r.numbers:
                bx0, by0, bx1, by1 = r.numbers["bounds_mm"]
                assert other.numbers["bounds_mm"] == pytest.approx([bx0, -by1, bx1, -by0], abs=1e-9)
    assert sorted(v.text for v in words(left)) == sorted(v.text for v in words(right))
    assert all(v.centred for v in words(right))  # a mirrored label keeps its middle
    assert [p.mass_g for p in left.pieces] == pytest.approx([p.mass_g for p in right.pieces])
    assert left.recipe.hardware["jack"].at == (20.0, -11.0, 5.0)
    assert left.drawing.objects["zero"].mark is not None


def test_the_floor_still_slopes_the_way_it_was_drawn(tmp_path: Path) -> None:
    """Deeper toward +y becomes deeper toward −y, by the same depths at the mirrored places."""
    path = recipe_file(tmp_path)
    right, left = (derived(path, v).results["ramp"].cuts[0].depth.tilt for v in ("", "left"))
    assert right is not None
    assert left is not None
    assert right.toward == (0.0, 1.0)
    assert left.toward == (0.0, -1.0)
    assert (left.shallow, left.deep) == pytest.approx((right.shallow, right.deep))


def test_mirrored_twice_is_the_design_itself(tmp_path: Path) -> None:
    right = derived(recipe_file(tmp_path))
    again = mirrored(mirrored(right))
    for name, r in right.results.items():
        assert again.results[name].numbers == r.numbers
        if r.region:
            other = again.results[name].region
            assert other is not None
            pairs = zip(r.region.contours, other.contours, strict=True)
            assert all(abs(a.area - b.area) < 1e-9 and abs(a.length - b.length) < 1e-9 for a, b in pairs)


def test_other_sheets_in_a_variant(tmp_path: Path) -> None:
    path = recipe_file(tmp_path)
    assert read_recipe(path).sheets["maple"].measured == {"A": 18.2}
    assert read_recipe(path, variant="thick").sheets["maple"].measured == {"A": 20.0}
    assert derived(path, "thick").pieces[-1].thickness_mm == 20.0


@pytest.mark.parametrize("turn_over", ["x", "y"])
@pytest.mark.parametrize("variant", ["", "left"])
def test_both_faces_come_together_when_the_back_is_turned_over(
    tmp_path: Path, variant: str, turn_over: str
) -> None:
    """trade.md 2.2: after the inverse flip index holes and perimeter coincide within 0.02, the back's move has
    determinant −1 and the front's +1, and every word can be read."""
    path = recipe_file(tmp_path, turn_over)
    answer = build([path], out=tmp_path / "out")
    assert answer.exit_code == 0, answer.said
    folder = tmp_path / "out" / ("pair" + (f"-{variant}" if variant else ""))
    design = derived(path, variant)
    front, back = (
        ezdxf.readfile(next(folder.glob(f"shops/router/*plate*_{face}.dxf"))) for face in ("front", "back")
    )
    flip = np.array([1.0, -1.0]) if turn_over == "x" else np.array([-1.0, 1.0])

    def holes(doc: ezdxf.document.Drawing) -> dict[float, np.ndarray]:
        found = {}
        for e in doc.modelspace().query("CIRCLE"):
            layer = e.dxf.layer
            if layer == "INDEX" or "_DRILL_" in layer:
                found[round(2 * e.dxf.radius, 6)] = np.array([e.dxf.center.x, e.dxf.center.y])
        return found

    here, there = holes(front), holes(back)
    assert set(here) == set(there) == {6.0, 8.0}
    for d, at in here.items():
        assert np.abs(there[d] * flip - at).max() <= 0.02
    expected = {
        2 * r: np.array([x, y])
        for c in design.results["pins"].cuts
        for x, y, r in [c.region.contours[0].circle() or (0, 0, 0)]
    }
    for d, at in here.items():
        assert np.abs(at - expected[d]).max() <= 0.02
    outer = loops(front, "FRONT_CUT_OUTSIDE")[0]
    reference = max(loops(back, "REFERENCE"), key=area)
    flipped = np.array([p[:2] for p in reference]) * flip
    for p in np.array([v[:2] for v in outer]):
        assert np.hypot(*(flipped - p).T).min() <= 0.02
    # Front as drawn (+1): its pocket stands where the design has it; the back's is mirrored (−1).
    for doc, name, way in ((front, "dish", np.array([1.0, 1.0])), (back, "well", flip)):
        cut = design.results[name].cuts[0]
        pocket = next(
            v
            for layer in {e.dxf.layer for e in doc.modelspace()}
            if "_POCKET_" in layer
            for v in loops(doc, layer)
            if abs(area(v) - cut.region.area) < 0.05
        )
        middle = (
            np.array([v[:2] for v in pocket]).min(axis=0) + np.array([v[:2] for v in pocket]).max(axis=0)
        ) / 2
        x0, y0, x1, y1 = cut.region.bounds
        assert np.abs(middle * way - [(x0 + x1) / 2, (y0 + y1) / 2]).max() < 0.02
    for doc in (front, back):
        for text in doc.modelspace().query("TEXT"):
            assert text.dxf.get("text_generation_flag", 0) == 0
            assert -90 < (text.dxf.rotation + 180) % 360 - 180 <= 90


def test_a_handed_part_is_not_mirrored(tmp_path: Path) -> None:
    """trade.md 2.2: its place moves to the other side, its shape does not turn over."""
    path = recipe_file(tmp_path)
    drawing = tmp_path / "pair.svg"
    text = drawing.read_text(encoding="utf-8")
    hook = '<path id="hook" fill="#000" d="M 100 60 h 12 v 3 h -9 v 7 h -3 z"/>'
    drawing.write_text(text.replace("</svg>", hook + "</svg>"), encoding="utf-8")
    step = "  hook:  {kind: cavity, drawn: hook, face: front, depth: 2, handed: %s}\nvariants"
    shapes = {}
    for handed in ("true", "false"):
        path.write_text((RIGHT % "x").replace("variants", step % handed), encoding="utf-8")
        for variant in ("", "left"):
            region = derived(path, variant).results["hook"].region
            assert region is not None
            x0, y0, x1, y1 = region.bounds
            x, y = region.centroid
            shapes[handed, variant] = ((x0 + x1) / 2, (y0 + y1) / 2, x - (x0 + x1) / 2, y - (y0 + y1) / 2)
    x, y, dx, dy = shapes["true", ""]
    assert abs(dy) > 0.5
    assert shapes["true", "left"] == pytest.approx((x, -y, dx, dy), abs=1e-9)
    assert shapes["false", "left"] == pytest.approx((x, -y, dx, -dy), abs=1e-9)
