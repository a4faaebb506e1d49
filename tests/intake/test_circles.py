"""A drawn circle comes out as one CIRCLE in the DXF under any similarity (outside_checks.md N6, N16, N26)."""

from __future__ import annotations

import io
import math
import tempfile
from pathlib import Path

import pytest
from ezdxf.filemanagement import read as read_dxf
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour
from pipeline.geometry.fit import fitted
from pipeline.intake.drawing import read_drawing
from pipeline.packet.dxf import dxf_bytes
from pipeline.packet.shop_file import Drawn, ShopFile
from pipeline.packet.written import Circle, Curve, bounds_of, written
from tests.intake.drawings import recipe, svg

PAGE = 'width="20000mm" height="20000mm" viewBox="-10000 -10000 20000 20000"'


def drawn(kind: str, x: float, y: float, r: float, handle: float) -> str:
    """A circle about (x, y) in the ways in which programs write one."""
    if kind == "circle":
        return f'<circle cx="{x!r}" cy="{y!r}" r="{r!r}"/>'
    if kind == "ellipse":
        return f'<ellipse cx="{x!r}" cy="{y!r}" rx="{r!r}" ry="{r!r}"/>'
    if kind == "rectangle":
        return f'<rect x="{x - r!r}" y="{y - r!r}" width="{2 * r!r}" height="{2 * r!r}" rx="{r!r}"/>'
    if kind == "two arcs":
        d = f"M{x - r!r} {y!r}A{r!r} {r!r} 0 1 0 {x + r!r} {y!r}A{r!r} {r!r} 0 1 0 {x - r!r} {y!r}z"
    elif kind == "relative arcs":
        d = f"M{x!r} {y!r}m{-r!r} 0a{r!r} {r!r} 0 1 1 {2 * r!r} 0a{r!r} {r!r} 0 1 1 {-2 * r!r} 0"
    else:
        h = handle * r
        d = (
            f"M{x + r!r} {y!r}C{x + r!r} {y + h!r} {x + h!r} {y + r!r} {x!r} {y + r!r}"
            f"S{x - r!r} {y + h!r} {x - r!r} {y!r}S{x - h!r} {y - r!r} {x!r} {y - r!r}"
            f"S{x + r!r} {y - h!r} {x + r!r} {y!r}Z"
        )
    return f'<path d="{d}"/>'


KINDS = ["circle", "ellipse", "rectangle", "two arcs", "relative arcs", "four cubics"]
HANDLES = [0.5522847498, 0.551915024494, 0.5519, 0.5523]


@st.composite
def similarities(draw: st.DrawFn) -> tuple[list[str], float]:
    """Nested transforms from the outside in: rotations, mirrorings, shifts and one scale; and that scale."""
    scale = 10 ** draw(st.floats(-2, 2))
    found: list[str] = [f"scale({scale!r})"]
    for _ in range(draw(st.integers(0, 4))):
        a, x = draw(st.floats(-360, 360)), draw(st.floats(-90, 90))
        c, s = math.cos(math.radians(a)), math.sin(math.radians(a))
        found.insert(
            draw(st.integers(0, len(found))),
            draw(
                st.sampled_from(
                    [
                        f"rotate({a!r})",
                        f"rotate({a!r} {x!r} 7)",
                        f"translate({x!r} {a / 9!r})",
                        "scale(-1 1)",
                        "scale(1,-1)",
                        f"matrix({c!r} {s!r} {s!r} {-c!r} {x!r} 3)",
                    ]
                )
            ),
        )
    return found, scale


def read(body: str) -> Contour:
    with tempfile.TemporaryDirectory() as folder:
        region = read_drawing(recipe(Path(folder), svg(body, PAGE))).objects["a"].region
    assert region is not None
    (contour,) = region.contours
    return contour


def dxf(curve: Curve) -> list[str]:
    bounds = bounds_of((curve,))
    assert bounds is not None
    layer = Drawn(name="FRONT_CUT_OUTSIDE", ours="FRONT_CUT_OUTSIDE", work="CUT_OUTSIDE", curves=(curve,))
    file = ShopFile(
        shop="router",
        stem="a",
        flavour="R2010",
        kind="set-up",
        subjects=(("a", "front"),),
        blank=False,
        layers=(layer,),
        words=(),
        text_layer="TEXT",
        lines=(),
        bounds=bounds,
        page=bounds,
    )
    doc = read_dxf(io.StringIO(dxf_bytes(file).decode("utf-8")))
    return [e.dxftype() for e in doc.modelspace()]


@settings(max_examples=150)
@given(
    kind=st.sampled_from(KINDS),
    handle=st.sampled_from(HANDLES),
    x=st.floats(-60, 60),
    y=st.floats(-60, 60),
    r=st.floats(5, 60),
    paint=st.sampled_from(["", 'fill="none" stroke="black"']),
    by=similarities(),
)
def test_a_circle_under_any_similarity(
    kind: str, handle: float, x: float, y: float, r: float, paint: str, by: tuple[list[str], float]
) -> None:
    """Radius = r · scale; the contour that is written is a circle, after the export's fitting too."""
    transforms, scale = by
    body = drawn(kind, x, y, r, handle)
    for transform in reversed(transforms):
        body = f'<g transform="{transform}">{body}</g>'
    contour = read(f'<g id="a" {paint}>{body}</g>')
    found = contour.circle()
    assert found is not None
    assert found[2] == pytest.approx(r * scale, rel=1e-9)
    curve = written(fitted(contour))
    assert isinstance(curve, Circle)
    assert curve.r == pytest.approx(r * scale, abs=1e-6)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "transform", ["", "rotate(33)scale(1.7)", "scale(-3 3)", "matrix(.6 .8 .8 -.6 90 3)scale(.1)"]
)
def test_a_circle_is_one_entity_in_the_dxf(kind: str, transform: str) -> None:
    body = f'<g transform="{transform}">{drawn(kind, 40.1, 30.3, 7.3, HANDLES[0])}</g>'
    assert dxf(written(fitted(read(f'<g id="a">{body}</g>')))) == ["CIRCLE"]


@pytest.mark.parametrize("kind", ["circle", "four cubics"])
def test_a_stretched_circle_is_none(kind: str) -> None:
    """An ellipse 1 % longer than wide: not a circle (N4)."""
    contour = read(f'<g id="a" transform="scale(1.01 1)">{drawn(kind, 40, 30, 7, HANDLES[0])}</g>')
    assert contour.circle() is None
    assert contour.free.all()


@pytest.mark.parametrize("kind", ["ellipse", "four cubics"])
def test_an_ellipse_stretched_to_a_circle_is_one(kind: str) -> None:
    """What counts is what is seen: x and y that are scaled differently can make a circle."""
    shape = (
        '<ellipse cx="40" cy="30" rx="6" ry="9"/>'
        if kind == "ellipse"
        else f'<g transform="scale(2 3)">{drawn(kind, 4, 5, 3, HANDLES[0])}</g>'
    )
    found = read(f'<g id="a" transform="scale(3 2)">{shape}</g>').circle()
    assert found is not None
    assert found[2] == pytest.approx(18, abs=1e-9)
