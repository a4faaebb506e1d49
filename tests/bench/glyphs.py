"""`python -m tests.bench.glyphs [count]`: offsets, refits, opening and closing of 300 glyphs of an open font.

Prints one line of a table: how far the refits are off at most, and what was refused, lost or invalid, by
name below.
"""

from __future__ import annotations

import sys
import time

from tests.geometry.glyphs import Outcome, check, glyphs


def main() -> None:
    """Measure and print; exits with 1 where something was refused, lost or invalid."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    outcome, began = Outcome(), time.process_time()
    for glyph in glyphs(count):
        check(glyph, outcome)
    took = time.process_time() - began
    print(f"{'glyphs':>7}{'offsets':>9}{'refit mm':>10}{'to source':>11}{'to truth':>10}{'area':>9}", end="")
    print(f"{'refused':>9}{'lost':>6}{'invalid':>9}{'seconds':>9}")
    far = (outcome.refit_mm, outcome.from_source_mm, outcome.from_truth_mm)
    print(
        f"{count:7}{outcome.results:9}{far[0]:10.6f}{far[1]:11.6f}{far[2]:10.6f}{outcome.area_share:9.1e}", end=""
    )
    print(f"{len(outcome.refused):9}{len(outcome.lost):6}{len(outcome.invalid):9}{took:9.1f}")
    for what in ("refused", "lost", "invalid"):
        for name in getattr(outcome, what):
            print(f"{what}: {name}")
    sys.exit(1 if outcome.refused or outcome.lost or outcome.invalid else 0)


if __name__ == "__main__":
    main()
