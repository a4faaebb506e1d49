"""The tasks before the work proper: sheets settle, are measured, coupons tried, files sent, pieces cut."""

from __future__ import annotations

from pipeline.core.text import listed
from pipeline.steps import coupon
from pipeline.steps.values import Derived, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.cutting import set_up_tasks
from pipeline.workshop.tasks import CUT, STOCK, Plan, Task

LATER = {"lamination": 0, "panel": 0, "cover": 1, "template": 2}
"""What is glued or assembled is cut first, so that glue can set while the rest is cut."""
GROUP = "Sheets and files"
Cut = dict[str, tuple[str, ...]]
"""The keys of each piece's tasks, by its name."""


def stock_tasks(plan: Plan, derived: Derived) -> Cut:
    """Sheets settle and are measured, coupons are cut and tried, files are sent, then every piece is cut."""
    if not derived.pieces:
        return {}
    plan.add(
        Task(
            key="0 settle",
            stage=STOCK,
            work="let the sheets lie in the workshop for two days",
            because="sheets take up or lose moisture until they have settled, and change their thickness",
            kind="quality",
            caution="settle",
            hours=48,
            group=GROUP,
        )
    )
    measured: dict[str, str] = {}
    for sheet in sorted({p.sheet for p in derived.pieces}):
        stock = derived.recipe.sheets[sheet]
        letters = ", ".join(f"{letter} {t:g}" for letter, t in stock.measured.items())
        measured[sheet] = plan.add(
            Task(
                key=f"1 measure {sheet}",
                stage=STOCK + 1,
                work=f"measure each sheet of {sheet} at eight points, 50 mm in from the edges ({letters})",
                group=GROUP,
            ),
            ("0 settle",),
            "settle",
        )
    cut: Cut = {}
    known = [*measured.values(), *_trials(plan, derived, measured, cut)]
    sent = plan.add(
        Task(
            key="3 send",
            stage=STOCK + 3,
            work="put what was measured into the recipe, build again where it differs, and send these files",
            group=GROUP,
        ),
        (),
    )
    plan.wait(
        sent,
        known[: len(measured)],
        "measured",
        "the files are worked out from the sheets as they were measured",
    )
    for key in known[len(measured) :]:
        fit = key.endswith(" fit")
        plan.wait(sent, (key,), "try-fit" if fit else "kerf")
    for p in derived.pieces:
        if p.name not in cut:
            why = "" if p.role == "lamination" else "the files are drawn for the thickness that was measured"
            cut[p.name] = set_up_tasks(
                plan, derived.recipe, p, CUT + LATER.get(p.role, 3), (sent,), "measured", why
            )
    return cut


def _trials(plan: Plan, derived: Derived, measured: dict[str, str], cut: Cut) -> list[str]:
    """Coupons of the recipe are cut and tried; a laser's sheet without any gets a square; what to wait for."""
    trials: list[str] = []
    squared: set[tuple[str, str]] = set()
    for step in derived.order:
        spec = step.spec
        if not isinstance(spec, coupon.Spec):
            continue
        mine = [p for p in derived.pieces if p.step == step.name]
        for p in mine:
            cut[p.name] = set_up_tasks(
                plan, derived.recipe, p, STOCK + 2, (measured[p.sheet],), "measured",
                "a coupon is cut from the very sheet that it speaks for",
            )  # fmt: skip
            if p.name.endswith("-square"):
                squared.add((p.shop, p.sheet))
        trials += _tried(plan, step.name, spec, mine, cut)
    for shop, sheet in sorted({(p.shop, p.sheet) for p in derived.pieces} - squared):
        if shop_named(derived.recipe, shop).process == "laser":
            task = Task(
                key=f"2 {shop} {sheet} kerf",
                stage=STOCK + 2,
                work=f"cut one 20 mm square from {sheet}: its hole less the square, halved, is the cut's width",
                cutter="beam",
                who=shop,
                group=f"Trial square in {sheet} ({shop})",
            )
            trials.append(
                plan.add(task, (measured[sheet],), "measured", "each sheet is cut a little wider or narrower")
            )
    return trials


def _tried(plan: Plan, name: str, spec: coupon.Spec, mine: list[Piece], cut: Cut) -> list[str]:
    """What the maker does with a step's coupons; the keys."""
    square = [p.name for p in mine if p.name == f"{name}-square"]
    comb = [p.name for p in mine if p.name == f"{name}-slots"]
    slices = [p.name for p in mine if p.name.startswith(f"{name}-fit-")]
    rows = []
    if square:
        words = f"measure the hole of {square[0]} and its plug: half their difference is the width of the cut"
        rows.append(("kerf", words, square, "kerf"))
    if comb:
        words = f"push the sheet that goes in into the slots of {comb[0]}; take the room that holds it"
        rows.append(("slots", words, comb, "kerf"))
    if slices and spec.fit:
        words = f"try the real part in {listed(slices, 'and')}; give the room that fits to `fit:` of {spec.fit.of}"
        rows.append(("fit", words, slices, "try-fit"))
    keys = []
    for key, words, pieces, reason in rows:
        task = Task(key=f"2 {name} {key}", stage=STOCK + 2, work=words, group=GROUP, steps=(name,))
        after = [k for p in pieces for k in cut[p]]
        keys.append(
            plan.add(task, after, reason, "" if reason == "try-fit" else "a coupon shows what this machine does")
        )
    return keys
