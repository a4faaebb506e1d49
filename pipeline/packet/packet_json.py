"""packet.json: what is in a packet and from what, for people's programs and for `proof`."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pipeline.core.findings import Finding, worst_first
from pipeline.packet.changes import since_key
from pipeline.packet.shop_file import ShopFile
from pipeline.steps.values import Blank, Derived, Piece, WorkLine

FORMAT = 1
DECIMALS = 9
"""Numbers lose only the noise of binary arithmetic: depths stand here unrounded."""
_TOTALS = ("mass_g", "centre_of_mass_mm", "sheets", "cost", "machine_minutes")


def packet_dict(
    derived: Derived,
    files: Sequence[ShopFile],
    work: Iterable[WorkLine],
    findings: Iterable[Finding],
    totals: Mapping[str, Any],
    proof: Mapping[str, Any],
    listed: Sequence[Mapping[str, Any]],
    *,
    keys: Mapping[str, str],
    since: Mapping[str, str],
    views: Sequence[Mapping[str, Any]] = (),
    gauges: Sequence[Mapping[str, Any]] = (),
) -> dict[str, Any]:
    """The whole of packet.json as JSON values, keys in the order they are written.

    ``totals`` and ``proof`` hold what the contract names, absent ones are null; ``listed`` are the packet's files
    (path, sha256, bytes); ``keys`` maps steps to their fingerprints, ``since`` pieces and blanks (`since_key`)
    to the revision they are unchanged since; ``views`` and ``gauges`` are those of `view_rows`. Raises
    ValueError on a number that isn't finite.
    """
    r = derived.recipe
    found: dict[str, Any] = {
        "format": FORMAT,
        "design": r.design,
        "revision": r.revision,
        "variant": r.variant,
        "units": "mm",
        "inputs": [{"path": i.path, "sha256": i.sha256} for i in r.inputs],
        "pieces": [piece_row(p, files, since.get(p.name, r.revision)) for p in derived.pieces],
        "blanks": [_blank(b, files, since.get(since_key(b.name, blank=True), r.revision)) for b in derived.blanks],
        "steps": [_step(derived, s.name, keys.get(s.name, "")) for s in derived.order],
        "sequence": [
            {"n": w.n, "work": w.work, "piece": w.piece, "face": w.face, "cutter": w.cutter, "because": w.because}
            for w in work
        ],
        "findings": [_finding(f) for f in worst_first(tuple(findings))],
        "files": list(listed),
        "totals": {name: totals.get(name) for name in _TOTALS},
        "proof": {"worst_mm": proof.get("worst_mm"), "where": proof.get("where", "")},
        "views": list(views),
        "gauges": list(gauges),
    }
    tidied: dict[str, Any] = tidy(found)
    return tidied


def packet_text(found: Mapping[str, Any]) -> str:
    """The text of packet.json."""
    return json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def tidy(value: Any) -> Any:
    """The value in plain JSON kinds, floats without binary noise or minus zero."""
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        return {str(k): tidy(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [tidy(v) for v in value]
    if isinstance(value, int):
        return value
    number = float(value)
    if not math.isfinite(number):
        raise ValueError("packet.json can't hold a number that isn't finite")
    return round(number, DECIMALS) + 0.0


def piece_row(p: Piece, files: Sequence[ShopFile], since: str) -> dict[str, Any]:
    """What packet.json says of a piece; measures are of the exact design edge."""
    return {
        "name": p.name,
        "role": p.role,
        "step": p.step,
        "sheet": p.sheet,
        "letter": p.letter,
        "shop": p.shop,
        "count": p.count,
        "since": since,
        "thickness_mm": p.thickness_mm,
        "area_mm2": p.region.area,
        "perimeter_mm": p.region.perimeter,
        "bounds_mm": p.region.bounds,
        "mass_g": p.mass_g,
        "files": _files(p.name, files, blank=False),
    }


def _blank(b: Blank, files: Sequence[ShopFile], since: str) -> dict[str, Any]:
    return {
        "name": b.name,
        "since": since,
        "laminations": [
            {"number": v.number, "piece": v.piece, "sheet": v.sheet, "letter": v.letter, "z0": v.z0, "z1": v.z1}
            for v in b.laminations
        ],
        "thickness_mm": b.thickness_mm,
        "mass_g": b.mass_g,
        "files": _files(b.name, files, blank=True),
    }


def _files(name: str, files: Sequence[ShopFile], *, blank: bool) -> list[dict[str, str]]:
    """Every shop file that shows a piece or blank, with the face that lies up in it."""
    return [
        {"path": f"shops/{f.shop}/{f.stem}.{kind}", "set_up": face, "format": kind}
        for f in files
        for who, face in f.subjects
        if who == name and f.blank == blank
        for kind in f.formats
    ]


def _step(derived: Derived, name: str, key: str) -> dict[str, Any]:
    """Name, kind, needs and key of a step, and beside them the numbers it states."""
    step, result = derived.recipe.steps[name], derived.results.get(name)
    found = {"name": name, "kind": step.kind, "needs": sorted(step.needs), "key": key}
    numbers = dict(result.numbers) if result else {}
    clash = sorted(set(found) & set(numbers))
    if clash:
        raise ValueError(f"the step {name} states a number called {clash[0]}, which is a word of packet.json")
    return found | numbers


def _finding(f: Finding) -> dict[str, Any]:
    return {
        "check": f.check,
        "severity": f.severity,
        "step": f.step,
        "piece": f.piece,
        "at_mm": f.at_mm,
        "face": f.face,
        "measured": f.measured,
        "limit": f.limit,
        "remedy": f.remedy,
        "accepted": f.accepted,
    }
