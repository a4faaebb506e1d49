"""The heron's packet by a plain script: the yardstick for the speed of the real build.

What it does: reads the two outlines with svgelements, samples their curves (2,140 points for the body, as the
build's own flattened form has), makes shapely buffers, unions and differences like the build's (near its sizes,
not all of them), and writes 23 files of the same kinds: 8 DXF files through ezdxf with as many polylines, circles
and texts as the packet has (edges with as many vertices), 7 SVG files, a tiled PDF of three sheets through
reportlab, a page with as many paths, CSV, JSON and text, two zip archives.

What it leaves out: recipe, units, errors, arcs (its polylines are evenly spaced chords), depths, nesting by
search, order of work, checks, proof, lock and exchange. Its texts say nothing, its files are fit for no shop.
Wherever the two differ it does less than the build, so the ratios are the harsher for the build.
"""

from __future__ import annotations

import csv
import io
import json
import sys
import zipfile
from pathlib import Path

import ezdxf
import numpy as np
import shapely
import svgelements
from reportlab.pdfgen.canvas import Canvas
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate, translate

MM = 72 / 25.4
DRAWING = Path(__file__).resolve().parents[2] / "demo_inputs" / "heron.svg"
SEGMENTS = 64  # of a quarter circle: chords within about 0.001 mm at 4.5 mm, as the build flattens

# shop/file: texts, circles, strokes, vertices of each polyline by the shape it follows (as the packet has them)
FILES: dict[str, tuple[int, int, int, dict[str, int]]] = {
    "router/blank-1": (27, 2, 4, {"blank": 129, "control": 51, "recess": 44}),
    "router/blank-2": (25, 2, 4, {"blank": 129, "control": 51}),
    "router/blank-3": (27, 2, 5, {"blank": 129, "control": 48}),
    "router/blank": (37, 2, 4, {"body": 115, "blank": 129, "neck": 8}),
    "router/body_guide": (22, 0, 52, {"body": 115}),
    "router/neck_guide": (23, 4, 81, {"neck_edge": 8, "neck_board": 8}),
    "laser/nest": (0, 4, 0, {"cover": 43}),
    "laser/nest_reference": (21, 4, 5, {"cover": 43}),
}


def outline(name: str, points: int) -> Polygon:
    """A drawn path as a polygon, its curves sampled evenly, the bridge mark at (0, 0), y up."""
    drawn = svgelements.SVG.parse(str(DRAWING), ppi=25.4, reify=True)
    path = next(e for e in drawn.elements() if getattr(e, "id", None) == name)
    curves = [s for s in path if not isinstance(s, svgelements.Move | svgelements.Close)]
    each = np.linspace(0, 1, points // len(curves), endpoint=False)
    at = np.concatenate([np.asarray(s.npoint(each)) for s in curves])
    return Polygon(np.column_stack([at[:, 0] - 220, 160 - at[:, 1]]))


def geometry() -> dict[str, Polygon]:
    """The same regions by the same calls: buffers, unions, differences, of the three laminations too."""
    body, control = outline("body", 2140), outline("control", 1051)
    q = {"quad_segs": SEGMENTS}
    pocket = box(134.5, -15.5, 193.5, 15.5).buffer(6.5, **q)
    neck = pocket.union(box(164, -22, 260, 22))
    wire = LineString([(128, 0), (-20, -50)]).buffer(4, **q)
    pins = [Point(-190, 0).buffer(3, **q), Point(225, 0).buffer(4, **q)]
    ears = shapely.union_all([p.buffer(8, **q) for p in pins])
    recess = control.buffer(4.5, **q)
    layers = {f"layer{k}": body.buffer(1, **q).union(ears).difference(shapely.union_all(pins)) for k in range(3)}
    layers = {name: layer.difference(control) for name, layer in layers.items()}
    layers["layer2"] = layers["layer2"].difference(wire).difference(neck)
    ramps = [box(x, -30, x + 20, 30).intersection(neck) for x in range(130, 210, 20)]
    carve = {f"carve{-d}": body.buffer(d, **q) for d in (-6, -12, -18)}
    walls = {f"wall{k}": body.difference(cut).buffer(-2, **q) for k, cut in enumerate((recess, neck, wire))}
    turned = [rotate(translate(recess.buffer(-0.25, **q), 300, 150), a) for a in (0, 90)]
    shapes = {"body": body, "control": control, "recess": recess, "neck": neck, "cover": turned[0], "wire": wire}
    shapes |= {"blank": body.buffer(1, **q).union(ears), "neck_edge": pocket.buffer(4.5, **q)}
    shapes |= {"neck_board": pocket.envelope.buffer(90, **q)} | layers | carve | walls
    return shapes | {f"ramp{k}": r for k, r in enumerate(ramps)}


def ring(shape: Polygon, count: int) -> list[tuple[float, float]]:
    """``count`` points evenly along the outer ring."""
    outer = max(shapely.get_parts(shape), key=lambda p: p.area).exterior
    at = shapely.line_interpolate_point(outer, np.arange(count) / count, normalized=True)
    return [(round(x, 6), round(y, 6)) for x, y in shapely.get_coordinates(at).tolist()]


def dxf_and_svg(folder: Path, shapes: dict[str, Polygon]) -> None:
    """Eight DXF files with the packet's numbers of entities, an SVG beside all but the reference."""
    for name, (texts, circles, strokes, edges) in FILES.items():
        doc = ezdxf.new("R2010", setup=False, units=4)
        for layer in ("CUT", "POCKET", "DRILL", "ENGRAVE", "STOCK", "DATUM", "TEXT"):
            doc.layers.add(layer)
        space, lines = doc.modelspace(), [(ring(shapes[shape], n), "CUT") for shape, n in edges.items()]
        lines += [([(10.0 + k, 5.0 * j) for k in range(4)], "ENGRAVE") for j in range(strokes)]
        for at, layer in lines:
            rows = [(x, y, 0.0) for x, y in at]
            space.add_lwpolyline(rows, format="xyb", close=layer == "CUT", dxfattribs={"layer": layer})
        for k in range(circles):
            space.add_circle((20.0 * k, 0), 3, dxfattribs={"layer": "DRILL"})
        for k in range(texts):
            said = {"layer": "TEXT", "insert": (0, -6.0 * k)}
            space.add_text(f"A line of the legend, {name}, {k}", height=3.5, dxfattribs=said)
        text = io.StringIO()
        doc.write(text)
        (folder / f"shops/{name}.dxf").write_bytes(doc.encode(text.getvalue()))
        if not name.endswith("reference"):
            body = [
                f'<path class="{la}" d="M{" ".join(f"{x:.6g} {-y:.6g}" for x, y in at)}"/>' for at, la in lines
            ]
            body += [f'<circle cx="{20 * k}" cy="0" r="3"/>' for k in range(circles)]
            body += [f'<text x="0" y="{6 * k}">A line of the legend, {k}</text>' for k in range(texts)]
            (folder / f"shops/{name}.svg").write_text(f"<svg>{''.join(body)}</svg>", "utf-8")


def pdf(path: Path, shapes: dict[str, Polygon]) -> None:
    """Three sheets that show one form through a window, with crosses, bands, rules and a key map."""
    canvas = Canvas(str(path), pagesize=(210 * MM, 297 * MM), invariant=1, pageCompression=1)
    canvas.beginForm("drawing", -5, -5, 440 * MM, 250 * MM)
    for name in ("body", "carve6", "carve12", "carve18", "control", "recess", "neck", "wire"):
        line = canvas.beginPath()
        xy = (np.asarray(shapes[name].exterior.coords) + np.array([199, 122])) * MM
        line.moveTo(*xy[0].tolist())
        for x, y in xy[1:].tolist():
            line.lineTo(x, y)
        canvas.drawPath(line)
    canvas.endForm()
    for sheet in range(3):
        canvas.saveState()
        window = canvas.beginPath()
        window.rect(8 * MM, 8 * MM, 194 * MM, 281 * MM)
        canvas.clipPath(window, stroke=0)
        canvas.translate((8 - 184 * sheet) * MM, 8 * MM)
        canvas.doForm("drawing")
        canvas.restoreState()
        for k in range(46 + 8 + 46):
            canvas.line(192 * MM, (8 + 6 * k % 280) * MM, 202 * MM, (18 + 6 * k % 280) * MM)
        for k in range(10):
            canvas.drawString(20 * MM, (4 + 20 * k) * MM, f"Sheet {sheet + 1} of 3, line {k}")
        canvas.showPage()
    canvas.save()


def main(out: str) -> None:
    """Write the 23 files into the folder ``out``."""
    folder = Path(out)
    for name in ("shops/router", "shops/laser", "print"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    shapes = {name: max(shapely.get_parts(s), key=lambda p: p.area) for name, s in geometry().items() if s.area}
    dxf_and_svg(folder, shapes)
    pdf(folder / "print" / "body_A4.pdf", shapes)
    rings = [shapely.simplify(s, 0.05).exterior.coords for s in [*shapes.values()] * 4]
    paths = [f'<path d="M{" ".join(f"{x:.6g} {-y:.6g}" for x, y in r)}Z"/>' for r in rings[:71]]
    (folder / "report.html").write_text(f"<svg>{''.join(paths)}</svg>{'<p>A sentence.</p>' * 200}", "utf-8")
    for name, rows in (("parts.csv", 9), ("sequence.csv", 43)):
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([[k, "work", "piece", "front", "cutter", "because"] for k in range(rows)])
    sizes = {name: [s.area, s.length, *s.bounds] for name, s in shapes.items()}
    (folder / "packet.json").write_text(json.dumps([sizes] * 4, indent=1), "utf-8")
    (folder / "letter.txt").write_text("A sentence.\n" * 150, "utf-8")
    for shop in ("router", "laser"):
        with zipfile.ZipFile(
            folder / "shops" / f"{shop}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=6
        ) as packed:
            for path in sorted((folder / "shops" / shop).iterdir()):
                packed.write(path, f"{shop}/{path.name}")


if __name__ == "__main__":
    main(sys.argv[1])
