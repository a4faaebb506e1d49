"""Where someone can get hurt: the cautions that belong to the ways in which a design is made.

Sources are named in trade notes 14; numbers there that are common practice are left to the manuals,
which a caution always names as the authority.
"""

from __future__ import annotations

from pipeline.steps.values import Derived
from pipeline.workshop.cutters import shop_named

ALWAYS = (
    "These are drawings, not machine motions: check zero, tool, hold-down and direction before cutting. "
    "The machine's manual, the material's data sheet, local law and the trained operator stand above this page.",
    "Nothing here says how strong the work is. What carries people or load has to be tested by those who make it.",
)
CNC = (
    "CNC router: hold down every part, not only the sheet; cut through into a sacrificial table, never into the "
    "bed or a clamp; run an air pass above the work first. Nobody leans in while the spindle can turn.",
    "CNC router: the last cut frees the part and can throw it. Leave bridges, and stop the spindle before you "
    "reach for an off-cut.",
)
LASER = (
    "Laser: a fire is the usual failure. Stay beside it, keep the lid closed and a CO2 extinguisher at hand; the "
    "source inside is Class 4 (EN 60825-1, ISO 11553-1). Only trained operators.",
    "Laser: never cut PVC, vinyl, imitation leather or unknown foils (chlorine), ABS, PTFE, foams, or any sheet "
    "without a data sheet that allows it. Plywood and MDF give off formaldehyde: extract the fumes.",
)
HAND_ROUTER = (
    "Hand router: feed against the cutter, clockwise round an opening, anticlockwise round an outside edge (seen "
    "from above, router upright on the work). Screw or tape the template down and clamp it. Two hands.",
    "Hand router: cutter at least three quarters of its shank in the collet and not bottomed, speed never above "
    "the mark on the tool (EN 847-1), small bites, the base supported all round.",
)
LONG_BIT = (
    "Long drill: it whips, and comes out where you don't see it. Clamp a stop at the far cavity and keep the "
    "other hand away from it; turn slowly until it has begun to guide itself.",
)
BENT = (
    "Bent wood: a form under load stores energy, and plies and straps spring. Stand beside it, not over it, and "
    "open the clamps step by step.",
)
GLUE = (
    "Glue: follow its data sheet for open time, pressure, temperature and gloves. Epoxy and isocyanate can make "
    "you allergic for life. Clamps under load store energy: release them step by step.",
)
DUST = (
    "Dust: wood dust can cause cancer and local limits apply; plywood and MDF count as mixed dust. Extract at the "
    "source, and wear a fitted mask for sanding.",
)
FINISHING = (
    "Finishing: read the data sheet, air the room, keep flames away. Rags with oil heat up by themselves and "
    "burn: put them in water or a closed metal can.",
)


def cautions(derived: Derived) -> tuple[str, ...]:
    """Full sentences, general ones first, then those of each way of working that the design uses."""
    shops = {p.shop for p in derived.pieces} | {b.shop for b in derived.blanks if b.set_ups}
    processes = {shop_named(derived.recipe, name).process for name in shops}
    rounded = any(e.by == "bit" for b in derived.blanks for e in b.edges)
    by_hand = (
        any(p.role == "template" for p in derived.pieces) or any(b.by_hand for b in derived.blanks) or rounded
    )
    drilled = any(r.kind == "channel" and not r.cuts for r in derived.results.values())
    bent = any(s.kind == "mould" for s in derived.order)
    glued = bent or any(len(b.laminations) > 1 for b in derived.blanks)
    makes_object = bool(derived.blanks) or any(p.role == "panel" for p in derived.pieces)
    return (
        *ALWAYS,
        *(CNC if "router" in processes else ()),
        *(LASER if "laser" in processes else ()),
        *(HAND_ROUTER if by_hand else ()),
        *(LONG_BIT if drilled else ()),
        *(GLUE if glued else ()),
        *(BENT if bent else ()),
        *(DUST if derived.pieces or derived.blanks else ()),
        *(FINISHING if makes_object else ()),
    )
