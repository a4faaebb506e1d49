"""One design, every free text in it hostile: each file of the packet is read back by a reader that isn't ours.

Names that go into file names are refused by a sentence; all other text comes out as it is, or visibly replaced.
"""

from __future__ import annotations

import csv
import io
import json
import re
import unicodedata
import zipfile
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pypdfium2
import pytest

from pipeline.core.names import MAX_NAME
from pipeline.path import build
from pipeline.verbs import check, look
from tests.packet.sheets_read import sheets

FORMULA = "=cmd|' /C calc'!A0"
TEXTS = {
    "plain": "Tray of ash",
    "script": "<script>alert(1)</script>",
    "attribute": "\" onmouseover='alert(1)' x=\"><img src=x onerror=alert(1)>",
    "formula": FORMULA,
    "plus": "+1+cmd|' /C calc'!A0",
    "at": "@SUM(1+1)*cmd|' /C calc'!A0",
    "path": "../../../x",
    "long": "Wm" * 150,
    "hebrew": "מגש של שלום",
    "arabic": "صينية 12",
    "emoji": "🎸🪵 tray",
    "device": "CON",
    "codes": "%%d^J\\P{\\fArial|b1;x}%%%c ]]> &amp; <!-- --> -->",
    "hidden": "a\u200bb\u00adc",
    "newlines": "0\u00a0 \u3000SECTION",
}
"""What is written into every free text of the design."""
REFUSED = ("\u202eevil", "a\x07b", "two\nlines", "a\u2028b", "x\u2066y", "a\x1b[31mb", "z\x00")
"""Text that is refused wherever it stands: it reorders, ends a line, or can't be seen."""

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" xmlns:i="http://www.inkscape.org/namespaces/inkscape"
 width="300mm" height="200mm" viewBox="0 0 300 200">
<g i:groupmode="layer" i:label="%(label)s"><rect id="plate" x="20" y="20" width="240" height="150" fill="#ccc"
 i:label="%(label)s 2"/></g>
<rect id="%(id)s" x="60" y="60" width="60" height="40" rx="8" fill="#aaa"/>
<circle id="spot" cx="150" cy="100" r="2"/>
</svg>"""
RECIPE = """design: tray
title: %(t)s
revision: B
by: {owner: %(t)s, drawn: %(t)s, issued: %(t)s}
make: 2
drawing: tray.svg
shops:
  router: {name: router, rates: {hour: 54, pass_depth: 4}, layers: %(layers)s}
  laser: {name: laser, process: laser, wants: nests, dxf: R12, kerf: 0.2, rates: {hour: 60}}
sheets:
  ply: {measured: {A: 9.1, B: 9.0}, size: [700, 500], density: 680, price: 11.5, material: %(t)s}
  thin: {measured: {A: 3.1}, size: [600, 300], density: 660, shop: laser, material: %(t)s}
hardware:
  %(t)s: {count: 4, mass: 3.5, price: 0.65, at: [20, 20, 0]}
steps:
  plate: {kind: outline, drawn: plate}
  well: {kind: cavity, drawn: %(id)s, face: back, depth: 6, ledge: {width: 4.5, depth: 3.3}}
  blank: {kind: stack, outline: plate, laminations: [ply A, ply B], glue: 0.05, allowance: 1, cut_blank: [well]}
  cover: {kind: cover, of: well, sheet: thin, gap: 0.25}
  guide: {kind: template, of: well, use: opening, follow: {bush: 17, cutter: 8}, sheet: ply A}
notes: [{at: spot, text: %(t)s}, {at: [50, 60], text: %(t)s, since: B}]
accepted: [{check: wall-thin, step: well, measured: 1, because: %(t)s, since: B, by: %(t)s}]
quote:
  currency: %(t)s
  priced: %(t)s
  valid: %(t)s
  breaks: [2, 10]
  supplies: {other: {%(t)s: {price: 2.5}}}
"""


def quoted(text: str) -> str:
    """A text as a YAML scalar in double quotes."""
    return json.dumps(text, ensure_ascii=False)


def project(folder: Path, text: str) -> Path:
    """A project whose every free text is ``text``; layers keep what a DXF layer may hold."""
    (folder / "configs").mkdir(parents=True)
    label = "".join({"<": "&lt;", "&": "&amp;", '"': "&quot;"}.get(c, c) for c in text)
    drawing = DRAWING % {"label": label, "id": label}
    (folder / "tray.svg").write_text(drawing, encoding="utf-8")
    layer = " ".join(re.sub(r"[^\w $.+()#-]", "", text).split())[:40] or "x"
    given = {"t": quoted(text), "id": quoted(text), "layers": f"{{POCKET: {quoted(layer + ' 1')}}}"}
    recipe = folder / "tray.yaml"
    recipe.write_text(RECIPE % given, encoding="utf-8")
    return recipe


@pytest.fixture(scope="module", params=list(TEXTS))
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """(the text, the folder that holds the packets) of one build."""
    folder = tmp_path_factory.mktemp("hostile")
    text = TEXTS[request.param]
    answer = build([project(folder / "p", text)], out=folder / "out")
    assert answer.exit_code == 0, answer.said
    assert sorted(p.name for p in folder.iterdir()) == ["out", "p"]
    return text, folder / "out"


def files(out: Path, ending: str) -> list[Path]:
    found = sorted((out / "tray").rglob(f"*{ending}"))
    assert found, ending
    return found


# -- HTML ------------------------------------------------------------------------------------------
class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.links: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}
        self.links += [v or "" for name, v in attrs if name in ("href", "src", "xlink:href")]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def page(path: Path) -> Page:
    read = Page()
    read.feed(path.read_text(encoding="utf-8"))
    read.close()
    return read


@pytest.fixture(scope="module")
def harmless(tmp_path_factory: pytest.TempPathFactory) -> Page:
    """The report of the same design with plain words."""
    folder = tmp_path_factory.mktemp("harmless")
    build([project(folder / "p", TEXTS["plain"])], out=folder / "out")
    return page(folder / "out" / "tray" / "report.html")


def test_report(made: tuple[str, Path], harmless: Page) -> None:
    text, out = made
    read = page(out / "tray" / "report.html")
    assert set(read.tags) <= set(harmless.tags)
    assert read.tags.count("script") == harmless.tags.count("script")
    assert "img" not in read.tags
    assert not [a for a in read.attributes if a.startswith("on")]
    assert read.attributes <= harmless.attributes
    assert all(link.startswith(("#", "shops/", "print/", "parts.", "data:image/")) for link in read.links), (
        read.links
    )
    shown = "".join(read.text)
    assert text in shown or " ".join(text.split()) in " ".join(shown.split())


# -- tables ----------------------------------------------------------------------------------------
def test_csv(made: tuple[str, Path]) -> None:
    text, out = made
    for path in files(out, ".csv"):
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
        assert {len(r) for r in rows} == {len(rows[0])}
        for value in (v for row in rows for v in row):
            numeric = re.fullmatch(r"-?\d+(\.\d+)?", value)
            assert numeric or not value.lstrip().startswith(("=", "+", "-", "@")), value
            assert not any(unicodedata.category(c) == "Cc" for c in value)
    parts = (out / "tray" / "parts.csv").read_text(encoding="utf-8")
    names = [r["part"] for r in csv.DictReader(io.StringIO(parts))]
    assert sum(n.lstrip("'") == text.lstrip("'") for n in names) == 2  # bought, and used up


def test_xlsx(made: tuple[str, Path]) -> None:
    """Words come out as words: the reader fails on a formula or link; the words are whole."""
    text, out = made
    for path in files(out, ".xlsx"):
        book = sheets(path)
        cells = [c for rows in book.values() for row in rows for c in row]
        assert cells.count(text) >= 3
        with zipfile.ZipFile(path) as archive:
            for name in archive.namelist():
                ElementTree.fromstring(archive.read(name))


# -- paper -----------------------------------------------------------------------------------------
def test_pdf(made: tuple[str, Path]) -> None:
    """Every page opens and bears text; signs that the faces lack stand as a question mark, never as a box."""
    text, out = made
    seen = ""
    for path in files(out, ".pdf"):
        bare = re.sub(rb"stream\r?\n.*?endstream", b"", path.read_bytes(), flags=re.DOTALL)
        assert not re.search(rb"/(JavaScript|JS|Launch|URI|OpenAction|EmbeddedFile)\b", bare)
        book = pypdfium2.PdfDocument(path)
        assert len(book) >= 1
        for sheet in book:
            words = sheet.get_textpage().get_text_range()
            assert words.strip()
            assert not any(unicodedata.category(c) in ("Co", "Cn") for c in words)
            seen += words
    if text == TEXTS["hebrew"]:
        assert "????" in seen
    if text in (TEXTS["script"], TEXTS["path"]):
        assert text in seen


def test_signs_that_paper_can_t_show_are_told(made: tuple[str, Path]) -> None:
    text, out = made
    record = json.loads((out / "tray" / "packet.json").read_text(encoding="utf-8"))
    told = [f for f in record["findings"] if f["check"] == "signs-unprintable"]
    assert bool(told) == (text in (TEXTS["hebrew"], TEXTS["arabic"], TEXTS["emoji"]))


# -- shop files ------------------------------------------------------------------------------------
def test_dxf(made: tuple[str, Path]) -> None:
    """Pairs of a group code and a value; nothing in a value that starts a code; ezdxf finds nothing to mend."""
    _, out = made
    flavours = set()
    for path in files(out, ".dxf"):
        lines = path.read_bytes().decode("utf-8" if b"AC1024" in path.read_bytes() else "cp1252").split("\r\n")
        lines = lines if len(lines) > 2 else path.read_text(encoding="utf-8").split("\n")
        pairs = lines[: len(lines) // 2 * 2]
        assert all(re.fullmatch(r" *-?\d+", code) for code in pairs[::2])
        assert not any(unicodedata.category(c) == "Cc" for line in lines for c in line)
        drawing = ezdxf.readfile(path)
        flavours.add(drawing.dxfversion)
        audit = drawing.audit()
        assert not audit.errors
        assert not audit.fixes
        for entity in drawing.modelspace().query("TEXT"):
            words = entity.dxf.text
            assert "%%" not in words
            assert "\\" not in words
            assert not re.search(r"\^(?! )", words)
        names = [layer.dxf.name for layer in drawing.layers]
        assert not [n for n in names if re.search(r'[<>/\\":;?*|=`,]', n)]
    assert flavours == {"AC1024", "AC1009"}


def test_svg(made: tuple[str, Path]) -> None:
    for path in files(made[1], ".svg"):
        root = ElementTree.fromstring(path.read_bytes())
        for element in root.iter():
            assert element.tag.rpartition("}")[2] in ("svg", "g", "title", "desc", "path", "circle", "text")
            assert not [a for a in element.attrib if a.startswith("on") or "href" in a]


# -- letter, record, names -------------------------------------------------------------------------
def test_letter_and_record(made: tuple[str, Path]) -> None:
    _, out = made
    for path in files(out, "letter.txt"):
        words = path.read_text(encoding="utf-8")
        assert not any(unicodedata.category(c) == "Cc" and c != "\n" for c in words)
    for path in files(out, "packet.json"):
        record = json.loads(path.read_text(encoding="utf-8"))
        for f in record["files"]:
            assert not f["path"].startswith(("/", "."))
            assert ".." not in f["path"].split("/")


def test_file_names(made: tuple[str, Path]) -> None:
    """Inside the packet, plain letters, at most 100 of them, no device of Windows; the archives' too."""
    _, out = made
    names = [p.relative_to(out).as_posix() for p in out.rglob("*") if not p.is_symlink()]
    for archive in files(out, ".zip"):
        with zipfile.ZipFile(archive) as z:
            names += z.namelist()
    for name in names:
        for part in name.split("/"):
            assert re.fullmatch(r"[A-Za-z0-9._][A-Za-z0-9._+-]{0,99}", part), part
            assert not part.endswith((".", " "))
            assert not re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?", part)


# -- what is refused -------------------------------------------------------------------------------
SMALL = """design: %(design)s
title: %(title)s
revision: %(revision)s
drawing: tray.svg
shops: {%(shop)s: {name: %(shop)s}}
sheets: {%(sheet)s: {measured: {%(letter)s: 6}}}
steps:
  %(step)s: {kind: outline, drawn: plate, sheet: %(sheet)s}
variants: {%(variant)s: {}}
"""
GOOD = {
    "design": "tray", "title": "Tray", "revision": "A", "shop": "router", "sheet": "ply", "letter": "A",
    "step": "plate", "variant": "thin",
}  # fmt: skip
NAMES = [f for f in GOOD if f != "title"]
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80"><rect id="plate" '
SVG += 'x="10" y="10" width="60" height="50"/></svg>'


def small(folder: Path, **changed: str) -> Path:
    (folder / "configs").mkdir(parents=True)
    (folder / "tray.svg").write_text(SVG, encoding="utf-8")
    recipe = folder / "tray.yaml"
    recipe.write_text(SMALL % {k: quoted(v) for k, v in (GOOD | changed).items()}, encoding="utf-8")
    return recipe


@pytest.mark.parametrize("field", NAMES)
@pytest.mark.parametrize("name", [k for k in TEXTS if k != "plain"])
def test_a_name_that_goes_into_file_names_is_plain(field: str, name: str, tmp_path: Path) -> None:
    answer = build([small(tmp_path / "p", **{field: TEXTS[name]})], out=tmp_path / "out")
    said = "\n".join(answer.said)
    assert answer.exit_code == 2, said
    assert "Traceback" not in said
    assert "fault of its own" not in said
    assert re.search(r"tray\.yaml:\d+:\d+", said) or "line" in said
    assert not list((tmp_path / "out").glob("*")) if (tmp_path / "out").exists() else True


@pytest.mark.parametrize("field", GOOD)
@pytest.mark.parametrize("text", REFUSED)
def test_text_that_hides_something_is_refused_everywhere(field: str, text: str, tmp_path: Path) -> None:
    answer = build([small(tmp_path / "p", **{field: text})], out=tmp_path / "out")
    said = "\n".join(answer.said)
    assert answer.exit_code == 2, said
    assert "fault of its own" not in said
    assert not any(unicodedata.category(c) == "Cc" and c != "\n" for c in said)
    assert not any(c in said for c in "\u202e\u2066\u2028")


@pytest.mark.parametrize("field", ["design", "step", "sheet", "shop", "variant"])
def test_names_at_their_longest_fit_or_are_refused(field: str, tmp_path: Path) -> None:
    answer = build([small(tmp_path / "p", **{field: "n" * MAX_NAME})], out=tmp_path / "out")
    assert answer.exit_code in (0, 2), answer.said
    assert "fault of its own" not in "\n".join(answer.said)
    assert all(len(p.name) <= 100 for p in (tmp_path / "out").rglob("*"))


def test_long_names_together_are_refused_by_a_sentence(tmp_path: Path) -> None:
    long = dict.fromkeys(("design", "step", "variant", "sheet"), "n" * MAX_NAME)
    answer = build([small(tmp_path / "p", **long)], out=tmp_path / "out")
    said = "\n".join(answer.said)
    assert answer.exit_code == 2, said
    assert "can't be written on every disk" in said
    assert "change the name" in said


# -- the other verbs -------------------------------------------------------------------------------
@pytest.mark.parametrize("name", list(TEXTS))
def test_findings_page(name: str, tmp_path: Path) -> None:
    answer = check([project(tmp_path / "p", TEXTS[name])], out=tmp_path / "out")
    assert answer.exit_code == 0, answer.said
    read = page(tmp_path / "out" / "tray.check.html")
    assert not {"script", "img", "iframe", "object"} & set(read.tags)
    assert not [a for a in read.attributes if a.startswith("on")]


@pytest.mark.parametrize("name", [*TEXTS, "reordering"])
def test_look(name: str, tmp_path: Path) -> None:
    """Names of a drawing's objects, whatever they are, in the list on the terminal and in the picture."""
    text = TEXTS.get(name, "\u202egpj.x\u2066")
    project(tmp_path / "p", text)
    answer = look(tmp_path / "p" / "tray.svg", out=tmp_path / "out")
    assert answer.exit_code == 0
    assert not any(unicodedata.category(c) == "Cc" and c != "\n" for c in answer.text)
    picture = (tmp_path / "out" / "tray.look.svg").read_text(encoding="utf-8")
    root = ElementTree.fromstring(picture)
    tags = {e.tag.rpartition("}")[2] for e in root.iter()}
    assert not {"script", "image", "a", "foreignObject"} & tags
    assert not [a for e in root.iter() for a in e.attrib if a.startswith("on") or "href" in a]
    for shown in (answer.text, picture):
        assert not set("\u202e\u2066") & set(shown)


def test_a_drawn_name_that_reorders_is_never_shown_raw(tmp_path: Path) -> None:
    """A recipe can't name it; what is said of the drawing doesn't repeat it as it is."""
    recipe = project(tmp_path / "p", "Tray")
    drawing = tmp_path / "p" / "tray.svg"
    text = drawing.read_text(encoding="utf-8")
    drawing.write_text(text.replace('"Tray', '"Tray\u202e'), encoding="utf-8")
    answer = build([recipe], out=tmp_path / "out")
    said = "\n".join(answer.said)
    assert answer.exit_code == 2
    assert "fault of its own" not in said
    assert not set("\u202e\u2066") & set(said)
