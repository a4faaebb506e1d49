"""Small designs as plain values, read by the real reader, derived and checked; and remedies applied to them."""

from __future__ import annotations

import copy
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml

from pipeline.checks import findings
from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.steps.values import Derived, Nest
from pipeline.workshop.nest import nests

Points = Sequence[tuple[float, float]]
Raw = dict[str, Any]

CUTTERS = [
    {"DC": 3, "APMX": 12, "LU": 18, "DMM": 6},
    {"DC": 6, "APMX": 40, "LU": 50, "DMM": 6},
    {"DC": 12, "APMX": 60, "LU": 70, "DMM": 12},
]
"""A router's: the 3 reaches 12 mm, the 6 reaches 40, the 12 reaches 60 (LU − 2, no deeper than APMX)."""
ROUTER: Raw = {"name": "router", "process": "router", "bed": [1300, 900], "cutters": CUTTERS}
LASER: Raw = {"name": "laser", "process": "laser", "bed": [900, 600], "cutters": [], "kerf": 0.2}
PLY: Raw = {"measured": {"A": 11.8, "B": 11.7, "C": 11.9}, "nominal": 12, "grain": "x", "density": 680}
SHEETS: Raw = {
    "ply": PLY,
    "board": {"measured": {"A": 12.0}, "nominal": 12, "density": 740},
    "thin": {"measured": {"A": 3.1}, "nominal": 3, "size": [600, 400], "density": 660, "shop": "laser"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One recipe with its drawing and shops, as values that YAML can hold. ``drawing`` maps ids to path data in
    millimetres, y up; ``extra`` is put into the drawing as it is; ``nested``: its parts are
    laid out; ``mirrored``: its left-handed variant is meant."""

    steps: Raw
    drawing: Mapping[str, str]
    sheets: Raw = field(default_factory=lambda: SHEETS)
    shops: Raw = field(default_factory=lambda: {"router": ROUTER, "laser": LASER})
    hardware: Raw = field(default_factory=dict)
    extra: str = ""
    nested: bool = False
    mirrored: bool = False

    def having(self, **more: Any) -> Design:
        return replace(self, **more)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a design: findings, or what was refused."""

    findings: tuple[Finding, ...] = ()
    refused: str = ""
    derived: Derived | None = None
    nests: tuple[Nest, ...] = ()

    def loud(self) -> tuple[Finding, ...]:
        """All that is more than a note."""
        return tuple(f for f in self.findings if f.severity != "note")


def checked(design: Design) -> Outcome:
    """The design written, read, derived and checked as the program does it."""
    with tempfile.TemporaryDirectory() as folder:
        path = _written(design, Path(folder))
        try:
            recipe = read_recipe(path, variant="left" if design.mirrored else "")
            derived = derive(recipe, read_drawing(recipe))
        except Refused as refused:
            return Outcome(refused=" ".join(f"{p.wrong} {p.expected} {p.remedy}" for p in refused.problems))
        laid = nests(derived)[0] if design.nested else ()
        return Outcome(findings=findings(derived, laid), derived=derived, nests=laid)


def _written(design: Design, folder: Path) -> Path:
    paths = "\n".join(f'<path id="{k}" fill="none" stroke="black" d="{d}"/>' for k, d in design.drawing.items())
    (folder / "d.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="8000mm" height="8000mm" viewBox="-4000 -4000 8000 8000">\n'
        f'<circle id="zero" cx="0" cy="0" r="1"/>\n{paths}\n{design.extra}</svg>\n',
        encoding="utf-8",
    )
    for name, shop in design.shops.items():
        (folder / f"{name}.yaml").write_text(_yaml(shop), encoding="utf-8")
    recipe: Raw = {
        "design": "seeded",
        "drawing": "d.svg",
        "frame": {"origin": "zero"},
        "shops": {name: f"{name}.yaml" for name in design.shops},
        "sheets": design.sheets,
        "hardware": design.hardware,
        "steps": design.steps,
        "variants": {"left": {"mirror": True}} if design.mirrored else {},
    }
    path = folder / "seeded.yaml"
    path.write_text(_yaml({k: v for k, v in recipe.items() if v}), encoding="utf-8")
    return path


def _yaml(value: Raw) -> str:
    return yaml.dump(value, Dumper=getattr(yaml, "CSafeDumper", yaml.SafeDumper), sort_keys=False)


# -- remedies ----------------------------------------------------------------------------------------------
def mended(design: Design, fix: Sequence[tuple[str, float | str]]) -> Design:
    """The design with a finding's remedy in it: each field path set to its value, texts read as YAML."""
    top: Raw = copy.deepcopy(
        {"steps": design.steps, "sheets": design.sheets, "shops": design.shops, "hardware": design.hardware}
    )
    for path, value in fix:
        _set(top, path.split("."), yaml.safe_load(value) if isinstance(value, str) else value)
    return replace(design, **top)


def _set(at: Any, path: list[str], value: Any) -> None:
    head, *rest = path
    if head.isdigit() and not isinstance(at, list):  # a list of one that is written without brackets
        _set(at, rest, value)
        return
    key: Any = int(head) if isinstance(at, list) else head
    if not rest:
        at[key] = value
        return
    if isinstance(at, dict):
        at.setdefault(key, {})
    if rest == ["0"] and not isinstance(at[key], (list, dict)):
        at[key] = value
        return
    _set(at[key], rest, value)


# -- drawings ----------------------------------------------------------------------------------------------
def polygon(points: Points) -> str:
    """A closed path of straight lines, y up."""
    return "M" + " L".join(f"{x:.6g},{-y + 0.0:.6g}" for x, y in points) + " Z"


def rounded(width: float, height: float, r: float, x: float = 0.0, y: float = 0.0) -> str:
    """A rectangle with round corners about (x, y), y up."""
    x0, x1, y0, y1 = x - width / 2, x + width / 2, -y - height / 2, -y + height / 2
    arc = f"A{r},{r} 0 0 1"
    return (
        f"M{x0 + r},{y0} H{x1 - r} {arc} {x1},{y0 + r} V{y1 - r} {arc} {x1 - r},{y1} "
        f"H{x0 + r} {arc} {x0},{y1 - r} V{y0 + r} {arc} {x0 + r},{y0} Z"
    )


def ring(x: float, y: float, r: float) -> str:
    return f"M{x - r},{-y} a{r},{r} 0 1 1 {2 * r},0 a{r},{r} 0 1 1 {-2 * r},0 Z"


# -- bases ---------------------------------------------------------------------------------------------------
def cavity(x: float, y: float, width: float, height: float, corner: float = 8, **more: Any) -> Raw:
    """A rectangular cavity from the front, 18 deep unless said otherwise."""
    deep = {} if {"depth", "floor", "through"} & set(more) else {"depth": 18}
    return {
        "kind": "cavity",
        "opening": {"rectangle": [width, height], "corner": corner},
        "centre": [x, y],
        **deep,
        **more,
    }


def body(
    steps: Raw, *, cut: Sequence[str] = (), by_hand: Sequence[str] = (), perimeter: bool = True, **more: Any
) -> Design:
    """A glued body of 400 by 260 by 35.5 mm with these steps, cut in the blank unless ``cut`` or ``by_hand``."""
    stack = {k: v for k, v in more.items() if k in ("edge", "laminations", "glue", "allowance")}
    rest = {k: v for k, v in more.items() if k not in stack}
    mine = [n for n, s in steps.items() if s["kind"] in ("cavity", "holes", "channel")]
    blank: Raw = {
        "kind": "stack",
        "outline": "body",
        "laminations": ["ply A", "ply B", "ply C"],
        "glue": 0.05,
        "cut": list(cut),
        "cut_blank": [n for n in mine if n not in cut and n not in by_hand] + (["body"] if perimeter else []),
        "by_hand": list(by_hand),
        **stack,
    }
    return Design(
        steps={"body": {"kind": "outline", "drawn": "body"}, **steps, "blank": blank},
        drawing={"body": rounded(400, 260, 40)},
        **rest,
    )


COMPANY: Raw = {
    "pickup": cavity(-60, 40, 80, 40),
    "control": cavity(-130, -60, 80, 50, face="back", floor=4, ledge={"width": 8, "depth": 3.3}),
    "posts": {"kind": "holes", "at": [[-150, 60], [-150, 30]], "diameter": 6, "depth": 15},
    "cover": {
        "kind": "cover",
        "of": "control",
        "sheet": "thin",
        "gap": 0.25,
        "screws": {"count": 4, "diameter": 2.5, "at": [[-174, -60], [-86, -60], [-130, -31], [-130, -89]]},
    },
}
"""What a large design has besides: it keeps to x < -15, so that the right half is free for a fault."""


def large(steps: Raw, **more: Any) -> Design:
    """A body with company: cavities from both faces, holes, a ledge and its cover."""
    return body({**COMPANY, **steps}, **more)


def hole(x: float, y: float, width: float, height: float, corner: float = 8, **more: Any) -> Raw:
    """A cavity 6 deep, for a panel."""
    return cavity(x, y, width, height, corner, depth=6, **more)


def panel(steps: Raw, *, outline: str = "", sheet: str = "board", **more: Any) -> Design:
    """A panel of one sheet, 300 by 200 unless drawn otherwise, with these cavities and holes cut in it."""
    plate = {"kind": "outline", "drawn": "plate", "sheet": sheet, "cut": list(steps)}
    return Design(
        steps={"plate": plate, **steps},
        drawing={"plate": outline or rounded(300, 200, 10), **more.pop("drawn", {})},
        **more,
    )


def tray(steps: Raw, **more: Any) -> Design:
    """A laser-cut panel of 3.1 with eight openings of its own above y = 10, and these below."""
    cells = {
        f"cell_{i}": cavity(-105 + 70 * (i % 4), 30 if i < 4 else 70, 50, 30, 4, through=True) for i in range(8)
    }
    return panel({**cells, **steps}, sheet="thin", **more)
