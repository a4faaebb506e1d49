"""Three hundred mutated recipes and drawings, end to end; `python -m tests.bench.fuzz` does twenty thousand."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc, and forks")
def test_nothing_crashes_hangs_grows_or_reaches_out_of_its_folder(tmp_path: Path) -> None:
    """The mutants are the same every time, so a fault is of the change that brought it."""
    ran = subprocess.run(
        [sys.executable, "-m", "tests.bench.fuzz", "300", "1", "2", str(tmp_path / "faults")],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout[-4000:] + ran.stderr[-2000:]
    assert "0 faults" in ran.stdout
