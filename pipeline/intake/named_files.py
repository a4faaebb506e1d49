"""The files that a recipe names: drawing, shop profiles, parts list, made register.

Each function puts what is wrong into the reading and goes on, so that one missing file hides no other
problem.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.core.errors import Refused
from pipeline.core.recipe import HardwarePart
from pipeline.core.shop import Shop
from pipeline.intake.convert import convert
from pipeline.intake.hardware_csv import hardware_table
from pipeline.intake.layouts import Layouts, layouts_file, read_layouts
from pipeline.intake.made_csv import SPREADSHEET
from pipeline.intake.reading import FAILED, Reading
from pipeline.intake.root import Files
from pipeline.intake.shop import shop_of_file
from pipeline.intake.yaml_nodes import Table, Tree, decoded


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedFiles:
    """Finds and reads the files named in the recipe at ``path``."""

    files: Files
    path: Path
    reading: Reading

    def find(self, field: str, what: str, written: str) -> Path | None:
        """The file that a field names, or None with its problem in the reading."""
        place = self.reading.places[field]
        try:
            return self.files.named(written, self.path, place=place, what=what)
        except Refused as refused:
            self.reading.problems += refused.problems
            return None

    def drawing(self, written: Any) -> Path | None:
        """The drawing's path, recorded with its hash."""
        path = self.find("drawing", "drawing", written) if isinstance(written, str) else None
        if path is not None:
            self.files.hashed(path)
        return path

    def shops(self, written: Any, tree: Tree | None) -> dict[str, Shop]:
        """Profiles under the names that the recipe gives them; empty where it names none.

        A profile with problems is stood in for, so that no sheet is said to name an unknown shop.
        """
        found = {e.key: Shop(name=e.key) for e in tree.entries} if isinstance(tree, Table) else {}
        for name, value in {} if written is FAILED else written.items():
            shop = value if isinstance(value, Shop) else self._profile(name, value)
            if shop is not None:
                found[name] = replace(shop, name=name)
        return found

    def _profile(self, name: str, written: str) -> Shop | None:
        path = self.find(f"shops.{name}", "shop profile", written)
        if path is None:
            return None
        try:
            return shop_of_file(self.files, path, self.reading, f"shops.{name}")
        except Refused as refused:
            self.reading.problems += refused.problems
            return None

    def hardware(self, written: Any) -> Any:
        """Bought parts by name, or FAILED."""
        if not isinstance(written, str):
            return written
        path = self.find("hardware", "parts list", written)
        if path is None:
            return FAILED
        name = self.files.name(path)
        try:
            table = hardware_table(decoded(self.files.read(path), name), name, self.reading)
        except Refused as refused:
            self.reading.problems += refused.problems
            return FAILED
        return convert(Mapping[str, HardwarePart], table, "hardware", self.reading)

    def made(self, written: Any, design: Any) -> Path | None:
        """Where the made register is or will be; it and its spreadsheet are recorded when they are there.

        A recipe may name the spreadsheet: the register itself is then the YAML file beside it.
        """
        if not (isinstance(written, str) and isinstance(design, str)):
            return None
        try:
            path = self.files.allowed(
                written or f"{design}.made.yaml", self.path, place=self.reading.places.get("made")
            )
        except Refused as refused:
            self.reading.problems += refused.problems
            return None
        path = path.with_suffix(".yaml") if path.suffix == SPREADSHEET else path
        for file in (path, path.with_suffix(SPREADSHEET)):
            if file.is_file():
                self.files.hashed(file)
        return path

    def layouts(self) -> tuple[Path, Layouts]:
        """Where kept layouts of parts are or will be, and what they are."""
        try:
            return read_layouts(self.files, self.path)
        except Refused as refused:
            self.reading.problems += refused.problems
            return layouts_file(self.path), {}
