"""A packet's own files, read back, are the design they were made from, whatever their shop makes of them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.compare.of_design import state_of_derived
from pipeline.compare.of_packet import state_of_packet
from pipeline.compare.things import all_compared
from pipeline.core.errors import Refused
from tests.compare import factory as f
from tests.readback import CASES

NAMES = sorted(p.name for p in CASES.iterdir() if p.is_dir())

RENAMED = """
name: router
process: router
bed: [1300, 900]
dxf: R12
datum: corner
layers: {CUT_OUTSIDE: PROFILE, FRONT_CUT_INSIDE: HOLES, POCKET: AREA, TEXT: NOTES, ENGRAVE: MARKS}
cutters:
  - {DC: 6, APMX: 25, LU: 32, DMM: 6}
  - {DC: 12, APMX: 42, LU: 50, DMM: 12}
"""


@pytest.mark.parametrize("case", NAMES)
def test_what_was_written_is_read_back(case: str, tmp_path: Path) -> None:
    """Every golden design: R2010 and R12, zero at the frame, a pin, a corner; nests, both faces, a kerf in the
    lines, a laser's two files. Every line comes back where the design has it, under the same work and depth."""
    _, derived = f.of_case(case)
    there = state_of_packet(f.written(tmp_path / "p", derived))
    design = state_of_derived(derived)
    assert [t.key for t in there.things] == [t.key for t in design.things]
    for found in all_compared(there, design):
        said = [(c.what, c.state, c.at) for c in found.changed]
        assert (found.state, said, found.facts) == ("same", [], ()), found.name


def test_a_shop_with_its_own_names_and_zero(tmp_path: Path) -> None:
    """R12, its own layer names, zero at the corner: the legend in the file says what the layers mean."""
    path = f.body_w(tmp_path / "w")
    (tmp_path / "w" / "long-shop.yaml").write_text(RENAMED, encoding="utf-8")
    made = f.settled_of(path)
    folder = f.written(tmp_path / "p", made.derived)
    text = next((folder / "shops/router").glob("*blank-1*.dxf")).read_text(encoding="utf-8")
    assert "\nBACK_AREA_Z3-00\n" in text
    assert "POCKET" not in text.replace("POCKETED", "")
    plain = f.packet(f.body_w(tmp_path / "v"), tmp_path / "q")
    for found in all_compared(plain, state_of_packet(folder)):
        assert (found.state, [c.what for c in found.changed]) == ("same", []), found.name


def test_hashes_are_never_trusted(tmp_path: Path) -> None:
    """A packet.json that is only laid out anew, and one that lies about its hashes, read the same; a moved
    line in a file shows although packet.json says nothing of it."""
    path = f.body_w(tmp_path / "w")
    state = f.packet(path, tmp_path / "p")
    record = tmp_path / "p" / "packet.json"
    found = json.loads(record.read_text(encoding="utf-8"))
    for row in found["files"]:
        row["sha256"] = "0" * 64
    record.write_text(json.dumps(found), encoding="utf-8")
    assert all(t.state == "same" for t in all_compared(state, state_of_packet(tmp_path / "p")))
    file = next((tmp_path / "p/shops/router").glob("*wide_guide*.dxf"))
    text = file.read_text(encoding="utf-8")
    at = text.index("_CUT_INSIDE", text.index("ENTITIES"))
    head, tail = text[:at], text[at:]
    x = tail.split("\n 10\n")[1].split("\n")[0]  # the first vertex of the opening
    file.write_text(head + tail.replace(x, str(float(x) - 0.5), 1), encoding="utf-8")
    moved = {t.name: t for t in all_compared(state, state_of_packet(tmp_path / "p"))}
    assert moved["wide_guide"].state == "changed"
    assert moved["bush_guide"].state == "same"


def guide(packet: Path) -> Path:
    return next((packet / "shops/router").glob("*bush_guide*.dxf"))


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda p: (p / "packet.json").unlink(), "is no packet"),
        (lambda p: (p / "packet.json").write_text("{", encoding="utf-8"), "can't be read"),
        (lambda p: (p / "packet.json").write_text("{}", encoding="utf-8"), "doesn't say what a packet says"),
        (lambda p: guide(p).unlink(), "is missing in the packet"),
        (lambda p: guide(p).write_text("0\n", encoding="utf-8"), "can't be read"),
    ],
)  # fmt: skip
def test_a_damaged_packet_is_refused_in_a_sentence(damage, words: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]  # several kinds of function
    f.packet(f.body_w(tmp_path / "w"), tmp_path / "p")
    damage(tmp_path / "p")
    with pytest.raises(Refused, match=words):
        state_of_packet(tmp_path / "p")
