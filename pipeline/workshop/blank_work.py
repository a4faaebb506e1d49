"""The tasks of a glued blank: from its laminations to the shape that is fitted and finished."""

from __future__ import annotations

from pipeline.steps import stack, template
from pipeline.steps.values import Blank, Derived, Piece
from pipeline.workshop.arrange import GLUE, HAND, MACHINE, Task
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.cutting import LOCATES, Plan, set_up_tasks

HIDDEN = ("channel", "chambers")
CARVE_RULE = "carve until the corner at the glue line just disappears, and no further"


def blank_tasks(plan: Plan, derived: Derived, blank: Blank, cut: dict[str, tuple[str, ...]]) -> list[str]:
    """Glue-up, machining, hand work of one blank; the keys that finishing waits for."""
    spec = derived.recipe.steps[blank.step].spec
    spec = spec if isinstance(spec, stack.Spec) else None
    mine = [p for p in derived.pieces if p.name in {v.piece for v in blank.laminations}]
    name = blank.name

    def do(key: str, stage: int, work: str, after: list[str], because: str, **more: str) -> list[str]:
        task = Task(key=f"{name} {key}", stage=stage, work=work, piece=name, **more)
        return [plan.add(task, after, because)]

    last = [key for p in mine for key in cut[p.name]]
    if len(mine) > 1:
        charred = any(shop_named(derived.recipe, p.shop).process == "laser" for p in mine)
        scrape = ", scrape the char off the faces to be glued" if charred else ""
        last = do(
            "1 sort", GLUE, f"number the laminations of {name} from the back{scrape}", last,
            "numbered laminations don't get turned over" + (", and glue doesn't hold on char" if charred else ""),
            clamping=name,
        )  # fmt: skip
        pins = spec.ears if spec else None
        on_pins = f" on waxed pins ({pins})" if pins else ""
        last = do(
            "2 dry stack", GLUE, f"stack them dry{on_pins}", last,
            "the numbers tell which lies where and which way up", clamping=name,
        )  # fmt: skip
        steps = derived.recipe.steps
        hidden = [n for n in (spec.cut if spec else ()) if n in steps and steps[n].kind in HIDDEN]
        press = do(
            "3 press", GLUE, f"spread the glue on {len(mine) - 1} joints and press", last,
            "a dry stack shows a flipped or turned lamination while it can still be turned"
            + (f", and {' and '.join(hidden)} can't be reached once it is glued" if hidden else ""),
            clamping=name,
        )  # fmt: skip
        rest_after = press
        if pins:
            rest_after = do(
                "4 pins out", GLUE, "knock the pins out", press,
                "pins come out within 20 to 30 minutes of pressing, or never", clamping=name,
            )  # fmt: skip
        rest = do(
            "5 rest", GLUE, "let the blank rest for 24 hours", rest_after,
            "the joint has to set, and the glue's water swells it: machined too soon, joints sink later",
            clamping=name,
        )  # fmt: skip
        last = do(
            "6 measure", GLUE, f"measure the blank's thickness ({blank.thickness_mm:.2f} in these files)", rest,
            "its thickness is true only when the glue's water is gone", clamping=name,
        )  # fmt: skip
        if blank.set_ups or blank.by_hand:
            last = do(
                "7 build again", GLUE, "enter it in the made register and build again", last,
                "the floors that have to remain depend on the real thickness", clamping=name,
            )  # fmt: skip
    return _worked(plan, derived, blank, mine, spec, cut, last)


def _worked(
    plan: Plan,
    derived: Derived,
    blank: Blank,
    mine: list[Piece],
    spec: stack.Spec | None,
    cut: dict[str, tuple[str, ...]],
    last: list[str],
) -> list[str]:
    """What is done to the glued blank: by machine, by hand with templates, at its edge."""
    recipe, name = derived.recipe, blank.name
    shop = shop_named(recipe, blank.shop)
    ops = [op for s in blank.set_ups for op in s.ops]
    why = "the depths are those of the glued and measured blank"

    def do(key: str, work: str, after: list[str], because: str, stage: int = HAND, **more: str) -> str:
        task = Task(key=f"{name} {key}", stage=stage, work=work, piece=name, **more)
        return plan.add(task, after, because)

    if any(op.work == "INDEX" for op in ops):
        work = "skim the machine's table and bore its pin holes"
        last = [do("8 table", work, last, "pins need true holes, square to a flat table", MACHINE, who=shop.name)]
        why = LOCATES
    machined = list(set_up_tasks(plan, recipe, blank, MACHINE, last, why))
    done = machined or last
    freed = any(op.work == "CUT_OUTSIDE" for op in ops)
    if freed:
        done = [do("9 release", "free the blank and trim its bridges", done, "until then it hangs in its waste")]

    routed: list[str] = []
    for step in blank.by_hand:
        guides = [p for p in derived.pieces if p.role == "template" and _serves(derived, p, step)]
        bore = do(
            f"bore out {step}", f"bore out most of {step}", done,
            "the machine is done with the blank; its pins and clamps are no longer needed",
            cutter="drill", clamping=f"{name} {step}",
        )  # fmt: skip
        follow = " or ".join(dict.fromkeys(_followed(derived, p) for p in guides))
        by = f" by {' and '.join(p.name for p in guides)}" if guides else ""
        rout = do(
            f"rout {step}", f"rout {step}{by}", [bore],
            "bored out, it leaves little to the router: small bites that don't grab",
            cutter=follow or "hand router", clamping=f"{name} {step}",
        )  # fmt: skip
        plan.wait(rout, [k for p in guides for k in cut[p.name]], "the router follows the template")
        routed.append(rout)
    done = routed or done

    if not freed and (spec is None or spec.ears or any(p.allowance_mm for p in mine)):
        if spec and spec.ears:
            done = [
                do(
                    "saw ears",
                    "saw off the ears",
                    done,
                    "the pins' holes must live until the last cut that uses them",
                )
            ]
        if any(p.allowance_mm for p in mine):
            guides = [
                p for p in derived.pieces if p.role == "template" and spec and _serves(derived, p, spec.outline)
            ]
            by = f" by {' and '.join(p.name for p in guides)}" if guides else ""
            trim = do(
                "trim", f"trim the outline flush{by}", done,
                "waste outside the outline carries the router's base and backs the fibres at open ends",
                cutter=" or ".join(dict.fromkeys(_followed(derived, p) for p in guides)) or "hand router",
            )  # fmt: skip
            plan.wait(trim, [k for p in guides for k in cut[p.name]], "the router follows the template")
            done = [trim]
    lined = any(op.work == "CARVE_LINE" for p in mine for s in p.set_ups for op in s.ops)
    if lined or any(op.work == "CARVE_LINE" for op in ops):
        done = [
            do(
                "z carve",
                f"carve to the lines: {CARVE_RULE}",
                done,
                "the router's base needs flat faces, so carving comes after it",
            )
        ]
    return done


def _serves(derived: Derived, piece: Piece, step: str) -> bool:
    """True when a template brings out the shape of a step."""
    spec = derived.recipe.steps[piece.step].spec
    return isinstance(spec, template.Spec) and spec.of == step


def _followed(derived: Derived, piece: Piece) -> str:
    """Follower and cutter of a template, in words."""
    spec = derived.recipe.steps[piece.step].spec
    if not isinstance(spec, template.Spec):
        return "hand router"
    follow = spec.follow
    kind = "bush" if follow.bush is not None else "bearing"
    return f"{kind} {follow.diameter:g}, cutter {follow.cutter:g}"
