"""Issuing: what went out under a letter stays what that letter means."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.compare.since import settled
from pipeline.core.errors import Refused
from pipeline.core.recipe import By, Recipe
from pipeline.geometry.shapes import circle
from pipeline.intake.made import read_made
from pipeline.packet.exchange import begin, finish
from pipeline.packet.issue import issue_packet
from pipeline.packet.lock import locked
from pipeline.packet.shop_files import shop_files
from pipeline.packet.write import write_papers, write_record, write_shop_files
from pipeline.steps.values import Derived, Op, SetUp
from tests.packet import factory as f

KEYS = {"blank": "b" * 16, "cover": "c" * 16}


def recipe(root: Path, revision: str = "B") -> Recipe:
    return f.recipe(root=str(root), made=str(root / "heron.made.yaml"), revision=revision)


def since_of(derived: Derived) -> dict[str, str]:
    """Since when each piece is unchanged, by the register and what lies under ``issued/``."""
    return dict(settled(derived.recipe, read_made(derived.recipe.made), lambda since: derived).since)


def built(root: Path, derived: Derived, *, held: bool = False) -> Path:
    """A packet as a build leaves it, without prints and report."""
    out, nests = root / "out", (f.cover_nest(),)
    files = shop_files(derived, nests)
    since = since_of(derived)
    with locked(out, "heron"):
        stage = begin(out, "heron")
        write_shop_files(stage, files)
        write_papers(stage, derived, files, nests, (), (), (), held=False, since=since)
        write_record(stage, derived, files, (), (), {}, {}, keys=KEYS, since=since, nests=nests)
        return finish(out, "heron", held=held)


def tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_issuing_copies_the_packet_and_enters_it(tmp_path: Path) -> None:
    r = recipe(tmp_path)
    packet = built(tmp_path, f.derived(r))
    (tmp_path / "heron.made.yaml").write_text("# mine\nblanks: {blank: 23.4}  # measured\n", encoding="utf-8")
    done = issue_packet(packet, r)
    assert done.new
    assert done.folder == tmp_path / "issued" / "heron-B"
    assert tree(done.folder) == tree(packet)
    text = (tmp_path / "heron.made.yaml").read_text(encoding="utf-8")
    assert text.startswith("# mine\nblanks: {blank: 23.4}  # measured\n")
    entry = read_made(tmp_path / "heron.made.yaml").issue("B")
    assert entry == done.entry
    assert entry is not None
    assert entry.pieces == {"blank-1": "B", "cover": "B"}
    assert entry.blanks == {"blank": "B"}
    assert entry.date == "2027-03-14"
    assert set(entry.files) == set(tree(packet)) - {"packet.json"}
    assert not list(tmp_path.glob(".*.new"))


def test_issuing_twice_changes_nothing(tmp_path: Path) -> None:
    r = recipe(tmp_path)
    packet = built(tmp_path, f.derived(r))
    issue_packet(packet, r)
    before = tree(tmp_path)
    again = issue_packet(packet, r)
    assert not again.new
    assert "before" in again.sentence
    assert tree(tmp_path) == before


def moved(r: Recipe) -> Derived:
    """The same design with the cover's hole 0.1 to the right."""
    cover = f.cover(2)
    ops = (Op(work="CUT_INSIDE", face="front", contours=(circle(8.1, 8, 1.25),)), *cover.set_ups[0].ops[1:])
    changed = replace(cover, set_ups=(SetUp(face="front", ops=ops),))
    return f.derived(r, pieces=(f.lamination(), changed))


def test_a_letter_is_never_issued_with_other_cut_files(tmp_path: Path) -> None:
    r = recipe(tmp_path)
    issue_packet(built(tmp_path, f.derived(r)), r)
    packet = built(tmp_path, moved(r))
    before = tree(tmp_path)
    with pytest.raises(Refused, match="went out with other cut files") as caught:
        issue_packet(packet, r)
    assert "next letter, C" in caught.value.show()
    assert tree(tmp_path) == before
    # Also when the register was lost, and when the copy was.
    (tmp_path / "heron.made.yaml").unlink()
    with pytest.raises(Refused, match="other cut files"):
        issue_packet(packet, r)


def test_the_register_alone_remembers_a_letter(tmp_path: Path) -> None:
    r = recipe(tmp_path)
    issue_packet(built(tmp_path, f.derived(r)), r)
    shutil.rmtree(tmp_path / "issued")
    with pytest.raises(Refused, match="other cut files"):
        issue_packet(built(tmp_path, moved(r)), r)


def test_an_issue_that_was_cut_short_is_finished(tmp_path: Path) -> None:
    """The copy lies there, the register doesn't know it: the next run enters it."""
    r = recipe(tmp_path)
    packet = built(tmp_path, f.derived(r))
    issue_packet(packet, r)
    (tmp_path / "heron.made.yaml").unlink()
    assert issue_packet(packet, r).new
    assert read_made(tmp_path / "heron.made.yaml").issue("B") is not None


def test_what_can_not_be_issued(tmp_path: Path) -> None:
    """No packet, a held one, one of another revision, an old one, one changed by hand, a draft."""
    r = recipe(tmp_path)
    with pytest.raises(Refused, match="no packet"):
        issue_packet(tmp_path / "out" / "heron", r)
    packet = built(tmp_path, f.derived(r))
    with pytest.raises(Refused, match="revision C"):
        issue_packet(packet, replace(r, revision="C"))
    with pytest.raises(Refused, match="draft"):
        issue_packet(packet, replace(r, revision="B.1"))
    with pytest.raises(Refused, match="older"):
        issue_packet(packet, replace(r, inputs=(replace(r.inputs[0], sha256="f" * 64), r.inputs[1])))
    file = packet / "shops" / "router" / "heron-B_blank-1_birch12_x1.dxf"
    good = file.read_bytes()
    file.write_bytes(good + b"999\nadded\n")
    with pytest.raises(Refused, match=r"1 of the files .* changed since"):
        issue_packet(packet, r)
    file.write_bytes(good)
    built(tmp_path, f.derived(r), held=True)
    with pytest.raises(Refused, match="held back"):
        issue_packet(packet, r)
    assert not (tmp_path / "heron.made.yaml").exists()


def test_a_piece_is_unchanged_since_the_issue_it_still_equals(tmp_path: Path) -> None:
    """After an issue of B a build of C says of each piece since when it is the same; every doubt says C. What a
    fingerprint says is no matter: the files are compared."""
    b, c = recipe(tmp_path), recipe(tmp_path, "C")
    assert since_of(f.derived(b)) == {"blank-1": "B", "cover": "B", "blank (glued)": "B"}
    issue_packet(built(tmp_path, f.derived(b)), b)
    assert since_of(f.derived(c)) == {"blank-1": "B", "cover": "B", "blank (glued)": "B"}
    assert since_of(moved(c)) == {"blank-1": "B", "cover": "C", "blank (glued)": "B"}
    thicker = (replace(f.lamination(), thickness_mm=11.9), f.cover(2))
    assert since_of(f.derived(c, pieces=thicker)) == {"blank-1": "C", "cover": "B", "blank (glued)": "B"}
    shutil.rmtree(tmp_path / "issued")
    assert since_of(f.derived(c)) == {"blank-1": "C", "cover": "C", "blank (glued)": "C"}


def test_since_is_carried_on_over_letters(tmp_path: Path) -> None:
    """What B issued and C did not change is still since B when D is built."""
    b, c, d = recipe(tmp_path), recipe(tmp_path, "C"), recipe(tmp_path, "D")
    issue_packet(built(tmp_path, f.derived(b)), b)
    c = replace(c, by=By(issued="2027-05-01"))
    issue_packet(built(tmp_path, moved(c)), c)
    assert since_of(moved(d)) == {"blank-1": "B", "cover": "C", "blank (glued)": "B"}
