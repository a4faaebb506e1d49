"""Forty random nests; `python -m tests.bench.nests 200` measures as many as you like."""

from __future__ import annotations

import pytest

from pipeline.workshop.exact import Lying
from pipeline.workshop.nest import fits, nests
from tests.workshop.random_nests import random_design, violations


@pytest.mark.parametrize("seed", range(40))
def test_nothing_is_violated_and_nothing_is_lost(seed: int):
    design = random_design(seed)
    found, said = nests(design)
    assert list(violations(design, found)) == []
    out = {f.piece for f in said if f.check == "no-room"}
    laid = {(p.piece, p.copy) for n in found for p in n.placements}
    lying = Lying(design.recipe, design.pieces)
    shop = design.recipe.shops["shop"]
    for p in design.pieces:
        if p.name not in out and fits(design.recipe, p, shop, lying):
            assert all((p.name, k) in laid for k in range(1, p.count + 1)), p.name
