"""The design at a glance: its outlines with all that is cut in them, and what that is, a line each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from pipeline.core.text import listed
from pipeline.packet.pictures import scene_picture
from pipeline.packet.print_scene import scenes
from pipeline.steps.values import Cut, Derived

WORDS = "Seen from the front. Blue: cut from the front; orange: cut from the back; green dashes: carve lines."
STYLE = """
.glance{display:flex;flex-wrap:wrap;gap:.4rem 1.4rem}.glance>svg,.glance>.seen{width:min(100%,40rem)}
.glance>ul{flex:1 1 15rem;margin:.4rem 0;padding-left:1.2rem;font-size:.94rem}
"""


def design(derived: Derived) -> str:
    """The inside of the section; what is cut stands beside the first outline."""
    drawn = [scene_picture(s) for s in scenes(derived)]
    if not drawn:
        return ""
    lines = "".join(f"<li>{escape(line)}</li>" for line in _lines(derived))
    first = f'<div class="card whole"><div class="glance">{drawn[0]}<ul>{lines}</ul></div></div>' if lines else ""
    rest = "".join(f'<div class="card">{d}</div>' for d in (drawn[1:] if lines else drawn))
    return f'<p>{WORDS}</p><div class="cards">{first}{rest}</div>'


def _lines(derived: Derived) -> Iterator[str]:
    """Each step that cuts something: what it is, from which face, how deep, and what is left."""
    solved: dict[str, list[Mapping[str, Any]]] = {}
    for result in derived.results.values():
        for row in result.numbers.get("cuts", ()) if result.blanks or result.pieces else ():
            if "depth_mm" in row and "step" in row:
                solved.setdefault(str(row["step"]), []).append(row)
    for step in derived.order:
        cuts = derived.results[step.name].cuts
        rows = solved.get(step.name, [])
        if (not cuts and not rows) or derived.results[step.name].blanks:
            continue
        faces = listed(list(dict.fromkeys([*(c.face for c in cuts), *(str(r["face"]) for r in rows)])), "and")
        words = f"{step.name}: {step.kind}, from the {faces}"
        if rows:
            main = max(rows, key=lambda r: float(r["deep_mm"]))
            low, high = float(main["depth_mm"]), float(main["deep_mm"])
            words += f", {low:.2f}{f' to {high:.2f}' if high - low >= 0.005 else ''} deep"
            if main["remains_mm"] > 0.005:
                words += f", {float(main['remains_mm']):.2f} left"
            if main.get("lamination"):
                words += f", in lamination {main['lamination']}"
        else:
            words += _asked(cuts[0])
        yield words


def _asked(cut: Cut) -> str:
    """What a plan rule asks for, where no stack has solved it."""
    rule, mm = cut.depth.rule, f"{cut.depth.mm:.2f}"
    return {"through": ", through", "depth": f", {mm} deep", "floor": f", down to {mm} left"}.get(rule, "")
