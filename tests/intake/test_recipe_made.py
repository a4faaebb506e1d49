"""The made register: read, refused, and added to without touching the maker's own lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import pipeline.intake.made
from pipeline.core.errors import Refused
from pipeline.core.names import REVISION_LETTERS, is_draft, next_revision, revision_problem
from pipeline.intake.made import Issue, Made, MadePiece, add_issue, made_of_text, read_made

PACKET = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
REPORT = "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752"
DIGITS = "1234567890" * 6 + "12e4"  # a hash that reads as a number must stay text


def example() -> str:
    """The example file in the module's docstring."""
    doc = pipeline.intake.made.__doc__ or ""
    return "\n".join(line.removeprefix("    ") for line in doc.partition("::\n")[2].split("\n")).strip() + "\n"


def read(text: str) -> Made:
    return made_of_text(text.encode(), "heron.made.yaml")


ENTRY = Issue(
    revision="B",
    date="20 May 2027",
    packet=PACKET,
    files={"report.html": REPORT, "shops/router/heron-B_blank-1_birch12_x1.dxf": DIGITS},
    pieces={"blank-1": "A", "cover": "B"},
)


def test_the_documented_example_reads() -> None:
    """What the docstring shows is what the reader takes."""
    made = read(example())
    assert [i.revision for i in made.issued] == ["A"]
    assert made.issued[0].files == {"report.html": REPORT}
    assert made.since == {"blank-1": "A", "cover": "A"}
    assert made.issue("A") == made.issued[0]
    assert made.issue("B") is None
    assert made.blanks == {"blank": 35.4}
    assert made.made == (
        MadePiece(piece="blank-1", revision="A", measured=11.8),
        MadePiece(piece="body_guide", revision="A", measured=9.1, condition="a dent at the tail", count=2),
    )


def test_no_register_is_an_empty_one(tmp_path: Path) -> None:
    """A design that never left the house has none; a file with comments alone holds nothing."""
    assert read_made(tmp_path / "none.made.yaml") == Made()
    assert read_made("") == Made()
    assert read("# to come\n") == Made()
    (tmp_path / "wren.made.yaml").write_text("blanks: {blank: 1 3/8 in}\n", encoding="utf-8")
    assert read_made(tmp_path / "wren.made.yaml").blanks == {"blank": 34.925}


def test_an_issue_is_added_and_all_else_stays() -> None:
    """The maker's lines stand as they were, in their order; the new ones stand together."""
    before = example()
    after = add_issue(before, ENTRY)
    assert read(after) == Made(
        issued=(*read(before).issued, ENTRY), blanks=read(before).blanks, made=read(before).made
    )
    assert after.startswith(before[: before.index("# Thickness")].rstrip())
    assert after.endswith(before[before.index("# Thickness") :])
    assert after.index("  - revision: B\n") < after.index("# Thickness")


LAYOUTS = {
    "nothing": "",
    "comment": "# mine\n",
    "others": "blanks: {blank: 35.4} # glued in March\n",
    "no end": "blanks: {blank: 35.4}",
    "empty": "issued:\nblanks: {blank: 35.4}\n",
    "brackets": "issued: [] # none yet\nblanks: {blank: 35.4}\n",
    "flow": "issued: [{revision: A}]\nmade: [] # mine\n",
    "flow in block": "issued:\n- {revision: A,\n   date: then}   # first\n# between\nmade: []\n",
    "unindented": "issued:\n- revision: A\n  pieces:\n    a: A\n\n# end\n",
    "deep": "issued:\n      - revision: A\nmade: []\n",
    "last": "made: []\nissued:\n  - revision: A",
    "folded": "issued:\n  - revision: A\n    date: >\n      one\n      two\nmade: []\n",
    "windows": "issued:\r\n  - revision: A\r\nmade: []\r\n",
    "mark": "\ufeffmade: []\n",
}


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_every_layout_takes_an_issue(text: str) -> None:
    """Block and flow, first and last, with comments between; twice in a row; nothing of it is lost."""
    once = add_issue(text, ENTRY)
    twice = add_issue(once, Issue(revision="C"))
    assert [i.revision for i in read(twice).issued] == [*(i.revision for i in read(text).issued), "B", "C"]
    assert read(twice).issued[-2] == ENTRY
    assert (read(twice).blanks, read(twice).made) == (read(text).blanks, read(text).made)
    for word in ("# mine", "# glued in March", "# none yet", "# first", "# between", "# end"):
        assert (word in text) == (word in twice)


def test_a_layout_without_a_safe_place_is_refused() -> None:
    """Rather than a register that is damaged."""
    with pytest.raises(Refused, match="can't be added to this layout"):
        add_issue("{made: []}", ENTRY)


TEXTS = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_characters="\x7f"), min_size=1)


@given(st.dictionaries(TEXTS.filter(str.strip), st.sampled_from(["A", "B", "N"]), max_size=4), TEXTS)
def test_any_names_and_dates_come_back(pieces: dict[str, str], date: str) -> None:
    """Whatever is typed is written so that it reads the same."""
    printable = not any(0x7F <= ord(c) < 0xA0 for c in date + "".join(pieces))
    if not printable:
        return
    entry = Issue(revision="B", date=date, pieces=pieces)
    assert read(add_issue(example(), entry)).issued[-1] == entry


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("issued: [{revision: A}, {revision: A}]", "stands here a second time"),
        ("issued: [{revision: B.1}]", "drafts are not issued"),
        ("issued: [{revision: O}]", '"O" is not a revision'),
        (f"issued: [{{revision: A, packet: {PACKET[:-1]}}}]", "is not a sha256 hash"),
        ("issued: [{revision: A, files: {report.html: ABC}}]", "is not a sha256 hash"),
        ("blanks: {blank: 0}", "must be more than 0"),
        ("maed: []", "`maed` is not known"),
        ("made: [{piece: cover}]", "`revision` is missing in item 1 of `made`"),
        ("[]", "no made register"),
    ],
)
def test_mistakes_are_told(text: str, words: str) -> None:
    """With the place in the register."""
    with pytest.raises(Refused, match=words) as refused:
        read(text)
    assert all(p.place and p.place.file == "heron.made.yaml" for p in refused.value.problems)


def test_a_letter_goes_out_once() -> None:
    """The same letter never goes out twice."""
    with pytest.raises(Refused, match="Revision B has been issued already"):
        add_issue(add_issue("", ENTRY), ENTRY)


def test_revisions_follow_the_standard() -> None:
    """ASME Y14.35: I, O, Q, S, X and Z are not used, and after Y comes AA."""
    letters = ["A"]
    while letters[-1] != "AY":
        letters.append(next_revision(letters[-1]))
    assert "".join(letters[:20]) == "ABCDEFGHJKLMNPRTUVWY" == REVISION_LETTERS
    assert letters[20:23] == ["AA", "AB", "AC"]
    assert next_revision("AY") == "BA"
    assert (next_revision("B.2"), next_revision("P3")) == ("B", "A")
    assert all(
        revision_problem(bad) for bad in ("I", "O", "Q", "S", "X", "Z", "a", "", "1", "AAA", "A.0", "A\n", "P0")
    )
    assert not any(revision_problem(good) for good in ("A", "Y", "AA", "B.1", "P", "P1", "P12"))
    assert [is_draft(r) for r in ("A", "B.1", "P", "P1")] == [False, True, False, True]
    with pytest.raises(ValueError, match="last revision"):
        next_revision("YY")
