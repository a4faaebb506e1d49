"""A second opinion: a renderer that shares no code with us paints the drawing, we count its pixels.

Needs the package ``resvg-py`` (a binding of resvg); skipped where it isn't installed.
"""

from __future__ import annotations

import io

import numpy as np
import pytest
import shapely

from tests.intake.drawings import area, svg

resvg = pytest.importorskip("resvg_py")
image = pytest.importorskip("PIL.Image")

WIDE = 2000  # pixels for 200 mm
PIXELS = f'width="{WIDE}" height="{WIDE // 2}" viewBox="0 0 200 100"'
CASES = {
    "alignment": (
        '<svg x="20" y="10" width="80" height="60" viewBox="5 5 20 40" preserveAspectRatio="xMaxYMin meet">'
        '<rect id="a" x="7" y="9" width="11" height="30" rx="4"/></svg>'
    ),
    "slice": (
        '<svg x="20" y="10" width="80" height="60" viewBox="5 5 20 20" preserveAspectRatio="xMidYMax slice">'
        '<rect id="a" x="9" y="12" width="5" height="7"/></svg>'
    ),
    "symbol": (
        '<symbol id="s" viewBox="0 0 10 20"><circle cx="5" cy="10" r="4"/></symbol>'
        '<use id="a" href="#s" x="30" y="5" width="60" height="80" transform="rotate(-12)"/>'
    ),
    "nested maps": (
        '<g transform="translate(60 20) skewX(20)"><g transform="rotate(25) scale(1.5 .8)">'
        '<path id="a" d="M0 0h40v20a20 9 15 1 1-40 10z"/></g></g>'
    ),
    "arcs": '<path id="a" d="M40 40a30 18 40 1 0 50 5a22 8-30 0 1-12 20a5 5 0 0 1-38-25z"/>',
    "smooth": '<path id="a" d="M20 60C20 10 60 10 70 50S120 90 130 40Q150 0 170 60T150 90z"/>',
    "nonzero": '<path id="a" d="M20 20h80v60h-80zM40 30h30v30h-30zM90 40v20h40v-20z"/>',
    "even-odd": '<path id="a" fill-rule="evenodd" d="M20 20h80v60h-80zM40 30h30v30h-30zM90 40v20h40v-20z"/>',
    "star": '<polygon id="a" fill-rule="evenodd" points="100,5 130,95 50,40 150,40 70,95"/>',
    "open": '<path id="a" d="M20 20c60-20 90 10 60 60l-30-9"/>',
    "cascade": (
        '<style>g > .k{fill:none} #on{fill:black!important} rect.k.l{fill:black}</style><g id="a">'
        '<rect class="k" width="50" height="50"/><rect class="k l" x="60" width="30" height="30"/>'
        '<rect id="on" style="fill:none" x="110" y="20" width="30" height="30"/></g>'
    ),
    "hidden": (
        '<g id="a"><g visibility="hidden"><rect width="50" height="50"/>'
        '<rect visibility="visible" x="60" width="30" height="30"/></g><rect opacity="0" y="60" width="9" height="9"/></g>'
    ),
    "union": '<g id="a"><circle cx="50" cy="50" r="30"/><ellipse cx="90" cy="50" rx="40" ry="12" transform="rotate(9)"/></g>',
    "percent": '<g id="a"><rect x="5%" y="10%" width="20%" height="30%" ry="4%"/><circle cx="60%" cy="50%" r="15%"/></g>',
}


@pytest.mark.parametrize("name", CASES)
def test_a_renderer_sees_the_same_area(name: str) -> None:
    """Darkness summed over all pixels is the painted area; its first moments give the place."""
    region = area(CASES[name])
    png = bytes(resvg.svg_to_bytes(svg_string=svg(CASES[name], PIXELS)))
    alpha = np.asarray(image.open(io.BytesIO(png)).convert("RGBA"))[:, :, 3] / 255.0
    mm = 200 / WIDE
    painted = float(alpha.sum()) * mm * mm
    rows, columns = np.arange(alpha.shape[0]), np.arange(alpha.shape[1])
    x = float((alpha.sum(axis=0) * (columns + 0.5)).sum()) * mm**3 / painted
    y = 100 - float((alpha.sum(axis=1) * (rows + 0.5)).sum()) * mm**3 / painted
    page = shapely.box(0, 0, 200, 100)
    assert page.covers(region.polygon), "the test's own drawing must lie on the page"
    assert region.area == pytest.approx(painted, abs=0.02 * mm * region.perimeter + 0.05)
    assert region.centroid == pytest.approx((x, y), abs=0.02)
