"""A packet whose proof fails is never swapped in: through the whole of `build`, with a writer that errs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.packet import write
from pipeline.packet.shop_file import ShopFile
from pipeline.path import build
from tests.readback import project, tree

CASE = "plain-page"


def wrong_vertex(data: bytes) -> bytes:
    """The first polyline's first vertex 0.05 mm further right."""
    text = data.decode("utf-8")
    at = text.index("\nLWPOLYLINE\n")
    return (text[:at] + re.sub(r"(\n 10\n)([^\n]+)", _further, text[at:], count=1)).encode("utf-8")


def _further(m: re.Match[str]) -> str:
    return f"{m[1]}{float(m[2]) + 0.05!r}"


def test_a_wrong_vertex_holds_the_packet_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recipe = project(tmp_path, CASE) / f"{CASE}.yaml"
    out = tmp_path / "out"
    first = build([recipe], out=out)
    assert first.exit_code == 0, first.said
    packet = Path(first.data["designs"][0]["packets"][0]["folder"])
    before = tree(packet)

    true = write.dxf_bytes

    def erring(file: ShopFile) -> bytes:
        return wrong_vertex(true(file))

    monkeypatch.setattr(write, "dxf_bytes", erring)
    second = build([recipe], out=out, fresh=True)
    assert second.exit_code == 1
    assert tree(packet) == before
    held = packet.with_name(packet.name + ".held")
    assert (held / "packet.json").is_file()
    assert any("HELD" in line for line in second.said)
    assert any("off the design's" in line or "off that of the DXF file" in line for line in second.said)
