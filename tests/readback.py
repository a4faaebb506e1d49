"""What the whole-product tests share: DXF read by ezdxf and measured by our own sums, folders, and runs."""

from __future__ import annotations

import collections
import math
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf.document import Drawing

HOME = Path(__file__).parent.parent
CASES = HOME / "tests" / "cases"
Loop = tuple[tuple[float, float, float], ...]
"""A closed contour: (x, y, bulge) of each vertex."""


def loops(drawing: Drawing, layer: str) -> list[Loop]:
    """Closed contours of a layer, as vertices with bulges; a CIRCLE is two half turns."""
    out: list[Loop] = []
    for e in drawing.modelspace().query(f'*[layer=="{layer}"]'):
        if e.dxftype() == "LWPOLYLINE":
            assert e.closed
            out.append(tuple((x, y, b) for x, y, b in e.get_points("xyb")))
        elif e.dxftype() == "POLYLINE":
            assert e.is_closed
            out.append(tuple((v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in e.vertices))
        elif e.dxftype() == "CIRCLE":
            c, r = e.dxf.center, e.dxf.radius
            out.append(((c.x + r, c.y, 1.0), (c.x - r, c.y, 1.0)))
    return out


def segments(loop: Loop) -> Iterator[tuple[float, float, float, float, float]]:
    """(x0, y0, x1, y1, bulge) of each line or arc of a closed contour."""
    for (x0, y0, b), (x1, y1, _) in zip(loop, loop[1:] + loop[:1], strict=True):
        yield x0, y0, x1, y1, b


def length(loop: Loop) -> float:
    """Sum of chords c, and of arcs rθ with bulge b = tan(θ/4), r = c (1 + b²) / 4b (DXF reference, outside
    checks F1)."""
    total = 0.0
    for x0, y0, x1, y1, b in segments(loop):
        c = math.hypot(x1 - x0, y1 - y0)
        total += c * (1 + b * b) / (4 * abs(b)) * 4 * math.atan(abs(b)) if b else c
    return total


def area(loop: Loop) -> float:
    """Shoelace of the chords plus the circular segments r²(θ − sin θ)/2, signed as the bulge; absolute."""
    total = 0.0
    for x0, y0, x1, y1, b in segments(loop):
        total += (x0 * y1 - x1 * y0) / 2
        if b:
            r = math.hypot(x1 - x0, y1 - y0) * (1 + b * b) / (4 * abs(b))
            turn = 4 * math.atan(abs(b))
            total += math.copysign(r * r * (turn - math.sin(turn)) / 2, b)
    return abs(total)


def bounds(loop: Loop) -> tuple[float, float, float, float]:
    """Corner vertices and the extreme points of arcs: (x0, y0, x1, y1)."""
    xs, ys = [v[0] for v in loop], [v[1] for v in loop]
    for x0, y0, x1, y1, b in segments(loop):
        if not b:
            continue
        k = (1 - b * b) / (4 * b)  # centre = middle of the chord + k × the chord's left normal
        cx, cy = (x0 + x1) / 2 - k * (y1 - y0), (y0 + y1) / 2 + k * (x1 - x0)
        r, turn, start = math.hypot(x0 - cx, y0 - cy), 4 * math.atan(b), math.atan2(y0 - cy, x0 - cx)
        for quarter in range(4):
            on = (quarter * math.pi / 2 - start) if b > 0 else (start - quarter * math.pi / 2)
            if on % (2 * math.pi) <= abs(turn):
                xs.append(cx + r * (1, 0, -1, 0)[quarter])
                ys.append(cy + r * (0, 1, 0, -1)[quarter])
    return min(xs), min(ys), max(xs), max(ys)


def counts(path: Path) -> dict[str, dict[str, int]]:
    """Of a DXF file: how many of which entity stand on each layer."""
    found = collections.Counter((e.dxf.layer, e.dxftype()) for e in ezdxf.readfile(path).modelspace())
    out: dict[str, dict[str, int]] = {}
    for (layer, kind), n in sorted(found.items()):
        out.setdefault(layer, {})[kind] = n
    return out


def tree(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its path, but for locks, which hold nothing."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and not p.name.startswith("lock-")
    }


def touched(folder: Path) -> dict[str, tuple[int, int]]:
    """Inode and time of change of every file of a folder."""
    return {
        p.relative_to(folder).as_posix(): (p.stat().st_ino, p.stat().st_mtime_ns)
        for p in folder.rglob("*")
        if p.is_file()
    }


def zipped(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as z:
        assert z.testzip() is None
        return {n: z.read(n) for n in z.namelist()}


def project(folder: Path, *cases: str) -> Path:
    """A project of its own in ``folder``, with the files of some cases in configs/recipes; that folder."""
    recipes = folder / "configs" / "recipes"
    recipes.mkdir(parents=True)
    for case in cases:
        for source in sorted((CASES / case).iterdir()):
            if source.suffix in (".yaml", ".svg"):
                target = folder / "configs" if source.name.endswith("-shop.yaml") else recipes
                shutil.copy(source, target)
        recipe = recipes / f"{case}.yaml"
        text = recipe.read_text(encoding="utf-8")
        for shop in sorted((folder / "configs").glob("*-shop.yaml")):
            text = text.replace(shop.name, f"../{shop.name}")
        recipe.write_text(text, encoding="utf-8")
    return recipes


def start(
    arguments: Sequence[str], cwd: Path, environment: Mapping[str, str] | None = None
) -> subprocess.Popen[str]:
    """`python -m pipeline …` in another process, as a person starts it."""
    return subprocess.Popen(
        [sys.executable, "-m", "pipeline", *arguments],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(HOME), "PYTHONIOENCODING": "utf-8", **(environment or {})},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )


def run(arguments: Sequence[str], cwd: Path) -> tuple[int, str, str]:
    """Exit code, standard output, standard error of one command."""
    process = start(arguments, cwd)
    out, err = process.communicate(timeout=120)
    return process.returncode, out, err


def packet_folder(answer: Mapping[str, Any], n: int = 0) -> Path:
    """The folder of the first packet of design ``n`` of a build's data."""
    return Path(answer["designs"][n]["packets"][0]["folder"])
