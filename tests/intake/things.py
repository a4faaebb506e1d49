"""A step kind with fields of every sort, and recipes of it in a folder of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Literal

import pytest

from pipeline.core.errors import Refused
from pipeline.core.fields import (
    Count,
    DrawnName,
    FaceName,
    Gap,
    Length,
    MarkName,
    PartName,
    Point,
    SheetName,
    Size,
    StepName,
    field,
)
from pipeline.core.recipe import Recipe, Step
from pipeline.intake.recipe import read_recipe

HEAD = "design: wren\ndrawing: wren.svg\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A table within a step."""

    round_: Size = field("radius", 3.0)
    skip: tuple[StepName, ...] = field("steps left alone", ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """Fields of every sort that the vocabulary has."""

    drawn: DrawnName | tuple[DrawnName, ...] = field("objects", "all")
    of: StepName | None = field("a step", None)
    cut: tuple[StepName, ...] = field("steps", ())
    sheet: SheetName | None = field("a sheet", None)
    part: PartName | None = field("a part", None)
    at: tuple[Point | MarkName, ...] = field("points or marks", ())
    ways: tuple[Point, ...] = field("points", ())
    fit: Literal["press", "slide"] | Length | None = field("a fit", None)
    depth: Size | None = field("a depth", None)
    through: bool = field("through", False)
    count: Count = field("how many", 1)
    edge: Mapping[FaceName, Edge] = field("edges", {})
    from_: StepName | None = field("where it starts", None)
    span: Gap = field("a span", 0.0)

    def __post_init__(self) -> None:
        if self.depth is not None and self.through:
            raise ValueError("A thing has a depth or goes through, not both.")


def kind(**more: Any) -> Any:
    return SimpleNamespace(name="thing", spec=Thing, summary="anything", **more)


THINGS = {"thing": kind()}


def write(folder: Path, text: str) -> Path:
    (folder / "wren.svg").write_text("<svg/>", encoding="utf-8")
    path = folder / "wren.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def read(folder: Path, text: str, **more: Any) -> Recipe:
    return read_recipe(write(folder, HEAD + text), kinds=THINGS, **more)


def step(folder: Path, fields: str, besides: str = "") -> Step:
    """One thing with the given fields, beside three others that can be named."""
    others = "".join(f"  {name}: {{kind: thing}}\n" for name in ("one", "two", "three"))
    return read(folder, f"{besides}steps:\n{others}  it: {{kind: thing, {fields}}}\n").steps["it"]


def wrongs(folder: Path, text: str, **more: Any) -> list[str]:
    with pytest.raises(Refused) as refused:
        read(folder, text, **more)
    return [p.wrong for p in refused.value.problems]
