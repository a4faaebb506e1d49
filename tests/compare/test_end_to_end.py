"""The whole loop through the command line: build, issue, cut, edit, build, compare."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.cli import main
from tests.compare import factory as f


@pytest.fixture(scope="module")
def loop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Body W built and issued as A; then its tail made smaller as B, with what was cut in the register, and
    built."""
    home = tmp_path_factory.mktemp("loop")
    recipe = f.body_w(home)
    out = ["--out", str(home / "out")]
    assert main(["build", str(recipe), *out]) == 0
    assert main(["issue", str(recipe), *out]) == 0
    f.body_w(home, outline=f.hull(118.0), revision="B")
    (home / "body-w.made.csv").write_text(
        "piece,revision,measured,glued,A\nbush_guide,A,9,,323.04\nwide_guide,A,9,,\nblank,A,36.15,yes,\n",
        encoding="utf-8",
    )
    assert main(["build", str(recipe), *out]) == 0
    return home


def asked(home: Path, capsys: pytest.CaptureFixture[str], old: str, new: str) -> dict:  # type: ignore[type-arg]  # JSON
    capsys.readouterr()
    assert main(["compare", str(home / old), str(home / new), "--out", str(home / "out"), "--json"]) == 0
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def test_oracle_i_through_the_command_line(loop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Real packets, their own files: 2.000 inward, 1274.6 mm² off, nothing added; the template is trimmed, the
    glued blank continues (trade.md 12.3, oracle i)."""
    found = asked(loop, capsys, "issued/body-w-A", "out/body-w")
    blank = next(p for p in found["pieces"] if p["name"] == "blank-1")
    (edge,) = blank["changes"]
    assert edge["inward_mm"] == 2.0
    assert edge["outward_mm"] == 0.0
    assert edge["added_mm2"] == 0.0
    assert edge["removed_mm2"] == pytest.approx(1274.6, abs=0.05)
    verdicts = {v["piece"]: v for v in found["recut"]}
    assert {n: v["verdict"] for n, v in verdicts.items()} == {
        "bush_guide": "trim down",
        "wide_guide": "good as is",
        "blank": "continue",
    }
    assert verdicts["bush_guide"]["mm"] == pytest.approx(2.0, abs=0.05)
    assert found["still_to_make"] == []
    page = Path(str(found["page"]))
    assert page.name == "body-w.compare.html"
    assert "<svg" in page.read_text(encoding="utf-8")


def test_a_packet_against_the_recipe_is_the_same(loop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """NEW as a recipe is derived afresh: the same changes and verdicts, and against its own packet none."""
    packet = asked(loop, capsys, "issued/body-w-A", "out/body-w")
    recipe = asked(loop, capsys, "issued/body-w-A", "body-w.yaml")
    for key in ("pieces", "order", "totals", "recut", "still_to_make"):
        assert recipe[key] == packet[key], key
    assert asked(loop, capsys, "out/body-w", "body-w.yaml")["same"] is True


def test_letter_report_and_record_say_it(loop: Path) -> None:
    """The new build's letter lists what stays valid, its report has the re-cut list, packet.json the letters."""
    letter = " ".join((loop / "out/body-w/letter.txt").read_text(encoding="utf-8").split())
    assert "bush_guide, cut from revision A: stays valid (trim down); still to make: none." in letter
    assert "the glued blank blank, cut from revision A: stays valid (continue); still to make: none." in letter
    assert "Not changed since revision A: wide_guide." in letter
    report = (loop / "out/body-w/report.html").read_text(encoding="utf-8")
    assert '<table class="recut">' in report
    found = json.loads((loop / "out/body-w/packet.json").read_text(encoding="utf-8"))
    assert {p["name"]: p["since"] for p in found["pieces"]} == {
        "bush_guide": "B", "wide_guide": "A", "blank-1": "B", "blank-2": "B", "blank-3": "B", "blank-4": "B",
    }  # fmt: skip
    assert [b["since"] for b in found["blanks"]] == ["B"]
    assert main(["proof", str(loop / "out/body-w"), "--recipe", str(loop / "body-w.yaml")]) == 0


def test_the_same_letter_again_is_held(loop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Edited under A, which went out: the build is held, `issue` refuses, and the last good packet stays."""
    home = loop / "again"
    recipe = f.body_w(home)
    out = ["--out", str(home / "out")]
    assert main(["build", str(recipe), *out]) == 0
    assert main(["issue", str(recipe), *out]) == 0
    f.body_w(home, outline=f.hull(118.0))
    capsys.readouterr()
    assert main(["build", str(recipe), *out]) == 1
    said = capsys.readouterr().err
    assert "Revision A was issued with other cut files" in said
    assert "give the design the next letter, B, or a draft of it, B.1" in said
    assert (home / "out/body-w.held/packet.json").is_file()
    assert main(["issue", str(recipe), *out]) == 2
    f.body_w(home, outline=f.hull(118.0), revision="A.1")  # a draft builds freely
    assert main(["build", str(recipe), *out]) == 0
    assert main(["issue", str(recipe), *out]) == 2
    assert "drafts are not issued" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("nowhere", "body-w.yaml", "nowhere isn't there"),
        ("body-w.yaml", "body-w.yaml", "body-w.yaml is a file"),
        ("configs", "body-w.yaml", "is no packet: it has no packet.json"),
        ("out/body-w", "configs", "is no packet: it has no packet.json"),
        ("out/body-w", "body-w.svg", "recipe"),
    ],
)
def test_what_can_not_be_compared(
    old: str, new: str, words: str, loop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence, exit code 2."""
    capsys.readouterr()
    assert main(["compare", str(loop / old), str(loop / new), "--out", str(loop / "out")]) == 2
    assert words in capsys.readouterr().err
