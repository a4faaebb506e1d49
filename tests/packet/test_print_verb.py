"""`mouldloft print` as a maker types it: both hands, the back, corrected, with extras; refused in a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.cli import main

ROOT = Path(__file__).parents[2]
HERON = str(ROOT / "configs/recipes/heron.yaml")
TRAY = str(ROOT / "configs/recipes/sandpiper.yaml")


def test_both_hands_are_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """trade.md 11: at both left- and right-handed. Needs no shop and no sheets."""
    assert main(["print", HERON, "--out", str(tmp_path)]) == 0
    names = [Path(line).relative_to(tmp_path).as_posix() for line in capsys.readouterr().out.split()]
    assert names == [
        "heron.print/print/heron-B_body_A4.pdf",
        "heron-left.print/print/heron-left-B_body_A4.pdf",
    ]
    assert (tmp_path / names[0]).read_bytes() != (tmp_path / names[1]).read_bytes()


def test_all_that_can_be_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = [
        "--back",
        "--paper",
        "letter",
        "--measured",
        "199.2,200",
        "--also",
        "strip,hand",
        "--thickness",
        "16.2",
    ]
    assert main(["print", TRAY, "--out", str(tmp_path), *asked]) == 0
    names = [Path(line).name for line in capsys.readouterr().out.split()]
    assert names == [
        "sandpiper-A_tray_Letter_back_corrected.pdf",
        "sandpiper-A_tray_Letter_strip_corrected.pdf",
        "sandpiper-A_Letter_hand_corrected.pdf",
    ]
    assert all(p.read_bytes().startswith(b"%PDF-") for p in tmp_path.rglob("*.pdf"))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--paper", "A9"], 'There is no paper called "A9".'),
        (["--measured", "190,120"], "no printer is so far off"),
        (["--also", "gauges"], "has no gauges"),
        (["--also", "strip"], "--thickness 40"),
    ],
)
def test_what_cannot_be_is_refused(
    asked: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["print", TRAY, "--out", str(tmp_path), *asked]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert not told.out
    assert not list(tmp_path.rglob("*.pdf"))
