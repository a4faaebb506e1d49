"""From a DXF file's bytes to its pairs of group code and value, each with its line: text and binary form.

Written from the published group codes rather than with a DXF library: a library fills in what is missing
(a line without an end would run to zero) and keeps no lines, and here neither may happen.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass

from pipeline.core.errors import Refused, refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.drawing.decode import MAX_BYTES

Value = str | float | int
MARK = re.compile(rb".{1,24} Binary DXF\r\n\x1a\x00")
"""A binary file begins with this; a text file with the code 0, or with the code 999 of a comment."""
_VERSION = re.compile(rb"\$ACADVER\s+1\s+AC(\d{4})")
_PAGE = re.compile(rb"\$DWGCODEPAGE\s+3\s+(\S{1,40})")
_ESCAPED = re.compile(r"\\U\+([0-9A-Fa-f]{4})")
UTF8_SINCE = 1021
"""From this version (2007) on text is UTF-8, before it is in the code page of the header."""
_DAMAGED = "Save or export the drawing again as DXF."


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """Pairs of group code and value; ``binary`` files have no lines. Values of text files are text."""

    file: str
    codes: list[int]
    values: list[Value]
    binary: bool

    def word(self, k: int) -> str:
        """The value of pair ``k`` as text without blanks round it."""
        text = str(self.values[k]).strip()
        return _ESCAPED.sub(lambda m: chr(int(m[1], 16)), text) if "\\U+" in text else text

    def place(self, k: int, name: str = "") -> Place:
        """The line of the value of pair ``k``."""
        if self.binary:
            return Place(file=self.file, object=name)
        text = str(self.values[k])
        column = 1 + len(text) - len(text.lstrip())
        return Place(file=self.file, line=2 * k + 2, column=column, text=text, object=name)


def read_groups(data: bytes, file: str) -> Groups:
    """The pairs of a DXF file, text or binary. Raises Refused for what isn't one."""
    where = Place(file=file)
    if len(data) > MAX_BYTES:
        raise refuse(
            f"The drawing is {len(data) / 1e6:.0f} MB large.",
            place=where,
            expected=f"at most {MAX_BYTES / 1e6:.0f} MB",
            remedy="Save only the objects that are needed.",
        )
    if not data.strip():
        raise refuse("The drawing is empty.", place=where, expected="a whole DXF drawing", remedy=_DAMAGED)
    if re.match(rb"AC\d{4}|AC\d\.\d", data):
        raise refuse(
            "This is a DWG drawing, which isn't read here.",
            place=where,
            expected="a DXF or SVG drawing",
            remedy="Export it as DXF.",
        )
    found = MARK.match(data)
    if found:
        return _binary(data, found.end(), file)
    if b"\x00" in data[:200] or data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _no_dxf(where)
    return _text(_decoded(data), file)


def _no_dxf(place: Place) -> Refused:
    return refuse(
        "This isn't a DXF drawing.",
        place=place,
        expected="a DXF file, which begins with the code 0 and SECTION",
        remedy="Save or export the drawing as DXF or SVG.",
    )


def _decoded(data: bytes) -> str:
    """Text in UTF-8 or the header's code page; bytes that don't fit it show as a question mark."""
    head = data[:20_000]
    version = _VERSION.search(head)
    if data.startswith(b"\xef\xbb\xbf") or (version and int(version[1]) >= UTF8_SINCE):
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError:
            pass  # some writers keep to their code page whatever the version: the next line reads it so
    return data.decode(_code_page(head), errors="replace")


def _code_page(head: bytes) -> str:
    page = _PAGE.search(head)
    name = page[1].decode("ascii", "replace").lower() if page else ""
    number = re.search(r"\d{3,5}", name)
    for encoding in (f"cp{number[0]}" if number else "", name.replace("_", "-")):
        try:
            if encoding:
                "".encode(encoding)
                return encoding
        except (LookupError, ValueError):
            continue
    return "cp1252"


def _text(text: str, file: str) -> Groups:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    while lines and not lines[-1].strip(" \t\x1a"):
        lines.pop()
    if lines and not re.fullmatch(r"\s*(0|999)\s*", lines[0]):
        raise _no_dxf(Place(file=file, line=1, column=1, text=lines[0][:200]))
    values: list[Value] = list(lines[1::2])
    codes: list[int] = []
    for k, line in enumerate(lines[0 : 2 * len(values) : 2]):
        try:
            codes.append(int(line))
        except ValueError as error:
            raise refuse(
                f"The drawing can't be read here: {quoted(line.strip(), 40)} stands where a group code belongs.",
                place=Place(file=file, line=2 * k + 1, column=1, text=line[:200]),
                expected="a whole number: codes and values take turns, each on its own line",
                remedy=_DAMAGED,
            ) from error
    return Groups(file, codes, values, False)


# -- the binary form -----------------------------------------------------------------------------
def _binary(data: bytes, at: int, file: str) -> Groups:
    """Codes of two bytes (of one in files before R13), then text up to a zero, numbers, or chunks."""
    short = data[at + 1 : at + 2] not in (b"\x00",)
    encoding = _code_page_of_binary(data[:20_000])
    codes: list[int] = []
    values: list[Value] = []
    try:
        while at < len(data):
            if short and data[at] != 255:
                code, at = data[at], at + 1
            else:
                at += short
                (code,) = struct.unpack_from("<h", data, at)
                at += 2
            value: Value
            form = _form(code)
            if form == "text":
                end = data.index(b"\x00", at)
                value, at = data[at:end].decode(encoding, errors="replace"), end + 1
            elif form == "chunk":
                value, at = "", at + 1 + data[at]
            else:
                (value,) = struct.unpack_from(form, data, at)
                at += struct.calcsize(form)
            codes.append(code)
            values.append(value)
            if code == 0 and value == "EOF":
                break
    except (struct.error, ValueError, IndexError) as error:
        raise refuse(
            "The drawing ends too early, or is damaged: its last value isn't whole.",
            place=Place(file=file),
            expected="a whole DXF drawing",
            remedy=_DAMAGED,
        ) from error
    return Groups(file, codes, values, True)


def _code_page_of_binary(head: bytes) -> str:
    version = re.search(rb"\$ACADVER\x00\x01\x00?AC(\d{4})", head)
    if version and int(version[1]) >= UTF8_SINCE:
        return "utf-8"
    page = re.search(rb"\$DWGCODEPAGE\x00\x03\x00?([^\x00]{1,40})", head)
    return _code_page(b"$DWGCODEPAGE 3 " + page[1]) if page else "cp1252"


_FORMS: tuple[tuple[int, int, str], ...] = (
    (10, 59, "<d"),
    (60, 79, "<h"),
    (90, 99, "<i"),
    (110, 149, "<d"),
    (160, 169, "<q"),
    (170, 179, "<h"),
    (210, 239, "<d"),
    (270, 289, "<h"),
    (290, 299, "<b"),
    (310, 319, "chunk"),
    (370, 389, "<h"),
    (400, 409, "<h"),
    (420, 429, "<i"),
    (440, 459, "<i"),
    (460, 469, "<d"),
    (1004, 1004, "chunk"),
    (1010, 1059, "<d"),
    (1060, 1070, "<h"),
    (1071, 1071, "<i"),
)
"""What follows a code in a binary file (DXF reference, "Group code value types"); everything else is text."""


def _form(code: int) -> str:
    return next((form for low, high, form in _FORMS if low <= code <= high), "text")
