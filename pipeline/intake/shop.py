"""Shop profiles: who cuts, from a file of its own or written into the recipe."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.errors import Refused, refuse
from pipeline.core.place import Place
from pipeline.core.shop import Shop
from pipeline.intake.convert import convert_table
from pipeline.intake.reading import Reading
from pipeline.intake.root import Files, files_around
from pipeline.intake.yaml_nodes import Table, read_tree

BUILT_IN = "router"
"""The name of the shop that is taken when the recipe names none."""


def read_shop(path: str | Path) -> Shop:
    """The shop profile of a file. Raises Refused with every problem in it.

    >>> read_shop("configs/shops/small-router.yaml").process  # doctest: +SKIP
    'router'
    """
    files, real = files_around(path)
    reading = Reading()
    shop = shop_of_file(files, real, reading, "")
    if reading.problems or shop is None:
        raise Refused(reading.problems)
    return shop


def shop_of_file(files: Files, path: Path, reading: Reading, at: str) -> Shop | None:
    """The profile in a file, or None with problems in ``reading``; its places stand under the path ``at``."""
    tree, problems = read_tree(files.read(path), files.name(path))
    reading.problems += problems
    if not isinstance(tree, Table):
        raise refuse("This is no shop profile.", place=tree.place, expected="names with values, such as `bed:`")
    top = Place(file=files.name(path))
    shop = convert_table(Shop, tree, at, reading, noun="the shop profile", at=top)
    return shop if isinstance(shop, Shop) else None


def told_built_in() -> str:
    """The sentence that a report says when the recipe names no shop."""
    shop = Shop()
    cutters = ", ".join(f"{c.DC:g}" for c in shop.cutters)
    return (
        f"No shop is named, so a small router is assumed: bed {shop.bed[0]:g} × {shop.bed[1]:g} mm, "
        f"cutters {cutters} mm, one file for each piece."
    )
