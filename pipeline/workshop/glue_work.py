"""The tasks of gluing laminations into one blank: from sorting them to its measured thickness."""

from __future__ import annotations

from pipeline.core.reasons import REASONS
from pipeline.steps import stack
from pipeline.steps.values import Blank, Derived, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.tasks import GLUE, Plan, Task


def glue_tasks(
    plan: Plan, derived: Derived, blank: Blank, mine: list[Piece], cut: list[str], *, goes_on: bool
) -> list[str]:
    """The glue-up of one blank; what everything after it waits for. ``goes_on``: it is machined or routed."""
    spec = derived.recipe.steps[blank.step].spec
    spec = spec if isinstance(spec, stack.Spec) else None
    steps = derived.recipe.steps
    if len(mine) < 2:
        return cut

    def do(key: str, work: str, after: list[str], reason: str, because: str = "", **more: str) -> list[str]:
        task = Task(
            key=f"{blank.name} {key}", stage=GLUE, work=work, piece=blank.name, group=f"Glue-up of {blank.name}",
            steps=(blank.step,), caution=more.get("caution", ""), hours=int(more.get("hours", 0)),
        )  # fmt: skip
        return [plan.add(task, after, reason, because)]

    charred = any(shop_named(derived.recipe, p.shop).process == "laser" for p in mine)
    scrape = ", scrape the char off the faces to be glued" if charred else ""
    why = "numbered laminations don't get turned over" + (", and glue doesn't hold on char" if charred else "")
    last = do(
        "1 sort",
        f"number the laminations of {blank.name} from the back{scrape}",
        cut,
        "sort",
        why,
        caution="sort",
    )
    inside = [n for n in (spec.cut if spec else ()) if n in steps]
    light = [n for n in inside if steps[n].kind == "chambers"]
    shut = [n for n in inside if steps[n].kind in ("channel", "chambers")]
    if light:
        work = f"weigh the laminations together{_as_cut(mine, derived)}: the last chance to take or add wood"
        last = do(
            "2 weigh", work, last, "weigh", f"the glue closes {' and '.join(light)} for good", caution="weigh"
        )
    pins = spec.ears if spec else None
    last = do(
        "3 dry stack", f"stack them dry{f' on waxed pins ({pins})' if pins else ''}", last, "dry-stack",
        "the numbers tell which lies where and which way up", caution="dry-stack",
    )  # fmt: skip
    press = last
    loads = _loads(derived, blank, len(mine) - 1)
    late = f"{' and '.join(shut)} can't be reached once it is glued" if shut else ""
    why = REASONS["dry-stack"].because + (f", and {late}" if shut else "")
    for n, (work, joints) in enumerate(loads, start=1):
        task = f"spread the glue on {joints} {'joint' if joints == 1 else 'joints'}{work} and press"
        press = do(f"4 press {n}", task, press, *(("dry-stack", why) if n == 1 else ("open-time",)))
        if n == 1 and shut:
            plan.wait(press[0], cut, "closed-in", late)
    loose = press
    if pins:
        loose = do("5 pins out", "knock the pins out", press, "pins-out")
    rest = do("6 rest", "let the blank rest for 24 hours", loose, "rest", caution="rest", hours="24")
    last = do(
        "7 measure",
        f"measure the blank's thickness ({blank.thickness_mm:.2f} in these files)",
        rest,
        "rest",
        "its thickness is true only when the glue's water is gone",
    )
    if goes_on:
        last = do("8 build again", "enter it in the made register and build again", last, "real-depths")
    return last


def _as_cut(mine: list[Piece], derived: Derived) -> str:
    """What laminations weigh before glue-up with all their waste still on, in words; empty where it is unknown."""
    found = 0.0
    for p in mine:
        density = derived.recipe.sheets[p.sheet].density
        if p.mass_g is None or density is None:
            return ""
        found += p.mass_g + (p.cut.area - p.region.area) * p.thickness_mm * density * 1e-6
    return f" ({found:.0f} g by these files)"


def _loads(derived: Derived, blank: Blank, joints: int) -> list[tuple[str, int]]:
    """Which laminations each load of the press joins, in words, and by how many joints; one alone has no words."""
    press = derived.results[blank.step].numbers.get("press", {})
    loads = press.get("loads", ())
    if len(loads) < 2:
        return [("", joints)]
    return [(f" between laminations {', '.join(v['laminations'])}", v["joints"]) for v in loads]
