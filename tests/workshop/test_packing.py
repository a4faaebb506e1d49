"""Published packing instances (see tests/data/packing/SOURCE.txt): densities that can't be true are caught."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from tests.bench.jigsaw import pieces, solved
from tests.bench.packing import ABOVE, PUBLISHED, Instance, built_in, density, instance


@pytest.mark.parametrize("name", ["dighe1", "dighe2"])
def test_fed_the_solution_itself_it_is_100_percent(name: str):
    """Jigsaws of a square of 100: solved by trying, measured by our own exact measures."""
    given = pieces(name)
    assert sum(p.area for p in given) == pytest.approx(10_000.0, abs=1e-9)
    found = solved(given, 100.0, 100.0)
    made = Instance(tuple((p, (0,)) for p in given), 100.0)
    assert density(made, found) == pytest.approx(100.0, abs=1e-6)
    nudged = [shapely.transform(found[0], lambda xy: xy + np.array([0.02, 0.0])), *found[1:]]
    with pytest.raises(AssertionError, match=r"deep|out of the strip"):
        density(made, nudged)


@pytest.mark.parametrize("name", ["fu", "mao", "marques"])
def test_the_built_in_search_is_within_12_points_of_the_mean(name: str):
    """Three of the instances; `python -m tests.bench.packing` measures all."""
    record, mean = PUBLISHED[name]
    given = instance(name)
    first, second = built_in(given), built_in(given)
    found = density(given, first.shapes)
    assert mean - 12.0 <= found <= record + ABOVE
    assert [s.wkb for s in first.shapes] == [s.wkb for s in second.shapes]
