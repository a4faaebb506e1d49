"""One function says why a recipe is stale; a quiet run touches nothing."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pipeline.graph import stale
from pipeline.graph.run import Run

OPTIONS = {"tolerance": 0.005, "jobs": 1}
SETTLED = 1_700_000_000_000_000_000


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project with one recipe, a drawing, a packet of two files and the record of its build."""
    monkeypatch.chdir(tmp_path)
    for name, text in (("wren.yaml", "design: wren"), ("wren.svg", "<svg/>"), ("out/wren/a.dxf", "0")):
        put(tmp_path / name, text)
    put(tmp_path / "out/wren/packet.json", "{}")
    build(tmp_path)
    return tmp_path


def put(path: Path, text: str, at_ns: int = SETTLED) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    os.utime(path, ns=(at_ns, at_ns))


def back_in_time(path: Path, text: str) -> None:
    """Edit a file and give it the time it had, as `touch -r` does, or a clock that was put back."""
    before = path.stat()
    while path.stat().st_ctime_ns == before.st_ctime_ns:  # the disk's clock may tick slowly
        put(path, text, before.st_mtime_ns)
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (before.st_size, before.st_mtime_ns)


def build(root: Path, said: tuple[str, ...] = ("no shop named",)) -> dict[str, Any]:
    recipe = str(root / "wren.yaml")
    made = stale.record(
        out=str(root / "out"),
        recipe=recipe,
        options=OPTIONS,
        inputs={
            str(root / n): hashlib.sha256((root / n).read_bytes()).hexdigest() for n in ("wren.yaml", "wren.svg")
        },
        absent=[str(root / "wren.made.yaml")],
        outputs=["wren/a.dxf", "wren/packet.json"],
        exit_code=1,
        said=said,
        run=Run(),
    )
    stale.write(stale.record_file(str(root / "out"), recipe), made)
    return made


def look(root: Path, options: dict[str, Any] = OPTIONS, recipe: str = "wren.yaml", run: Run | None = None) -> Any:
    return stale.look(out=str(root / "out"), recipe=str(root / recipe), options=options, run=run or Run())


def file_of(root: Path) -> Path:
    return Path(stale.record_file(str(root / "out"), str(root / "wren.yaml")))


def edit_record(root: Path, change: Callable[[dict[str, Any]], object]) -> None:
    data = json.loads(file_of(root).read_text())
    change(data)
    file_of(root).write_text(json.dumps(data))


def test_nothing_changed_nothing_to_do(bench: Path):
    before = file_of(bench).stat().st_mtime_ns, sorted(os.listdir(bench / "out/.mouldloft"))
    why, last = look(bench)
    assert why == ()
    assert (last["exit_code"], last["said"]) == (1, ["no shop named"])
    assert (file_of(bench).stat().st_mtime_ns, sorted(os.listdir(bench / "out/.mouldloft"))) == before


REASONS: dict[str, tuple[Callable[[Path], object], tuple[str, ...]]] = {
    "an edited drawing": (
        lambda r: put(r / "wren.svg", "<svg> </svg>", SETTLED + 1),
        ("wren.svg has changed.",),
    ),
    "an edit that keeps the size": (
        lambda r: put(r / "wren.yaml", "design: wern", SETTLED + 1),
        ("wren.yaml has changed.",),
    ),
    "an edit that keeps size and time": (
        lambda r: back_in_time(r / "wren.svg", "<SVG/>"),
        ("wren.svg has changed.",),
    ),
    "a drawing that is gone": (lambda r: (r / "wren.svg").unlink(), ("wren.svg is gone.",)),
    "a made register that wasn't there": (
        lambda r: put(r / "wren.made.yaml", "issued: []"),
        ("wren.made.yaml is new.",),
    ),
    "a shop file edited by hand": (
        lambda r: put(r / "out/wren/a.dxf", "1", SETTLED + 1),
        ("out/wren/a.dxf was changed since the last build.",),
    ),
    "a packet that was thrown away": (
        lambda r: [(r / "out/wren" / n).unlink() for n in ("a.dxf", "packet.json")],
        ("out/wren/a.dxf and one more file of the packet are gone since the last build.",),
    ),
    "no record": (lambda r: file_of(r).unlink(), ("It has not been built here before.",)),
    "a record cut short": (
        lambda r: file_of(r).write_text(file_of(r).read_text()[:80]),
        ("The record of the last build, out/.mouldloft/{name}, is damaged.",),
    ),
    "a record that isn't text": (
        lambda r: file_of(r).write_bytes(b"\xff\xfe\x00"),
        ("The record of the last build, out/.mouldloft/{name}, is damaged.",),
    ),
    "a record of another shape": (
        lambda r: edit_record(r, lambda d: d.update(inputs=[["a"]])),
        ("The record of the last build, out/.mouldloft/{name}, is damaged.",),
    ),
    "an old record": (
        lambda r: edit_record(r, lambda d: d.update(format=0)),
        ("The record of the last build was written by another version of mouldloft.",),
    ),
    "another recipe's record": (
        lambda r: edit_record(r, lambda d: d.update(recipe=str(r / "owl.yaml"))),
        ("The last build was of another recipe, owl.yaml.",),
    ),
    "another library": (
        lambda r: edit_record(r, lambda d: d["tool"]["libraries"].update(shapely="1.8.0")),
        ("shapely is {shapely} now; it was 1.8.0.",),
    ),
    "another mouldloft": (
        lambda r: edit_record(r, lambda d: d["tool"].update(files="", bytes="")),
        ("mouldloft itself has changed since.",),
    ),
    "several at once": (
        lambda r: [(r / "wren.svg").unlink(), (r / "out/wren/a.dxf").unlink()],
        ("wren.svg is gone.", "out/wren/a.dxf is gone since the last build."),
    ),
}


@pytest.mark.parametrize("case", REASONS)
def test_each_reason_has_its_sentence(bench: Path, case: str):
    change, expected = REASONS[case]
    change(bench)
    why, _ = look(bench)
    fill = {"name": file_of(bench).name, "shapely": Run().libraries["shapely"]}
    assert why == tuple(s.format(**fill) for s in expected)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"tolerance": 0.01, "jobs": 1}, "The option tolerance is 0.01 now; it was 0.005."),
        ({"tolerance": 0.005}, "The option jobs was given last time."),
        ({**OPTIONS, "only": ["a"]}, "The option only was not given last time."),
    ],
)
def test_options_count(bench: Path, options: dict[str, Any], said: str):
    assert look(bench, options)[0] == (said,)


def test_a_touched_but_equal_file_is_clean_and_learnt(bench: Path):
    put(bench / "wren.svg", "<svg/>", SETTLED + 5_000_000_000)
    run = Run()
    assert look(bench, run=run)[0] == ()
    assert run._hashes  # it had to be read this time …
    run = Run()
    assert look(bench, run=run)[0] == ()
    assert not run._hashes  # … and not again


def test_a_touched_source_of_our_own_is_clean_and_learnt(bench: Path):
    edit_record(bench, lambda d: d["tool"].update(files="of another checkout"))
    assert look(bench)[0] == ()
    assert json.loads(file_of(bench).read_text())["tool"]["files"] == Run().files


def test_a_file_changed_within_the_clock_s_grain_is_seen(bench: Path):
    """Same size, same time, other bytes: only a young time in the record could hide it."""
    now = (bench / "wren.svg").stat().st_mtime_ns
    (bench / "wren.svg").write_text("<svg/>")  # its time is now
    build(bench)
    young = (bench / "wren.svg").stat().st_mtime_ns
    assert young > now
    put(bench / "wren.svg", "<gvs/>", young)
    assert look(bench)[0] == ("wren.svg has changed.",)


def test_a_file_changed_while_it_was_built_is_stale(bench: Path):
    recipe = str(bench / "wren.yaml")
    made = stale.record(
        out=str(bench / "out"),
        recipe=recipe,
        options=OPTIONS,
        inputs={recipe: hashlib.sha256(b"what was read").hexdigest()},
        outputs=[],
        exit_code=0,
        run=Run(),
    )
    stale.write(stale.record_file(str(bench / "out"), recipe), made)
    assert look(bench)[0] == ("wren.yaml has changed.",)


def test_a_copied_project_is_not_taken_for_the_first(bench: Path):
    """A record speaks of absolute inputs, so a copy beside it has to be built for itself."""
    other = bench / "copy"
    put(other / "wren.yaml", "design: wren")
    os.rename(bench / "out", other / "out")
    why, last = look(other)
    assert (why, last) == (("It has not been built here before.",), None)


def test_a_failed_write_leaves_the_old_record(bench: Path, monkeypatch: pytest.MonkeyPatch):
    before = file_of(bench).read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(stale.json, "dump", full)
    with pytest.raises(OSError, match="No space"):
        build(bench)
    assert file_of(bench).read_bytes() == before
    assert os.listdir(bench / "out/.mouldloft") == [file_of(bench).name]


def test_versions_are_the_installed_ones():
    from importlib.metadata import version

    found = dict(Run().libraries)
    assert found.pop("python") == ".".join(map(str, sys.version_info[:3]))
    assert found == {name: version(name) for name in found}
    assert {"numpy", "shapely", "ezdxf", "reportlab"} <= set(found)


def test_a_change_of_any_source_file_is_seen(tmp_path: Path):
    """On a copy of the package: an edit that keeps the size and the time is still seen by the bytes."""
    import shutil

    root = Path(stale.__file__).parents[1]
    shutil.copytree(root, tmp_path / "pipeline", ignore=shutil.ignore_patterns("__pycache__"))
    code = "from pipeline.graph.run import Run; r = Run(); print(r.files, r.bytes)"

    def signs() -> list[str]:
        done = subprocess.run(
            [sys.executable, "-B", "-c", code], cwd=tmp_path, capture_output=True, check=True, text=True
        )
        return done.stdout.split()

    first = signs()
    target = tmp_path / "pipeline/steps/values.py"
    at = target.stat().st_mtime_ns
    put(target, target.read_text().replace("frozen", "frozed"), at)
    assert signs()[0] == first[0]
    assert signs()[1] != first[1]
    os.utime(target, ns=(at + 1, at + 1))
    assert signs()[0] != first[0]


def test_a_look_imports_nothing_heavy(bench: Path):
    code = f"""
import sys
bare = set(sys.modules)
from pipeline.graph import stale
from pipeline.graph.run import Run
out, recipe, options = {str(bench / "out")!r}, {str(bench / "wren.yaml")!r}, {OPTIONS!r}
assert stale.look(out=out, recipe=recipe, options=options, run=Run())[0] == ()
heavy = "numpy shapely ezdxf yaml networkx reportlab pathlib dataclasses hashlib inspect".split()
assert not [m for m in heavy if m in sys.modules and m not in bare]
"""
    root = str(Path(stale.__file__).parents[2])
    subprocess.run([sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": root}, check=True)
