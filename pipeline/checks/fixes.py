"""The remedy of a finding as numbers: which fields of the recipe to set to what, so that it is gone.

Numbers lie on the safe side of the limit by up to a hundredth. Where a remedy isn't one number (draw it otherwise,
name another shop) there is none. Sideways moves are worked out in `moves.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from pipeline.checks import moves
from pipeline.checks.screw_short import next_length
from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.rounding import largest_radius
from pipeline.steps.fits import plan_of, room_mm
from pipeline.steps.template_support import packing_for

Fix = tuple[tuple[str, float | str], ...]
FLOOR_MM = 3.0
"""What is left under a floor after its remedy (trade.md 8, fault 13)."""
EASY_MM = 0.2
"""A corner or slot is made so much rounder or wider than the cutter (trade.md 8, faults 1 and 2)."""


def with_fix(view: View, finding: Finding) -> Finding:
    """The finding with its remedy in numbers, where there is one; a `note` asks for none."""
    maker = MAKERS.get(finding.check)
    if maker is None or finding.fix or finding.severity == "note":
        return finding
    fix = maker(view, finding)
    return replace(finding, fix=fix) if fix else finding


def up(value: float) -> float:
    """Rounded up to a hundredth."""
    return math.ceil(value * 100 - 1e-6) / 100


def down(value: float) -> float:
    """Rounded down to a hundredth."""
    return math.floor(value * 100 + 1e-6) / 100


# -- depths ----------------------------------------------------------------------------------------------
def shallower(step: Step | None, by: float) -> Fix:
    """The depth or floor of a step so that it goes ``by`` mm less deep; nothing where that leaves no depth."""
    spec: Any = step.spec if step else None
    if step is None or getattr(spec, "through", False):
        return ()
    if getattr(spec, "floor", None) is not None:
        return ((f"steps.{step.name}.floor", up(spec.floor + by)),)
    depth = getattr(spec, "depth", None)
    if depth is not None and depth - by > 0.01:
        return ((f"steps.{step.name}.depth", down(depth - by)),)
    return ()


def _floor(view: View, f: Finding) -> Fix:
    return shallower(_step(view, f), FLOOR_MM - (f.measured or 0.0))


def _meet(view: View, f: Finding) -> Fix:
    if f.measured is None:
        return ()
    if f.severity == "stop":
        return shallower(_step(view, f), FLOOR_MM - f.measured)
    return moves.aside(view, f) if f.measured > 0 else ()


def _reach(view: View, f: Finding) -> Fix:
    piece = next((p for p in view.derived.pieces if p.name == f.piece and p.role == "lamination"), None)
    if f.measured is None or f.limit is None or piece is not None:
        return ()  # how deep it goes in one lamination is its sheet's matter
    if f.severity == "stop":
        return shallower(_step(view, f), f.measured - f.limit)
    cutter = f.shown.cutter_mm if f.shown else None
    return shallower(_step(view, f), (f.measured - 3.0) * cutter) if cutter else ()


def _half(view: View, f: Finding) -> Fix:
    """To the nearest glue line, in the middle of its glue."""
    step = _step(view, f)
    for blank in view.derived.blanks:
        lam = next((n for n in blank.laminations if n.piece == f.piece), None)
        if lam is None or f.measured is None or step is None:
            continue
        spec: Any = view.steps[blank.step].spec
        deeper = lam.z1 - lam.z0 - f.measured
        if f.measured <= deeper:
            return _by(step, -(f.measured + spec.glue / 2))
        return _by(step, deeper + spec.glue / 2)
    return ()


def _lamination(view: View, f: Finding) -> Fix:
    """Down to the glue line, in the middle of its glue."""
    step = _step(view, f)
    blank = next((b for b in view.derived.blanks for n in b.laminations if n.piece == f.piece), None)
    if step is None or blank is None or f.measured is None:
        return ()
    spec: Any = view.steps[blank.step].spec
    return _by(step, f.measured + spec.glue / 2)


def _by(step: Step, deeper: float) -> Fix:
    spec: Any = step.spec
    if getattr(spec, "tilt", None) is not None:
        return ()
    for name, sign in (("floor", -1.0), ("depth", 1.0)):
        value = getattr(spec, name, None)
        if value is not None and value + sign * deeper > 0.01:
            return ((f"steps.{step.name}.{name}", round(value + sign * deeper, 4)),)
    return ()


def _tip(view: View, f: Finding) -> Fix:
    return shallower(_step(view, f), (f.limit or 0.0) - (f.measured or 0.0))


# -- shapes ----------------------------------------------------------------------------------------------
def _corner(view: View, f: Finding) -> Fix:
    """A radius that the cutter makes, where the shape has corners of its own and room for it."""
    step, cutter = _step(view, f), f.shown.cutter_mm if f.shown else None
    if step is None or step.kind != "cavity" or cutter is None:
        return ()
    spec: Any = step.spec
    part, opening = getattr(spec, "part", None), getattr(spec, "opening", None)
    shape, name = (part, "part") if part is not None else (opening, "opening")
    if shape is None:
        return ()
    plan, room = plan_of(shape, view.derived.recipe), 0.0
    if part is not None and spec.fit is not None:
        room = room_mm(spec.fit, spec.film)
    radius = up(cutter / 2 + EASY_MM - room)
    if plan.circle is not None or radius > min(plan.sides) / 2 or radius <= plan.corner:
        return ()
    return ((f"steps.{step.name}.{name}.corner", radius),)


def _slot(view: View, f: Finding) -> Fix:
    step = _step(view, f)
    if step is None or f.limit is None or f.measured is None:
        return ()
    spec: Any = step.spec
    width = up(f.limit + EASY_MM)
    if step.kind == "channel" and getattr(spec, "width", None) is not None:
        return ((f"steps.{step.name}.width", width),)
    opening = getattr(spec, "opening", None) if step.kind == "cavity" else None
    if opening is None:
        return ()
    plan, path = plan_of(opening, view.derived.recipe), f"steps.{step.name}.opening"
    if plan.circle is not None:
        return ((f"{path}.circle", width),) if opening.circle else ()
    if opening.rectangle is None:
        return ()
    narrow = min((0, 1), key=lambda i: plan.sides[i])
    if abs(plan.sides[narrow] - f.measured) > 0.05 * f.limit:
        return ()
    other = plan.sides[1 - narrow]
    return (
        (f"{path}.rectangle.{narrow}", width),
        *(((f"{path}.rectangle.{1 - narrow}", width),) if other < width else ()),
        (f"{path}.corner", down(width / 2)),
    )


def _hole(view: View, f: Finding) -> Fix:
    step = _step(view, f)
    if step is None or f.limit is None:
        return ()
    spec: Any = step.spec
    if step.kind == "holes" and getattr(spec, "diameter", None) and not spec.fastener:
        if len(spec.diameter) == 1:
            return ((f"steps.{step.name}.diameter", up(f.limit)),)
        return tuple(
            (f"steps.{step.name}.diameter.{i}", up(f.limit)) for i, d in enumerate(spec.diameter) if d < f.limit
        )
    opening = getattr(spec, "opening", None)
    return ((f"steps.{step.name}.opening.circle", up(f.limit)),) if opening and opening.circle else ()


def _smooth(view: View, f: Finding) -> Fix:
    step = _step(view, f)
    return ((f"steps.{f.step}.smooth", 0.05),) if step is not None and step.kind == "outline" else ()


# -- edges, templates, stocks ----------------------------------------------------------------------------
def _edge_wall(view: View, f: Finding) -> Fix:
    """The radius that leaves the bearing its wall; of two roundings that meet, both."""
    step = _step(view, f)
    blank = next((b for b in view.derived.blanks if b.name == f.piece or b.step == f.step), None)
    edge = getattr(step.spec, "edge", None) if step else None
    if step is None or blank is None or edge is None or f.limit is None:
        return ()
    bits = [(face, i, t) for face, i, t in edge.all() if t.by_bit]
    both = len({face for face, _, _ in bits}) == 2
    most = largest_radius(blank.thickness_mm, f.limit, 2 if both else 1)
    if most <= 0 or any(t.kind != "round" for _, _, t in edge.all()):
        return ()
    return tuple((f"steps.{step.name}.edge.{face}.{i}.round", most) for face, i, t in bits if t.round > most)


def _packing(view: View, f: Finding) -> Fix:
    step, path = _follower(view, f)
    if step is None or f.measured is None or f.limit is None:
        return ()
    follow = _at(step.spec, path)
    piece = next((p for p in view.derived.pieces if p.name == f.piece), None)
    if piece is None:
        return ()
    if f.check == "bush-collar":
        return ((f"steps.{step.name}.{path}.packing", up(follow.packing + f.measured - f.limit)),)
    packing = math.ceil(packing_for(follow, piece.thickness_mm, f.limit) * 10 - 1e-6) / 10
    return ((f"steps.{step.name}.{path}.packing", packing),)


def _follower(view: View, f: Finding) -> tuple[Step | None, str]:
    """The template that a finding speaks of, and the path of its follower."""
    step = _step(view, f)
    if step is None or f.place is None or step.kind != "template":
        return None, ""
    known = [p for p, place in step.places.items() if place == f.place and p.startswith(("follow", "set."))]
    if not known:
        return None, ""
    return step, known[0].rpartition(".")[0] if known[0].endswith((".length", ".collar", ".reach")) else known[0]


def _at(spec: Any, path: str) -> Any:
    for part in path.split("."):
        spec = spec[int(part)] if part.isdigit() else getattr(spec, part)
    return spec[0] if isinstance(spec, tuple) else spec


def _grain(view: View, f: Finding) -> Fix:
    piece = next((p for p in view.derived.pieces if p.name == f.piece), None)
    return ((f"sheets.{piece.sheet}.grain", "x"),) if piece else ()


def _gap(view: View, f: Finding) -> Fix:
    nest = next((n for n in view.nests if any(p.piece == f.piece for p in n.placements)), None)
    key = next((k for k, s in view.derived.recipe.shops.items() if nest and s.name == nest.shop), None)
    if nest is None or key is None:
        return ()
    from pipeline.checks.parts_close import least_gap

    return ((f"shops.{key}.gap", least_gap(view.derived.recipe.shops[key], nest.thickness_mm)[1]),)


def _screw(view: View, f: Finding) -> Fix:
    return ((f"steps.{f.step}.length", next_length(f.limit)),) if f.limit is not None else ()


def _step(view: View, f: Finding) -> Step | None:
    return view.steps.get(f.step)


MAKERS: Mapping[str, Callable[[View, Finding], Fix]] = {
    "bush-collar": _packing,
    "cavities-meet": _meet,
    "corner-sharp": _corner,
    "cover-edge": moves.aside,
    "drill-tip": _tip,
    "edge-wall": _edge_wall,
    "first-pass": _packing,
    "floor-thin": _floor,
    "grain-unstated": _grain,
    "hole-hits": _tip,
    "hole-small": _hole,
    "laser-half-depth": _half,
    "lamination-thin": _lamination,
    "many-segments": _smooth,
    "parts-close": _gap,
    "screw-short": _screw,
    "slot-narrow": _slot,
    "tool-reach": _reach,
    "wall-thin": moves.wall,
    "web-thin": moves.hole,
}
