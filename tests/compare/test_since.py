"""Revisions: what a letter means stays, and each label says when its piece last changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.compare.since import Settled
from pipeline.core.errors import Refused
from pipeline.intake.made import read_made
from pipeline.intake.recipe import read_recipe
from pipeline.packet.issue import issue_packet
from pipeline.packet.letter import letter_text
from pipeline.packet.shop_files import shop_files
from pipeline.packet.shop_sheet_facts import pages
from pipeline.packet.shop_sheet_seen import shown
from pipeline.proof import prove
from pipeline.workshop.nest import nests
from tests.compare import factory as f

MOVED = ("centre: [-30, -45]", "centre: [-28, -45]")
THINGS = ("bush_guide", "wide_guide", "blank-1", "blank-2", "blank-3", "blank-4", "blank (glued)")


def put(home: Path, edits: f.Edits = (), *, revision: str) -> Settled:
    """Body W as edited and lettered, its packet in ``out/``."""
    path = f.body_w(home, edits, revision=revision)
    made = f.settled_of(path)
    shutil.rmtree(home / "out" / "body-w", ignore_errors=True)
    f.written(home / "out" / "body-w", made.derived, made.since)
    return made


def issue(home: Path) -> None:
    issue_packet(home / "out" / "body-w", read_recipe(str(home / "body-w.yaml")))


def labels(made: Settled) -> dict[str, str]:
    """The first line of each piece's engraved words."""
    return {
        p.name: next(v.text for s in p.set_ups for v in s.labels if v.engrave and "BODY-W" in v.text)
        for p in made.derived.pieces
        if any(s.labels for s in p.set_ups)
    }


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A project whose revision A went out."""
    home = tmp_path / "w"
    first = put(home, revision="A")
    assert set(first.since.values()) == {"A"}
    issue(home)
    return home


def test_nothing_changed_but_the_letter(home: Path) -> None:
    """All since A, labels too; file names and legend say B; the proof checks each against its own."""
    made = put(home, revision="B")
    assert made.since == dict.fromkeys(THINGS, "A")
    assert labels(made) == {"bush_guide": "BODY-W BUSH GUIDE A", "wide_guide": "BODY-W WIDE GUIDE A"}
    shop = home / "out/body-w/shops/router"
    names = sorted(p.name for p in shop.glob("*.dxf"))
    assert all(n.startswith("body-w-B_") for n in names)
    assert "revision B" in (shop / "body-w-B_bush_guide_mdf_x1.dxf").read_text(encoding="utf-8")
    proof = prove(home / "out/body-w", made.derived, nests(made.derived)[0])
    assert proof.ok, proof.findings


def test_what_moved_has_the_new_letter(home: Path) -> None:
    """Control 2 along: its template and three laminations are of B, all else is as it was."""
    made = put(home, [MOVED], revision="B")
    changed = ("wide_guide", "blank-1", "blank-2", "blank-3")
    assert made.since == {n: "B" if n in changed else "A" for n in THINGS}
    assert labels(made) == {"bush_guide": "BODY-W BUSH GUIDE A", "wide_guide": "BODY-W WIDE GUIDE B"}
    assert made.findings == ()


def test_the_proof_finds_a_label_with_another_letter(home: Path) -> None:
    """A template that didn't change, engraved with the packet's letter in place of its own."""
    made = put(home, [MOVED], revision="B")
    good = home / "out/body-w/shops/router/body-w-B_bush_guide_mdf_x1.dxf"
    wrong = f.settled_of(f.body_w(home.parent / "alone", [MOVED], revision="B"))  # never issued there: all of B
    f.written(home.parent / "alone/out", wrong.derived)
    shutil.copy(home.parent / "alone/out/shops/router" / good.name, good)
    proof = prove(home / "out/body-w", made.derived, nests(made.derived)[0])
    assert not proof.ok
    assert {v.piece for v in proof.findings} == {"bush_guide"}
    assert all("BODY-W BUSH GUIDE A" in v.message or ".svg" in v.message for v in proof.findings)


def test_the_shop_is_told_what_need_not_be_programmed_again(home: Path) -> None:
    """Letter and shop sheets list files since A, the glued blank's among them."""
    made = put(home, [MOVED], revision="B")
    laid, _ = nests(made.derived)
    files = shop_files(made.derived, laid)
    letter = " ".join(letter_text(made.derived, files, laid, (), held=False, since=made.since).split())
    assert "New or changed with revision B: blank-1, blank-2, blank-3, wide_guide." in letter
    assert "Not changed since revision A: bush_guide, blank-4, blank. No need to program these again." in letter
    seen = shown(made.derived, files, laid)
    told = {p.heading: p.revision[0] for p in pages(made.derived, seen, files, (), held=False, since=made.since)}
    assert told["Glued blank: blank"] == (
        "Revision B. This file is unchanged since A: no need to program it again."
    )
    assert told["blank-1"] == "Revision B. This file is new or changed with it."


def test_a_letter_never_means_two_things(home: Path) -> None:
    """Edited under the letter that went out: held, and told with the next letter; a draft of it builds freely."""
    (found,) = put(home, [MOVED], revision="A").findings
    assert (found.check, found.severity, found.measured) == ("revision-issued", "stop", 4.0)
    assert "blank-1, blank-2, blank-3, wide_guide" in found.message
    assert found.fix == (("revision", "B"),)
    assert found.place is not None
    assert found.place.line
    with pytest.raises(Refused, match="went out with other cut files"):
        issue(home)
    assert put(home, [MOVED], revision="B.1").findings == ()
    assert put(home, [MOVED], revision="P1").findings == ()
    assert put(home, revision="A").findings == ()


def test_an_earlier_letter_stays_what_it_was(home: Path) -> None:
    """B went out with another control; going back to A is fine with A's shape alone."""
    put(home, [MOVED], revision="B")
    issue(home)
    assert put(home, revision="A").findings == ()
    (found,) = put(home, [MOVED], revision="A").findings
    assert found.check == "revision-issued"


def test_since_is_carried_on_over_letters(home: Path) -> None:
    """What B did not change is still since A when C is built, and what it did is since B."""
    put(home, [MOVED], revision="B")
    issue(home)
    made = put(home, [MOVED, ("margin: 90", "margin: 95")], revision="C")
    assert made.since == {
        "bush_guide": "A", "wide_guide": "C", "blank-1": "B", "blank-2": "B", "blank-3": "B", "blank-4": "A",
        "blank (glued)": "A",
    }  # fmt: skip
    issued = read_made(home / "body-w.made.yaml").issued
    assert [(i.revision, i.blanks) for i in issued] == [("A", {"blank": "A"}), ("B", {"blank": "A"})]


def test_more_of_the_same_is_no_change(home: Path) -> None:
    """Four in place of one: the pieces are the same, and so are the programs."""
    made = put(home, [("title: Body W", "title: Body W\nmake: 4")], revision="B")
    assert made.since == dict.fromkeys(THINGS, "A")


def test_the_blank_has_a_letter_of_its_own(home: Path) -> None:
    """A longer outline is another perimeter of the glued blank, too."""
    path = f.body_w(home, outline=f.hull(x=191.0), revision="B")
    made = f.settled_of(path)
    assert made.since == {n: "A" if n == "wide_guide" else "B" for n in THINGS}


def test_every_doubt_gives_the_present_letter(home: Path) -> None:
    """The copy that was issued is gone, or damaged."""
    file = next((home / "issued/body-w-A/shops/router").glob("*bush_guide*.dxf"))
    file.write_text("0\nSECTION\n", encoding="utf-8")
    assert set(put(home, revision="B").since.values()) == {"B"}
    shutil.rmtree(home / "issued")
    made = put(home, revision="B")
    assert set(made.since.values()) == {"B"}
    assert labels(made)["bush_guide"].endswith(" B")
