"""A folder of small designs that differ in one number, for runs over many."""

from __future__ import annotations

from pathlib import Path

from tests.readback import tree

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="80mm" viewBox="0 0 120 80">
<path id="tag" d="M 10 10 H 90 A 20 20 0 0 1 90 50 H 10 Z" fill="none" stroke="black"/></svg>
"""
RECIPE = """design: tag-{n}
drawing: tag.svg
sheets: {{ply4: {{measured: {{A: 4.0}}, size: [300, 200], grain: x}}}}
steps:
  tag:   {{kind: outline, drawn: tag, sheet: ply4, cut: [bores]}}
  bores: {{kind: holes, at: [[20, 50], [{x}, 50]], diameter: 5, through: true}}
"""


def tags(folder: Path, count: int) -> list[Path]:
    """Recipes ``tag-000.yaml`` … in ``folder``, each with a hole somewhere else."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "tag.svg").write_text(DRAWING, encoding="utf-8")
    made = []
    for n in range(count):
        path = folder / f"tag-{n:03d}.yaml"
        path.write_text(RECIPE.format(n=f"{n:03d}", x=30 + n % 50), encoding="utf-8")
        made.append(path)
    return made


def packets(folder: Path) -> dict[str, bytes]:
    """All packets of a folder, without records and store."""
    return {name: data for name, data in tree(folder).items() if not name.startswith(".")}
