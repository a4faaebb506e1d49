"""`python -m tests.faults` prints the table of all faults and what is wrong, and ends with 1 when anything is."""

from __future__ import annotations

import sys

from tests.faults.case import judged
from tests.faults.clean import DESIGNS
from tests.faults.corpus import CASES
from tests.faults.design import checked
from tests.faults.table import printed, rows


def main() -> int:
    verdicts = [judged(c) for c in CASES]
    print(printed(rows(verdicts)))
    loud = [(name, f) for name, d in DESIGNS for f in checked(d).loud()]
    print(f"clean designs: {len(DESIGNS)}, of which {len({n for n, _ in loud})} with anything above a note")
    for v in verdicts:
        for wrong in v.wrong:
            print(f"fault {v.case.fault}, {v.case.name}: {wrong}")
    for name, f in loud:
        print(f"clean {name}: {f.check}: {f.message}")
    return 1 if loud or any(v.wrong for v in verdicts) else 0


if __name__ == "__main__":
    sys.exit(main())
