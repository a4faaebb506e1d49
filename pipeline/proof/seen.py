"""How a file shows the design: turned over, brought to the shop's zero, laid on a sheet; and back again."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.geometry.contour import Contour
from pipeline.geometry.transform import Move
from pipeline.steps.values import Label, Placement, SetUp


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """(x, y) of the design → over the turn-over axis (``flip``) → turned by ``turn_deg`` → shifted.

    ``flip`` is the axis the work is turned over about, "" where the front lies up.
    """

    flip: str = ""
    turn_deg: float = 0.0
    dx: float = 0.0
    dy: float = 0.0

    @property
    def _turn(self) -> tuple[float, float]:
        """Cosine and sine of the turn, exact for quarter turns."""
        quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
        angle = math.radians(self.turn_deg)
        return quarter.get(self.turn_deg % 360.0) or (math.cos(angle), math.sin(angle))

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of the design stands in the file."""
        x, y = (-x if self.flip == "y" else x), (-y if self.flip == "x" else y)
        c, s = self._turn
        return c * x - s * y + self.dx, s * x + c * y + self.dy

    def back(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of the file stands in the design."""
        c, s = self._turn
        x, y = x - self.dx, y - self.dy
        x, y = c * x + s * y, c * y - s * x
        return (-x if self.flip == "y" else x), (-y if self.flip == "x" else y)

    def contour(self, c: Contour) -> Contour:
        """A contour of the design as the file shows it."""
        (ox, oy), (ax, ay) = self.point(0.0, 0.0), self.point(1.0, 0.0)
        return Move(ax - ox, ay - oy, ox, oy, bool(self.flip)).contour(c)

    def contour_back(self, c: Contour) -> Contour:
        """A contour of the file as the design has it."""
        (ox, oy), (ax, ay) = self.back(0.0, 0.0), self.back(1.0, 0.0)
        return Move(ax - ox, ay - oy, ox, oy, bool(self.flip)).contour(c)

    def label(self, label: Label, width_mm: float) -> tuple[tuple[float, float], float]:
        """Start of the baseline and its direction in degrees, as the file must show a label.

        The middle of the words moves with the work; the letters never mirror. Words on mirrored work may be read
        from either end: the one that isn't on its head is taken (direction over −90° and up to 90°).
        """
        turn = math.radians(label.turn_deg)
        along, up = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
        mx, my = label.at
        if not label.centred:
            mx += along[0] * width_mm / 2 + up[0] * label.height_mm / 2
            my += along[1] * width_mm / 2 + up[1] * label.height_mm / 2
        x, y = self.point(mx, my)
        degrees = label.turn_deg
        if self.flip:
            ex, ey = self.point(mx + along[0], my + along[1])
            degrees = math.degrees(math.atan2(ey - y, ex - x)) - self.turn_deg
            if degrees > 90.0 + 1e-9 or degrees <= -90.0 + 1e-9:
                degrees += 180.0
        degrees += self.turn_deg
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        w, h = width_mm / 2, label.height_mm / 2
        return (x - c * w + s * h, y - s * w - c * h), degrees


def over(face: str, turn_over: str) -> str:
    """The axis about which the work lies turned over when this face is up."""
    return turn_over if face == "back" else ""


def on_sheet(face: str, turn_over: str, placement: Placement) -> Seen:
    """A copy on a nest: turned to its face, turned on the sheet, shifted."""
    return Seen(flip=over(face, turn_over), turn_deg=float(placement.turn_deg), dx=placement.dx, dy=placement.dy)


def set_up_seen(set_up: SetUp, turn_over: str, datum: str, pin: tuple[float, float] | None) -> Seen:
    """A set-up in its own file. ``datum``: where the shop wants zero: "frame", "corner" (lower left of the
    stock as drawn, else of all that is drawn) or "pin" (the first index hole; the frame's zero without one)."""
    flipped = Seen(flip=over(set_up.face, turn_over))
    if datum == "pin" and pin is not None:
        x, y = flipped.point(*pin)
        return Seen(flip=flipped.flip, dx=-x, dy=-y)
    if datum == "corner":
        stock = [c for op in set_up.ops if op.work == "STOCK" for c in op.contours]
        drawn = stock or [c for op in set_up.ops for c in op.contours]
        boxes = [flipped.contour(c).bounds for c in drawn]
        if boxes:
            return Seen(flip=flipped.flip, dx=-min(b[0] for b in boxes), dy=-min(b[1] for b in boxes))
    return flipped
