"""Names that go into file names, and revision letters."""

from __future__ import annotations

import re

from pipeline.core.text import quoted

MAX_NAME = 60
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
# Names that Windows keeps for devices, whatever the extension (Microsoft, "Naming Files, Paths, and
# Namespaces").
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))]
)

REVISION_LETTERS = "ABCDEFGHJKLMNPRTUVWY"
"""The letters that ASME Y14.35 uses for revisions: I, O, Q, S, X and Z are left out."""
_LETTERS = f"[{REVISION_LETTERS}]{{1,2}}"
REVISION_PATTERN = rf"^({_LETTERS}(\.[1-9][0-9]?)?|P[1-9][0-9]?)$"
NAME_PATTERN = rf"^[A-Za-z0-9][A-Za-z0-9_-]{{0,{MAX_NAME - 1}}}$"

NAME_RULE = f'letters a to z, digits, "-" and "_", a letter or digit first, at most {MAX_NAME} characters'
REVISION_RULE = (
    "a letter (A, B, C … without I, O, Q, S, X, Z; after Y comes AA), or a draft of one, such as B.1 or P1"
)


def name_problem(name: str) -> str:
    """A sentence on why ``name`` can't be part of a file name, or "" when it can."""
    if not name:
        return "A name is empty."
    if len(name) > MAX_NAME:
        return f"The name {quoted(name)} has {len(name)} characters; at most {MAX_NAME} are allowed."
    if not _NAME.fullmatch(name):
        return f"The name {quoted(name)} can't be used, because it goes into file names."
    if name.lower() in _DEVICES:
        return f"The name {quoted(name)} can't be used, because Windows keeps it for a device."
    return ""


def revision_problem(revision: str) -> str:
    """A sentence on why this isn't a revision, or "" when it is: ``B``, ``AA``, ``B.1``, ``P2``."""
    if re.match(REVISION_PATTERN, revision) and not revision.endswith("\n"):
        return ""
    return f"{quoted(revision)} is not a revision."


def is_draft(revision: str) -> bool:
    """True for ``B.1`` or ``P2``, which are never issued."""
    return "." in revision or bool(re.fullmatch(r"P[1-9][0-9]?", revision))


def next_revision(revision: str) -> str:
    """The letter after this one: A → B, H → J, Y → AA; a draft B.1 leads to B, P1 to A.

    Raises ValueError after the last one, YY.
    """
    if revision.startswith("P") and is_draft(revision):
        return "A"
    if "." in revision:
        return revision.split(".")[0]
    places = [REVISION_LETTERS.index(c) for c in revision]
    number = places[0] if len(places) == 1 else (places[0] + 1) * len(REVISION_LETTERS) + places[1]
    first, second = divmod(number + 1, len(REVISION_LETTERS))
    if first > len(REVISION_LETTERS):
        raise ValueError("YY is the last revision.")
    return (REVISION_LETTERS[first - 1] if first else "") + REVISION_LETTERS[second]
