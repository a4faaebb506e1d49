"""Mass and centre of mass of the finished object."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.core.recipe import Recipe
from pipeline.steps.values import Derived, Piece

OBJECT_ROLES = ("panel", "cover")
"""Pieces that are part of the object; laminations count in their blank, templates and gauges never."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One thing that has mass: ``mass_g`` of one object's worth, ``at_mm`` its centre where known."""

    name: str
    mass_g: float | None
    at_mm: tuple[float, float, float] | None


def composite(shares: Iterable[tuple[float, tuple[float, float, float]]]) -> tuple[float, float, float]:
    """Centre of several masses, Σ m r / Σ m; a hole is a negative mass. ValueError when they sum to 0."""
    listed = list(shares)
    total = sum(m for m, _ in listed)
    if not total:
        raise ValueError("masses that sum to nothing have no centre")
    x, y, z = (sum(m * at[k] for m, at in listed) / total for k in range(3))
    return x, y, z


def shares(derived: Derived) -> tuple[Share, ...]:
    """Everything that one finished object is made of: blanks, panels, covers, bought parts."""
    recipe = derived.recipe
    found = [
        Share(name=b.name, mass_g=_times(b.mass_g, b.count / recipe.make), at_mm=b.centre_mm)
        for b in derived.blanks
    ]
    kept = [p for p in derived.pieces if p.role in OBJECT_ROLES]
    lone = len(kept) == 1 and not derived.blanks
    found += [
        Share(name=p.name, mass_g=_times(p.mass_g, p.count / recipe.make), at_mm=_centre(derived, p, lone))
        for p in kept
    ]
    found += [
        Share(name=name, mass_g=part.mass * part.count, at_mm=part.at)
        for name, part in recipe.hardware.items()
        if part.mass
    ]
    return tuple(found)


def mass_and_centre(derived: Derived) -> tuple[float | None, tuple[float, float, float] | None]:
    """(mass in g, centre in mm) of one object; None for what can't be known.

    The mass needs every density; the centre needs a place for everything that has mass.
    """
    found = shares(derived)
    if not found or any(s.mass_g is None for s in found):
        return None, None
    mass = sum(s.mass_g or 0.0 for s in found)
    placed = [(s.mass_g or 0.0, s.at_mm) for s in found if s.mass_g and s.at_mm is not None]
    if not placed or len(placed) < sum(bool(s.mass_g) for s in found):
        return mass, None
    return mass, composite((m, at) for m, at in placed if at is not None)


def unknown(derived: Derived) -> tuple[str, ...]:
    """Why mass or centre of mass can't be stated, a sentence for each thing that lacks something."""
    found = shares(derived)
    told = [f"The mass of {s.name} is not known: its sheet has no density." for s in found if s.mass_g is None]
    return (
        *told,
        *(
            f"{s.name} has a mass but no place, so the centre of mass can't be told."
            for s in found
            if s.mass_g and s.at_mm is None
        ),
    )


def _times(mass: float | None, factor: float) -> float | None:
    return None if mass is None else mass * factor


def _centre(derived: Derived, piece: Piece, lone: bool) -> tuple[float, float, float] | None:
    """Where a panel or cover sits: a lone panel lies on z = 0, a cover in the face of its cavity.

    How several panels stand to one another no recipe says, so theirs is unknown.
    """
    x, y = piece.region.centroid
    half = piece.thickness_mm / 2
    if lone:
        return x, y, half
    if piece.role == "cover" and derived.blanks:
        face = _face(derived.recipe, piece)
        if face:
            return x, y, half if face == "back" else derived.blanks[0].thickness_mm - half
    return None


def _face(recipe: Recipe, piece: Piece) -> str:
    """The face of the cavity that a cover closes, empty where no step it needs has one."""
    needs = recipe.steps[piece.step].needs if piece.step in recipe.steps else {}
    faces = (getattr(recipe.steps[n].spec, "face", "") for n in needs if n in recipe.steps)
    return next((str(f) for f in faces if f in ("front", "back")), "")
