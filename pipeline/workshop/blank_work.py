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
        light = " and ".join(n for n in hidden if steps[n].kind == "chambers")
        if light:
            last = do(
                "2 weigh", GLUE,
                f"weigh the laminations together{_as_cut(mine, derived)}: the last chance to take or add wood",
                last, f"the glue closes {light}", clamping=name,
            )  # fmt: skip
        press = last
        why = "a dry stack shows a flipped or turned lamination while it can still be turned" + (
            f", and {' and '.join(hidden)} can't be reached once it is glued" if hidden else ""
        )
        for n, (work, joints) in enumerate(_loads(derived, blank, len(mine) - 1), start=1):
            press = do(
                f"3 press {n}" if work else "3 press", GLUE,
                f"spread the glue on {joints} {'joint' if joints == 1 else 'joints'}{work} and press", press,
                why if n == 1 else "the glue stays open for only so many joints at once", clamping=name,
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


def _as_cut(mine: list[Piece], derived: Derived) -> str:
    """What laminations weigh before glue-up with all their waste still on, in words; empty where it is unknown."""
    found = 0.0
    for p in mine:
        density = derived.recipe.sheets[p.sheet].density
        if p.mass_g is None or density is None:
            return ""
        found += p.mass_g + (p.cut.area - p.region.area) * p.thickness_mm * density * 1e-6
    return f" ({found:.0f} g by these files)"


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
        result = derived.results.get(step)
        if result is not None and result.kind == "channel" and not result.cuts:
            because = "it starts inside a cavity, and no machine here drills at a slant"
            work = f"drill {step} with a guide, by its numbers"
            routed.append(do(f"drill {step}", work, done, because, cutter="long bit", clamping=f"{name} {step}"))
            continue
        guides = [p for p in derived.pieces if p.role == "template" and _serves(derived, p, step)]
        ready = done
        roughed = spec is not None and spec.opening_allowance > 0 and step in stack.trimmed_later(spec)
        outline = spec is not None and step == spec.outline
        if outline:
            ready = [
                do(
                    f"saw {step}", "saw 1 to 2 mm outside the outline", done,
                    "little is then left to the router: small bites that don't grab",
                    cutter="saw", clamping=f"{name} {step}",
                )
            ]  # fmt: skip
        elif not roughed:
            ready = [
                do(
                    f"bore out {step}", f"bore out most of {step}", done,
                    "the machine is done with the blank; its pins and clamps are no longer needed",
                    cutter="drill", clamping=f"{name} {step}",
                )
            ]  # fmt: skip
        follow = " or ".join(dict.fromkeys(_followed(derived, p) for p in guides))
        by = f" by {' and '.join(p.name for p in guides)}" if guides else ""
        rout = do(
            f"rout {step}", f"{'trim' if roughed or outline else 'rout'} {step}{by}", ready,
            "sawn near the line, it leaves little to the router"
            if outline
            else "cut smaller in the laminations, it leaves little to the router"
            if roughed
            else "bored out, it leaves little to the router: small bites that don't grab",
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
        if any(p.allowance_mm for p in mine) and not (spec and spec.outline in blank.by_hand):
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
    for n, (work, because, cutter) in enumerate(_edge_work(blank), start=1):
        done = [do(f"x edge {n}", work, done, because, cutter=cutter)]
    lined = any(op.work == "CARVE_LINE" for p in mine for s in p.set_ups for op in s.ops)
    lined = lined or derived.recipe.steps[blank.step].kind == "carved"
    if lined or (not blank.edges and any(op.work == "CARVE_LINE" for op in ops)):
        done = [
            do(
                "z carve",
                f"carve to the lines: {CARVE_RULE}",
                done,
                "the router's base needs flat faces, so carving comes after it",
            )
        ]
    return done


def _loads(derived: Derived, blank: Blank, joints: int) -> list[tuple[str, int]]:
    """Which laminations each load of the press joins, in words, and by how many joints; one alone has no words."""
    press = derived.results[blank.step].numbers.get("press", {})
    loads = press.get("loads", ())
    if len(loads) < 2:
        return [("", joints)]
    return [(f" between laminations {', '.join(v['laminations'])}", v["joints"]) for v in loads]


def _edge_work(blank: Blank) -> list[tuple[str, str, str]]:
    """(work, reason, cutter) of each treatment of the edges: roundings first, while the faces are flat."""
    found: dict[tuple[str, str, float, str], None] = {}
    for kind in ("round", "bevel", "scoop"):
        for face in ("front", "back"):
            mine = [e for e in blank.edges if (e.kind, e.face) == (kind, face)]
            found |= dict.fromkeys((kind, face, e.size_mm, e.by) for e in mine)
    told: list[tuple[str, str, str]] = []
    for kind, face, size, by in found:
        if kind == "round" and by == "bit":
            told.append(
                (
                    f"round the {face} edge {size:g}: end grain first, in two passes",
                    "the bearing rolls on the full wall, so before anything is bored in the side; mouths are "
                    "skipped or plugged",
                    f"rounding bit r {size:g} with bearing",
                )
            )
        elif kind == "round":
            told.append((f"round the {face} edge {size:g} with rasp and paper", "by hand it needs no wall", ""))
        elif kind == "bevel":
            told.append(
                (
                    f"bevel the {face} edge to its lines, {size:g} down",
                    "it takes the flat face that a router's base stands on",
                    "",
                )
            )
        else:
            told.append(
                (
                    f"carve the hollow of the {face} edge until its depth holes just vanish",
                    "it takes the flat face that a router's base stands on",
                    "",
                )
            )
    return told


def _serves(derived: Derived, piece: Piece, step: str) -> bool:
    """True when a template brings out the shape of a step."""
    spec = derived.recipe.steps[piece.step].spec
    if not isinstance(spec, template.Spec):
        return False
    own = f"{piece.step}-{step}"
    return spec.of == step or (spec.set_ is not None and (piece.name == own or piece.name.startswith(f"{own}-")))


def _followed(derived: Derived, piece: Piece) -> str:
    """Follower and cutter of a template, in words."""
    spec = derived.recipe.steps[piece.step].spec
    if not isinstance(spec, template.Spec):
        return "hand router"
    return ", then ".join(f"{f.kind} {f.diameter:g}, cutter {f.cutter:g}" for f in spec.stages)
