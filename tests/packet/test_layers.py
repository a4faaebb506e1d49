"""Layer names are the contract between us and every shop: the closed list, to the letter."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import ezdxf.colors
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.core.shop import Shop
from pipeline.packet.layers import LOOKS, WORKS, layer_name, shop_layer, two_decimals
from pipeline.steps.values import Op

# Blueprint section 5, "Layers: the closed list"; the grammar below is written from it, not from the code.
GRAMMAR = re.compile(
    r"(FRONT|BACK)_(CUT_OUTSIDE|CUT_INSIDE|SCORE|POCKET_Z\d+-\d\d|RAMP_Z\d+-\d\d_Z\d+-\d\d"
    r"|DRILL_DIA\d+-\d\d_(Z\d+-\d\d|THROUGH)|GROOVE_DIA\d+-\d\d_Z\d+-\d\d|ENGRAVE_Z\d+-\d\d)"
    r"|STOCK|DATUM|INDEX|BRIDGE|KEEP_CLEAR|CARVE_LINE|REFERENCE|CHECK_SQUARE|TEXT"
)


def op(work: str, **numbers: object) -> Op:
    return Op(work=work, face=numbers.pop("face", "front"), contours=(), **numbers)  # type: ignore[arg-type]  # names by parameter


@pytest.mark.parametrize(
    ("made", "name"),
    [
        (op("CUT_OUTSIDE"), "FRONT_CUT_OUTSIDE"),
        (op("CUT_INSIDE", face="back"), "BACK_CUT_INSIDE"),
        (op("POCKET", depth_mm=16.0), "FRONT_POCKET_Z16-00"),
        (op("RAMP", depth_mm=16.0, deep_mm=17.885), "FRONT_RAMP_Z16-00_Z17-89"),
        (op("DRILL", diameter_mm=5.0, depth_mm=22.0), "FRONT_DRILL_DIA5-00_Z22-00"),
        (op("DRILL", diameter_mm=8.0, through=True), "FRONT_DRILL_DIA8-00_THROUGH"),
        (op("GROOVE", diameter_mm=6.0, depth_mm=5.0), "FRONT_GROOVE_DIA6-00_Z5-00"),
        (op("ENGRAVE", depth_mm=0.3), "FRONT_ENGRAVE_Z0-30"),
        (op("SCORE", face="back"), "BACK_SCORE"),
        (op("KEEP_CLEAR"), "KEEP_CLEAR"),
        (op("STOCK", face="back"), "STOCK"),
    ],
)
def test_the_examples_of_the_blueprint(made: Op, name: str) -> None:
    """Each name is spelled as the blueprint spells it."""
    assert layer_name(made) == name
    assert GRAMMAR.fullmatch(name)


@given(st.integers(0, 99_999), st.sampled_from(["POCKET", "ENGRAVE"]), st.sampled_from(["front", "back"]))
def test_depths_are_rounded_half_up(thousandths: int, work: str, face: str) -> None:
    """A depth of thousandths, however binary arithmetic spells it, is rounded half up."""
    depth = sum([thousandths / 1000 / 7] * 7)  # the same depth with noise in its last bits
    exact = Decimal(thousandths) / 1000
    wanted = str(exact.quantize(Decimal("0.01"), ROUND_HALF_UP)).replace(".", "-")
    name = layer_name(op(work, depth_mm=depth, face=face))
    assert name == f"{face.upper()}_{work}_Z{wanted}"
    assert GRAMMAR.fullmatch(name)
    assert abs(Fraction(two_decimals(depth)) - Fraction(exact)) <= Fraction(5, 1000)


def test_a_missing_number_is_told() -> None:
    """A pocket without a depth is a fault of ours, never a layer with a made-up number."""
    with pytest.raises(ValueError, match="no depth"):
        layer_name(op("POCKET"))


def test_a_shop_may_use_its_own_names() -> None:
    """The most exact entry wins, and numbers stay behind the word they belong to."""
    shop = Shop(
        layers={"POCKET": "AREA", "FRONT_POCKET": "TOP_AREA", "BACK_POCKET_Z3-00": "LEDGE", "TEXT": "WORDS"}
    )
    assert shop_layer("FRONT_POCKET_Z16-00", shop) == "TOP_AREA_Z16-00"
    assert shop_layer("BACK_POCKET_Z16-00", shop) == "BACK_AREA_Z16-00"
    assert shop_layer("BACK_POCKET_Z3-00", shop) == "LEDGE"
    assert shop_layer("TEXT", shop) == "WORDS"
    assert shop_layer("FRONT_DRILL_DIA8-00_THROUGH", shop) == "FRONT_DRILL_DIA8-00_THROUGH"


@pytest.mark.parametrize("theirs", ["a/b", "", "x" * 256, "two\nlines", " padded "])
def test_a_name_no_file_can_hold_is_refused(theirs: str) -> None:
    """DXF forbids these signs in layer names (DXF reference; outside check D6)."""
    with pytest.raises(Refused, match="router"):
        shop_layer("TEXT", Shop(layers={"TEXT": theirs}))


@pytest.mark.parametrize("theirs", ["small", "X" * 32, "MIT_Ä", "WITH SPACE"])
def test_r12_names_are_narrower(theirs: str) -> None:
    """R12 takes at most 31 of A-Z 0-9 $ - _ (outside check D6)."""
    shop = Shop(layers={"TEXT": theirs})
    assert shop_layer("TEXT", shop) == theirs
    with pytest.raises(Refused):
        shop_layer("TEXT", replace(shop, dxf="R12"))


def test_our_own_names_fit_r12() -> None:
    """The longest name of the scheme, with four digits before the point, has at most 31 signs."""
    deepest = [
        op("DRILL", diameter_mm=999.99, depth_mm=999.99, face="front"),
        op("GROOVE", diameter_mm=999.99, depth_mm=999.99, face="front"),
        op("RAMP", depth_mm=999.99, deep_mm=999.99, face="front"),
        op("DRILL", diameter_mm=999.99, through=True, face="front"),
    ]
    for made in deepest:
        assert shop_layer(layer_name(made), Shop(dxf="R12")) == layer_name(made)


def test_colours_never_carry_the_meaning_alone() -> None:
    """Works that share a colour differ in line type, but for what is never cut."""
    assert set(LOOKS) == set(WORKS)
    looks = [(v.rgb, v.line) for w, v in LOOKS.items() if w not in ("TEXT",)]
    twice = {x for x in looks if looks.count(x) > 1}
    assert twice <= {((0, 0, 0), "DASH_DOT"), ((0, 0, 0), "LONG_DASH")}


# Okabe and Ito's palette (https://jfly.uni-koeln.de/color/), sRGB.
OKABE_ITO = {
    (0, 0, 0), (230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66), (0, 114, 178),
    (213, 94, 0), (204, 121, 167),
}  # fmt: skip


@pytest.mark.parametrize("work", WORKS)
def test_indexed_colours_are_the_nearest(work: str) -> None:
    """Each true colour is of the palette; its index is the nearest in ezdxf's own table of indexed colours."""
    look = LOOKS[work]  # type: ignore[index]  # names by parameter
    assert look.rgb in OKABE_ITO
    if look.rgb == (0, 0, 0):
        assert look.index == 7  # black on white, white on black
        return

    def off(index: int) -> int:
        colour = ezdxf.colors.int2rgb(ezdxf.colors.DXF_DEFAULT_COLORS[index])
        return sum((a - b) ** 2 for a, b in zip(colour, look.rgb, strict=True))

    assert off(look.index) == min(off(i) for i in range(1, 256))
