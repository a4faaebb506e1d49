"""The order of work, each line with the reason why it stands where it stands.

The rules are those of trade notes 13 (common practice, no source). What a design doesn't have gives
no line: a tray of laser-cut layers has no press, a body without templates no hand routing.
"""

from __future__ import annotations

from pipeline.core.recipe import Relaxed
from pipeline.steps.values import Derived, WorkLine
from pipeline.workshop.arrange import arranged
from pipeline.workshop.asked import asked_links
from pipeline.workshop.bend_work import bend_tasks
from pipeline.workshop.blank_work import blank_tasks
from pipeline.workshop.fit_work import fit_tasks
from pipeline.workshop.order_relax import idle
from pipeline.workshop.stock_work import stock_tasks
from pipeline.workshop.tasks import Plan


def sequence(derived: Derived) -> tuple[WorkLine, ...]:
    """Everything to be done, from the sheets on the rack to the finished object.

    Raises Refused when the recipe asks for an order that goes in a ring.
    """
    plan = planned(derived)
    return tuple(
        WorkLine(
            n=n,
            work=line.task.work,
            piece=line.task.piece,
            face=line.task.face,
            cutter=line.task.cutter,
            because=line.because,
            who=line.task.who,
            kind=line.kind,
            caution=line.caution,
            price=line.price,
            group=line.task.group,
            day=line.day,
            visit=line.visit,
        )
        for n, line in enumerate(arranged(plan.tasks, plan.links, derived.recipe.relax), start=1)
    )


def planned(derived: Derived) -> Plan:
    """All tasks of a design with all their links, before they are put in order."""
    plan = Plan()
    cut = stock_tasks(plan, derived)
    ready = [key for blank in derived.blanks for key in blank_tasks(plan, derived, blank, cut)]
    ready += bend_tasks(plan, derived, cut)
    fit_tasks(plan, derived, cut, ready)
    asked_links(plan, derived.recipe)
    return plan


def left_idle(derived: Derived) -> tuple[Relaxed, ...]:
    """The recipe's `relax:` entries that leave nothing out in this design."""
    plan = planned(derived)
    return idle(plan.tasks, plan.links, derived.recipe.relax)
