"""A demo or case in a folder of its own, derived with a store of results, and which steps were made again."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.graph.codec import digest
from pipeline.graph.derive import derive
from pipeline.graph.drawn import drawing_of
from pipeline.graph.keep import Done
from pipeline.graph.once import kept_for
from pipeline.graph.run import Run
from pipeline.intake.recipe import read_recipe
from pipeline.steps.values import NOTHING, Derived

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """The folder ``root`` of a project, the recipe ``name`` in it, and the folder ``out`` with the store."""

    root: Path
    name: str

    @property
    def recipe(self) -> Path:
        return next(
            p
            for p in (self.root / f"configs/recipes/{self.name}.yaml", self.root / f"{self.name}.yaml")
            if p.exists()
        )

    @property
    def out(self) -> Path:
        return self.root / "out"

    def edit(self, *edits: tuple[str, str, str]) -> None:
        """In each file (its path from the project) the only place of one text becomes another."""
        for file, old, new in edits:
            path = self.root / file
            text = path.read_text(encoding="utf-8")
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
            path.write_text(text.replace(old, new), encoding="utf-8")

    def derive(
        self,
        *,
        variant: str = "",
        blank_measured: Mapping[str, float] = NOTHING,
        since: Mapping[str, str] = NOTHING,
    ) -> tuple[Derived, list[Done]]:
        """The derivation from the store, and what came of each piece of work."""
        recipe = read_recipe(self.recipe, variant=variant)
        with kept_for(recipe, self.out, Run()) as keep:
            derived = derive(recipe, drawing_of(recipe), blank_measured=blank_measured, since=since)
        return derived, keep.done

    def again(self, **how: Mapping[str, float] | Mapping[str, str]) -> set[str]:
        """The names of the steps that are made again."""
        done = self.derive(**how)[1]  # type: ignore[arg-type] # the caller's own words
        return {d.name for d in done if d.unit == "step" and d.again}

    def fork(self, to: Path) -> Bench:
        """The same with its store, in another folder."""
        shutil.copytree(self.root, to)
        return Bench(root=to, name=self.name)


def demo(root: Path, name: str) -> Bench:
    """A demo with its drawing and shops."""
    shutil.copytree(ROOT / "configs", root / "configs")
    shutil.copytree(ROOT / "demo_inputs", root / "demo_inputs")
    return Bench(root=root, name=name)


def case(root: Path, name: str) -> Bench:
    """A case of the golden designs."""
    shutil.copytree(ROOT / "tests/cases" / name, root)
    (root / "configs").mkdir()
    return Bench(root=root, name=name)


def content(derived: Derived) -> dict[str, str]:
    """The sign of every result, by step."""
    return {name: digest(r) for name, r in derived.results.items()}
