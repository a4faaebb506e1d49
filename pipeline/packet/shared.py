"""Curves that a page draws more than once are kept once: a lamination's edge, a sheet full of copies."""

from __future__ import annotations

import re
from collections import Counter

LEAST = 60
"""Path data shorter than this is not worth keeping apart."""

_PATH = re.compile(rf'<path((?: [a-z-]+="[^"<>]*")*) d="([^"<>]{{{LEAST},}})"/>')


def shared(page: str) -> tuple[str, str]:
    """The page with repeated paths as references, and the hidden element that holds them ("" when none repeats).

    Class, transform and style stay where the path is drawn; a kept path has its data alone.
    """
    counts = Counter(m[2] for m in _PATH.finditer(page))
    names = {data: f"k{n}" for n, data in enumerate(d for d, count in counts.items() if count > 1)}
    if not names:
        return page, ""

    def reference(m: re.Match[str]) -> str:
        name = names.get(m[2])
        return f'<use{m[1]} href="#{name}"/>' if name else m[0]

    kept = "".join(f'<path id="{name}" d="{data}"/>' for data, name in names.items())
    holder = (
        f'<svg class="kept" width="0" height="0" aria-hidden="true" focusable="false"><defs>{kept}</defs></svg>'
    )
    return _PATH.sub(reference, page), holder
