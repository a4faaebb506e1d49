"""Packets for the tests of comparing: derived from recipes, with shop files and packet.json and nothing else."""

from __future__ import annotations

import math
import re
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.compare.of_design import state_of_derived
from pipeline.compare.of_packet import state_of_packet
from pipeline.compare.recut import verdicts
from pipeline.compare.since import Settled, settled
from pipeline.compare.state import State
from pipeline.core.recipe import Recipe
from pipeline.core.verdict import Verdict
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.made import Made, MadePiece, read_made
from pipeline.intake.recipe import read_recipe
from pipeline.packet.shop_files import shop_files
from pipeline.packet.write import write_record, write_shop_files
from pipeline.steps.values import Derived
from pipeline.workshop.nest import nests
from tests.readback import CASES

Edits = Sequence[tuple[str, str]]


def hull(big: float = 120.0, small: float = 42.0, x: float = 190.0, at: float = 20.0) -> str:
    """Path data of body W's outline: the convex hull of circles R at (20, 0) and r at (x, 0) (trade.md, head)."""
    angle = math.acos((big - small) / (x - at))
    c, s = math.cos(angle), math.sin(angle)

    def p(u: float, v: float) -> str:
        return f"{u:.12f},{v:.12f}"

    return (
        f"M {p(at + big * c, -big * s)} A {big} {big} 0 1 0 {p(at + big * c, big * s)} "
        f"L {p(x + small * c, small * s)} A {small} {small} 0 0 0 {p(x + small * c, -small * s)} Z"
    )


def hull_area(big: float = 120.0, small: float = 42.0, x: float = 190.0, at: float = 20.0) -> float:
    """Area of that hull in closed form: (R + r) s + R²(π/2 + α) + r²(π/2 − α) (trade.md, head)."""
    d = x - at
    s, a = math.sqrt(d * d - (big - small) ** 2), math.asin((big - small) / d)
    return (big + small) * s + big**2 * (math.pi / 2 + a) + small**2 * (math.pi / 2 - a)


def hull_perimeter(big: float = 120.0, small: float = 42.0, x: float = 190.0, at: float = 20.0) -> float:
    """Its perimeter: 2 s + R (π + 2 α) + r (π − 2 α) (trade.md, head)."""
    d = x - at
    s, a = math.sqrt(d * d - (big - small) ** 2), math.asin((big - small) / d)
    return 2 * s + big * (math.pi + 2 * a) + small * (math.pi - 2 * a)


def body_w(folder: Path, edits: Edits = (), *, outline: str = "", revision: str = "A") -> Path:
    """The recipe of body W in a folder of its own, edited; ``outline`` replaces the drawn path."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "configs").mkdir(exist_ok=True)  # which makes the folder the project's root
    for file in (CASES / "body-w").iterdir():
        if file.name != "expected.json":
            shutil.copy(file, folder)
    if outline:
        svg = folder / "body-w.svg"
        text, count = re.subn(r'd="M 75[^"]*"', f'd="{outline}"', svg.read_text(encoding="utf-8"))
        assert count == 1
        svg.write_text(text, encoding="utf-8")
    recipe = folder / "body-w.yaml"
    text = recipe.read_text(encoding="utf-8")
    for old, new in (("revision: A", f"revision: {revision}"), *edits):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    recipe.write_text(text, encoding="utf-8")
    return recipe


def settled_of(path: Path, made: Made | None = None) -> Settled:
    """A recipe derived with its labels settled, as a build does it."""
    recipe = read_recipe(str(path))
    drawing = read_drawing(recipe)
    register = read_made(recipe.made) if made is None else made
    return settled(
        recipe, register, lambda since: derive(recipe, drawing, blank_measured=register.blanks, since=since)
    )


def written(folder: Path, derived: Derived, since: Mapping[str, str] | None = None) -> Path:
    """Shop files and packet.json of a derivation."""
    folder.mkdir(parents=True)
    laid, _ = nests(derived)
    files = shop_files(derived, laid)
    write_shop_files(folder, files)
    write_record(
        folder, derived, files, (), (), {}, {"worst_mm": 0.0, "where": ""}, keys={}, since=since or {}, nests=laid
    )
    return folder


def packet(path: Path, folder: Path) -> State:
    """The packet of a recipe, written and read back."""
    made = settled_of(path)
    return state_of_packet(written(folder, made.derived, made.since), source=folder.name)


def now(path: Path, made: Made | None = None) -> State:
    """What a recipe is now."""
    return state_of_derived(settled_of(path, made).derived)


def register(*names: str, revision: str = "A", glued: Mapping[str, float] | None = None) -> Made:
    """A register with one of each piece, and glued blanks with their thickness."""
    rows = [MadePiece(piece=n, revision=revision) for n in names]
    blanks = glued or {}
    rows += [MadePiece(piece=n, revision=revision, glued=True, measured=t) for n, t in blanks.items()]
    return Made(made=tuple(rows), blanks=dict(blanks))


def judged(old: State, new: State, made: Made) -> dict[str, Verdict]:
    """Verdicts by piece; nothing but ``old`` is known of the past."""
    found = verdicts(new, made, lambda r: old if r == old.revision else f"revision {r} was never issued here")
    return {v.piece: v for v in found}


def of_case(name: str) -> tuple[Recipe, Derived]:
    """One of the golden designs, derived."""
    found = settled_of(CASES / name / f"{name}.yaml", Made())
    return found.derived.recipe, found.derived
