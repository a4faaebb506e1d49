"""The `stack` kind: laminations glued into one blank (its fields; `stack_make.py` does the work)."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.fields import Gap, SheetName, StepName, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Laminations from the back, what is cut in them, and what is cut in the glued blank."""

    outline: StepName = field("the outline of the finished edge")
    laminations: tuple[SheetName, ...] = field("the sheets from the back, veneers too: `birch12 A`")
    glue: Gap = field("thickness of one glue line", 0.0)
    allowance: Gap = field("what the laminations are cut larger by, all round", 0.0)
    ears: StepName | None = field("the index holes that get waste tabs outside the outline", None)
    cut: tuple[StepName, ...] = field("cut in the laminations before glue-up", ())
    cut_blank: tuple[StepName, ...] = field(
        "cut by machine in the glued blank; name the outline to have its perimeter cut there", ()
    )
    by_hand: tuple[StepName, ...] = field("cut by hand with templates after that", ())
