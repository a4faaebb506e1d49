"""Every spoiled packet is caught by what its files hold; every harmless rewriting passes."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from pipeline.proof import Proof, prove
from tests.proof.tampered import HARMLESS, SPOILERS, Files, Spoiler, written


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> tuple[Files, Any]:
    return written(tmp_path_factory.mktemp("good"))


def proved(good: tuple[Files, Any], change: Spoiler | None, folder: Path) -> Proof:
    """What the proof says of the packet after a change, with archives and hashes made to fit it."""
    files = copy.deepcopy(good[0])
    if change is not None:
        change(files)
    files.refreshed()
    files.put_into(folder)
    return prove(folder, *good[1])


def test_the_packet_itself_is_proved(good: tuple[Files, Any], tmp_path: Path) -> None:
    assert proved(good, None, tmp_path).findings == ()


def test_there_are_enough_of_both() -> None:
    assert len({f.__name__ for f, _, _ in SPOILERS}) == len(SPOILERS) >= 40
    assert len({f.__name__ for f in HARMLESS}) == len(HARMLESS) >= 10


@pytest.mark.parametrize(("spoil", "file", "says"), SPOILERS, ids=[f.__name__ for f, _, _ in SPOILERS])
def test_a_spoiled_packet_is_caught(
    good: tuple[Files, Any], tmp_path: Path, spoil: Spoiler, file: str, says: str
) -> None:
    """Told of the file that was changed, in the words that belong to the fault, and as a stop."""
    findings = proved(good, spoil, tmp_path).findings
    assert findings
    assert all(f.severity == "stop" and f.check == "proof" for f in findings)
    told = [f.message for f in findings if f.place is not None and f.place.file == file]
    assert any(says in message for message in told), told or [f.message for f in findings]


@pytest.mark.parametrize("change", HARMLESS, ids=[f.__name__ for f in HARMLESS])
def test_the_same_packet_written_otherwise_passes(
    good: tuple[Files, Any], tmp_path: Path, change: Spoiler
) -> None:
    assert [f.message for f in proved(good, change, tmp_path).findings] == []
