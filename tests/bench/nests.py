"""`python -m tests.bench.nests [count]`: so many random nests, each measured by shapely alone."""

from __future__ import annotations

import sys
import time

from pipeline.workshop.nest import nests
from tests.workshop.random_nests import random_design, violations


def main(count: int) -> int:
    """Prints what was laid and what is violated; the number of violations."""
    wrong = parts = sheets = 0
    longest = 0.0
    for seed in range(count):
        design = random_design(seed)
        before = time.process_time()
        found, _ = nests(design)
        longest = max(longest, time.process_time() - before)
        parts += sum(len(n.placements) for n in found)
        sheets += len(found)
        for line in violations(design, found):
            wrong += 1
            print(f"seed {seed}: {line}")
    print(f"{count} nests, {parts} parts on {sheets} sheets, {wrong} violations; the longest took {longest:.1f} s")
    return wrong


if __name__ == "__main__":
    sys.exit(min(1, main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)))
