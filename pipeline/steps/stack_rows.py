"""What packet.json and the report say of a stack's cuts and heights."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from pipeline.core.text import listed
from pipeline.steps.heights import Floor, Span
from pipeline.steps.values import Cut


def cut_row(floor: Floor, levels: Sequence[Span]) -> dict[str, Any]:
    """What packet.json says of one cut in the blank, with the crossings of a ramp and the glue lines."""
    cut = floor.cut
    row: dict[str, Any] = {
        "cut": cut.name,
        "step": cut.step,
        "face": cut.face,
        "rule": cut.depth.rule,
        "depth_mm": floor.depth,
        "deep_mm": floor.deep,
        "floor_z_mm": floor.height(floor.depth),
        "deep_floor_z_mm": floor.height(floor.deep),
        "remains_mm": floor.total - floor.deep,
    }
    if cut.lamination is not None:
        span = levels[cut.lamination - 1] if cut.lamination <= len(levels) else levels[-1]
        depth = span.thickness if cut.depth.rule in ("sheet", "through") else cut.depth.mm
        z = (span.z1, span.z1 - depth) if cut.face == "front" else (span.z0, span.z0 + depth)
        row |= {"lamination": cut.lamination, "depth_mm": depth, "deep_mm": depth, "z_mm": sorted(z)}
        row |= {"floor_z_mm": z[1], "deep_floor_z_mm": z[1], "remains_mm": span.thickness - depth}
    tilt = cut.depth.tilt
    if tilt and floor.slope:
        heights = [z for v in levels for z in (v.z0, v.z1)]
        row["crossings"] = [
            {"z_mm": z, "at_mm": floor.s_at(floor.total - z if cut.face == "front" else z)}
            for z in heights
            if floor.depth < (floor.total - z if cut.face == "front" else z) < floor.deep
        ]
    return row


def sentence(name: str, levels: Sequence[Span], total: float, computed: float) -> str:
    heights = ", ".join(f"{v.z0:.2f}-{v.z1:.2f}" for v in levels)
    measured = f" (measured; the sheets and glue lines add up to {computed:.2f})" if total != computed else ""
    return f"{name}: {len(levels)} laminations at z {heights}; the blank is {total:.2f} mm thick{measured}."


def trimmed_sentences(name: str, by_mm: float, cuts: Iterable[Cut]) -> tuple[str, ...]:
    """What is cut smaller in the laminations, in words; nothing where nothing is."""
    steps = list(dict.fromkeys(c.step for c in cuts))
    if not steps:
        return ()
    are = "is" if len(steps) == 1 else "are"
    return (
        f"{name}: {listed(steps, 'and')} {are} cut {by_mm:.2f} mm smaller all round in the laminations and "
        "trimmed after glue-up.",
    )
