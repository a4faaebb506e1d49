"""One file of a packet with its picture, read and measured; kept by the very bytes that were read and by what was
expected, so that a file that is the same, of a design that expects the same, is not measured twice."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from pipeline.core.findings import Finding
from pipeline.graph.once import kept
from pipeline.proof.dxf import Drawn, read_dxf
from pipeline.proof.expect import Expected, Wanted
from pipeline.proof.matching import Matching, Measured, Worst
from pipeline.proof.sheet import wrong_in_file
from pipeline.proof.twin import wrong_twin

CODE = ("pipeline.proof.one_file",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What one file showed: what is off, the largest distance, and what is known now of each contour wanted in it
    (a contour that stands in several files is measured in the first, the others against that)."""

    findings: tuple[Finding, ...]
    worst: Worst | None
    known: tuple[tuple[Measured, ...], ...]


def read(data: bytes) -> Drawn:
    """What a DXF file of these bytes holds. Raises DxfBroken."""
    return kept("read dxf", sha256(data).hexdigest(), lambda: read_dxf(data), code=("pipeline.proof.dxf",))


def wrong_in_one(
    want: Expected, drawn: Drawn, data: bytes, picture: tuple[str, bytes] | None, matching: Matching
) -> tuple[Finding, ...]:
    """Everything that is off in one file, of which ``data`` are the bytes and ``drawn`` what they hold, and in the
    picture (path, bytes) beside it."""
    wanted = [w for layer in want.wanted.values() for w in layer]

    def work() -> Looked:
        return _looked(want, drawn, picture, matching.beginning(wanted), wanted)

    seen = sha256(data).hexdigest(), picture and (picture[0], sha256(picture[1]).hexdigest())
    arguments = (seen, want, matching.recipe, matching.so_far(wanted))
    looked = kept("proof of a file", arguments, work, code=CODE)
    matching.went_on(wanted, looked.known, looked.worst)
    return looked.findings


def _looked(
    want: Expected, drawn: Drawn, picture: tuple[str, bytes] | None, matching: Matching, wanted: list[Wanted]
) -> Looked:
    findings = [*wrong_in_file(want, drawn, matching, want.path)]
    if picture is not None:
        findings += wrong_twin(want, drawn, picture[1], matching, picture[0])
    return Looked(findings=tuple(findings), worst=matching.worst, known=matching.so_far(wanted))
