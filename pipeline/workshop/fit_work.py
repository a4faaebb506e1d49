"""The last tasks: parts put together, covers and bought parts fitted, sanding, finish, assembly."""

from __future__ import annotations

from pipeline.core.reasons import REASONS
from pipeline.core.text import listed
from pipeline.steps import cavity, cover, holes, outline
from pipeline.steps.values import Derived, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.stock_work import Cut
from pipeline.workshop.tasks import FINISH, FIT, GLUE, Plan, Task

FITTING, FINISHING = "Fitting", "Finish"


def fit_tasks(plan: Plan, derived: Derived, cut: Cut, ready: list[str]) -> None:
    """Everything after glue and machines; only for a design that makes an object. ``ready``: the last tasks of
    blanks and bent pieces."""
    bent = {s.name for s in derived.order if s.kind == "mould"}
    panels = [p for p in derived.pieces if p.role == "panel" and p.step not in bent]
    covers = [p for p in derived.pieces if p.role == "cover"]
    if not ready and not panels:
        return

    def do(
        key: str, stage: int, work: str, after: list[str], reason: str, because: str = "", **more: str
    ) -> list[str]:
        task = Task(
            key=key, stage=stage, work=work, group=more.get("group", FITTING), piece=more.get("piece", ""),
            caution=more.get("caution", ""), hours=int(more.get("hours", 0)),
        )  # fmt: skip
        return [plan.add(task, after, reason, because)]

    layers = _layers(derived, panels)
    joined = [k for pins, mine in layers.items() for k in _joined(plan, derived, pins, mine, cut)]
    loose = [p for p in panels if all(p not in mine for mine in layers.values())]
    done = [*ready, *joined, *(k for p in loose for k in cut[p.name])]
    if len(loose) + len(layers) + len(derived.blanks) + len(bent) > 1:
        done = do(
            "fit 1 dry",
            FIT,
            "put all parts together dry",
            done,
            "made",
            REASONS["dry-fit"].because,
            caution="dry-fit",
        )
    fitted = []
    for p in covers:
        of, screwed = _covered(derived, p)
        drill = ", drill its screw holes" if screwed else ""
        why = "it is drilled through as it really lies in its recess" if screwed else ""
        fitted += do(
            f"fit 2 {p.name}",
            FIT,
            f"fit {p.name}{of}{drill}",
            [*done, *cut[p.name]],
            "real-recess",
            why,
            piece=p.name,
        )
    done = [*done, *fitted]
    if derived.recipe.hardware:
        wires = [s.name for s in derived.order if s.kind == "channel"]
        why = f"the way of the wires ({listed(wires, 'and')}) is tried before anything is closed" if wires else ""
        parts = ", ".join(derived.recipe.hardware)
        tried = do(
            "fit 3 parts",
            FIT,
            f"try every bought part in its place: {parts}",
            done,
            "wires-first" if wires else "try-parts",
            why,
            caution="try-parts",
        )
        done = do(
            "fit 4 screws",
            FIT,
            "mark screw holes from the parts as they stand true, and drill those that are still missing",
            tried,
            "real-parts",
        )
    dry = any(t.caution == "dry-fit" for t in plan.tasks)
    sand = do(
        "last 1 sand",
        FINISH,
        "sand",
        done,
        "sand-last",
        "what doesn't fit is still easy to change before it is sanded"
        if dry and not fitted and not derived.recipe.hardware
        else "",
        group=FINISHING,
    )
    finish = do(
        "last 2 finish",
        FINISH,
        "apply the finish and let it cure by its data sheet",
        sand,
        "sanded",
        group=FINISHING,
        caution="cured",
        hours="24",
    )
    if derived.recipe.hardware or covers:
        do("last 3 assemble", FINISH, "assemble", finish, "cured", group=FINISHING)


def _layers(derived: Derived, panels: list[Piece]) -> dict[str, list[Piece]]:
    """Panels of one set-up each that share index holes: layers that lie on the same pins, by those holes."""
    found: dict[str, list[Piece]] = {}
    for p in panels:
        step = derived.recipe.steps.get(p.step)
        spec = step.spec if step else None
        if not isinstance(spec, outline.Spec) or len(p.set_ups) != 1:
            continue
        for name in spec.cut:
            own = derived.recipe.steps[name].spec
            if isinstance(own, holes.Spec) and own.role == "index":
                found.setdefault(name, []).append(p)
                break
    return {pins: mine for pins, mine in found.items() if len(mine) > 1}


def _joined(plan: Plan, derived: Derived, pins: str, mine: list[Piece], cut: Cut) -> list[str]:
    """Layers are glued on their pins, as a blank is; the last task."""
    names = listed([p.name for p in mine], "and")

    def do(
        key: str,
        work: str,
        after: list[str],
        reason: str,
        because: str = "",
        caution: str = "",
        hours: int = 0,
    ) -> list[str]:
        task = Task(
            key=f"layers {pins} {key}", stage=GLUE, work=work, group=f"Glue-up on {pins}", caution=caution,
            hours=hours,
            steps=tuple(p.step for p in mine),
        )  # fmt: skip
        return [plan.add(task, after, reason, because)]

    charred = any(shop_named(derived.recipe, p.shop).process == "laser" for p in mine)
    scrape = ", scrape the char off the faces to be glued" if charred else ""
    why = "marked layers don't get turned over" + (", and glue doesn't hold on char" if charred else "")
    last = do(
        "1 sort",
        f"mark each layer and its upper face{scrape}: {names}",
        [k for p in mine for k in cut[p.name]],
        "sort",
        why,
        "sort",
    )
    last = do(
        "2 dry stack",
        f"stack them dry on waxed pins ({pins})",
        last,
        "dry-stack",
        "the marks tell which lies where and which way up",
        "dry-stack",
    )
    last = do("3 press", "spread the glue and press", last, "dry-stack")
    last = do("4 pins out", "knock the pins out", last, "pins-out")
    return do("5 rest", "let it rest for 24 hours", last, "rest", "", "rest", 24)


def _covered(derived: Derived, piece: Piece) -> tuple[str, bool]:
    """Where a cover goes, in words, and whether it is screwed down."""
    spec = derived.recipe.steps[piece.step].spec
    if not isinstance(spec, cover.Spec):
        return "", False
    of = derived.recipe.steps[spec.of].spec
    face = f" in the {of.face}" if isinstance(of, cavity.Spec) else ""
    return f" over {spec.of}{face}", spec.screws is not None
