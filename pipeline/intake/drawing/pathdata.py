"""Path data (the ``d`` attribute) by SVG 2, paths: every command, exact error positions."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import LARGEST, Malformed
from pipeline.intake.drawing.segments import Cubic, Line, Segment, Subpath, endpoint_arc, raised

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_SPACE = re.compile(r"[ \t\r\n\f]*")
_COMMA = re.compile(r"[ \t\r\n\f]*,?[ \t\r\n\f]*")

_ARGUMENTS = re.compile(r"[^MmZzLlHhVvCcSsQqTtAa]*")
_REGULAR = re.compile(r"[ \t\r\n\f]*n(?:[ \t\r\n\f]*(?:,[ \t\r\n\f]*)?n)*[ \t\r\n\f]*")

MOST = 1_000_000
"""Most pieces of one path."""
COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
NAMES = {
    "M": "move", "L": "line", "H": "horizontal line", "V": "vertical line", "C": "curve", "S": "smooth curve",
    "Q": "quadratic curve", "T": "smooth quadratic curve", "A": "arc",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Command:
    letter: str
    numbers: tuple[float, ...]
    index: int


def commands(d: str) -> list[Command]:
    """The commands of path data, one for each set of numbers. Raises Malformed."""
    found: list[Command] = []
    at = _end(_SPACE, d, 0)
    while at < len(d):
        letter = d[at]
        if letter.upper() not in COUNTS:
            if not found:
                raise Malformed(f"path data begins with a move (M), not with {quoted(letter)}", at)
            raise Malformed(f"{quoted(letter)} is neither a path command nor a number that belongs here", at)
        if not found and letter.upper() != "M":
            raise Malformed(f"path data begins with a move (M), not with {quoted(letter)}", at)
        begin = at
        _counted(len(found), at)
        if letter not in "AaZz" and (sets := _plain_sets(d, at + 1, COUNTS[letter.upper()])):
            follow = {"M": "L", "m": "l"}.get(letter, letter)
            found.append(Command(letter, sets[0], begin))
            found += [Command(follow, numbers, begin) for numbers in sets[1:]]
            _counted(len(found), at)
            at = _end(_ARGUMENTS, d, at + 1)
            continue
        at = _end(_SPACE, d, at + 1)
        if letter.upper() == "Z":
            found.append(Command(letter, (), begin))
            continue
        first = True
        while first or (at < len(d) and (NUMBER.match(d, at) or d[at] == ",")):
            if not first:
                at = _end(_COMMA, d, at)
            numbers, at = _numbers(d, at, letter)
            found.append(Command(letter, numbers, begin))
            letter = {"M": "L", "m": "l"}.get(letter, letter)
            at = _end(_SPACE, d, at)
            first = False
    return found


def _plain_sets(d: str, at: int, need: int) -> list[tuple[float, ...]]:
    """The sets of numbers of a command where they are plain, all at once; nothing where they need care."""
    text = d[at : _end(_ARGUMENTS, d, at)]
    words = NUMBER.findall(text)
    if not words or len(words) % need or not _REGULAR.fullmatch(NUMBER.sub("n", text)):
        return []
    values = [float(w) for w in words]
    if not max(map(abs, values)) <= LARGEST:
        return []
    return list(zip(*[iter(values)] * need, strict=True))


def _counted(n: int, at: int) -> int:
    if n > MOST:
        raise Malformed(f"one path has more than {MOST} pieces", at)
    return n


def _numbers(d: str, at: int, letter: str) -> tuple[tuple[float, ...], int]:
    """One set of numbers of a command; the flags of an arc may be glued to what follows."""
    need = COUNTS[letter.upper()]
    values: list[float] = []
    while len(values) < need:
        if values:
            at = _end(_COMMA, d, at)
        if letter in "Aa" and len(values) in (3, 4):
            if at >= len(d) or d[at] not in "01":
                raise Malformed(
                    f"the {'large-arc' if len(values) == 3 else 'sweep'} flag of an arc is 0 or 1, "
                    f"here stands {_shown(d, at)}",
                    at,
                )
            values.append(float(d[at]))
            at += 1
            continue
        number = NUMBER.match(d, at)
        if not number:
            raise Malformed(
                f"a {NAMES[letter.upper()]} ({letter}) takes {need} number{'s' if need > 1 else ''}, "
                f"here stands {_shown(d, at)} after {len(values)}",
                at,
            )
        value = float(number[0])
        if not math.isfinite(value) or abs(value) > LARGEST:
            raise Malformed(f"the number {number[0][:20]} is too large for a drawing", at)
        values.append(value)
        at = number.end()
    return tuple(values), at


def _shown(d: str, at: int) -> str:
    return quoted(d[at]) if at < len(d) else "the end"


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    found = pattern.match(text, at)
    return found.end() if found else at


class _Drawer:
    """Turns commands into subpaths; keeps the current point and the last handle."""

    def __init__(self) -> None:
        self.done: list[Subpath] = []
        self.segments: list[Segment] = []
        self.start = 0j
        self.point = 0j
        self.handle: complex | None = None  # second handle of the curve before, for S and T
        self.handle_of = ""

    def finish(self, closed: bool) -> None:
        if self.segments:
            self.done.append(Subpath(tuple(self.segments), closed))
        self.segments = []

    def add(self, segment: Segment) -> None:
        """Add what has length; a curve that returns to its start has."""
        if segment.p != segment.q or (isinstance(segment, Cubic) and not segment.c1 == segment.c2 == segment.p):
            self.segments.append(segment)
        self.point = segment.q

    def run(self, command: Command) -> None:
        letter, v = command.letter, command.numbers
        kind = letter.upper()
        base = self.point if letter.islower() else 0j
        handle, handle_of, self.handle, self.handle_of = self.handle, self.handle_of, None, ""
        if kind == "M":
            self.finish(False)
            self.start = self.point = base + complex(v[0], v[1])
        elif kind == "Z":
            if self.segments and self.point != self.start:
                self.segments.append(Line(self.point, self.start))
            self.finish(True)
            self.point = self.start
        elif kind == "L":
            self.add(Line(self.point, base + complex(v[0], v[1])))
        elif kind == "H":
            self.add(Line(self.point, complex(base.real + v[0], self.point.imag)))
        elif kind == "V":
            self.add(Line(self.point, complex(self.point.real, base.imag + v[0])))
        elif kind == "A":
            q = base + complex(v[5], v[6])
            if q != self.point:
                self.add(endpoint_arc(self.point, q, v[0], v[1], v[2], v[3] == 1, v[4] == 1))
        elif kind in "CS":
            mirrored = 2 * self.point - handle if handle is not None and handle_of == "C" else self.point
            c1 = base + complex(v[0], v[1]) if kind == "C" else mirrored
            c2, q = base + complex(v[-4], v[-3]), base + complex(v[-2], v[-1])
            self.add(Cubic(self.point, c1, c2, q))
            self.handle, self.handle_of = c2, "C"
        else:  # Q, T
            mirrored = 2 * self.point - handle if handle is not None and handle_of == "Q" else self.point
            c = base + complex(v[0], v[1]) if kind == "Q" else mirrored
            self.add(raised(self.point, c, base + complex(v[-2], v[-1])))
            self.handle, self.handle_of = c, "Q"


def parse_path(d: str) -> tuple[Subpath, ...]:
    """The subpaths of path data in user units. Raises Malformed with the character's index."""
    drawer = _Drawer()
    for command in commands(d):
        drawer.run(command)
    drawer.finish(False)
    return tuple(drawer.done)
