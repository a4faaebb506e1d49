"""The import rule of DEVELOPERS.md: a room imports only from those above it; nothing heavy too early."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "pipeline"
ROOMS = ("core", "geometry", "steps", "intake", "graph", "workshop", "checks", "packet", "proof", "compare")
LIGHT = ("pipeline.core.errors", "pipeline.core.place", "pipeline.graph.stale", "pipeline.cli")
HEAVY = ("numpy", "shapely", "ezdxf", "reportlab", "yaml", "networkx", "svgelements", "xlsxwriter")


def imported(path: Path, *, at_once: bool) -> Iterator[tuple[int, str]]:
    """(line, module) of every import of a file; ``at_once``: only those that run when it is imported."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inside = {id(n) for f in ast.walk(tree) if isinstance(f, ast.FunctionDef) for n in ast.walk(f)}
    typed = {
        id(n)
        for test in ast.walk(tree)
        if isinstance(test, ast.If) and "TYPE_CHECKING" in ast.unparse(test.test)
        for n in ast.walk(test)
    }
    for node in ast.walk(tree):
        if at_once and id(node) in inside | typed:
            continue
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path.name}:{node.lineno}: write the whole name of what is imported"
            yield node.lineno, node.module or ""
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)


def room_of(module: str) -> str:
    """The room of a module of ours; the module's own name when it lies above the rooms."""
    return module.split(".")[1] if module.startswith("pipeline.") else ""


def files(room: str) -> list[Path]:
    return sorted((PACKAGE / room).rglob("*.py"))


def test_the_rooms_are_those_of_the_page():
    """The list here is the table in DEVELOPERS.md, and the folders are the list."""
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert tuple(re.findall(r"^\| `(\w+)/` \|", page, flags=re.M)) == ROOMS
    folders = {p.name for p in PACKAGE.iterdir() if (p / "__init__.py").is_file()}
    assert folders == set(ROOMS)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_only_from_those_above_it(room: str):
    allowed = ROOMS[: ROOMS.index(room) + 1]
    wrong = [
        f"{path.relative_to(ROOT)}:{line}: {module}"
        for path in files(room)
        for line, module in imported(path, at_once=False)
        if module.startswith("pipeline.") and room_of(module) not in allowed
    ]
    assert files(room)
    assert wrong == []


@pytest.mark.parametrize("module", LIGHT)
def test_nothing_heavy_is_imported_at_once(module: str):
    """By reading: neither the module itself nor any of ours that it imports at once."""
    seen: set[str] = set()
    todo = [module]
    while todo:
        name = todo.pop()
        path = PACKAGE.parent / (name.replace(".", "/") + ".py")
        if not path.is_file():
            path = PACKAGE.parent / name.replace(".", "/") / "__init__.py"
        if name in seen or not path.is_file():
            continue
        seen.add(name)
        for line, found in imported(path, at_once=True):
            assert found.split(".")[0] not in HEAVY, f"{path.relative_to(ROOT)}:{line} imports {found}"
            if found.startswith("pipeline"):
                todo.append(found)
    assert module in seen


def test_nothing_heavy_is_loaded_in_fact():
    """By running: after importing all the light modules none of the heavy ones is there."""
    code = f"import sys, {', '.join(LIGHT)}; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
        text=True,
    )
    assert done.stdout.strip() == "[]"
