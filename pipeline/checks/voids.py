"""What is taken out of a glued blank: every cut as a plan shape between two heights."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import outer, thin
from pipeline.checks.jobs import cut_named
from pipeline.core.recipe import Step
from pipeline.steps.values import Blank, Cut, Derived


@dataclass(frozen=True, eq=False)
class Void:
    """One cut in a blank of thickness ``total``; z = 0 is the back face.

    ``shape`` is clipped to the finished outline; ``whole`` runs on past it where the cut is open.
    A sloped floor is the plane z = ``z_shallow`` + (p·toward − shallow)·``slope``.
    """

    step: Step
    cut: Cut
    total: float
    shape: BaseGeometry
    whole: BaseGeometry
    z_floor: float
    slope: float = 0.0
    mouth: float | None = None

    @property
    def face(self) -> str:
        return self.cut.face

    @property
    def drilled(self) -> bool:
        return self.cut.diameter_mm is not None

    @property
    def opens(self) -> bool:
        """True when it runs out through the outline."""
        return not shapely.covers(shapely.buffer(self.shape, 0.02), self.whole)

    def floors(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Height of the floor at points."""
        tilt = self.cut.depth.tilt
        if tilt is None or not self.slope:
            return np.full(len(x), self.z_floor)
        run = x * tilt.toward[0] + y * tilt.toward[1] - tilt.shallow
        return np.asarray(np.clip(self.z_floor + run * self.slope, 0.0, self.total))

    def deepest(self, within: BaseGeometry) -> tuple[float, tuple[float, float]]:
        """Height of the floor where it is deepest inside a shape, and where that is."""
        corners = shapely.get_coordinates(within)
        z = self.floors(corners[:, 0], corners[:, 1])
        if not self.slope:
            at = within.representative_point()
            return float(z[0]), (float(at.x), float(at.y))
        k = int(np.argmin(z) if self.face == "front" else np.argmax(z))
        return float(z[k]), (float(corners[k, 0]), float(corners[k, 1]))

    def span(self, within: BaseGeometry) -> tuple[float, float]:
        """Lowest and highest z of what is taken out inside a shape."""
        floor = self.deepest(within)[0]
        mouth = self.mouth
        if mouth is None:
            mouth = self.total if self.face == "front" else 0.0
        return min(floor, mouth), max(floor, mouth)


def voids(derived: Derived, blank: Blank) -> tuple[Void, ...]:
    """The cuts of a blank, as its stack states their heights; index holes are not among them."""
    steps = {s.name: s for s in derived.order}
    rows: Sequence[Mapping[str, Any]] = derived.results[blank.step].numbers.get("cuts", ())
    wanted = outer(thin(blank.region.polygon))
    found: list[Void] = []
    for row in rows:
        cut = cut_named(derived, row["step"], row["cut"], blank.step)
        if cut is None or cut.index or cut.step not in steps:
            continue
        whole = thin(cut.region.polygon)
        shape = shapely.intersection(whole, wanted)
        if shape.area <= 0.01:
            continue
        tilt = cut.depth.tilt
        run = tilt.deep - tilt.shallow if tilt else 0.0
        floor, deep = row["floor_z_mm"], row["deep_floor_z_mm"]
        heights = row.get("z_mm")
        mouth = None
        if heights is not None:  # confined to one lamination: it opens at that lamination's face
            floor = deep = min(heights) if cut.face == "front" else max(heights)
            mouth = max(heights) if cut.face == "front" else min(heights)
        found.append(
            Void(
                step=steps[cut.step],
                cut=cut,
                total=blank.thickness_mm,
                shape=shape,
                whole=whole,
                z_floor=floor,
                slope=(deep - floor) / run if run > 1e-9 else 0.0,
                mouth=mouth,
            )
        )
    return tuple(found)


def meant(a: Void, b: Void) -> bool:
    """True when one of two cuts is made to reach the other: same step, a channel's ends, a named need."""
    return a.step.name == b.step.name or a.step.name in b.step.needs or b.step.name in a.step.needs
