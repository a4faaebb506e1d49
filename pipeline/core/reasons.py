"""Why one piece of work comes before another: the edges of trade notes 13.1 and 13.2, by name.

A ``must`` is impossible otherwise, ``quality`` a caution that a maker may leave out (`relax:` in the recipe names
it), ``safety`` keeps people and hands whole, ``place`` keeps what locates or clamps the work. Only ``quality`` can
be relaxed. All of it is common practice without a source, as the notes say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Kind = Literal["must", "quality", "safety", "place"]
STRENGTH: tuple[Kind, ...] = ("safety", "must", "place", "quality")
"""Of two reasons for the same order the one that is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason: the name that a recipe uses, its kind, the words after "because", the edges of the notes."""

    name: str
    kind: Kind
    because: str
    edges: str


def _table(*rows: tuple[str, Kind, str, str]) -> Mapping[str, Reason]:
    return MappingProxyType(
        {name: Reason(name=name, kind=kind, because=because, edges=edges) for name, kind, edges, because in rows}
    )


REASONS: Mapping[str, Reason] = _table(
    # -- sheets and files
    ("settle", "quality", "a1→a2, b1→b2", "thickness moves with moisture until the sheet has settled"),
    ("measured", "must", "a2→a3→a4, b2→b4", "heights and depths are sums of the measured sheets"),
    ("kerf", "must", "b3→b4", "slots and edges need the width of the cut in this sheet on this machine"),
    ("try-fit", "quality", "b3→b4", "a fit that is wrong costs a scrap here, and the work later"),
    # -- one set-up
    ("located", "place", "a12→a13…a18", "all that follows is located from the index holes"),
    ("pins", "place", "a11→a12", "the work stands on pins in these holes"),
    ("one-flip", "place", "a13…a17→a18",
     "a side is finished before the work is turned, so it is turned only once"),
    ("face-down", "must", "a18→a19…a25", "this face lies down until the work is turned"),
    ("mark-first", "quality", "b5→b6", "marks and text come out true only while the sheet lies flat and whole"),
    ("lens", "must", "b5→b6→b7→b8", "once the outside is cut the piece can drop or tilt under the lens"),
    ("clamp", "place", "a19, a21, a22, a23→a25",
     "what is around it is the clamp: the cut that frees the work comes last"),
    ("back-up", "quality", "a14→a22", "the cavity is open behind these holes, so a block backs them there"),
    ("release", "must", "a25→a26", "until then it hangs in its waste"),
    # -- glue
    ("sort", "quality", "b8→b9→b10", "numbered laminations don't get turned over"),
    ("dry-stack", "quality", "a4→a5→a6, b10→b11",
     "a dry stack shows a flipped or turned lamination while it can still be turned"),
    ("closed-in", "must", "hidden channels, chambers in b7→b11", "they can't be reached once it is glued"),
    ("weigh", "quality", "chambers in b7→b11", "the chambers are as heavy as weighed, not as worked out"),
    ("open-time", "must", "a6→a7", "the glue stays open for only so many joints at once"),
    ("pins-out", "must", "b10→b11→b12", "pins come out within 20 to 30 minutes of pressing, or never"),
    ("rest", "quality", "a7→a8→a9, b11→b13",
     "the joint has to set, and the glue's water swells it: machined too soon, joints sink later"),
    ("real-depths", "must", "a9→a10, b13→b15, b19, b20",
     "the floors that have to remain depend on the real thickness"),
    ("new-files", "must", "a10→a13, a14, a19…a22", "the depths are those of the glued and measured blank"),
    # -- hand router
    ("template", "must", "b14→b16…b21", "the router follows the template"),
    ("check-template", "quality", "b14→b16…b21", "a template that is off is copied into every piece"),
    ("bore-out", "safety", "b15→b16, b20→b21",
     "bored out, it leaves little to the router: small bites that don't grab"),
    ("near-line", "safety", "b15→b16",
     "sawn near the line, it leaves little to the router: small bites that don't grab"),
    ("off-table", "place", "a26→a27",
     "the machine is done with the blank: its pins and clamps are no longer needed"),
    ("fit-first", "quality", "b16→b17", "the fit that matters is cut while the wood beside it is still stiff"),
    ("recess-first", "quality", "b19→b20→b21",
     "the middle still carries the router's base, and the shallow cut has a crisp edge"),
    ("ears", "place", "a12→a25", "the pins' holes must live until the last cut that uses them"),
    ("trim-last", "quality", "b16, b17→b18",
     "waste outside the outline carries the router's base and backs the fibres at open ends"),
    # -- edges
    ("full-wall", "must", "a26→a27, b18→b24", "the bearing rolls on the finished wall"),
    ("plug", "safety", "a21→plug→a27", "the bearing must not fall into an open mouth"),
    ("flat-base", "quality", "a9→a27→a30, b24→b25",
     "the router's base needs flat faces, and carving takes them away"),
    ("both-ends", "must", "a14, a19, a20, a26→a28, b17, b21→b26",
     "a drilled channel needs both its cavities open, and the bit starts inside one of them"),
    # -- bent wood
    ("form", "must", "6.7", "the plies are bent over the form"),
    ("dry-bend", "quality", "6.7", "a dry run shows gaps and plies that crack while nothing is wet yet"),
    ("let-go", "safety", "14", "bent wood under clamps stores energy, and plies spring"),
    ("after-bend", "must", "6.7", "its edges are true only on the bent piece"),
    # -- fitting and finish
    ("dry-fit", "quality", "a31", "what doesn't fit is still easy to change before glue or screws"),
    ("real-recess", "must", "b19→b23", "it is fitted to the real recess"),
    ("wires-first", "quality", "a28, a29→a31", "wires are tried before anything is closed"),
    ("try-parts", "quality", "a21→a31", "parts are tried while wood can still be taken away"),
    ("real-parts", "must", "a21→a31→a32, b16→b23→b22", "places of screws come from the real parts as they stand"),
    ("sand-last", "quality", "a30, a32→a33, b25…b27→b28", "nothing is drilled or carved through a finish"),
    ("sanded", "quality", "a33→a34, b28→b29", "a finish shows every scratch that is left under it"),
    ("cured", "quality", "a34→a35→a36, b29→b30", "screws and inserts go into cured film"),
    # -- the maker's own
    ("made", "must", "where a caution's own task is left out", "what it is made of has to be there first"),
    ("asked", "quality", "the recipe's after:", "the recipe asks for it"),
)  # fmt: skip

RELAXABLE: tuple[str, ...] = tuple(n for n, r in REASONS.items() if r.kind == "quality" and n != "asked")
"""The cautions that a recipe may leave out."""
