"""Layouts that a search has found and later builds take: ``<recipe>.nests.json`` beside the recipe."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.place import Place
from pipeline.core.recipe import StoredSheet
from pipeline.core.text import quoted
from pipeline.intake.root import Files

FORMAT = 1
WHAT = "Layouts that `mouldloft build --improve` found. Without this file the parts are laid out anew."
MOST_MM = 100_000.0
Layouts = Mapping[str, tuple[StoredSheet, ...]]
"""By "variant/shop/stock"."""


def layouts_file(recipe: str | Path) -> Path:
    """Where the layouts of a recipe are kept."""
    path = Path(recipe)
    return path.with_name(f"{path.stem}.nests.json")


def read_layouts(files: Files, recipe: Path) -> tuple[Path, Layouts]:
    """The file's path, there or not, and what it holds; it is recorded with its hash when it is there.

    Raises Refused when the file can't be read as layouts.
    """
    path = files.inside(layouts_file(recipe))
    if not path.is_file():
        return path, {}
    try:
        found = json.loads(files.read(path))
        return path, _layouts(found)
    except json.JSONDecodeError as error:
        place = Place(file=files.name(path), line=error.lineno, column=error.colno)
        raise _unreadable(files, path, f"it is no JSON ({error.msg})", place) from error
    except (ValueError, RecursionError) as error:
        raise _unreadable(files, path, str(error) or "it is nested too deep") from error


def _unreadable(files: Files, path: Path, why: str, place: Place | None = None) -> Exception:
    return refuse(
        f"The kept layouts can't be used: {why}.",
        place=place or Place(file=files.name(path)),
        expected="the file as `mouldloft build --improve` wrote it",
        remedy="restore it, or delete it; the parts are then laid out anew",
    )


def _layouts(found: Any) -> dict[str, tuple[StoredSheet, ...]]:
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ValueError(f"it isn't of format {FORMAT}")
    layouts = found.get("layouts")
    if not isinstance(layouts, dict) or not all(isinstance(v, list) for v in layouts.values()):
        raise ValueError("`layouts` doesn't hold lists of sheets by name")
    return {name: tuple(_sheet(s, name) for s in sheets) for name, sheets in layouts.items()}


def _sheet(found: Any, name: str) -> StoredSheet:
    if not (
        isinstance(found, dict)
        and isinstance(found.get("letter"), str)
        and type(found.get("number")) is int
        and 1 <= found["number"] < 10_000
        and isinstance(found.get("parts"), list)
        and found["parts"]
    ):
        raise ValueError(f"a sheet of {quoted(name)} is not a letter, a number and a list of parts")
    return StoredSheet(
        letter=found["letter"], number=found["number"], rows=tuple(_row(r, name) for r in found["parts"])
    )


def _row(found: Any, name: str) -> tuple[str, int, int, float, float]:
    if isinstance(found, list) and len(found) == 5:
        piece, copy, turn, dx, dy = found
        numbers = all(type(v) in (int, float) and math.isfinite(v) and abs(v) < MOST_MM for v in (dx, dy))
        if isinstance(piece, str) and type(copy) is int and copy >= 1 and turn in (0, 90, 180, 270) and numbers:
            return piece, copy, int(turn), float(dx), float(dy)
    raise ValueError(f"a part of {quoted(name)} is not [piece, copy, turn, x, y]")


def write_layouts(path: Path, layouts: Layouts) -> None:
    """Replaces the file in one step; the same layouts give the same bytes. Raises OSError."""
    found = {
        "format": FORMAT,
        "what": WHAT,
        "units": "mm",
        "layouts": {
            name: [{"letter": s.letter, "number": s.number, "parts": [list(r) for r in s.rows]} for s in sheets]
            for name, sheets in sorted(layouts.items())
        },
    }
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        beside.write_text(_text(found), encoding="utf-8", newline="\n")
        os.replace(beside, path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise


def _text(found: Mapping[str, Any]) -> str:
    """JSON with a part in a line, so that a change of one shows as one."""
    text = json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False)
    lines: list[str] = []
    for line in text.split("\n"):
        bare = line.strip()
        deep = len(line) - len(line.lstrip())
        if deep >= 6 or (deep == 5 and bare.startswith("]")):
            lines[-1] += (" " if lines[-1].endswith(",") else "") + bare
        else:
            lines.append(line)
    return "\n".join(lines) + "\n"
