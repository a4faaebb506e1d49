"""Every starter builds as it comes, through the commands a newcomer types."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.path import build
from pipeline.starters import STARTERS
from pipeline.verbs import new
from tests.readback import packet_folder, tree


@pytest.mark.parametrize("starter", STARTERS)
def test_starter_builds(starter: str, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    made = new(folder, starter=starter)
    assert sorted(made.data["files"]) == sorted((folder / n).as_posix() for n in tree(folder))
    answer = build([folder / "configs" / "recipes"], out=folder / "out")
    assert answer.exit_code == 0, answer.said
    assert answer.data["designs"][0]["state"] == "built"
    packet = packet_folder(answer.data)
    found = json.loads((packet / "packet.json").read_text(encoding="utf-8"))
    assert list(packet.rglob("*.dxf"))
    assert not [f for f in found["findings"] if f["severity"] == "stop" and not f["accepted"]]
    assert found["proof"]["worst_mm"] <= 0.005


def test_a_starter_overwrites_nothing(tmp_path: Path) -> None:
    from pipeline.core.errors import Refused

    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(Refused, match="not an empty folder"):
        new(tmp_path, starter="lamp")
    assert tree(tmp_path) == {"mine.txt": b"mine"}
