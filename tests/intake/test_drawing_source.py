"""Bytes: encodings, compression, entities, bounds (N23–N25)."""

from __future__ import annotations

import gzip

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.drawing import decode, read_svg
from tests.intake.drawings import XMLNS, svg

BODY = '<rect id="größe" x="10" y="20" width="30" height="40"/>'


def ids(data: bytes) -> list[str]:
    return [e.id for e in read_svg(data, "t.svg").entries if e.id]


@pytest.mark.parametrize(
    "data",
    [
        svg(BODY).encode(),
        svg(BODY).encode("utf-8-sig"),
        svg(BODY).encode("utf-16"),
        svg(BODY).encode("utf-16-le"),
        svg(BODY).encode("utf-16-be"),
        ('<?xml version="1.0" encoding="UTF-16"?>\r\n' + svg(BODY)).encode("utf-16"),
        ('<?xml version="1.0" encoding="iso-8859-1"?>' + svg(BODY)).encode("latin-1"),
        ('<?xml version="1.0" encoding="windows-1252"?>' + svg(BODY)).encode("cp1252"),
        gzip.compress(svg(BODY).encode("utf-16")),
        svg(BODY).replace(" ", "\r\n").encode(),
        svg("<!-- <rect id='no'/> -->" + BODY).encode(),
        svg(BODY).replace("<svg", "<s:svg").replace("</svg", "</s:svg").replace("<rect", "<s:rect")
        .replace('xmlns="', 'xmlns:s="').encode(),
    ],
)  # fmt: skip
def test_n25_encodings_and_compression(data: bytes) -> None:
    assert ids(data) == ["größe"]


def test_n25_comments_between_numbers_are_no_part_of_them() -> None:
    doc = read_svg(svg('<path id="a" d="M0 0L5 5"><!-- 9 9 --></path>').encode(), "t.svg")
    assert len(doc.shapes[0].subpaths[0].segments) == 1


@pytest.mark.parametrize("name", ["base64", "zlib", "utf-7", "idna", "no-such"])
def test_odd_encodings_are_refused(name: str) -> None:
    with pytest.raises(Refused, match="isn't read here"):
        ids(f'<?xml version="1.0" encoding="{name}"?>{svg("")}'.encode())


def test_n24_namespace_entities_of_real_exports_are_read() -> None:
    data = (
        '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://example.org/svg11.dtd" '
        '[<!ENTITY ns_svg "http://www.w3.org/2000/svg">]>'
        f'<svg xmlns="&ns_svg;" width="9mm" height="9mm">{BODY}</svg>'
    )
    assert ids(data.encode()) == ["größe"]


@pytest.mark.parametrize(
    "declaration",
    [
        '<!ENTITY w "10">',
        '<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">',
        '<!ENTITY f SYSTEM "file:///etc/passwd">',
        '<!ENTITY f PUBLIC "x" "http://example.org/x">',
        '<!ENTITY % p "x">',
        "<!ENTITY s \"<rect width='5' height='5'/>\">",
    ],
)
def test_n24_other_entities_are_refused(declaration: str) -> None:
    with pytest.raises(Refused, match="declares the entity"):
        ids(f"<!DOCTYPE svg [{declaration}]>{svg(BODY)}".encode())


def test_n24_an_entity_of_an_outside_type_is_refused_not_dropped() -> None:
    """A reader that doesn't fetch the type may skip the entity and read another number."""
    data = f'<!DOCTYPE svg SYSTEM "http://example.org/x.dtd">{svg(BODY.replace("30", "3&zero;"))}'
    with pytest.raises(Refused, match='"&zero;" isn\'t defined'):
        ids(data.encode())


def test_n24_the_five_entities_and_references_are_read() -> None:
    assert ids(svg('<g id="a&amp;&lt;&#65;"/>').encode()) == ["a&<A"]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"  \n", "is empty"),
        (b"<svg", "in the middle of an element"),
        (f"<svg {XMLNS}><g>".encode(), "before its last element is closed"),
        (f"<svg {XMLNS}><g></svg>".encode(), "closing tag"),
        (b"<html/>", "not <svg>"),
        (b"\x89PNG\r\n\x1a\n\x00", "isn't text in UTF-8"),
        (b"\x1f\x8b\x08broken", "damaged"),
        (gzip.compress(svg(BODY).encode())[:-12], "ends too early"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' a='1' a='2'/>", "given twice"),
        (b"<svg x:y='1'/>", "prefix"),
        (b"<svg>\x00</svg>", "can't be read as XML"),
    ],
)
def test_files_that_are_no_drawing(data: bytes, says: str) -> None:
    with pytest.raises(Refused) as refused:
        ids(data)
    assert says in refused.value.show()


def test_depth_is_bounded() -> None:
    deep = "<g>" * 3000 + "</g>" * 3000
    with pytest.raises(Refused, match="nested more than"):
        ids(svg(deep).encode())
    assert ids(svg("<g>" * 150 + BODY + "</g>" * 150).encode()) == ["größe"]


def test_size_is_bounded_before_and_after_unpacking(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decode, "MAX_BYTES", 1000)
    with pytest.raises(Refused, match="large"):
        ids(svg(" " * 2000).encode())
    with pytest.raises(Refused, match="unpacks to more"):
        ids(gzip.compress(svg(" " * 2000).encode()))


def test_an_element_without_any_namespace_is_read() -> None:
    assert ids(b'<svg width="9mm" height="9mm"><rect id="a" width="1" height="1"/></svg>') == ["a"]


def test_places_count_lines_and_columns_from_one() -> None:
    doc = read_svg(svg('\n  <rect id="a"\n width="-1" height="5"/>').encode(), "t.svg")
    place = doc.shapes[0].faults[0].place
    assert place is not None
    assert (place.file, place.line, place.column, place.object) == ("t.svg", 3, 9, "a")
