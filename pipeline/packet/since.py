"""Since which revision a piece is unchanged: what a shop need not program again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.intake.made import Made
from pipeline.packet.names import issued_name
from pipeline.packet.packet_json import piece_row, tidy
from pipeline.steps.values import Derived

_SAME = ("step", "sheet", "letter", "count", "thickness_mm", "area_mm2", "perimeter_mm", "bounds_mm")


def unchanged_since(derived: Derived, keys: Mapping[str, str], made: Made) -> dict[str, str]:
    """Piece → the revision since which it is the same, by what was last issued.

    A piece counts as unchanged only when the packet that was issued last is still there, its step has the same
    fingerprint in it (``keys``: step → fingerprint), and its measures are equal; every doubt gives the present
    revision.
    """
    now = derived.recipe.revision
    before = _last_issued(derived, made)
    rows = {p["name"]: p for p in before.get("pieces", ())}
    old_keys = {s["name"]: s["key"] for s in before.get("steps", ())}
    found: dict[str, str] = {}
    for p in derived.pieces:
        old, new = rows.get(p.name), tidy(piece_row(p, (), now))
        same = (
            old is not None
            and bool(keys.get(p.step))
            and old_keys.get(p.step) == keys.get(p.step)
            and all(old.get(k) == new[k] for k in _SAME)
        )
        found[p.name] = made.since.get(p.name, now) if same else now
    return found


def _last_issued(derived: Derived, made: Made) -> dict[str, Any]:
    """packet.json of what was issued last, empty when there is none that can be read."""
    if not made.issued:
        return {}
    recipe = derived.recipe
    name = issued_name(recipe, made.issued[-1].revision)
    try:
        found = json.loads((Path(recipe.root) / "issued" / name / "packet.json").read_bytes())
    except (OSError, ValueError):  # gone or damaged: then nothing is known to be unchanged
        return {}
    return found if isinstance(found, dict) else {}
