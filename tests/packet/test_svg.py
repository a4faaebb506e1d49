"""SVG files at 1:1: what another reader measures in them is what the DXF beside them holds."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest
from svgelements import Path

from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour, chain
from pipeline.packet.shop_files import shop_files
from pipeline.packet.svg import number, path_data, svg_bytes
from pipeline.packet.written import Circle
from tests.packet import factory as f
from tests.packet.test_dxf import HOSTILE

NS = "{http://www.w3.org/2000/svg}"


def test_the_page_is_in_millimetres_and_layers_are_groups() -> None:
    """Width and height in mm equal the view box, so that one unit is one millimetre."""
    for file in shop_files(f.derived(), (f.cover_nest(),)):
        root = ElementTree.fromstring(svg_bytes(file))
        x, y, w, h = map(float, root.attrib["viewBox"].split())
        assert root.attrib["width"] == f"{number(w)}mm"
        assert root.attrib["height"] == f"{number(h)}mm"
        groups = [g for g in root.findall(f"{NS}g") if g.find(f"{NS}text") is None]
        assert [g.attrib["data-layer"] for g in groups] == [v.name for v in file.layers]
        for group, layer in zip(groups, file.layers, strict=True):
            assert group.find(f"{NS}title") is not None
            shapes = [e for e in group if e.tag != f"{NS}title"]
            assert len(shapes) == len(layer.curves)
            for shape, curve in zip(shapes, layer.curves, strict=True):
                left, low, right, high = curve.bounds
                assert x - 1e-6 <= left
                assert right <= x + w + 1e-6
                assert y - 1e-6 <= -high
                assert -low <= y + h + 1e-6
                if isinstance(curve, Circle):
                    assert float(shape.attrib["r"]) == curve.r
                    assert float(shape.attrib["cy"]) == -curve.y
                    continue
                box = Path(shape.attrib["d"]).bbox()
                assert box == pytest.approx((left, -high, right, -low), abs=2e-5)


def test_the_lasers_page_is_the_sheet() -> None:
    cut = next(v for v in shop_files(f.derived(), (f.cover_nest(),)) if v.kind == "nest")
    root = ElementTree.fromstring(svg_bytes(cut))
    assert root.attrib["viewBox"] == "0 -300 600 300"
    assert root.find(f".//{NS}text") is None


@pytest.mark.parametrize("bulge", [0.1, 0.5, 1.0, 2.5, -0.3, -1.0, -4.0])
def test_an_arc_runs_through_the_same_middle(bulge: float) -> None:
    """An arc's middle lies bulge × chord / 2 to the right of its chord (DXF reference); SVG's y points down."""
    arc = chain([(10, 5), (16, 13)], [bulge, 0.0], closed=False)
    middle = np.array(Path(path_data(arc)).segments()[1].point(0.5))
    d = np.array([6.0, 8.0])
    wanted = np.array([13.0, 9.0]) + np.array([d[1], -d[0]]) * bulge / 2
    assert middle == pytest.approx(wanted * (1, -1), abs=1e-5)


def test_hostile_words_stay_words() -> None:
    """A title with markup and control signs parses, and no element is added."""
    shops = {"router": Shop(layers={"TEXT": "A (B)"}), "laser": f.laser()}
    for bad, good in zip(
        shop_files(f.derived(f.recipe(shops, title=HOSTILE)), ()),
        shop_files(f.derived(f.recipe(shops)), ()),
        strict=True,
    ):
        root = ElementTree.fromstring(svg_bytes(bad))
        kinds = {e.tag for e in root.iter()}
        assert kinds == {e.tag for e in ElementTree.fromstring(svg_bytes(good)).iter()}
        if bad.words and bad.shop == "router":
            assert any(g.attrib.get("data-layer") == "A (B)" for g in root.findall(f"{NS}g"))


def test_numbers_are_plain() -> None:
    assert [number(v) for v in (0.0, -0.0, 100.0, -1e-9, 0.1, 1234.5, 1e-6)] == [
        "0",
        "0",
        "100",
        "0",
        "0.1",
        "1234.5",
        "0.000001",
    ]


def test_an_open_line_is_not_closed() -> None:
    open_line = chain([(0, 0), (5, 0), (5, 5)], [0, 0, 0], closed=False)
    assert isinstance(open_line, Contour)
    assert path_data(open_line) == "M0 0L5 0L5 -5"
