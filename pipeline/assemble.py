"""The ends of the path: proving and writing a packet beside the old one, and what came of a recipe."""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pipeline.compare.recut_page import STYLE as RECUT_STYLE
from pipeline.compare.recut_page import recut_section
from pipeline.core.errors import MachineFailed, MouldloftError, Refused, refuse
from pipeline.core.findings import Finding, worst_first
from pipeline.core.recipe import Recipe
from pipeline.core.verdict import Verdict
from pipeline.graph import stale
from pipeline.graph.keys import keys
from pipeline.graph.once import files_once, kept_for, traced
from pipeline.graph.run import Run, sha256
from pipeline.graph.told import sentences
from pipeline.intake.made import spreadsheet_of
from pipeline.packet import write
from pipeline.packet.names import packet_name
from pipeline.packet.print_how import How
from pipeline.packet.print_pdf import write_prints
from pipeline.packet.refits import known_ones
from pipeline.packet.report import write_report
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.xlsx import parts_xlsx
from pipeline.proof import Proof, prove
from pipeline.steps.values import Derived, Nest, WorkLine
from pipeline.workshop.cautions import cautions
from pipeline.workshop.parts import part_rows
from pipeline.workshop.quote import quote
from pipeline.workshop.rollups import rollups
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
    """Write the shop files beside the old packet, read them back and measure them.

    What was found last time is used again only where the bytes that lie there now, and all that the proof
    expects of them, are the same.
    """
    write.write_shop_files(stage, files)
    roots = {"derived": derived, "nests": nests}
    seen = {"bytes": _bytes_of(stage)}
    return traced("proof", "", roots, partial(_prove, stage), code=("pipeline.proof",), given=seen)


def _prove(stage: Path, roots: Mapping[str, Any]) -> Proof:
    return prove(stage, roots["derived"], roots["nests"])


def _bytes_of(folder: Path) -> tuple[tuple[str, str], ...]:
    """Path and hash of every file below a folder, as they are on the disk now."""
    files = sorted((p.relative_to(folder).as_posix(), p) for p in folder.rglob("*") if p.is_file())
    return tuple((name, sha256([str(path)])) for name, path in files)


def written(
    stage: Path,
    derived: Derived,
    nests: tuple[Nest, ...],
    files: Sequence[ShopFile],
    work: Sequence[WorkLine],
    found: Sequence[Finding],
    proof: Proof,
    *,
    since: Mapping[str, str],
    recut: Sequence[Verdict] = (),
) -> Packet:
    """Write everything else into the staging folder: prints, tables, letter, report, packet.json.

    ``since`` maps pieces and blanks to the revision they last changed in, ``recut`` are the verdicts on what was
    cut.
    """
    findings = worst_first((*found, *proof.findings))
    held = any(f.holds for f in findings)
    bill = quote(derived, nests)
    sums = totals(derived, nests, bill)
    marks = keys(derived)
    files_once(stage, write_prints, derived=derived, how=How(held=held))
    parts = part_rows(derived, nests, bill, since)
    book = parts_xlsx(derived.recipe, parts, rollups(derived, nests, bill), bill)
    write.write_papers(
        stage, derived, files, nests, work, findings, parts, held=held, since=since, workbook=book, recut=recut
    )
    files_once(
        stage,
        write_report,
        besides=known_ones(),
        derived=derived,
        nests=nests,
        work=work,
        findings=findings,
        totals=sums,
        cautions=cautions(derived),
        held=held,
        proof_line=proof_words(proof),
        files=files,
        since=since,
        bill=bill,
        recut=recut_section(recut),
        styles=(RECUT_STYLE,) if recut else (),
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
        nests=nests,
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
    path: str,
    out: Path,
    make: Callable[[Recipe, Path], Packet],
    run: Run,
    taken: dict[str, str],
    *,
    fresh: bool = False,
) -> dict[str, Any]:
    """Build one recipe with its variants; what came of it as JSON values, and a fresh record of it.

    ``taken`` maps the packets made so far in this run to their recipes; a second one of the same name is refused.
    """
    from pipeline.intake.recipe import read_recipe

    row: dict[str, Any] = {"recipe": path, "packets": [], "why": []}
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
            found = {os.path.join(recipe.root, i.path): i.sha256 for i in recipe.inputs}
            if moved := sorted(p for p, sha in found.items() if inputs.get(p, sha) != sha):
                raise refuse(f"{stale.shown(moved[0])} was changed while {stale.shown(path)} was being built.")
            inputs |= found
            other = taken.setdefault(packet_name(recipe), path)
            if other != path:
                raise refuse(
                    f"{stale.shown(other)} makes a packet called {packet_name(recipe)} too.",
                    place=recipe.places.get("design"),
                    remedy="give one of the two another `design` name",
                )
            registers = (recipe.made, os.fspath(spreadsheet_of(recipe.made))) if recipe.made else ()
            absent |= {file for file in (*registers, recipe.nests) if not os.path.exists(file)}
            with kept_for(recipe, out, run, fresh=fresh) as keep:
                packet = make(recipe, out)
            row["why"] += [f"{packet_name(recipe)}, {s}" for s in sentences(keep.done, recipe)]
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
