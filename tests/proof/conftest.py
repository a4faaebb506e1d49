"""What the tests of the proof share."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import pytest

from pipeline.proof.dxf import read_dxf
from pipeline.proof.svg import read_svg


@pytest.fixture(scope="session", autouse=True)
def read_once() -> Iterator[None]:
    """Files that a test leaves alone needn't be taken apart again: reading is a function of the bytes alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.proof.one_file.read_dxf", lru_cache(256)(read_dxf))
        patch.setattr("pipeline.proof.twin.read_svg", lru_cache(256)(read_svg))
        yield
