"""Reads a recipe: every value checked and with its place, every problem of the file at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import Problem, Refused, refuse
from pipeline.core.names import NAME_RULE, name_problem
from pipeline.core.place import Place
from pipeline.core.recipe import Frame, HardwarePart, Recipe, Step
from pipeline.core.shop import Shop
from pipeline.core.text import nearest, quoted
from pipeline.intake.annotations import fields_of
from pipeline.intake.convert import read_fields
from pipeline.intake.layouts import Layouts
from pipeline.intake.named_files import NamedFiles
from pipeline.intake.offcuts import check_offcuts
from pipeline.intake.parameters import read_overrides, read_parameters
from pipeline.intake.reading import FAILED, Reading
from pipeline.intake.recipe_file import RecipeFile
from pipeline.intake.relaxed import check_relaxed
from pipeline.intake.root import Files, files_around
from pipeline.intake.shop import BUILT_IN, told_built_in
from pipeline.intake.steps_table import check_mentions, check_together, read_steps, with_all_needs
from pipeline.intake.yaml_nodes import Table, Tree, read_tree

if TYPE_CHECKING:
    from pipeline.steps.registry import Kind

MAX_SHOWN = 200
"""Problems that are told of one recipe; of more only the number is."""
MOST_VARIANTS = 50
"""More of one design are a catalogue, and a catalogue is a folder of recipes."""


def read_recipe(path: str | Path, *, variant: str = "", kinds: Mapping[str, Kind] | None = None) -> Recipe:
    """The recipe of a file, with the parameters of ``variant`` where one is named.

    ``kinds`` replaces the registered step kinds. Raises one Refused with every problem found, and
    MachineFailed when a file is there but can't be read. Reads also what the recipe names: shop
    profiles and the parts list; drawing and made register are only recorded with their hash.
    """
    if kinds is None:
        from pipeline.steps.registry import KINDS

        kinds = KINDS
    files, real = files_around(path)
    tree, problems = read_tree(files.read(real), files.name(real))
    top = Place(file=files.name(real))
    if not isinstance(tree, Table):
        raise refuse("This is no recipe.", place=top, expected="names with values, such as `design: wren`")
    recipe = _Recipe(files=files, path=real, tree=tree, kinds=kinds, problems=problems).read(variant)
    if isinstance(recipe, Recipe):
        return recipe
    raise Refused(_limited(recipe, top))


def _limited(problems: list[Problem], top: Place) -> list[Problem]:
    told = list({(p.place, p.wrong): p for p in problems}.values())
    if len(told) <= MAX_SHOWN:
        return told
    first = list(Refused(told).problems[:MAX_SHOWN])
    return [*first, Problem(wrong=f"{len(told) - MAX_SHOWN} more problems are not shown.", place=None)]


class _Recipe:
    """One reading of one recipe file."""

    def __init__(
        self, *, files: Files, path: Path, tree: Table, kinds: Mapping[str, Kind], problems: list[Problem]
    ) -> None:
        self.files, self.path, self.tree, self.kinds = files, path, tree, kinds
        self.reading = Reading(problems=problems)
        self.top = Place(file=files.name(path))
        self.values: dict[str, Any] = {}
        self.layouts: tuple[Path, Layouts] = (path, {})

    def read(self, variant: str) -> Recipe | list[Problem]:
        """The recipe, or what is wrong with it."""
        reading, tree = self.reading, self.tree
        reading.places[""] = self.top
        reading.parameters = self.parameters(variant)
        self.values = read_fields(RecipeFile, tree, "", reading, noun="the recipe", at=self.top)
        named = NamedFiles(files=self.files, path=self.path, reading=reading)
        drawing = named.drawing(self.value("drawing"))
        shops = named.shops(self.value("shops"), tree.value_of("shops"))
        said = () if shops else (told_built_in(),)
        shops = shops or {BUILT_IN: Shop()}
        hardware = named.hardware(self.value("hardware"))
        made = named.made(self.value("made"), self.value("design"))
        self.layouts = named.layouts()
        self.check_known(self.value("frame"))
        self.check_hardware(hardware)
        check_relaxed(self.value("relax"), reading)
        self.substitute(variant)
        self.check_sheets(self.value("sheets"), shops)
        sound = not reading.problems
        steps_tree = self.values.get("steps")
        steps = read_steps(steps_tree, reading, self.kinds) if steps_tree is not None else {}
        names: dict[str, Mapping[str, Any]] = {
            "step": dict.fromkeys(e.key for e in steps_tree.entries) if isinstance(steps_tree, Table) else {},
            "sheet": letters(tree.value_of("sheets")),
            "shop": shops,
        }
        if hardware is not FAILED:
            names["part"] = hardware
        before = len(reading.problems)
        check_mentions(reading.mentions, names, reading)
        if not sound:
            return reading.problems
        recipe = self.recipe(drawing, made, shops, hardware, steps, variant, said)
        lost = {p.place for p in reading.problems[before:]}
        check_together(
            recipe, self.kinds, [s.name for s in steps.values() if lost & {*s.places.values()}], reading
        )
        return reading.problems or with_all_needs(recipe, self.kinds)

    def value(self, name: str) -> Any:
        """A value from the top of the recipe, its default when absent; FAILED stays."""
        return self.values.get(name, fields_of(RecipeFile)[name].default)

    def parameters(self, variant: str) -> dict[str, float | None]:
        """The parameters, with those of the variant; the other variants are tried for their problems."""
        base = self.tree.value_of("parameters")
        entry = self.tree.get("variants")
        variants = entry.value.entries if entry and isinstance(entry.value, Table) else ()
        if variant and variant not in [v.key for v in variants]:
            guess = nearest(variant, [v.key for v in variants])
            self.reading.wrong(
                f"The recipe has no variant {quoted(variant)}.",
                entry.key_place if entry else self.top,
                expected=", ".join(v.key for v in variants) or "no variant",
                remedy=f"did you mean {guess}?" if guess else "",
            )
        chosen = read_parameters(base, self.reading)
        for v in variants:
            changed = v.value.value_of("parameters") if isinstance(v.value, Table) else None
            overrides = read_overrides(changed, base, f"the variant {quoted(v.key)}", self.reading)
            trial = self.reading.apart()
            values = read_parameters(base, trial, overrides)
            self.reading.take(trial, places=v.key == variant)
            chosen = values if v.key == variant else chosen
        return chosen

    def check_known(self, frame: Any) -> None:
        """A known length has two marks or one line."""
        for n, known in enumerate(frame.known if isinstance(frame, Frame) else ()):
            if len(known.between) not in (1, 2) or len(set(known.between)) != len(known.between):
                self.reading.wrong(
                    f"The names that stand here can't be the ends of a length: {', '.join(known.between)}.",
                    self.reading.places[f"frame.known.{n}.between"],
                    expected="two marks, or one line",
                )

    def check_hardware(self, hardware: Any) -> None:
        """A size has up to three values."""
        for name, part in {} if hardware is FAILED else hardware.items():
            if isinstance(part, HardwarePart) and len(part.size) > 3:
                self.reading.wrong(
                    f"{len(part.size)} sizes stand here.",
                    self.reading.places[f"hardware.{name}.size"],
                    expected="length, width, height",
                )

    def substitute(self, variant: str) -> None:
        """Put a variant's sheets in the place of the recipe's own; they must be there to be replaced."""
        variants, sheets = self.value("variants"), self.value("sheets")
        self.check_variants(() if variants is FAILED else tuple(variants))
        for name, v in {} if FAILED in (variants, sheets) else variants.items():
            for stock in v.sheets:
                if stock not in sheets:
                    guess = nearest(stock, sheets)
                    self.reading.wrong(
                        f"The variant {quoted(name)} replaces {quoted(stock)}, which is no stock of the recipe.",
                        self.reading.places[f"variants.{name}.sheets.{stock}"],
                        expected=f"one of {', '.join(sheets)}" if sheets else "`sheets:` in the recipe",
                        remedy=f'did you mean "{guess}"?' if guess else "",
                    )
        if variant and FAILED not in (variants, sheets) and variant in variants:
            self.values["sheets"] = {**sheets, **variants[variant].sheets}

    def check_variants(self, names: tuple[str, ...]) -> None:
        """Few enough to be built in one go, and told apart where capital letters don't count in file names."""
        if len(names) > MOST_VARIANTS:
            self.reading.wrong(
                f"{len(names)} variants stand here.",
                self.reading.places["variants"],
                expected=f"at most {MOST_VARIANTS}; each gets a packet of its own",
            )
        first: dict[str, str] = {}
        for name in names:
            other = first.setdefault(name.casefold(), name)
            if other != name:
                self.reading.wrong(
                    f"The variants {quoted(other)} and {quoted(name)} differ in capital letters only, and on some "
                    "computers their packets would be one folder.",
                    self.reading.places[f"variants.{name}"],
                    remedy="give one of them another name",
                )

    def check_sheets(self, sheets: Any, shops: Mapping[str, Shop]) -> None:
        """Every stock has a sheet, with a letter that fits into file names, and a known shop."""
        for name, sheet in {} if sheets is FAILED else sheets.items():
            spot = self.reading.places[f"sheets.{name}.measured"]
            if not sheet.measured:
                self.reading.wrong(f"The stock {quoted(name)} has no sheet.", spot, expected="{A: 11.8}")
            for letter in sheet.measured:
                if name_problem(letter):
                    wrong = f"{quoted(letter)} can't be the letter of a sheet."
                    self.reading.wrong(wrong, spot, expected=NAME_RULE)
            check_offcuts(name, sheet, self.reading)
            if sheet.shop and sheet.shop not in shops:
                guess = nearest(sheet.shop, shops)
                self.reading.wrong(
                    f"{quoted(sheet.shop)} is not a shop of this recipe.",
                    self.reading.places[f"sheets.{name}.shop"],
                    expected=f"one of {', '.join(shops)}",
                    remedy=f'did you mean "{guess}"?' if guess else "",
                )

    def recipe(
        self,
        drawing: Path | None,
        made: Path | None,
        shops: Mapping[str, Shop],
        hardware: Mapping[str, HardwarePart],
        steps: Mapping[str, Step],
        variant: str,
        said: tuple[str, ...],
    ) -> Recipe:
        value = self.value
        return Recipe(
            design=value("design"),
            title=value("title") or value("design"),
            revision=value("revision"),
            by=value("by"),
            make=value("make"),
            parameters={k: v for k, v in self.reading.parameters.items() if v is not None},
            drawing=str(drawing),
            drawing_place=self.reading.places["drawing"],
            frame=value("frame"),
            shops=shops,
            sheets=value("sheets"),
            hardware=hardware,
            steps=steps,
            balance=value("balance"),
            notes=value("notes"),
            accepted=value("accepted"),
            relax=value("relax"),
            quote=value("quote"),
            variant=variant,
            variants=tuple(value("variants")),
            mirrored=bool(variant) and value("variants")[variant].mirror,
            tolerance=value("tolerance"),
            made=str(made),
            root=str(self.files.root),
            path=str(self.path),
            inputs=tuple(self.files.record.values()),
            places=self.reading.places,
            spare=value("spare"),
            nests=str(self.layouts[0]),
            layouts=self.layouts[1],
            said=said,
        )


def letters(sheets: Tree | None) -> dict[str, tuple[str, ...] | None]:
    """The stocks as written and the letters of each; None where they can't be read."""
    found: dict[str, tuple[str, ...] | None] = {}
    for stock in sheets.entries if isinstance(sheets, Table) else ():
        measured = stock.value.value_of("measured") if isinstance(stock.value, Table) else None
        found[stock.key] = tuple(e.key for e in measured.entries) if isinstance(measured, Table) else None
    return found
