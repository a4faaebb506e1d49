"""Findings that the maker accepts: which way is worse, entries that say it twice or meet nothing, who."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipeline.checks.accepted import with_accepted
from pipeline.core.findings import Finding, worst_first
from pipeline.core.place import Place
from pipeline.core.recipe import Accepted, Recipe
from tests.checks import factory

WALL = Finding(
    check="wall-thin", severity="ask", message="Thin.", step="bay", piece="blank", measured=7.8, limit=10.0
)
REACH = Finding(
    check="tool-reach", severity="stop", message="Deep.", step="bay", piece="blank", measured=48.0, limit=43.0
)
OVERLAP = Finding(
    check="cavities-meet", severity="stop", message="Breaks in.", step="bay", measured=-0.5, limit=3.0
)
LEFT = Finding(check="corner-sharp", severity="ask", message="Corner.", step="bay", measured=0.8, limit=0.0)
BARE = Finding(check="part-unmeasured", severity="ask", message="Not measured.", step="bay")


def entry(of: Finding, measured: float | None, **more: str) -> Accepted:
    return Accepted(
        check=of.check, step=of.step, measured=measured, because=more.pop("because", "looked at"), **more
    )


def recipe(*entries: Accepted) -> Recipe:
    places = {f"accepted.{i}": Place(file="test.yaml", line=90 + i, column=5) for i in range(len(entries))}
    return replace(factory.recipe((), accepted=entries), places=places)


@pytest.mark.parametrize(
    ("finding", "better", "worse"),
    [(WALL, 7.9, 7.7), (OVERLAP, -0.4, -0.6), (REACH, 47.9, 48.1), (LEFT, 0.7, 0.9)],
)
def test_worse_is_the_check_s_own_way(finding: Finding, better: float, worse: float) -> None:
    """Less is worse under a limit (a wall, an overlap that goes below nothing), more over one (a depth, what a
    corner keeps). The number accepted is the finding's own; 5 µm is no change (two decimals are shown)."""
    design = recipe(entry(finding, finding.measured))

    def state(measured: float) -> bool:
        (told,) = with_accepted(design, [replace(finding, measured=measured)])
        return bool(told.accepted)

    assert finding.measured is not None
    assert state(finding.measured)
    assert state(better)
    assert not state(worse)
    assert state(finding.measured + (worse - finding.measured) * 0.04)


def test_it_says_who_and_since_when() -> None:
    (told,) = with_accepted(recipe(entry(WALL, 7.8, because="blended", since="B", by="AR")), [WALL])
    assert (told.accepted, told.accepted_by, told.accepted_since) == ("blended", "AR", "B")
    assert not replace(told, severity="stop").holds


def test_a_stop_that_got_worse_holds_again() -> None:
    """It says what was accepted, by whom and when, and what it is now."""
    (told,) = with_accepted(recipe(entry(REACH, 45.0, since="A", by="AR", because="a long cutter")), [REACH])
    assert told.holds
    assert told.message == (
        "Deep. It was accepted by AR in revision A at 45.00 mm (a long cutter) and is now 48.00, which is worse, "
        "so it is open again."
    )


def test_without_a_number_it_stays_whatever_it_measures() -> None:
    for finding in (WALL, replace(WALL, measured=0.0), BARE):
        (told,) = with_accepted(recipe(entry(finding, None)), [finding])
        assert told.accepted == "looked at"


def test_a_number_where_nothing_is_measured() -> None:
    """There is nothing to compare, so it stays accepted."""
    (told,) = with_accepted(recipe(entry(BARE, 3.0)), [BARE])
    assert told.accepted


def test_an_entry_that_meets_nothing_is_a_note_at_its_line() -> None:
    told, note = with_accepted(recipe(entry(WALL, 7.8), entry(LEFT, 0.8)), [WALL])
    assert told.accepted
    assert (note.check, note.severity, note.accepted) == ("accepted-gone", "note", "")
    assert note.place == Place(file="test.yaml", line=91, column=5)
    assert "corner-sharp of bay" in note.message


def test_two_entries_of_one_finding() -> None:
    """The first that covers it counts; the other is told, once, at its own line."""
    first, second = entry(WALL, 7.8, because="one"), entry(WALL, 5.0, because="two")
    told, note = with_accepted(recipe(first, second), [WALL])
    assert told.accepted == "one"
    assert (note.check, note.severity) == ("accepted-twice", "note")
    assert note.place is not None
    assert note.place.line == 91


def test_a_stale_entry_beside_a_good_one() -> None:
    """It is the second that covers it; the first, which doesn't, says nothing any more."""
    told, note = with_accepted(recipe(entry(WALL, 9.0, because="one"), entry(WALL, 7.0, because="two")), [WALL])
    assert told.accepted == "two"
    assert note.check == "accepted-twice"
    assert note.place is not None
    assert note.place.line == 90


def test_two_stale_entries_reopen_against_the_nearest() -> None:
    told, note = with_accepted(recipe(entry(WALL, 9.5), entry(WALL, 8.0)), [WALL])
    assert not told.accepted
    assert "accepted at 8.00 mm" in told.message
    assert note.check == "accepted-twice"


def test_two_entries_for_two_pieces_are_no_doubles() -> None:
    other = replace(WALL, piece="second", measured=5.0)
    entries = (entry(WALL, 7.8, piece="blank"), entry(WALL, 5.0, piece="second"))
    found = with_accepted(recipe(*entries), [WALL, other])
    assert [bool(f.accepted) for f in found] == [True, True]


def test_one_entry_for_many_places() -> None:
    """Every finding of that check and step is compared by itself."""
    found = with_accepted(recipe(entry(WALL, 7.0)), [WALL, replace(WALL, measured=6.0)])
    assert [bool(f.accepted) for f in found] == [True, False]


# -- worst first -----------------------------------------------------------------------------------
def test_the_farther_beyond_its_limit_the_sooner() -> None:
    """Open before accepted, stop before ask before note; then by the share of the limit: 2 of 10 is worse than 8
    of 10, and 9 where 3 is allowed is worse than 4; what has no number comes last of its kind."""
    a = replace(WALL, measured=2.0)
    b = replace(WALL, measured=8.0)
    deep, less = replace(REACH, measured=9.0, limit=3.0), replace(REACH, measured=4.0, limit=3.0)
    note = replace(WALL, measured=0.0, severity="note")
    done = replace(OVERLAP, accepted="seen")
    assert worst_first((done, note, BARE, b, less, a, deep)) == (deep, less, a, b, BARE, note, done)


def test_the_order_does_not_depend_on_the_order_given() -> None:
    found = (WALL, REACH, OVERLAP, LEFT, BARE)
    assert worst_first(found) == worst_first(found[::-1])
