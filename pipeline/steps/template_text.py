"""A template to make, and the words that are engraved on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.steps.common import Stock, place_in
from pipeline.steps.follow import Use
from pipeline.steps.measures import inside_point
from pipeline.steps.template import Follow
from pipeline.steps.values import Cut, Label, World


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One template to make.

    ``name`` of its piece; ``of`` the step it serves; ``wanted`` what shall come out at last, ``cut`` its plan
    rule. ``cavity``: for a cavity and its recess by one hole, the cavity's plan rule (``wanted`` is then the
    recess). ``stages``: the followers, none for a drill guide. ``bored``: centre marks in it. ``lines``: more
    text.
    """

    name: str
    of: str
    wanted: Region
    use: Use
    stages: tuple[Follow, ...]
    face: FaceName
    cut: Cut | None = None
    cavity: Cut | None = None
    path: str = "follow"
    bored: tuple[Cut, ...] = ()
    lines: tuple[str, ...] = ()


def depth_of(cut: Cut | None, face: FaceName) -> float | None:
    """How deep a hand router goes by a template, where the plan rule alone tells it."""
    if cut is None or cut.depth.rule != "depth" or cut.face != face:
        return None
    tilt = cut.depth.tilt
    return cut.depth.mm + (
        (tilt.deep - tilt.shallow) * math.tan(math.radians(tilt.angle_deg)) if tilt is not None else 0.0
    )


def lines_of(name: str, job: Job, world: World) -> tuple[str, ...]:
    """Design, piece and revision; the face that lies up; followers and depths."""
    recipe = world.recipe
    revision = world.since.get(name, recipe.revision)
    lines = [
        f"{recipe.design.upper()} {name.upper().replace('_', ' ')} {revision}",
        f"{job.face.upper()} UP",
    ]
    words = [follower_words(f).upper() for f in job.stages]
    if job.cavity is not None:  # the recess first: its bearing needs the whole wall
        lines += [f"RECESS {words[1]}", *_depth_words(job.cut), f"CAVITY {words[0]}", *_depth_words(job.cavity)]
    elif len(words) == 2:
        lines += [f"FIRST {words[0]}", f"THEN {words[1]}", *_depth_words(job.cut)]
    else:
        lines += [*words, *_depth_words(job.cut)]
    return (*lines, *job.lines)


def follower_words(follow: Follow) -> str:
    """``bearing 12.7`` where bearing and cutter are one, else ``bush 17 / cutter 8``."""
    if follow.diameter == follow.cutter:
        return f"{follow.kind} {follow.diameter:g}"
    return f"{follow.kind} {follow.diameter:g} / cutter {follow.cutter:g}"


def _depth_words(cut: Cut | None) -> tuple[str, ...]:
    if cut is None:
        return ()
    rule = cut.depth
    if rule.rule in ("through", "sheet"):
        return ("THROUGH",)
    if rule.rule == "floor":
        return (f"LEAVE {rule.mm:.2f}",)
    deep = depth_of(cut, cut.face)
    if rule.tilt is None or deep is None:
        return (f"DEPTH {rule.mm:.2f}",)
    return (f"DEPTH {rule.mm:.2f} TO {deep:.2f}",)


def small_text(step: Step, name: str, stock: Stock, text: tuple[Label, ...], wood: Region) -> Finding:
    least = 2.5 if stock.shop.process == "laser" else 6.0
    height = text[0].height_mm if text else 0.0
    said = f"the letters on {name} are only {height:g} mm high" if text else f"no text fits on {name}"
    return Finding(
        check="label-small",
        severity="note",
        message=f"For want of room {said}.",
        step=step.name,
        piece=name,
        at_mm=inside_point(wood),
        measured=height,
        limit=least,
        remedy="write design, revision, face and follower on it by hand",
        place=place_in(step, "sheet"),
    )
