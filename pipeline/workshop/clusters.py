"""Parts that move together: one with those that lie in its openings, for a packer that knows no openings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely

from pipeline.core.recipe import Recipe
from pipeline.steps.values import Piece, Placement
from pipeline.workshop.exact import Lying, quarter_turned
from pipeline.workshop.layout import turns
from pipeline.workshop.ways import grown_by


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """A part and what lies inside it. ``outline`` is what it takes up, grown by half the gap, as it lies now;
    ``turns`` (degrees) are those that the grain of all of them allows from there; ``members`` where they lie."""

    outline: shapely.Polygon
    turns: tuple[int, ...]
    members: tuple[Placement, ...]


def clusters(
    recipe: Recipe, pieces: Sequence[Piece], parts: Sequence[Placement], lying: Lying, gap_mm: float
) -> tuple[Cluster, ...] | None:
    """The parts of a sheet in clusters; None where a part is in several pieces."""
    known = {p.name: p for p in pieces}
    rough = [lying.placed(p, rough=True) for p in parts]
    if any(len(shapely.get_parts(s)) != 1 for s in rough):
        return None
    filled = [shapely.Polygon(shapely.get_parts(s)[0].exterior) for s in rough]
    host = [_host(i, filled) for i in range(len(parts))]
    found = []
    for i in range(len(parts)):
        if host[i] != i:
            continue
        members = tuple(parts[j] for j in range(len(parts)) if host[j] == i)
        may = set.intersection(
            *(
                {(t - m.turn_deg) % 360 for t in turns(known[m.piece], recipe.sheets[known[m.piece].sheet])}
                for m in members
            )
        )
        grown = shapely.get_parts(grown_by(filled[i], gap_mm))[0]
        outline = shapely.Polygon(grown.exterior)
        found.append(Cluster(outline=outline, turns=tuple(sorted(may)), members=members))
    return tuple(found)


def _host(i: int, filled: Sequence[shapely.Polygon]) -> int:
    """The outermost part that a part lies in; itself where it lies in none."""
    around = [
        (float(other.area), j) for j, other in enumerate(filled) if j != i and shapely.contains(other, filled[i])
    ]
    return max(around)[1] if around else i


def placements_of(cluster: Cluster, turn_deg: int, dx: float, dy: float) -> Iterator[Placement]:
    """The members when the cluster is turned about the origin, then shifted."""
    for m in cluster.members:
        at = quarter_turned(shapely.Point(m.dx, m.dy), turn_deg)
        x, y = round(float(at.x) + dx, 6) + 0.0, round(float(at.y) + dy, 6) + 0.0
        yield replace(m, turn_deg=(m.turn_deg + turn_deg) % 360, dx=x, dy=y)
