"""The ends of the path: proving and writing a packet beside the old one, and what came of a recipe."""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.errors import MachineFailed, MouldloftError, Refused, refuse
from pipeline.core.findings import Finding, worst_first
from pipeline.core.recipe import Recipe
from pipeline.graph import stale
from pipeline.graph.keys import keys
from pipeline.graph.run import Run
from pipeline.intake.made import Made
from pipeline.packet import write
from pipeline.packet.names import packet_name
from pipeline.packet.print_pdf import write_prints
from pipeline.packet.report import write_report
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.since import unchanged_since
from pipeline.proof import Proof, prove
from pipeline.steps.values import Derived, Nest, WorkLine
from pipeline.workshop.cautions import cautions
from pipeline.workshop.parts import part_rows
from pipeline.workshop.totals import totals


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """What a build made: its folder, files (paths from the folder), findings, and whether it is held."""

    folder: Path
    files: tuple[str, ...]
    findings: tuple[Finding, ...]
    held: bool
    worst_mm: float


def proved(stage: Path, derived: Derived, nests: tuple[Nest, ...], files: Sequence[ShopFile]) -> Proof:
    """Write the shop files beside the old packet, read them back and measure them."""
    write.write_shop_files(stage, files)
    return prove(stage, derived, nests)


def written(
    stage: Path,
    derived: Derived,
    nests: tuple[Nest, ...],
    files: Sequence[ShopFile],
    work: Sequence[WorkLine],
    found: Sequence[Finding],
    proof: Proof,
    made: Made,
) -> Packet:
    """Write everything else into the staging folder: prints, tables, letter, report, packet.json."""
    findings = worst_first((*found, *proof.findings))
    held = any(f.holds for f in findings)
    sums = totals(derived, nests)
    marks = keys(derived)
    since = unchanged_since(derived, marks, made)
    write_prints(stage, derived)
    write.write_papers(
        stage, derived, files, nests, work, findings, part_rows(derived, nests), held=held, since=since
    )
    write_report(
        stage, derived, nests, work, findings, sums, cautions(derived), held=held, proof_line=proof_words(proof)
    )
    where = f"{proof.where.file} at {proof.where.x:.3f}, {proof.where.y:.3f}" if proof.where else ""
    write.write_record(
        stage,
        derived,
        files,
        work,
        findings,
        sums,
        {"worst_mm": proof.worst_mm, "where": where},
        keys=marks,
        since=since,
    )
    names = sorted(p.relative_to(stage).as_posix() for p in stage.rglob("*") if p.is_file())
    return Packet(folder=stage, files=tuple(names), findings=findings, held=held, worst_mm=proof.worst_mm)


def proof_words(proof: Proof) -> str:
    """One sentence for the report."""
    if not proof.ok:
        return f"The files were read back and {len(proof.findings)} things are off; see the decisions above."
    if proof.where is None:
        return "There was nothing to measure."
    return (
        "All shop files were read back and measured against the design, both ways. "
        f"The largest distance is {proof.worst_mm:.4f} mm, in {proof.where.file}."
    )


def outcome(
    path: str, out: Path, make: Callable[[Recipe, Path], Packet], run: Run, taken: dict[str, str]
) -> dict[str, Any]:
    """Build one recipe with its variants; what came of it as JSON values, and a fresh record of it.

    ``taken`` maps the packets made so far in this run to their recipes; a second one of the same name is refused.
    """
    from pipeline.intake.recipe import read_recipe

    row: dict[str, Any] = {"recipe": path, "packets": []}
    said: list[str] = []
    inputs: dict[str, str] = {}
    outputs: list[str] = []
    absent: set[str] = set()
    codes = [0]
    names: tuple[str, ...] = ("",)
    k = 0
    while k < len(names):
        try:
            recipe = read_recipe(path, variant=names[k])
            if k == 0:
                names = ("", *recipe.variants)
                said += recipe.said
            inputs |= {os.path.join(recipe.root, i.path): i.sha256 for i in recipe.inputs}
            other = taken.setdefault(packet_name(recipe), path)
            if other != path:
                raise refuse(
                    f"{stale.shown(other)} makes a packet called {packet_name(recipe)} too.",
                    place=recipe.places.get("design"),
                    remedy="give one of the two another `design` name",
                )
            absent |= {recipe.made} if recipe.made and not os.path.exists(recipe.made) else set()
            packet = make(recipe, out)
            codes.append(1 if packet.held else 0)
            outputs += [f"{packet.folder.name}/{f}" for f in packet.files]
            said += told(recipe, packet)
            row["packets"].append(packet_row(packet))
        except Refused as refused:
            codes.append(refused.exit_code)
            said.append(refused.show())
        except MachineFailed as failed:
            codes.append(failed.exit_code)
            said.append(failed.show())
        except OSError as error:
            codes.append(MachineFailed.exit_code)
            said.append(f"{error.filename or 'The disk'}: {error.strerror or error}.")
        except Exception as error:  # a fault of our own: told in a sentence, and the other recipes go on
            codes.append(MachineFailed.exit_code)
            said.append(fault(path, error))
        k += 1
    code = max(codes)
    state = {0: "built", 1: "held", 2: "refused", 3: "failed"}[code]
    if code < 2:
        _remember(path, out, run, inputs, absent, outputs, code, said)
    return row | {"state": state, "exit_code": code, "said": said}


def fault(what: str, error: Exception) -> str:
    """A fault of the program itself, in a sentence with the spot for whoever mends it."""
    at = traceback.extract_tb(error.__traceback__)[-1]
    return (
        f"{what}: mouldloft has a fault of its own here ({type(error).__name__} in "
        f"{os.path.basename(at.filename)}, line {at.lineno}: {error}). "
        "Nothing was replaced. Please report it with the recipe."
    )


def _remember(
    path: str,
    out: Path,
    run: Run,
    inputs: Mapping[str, str],
    absent: Iterable[str],
    outputs: Sequence[str],
    code: int,
    said: list[str],
) -> None:
    """Keep the record of a build; a disk that won't take it costs the next run its shortcut, and is said."""
    try:
        record = stale.record(
            out=os.fspath(out),
            recipe=path,
            options={},
            inputs=inputs,
            absent=absent,
            outputs=outputs,
            exit_code=code,
            said=said,
            run=run,
        )
        stale.write(stale.record_file(os.fspath(out), path), record)
    except OSError as error:
        said.append(f"The record of this build could not be kept ({error.strerror}); the next run builds again.")


def told(recipe: Recipe, packet: Packet) -> list[str]:
    """What a person reads after a build: one line, then the worst five findings."""
    open_ = [f for f in packet.findings if not f.accepted and f.severity != "note"]
    name = packet_name(recipe)
    head = (
        f"{name} {recipe.revision}: HELD, see {packet.folder.as_posix()}/report.html"
        if packet.held
        else f"{name} {recipe.revision}: {len(packet.files)} files in {packet.folder.as_posix()}, "
        + (
            f"read back and within {packet.worst_mm:.4f} mm of the design"
            if any(f.startswith("shops/") for f in packet.files)
            else "prints and lists alone: nothing is cut until a step names a `sheet:`"
        )
    )
    lines = [head + "."]
    last = packet.folder.with_suffix("")
    if packet.held and packet.folder.suffix == ".held" and last.is_dir():
        lines.append(f"  {last.as_posix()} still holds the last good packet, made before this edit.")
    lines += [f"  {f.severity}: {f.message}" + (f" To do: {f.remedy}." if f.remedy else "") for f in open_[:5]]
    if len(open_) > 5:
        lines.append(f"  and {len(open_) - 5} more; `mouldloft check` lists them all.")
    return lines


def packet_row(packet: Packet) -> dict[str, Any]:
    """A packet for --json."""
    return {
        "folder": packet.folder.as_posix(),
        "files": list(packet.files),
        "held": packet.held,
        "worst_mm": packet.worst_mm,
        "findings": [finding_row(f) for f in packet.findings],
    }


def finding_row(f: Finding) -> dict[str, Any]:
    """A finding for --json."""
    return {
        "check": f.check,
        "severity": f.severity,
        "message": f.message,
        "step": f.step,
        "piece": f.piece,
        "at_mm": list(f.at_mm) if f.at_mm else None,
        "face": f.face,
        "measured": f.measured,
        "limit": f.limit,
        "unit": f.unit,
        "remedy": f.remedy,
        "accepted": f.accepted,
        "place": str(f.place) if f.place else "",
    }


__all__ = ["MouldloftError", "Packet", "finding_row", "outcome", "packet_row", "proved", "written"]
