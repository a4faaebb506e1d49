"""mouldloft: from an outline and one recipe to the files a workshop can cut.

The command line's verbs are functions here: ``from pipeline import build, check, …``. Each is
imported when it is first asked for, so that ``import pipeline`` costs nothing. No module of this package may
be called as one of them: importing it would put the module in the function's place.
"""

from __future__ import annotations

TYPE_CHECKING = False  # importing `typing` for it would cost a run with nothing to do 3 ms
if TYPE_CHECKING:
    from typing import Any

__version__ = "0.1.0"

_VERBS = {
    "build": "pipeline.path",
    "check": "pipeline.verbs",
    "print_full_size": "pipeline.verbs",
    "sequence": "pipeline.verbs",
    "look": "pipeline.verbs",
    "prove_packet": "pipeline.verbs",
    "compare_packets": "pipeline.comparing",
    "issue": "pipeline.verbs",
    "new": "pipeline.verbs",
    "recipe_schema": "pipeline.intake.schema",
    "read_recipe": "pipeline.intake.recipe",
}
__all__ = ["__version__", *_VERBS]  # noqa: PLE0604 - the names are served by __getattr__


def __getattr__(name: str) -> Any:
    if name in _VERBS:
        import importlib

        return getattr(importlib.import_module(_VERBS[name]), name)
    raise AttributeError(f"module 'pipeline' has no attribute {name!r}")
