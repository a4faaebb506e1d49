"""``read_dxf``: a DXF file or its bytes to a document in mm, with what it holds that isn't read.

``dxf_groups`` (bytes to pairs) → ``dxf_file`` (sections and records) → ``dxf_walk`` (layers, blocks and
visibility) with ``dxf_curves`` and ``dxf_splines`` (an object's exact curves) → the same `Document` as of an
SVG. A DXF has no page: its own zero is where (0, 0) stands. Nothing in it is filled.
"""

from __future__ import annotations

from pathlib import Path

from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import scale
from pipeline.intake.drawing.document import Document
from pipeline.intake.drawing.dxf_file import DxfFile, read_file
from pipeline.intake.drawing.dxf_groups import read_groups
from pipeline.intake.drawing.dxf_kinds import TOLD
from pipeline.intake.drawing.dxf_walk import DxfWalk
from pipeline.intake.drawing.stored import stored

_FOOT = 304.8
_SURVEY_FOOT = 1200e3 / 3937
_LIGHT_YEAR = 9_460_730_472_580_800e3
_ASTRONOMICAL = 149_597_870_700e3
UNITS: dict[int, tuple[str, float]] = {
    1: ("inch", 25.4),
    2: ("foot", _FOOT),
    3: ("mile", 5280 * _FOOT),
    4: ("millimetre", 1.0),
    5: ("centimetre", 10.0),
    6: ("metre", 1e3),
    7: ("kilometre", 1e6),
    8: ("microinch", 25.4e-6),
    9: ("mil (1/1000 inch)", 0.0254),
    10: ("yard", 914.4),
    11: ("ångström", 1e-7),
    12: ("nanometre", 1e-6),
    13: ("micrometre", 1e-3),
    14: ("decimetre", 100.0),
    15: ("decametre", 1e4),
    16: ("hectometre", 1e5),
    17: ("gigametre", 1e12),
    18: ("astronomical unit", _ASTRONOMICAL),
    19: ("light year", _LIGHT_YEAR),
    20: ("parsec", 206_264.80624709636 * _ASTRONOMICAL),
    21: ("US survey foot", _SURVEY_FOOT),
    22: ("US survey inch", _SURVEY_FOOT / 12),
    23: ("US survey yard", 3 * _SURVEY_FOOT),
    24: ("US survey mile", 5280 * _SURVEY_FOOT),
}
"""$INSUNITS → name and mm (DXF reference, header variables; the inch is 25.4 mm by international agreement of
1959, the survey foot 1200/3937 m, the astronomical unit by IAU 2012, a parsec is 648000/π of it)."""


def read_dxf(path_or_bytes: str | Path | bytes, file_label: str) -> Document:
    """Read a drawing. ``file_label`` is the name that messages use.

    Gives all objects of the model with their curves in mm, y up, zero where the drawing has it; layers and
    blocks by their names, objects by their handles. Raises Refused for what makes the whole file useless,
    MachineFailed when the disk fails; faults of single objects stay with them (``Shape.faults``).
    """
    file = read_file(read_groups(stored(path_or_bytes, file_label), file_label))
    unit = UNITS.get(file.whole("$INSUNITS", 0))
    factor = unit[1] if unit else 1.0
    walk = DxfWalk(file)
    walk.visit_all(scale(factor, factor))
    if walk.problems:
        raise Refused(walk.problems)
    return Document(
        file=file_label,
        page=None,
        unit_mm=factor,
        sized="mm" if unit else "none",
        shapes=tuple(walk.shapes),
        entries=tuple(walk.entries),
        undrawn=walk.undrawn,
        findings=tuple(_told(walk)),
        form="DXF",
        unit=unit[0] if unit else _hint(file),
    )


def _hint(file: DxfFile) -> str:
    """What the header says of the unit when it names none."""
    number = file.whole("$INSUNITS", 0)
    said = f"its $INSUNITS is {number}, which is no unit" if number else "its $INSUNITS is 0 or missing"
    system = {0: "inches", 1: "millimetres"}.get(file.whole("$MEASUREMENT", -1))
    return f"{said}; its $MEASUREMENT hints at {system}" if system else said


def _told(walk: DxfWalk) -> list[Finding]:
    """One finding for each kind of thing that isn't read as it stands, with its layers."""
    found: list[Finding] = []
    for kind, (severity, words, remedy) in TOLD.items():
        said = [(layer, place) for k, layer, place in walk.said if k == kind]
        if not said:
            continue
        layers = list(dict.fromkeys(layer for layer, _ in said))
        more = ", …" if len(layers) > 5 else ""
        count = "once" if len(said) == 1 else f"{len(said)} times"
        on = f"layer{'s' if len(layers) > 1 else ''} {', '.join(map(quoted, layers[:5]))}{more}"
        first = said[0][1]
        example = first.object.partition(" on layer ")[0]
        found.append(
            Finding(
                check="drawing-unread",
                severity=severity,
                message=f"In the drawing {words} ({count}, on {on}; the first is {example}).",
                measured=float(len(said)),
                unit="",
                remedy=remedy,
                place=first,
            )
        )
    return found
