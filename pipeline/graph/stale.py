"""What the last build of a recipe was made from, and why it is no longer good.

The record of a build is one small JSON file beside the packets. It is disposable: lost, damaged or
old means one sentence and a new build. Looking costs one ``stat`` a file; only a file whose size or
time differs is read and hashed, and when it turns out to be equal the record learns its new time.

Nothing but the standard library is used here, and of that only what a program with nothing to do
can afford (no pathlib, dataclasses, typing, hashlib or importlib.metadata at import time).
"""

from __future__ import annotations

import json
import os

from pipeline.graph.run import Run, sha256, stat, state

TYPE_CHECKING = False  # type checkers take it for true; importing `typing` for it costs 3 ms
if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from typing import Any

    Record = dict[str, Any]

FORMAT = 3
FOLDER = ".mouldloft"
UNSETTLED_NS = 50_000_000
"""A file changed less than this ago may change again without a new time, so its time proves nothing."""
COARSE_NS = 2_500_000_000
"""The same where the disk keeps whole seconds, or every other one."""
_INPUT = 5  # values to an input's entry
_NEVER = -1  # a size that no file has


# -- the record ------------------------------------------------------------------------------------
def record_file(out: str, recipe: str) -> str:
    """Where the record of a recipe's last build into the folder ``out`` lies.

    Named by the recipe's file, which is known before anything is read, not by its packets.
    """
    import zlib

    path = os.path.abspath(recipe)
    stem = os.path.splitext(os.path.basename(path))[0]
    return os.path.join(out, FOLDER, f"{stem}-{zlib.crc32(os.fsencode(path)):08x}.json")


def record(
    *,
    out: str,
    recipe: str,
    options: Mapping[str, Any],
    inputs: Mapping[str, str],
    absent: Iterable[str] = (),
    outputs: Iterable[str],
    exit_code: int,
    said: Iterable[str] = (),
    run: Run,
) -> Record:
    """The record of a build that has just ended.

    ``inputs`` maps absolute paths to the sha256 of the bytes that were read; a file that has changed
    since then is entered so that the next look finds it stale. ``absent`` are absolute paths of files
    that would have been read but weren't there. ``outputs`` are paths from ``out``; ``options`` and
    ``said`` (what was told to the person) must be JSON values. Raises OSError.
    """
    paths = sorted(outputs)
    states = [stat(os.path.join(out, p)) or (_NEVER, 0) for p in paths]
    return {
        "format": FORMAT,
        "recipe": os.path.abspath(recipe),
        "options": dict(sorted(options.items())),
        "tool": {"libraries": run.libraries, "files": run.files, "bytes": run.bytes},
        "inputs": [_input(path, sha) for path, sha in sorted(inputs.items())],
        "absent": sorted(absent),
        # Paths, sizes and times each in a row: reading 20,000 small lists takes as long as looking at the files.
        "outputs": [paths, [size for size, _ in states], [mtime for _, mtime in states]],
        "packets": list(dict.fromkeys(p.partition("/")[0] for p in paths)),
        "exit_code": exit_code,
        "said": list(said),
    }


def write(file: str, made: Record) -> None:
    """Replaces the record in one step. Raises OSError."""
    os.makedirs(os.path.dirname(file), exist_ok=True)
    beside = f"{file}.{os.getpid()}"
    try:
        with open(beside, "w", encoding="utf-8", newline="\n") as stream:
            json.dump(made, stream, ensure_ascii=False, separators=(",", ":"))
            stream.write("\n")
        os.replace(beside, file)
    except OSError:
        if os.path.exists(beside):
            os.unlink(beside)
        raise


def read(file: str) -> Record | str:
    """The record, or the sentence that says why there is none."""
    try:
        with open(file, "rb", 0) as stream:
            found = json.loads(stream.read().decode("utf-8"))
    except FileNotFoundError:
        return "It has not been built here before."
    except (OSError, ValueError, RecursionError):  # unreadable, not UTF-8, not JSON: all the same to us
        return f"The record of the last build, {shown(file)}, is damaged."
    if isinstance(found, dict) and found.get("format") != FORMAT:
        return "The record of the last build was written by another version of mouldloft."
    if not _sound(found):
        return f"The record of the last build, {shown(file)}, is damaged."
    checked: Record = found
    return checked


# -- is it still good? -----------------------------------------------------------------------------
def look(*, out: str, recipe: str, options: Mapping[str, Any], run: Run) -> tuple[tuple[str, ...], Record | None]:
    """Why a recipe must be built (nothing: it is as it was), and the record of its last build."""
    file = record_file(out, recipe)
    found = read(file)
    if isinstance(found, str):
        return (found,), None
    before = _times(found)
    why = reasons(found, out=out, recipe=recipe, options=options, run=run)
    # Where the disk takes no writing the next look has to hash again, and that is all.
    if not why and _times(found) != before and os.access(os.path.dirname(file), os.W_OK):
        write(file, found)
    return why, found


def reasons(last: Record, *, out: str, recipe: str, options: Mapping[str, Any], run: Run) -> tuple[str, ...]:
    """Every reason, a sentence each, why what ``last`` records is stale; empty means nothing to do.

    The one place that decides: building and ``--why`` both ask here. Files that were touched but are
    equal get their new time in ``last``.
    """
    return (
        *_recipe_reasons(last, recipe, options),
        *_tool_reasons(last["tool"], run),
        *_input_reasons(last, run),
        *_output_reasons(last, out),
    )


def _recipe_reasons(last: Record, recipe: str, options: Mapping[str, Any]) -> Iterator[str]:
    if last["recipe"] != os.path.abspath(recipe):
        yield f"The last build was of another recipe, {shown(last['recipe'])}."
    old = last["options"]
    for name in sorted({*old, *options}):
        if name not in old:
            yield f"The option {name} was not given last time."
        elif name not in options:
            yield f"The option {name} was given last time."
        elif old[name] != json.loads(json.dumps(options[name])):
            yield f"The option {name} is {options[name]} now; it was {old[name]}."


def _tool_reasons(tool: Record, run: Run) -> Iterator[str]:
    if tool["libraries"] != run.libraries:
        for name in sorted({*tool["libraries"], *run.libraries}):
            now, was = run.libraries.get(name, ""), tool["libraries"].get(name, "")
            if now != was:
                yield f"{name} is {now or 'missing'} now; it was {was or 'missing'}."
    if tool["files"] != run.files:
        if tool["bytes"] != run.bytes:
            yield "mouldloft itself has changed since."
        else:
            tool["files"] = run.files


def _input_reasons(last: Record, run: Run) -> Iterator[str]:
    for entry in last["inputs"]:
        path, size, mtime, ctime, sha = entry
        now = run.stat(path)
        if now == (size, mtime, ctime):
            continue
        if now is None:
            yield f"{shown(path)} is gone."
        elif (size != _NEVER and now[0] != size) or run.sha256(path) != sha:
            yield f"{shown(path)} has changed."
        else:
            entry[:] = _input(path, sha)
    for path in last["absent"]:
        if run.stat(path) is not None:
            yield f"{shown(path)} is new."


def _output_reasons(last: Record, out: str) -> Iterator[str]:
    look, below = os.stat, os.path.join(out, "")  # a join for each of 40,000 files takes as long as their stat
    gone, changed = [], []
    for path, size, mtime in zip(*last["outputs"], strict=True):
        try:
            now = look(below + path)
        except OSError:
            gone.append(path)
            continue
        if now.st_size != size or now.st_mtime_ns != mtime:
            changed.append(path)
    for paths, one, many in ((gone, "is gone", "are gone"), (changed, "was changed", "were changed")):
        if paths:
            others = len(paths) - 1
            more = f" and {others} more files of the packet {many}" if others > 1 else ""
            more = more or (f" and one more file of the packet {many}" if others else f" {one}")
            yield f"{shown(below + paths[0])}{more} since the last build."


# -- small things ----------------------------------------------------------------------------------
def shown(path: str) -> str:
    """A path as a person wants to see it: from the current folder where it lies below it."""
    here = os.getcwd() + os.sep
    path = os.path.abspath(path)
    return path[len(here) :] if path.startswith(here) else path


def _input(path: str, sha: str) -> list[Any]:
    """An input's entry: path, size, mtime and ctime in ns, sha256. A doubtful time (just now, or to come, as where
    a clock was put back) is entered as 0, a doubtful file with a size that no file has."""
    import time

    now = state(path)
    if now is None or sha256([path]) != sha or state(path) != now:
        return [path, _NEVER, 0, 0, sha]
    size, mtime, ctime = now
    unsettled = UNSETTLED_NS if mtime % 1_000_000_000 else COARSE_NS
    return [path, size, 0 if time.time_ns() - mtime < unsettled else mtime, ctime, sha]


def _times(last: Record) -> tuple[Any, ...]:
    return last["tool"]["files"], [entry[1:4] for entry in last["inputs"]]


def _sound(found: Any) -> bool:
    """True when a record has the shape that the rest of this file relies on."""
    if not isinstance(found, dict) or not isinstance(found.get("tool"), dict):
        return False
    tool = found["tool"]
    return (
        isinstance(found.get("recipe"), str)
        and isinstance(found.get("options"), dict)
        and isinstance(found.get("exit_code"), int)
        and isinstance(tool.get("libraries"), dict)
        and isinstance(tool.get("files"), str)
        and isinstance(tool.get("bytes"), str)
        and all(_strings(found.get(key)) for key in ("absent", "said", "packets"))
        and isinstance(found.get("inputs"), list)
        and all(type(e) is list and len(e) == _INPUT and type(e[0]) is str for e in found["inputs"])
        and isinstance(found.get("outputs"), list)
        and len(found["outputs"]) == 3
        and all(type(row) is list and len(row) == len(found["outputs"][0]) for row in found["outputs"])
        and _strings(found["outputs"][0])
    )


def _strings(found: Any) -> bool:
    return isinstance(found, list) and set(map(type, found)) <= {str}
