"""Starter folders: a small recipe, its drawing and the blank shop profile, ready to build and to change."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from pipeline.core.errors import refuse

STARTERS = ("instrument", "lamp", "templates", "board")


def make_starter(folder: Path, starter: str) -> list[str]:
    """Write a starter into ``folder`` (made when absent, refused when not empty); the paths written.

    Raises Refused, and OSError when the disk fails.
    """
    if starter not in STARTERS:
        raise refuse(f"There is no starter called {starter}.", expected=", ".join(STARTERS))
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise refuse(
            f"{folder.as_posix()} exists already and is not an empty folder.",
            remedy="name a new folder, so that nothing of yours is overwritten",
        )
    data = resources.files("pipeline") / "data" / "starters"
    written: list[str] = []
    for source, target in (
        (f"{starter}.yaml", f"configs/recipes/{starter}.yaml"),
        (f"{starter}.svg", f"drawings/{starter}.svg"),
        ("blank.yaml", "configs/shops/blank.yaml"),
    ):
        path = folder / target
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes((data / source).read_bytes())
        written.append(path.as_posix())
    return written
