"""The ground of balance pictures: a thing turned and scaled onto a sheet that is as wide as a phone, and its
marks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.geometry.transform import Move, mirror_x_axis, mirror_y_axis, shift, turn
from pipeline.packet.path_text import matrix, number, path_data
from pipeline.steps.values import Derived

Point = tuple[float, float]

WIDE_PX, TALL_PX, RIM_PX = 360.0, 400.0, 30.0
LINES: Mapping[str, tuple[float, ...]] = {"wood": (1.5,), "part": (0.8,), "ghost": (1.1, 5.0, 3.0)}
"""Width and dashes, in dots, of what is drawn through a transform, which would scale them."""

STYLE = """
.balance svg{background:#fff;width:100%;max-width:34rem;height:auto;display:block;border:1px solid #ddd6c8}
.balance figure{margin:.4rem 0;break-inside:avoid}.balance figcaption{font-size:.92rem;color:#3a3a3a}
.balance .pair{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr));gap:1rem}
.balance .wood{fill:#f3ead9;stroke:#1b1b1b;stroke-width:1.5}
.balance .ghost{fill:none;stroke:#6a6a6a;stroke-width:1.1;stroke-dasharray:5 3}
.balance .part{fill:#dcdcdc;stroke:#555;stroke-width:.8}
.balance .strap{fill:none;stroke:#8a3d00;stroke-width:2.6}
.balance .body{fill:#efe3d0;stroke:#8a7a5c;stroke-width:1}
.balance .plumb{fill:none;stroke:#0072b2;stroke-width:1.4;stroke-dasharray:10 3 2 3}
.balance .level{fill:none;stroke:#5a5a5a;stroke-width:1;stroke-dasharray:3 3}
.balance .edge{fill:none;stroke:#00714f;stroke-width:1.5;stroke-dasharray:7 3}
.balance .force{fill:none;stroke:#a33c00;stroke-width:2.4}.balance .tip{fill:#a33c00}
.balance .button{fill:#1b1b1b}.balance .ring{fill:#fff;stroke:#1b1b1b;stroke-width:1.3}
.balance .quarter{fill:#1b1b1b}
.balance svg text{font:12.5px system-ui,sans-serif;fill:#1b1b1b;stroke:#fff;stroke-width:3;paint-order:stroke}
.balance svg text.strong{font-weight:700}
.balance th[scope=row]{font-weight:600;min-width:9rem}.balance thead th{white-space:normal;min-width:4.5rem}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Where things of the held frame come to lie: turned by ``tilt_deg`` about ``about``, seen from the front (a
    left-handed one, ``up`` −1, has its neck to the left), ``k`` dots a mm; ``x`` and ``y`` are dots of
    ``about``."""

    about: Point
    tilt_deg: float
    up: float
    k: float
    x: float
    y: float
    height: float

    @classmethod
    def around(
        cls, points: Iterable[Point], about: Point, *, tilt_deg: float = 0.0, up: float = 1.0, rim: float = RIM_PX
    ) -> Sheet:
        """A sheet that shows all these points of the held frame."""
        raw = cls(about=about, tilt_deg=tilt_deg, up=up, k=1.0, x=0.0, y=0.0, height=0.0)
        spots = [raw.at(p) for p in points]
        x0, x1 = min(p[0] for p in spots), max(p[0] for p in spots)
        y0, y1 = min(p[1] for p in spots), max(p[1] for p in spots)
        k = min((WIDE_PX - 2 * rim) / max(x1 - x0, 1.0), (TALL_PX - 2 * rim) / max(y1 - y0, 1.0))
        height = k * (y1 - y0) + 2 * rim
        x = WIDE_PX / 2 - k * (x0 + x1) / 2
        return cls(about=about, tilt_deg=tilt_deg, up=up, k=k, x=x, y=rim - k * y0, height=height)

    def at(self, p: Point) -> Point:
        """Dots of a point of the held frame, down positive."""
        a = math.radians(self.tilt_deg)
        dx, dy = p[0] - self.about[0], p[1] - self.about[1]
        x, y = dx * math.cos(a) - dy * math.sin(a), dx * math.sin(a) + dy * math.cos(a)
        return self.x + self.k * x * self.up, self.y - self.k * y

    def move(self) -> Move:
        """The same for contours of the design frame, y up."""
        held = mirror_x_axis() if self.up < 0 else Move()
        seen = mirror_y_axis() if self.up < 0 else Move()
        turned = held.then(shift(-self.about[0], -self.about[1])).then(turn(self.tilt_deg)).then(seen)
        return turned.then(Move(self.k)).then(shift(self.x, -self.y))

    def path(self, contours: Iterable[Contour], look: str) -> str:
        """Contours of the design frame, their lines as wide as those of all else."""
        wide, *dashes = (number(v / self.k) for v in LINES[look])
        dashed = f";stroke-dasharray:{' '.join(dashes)}" if dashes else ""
        style = f' style="stroke-width:{wide}{dashed}"'
        return f'<path class="{look}" fill-rule="evenodd"{style}{matrix(self.move())} d="{path_data(contours)}"/>'

    def drawn(self, title: str, body: Sequence[str]) -> str:
        """The picture, with a title that screen readers say."""
        return (
            f'<svg viewBox="0 0 {number(WIDE_PX)} {number(self.height)}" role="img" '
            f'aria-label="{escape(title, quote=True)}"><title>{escape(title)}</title>{"".join(body)}</svg>'
        )


# -- marks ---------------------------------------------------------------------------------------------
def line(look: str, *points: Point) -> str:
    d = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f'<path class="{look}" d="M{d}"/>'


def circle(look: str, at: Point, r: float) -> str:
    return f'<circle class="{look}" cx="{number(at[0])}" cy="{number(at[1])}" r="{number(r)}"/>'


def words(text: str, at: Point, *, anchor: str = "middle", strong: bool = False) -> str:
    """Words at a point, kept on the sheet."""
    half = 3.4 * len(text) * {"middle": 1.0, "start": 2.0, "end": 2.0}[anchor]
    x = at[0]
    if anchor == "start":
        x = min(x, WIDE_PX - 4 - half)
    elif anchor == "end":
        x = max(x, 4 + half)
    else:
        x = min(max(x, 4 + half), WIDE_PX - 4 - half)
    look = ' class="strong"' if strong else ""
    return f'<text{look} x="{number(x)}" y="{number(at[1])}" text-anchor="{anchor}">{escape(text)}</text>'


def centre_mark(at: Point, r: float = 7.0) -> str:
    """A centre of gravity: a ring with two black quarters."""
    x, y = at
    n = number
    quarters = f"M{n(x)} {n(y)}V{n(y - r)}A{n(r)} {n(r)} 0 0 1 {n(x + r)} {n(y)}Z" + (
        f"M{n(x)} {n(y)}V{n(y + r)}A{n(r)} {n(r)} 0 0 1 {n(x - r)} {n(y)}Z"
    )
    return circle("ring", at, r) + f'<path class="quarter" d="{quarters}"/>'


def arrow(start: Point, end: Point) -> str:
    """An arrow of a force."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    d = math.hypot(dx, dy) or 1.0
    ux, uy = dx / d, dy / d
    back = (end[0] - 9 * ux, end[1] - 9 * uy)
    tip = [end, (back[0] - 4 * uy, back[1] + 4 * ux), (back[0] + 4 * uy, back[1] - 4 * ux)]
    d_tip = "L".join(f"{number(x)} {number(y)}" for x, y in tip)
    return line("force", start, back) + f'<path class="tip" d="M{d_tip}Z"/>'


# -- the thing itself ----------------------------------------------------------------------------------
def corners(region: Region, up: float) -> list[Point]:
    """Points of its outer edges in the held frame, within 2 mm of them: enough to frame it at any tilt."""
    return [(x, y * up) for part in region.parts for x, y in part.outer.flatten(2.0)[0].tolist()]


def fingerboards(derived: Derived) -> tuple[Region, ...]:
    return tuple(r.region for r in derived.results.values() if r.kind == "fretboard" and r.region)


def bought(derived: Derived, up: float) -> list[tuple[Point, Point]]:
    """Boxes of bought parts in the held frame: (middle, half sizes)."""
    found = []
    for part in derived.recipe.hardware.values():
        if part.at is not None and part.mass:
            size = (*part.size, part.size[0])[:2] if part.size else (14.0, 14.0)
            found.append(((part.at[0], part.at[1] * up), (size[0] / 2, size[1] / 2)))
    return found


def thing(derived: Derived, outline: Region, sheet: Sheet) -> list[str]:
    """The outline with fretboards and bought parts."""
    body = [sheet.path(outline.contours, "wood")]
    body += [sheet.path(r.contours, "part") for r in fingerboards(derived)]
    far = max(p[0] for r in (outline, *fingerboards(derived)) for p in corners(r, sheet.up))
    for (x, y), (w, h) in bought(derived, sheet.up):
        if x - w > far:
            body.append(line("level", sheet.at((far, y)), sheet.at((x - w, y))))
        box = [sheet.at((x + a * w, y + b * h)) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        d = "L".join(f"{number(px)} {number(py)}" for px, py in box)
        body.append(f'<path class="part" d="M{d}Z"/>')
    return body


def extent(derived: Derived, outline: Region, up: float) -> list[Point]:
    """Points of the held frame that frame the thing with its parts."""
    points = corners(outline, up)
    for r in fingerboards(derived):
        points += corners(r, up)
    for (x, y), (w, h) in bought(derived, up):
        points += [(x - w, y - h), (x + w, y + h)]
    return points
