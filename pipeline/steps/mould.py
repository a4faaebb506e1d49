"""The `mould` kind: forms for bent laminations, and boards bent by cuts (fields; `mould_make.py` makes them)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import (
    Count,
    Direction,
    DrawnName,
    Gap,
    MarkName,
    Point,
    SheetName,
    Size,
    StepName,
    field,
)
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.bending import Grain, Wet
from pipeline.steps.common import direction_problems, given, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of an outline, anticlockwise from one place to another."""

    of: StepName = field("the outline or offset")
    from_: MarkName | Point | None = field("where it begins; the nearest point of the outline counts", None)
    to: MarkName | Point | None = field("where it ends", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What a trial strip of the same plies and glue did; it replaces the formula of springback."""

    form: Size = field("the radius of the form that it was bent on")
    piece: Size = field("the radius that it has after the glue has set, on the same face")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribs:
    """What each half of the form is built of."""

    every: Size | None = field("distance from rib to rib; when absent they stand side by side, as one solid", None)
    skin: Gap = field("thickness of a skin bent over the ribs, on both halves", 0.0)
    depth: Size | None = field(
        "least wood behind the face; when absent 60, or what the clamp holes need: 90", None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolts:
    """Holes for bolts through all ribs of a half."""

    count: Count = field("how many in each half, at least 2", 2)
    diameter: Size = field("their diameter", 8.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamps:
    """Holes for the jaws of clamps, square behind the face."""

    diameter: Size = field("their diameter; 32 to 35 is usual", 34.0)
    every: Size = field("distance along the face; 60 to 80 is usual", 70.0)
    from_face: Size = field("wood between a hole and the face", 40.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kerf:
    """Saw cuts across the inside of a board, which close when it is bent."""

    blade: Size = field("width of a cut")
    web: Size = field("what stays under it, at the outside")
    veneer: Gap = field("thickness of the outer veneer where the board is plywood", 0.0)
    ply: Gap = field("thickness of one ply below it", 0.0)
    looks: bool = field("true to cut so many that facets don't show: not further apart than an eighth of R", False)
    cuts: Count | None = field("how many cuts in each bend; as many as close it when absent", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """Rows of slots through a board, which twist where it is bent."""

    link: Size = field("wood between two rows")
    slot: Size = field("length of a slot")
    bridge: Size = field("wood between two slots of a row")
    opening: Size = field("width of a slot", 0.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """The curve, what is bent along it, and how the form is built."""

    curve: DrawnName | Stretch = field("an open line of the drawing, or part of an outline")
    face: Literal["inner", "outer", "middle"] = field(
        "which line of the finished piece the curve is: its inner face (on the side of the bend's centre), its "
        "outer face, or the middle of its thickness",
        "inner",
    )
    inside: Direction | None = field("the inner side; where the centre of the bend lies when absent", None)
    press: Direction | None = field(
        "the direction in which the halves close; when absent the one for which the steepest wall is least steep",
        None,
    )
    width: Size = field("width of the finished piece, across the curve")
    plies: Count | None = field("how many plies", None)
    ply: Size | SheetName | None = field("thickness of one ply, or the sheet that they are cut from", None)
    glue: Gap = field("thickness of a glue line", 0.0)
    use: Literal["mould", "closed"] = field(
        "`mould`: it is taken out and springs back; `closed`: blocks and plates hold it, the mould is the shape",
        "mould",
    )
    springback: Literal["auto", "none"] | Trial = field(
        "`auto`: the form is bent more, by 1 / (1 - 1/n²) for n plies; or what a trial strip did", "auto"
    )
    liner: Gap = field("thickness of all liners together; they lie on the outer half", 0.0)
    trim: Gap | None = field(
        "how far the plies are wider than the piece on each side; 10 when absent, 0 with `kerf`", None
    )
    ends: Gap | None = field("how far they are longer at each end; 20 when absent, 0 with `kerf`", None)
    wood: Literal["plywood", "veneer"] = field("what a ply is: plywood, or solid veneer", "plywood")
    grain: Grain = field(
        "how its face grain runs to the curve: along it, the stiffer way, across, or diagonal", "along"
    )
    bend: Wet = field("bent cold, or soaked in hot water", "cold")
    sheet: SheetName | None = field("the sheet that ribs are cut from, or the board with `kerf`", None)
    halves: Literal["both", "inner", "outer"] = field(
        "which halves; one alone is for a vacuum bag or straps", "both"
    )
    ribs: Ribs | None = field("how the halves are built; solid when absent", None)
    bolts: Bolts | None = field("bolts through the ribs", None)
    clamps: Clamps | None = field("holes for clamps", None)
    kerf: Kerf | None = field("bend a board by saw cuts on its inside; there is no mould then", None)
    lattice: Lattice | None = field("bend a board by rows of slots; there is no mould then", None)

    LINES: ClassVar[tuple[str, ...]] = ("curve",)
    """Fields whose objects of the drawing may be open lines."""

    @property
    def is_board(self) -> bool:
        """Is it a board that is bent by cuts?"""
        return self.kerf is not None or self.lattice is not None

    @property
    def trim_mm(self) -> float:
        return self.trim if self.trim is not None else 0.0 if self.is_board else 10.0

    @property
    def ends_mm(self) -> float:
        return self.ends if self.ends is not None else 0.0 if self.is_board else 20.0


LAMINATED = ("plies", "ply", "glue", "liner", "ribs", "bolts", "clamps")


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a mould together."""
    spec: Spec = step.spec
    yield from _curve_problems(step, recipe)
    yield from direction_problems(step, "inside", spec.inside, recipe)
    yield from direction_problems(step, "press", spec.press, recipe)
    if spec.kerf is not None and spec.lattice is not None:
        yield Problem(
            wrong=f"{step.name} gives `kerf` and `lattice`, but a board is bent by one of them.",
            place=place_in(step, "lattice"),
            expected="exactly one of `kerf` and `lattice`",
        )
    if spec.is_board:
        what = "kerf" if spec.kerf is not None else "lattice"
        for name in given(spec, LAMINATED):
            yield Problem(
                wrong=f"{step.name} is a board bent by cuts, so `{name}` means nothing there.",
                place=place_in(step, name),
                expected=f"`{what}:` without `{name}:`",
            )
        if spec.sheet is None:
            yield Problem(
                wrong=f"{step.name} doesn't say what board is bent.",
                place=place_in(step, what),
                expected="`sheet:` with the sheet that the board is cut from",
            )
        return
    for name in ("plies", "ply"):
        if getattr(spec, name) is None:
            yield Problem(
                wrong=f"{step.name} doesn't say what is bent.",
                place=step.place(),
                expected=f"`{name}:` (plies, their thickness), or `kerf:` for a board bent by saw cuts",
            )
    if spec.plies == 1 and spec.use == "mould" and spec.springback == "auto":
        yield Problem(
            wrong=f"{step.name} has a single ply, which springs back all the way.",
            place=place_in(step, "plies"),
            expected="2 plies or more, or `use: closed` where blocks hold it",
        )
    trial = spec.springback
    if isinstance(trial, Trial) and trial.form > trial.piece:
        yield Problem(
            wrong=f"The trial strip of {step.name} came out tighter ({trial.piece:g}) than its form "
            f"({trial.form:g}).",
            place=place_in(step, "springback"),
            expected="`form:` no larger than `piece:`",
        )
    if spec.sheet is None:
        for name in given(spec, ("ribs", "bolts", "clamps")):
            yield Problem(
                wrong=f"{step.name} gives `{name}` but no sheet, so there are no ribs.",
                place=place_in(step, name),
                expected="`sheet:` with the sheet that the ribs are cut from",
            )
    if spec.bolts is not None and spec.bolts.count < 2:
        yield Problem(
            wrong="One bolt lets the ribs turn about it.",
            place=place_in(step, "bolts.count"),
            expected="2 bolts or more",
        )


def _curve_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    spec: Spec = step.spec
    if isinstance(spec.curve, str):
        return
    source = recipe.steps.get(spec.curve.of)
    if source is not None and source.kind not in ("outline", "offset"):
        yield Problem(
            wrong=f"{step.name} can't be bent along {spec.curve.of}: that is a step of kind {source.kind}.",
            place=place_in(step, "curve.of"),
            expected="an outline or an offset, or the name of an open line of the drawing",
        )
    if (spec.curve.from_ is None) != (spec.curve.to is None):
        yield Problem(
            wrong=f"The part of {spec.curve.of} has only one end.",
            place=place_in(step, "curve"),
            expected="`from:` and `to:`",
        )
    elif spec.curve.from_ is None and (spec.use != "closed" or spec.is_board):
        yield Problem(
            wrong=f"{spec.curve.of} is closed, and only a part of it can be bent in a mould that opens.",
            place=place_in(step, "curve"),
            expected="`from:` and `to:`, or `use: closed` for the sides of a closed body",
        )
