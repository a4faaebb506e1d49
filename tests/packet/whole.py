"""A whole packet of the factory's design on disk, without prints and report."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.core.findings import Finding
from pipeline.packet.shop_files import shop_files
from pipeline.packet.write import write_papers, write_record, write_shop_files
from pipeline.steps.values import WorkLine
from tests.packet import factory as f

WORK = (
    WorkLine(
        n=1, work="bore index holes", piece="blank", face="back", cutter="6 end", because="all is located on them"
    ),
    WorkLine(n=2, work="turn over", piece="blank", face="", cutter="", because="the back is done"),
)
ASK = Finding(
    check="wall-thin",
    severity="ask",
    message="The wall beside the neck pocket is thin",
    step="neck_pocket",
    piece="blank",
    at_mm=(160.0, 25.5),
    face="front",
    measured=7.8,
    limit=8.0,
    remedy="move the pocket 0.20 toward the centreline",
)
TOTALS = {"mass_g": 1266.0, "centre_of_mass_mm": [49.87, 2.84, 18.0], "sheets": {"birch12": 1}, "cost": 45.5}


def written(folder: Path, *, findings: tuple[Finding, ...] = (ASK,)) -> dict[str, Any]:
    derived, nests = f.derived(), (f.cover_nest(),)
    files = shop_files(derived, nests)
    write_shop_files(folder, files)
    write_papers(
        folder, derived, files, nests, WORK, findings, [{"part": "blank-1"}], held=False, since={"cover": "A"}
    )
    return write_record(
        folder,
        derived,
        files,
        WORK,
        findings,
        {**TOTALS, "machine_minutes": 12.5},
        {"worst_mm": 0.0001, "where": "shops/router/x.dxf at 1, 2"},
        keys={"body": "0123456789abcdef"},
        since={"cover": "A"},
    )
