"""The tasks of bent wood: a form built and tried, plies pressed over it, a board bent by its cuts."""

from __future__ import annotations

from pipeline.steps import mould
from pipeline.steps.values import Derived
from pipeline.workshop.stock_work import Cut
from pipeline.workshop.tasks import GLUE, Plan, Task


def bend_tasks(plan: Plan, derived: Derived, cut: Cut) -> list[str]:
    """All moulds of a design; what is fitted and finished of them waits for these keys."""
    ready: list[str] = []
    for step in derived.order:
        if isinstance(step.spec, mould.Spec):
            mine: dict[str, list[str]] = {}
            for p in derived.pieces:
                if p.step == step.name:
                    mine.setdefault(p.role, []).extend(cut[p.name])
            work = _Bend(plan, step.name)
            if step.spec.is_board:
                ready += work.board(step.spec, mine.get("panel", []))
            else:
                ready += work.laminated(step.spec, mine.get("rib", []), mine.get("panel", []))
    return ready


class _Bend:
    def __init__(self, plan: Plan, name: str) -> None:
        self.plan, self.name = plan, name

    def do(
        self,
        key: str,
        work: str,
        after: list[str],
        reason: str,
        because: str = "",
        *,
        caution: str = "",
        hours: int = 0,
    ) -> list[str]:
        task = Task(
            key=f"{self.name} {key}", stage=GLUE, work=work, piece=self.name, group=f"Bending {self.name}",
            steps=(self.name,), caution=caution, hours=hours,
        )  # fmt: skip
        return [self.plan.add(task, after, reason, because)]

    def laminated(self, spec: mould.Spec, ribs: list[str], plies: list[str]) -> list[str]:
        """Form, dry run, press, rest, release, trim. Nothing where neither form nor plies are cut here."""
        if not ribs and not plies:
            return []
        form = ribs
        if ribs:
            halves = "the form" if spec.halves != "both" else "both halves of the form"
            hold = "bolt" if spec.bolts else "glue and screw"
            skin = ", bend its skin over the ribs" if spec.ribs and spec.ribs.skin else ""
            form = self.do(
                "1 form",
                f"{hold} the ribs of {self.name} into {halves}{skin}; sand its face fair, wax or tape it",
                ribs, "made", "its ribs have to be cut first",
            )  # fmt: skip
        linen = ", liners between" if spec.liner else ""
        dry = self.do(
            "2 dry run", f"close {self.name} dry with all {spec.plies} plies{linen}: no gaps, nothing cracks",
            [*form, *plies], "form", caution="dry-bend",
        )  # fmt: skip
        press = self.do(
            "3 press",
            f"spread the glue on all plies of {self.name} and close the form from the middle out",
            dry,
            "dry-bend",
        )
        rest = self.do(
            "4 rest", f"let {self.name} rest in its form for 24 hours", press, "rest",
            "taken out before the glue has set it opens again", caution="rest", hours=24,
        )  # fmt: skip
        free = self.do(
            "5 release",
            f"open the clamps of {self.name} step by step, and hold it against its drawing",
            rest,
            "let-go",
        )
        if spec.trim_mm or spec.ends_mm:
            free = self.do(
                "6 trim",
                f"trim {self.name} to its width of {spec.width:g} and to its length, by lines on the bent piece",
                free, "after-bend",
            )  # fmt: skip
        return free

    def board(self, spec: mould.Spec, board: list[str]) -> list[str]:
        """A board with saw cuts is bent dry, then glued; one with rows of slots is only bent."""
        if not board:
            return []
        dry = self.do(
            "1 dry run",
            f"bend {self.name} dry, slowly: {'the cuts just close' if spec.kerf else 'nothing cracks'}",
            board, "made", "its cuts make it bend", caution="dry-bend",
        )  # fmt: skip
        if not spec.kerf:
            return dry
        glued = self.do(
            "2 glue", f"glue the cuts of {self.name}, bend it and clamp it to its curve", dry, "dry-bend"
        )
        return self.do(
            "3 rest", f"let {self.name} rest in its clamps for 24 hours", glued, "rest",
            "taken out before the glue has set it opens again", caution="rest", hours=24,
        )  # fmt: skip
