"""Which of a shop's files changed with this revision, and which are as they were."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pipeline.packet.shop_file import ShopFile


def since_key(name: str, *, blank: bool) -> str:
    """How a piece or glued blank is called among those with the revision they last changed in: a blank may
    have the name of a piece."""
    return f"{name} (glued)" if blank else name


def file_since(f: ShopFile, since: Mapping[str, str], revision: str) -> str:
    """The revision since which a file is the same: this one as soon as one thing in it changed, or is in doubt.

    ``since`` maps pieces and blanks (`since_key`) to the revision they are unchanged since (absent: ``revision``).
    """
    found = {since.get(since_key(name, blank=f.blank), revision) for name, _ in f.subjects}
    return found.pop() if len(found) == 1 else revision


def changed_and_same(
    files: Iterable[ShopFile], since: Mapping[str, str], revision: str
) -> tuple[tuple[ShopFile, ...], dict[str, tuple[ShopFile, ...]]]:
    """(new or changed files, unchanged ones by the revision they are unchanged since), in the order of ``files``.

    What a laser may look at but not cut goes with its cut file and isn't listed.
    """
    cut = [(f, file_since(f, since, revision)) for f in files if f.kind != "reference"]
    same = {r: tuple(f for f, s in cut if s == r) for r in dict.fromkeys(s for _, s in cut) if r != revision}
    return tuple(f for f, s in cut if s == revision), same
