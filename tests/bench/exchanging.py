"""Every call of the exchange of a packet failed, and the process killed before it, one after the other.

    python -m tests.bench.exchanging [ways to fail]

Tried are a good packet and a held one, each onto a good and a held one, with the system's exchange of two folders
and without. After each the packet is the old one or the new one, whole; what was said of it is true; the next run
puts everything right and leaves nothing else. One line of numbers; exit code 1 when anything is off.
"""

from __future__ import annotations

import errno
import itertools
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from pipeline.core.failures import MachineFailed
from pipeline.packet import exchange
from pipeline.packet.disk import AS_IT_WAS, plainly
from pipeline.packet.exchange import abandon, begin, finish
from pipeline.packet.lock import locked
from tests.bench.failing import at_call

KILL = None
CODES = (KILL, errno.EIO, errno.ENOSPC, errno.EACCES)
NAME = "heron"


def put(out: Path, text: str, *, held: bool) -> None:
    """Make and exchange a packet of three files, as `path.make` does it."""
    with locked(out, NAME):
        stage = begin(out, NAME)
        try:
            for path in ("packet.json", "shops/router/a.dxf", "shops/router.zip"):
                with plainly(stage / path):
                    (stage / path).parent.mkdir(parents=True, exist_ok=True)
                    (stage / path).write_text(text, encoding="utf-8")
            finish(out, NAME, held=held)
        except BaseException:
            abandon(out, NAME)
            raise


def state(folder: Path) -> str:
    """The text that all three files of a packet hold, "-" when there is none, "TORN" otherwise."""
    if not folder.exists():
        return "-"
    texts = [p.read_text(encoding="utf-8") for p in folder.rglob("*") if p.is_file()]
    return texts[0] if len(texts) == 3 and len(set(texts)) == 1 else "TORN"


def stands(out: Path) -> tuple[str, str]:
    return state(out / NAME), state(out / f"{NAME}.held")


def child(work: Callable[[], None], said: Path) -> int:
    """The exit code of a forked child that works; what it was refused with is written to ``said``."""
    pid = os.fork()
    if pid:
        return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    code, text = 70, ""
    try:
        work()
        code = 0
    except MachineFailed as failed:
        code, text = 3, failed.show()
    except BaseException as error:  # anything else is what this is to find
        text = f"{type(error).__name__}: {error}"
    finally:
        handle = os.open(said, os.O_CREAT | os.O_WRONLY | os.O_TRUNC)
        os.write(handle, text.encode())
        os._exit(code)


def trial(
    folder: Path, at: int, code: int | None, *, held: bool, slow: bool, note: Path | None = None
) -> list[str]:
    """What went wrong when call ``at`` was failed or died at; ``note`` gets the number of all calls."""
    out, said = folder / "out", folder / "said.txt"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    put(out, "old", held=False)
    put(out, "old held", held=True)

    def disturbed() -> None:
        if slow:
            exchange._swapped = lambda a, b: False
        at_call(at, code, note=note)
        try:
            put(out, "new", held=held)
        finally:
            if note is not None:
                os._exit(0)

    ended = child(disturbed, said)
    text = said.read_text(encoding="utf-8") if said.exists() else ""
    good, held_now = now = stands(out)
    after = ("old", "new") if held else ("new", "-")
    found = []
    if ended not in (0, 3, -9):
        found.append(f"ended with {ended}: {text}")
    if "TORN" in now:
        found.append(f"torn: {now}")
    # Without the system's exchange a killed run may leave the old packet aside for the next `begin`.
    aside = (
        ""
        if not slow or code is not KILL
        else ("-" if state(out / ".mouldloft" / f"aside-{NAME}") == "old" else "")
    )
    aside_held = "-" if slow and state(out / ".mouldloft" / f"aside-{NAME}.held") == "old held" else ""
    if good not in ("old", after[0], aside) or held_now not in ("old held", after[1], aside_held):
        found.append(f"{now} stand")
    if not held and held_now == "-" and good != "new":
        found.append("the held one went before the new one stood")
    if ended == 3:
        changed = now != ("old", "old held")
        if AS_IT_WAS in text and changed:
            found.append(f"said {text!r}, but {now} stand")
        if "The new packet stands" in text and (held_now if held else good) != "new":
            found.append(f"said {text!r}, but {now} stand")
    if ended == 0 and now != after:
        found.append(f"ended well with {now}")
    if note is None:
        put(out, "new", held=held)
        left = [n for n in os.listdir(out / ".mouldloft") if n != f"lock-{NAME}"]
        if stands(out) != after or left or set(os.listdir(out)) - {NAME, f"{NAME}.held", ".mouldloft"}:
            found.append(f"the next run left {stands(out)} and {left}")
    return [f"call {at}, {errno.errorcode[code] if code else 'killed'}, {held=}, {slow=}: {f}" for f in found]


def main() -> int:
    """Try them all; 1 when anything is off."""
    found, tried, calls = list[str](), 0, list[int]()
    codes = CODES[: int(sys.argv[1])] if len(sys.argv) > 1 else CODES
    with tempfile.TemporaryDirectory() as scratch:
        folder, note = Path(scratch) / "project", Path(scratch) / "calls.txt"
        for held, slow in itertools.product((False, True), repeat=2):
            found += trial(folder, 0, KILL, held=held, slow=slow, note=note)
            most = int(note.read_text(encoding="ascii"))
            calls.append(most)
            for at, code in itertools.product(range(1, most + 1), codes):
                found += trial(folder, at, code, held=held, slow=slow)
                tried += 1
    print(*found, sep="\n", end="\n" if found else "")
    print(f"{tried} exchanges killed or failed before one of their {calls} calls: {len(found)} broken")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main())
