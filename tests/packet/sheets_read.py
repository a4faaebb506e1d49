"""Reads a workbook with the standard library alone: the sheets' cells as text and numbers."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree

NS = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}
Cell = str | float | None


def sheets(path: Path) -> dict[str, list[list[Cell]]]:
    """Name → rows of cells. Fails on a formula, a link or anything else that is neither words nor a number."""
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        words = _shared(archive)
        book = ElementTree.fromstring(archive.read("xl/workbook.xml"))
        names = [s.attrib["name"] for s in book.findall("m:sheets/m:sheet", NS)]
        assert not [n for n in archive.namelist() if "externalLink" in n or "vba" in n.lower()]
        found = {}
        for k, name in enumerate(names, start=1):
            page = ElementTree.fromstring(archive.read(f"xl/worksheets/sheet{k}.xml"))
            assert page.find(".//m:f", NS) is None, "a formula"
            assert page.find(".//m:hyperlink", NS) is None, "a link"
            found[name] = _rows(page, words)
    return found


def _shared(archive: zipfile.ZipFile) -> list[str]:
    if "xl/sharedStrings.xml" not in archive.namelist():
        return []
    root = ElementTree.fromstring(archive.read("xl/sharedStrings.xml"))
    return ["".join(t.text or "" for t in item.iter(f"{{{NS['m']}}}t")) for item in root.findall("m:si", NS)]


def _rows(page: ElementTree.Element, words: list[str]) -> list[list[Cell]]:
    rows: list[list[Cell]] = []
    for row in page.findall("m:sheetData/m:row", NS):
        number = int(row.attrib["r"])
        rows += [[] for _ in range(number - len(rows))]
        for c in row.findall("m:c", NS):
            letters = re.match("[A-Z]+", c.attrib["r"])
            assert letters
            column = 0
            for letter in letters.group():
                column = column * 26 + ord(letter) - 64
            cells = rows[number - 1]
            cells += [None] * (column - len(cells))
            value = c.find("m:v", NS)
            if value is None or value.text is None:
                continue
            assert c.attrib.get("t", "n") in ("s", "n"), c.attrib
            cells[column - 1] = words[int(value.text)] if c.attrib.get("t") == "s" else float(value.text)
    return rows


def table(rows: list[list[Cell]], first: int = 0) -> list[dict[str, Cell]]:
    """The rows below a heading, up to the next empty one."""
    heads = [str(h) for h in rows[first]]
    found = []
    for row in rows[first + 1 :]:
        if not any(v is not None for v in row):
            break
        found.append(dict(zip(heads, [*row, *[None] * (len(heads) - len(row))], strict=False)))
    return found
