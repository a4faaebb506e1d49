"""``look``: numbers, names, sizes, open or closed, and a picture that is itself a sound drawing."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.drawing import read_svg
from pipeline.intake.drawing.source import read_source
from pipeline.intake.look import look, look_rows, look_svg, look_text
from tests.intake.drawings import PAGE, svg

BODY = (
    '<g id="layer"><rect id="body" x="10" y="20" width="30" height="40"/>'
    '<path id="wire" fill="none" stroke="black" d="M50 10h25.5"/></g>'
    '<circle cx="100" cy="50" r="7" fill="none" stroke="red"/>'
    '<text id="word" x="5" y="5">hello</text><rect id="gone" width="3" height="4" display="none"/>'
    '<path id="bad" d="M0 0L5"/>'
)


def written(folder: Path, body: str = BODY, page: str = PAGE) -> Path:
    (folder / "d.svg").write_text(svg(body, page), encoding="utf-8")
    return folder / "d.svg"


def test_every_object_with_name_size_and_state(tmp_path: Path) -> None:
    rows = look_rows(look(written(tmp_path)))
    assert [(r["number"], r["name"], r["kind"]) for r in rows] == [
        (1, "body", "rect"), (2, "wire", "path"), (3, "", "circle"), (4, "word", "text"), (5, "gone", "rect"),
        (6, "bad", "path"),
    ]  # fmt: skip
    assert [r["size_mm"] for r in rows] == [[30, 40], [25.5, 0], [14, 14], None, [3, 4], None]
    assert [r["closed"] for r in rows] == [True, False, True, None, True, None]
    assert [r["filled"] for r in rows] == [True, False, False, False, True, False]
    assert [r["hidden"] for r in rows] == [False, False, False, False, True, False]
    assert "character 7" in rows[5]["trouble"]


def test_the_list_for_a_person(tmp_path: Path) -> None:
    text = look_text(look(written(tmp_path)))
    assert "200.00 x 100.00 mm; its page has a physical size" in text
    assert '"body"' in text
    assert "30.00 x 40.00" in text
    assert 'group "layer" holds 1, 2' in text
    assert "text isn't read" in text


def test_without_a_physical_size_sizes_are_in_units(tmp_path: Path) -> None:
    report = look(written(tmp_path, page='viewBox="0 0 200 100"'))
    assert report.unit == "drawing units"
    assert look_rows(report)[0]["size_units"] == [30, 40]
    assert "no physical size" in look_text(report)


def test_the_picture_shows_what_can_be_seen_with_its_numbers(tmp_path: Path) -> None:
    """Read back by our own reader: three objects are drawn, dashed where open, each with a number."""
    picture = look_svg(look(written(tmp_path)))
    doc = read_svg(picture.encode(), "look.svg")
    assert [s.kind for s in doc.shapes].count("path") == 3
    root = read_source(picture.encode(), "look.svg").root
    numbers = [n.words() for n in root.walk() if n.tag == "text" and n.words().isdigit()]
    assert numbers == ["1", "2", "3"]
    dashed = [n for n in root.walk() if n.tag == "path" and "stroke-dasharray" in n.attrs]
    assert len(dashed) == 1
    assert picture == look_svg(look(written(tmp_path)))


def test_hostile_names_come_out_harmless(tmp_path: Path) -> None:
    name = "&lt;script&gt;alert(1)&lt;/script&gt;\u202e"
    picture = look_svg(look(written(tmp_path, f'<rect id="{name}" width="9" height="9"/>')))
    assert "<script" not in picture
    assert "\u202e" not in picture
    assert read_svg(picture.encode(), "look.svg").shapes


@pytest.mark.parametrize("body", ["", '<text x="3" y="3">a</text>'])
def test_an_empty_drawing_still_has_a_picture(tmp_path: Path, body: str) -> None:
    report = look(written(tmp_path, body, page=""))
    assert look_svg(report).startswith("<svg")
    assert look_text(report)


def test_what_is_no_drawing_is_refused(tmp_path: Path) -> None:
    (tmp_path / "d.pdf").write_bytes(b"%PDF-1.7")
    with pytest.raises(Refused, match="isn't an SVG or DXF drawing"):
        look(tmp_path / "d.pdf")
    with pytest.raises(Refused, match="There is no drawing"):
        look(tmp_path / "none.svg")
    with pytest.raises(Refused, match="folder"):
        look(tmp_path)
