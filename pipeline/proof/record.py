"""What packet.json says of a packet, against the recipe, the design and the files that lie beside it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pipeline.core.findings import Finding
from pipeline.proof.expect import Expected
from pipeline.proof.matching import Told
from pipeline.steps.values import Blank, Derived, Piece

NAME = "packet.json"
CLOSE = 1e-6


def wrong_record(folder: Path, derived: Derived, expected: tuple[Expected, ...]) -> Iterator[Finding]:
    """Letter, counts, measures and file lists that don't agree. Hashes are not looked at: a file that was only
    rewritten is the same cut. Nothing is said where there is no packet.json yet (inside a build)."""
    told = Told(file=NAME)
    try:
        found = json.loads((folder / NAME).read_bytes())
    except FileNotFoundError:
        return
    except ValueError as error:
        yield told.finding(f"It can't be read: {error}.")
        return
    if not isinstance(found, dict):
        yield told.finding("It holds no description of a packet.")
        return
    r = derived.recipe
    for key, wanted in (("design", r.design), ("revision", r.revision), ("variant", r.variant), ("units", "mm")):
        if found.get(key) != wanted:
            yield told.finding(f"It says {key} {found.get(key)!r}; the recipe says {wanted!r}.")
    yield from _rows(told, "pieces", found, {p.name: _piece(p) for p in derived.pieces})
    yield from _rows(told, "blanks", found, {b.name: _blank(b) for b in derived.blanks})
    yield from _own_files(told, found, expected)
    yield from _listed(told, folder, found)


def _piece(p: Piece) -> dict[str, Any]:
    return {
        "role": p.role,
        "step": p.step,
        "sheet": p.sheet,
        "letter": p.letter,
        "shop": p.shop,
        "count": p.count,
        "thickness_mm": p.thickness_mm,
        "area_mm2": p.region.area,
        "perimeter_mm": p.region.perimeter,
        "bounds_mm": list(p.region.bounds),
    }


def _blank(b: Blank) -> dict[str, Any]:
    return {"thickness_mm": b.thickness_mm, "laminations": [_layer(v) for v in b.laminations]}


def _layer(v: Any) -> dict[str, Any]:
    return {"number": v.number, "piece": v.piece, "sheet": v.sheet, "letter": v.letter, "z0": v.z0, "z1": v.z1}


def _rows(
    told: Told, key: str, found: Mapping[str, Any], wanted: Mapping[str, dict[str, Any]]
) -> Iterator[Finding]:
    rows = [row for row in _list(found, key) if isinstance(row, dict)]
    names = [str(row.get("name")) for row in rows]
    for name in wanted:
        if names.count(name) != 1:
            yield told.finding(f"It lists {name} {names.count(name)} times under {key}, not once.")
    for row, name in zip(rows, names, strict=True):
        if name not in wanted:
            yield told.finding(f"It lists {name} under {key}, which the design doesn't make.")
            continue
        for field, value in wanted[name].items():
            if not _same(row.get(field), value):
                said = json.dumps(row.get(field), ensure_ascii=False)
                yield told.finding(
                    f"It says {field} {said[:80]} of {name}, which isn't the design's.", subject=name
                )


def _own_files(told: Told, found: Mapping[str, Any], expected: tuple[Expected, ...]) -> Iterator[Finding]:
    """Every piece and blank names the files it stands in."""
    for key, blank in (("pieces", False), ("blanks", True)):
        for row in _list(found, key):
            if not isinstance(row, dict):
                continue
            mine = [w for w in expected if row.get("name") in w.subjects and w.blank == blank]
            wanted = {w.path for w in mine} | {w.path.removesuffix(".dxf") + ".svg" for w in mine if w.cut_file}
            said = {str(f.get("path")) for f in _list(row, "files") if isinstance(f, dict)}
            for path in sorted(said ^ wanted):
                word = "doesn't name" if path in wanted else "names"
                yield told.finding(f"It {word} {path} among the files of {row.get('name')}.")


def _listed(told: Told, folder: Path, found: Mapping[str, Any]) -> Iterator[Finding]:
    """The list of files is what lies there."""
    rows = [str(row.get("path")) for row in _list(found, "files") if isinstance(row, dict)]
    there = {p.relative_to(folder).as_posix() for p in (folder / "shops").rglob("*") if p.is_file()}
    for path in sorted(p for p in {*there, *rows} if (p in there) != (p in rows) and p.startswith("shops/")):
        yield told.finding(
            f"{path} {'lies in the packet and is not listed' if path in there else 'is listed and missing'}."
        )
    if len(rows) != len(set(rows)):
        yield told.finding("It lists a file twice.")


def _list(found: Mapping[str, Any], key: str) -> list[Any]:
    value = found.get(key)
    return value if isinstance(value, list) else []


def _same(said: Any, wanted: Any) -> bool:
    """Equal, numbers to the noise that packet.json takes off."""
    if isinstance(wanted, bool) or wanted is None or isinstance(wanted, str):
        return bool(said == wanted)
    if isinstance(wanted, list):
        return isinstance(said, list) and len(said) == len(wanted) and all(map(_same, said, wanted))
    if isinstance(wanted, dict):
        return (
            isinstance(said, dict)
            and said.keys() == wanted.keys()
            and all(_same(said[k], wanted[k]) for k in wanted)
        )
    return (
        isinstance(said, int | float)
        and not isinstance(said, bool)
        and math.isclose(said, wanted, rel_tol=CLOSE, abs_tol=CLOSE)
    )
