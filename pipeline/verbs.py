"""The other verbs: check, print, sequence, look, proof, issue, new, schema. Each gives an Answer."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from pipeline.assemble import finding_row
from pipeline.core.answer import Answer
from pipeline.core.errors import MouldloftError, refuse
from pipeline.core.findings import Finding, worst_first
from pipeline.core.recipe import Recipe
from pipeline.graph.stale import shown
from pipeline.path import recipes
from pipeline.steps.values import Derived

FIVE = 5


def check(
    paths: Iterable[str | os.PathLike[str]],
    *,
    out: str | os.PathLike[str] = "out",
    everything: bool = False,
    tell: Callable[[str, str], None] | None = None,
) -> Answer:
    """The findings of recipes, worst first, five at a time; no shop files. Pictures go to
    ``<out>/<design>.check.html``. ``tell`` hears which recipe is being looked at."""
    from pipeline.checks import findings
    from pipeline.packet.check_page import write_check_page
    from pipeline.workshop import nest

    text: list[str] = []
    said: list[str] = []
    rows: list[dict[str, Any]] = []
    worst = 0
    all_ = list(recipes(paths))
    for k, path in enumerate(all_, start=1):
        if tell:
            tell(path + (f" ({k} of {len(all_)})" if len(all_) > 1 else ""), "checking")
        try:
            derived = _derived(path)
        except MouldloftError as error:
            said.append(error.show())
            worst = max(worst, error.exit_code)
            rows.append({"recipe": path, "exit_code": error.exit_code, "error": error.show(), "findings": []})
            continue
        nests, unplaced = nest.nests(derived)
        found = worst_first((*findings(derived, nests), *unplaced))
        page = write_check_page(Path(out), derived, found)
        code = 1 if any(f.holds for f in found) else 0
        worst = max(worst, code)
        text += _findings_text(path, found, len(found) if everything else FIVE)
        if found:
            said.append(f"Pictures of the findings: {page.as_posix()}")
        rows.append(
            {
                "recipe": path,
                "exit_code": code,
                "page": page.as_posix(),
                "findings": [finding_row(f) for f in found],
            }
        )
    return Answer(
        exit_code=worst, text="\n".join(text), said=tuple(said), data={"exit_code": worst, "designs": rows}
    )


def print_full_size(
    recipe: str | os.PathLike[str],
    *,
    out: str | os.PathLike[str] = "out",
    paper: str = "A4",
    measured: str = "",
    back: bool = False,
    also: str = "",
    thickness_mm: float | None = None,
) -> Answer:
    """The full-size prints alone, in ``<out>/<design>.print/``, and those of every variant beside it.

    ``paper``: a name of the table of papers, or several with commas between, of which the best is taken.
    ``measured``: what the maker read on the two rules of an earlier print, "x,y". ``back``: as seen from the back.
    ``also``: strip, contours, gauges, hand, leg, with commas between, or all. ``thickness_mm``: of the edge strip.
    The outline needs no shop and no sheets; contours, gauges and a strip without a thickness do. Raises Refused.
    """
    from pipeline.intake.recipe import read_recipe
    from pipeline.packet.names import packet_name
    from pipeline.packet.print_how import how_asked
    from pipeline.packet.print_pdf import write_prints

    how = how_asked(paper, measured=measured, back=back, also=also, thickness_mm=thickness_mm)
    whole = any(e in ("contours", "gauges") or (e == "strip" and thickness_mm is None) for e in how.also)
    paths: list[str] = []
    for variant in ("", *read_recipe(os.fspath(recipe)).variants):
        derived = _derived(recipe, variant=variant, outlines_only=not whole)
        folder = Path(out) / f"{packet_name(derived.recipe)}.print"
        paths += [(folder / f).as_posix() for f in write_prints(folder, derived, how)]
    return Answer(
        text="\n".join(paths),
        said=("Print at 100 %, no scaling, and measure the check square before you trust it.",),
        data={"exit_code": 0, "files": paths},
    )


def sequence(recipe: str | os.PathLike[str]) -> Answer:
    """The order of work, each line with the reason it stands there."""
    from dataclasses import fields

    from pipeline.packet.work_rows import work_text
    from pipeline.workshop.cautions import cautions
    from pipeline.workshop.sequence import left_idle
    from pipeline.workshop.sequence import sequence as order_of_work

    derived = _derived(recipe)
    work = order_of_work(derived)
    lines = [*work_text(work), "", "Cautions", *(f"- {c}" for c in cautions(derived))]
    idle = tuple(
        f"`relax:` names {r.caution}{f' of {r.of}' if r.of else ''}, which this design doesn't have: {r.because}"
        for r in left_idle(derived)
    )
    rows = [{f.name: getattr(w, f.name) for f in fields(w)} for w in work]
    return Answer(text="\n".join(lines), said=idle, data={"exit_code": 0, "sequence": rows, "idle": list(idle)})


def look(drawing: str | os.PathLike[str], *, out: str | os.PathLike[str] = "out") -> Answer:
    """Every object of a drawing numbered in a picture, with its name, size, open or closed."""
    from pipeline.intake import look as looking
    from pipeline.packet.disk import plainly

    report = looking.look(drawing)
    page = Path(out) / f"{Path(drawing).stem}.look.svg"
    with plainly(page):
        page.parent.mkdir(parents=True, exist_ok=True)
        page.write_text(looking.look_svg(report), encoding="utf-8", newline="\n")
    return Answer(
        text=looking.look_text(report),
        said=(f"The picture: {page.as_posix()}",),
        data={"exit_code": 0, "picture": page.as_posix(), "objects": looking.look_rows(report)},
    )


def prove_packet(packet: str | os.PathLike[str], *, recipe: str = "") -> Answer:
    """Read a packet's files back and measure them against the design it was made from."""
    from pipeline.assemble import proof_words
    from pipeline.comparing import settled_of
    from pipeline.intake.made import read_made
    from pipeline.intake.recipe import read_recipe
    from pipeline.proof import prove
    from pipeline.workshop import nest

    folder = Path(packet)
    path, variant = _recipe_of(folder, recipe)
    read = read_recipe(os.fspath(path), variant=variant)
    derived = settled_of(read, read_made(read.made)).derived
    result = prove(folder, derived, nest.nests(derived)[0])
    lines = [proof_words(result)] + [f"  {f.message} {f.remedy}".rstrip() for f in result.findings]
    return Answer(
        exit_code=0 if result.ok else 1,
        text="\n".join(lines),
        data={
            "exit_code": 0 if result.ok else 1,
            "worst_mm": result.worst_mm,
            "findings": [finding_row(f) for f in result.findings],
        },
    )


def issue(recipe: str | os.PathLike[str], *, out: str | os.PathLike[str] = "out") -> Answer:
    """Mark a design's packet as sent: a copy under ``issued/``, its letter and hashes in the made register."""
    from pipeline.intake.recipe import read_recipe
    from pipeline.packet.issue import issue_packet

    read = read_recipe(os.fspath(recipe))
    issued = issue_packet(Path(out) / read.design, read)
    return Answer(
        text=issued.sentence, data={"exit_code": 0, "folder": str(issued.folder), "revision": read.revision}
    )


def new(folder: str | os.PathLike[str], *, starter: str = "instrument") -> Answer:
    """A starter folder that builds: recipe, drawing and a blank shop profile."""
    from pipeline.starters import make_starter

    files = make_starter(Path(folder), starter)
    return Answer(
        text="\n".join(files),
        said=(f"Now run: mouldloft build {Path(folder).as_posix()}/configs/recipes",),
        data={"exit_code": 0, "files": files},
    )


def schema() -> Answer:
    """The JSON Schema of recipes."""
    from pipeline.intake.schema import recipe_schema

    found = recipe_schema()
    return Answer(text=json.dumps(found, ensure_ascii=False, indent=1), data=found)


# -- parts ---------------------------------------------------------------------------------------
def _derived(path: str | os.PathLike[str], *, variant: str = "", outlines_only: bool = False) -> Derived:
    """The derivation of a recipe; ``outlines_only`` leaves out the steps that need a shop or a sheet."""
    from pipeline.graph.derive import derive
    from pipeline.intake.drawing import read_drawing
    from pipeline.intake.made import read_made
    from pipeline.intake.recipe import read_recipe

    recipe = read_recipe(os.fspath(path), variant=variant)
    if outlines_only:
        recipe = _without_sheets(recipe)
    return derive(recipe, read_drawing(recipe), blank_measured=read_made(recipe.made).blanks)


PRINTED = ("outline", "offset", "cavity", "channel", "holes")
"""Kinds of steps that stand on a full-size print."""


def _without_sheets(recipe: Recipe) -> Recipe:
    from dataclasses import replace

    steps = {n: s for n, s in recipe.steps.items() if s.kind in PRINTED}
    return replace(recipe, steps=steps)


def _findings_text(path: str, found: tuple[Finding, ...], most: int) -> list[str]:
    from pipeline.packet.finding_cards import acceptance

    lines = [f"{shown(path)}: {_count(found)}"]
    for f in found[:most]:
        at = f" at x {f.at_mm[0]:.1f}, y {f.at_mm[1]:.1f}" if f.at_mm else ""
        face = f" on the {f.face}" if f.face else ""
        lines.append(f"  {f.severity}: {f.message}")
        lines.append(f"    {f.check}, {f.piece or f.step or 'the design'}{at}{face}")
        if f.measured is not None and f.limit is not None:
            lines.append(f"    measured {f.measured:.2f}, limit {f.limit:.2f} {f.unit}")
        if f.remedy:
            lines.append(f"    to do: {f.remedy}")
        if f.place:
            lines.append(f"    {f.place}" + (f": {f.place.text.strip()}" if f.place.text else ""))
        if f.accepted:
            lines.append(f"    {acceptance(f)}")
    if len(found) > most:
        lines.append(f"  and {len(found) - most} more; see them with: mouldloft check {shown(path)} --all")
    return lines


def _count(found: tuple[Finding, ...]) -> str:
    if not found:
        return "no findings."
    words = []
    for severity in ("stop", "ask", "note"):
        n = sum(1 for f in found if f.severity == severity and not f.accepted)
        if n:
            words.append(f"{n} {severity}")
    accepted = sum(1 for f in found if f.accepted)
    if accepted:
        words.append(f"{accepted} accepted")
    return ", ".join(words) + "."


def _recipe_of(folder: Path, given: str) -> tuple[Path, str]:
    """The recipe a packet was made from, and its variant; raises Refused when it can't be found."""
    try:
        packet = json.loads((folder / "packet.json").read_text(encoding="utf-8"))
        inputs = [str(i["path"]) for i in packet["inputs"]]
        variant = str(packet["variant"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise refuse(
            f"{folder.as_posix()} can't be read as a packet: {error}.",
            expected="a folder with a packet.json that mouldloft wrote",
        ) from error
    if given:
        return Path(given), variant
    roots = [p for p in (*folder.resolve().parents, Path.cwd(), *Path.cwd().parents) if p.is_dir()]
    for root in roots:
        for name in inputs:
            if name.endswith(".yaml") and (root / name).is_file():
                return root / name, variant
    raise refuse(
        f"The recipe of {folder.as_posix()} can't be found; the packet names {inputs[0] if inputs else 'none'}.",
        remedy="give it with --recipe FILE",
    )
