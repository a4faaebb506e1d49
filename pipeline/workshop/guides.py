"""Templates as the order of work speaks of them: which shape they bring out, with which follower and cutter."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.text import listed
from pipeline.steps import template
from pipeline.steps.values import Derived, Piece


def serving(derived: Derived, step: str) -> list[Piece]:
    """The templates that bring out the shape of a step."""
    return [p for p in derived.pieces if serves(derived, p, step)]


def serves(derived: Derived, piece: Piece, step: str) -> bool:
    """True when a template brings out the shape of a step."""
    spec = spec_of(derived, piece)
    if spec is None:
        return False
    own = f"{piece.step}-{step}"
    return spec.of == step or (spec.set_ is not None and piece.name in (own, f"{own}-recess"))


def spec_of(derived: Derived, piece: Piece) -> template.Spec | None:
    spec = derived.recipe.steps[piece.step].spec
    return spec if piece.role == "template" and isinstance(spec, template.Spec) else None


def for_recess(derived: Derived, piece: Piece) -> bool:
    """Does it bring out the recess of a ledge?"""
    spec = spec_of(derived, piece)
    return for_both(derived, piece) or piece.name.endswith("-recess") or bool(spec and spec.recess)


def for_both(derived: Derived, piece: Piece) -> bool:
    """Does one hole serve recess and cavity, by two followers?"""
    spec = spec_of(derived, piece)
    told = any(label.text.startswith("RECESS ") for s in piece.set_ups for label in s.labels)
    return told or bool(spec and spec.ledge)


def followers(derived: Derived, piece: Piece) -> list[str]:
    """Followers and cutters in the order in which they are used, in words."""
    spec = spec_of(derived, piece)
    if spec is None:
        return []
    found = spec.stages
    if spec.whole_set is not None and spec.whole_set.cavities:
        outline = template.stack_of(spec, derived.recipe).spec.outline
        found = found if piece.name == f"{piece.step}-{outline}" else template.stages_of(spec.whole_set.cavities)
    return [f"{f.kind} {f.diameter:g}, cutter {f.cutter:g}" for f in found]


def cutters(derived: Derived, pieces: Sequence[Piece], *, recess: bool = False) -> str:
    """What follows these templates: of one that serves both, the follower of the recess or of the cavity."""
    words = []
    for p in pieces:
        found = followers(derived, p)
        if for_both(derived, p) and found:
            found = found[-1:] if recess else found[:1]
        words.append(", then ".join(found))
    return listed(dict.fromkeys(w for w in words if w)) or "hand router"


def face_up(derived: Derived, pieces: Sequence[Piece]) -> str:
    """The face that lies up under the first of them."""
    spec = spec_of(derived, pieces[0]) if pieces else None
    return (spec.face if spec else None) or "front"
