"""A packet is replaced whole or not at all: made beside, then exchanged in one step of the system.

    with locked(out, name):
        stage = begin(out, name)        # an empty folder; what a killed run left behind is cleared
        ...write, prove...
        finish(out, name, held=held)    # the new packet stands, the old one is gone

Where the system can exchange two folders in one call (Linux, ``renameat2``), there is no moment at which no
packet stands. Elsewhere the old one is put aside first, and `begin` puts it back when a run died in between.
"""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
from pathlib import Path

from pipeline.core.errors import MachineFailed
from pipeline.packet.disk import c_library, plainly, settle, settle_one
from pipeline.packet.lock import work_folder

HELD = ".held"
_AT_FDCWD, _EXCHANGE = -100, 2
_CANT = (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP)


def begin(out: Path, name: str) -> Path:
    """An empty folder in which to make the packet ``name``; call it under the packet's lock.

    What an earlier run left half made is removed, and a packet it had put aside is put back. Raises MachineFailed.
    """
    work = work_folder(out)
    stage = _stage(out, name)
    with plainly(stage):
        for final in (name, name + HELD):
            aside = _aside(out, final)
            if aside.exists():
                if (out / final).exists():
                    shutil.rmtree(aside)
                else:
                    os.rename(aside, out / final)
                    settle_one(out)
        for left in (stage, _gone(out, name)):
            if left.exists():
                shutil.rmtree(left)
        stage.mkdir()
        settle_one(work)
    return stage


def finish(out: Path, name: str, *, held: bool) -> Path:
    """Put what was made in place of what stood there, and give the packet's folder.

    A held packet goes to ``<name>.held`` and leaves the last good one as it is; a good one also removes the held
    one. Raises MachineFailed, with the old packet untouched, when what stands there is no packet of ours.
    """
    stage, final, dropped = _stage(out, name), out / (name + HELD if held else name), out / (name + HELD)
    _check_ours(final)
    _check_ours(dropped)
    with plainly(final):
        settle(stage)
        if not final.exists():
            os.rename(stage, final)
        elif not _swapped(stage, final):
            stage = _swapped_slowly(stage, final, _aside(out, final.name))
    # From here on the new packet stands; what follows only makes sure of it and tidies up.
    with plainly(stage, f"The new packet stands in {final}; build once more to tidy up what it replaced."):
        settle_one(out)
        if stage.exists():
            shutil.rmtree(stage)
        if not held and dropped.exists():
            gone = _gone(out, name)
            os.rename(dropped, gone)  # in one step, so that no half of it is ever taken for a packet
            shutil.rmtree(gone)
    return final


def abandon(out: Path, name: str) -> None:
    """Remove what was begun and not finished. What the disk won't let go is left to the next `begin`: the reason
    for giving up is told, and this would hide it."""
    shutil.rmtree(_stage(out, name), ignore_errors=True)


def _stage(out: Path, name: str) -> Path:
    return work_folder(out) / f"stage-{name}"


def _aside(out: Path, final: str) -> Path:
    return work_folder(out) / f"aside-{final}"


def _gone(out: Path, name: str) -> Path:
    return work_folder(out) / f"gone-{name}"


def _check_ours(final: Path) -> None:
    """Never replace something that isn't a packet: a folder of the maker's own keeps its place."""
    if final.is_symlink() or (final.exists() and not final.is_dir()):
        raise MachineFailed(f"{final} is not a folder, so no packet can be put in its place. Move it away first.")
    if final.is_dir() and not (final / "packet.json").is_file() and any(final.iterdir()):
        raise MachineFailed(
            f"{final} holds files but no packet.json, so it is not a packet of ours and is left alone. Move it "
            "away, or build into another folder with --out."
        )


def _swapped(a: Path, b: Path) -> bool:
    """Exchange two folders in one system call; False where the system or the disk has no such call."""
    call = getattr(c_library(), "renameat2", None)
    if call is None:
        return False
    ctypes.set_errno(0)
    if call(_AT_FDCWD, os.fsencode(a), _AT_FDCWD, os.fsencode(b), _EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in _CANT:
        return False
    raise OSError(code, os.strerror(code), str(b))


def _swapped_slowly(stage: Path, final: Path, aside: Path) -> Path:
    """Exchange two folders in two steps, and give where the old one lies now. A run that dies between them leaves
    the old packet aside, and the next `begin` puts it back."""
    os.rename(final, aside)
    try:
        os.rename(stage, final)
    except OSError:
        os.rename(aside, final)
        raise
    return aside
