"""What is done to a glued blank by hand: cavities with templates, drilled channels, the outline."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pipeline.core.text import listed
from pipeline.steps import cavity, channel, stack
from pipeline.steps.template_marks import CHECK_MM
from pipeline.steps.values import Blank, Derived, Piece
from pipeline.workshop.guides import cutters, face_up, for_both, for_recess, serving
from pipeline.workshop.stock_work import Cut
from pipeline.workshop.tasks import HAND, Plan, Task


class Bench:
    """Adds tasks for one blank on the maker's bench; ``start`` is the reason why its first ones wait for what
    came before."""

    def __init__(self, plan: Plan, blank: Blank, start: str) -> None:
        self.plan, self.blank, self.start = plan, blank, start

    def do(
        self, key: str, work: str, after: Iterable[str], reason: str, because: str = "",
        *, face: str = "", lies: str = "", cutter: str = "", step: str = "",
    ) -> str:  # fmt: skip
        """One task; with a cutter it is done to the blank as it is clamped on the bench, ``face`` up, or as it
        ``lies`` for the next cut where the face doesn't matter."""
        name = self.blank.name
        task = Task(
            key=f"{name} {key}",
            stage=HAND,
            work=work,
            piece=name,
            face=face,
            cutter=cutter,
            clamping=f"{name} {face or lies} bench" if cutter else "",
            group=f"{name}{f', {face or lies} up' if cutter else ''}, on the bench",
            steps=(step or self.blank.step,),
        )
        return self.plan.add(task, after, reason, because)


def routed(
    bench: Bench, derived: Derived, mine: Sequence[Piece], cut: Cut, done: list[str]
) -> dict[str, list[str]]:
    """Every step that the blank names under `by_hand`, and the outline: the last tasks of each step."""
    spec = derived.recipe.steps[bench.blank.step].spec
    spec = spec if isinstance(spec, stack.Spec) else None
    guides = _checked(bench, derived, cut)
    ends: dict[str, list[str]] = {}
    drilled = []
    for step in bench.blank.by_hand:
        result = derived.results.get(step)
        if result is not None and result.kind == "channel" and not result.cuts:
            drilled.append(step)
        elif spec is None or step != spec.outline:
            ends[step] = [_cavity(bench, derived, spec, step, guides, done)]
    _fits_first(bench.plan, derived, ends)
    if spec is not None and spec.outline in bench.blank.by_hand:
        ends[spec.outline] = _outline(bench, derived, spec, guides, done, list(ends.values()))
    for step in drilled:
        ends[step] = [_drilled(bench, derived, step, done, ends)]
    return ends


def _checked(bench: Bench, derived: Derived, cut: Cut) -> dict[str, tuple[str, ...]]:
    """Each template's last tasks: those that bear the check crosses are measured before they are followed."""
    found: dict[str, tuple[str, ...]] = {}
    for p in derived.pieces:
        if p.role != "template":
            continue
        found[p.name] = cut[p.name]
        if any(label.text == f"{CHECK_MM:.1f}" for s in p.set_ups for label in s.labels):
            task = Task(
                key=f"{p.name} check",
                stage=HAND - 1,
                work=f"measure {CHECK_MM:.1f} between the crosses on {p.name}, and feel along its edge for steps",
                piece=p.name,
                group="Templates",
                caution="check-template",
                steps=(p.step,),
            )
            if all(t.key != task.key for t in bench.plan.tasks):
                bench.plan.add(task, cut[p.name], "check-template")
            found[p.name] = (task.key,)
    return found


def _cavity(
    bench: Bench,
    derived: Derived,
    spec: stack.Spec | None,
    step: str,
    guides: dict[str, tuple[str, ...]],
    done: list[str],
) -> str:
    """Recess, boring out, routing of one cavity by its templates; the last task."""
    own = derived.recipe.steps[step].spec
    face = own.face if isinstance(own, cavity.Spec) else ""
    mine = [p for p in serving(derived, step) if p.name in guides]
    shallow = [p for p in mine if for_recess(derived, p)]
    roughed = spec is not None and spec.opening_allowance > 0 and step in stack.trimmed_later(spec)
    ready, reason, because = done, bench.start, ""
    if isinstance(own, cavity.Spec) and own.ledge is not None and shallow:
        recess = bench.do(
            f"rout {step} 1 recess", f"rout the recess of {step}, {own.ledge.depth:g} deep, by {_names(shallow)}",
            done, bench.start, face=face, cutter=cutters(derived, shallow, recess=True), step=step,
        )  # fmt: skip
        _follow(bench.plan, recess, shallow, guides)
        mine = [p for p in mine if for_both(derived, p) or p not in shallow]
        ready, reason = [recess], "recess-first"
    if not roughed:
        work = f"bore out most of {step}"
        ready = [bench.do(f"rout {step} 2 bore", work, ready, reason, face=face, cutter="drill", step=step)]
        reason = "bore-out"
    elif ready is done:
        because = "it was cut smaller in the laminations, and the blank is free for the router now"
    by = f" by {_names(mine)}" if mine else ""
    rout = bench.do(
        f"rout {step} 3", f"{'trim' if roughed else 'rout'} {step}{by}", ready, reason, because,
        face=face, cutter=cutters(derived, mine), step=step,
    )  # fmt: skip
    _follow(bench.plan, rout, mine, guides)
    return rout


def _fits_first(plan: Plan, derived: Derived, ends: dict[str, list[str]]) -> None:
    """What something has to fit into comes before the other cavities of its face."""
    specs = {s: derived.recipe.steps[s].spec for s in ends}
    cavities = {s: v for s, v in specs.items() if isinstance(v, cavity.Spec)}
    for a, first in cavities.items():
        for b, then in cavities.items():
            if first.fit is not None and then.fit is None and first.face == then.face:
                starts = [
                    t.key for t in plan.tasks if b in t.steps and t.key.endswith((" 1 recess", " 2 bore", " 3"))
                ]
                for key in starts:
                    plan.wait(
                        key,
                        ends[a],
                        "fit-first",
                        f"{a} has to fit, so it is cut while the wood beside it is stiff",
                    )


def _outline(
    bench: Bench, derived: Derived, spec: stack.Spec, guides: dict[str, tuple[str, ...]], done: list[str],
    cavities: list[list[str]],
) -> list[str]:  # fmt: skip
    """The outline sawn near its line and trimmed by its template, after the cavities."""
    mine = [p for p in serving(derived, spec.outline) if p.name in guides]
    before = [k for keys in cavities for k in keys]
    sawn = bench.do(
        f"saw {spec.outline}",
        f"saw {spec.outline} 1 to 2 mm outside its line",
        done,
        bench.start,
        cutter="saw",
        lies=face_up(derived, mine),
        step=spec.outline,
    )
    bench.plan.wait(sawn, before, "trim-last")
    by = f" by {_names(mine)}" if mine else ""
    trim = bench.do(
        f"trim {spec.outline}", f"trim {spec.outline}{by}", [sawn], "near-line", face=face_up(derived, mine),
        cutter=cutters(derived, mine), step=spec.outline,
    )  # fmt: skip
    _follow(bench.plan, trim, mine, guides)
    return [trim]


def trimmed(
    bench: Bench,
    derived: Derived,
    mine: Sequence[Piece],
    cut: Cut,
    done: list[str],
    ends: dict[str, list[str]],
) -> list[str]:
    """Ears sawn off and an allowance trimmed flush where no machine has freed the blank; the last tasks."""
    spec = derived.recipe.steps[bench.blank.step].spec
    spec = spec if isinstance(spec, stack.Spec) else None
    before = [k for keys in ends.values() for k in keys]
    last = before or done
    lies = face_up(derived, serving(derived, spec.outline)) if spec else "front"
    if spec and spec.ears:
        last = [
            bench.do(
                "saw ears",
                f"saw off the ears with the pins' holes ({spec.ears})",
                [*done, *before],
                "ears",
                cutter="saw",
                lies=lies,
            )
        ]
    if any(p.allowance_mm for p in mine) and not (spec and spec.outline in bench.blank.by_hand):
        guides = _checked(bench, derived, cut)
        own = [p for p in serving(derived, spec.outline) if p.name in guides] if spec else []
        by = f" by {_names(own)}" if own else ""
        trim = bench.do(
            "trim", f"trim the outline flush{by}", last,
            "trim-last" if before or (spec and spec.ears) else bench.start,
            face=face_up(derived, own), cutter=cutters(derived, own), step=spec.outline if spec else "",
        )  # fmt: skip
        _follow(bench.plan, trim, own, guides)
        last = [trim]
    return last


def _drilled(bench: Bench, derived: Derived, step: str, done: list[str], ends: dict[str, list[str]]) -> str:
    """A channel drilled at a slant from inside one cavity into the other."""
    spec = derived.recipe.steps[step].spec
    rooms = [n for n in (spec.from_, spec.to) if isinstance(n, str)] if isinstance(spec, channel.Spec) else []
    start = derived.recipe.steps[rooms[0]].spec if rooms else None
    face = start.face if isinstance(start, cavity.Spec) else "front"
    because = f"{listed(rooms, 'and')} have to be open, and the bit starts inside one of them"
    key = bench.do(
        f"drill {step}", f"drill {step} with a guide, by its numbers; a stop clamped in the far cavity",
        done, "both-ends",
        because, face=face, cutter="long bit", step=step,
    )  # fmt: skip
    opened = [t.key for t in bench.plan.tasks if t.piece == bench.blank.name and any(r in t.steps for r in rooms)]
    opened += [k for r in rooms for k in ends.get(r, ())]
    bench.plan.wait(key, opened, "both-ends", because)
    return key


def _names(pieces: Sequence[Piece]) -> str:
    return listed([p.name for p in pieces], "and")


def _follow(plan: Plan, key: str, mine: Sequence[Piece], guides: dict[str, tuple[str, ...]]) -> None:
    plan.wait(key, [k for p in mine for k in guides[p.name]], "template")
