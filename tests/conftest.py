"""What all tests share: the golden texts and the flag that writes them anew."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

# The same examples every time: a change is to blame for a failure, not the dice. (Soaks roll them.)
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--refresh", action="store_true", help="write golden texts anew; read the difference before you commit it"
    )


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[Path, str], None]:
    """``golden(path, text)``: ``text`` must be what stands in the file ``path``, byte for byte.

    With ``--refresh`` the file is written instead. A golden that is missing fails the test.
    """
    refresh = bool(request.config.getoption("--refresh"))

    def compare(path: Path, text: str) -> None:
        if refresh:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode())
            return
        assert path.is_file(), f"{path.name} is missing; write it with --refresh and read it"
        assert text == path.read_bytes().decode()

    return compare
