"""From a drawing's bytes to its text: gzip and encodings, both bounded."""

from __future__ import annotations

import re
import zlib

from pipeline.core.errors import refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted

MAX_BYTES = 100_000_000
"""Largest drawing, as stored and after unpacking."""

_ENCODINGS = re.compile(
    r"utf[-_]?(8|16|32)([-_]?(le|be|sig))?|(us[-_]?)?ascii|iso[-_]?8859[-_]\d{1,2}|latin[-_]?\d|(windows[-_]|cp)125\d",
    re.IGNORECASE,
)
_DECLARED = re.compile(rb"""^\s*<\?xml[^>]{0,100}?encoding\s*=\s*["']([\w.-]{1,40})["']""")


def text_of(data: bytes, file: str) -> str:
    """The text of a drawing, plain or gzip, in UTF-8, UTF-16 or what it declares. Raises Refused."""
    if len(data) > MAX_BYTES:
        raise refuse(
            f"The drawing is {len(data) / 1e6:.0f} MB large.",
            place=Place(file=file),
            expected=f"at most {MAX_BYTES / 1e6:.0f} MB",
            remedy="Save it without embedded pictures.",
        )
    return _decoded(_unpacked(data, file), file)


def _unpacked(data: bytes, file: str) -> bytes:
    if not data.startswith(b"\x1f\x8b"):
        return data
    machine = zlib.decompressobj(wbits=31)
    try:
        plain = machine.decompress(data, MAX_BYTES + 1)
    except zlib.error as error:
        raise refuse(
            f"The compressed drawing is damaged ({error}).", place=Place(file=file), remedy="Save it again."
        ) from error
    if len(plain) > MAX_BYTES or machine.unconsumed_tail:
        raise refuse(
            f"The compressed drawing unpacks to more than {MAX_BYTES / 1e6:.0f} MB.", place=Place(file=file)
        )
    if not machine.eof:
        raise refuse("The compressed drawing ends too early.", place=Place(file=file), remedy="Save it again.")
    return plain


def _decoded(data: bytes, file: str) -> str:
    if data.startswith(b"\xef\xbb\xbf"):
        encoding = "utf-8-sig"
    elif data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        encoding = "utf-32"
    elif data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif data.startswith(b"<\x00"):
        encoding = "utf-16-le"
    elif data.startswith(b"\x00<"):
        encoding = "utf-16-be"
    else:
        declared = _DECLARED.match(data)
        encoding = declared[1].decode("ascii") if declared else "utf-8"
    if not _ENCODINGS.fullmatch(encoding):
        raise refuse(
            f"The drawing says it is written in {quoted(encoding)}, which isn't read here.",
            place=Place(file=file, line=1, column=1),
            expected="UTF-8 or UTF-16",
            remedy="Save it as a plain SVG in UTF-8.",
        )
    try:
        return data.decode(encoding)
    except (UnicodeDecodeError, LookupError) as error:
        raise refuse(
            f"The drawing isn't text in {encoding.upper()}: {error.__class__.__name__} at byte "
            f"{getattr(error, 'start', 0)}.",
            place=Place(file=file),
            expected="an SVG drawing (text)",
            remedy="Save the drawing as a plain SVG; a picture or a PDF can't be read.",
        ) from error
