"""Projects to mutate: all golden cases, demos, starters and bad inputs, each as files in one folder."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from tests.bench.mutate import Files
from tests.intake.dxf_drawings import block, dxf, line, pairs, polyline, thing

ROOT = Path(__file__).resolve().parents[2]
RECIPE = "recipe.yaml"
"""What the recipe of every project is called."""
_NAMED = re.compile(r"(?<=: )(?:[\w.-]+/)*([\w.-]+\.(?:svg|dxf|yaml|csv))")


def seeds() -> list[tuple[str, Files]]:
    """(name, files) of every project, by name."""
    found = dict(_found())
    found["dxf"] = {RECIPE: DXF_RECIPE.encode(), "d.dxf": DXF.encode()}
    found["tables"] = {k: v.encode() for k, v in TABLES.items()}
    return sorted(found.items())


def _found() -> Iterator[tuple[str, Files]]:
    places = [
        *((p, p / f"{p.name}.yaml") for p in (ROOT / "tests/cases").iterdir() if p.is_dir()),
        *((p.parent, p) for p in (ROOT / "configs/recipes").glob("*.yaml")),
        *((p.parent, p) for p in (ROOT / "tests/errors/recipes").glob("*.yaml")),
        *((p.parent, p) for p in (ROOT / "tests/errors/drawings").glob("*.yaml")),
    ]
    for folder, recipe in places:
        text = recipe.read_text(encoding="utf-8", errors="replace")
        files: Files = {}
        for named in _NAMED.finditer(text):
            path = folder / named[0]
            if path.is_file():
                files[named[1]] = path.read_bytes()
        name = f"{folder.parent.name}/{recipe.stem}" if folder.name in ("recipes", "drawings") else folder.name
        yield name, {RECIPE: _NAMED.sub(r"\1", text).encode(), **files}


_CURVES = (
    thing("CIRCLE", (10, 30), (20, 30), (40, 4), layer="hole")
    + thing("ARC", (10, 100), (20, 50), (40, 10), (50, 30), (51, 330), layer="rest")
    + thing("ELLIPSE", (10, 50), (20, 40), (11, 20), (21, 0), (40, 0.5), (41, 0), (42, 6.283185307179586), layer="round")
    + thing(
        "SPLINE", (70, 1), (71, 3), (72, 8), (73, 4), *((40, k) for k in (0, 0, 0, 0, 1, 1, 1, 1)),
        *(pair for x, y in ((0, 0), (10, 20), (30, -20), (40, 0)) for pair in ((10, x), (20, y), (30, 0))), layer="wave",
    )
    + line(0, 0, 40, 0, layer="wave")
    + thing("INSERT", (2, "knob"), (10, 70), (20, 60), (41, 2), (42, 2), (50, 30), layer="knobs")
)  # fmt: skip
DXF = dxf(
    polyline((0, 0), (120, 0, 0.3), (120, 80), (60, 90, -0.1), (0, 80), layer="body") + _CURVES,
    blocks=block("knob", thing("CIRCLE", (10, 0), (20, 0), (40, 3), layer="0") + line(-1, 0, 1, 0)),
    header=pairs((9, "$ACADVER"), (1, "AC1015")),
)
DXF_RECIPE = """design: dxf
drawing: d.dxf
sheets: {ply: {measured: {A: 6.1}, size: [300, 200], density: 680}}
steps:
  plate: {kind: outline, drawn: body, sheet: ply, cut: [hole, round]}
  hole: {kind: cavity, drawn: hole, face: front, through: true}
  round: {kind: cavity, drawn: round, face: front, depth: 2}
  more: {kind: offset, of: plate, by: [-3, 2]}
"""
TABLES = {
    RECIPE: """design: well
title: A block
revision: B
by: {name: N, issued: 1 March}
make: 2
parameters: {w: 40, d: w / 4}
drawing: d.svg
frame: {origin: page, turn: 0}
shops: {router: shop.yaml, beam: {process: laser, bed: [400, 300], kerf: 0.15}}
sheets:
  maple: {measured: {A: 25, B: 24.8}, size: [300, 200], density: 700, price: 20, shop: router}
  card: {measured: {A: 3}, size: [300, 200], shop: beam}
hardware: parts.csv
steps:
  block: {kind: outline, drawn: block, sheet: maple, cut: [hollow, pins]}
  hollow: {kind: cavity, opening: {rectangle: [w, d], corner: 4}, centre: [80, 50], face: front, depth: 6}
  pins: {kind: holes, role: index, at: [[35, 35], [125, 65]], diameter: 6, through: true}
  cover: {kind: offset, of: hollow, by: 3, sheet: card}
notes: [{say: look, at: [30, 30]}]
accepted: [{check: floor, piece: block, because: seen}]
variants: {small: {parameters: {w: 30}}, left: {mirror: true}}
made: well.made.yaml
""",
    "d.svg": '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">\n'
    '<g fill="none" stroke="#000">\n<rect id="block" x="20" y="20" width="120" height="60" rx="3"/>\n'
    '<path id="curve" d="M 20,20 C 60,0 100,40 140,20 L 140,80 Q 80,90 20,80 Z"/>\n</g></svg>\n',
    "shop.yaml": "name: router\nprocess: router\nbed: [600, 400]\ncutters: [{DC: 6, APMX: 25, LU: 30, DMM: 6}]\n"
    "wants: nests\nrates: {hour: 60, feed: 2500}\n",
    "parts.csv": "name,count,mass,x,y,z\nscrew,2,3 g,30,30,5\n",
    "well.made.yaml": "issued:\n  - revision: A\n    date: then\n    pieces: {block: A}\n"
    "made:\n  - {piece: block, revision: A, measured: 24.9, size: [120, 60], gauged: {A: 120.1}}\n",
    "well.made.csv": "piece,revision,count,measured,length,width,A\nblock,A,1,24.9,120,60,120.05\n",
}
"""A project with every kind of table beside the recipe."""
