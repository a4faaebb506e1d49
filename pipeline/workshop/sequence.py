"""The order of work, each line with the reason why it stands where it stands.

The rules are those of trade notes 13 (common practice, no source). What a design doesn't have gives
no line: a tray of laser-cut layers has no press, a body without templates no hand routing.
"""

from __future__ import annotations

from pipeline.steps import cavity, cover
from pipeline.steps.values import Derived, Piece, WorkLine
from pipeline.workshop.arrange import CUT, FINISH, FIT, STOCK, Task, arranged
from pipeline.workshop.blank_work import blank_tasks
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.cutting import Plan, set_up_tasks

LATER = {"lamination": 0, "panel": 0, "cover": 1, "template": 2}
"""What is glued or assembled is cut first, so that glue can set while the rest is cut."""


def sequence(derived: Derived) -> tuple[WorkLine, ...]:
    """Everything to be done, from the sheets on the rack to the finished object."""
    plan = Plan()
    measured = _stock(plan, derived)
    cut = _pieces(plan, derived, measured)
    ready = [key for blank in derived.blanks for key in blank_tasks(plan, derived, blank, cut)]
    _finishing(plan, derived, cut, ready)
    return tuple(
        WorkLine(n=n, work=t.work, piece=t.piece, face=t.face, cutter=t.cutter, because=because, who=t.who)
        for n, (t, because) in enumerate(arranged(plan.tasks, plan.links), start=1)
    )


# -- before anything is cut --------------------------------------------------------------------------
def _stock(plan: Plan, derived: Derived) -> dict[tuple[str, str], list[str]]:
    """Sheets settle, are measured, and a laser's kerf is tried; what to wait for, by (shop, stock)."""
    waits: dict[tuple[str, str], list[str]] = {}
    if not derived.pieces:
        return waits
    rest = plan.add(
        Task(
            key="0 settle",
            stage=STOCK,
            work="let the sheets lie in the workshop for two days",
            because="sheets take up or lose moisture until they have settled, and change their thickness",
        )
    )
    for shop_name, sheet in sorted({(p.shop, p.sheet) for p in derived.pieces}):
        stock = derived.recipe.sheets[sheet]
        listed = ", ".join(f"{letter} {t:g}" for letter, t in stock.measured.items())
        measure = f"1 measure {sheet}"
        if all(t.key != measure for t in plan.tasks):
            plan.add(
                Task(
                    key=measure,
                    stage=STOCK + 1,
                    work=f"measure each sheet of {sheet} at eight points, 50 mm in from the edges ({listed})",
                ),
                (rest,),
                "thickness moves with moisture until the sheet has settled",
            )
        waits[shop_name, sheet] = [measure]
        if shop_named(derived.recipe, shop_name).process == "laser":
            waits[shop_name, sheet] = [
                plan.add(
                    Task(
                        key=f"2 kerf {shop_name} {sheet}",
                        stage=STOCK + 2,
                        work=f"cut one 20 mm square from {sheet}; measure the square and its hole",
                        cutter="beam",
                        who=shop_name,
                    ),
                    (measure,),
                    "the width of the cut depends on this sheet and this machine",
                )
            ]
    return waits


def _pieces(
    plan: Plan, derived: Derived, measured: dict[tuple[str, str], list[str]]
) -> dict[str, tuple[str, ...]]:
    """Every piece is cut; the keys of its tasks by name."""
    cut: dict[str, tuple[str, ...]] = {}
    for p in derived.pieces:
        why = (
            "heights and depths are sums of the measured sheets"
            if p.role == "lamination"
            else "the files are drawn for the thickness that was measured"
        )
        cut[p.name] = set_up_tasks(
            plan, derived.recipe, p, CUT + LATER.get(p.role, 3), measured[p.shop, p.sheet], why
        )
    return cut


# -- fitting and finishing ---------------------------------------------------------------------------
def _finishing(plan: Plan, derived: Derived, cut: dict[str, tuple[str, ...]], ready: list[str]) -> None:
    """Covers, bought parts, sanding, finish; only for a design that makes an object."""
    panels = [p for p in derived.pieces if p.role == "panel"]
    covers = [p for p in derived.pieces if p.role == "cover"]
    if not derived.blanks and not panels:
        return
    done = [*ready, *(k for p in panels for k in cut[p.name])]
    if len(panels) + len(derived.blanks) > 1:
        done = [
            plan.add(
                Task(key="fit parts", stage=FIT, work="put all parts together dry"),
                done,
                "what doesn't fit is still easy to change before glue or screws",
            )
        ]
    for p in covers:
        of, screwed = _covered(derived, p)
        drill = ", drill its screw holes" if screwed else ""
        fit = plan.add(
            Task(key=f"fit {p.name}", stage=FIT, work=f"fit {p.name}{of}{drill}", piece=p.name),
            [*done, *cut[p.name]],
            "it is drilled through as it really lies in its recess"
            if screwed
            else "it is fitted to the real recess",
        )
        done = [*done, fit]
    if derived.recipe.hardware:
        parts = ", ".join(derived.recipe.hardware)
        done = [
            plan.add(
                Task(key="fit hardware", stage=FIT + 1, work=f"try every bought part in its place: {parts}"),
                done,
                "places of screws come from the real parts, and wires are tried before anything is closed",
            )
        ]
    sand = plan.add(
        Task(key="y1 sand", stage=FINISH, work="sand"), done, "nothing is drilled or carved through a finish"
    )
    finish = plan.add(
        Task(key="y2 finish", stage=FINISH, work="apply the finish and let it cure"),
        (sand,),
        "a finish shows every scratch that is left under it",
    )
    if derived.recipe.hardware or covers:
        plan.add(
            Task(key="y3 assemble", stage=FINISH, work="assemble"),
            (finish,),
            "screws and inserts go into cured film",
        )


def _covered(derived: Derived, piece: Piece) -> tuple[str, bool]:
    """Where a cover goes, in words, and whether it is screwed down."""
    spec = derived.recipe.steps[piece.step].spec
    if not isinstance(spec, cover.Spec):
        return "", False
    of = derived.recipe.steps[spec.of].spec
    face = f" in the {of.face}" if isinstance(of, cavity.Spec) else ""
    return f" over {spec.of}{face}", spec.screws is not None
