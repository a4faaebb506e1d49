"""Which of our own sources a piece of work reaches."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from pipeline.graph import code
from pipeline.graph.code import PACKAGE, Code
from pipeline.graph.run import Run
from pipeline.steps.registry import KINDS

MAKERS = sorted({k.maker.partition(":")[0] for k in KINDS.values()})


def parsed(path: Path) -> set[str]:
    """Modules of ours that a file imports, by the parser; what stands under TYPE_CHECKING left out."""
    found: set[str] = set()

    def walk(node: ast.AST) -> None:
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            return
        if isinstance(node, ast.Import):
            found.update(a.name for a in node.names)
        elif isinstance(node, ast.ImportFrom):
            found.add(node.module or "")
            found.update(f"{node.module}.{a.name}" for a in node.names)
        if isinstance(node, ast.expr):
            return  # no import stands in one
        for inner in ast.iter_child_nodes(node):
            walk(inner)

    walk(ast.parse(path.read_text(encoding="utf-8")))
    return {m for m in found if code._is_module(m)}


def test_reading_line_by_line_finds_what_the_parser_finds():
    for path in sorted(PACKAGE.rglob("*.py")):
        assert set(code._imported(path)) == parsed(path), path.name


@pytest.mark.parametrize("maker", MAKERS)
def test_a_step_reaches_no_check_writer_or_reader(maker: str):
    """An edit of a check, a writer or of the recipe's reader makes no geometry stale."""
    rooms = {m.split(".")[1] for m in Code(Run()).reached((maker,)) if m.count(".")}
    assert rooms <= {"core", "geometry", "steps"}


@pytest.mark.parametrize("maker", MAKERS)
def test_nothing_that_a_step_reaches_imports_by_a_name_made_at_run_time(maker: str):
    """Such an import would escape; the registry has one, and no step's work may reach that."""
    for module in Code(Run()).reached((maker,)):
        text = code._file(module).read_text(encoding="utf-8")
        assert not [word for word in ("import_module", "__import__") if word in text], module


def changed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, module: str, version_of: str) -> bool:
    """Whether a line more in one module changes the version of another."""
    before = Code(Run()).version(version_of)
    file = code._file(module)
    copy = tmp_path / "changed.py"
    copy.write_text(file.read_text(encoding="utf-8") + "\n# a line\n")
    real = code._file
    monkeypatch.setattr(code, "_file", lambda m: copy if m == module else real(m))
    return Code(Run()).version(version_of) != before


@pytest.mark.parametrize(
    ("module", "counts"),
    [
        ("pipeline.steps.stack_make", True),
        ("pipeline.geometry.offset", True),
        ("pipeline.steps.values", True),
        ("pipeline.steps.gauges_make", False),
        ("pipeline.checks.tool_reach", False),
        ("pipeline.packet.report", False),
        ("pipeline.intake.recipe", False),
    ],
)
def test_an_edit_of_a_source_counts_where_it_is_reached(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, module: str, counts: bool
):
    assert changed(monkeypatch, tmp_path, module, "pipeline.steps.stack_make") is counts


def test_versions_are_kept_until_our_files_change():
    first = Code(Run())
    version = first.version(*MAKERS[:2])
    assert first.changed
    again = Code(Run(), first.kept())
    assert again.version(*MAKERS[:2]) == version
    assert not again.changed
    assert Code(Run(), first.kept().replace(b"known", b"nkown"))._known == {}
    assert Code(Run(), first.kept()[:-9])._known == {}
    moved = first.kept().replace(Run().files.encode(), b"other files")
    assert Code(Run(), moved)._known == {}


def test_while_our_files_are_being_replaced_no_version_is_like_another(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(code, "moved", lambda: True)
    assert Code(Run()).version(MAKERS[0]) != Code(Run()).version(MAKERS[0])


def test_libraries_count(monkeypatch: pytest.MonkeyPatch):
    run = Run()
    before = Code(Run()).version(MAKERS[0])
    monkeypatch.setattr(run, "_libraries", run.libraries | {"numpy": "9.9"})
    assert Code(run).version(MAKERS[0]) != before
