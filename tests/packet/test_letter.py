"""letter.txt: what a shop reads first."""

from __future__ import annotations

import re
from dataclasses import replace

from pipeline.core.findings import Finding
from pipeline.packet.letter import WIDTH, letter_text
from pipeline.packet.shop_files import shop_files
from tests.packet import factory as f
from tests.packet.whole import ASK

SECOND = Finding(
    check="hole-small",
    severity="ask",
    message="The hole is small",
    step="cover",
    piece="cover",
    at_mm=(8.0, 8.0),
    measured=1.2,
    limit=1.55,
)


def letter(*findings: Finding, held: bool = False, since: dict[str, str] | None = None) -> str:
    derived, nests = f.derived(), (f.cover_nest(),)
    return letter_text(derived, shop_files(derived, nests), nests, findings, held=held, since=since or {})


def test_each_shop_has_its_own_letter_from_greeting_to_thanks() -> None:
    parts = letter().split("-" * WIDTH)
    assert len(parts) == 2
    for part, shop in zip(parts, ("router", "laser"), strict=True):
        assert part.strip().startswith(f"To the shop: {shop}\n")
        assert "Good day,\n" in part
        assert part.strip().endswith("Thank you.\nSaltmarsh Workshop")
        assert "shop-sheet.pdf" in part


def test_a_sheet_is_told_with_material_and_counts() -> None:
    flat = " ".join(letter().split())
    assert "heron-B_nest-ply3-A (dxf, svg): one sheet of ply3 A, 3.10 thick, with 2 of cover." in flat


def test_questions_are_numbered_for_each_shop_with_place_number_and_default() -> None:
    again = replace(ASK, message="The wall beside the control cavity is thin", measured=7.9)
    router, laser = letter(ASK, again, SECOND).split("-" * WIDTH)
    asked = router[router.index("Questions") :]
    assert re.findall(r"^  (\d)\. ", asked, re.MULTILINE) == ["1", "2"]
    assert asked.count("Our answer if we hear nothing: cut it as drawn.") == 2
    # The worse one (7.8 against 8.0) is asked first.
    assert asked.index("neck pocket") < asked.index("control cavity")
    assert "1. cover, near x 8.00, y 8.00 of the design: The hole is small. (measured 1.20 mm; limit" in laser
    assert "Please tell us what you think." in laser


def test_without_questions_nothing_is_asked() -> None:
    assert "Please tell us" not in letter()
    assert letter().count("Questions\n  None.") == 2


def test_held_is_said_before_anything_else() -> None:
    first, rest = letter(held=True).split("\n\n", 1)
    assert first == "HELD: this packet is not released. Nothing of it should be cut or sent yet."
    assert rest.startswith("To the shop: router")


def test_unchanged_parts_need_no_new_program_and_no_name_is_broken() -> None:
    text = letter(since={"blank-1": "A"})
    assert "Not changed since revision A: blank-1. No need to program these again." in text
    assert all(len(line) <= WIDTH for line in text.split("\n"))
    assert not re.search(r"\w-\n", text)
