"""The store may lose anything at any time; what it gives is what was put."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.graph.codec import signed
from pipeline.graph.store import Store, pruned

KEY = signed(b"a key")
DAY = 24 * 3600.0


def entry(store: Store, key: str = KEY) -> Path:
    return Path(store._path(key))


def test_what_was_put_is_given(tmp_path: Path):
    store = Store(tmp_path)
    assert store.get(KEY) is None
    store.put(KEY, b"held")
    assert store.get(KEY) == b"held"
    assert Store(tmp_path).get(KEY) == b"held"
    store.put(KEY, b"anew")
    assert Store(tmp_path).get(KEY) == b"anew"
    store.put(KEY, b"")
    assert store.get(KEY) == b""


@pytest.mark.parametrize("at", range(0, 24))
def test_a_damaged_entry_is_no_entry_and_may_be_put_again(tmp_path: Path, at: int):
    store = Store(tmp_path)
    store.put(KEY, b"held")
    data = bytearray(entry(store).read_bytes())
    assert len(data) == 24
    data[at] ^= 1
    entry(store).write_bytes(data)
    assert store.get(KEY) is None
    assert not store.has(KEY)
    store.put(KEY, b"held")
    assert store.get(KEY) == b"held"


def test_an_entry_in_the_place_of_another_is_no_entry(tmp_path: Path):
    store, other = Store(tmp_path), signed(b"other")
    store.put(KEY, b"held")
    store.put(other, b"of another")
    entry(store).write_bytes(entry(store, other).read_bytes())
    assert store.get(KEY) is None
    assert store.get(other) == b"of another"


@pytest.mark.parametrize("length", range(0, 24))
def test_a_half_written_entry_is_no_entry(tmp_path: Path, length: int):
    store = Store(tmp_path)
    store.put(KEY, b"held")
    entry(store).write_bytes(entry(store).read_bytes()[:length])
    assert store.get(KEY) is None


def test_a_folder_that_takes_no_writing_keeps_nothing_and_says_nothing(tmp_path: Path):
    (tmp_path / ".mouldloft").write_text("a file where the folder should be")
    store = Store(tmp_path)
    store.put(KEY, b"held")
    assert store.get(KEY) is None
    assert not store.has(KEY)
    store.close()
    assert store.prune() == (0, 0)


def test_a_fresh_store_shows_its_own_alone(tmp_path: Path):
    Store(tmp_path).put(KEY, b"of another run")
    fresh = Store(tmp_path, fresh=True)
    assert fresh.get(KEY) is None
    assert not fresh.has(KEY)
    fresh.put(KEY, b"own")
    assert fresh.get(KEY) == b"own"
    assert fresh.has(KEY)


def test_undoing_drops_what_this_one_put(tmp_path: Path):
    other = signed(b"other")
    Store(tmp_path).put(other, b"stays")
    store = Store(tmp_path)
    store.put(KEY, b"goes")
    store.undo()
    assert store.get(KEY) is None
    assert store.get(other) == b"stays"


def keys(n: int) -> list[str]:
    return [signed(b"%d" % k) for k in range(n)]


def aged(store: Store, key: str, days: float) -> None:
    then = time.time() - days * DAY
    os.utime(entry(store, key), (then, then))


def test_it_is_bounded_and_what_was_used_longest_ago_goes_first(tmp_path: Path):
    store = Store(tmp_path, most_bytes=10_000)
    for k, key in enumerate(keys(30)):
        store.put(key, b"x" * 980)
        aged(store, key, 30 - k)
    assert store.get(keys(30)[0]) is not None  # asked for today
    store.close()
    left = [key for key in keys(30) if store.has(key)]
    assert left == [keys(30)[0], *keys(30)[24:]]
    assert sum(entry(store, key).stat().st_size for key in left) <= 10_000


def test_closing_looks_at_the_folder_only_when_enough_has_been_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    looks: list[int] = []
    real = Store.prune
    monkeypatch.setattr(Store, "prune", lambda self, **how: looks.append(1) or real(self, **how))
    for key in keys(20):
        store = Store(tmp_path, most_bytes=100_000)
        store.put(key, b"x" * 2980)
        store.close()
    assert 2 <= len(looks) <= 4  # at first, and then for each quarter of the bound
    Store(tmp_path).close()
    assert len(looks) <= 4


def test_pruning_drops_the_unused_and_records_of_recipes_that_are_gone(tmp_path: Path):
    from pipeline.graph import stale
    from pipeline.graph.run import Run

    out = tmp_path / "out"
    store = Store(out)
    old, new = keys(2)
    for key, days in ((old, 100.0), (new, 1.0)):
        store.put(key, b"held")
        aged(store, key, days)
    here, gone = tmp_path / "here.yaml", tmp_path / "gone.yaml"
    for recipe in (here, gone):
        recipe.write_text("design: wren\n")
        made = stale.record(
            out=str(out), recipe=str(recipe), options={}, inputs={}, outputs=[], exit_code=0, run=Run()
        )
        stale.write(stale.record_file(str(out), str(recipe)), made)
    gone.unlink()
    said = pruned(out)
    assert "lost 1 entries" in said
    assert "1 records" in said
    assert (store.has(old), store.has(new)) == (False, True)
    assert [p.name.split("-")[0] for p in (out / ".mouldloft").glob("*.json")] == ["here"]


def test_a_clock_that_goes_backwards_changes_nothing_that_is_read(tmp_path: Path):
    store = Store(tmp_path)
    store.put(KEY, b"held")
    aged(store, KEY, -400)
    assert store.get(KEY) == b"held"
    store.prune(unused_s=DAY)
    assert store.get(KEY) == b"held"


WRITER = """
import sys
from pipeline.graph.codec import signed
from pipeline.graph.store import Store
store = Store(sys.argv[1], most_bytes=40_000)
for n in range(300):
    key = signed(b"%d" % (n % 40))
    held = store.get(key)
    assert held is None or held == b"%d" % (n % 40) * 400, "something else was given"
    store.put(key, b"%d" % (n % 40) * 400)
    if n % 20 == 0:
        store.close()
"""


def test_runs_at_the_same_time_share_a_store(tmp_path: Path):
    """Three processes read, write and tidy up the same few entries."""
    root = Path(__file__).parents[2]
    runs = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path)], env=os.environ | {"PYTHONPATH": str(root)})
        for _ in range(3)
    ]
    assert [run.wait() for run in runs] == [0, 0, 0]
