"""The recipe reference: pages of Markdown made from the same annotations that the recipe reader walks.

``python -m pipeline.intake.reference FOLDER RECIPE…`` writes them; examples come from the recipes that are named.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.intake.annotations import describe, fields_of, taken_apart
from pipeline.intake.recipe_file import RecipeFile

if TYPE_CHECKING:
    from pipeline.steps.registry import Kind

HEAD = "<!-- Made from the code by `python -m pipeline.intake.reference`; change the code, not this page. -->\n"
_STEP = re.compile(r"^  (?P<name>[\w-]+):\s*\{\s*kind: (?P<kind>\w+)\b")


def pages(kinds: Mapping[str, Kind] | None = None, recipes: Iterable[str] = ()) -> dict[str, str]:
    """File name → text: ``recipe.md`` with the names at the top of a recipe, and one page a step kind.

    ``recipes`` are texts of recipes; the first step of each kind found in them is its example.
    """
    if kinds is None:
        from pipeline.steps.registry import KINDS

        kinds = KINDS
    examples = _examples(recipes)
    found = {"recipe.md": _recipe_page(kinds)}
    for kind in kinds.values():
        found[f"{kind.name}.md"] = _kind_page(kind, examples.get(kind.name, ""))
    return found


def _recipe_page(kinds: Mapping[str, Kind]) -> str:
    lines = [HEAD, "# A recipe", ""]
    lines += [
        'One YAML file for one design. Lengths are numbers in mm, or text with a unit (`"3/4 in"`) or with '
        'arithmetic over `parameters` (`"skin + 2"`). Angles are degrees, masses g.',
        "",
        "## Step kinds",
        "",
    ]
    lines += [f"* [`{k.name}`]({k.name}.md) {k.summary}" for k in kinds.values()]
    lines += [
        "",
        "Every step may also say `after:`, one or several steps that must be done before it though no field names "
        "them.",
        "",
        "## At the top of the file",
        "",
    ]
    lines += _tables(RecipeFile, skip={"steps"})
    return "\n".join(lines).rstrip() + "\n"


def _kind_page(kind: Kind, example: str) -> str:
    lines = [HEAD, f"# `kind: {kind.name}`", "", f"{kind.summary[0].upper()}{kind.summary[1:]}.", ""]
    if example:
        lines += ["```yaml", example, "```", ""]
    lines += ["[All kinds](recipe.md)", ""]
    lines += _tables(kind.spec)
    return "\n".join(lines).rstrip() + "\n"


def _tables(cls: Any, skip: set[str] | None = None) -> list[str]:
    """The fields of a spec as a table, then those of the tables that it speaks of, each once."""
    lines: list[str] = []
    waiting, seen = [("", cls)], {cls}
    while waiting:
        title, current = waiting.pop(0)
        if title:
            lines += ["", f"## `{title}`", ""]
        lines += ["| field | what it is | takes | when absent |", "| --- | --- | --- | --- |"]
        for info in fields_of(current).values():
            if info.name in (skip or ()):
                continue
            takes = _cell(describe(info.type))
            lines.append(f"| `{info.name}` | {_cell(info.doc)} | {takes} | {_default(info)} |")
            for inner in _inner(info.type):
                if inner not in seen:
                    seen.add(inner)
                    waiting.append((f"{title}.{info.name}".lstrip("."), inner))
    return lines


def _inner(annotation: Any) -> list[Any]:
    """The dataclasses that an annotation speaks of."""
    a = taken_apart(annotation)
    if a.form == "table":
        return [a.cls]
    return [c for t in a.of for c in _inner(t)]


def _default(info: Any) -> str:
    if info.needed:
        return "needed"
    value = info.default
    if isinstance(value, bool):
        return "true" if value else "no"
    if value is None or value == "" or value == () or (isinstance(value, Mapping) and not value):
        return ""
    if isinstance(value, int | float | str):
        return f"{value:g}" if isinstance(value, float) else str(value)
    if isinstance(value, tuple):
        return ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in value)
    return "see below"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _examples(recipes: Iterable[str]) -> dict[str, str]:
    """Kind → the lines of the first step of that kind, for steps that are written in braces."""
    found: dict[str, str] = {}
    for text in recipes:
        lines = text.splitlines()
        for i, line in enumerate(lines):
            match = _STEP.match(line)
            if not match or match["kind"] in found:
                continue
            block = [line]
            while "".join(block).count("{") > "".join(block).count("}") and i + len(block) < len(lines):
                block.append(lines[i + len(block)])
            found[match["kind"]] = "steps:\n" + "\n".join(block)
    return found


def main(arguments: list[str]) -> None:
    """Write the pages into a folder; those of kinds that are no more go."""
    folder = Path(arguments[0])
    made = pages(recipes=[Path(p).read_text(encoding="utf-8") for p in arguments[1:]])
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.md"):
        if old.name not in made:
            old.unlink()
    for name, text in made.items():
        (folder / name).write_bytes(text.encode("utf-8"))


if __name__ == "__main__":
    main(sys.argv[1:])
