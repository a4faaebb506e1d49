"""What may stand at the top of a recipe, and of a variant in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.core.balance import Balance
from pipeline.core.fields import Count, Size, StepName, field
from pipeline.core.quote import Terms
from pipeline.core.recipe import Accepted, By, Frame, HardwarePart, Note, Relaxed, Sheet
from pipeline.core.shop import Shop
from pipeline.intake.annotations import AsWritten, FileName, FilePath, RevisionText


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """The same design with some parameters changed, from other sheets, or for the other hand."""

    parameters: AsWritten = field("parameters that have another value in this variant", None)
    sheets: Mapping[FileName, Sheet] = field(
        "stocks that this variant takes instead of those of the same name", {}
    )
    mirror: bool = field("mirrored about the x axis, for a left-handed player; words are not mirrored", False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeFile:
    """The names at the top of a recipe."""

    design: FileName = field("the design's name; goes into file names")
    title: str = field("what it is called in print; the design's name when absent", "")
    revision: RevisionText = field("its revision", "A")
    by: By = field("who made it and when, for the title block", By())
    make: Count = field("how many objects are made", 1)
    spare: Mapping[StepName, Count] = field(
        "how many more of what a step makes are cut where sheets have room left; none is taken for them", {}
    )
    parameters: AsWritten = field("numbers by name, for arithmetic anywhere in the recipe", None)
    drawing: FilePath = field("the drawing that outlines are read from, from the recipe's folder")
    frame: Frame | None = field("where zero stands and which way x runs", None)
    shops: Mapping[FileName, FilePath | Shop] = field("who cuts: profiles by name, the first is the default", {})
    sheets: Mapping[FileName, Sheet] = field("stocks by name, with the measured thickness of each sheet", {})
    hardware: FilePath | Mapping[str, HardwarePart] = field("bought parts by name, or the path of a CSV file", {})
    steps: AsWritten = field("the steps by name, in any order")
    balance: Balance | None = field("how the finished object is held, hung or set down", None)
    quote: Terms = field("terms of the quote, and prices of what is used up", Terms())
    notes: tuple[Note, ...] = field("numbered notes pinned to marks or points", ())
    accepted: tuple[Accepted, ...] = field("findings that the maker has looked at and accepts", ())
    relax: tuple[Relaxed, ...] = field("cautions of the order of work that the maker leaves out", ())
    variants: Mapping[FileName, Variant] = field("variants of the design by name", {})
    made: FilePath = field("the made register, which may not exist yet; <design>.made.yaml when absent", "")
    tolerance: Size = field("how far an exported line may lie from the exact one", 0.005)
