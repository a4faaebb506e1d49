"""Why each step ran, or didn't: one sentence a step."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.core.recipe import Recipe
from pipeline.graph.keep import Done, Read
from pipeline.graph.watch import GONE


def sentences(done: Iterable[Done], recipe: Recipe) -> tuple[str, ...]:
    """One sentence for the drawing and for each step, in the order in which they were looked at."""
    looked: dict[str, Done] = {}
    for d in done:
        # A design may be derived twice, once to find which letters its pieces carry: the first time made counts.
        if d.unit in ("drawing", "step") and (d.name not in looked or (d.again and not looked[d.name].again)):
            looked[d.name] = d
    return tuple(
        _drawing(d, recipe) if d.unit == "drawing" else f"{d.name}: {_step(d, looked, recipe)}"
        for d in looked.values()
    )


def _drawing(d: Done, recipe: Recipe) -> str:
    file = recipe.drawing.replace("\\", "/").rpartition("/")[2]
    if not d.again:
        return f"{file}: as it was."
    if not d.known:
        return f"{file}: read for the first time."
    if any(r.path == ("bytes",) for r, _ in d.changed):
        return f"{file}: read again, because it changed."
    return f"{file}: read again, because {_because(d, recipe)}."


def _step(d: Done, ran: Mapping[str, Done], recipe: Recipe) -> str:
    if not d.again:
        needs = [n for n in sorted(recipe.steps[d.name].needs) if n in ran and ran[n].again and ran[n].known]
        if not needs:
            return "as it was."
        same = all(ran[n].same for n in needs)
        return f"as it was: {_and(needs)} came out the same{'' if same else ', as far as it looks'}."
    if not d.known:
        return "made for the first time."
    return f"made again, because {_because(d, recipe)}." + (" It came out the same." if d.same else "")


def _because(d: Done, recipe: Recipe) -> str:
    reasons = list(dict.fromkeys(_reason(r, now, d.name, recipe) for r, now in sorted(d.changed, key=_rank)))
    if not reasons:
        return "what it gave last time is lost or damaged"
    more = len(reasons) - 1
    return reasons[0] + (f", and for {more} more reason{'s' if more > 1 else ''}" if more else "")


def _rank(change: tuple[Read, str]) -> int:
    """What a maker changed comes before what followed from it; names before what kind of thing they are."""
    path = change[0].path
    return 2 * {"code": 0, "recipe": 1, "drawing": 2, "blank_measured": 1, "since": 1}.get(path[0], 3) + (
        change[0].asked != "whole"
    )


def _reason(read: Read, now: str, own: str, recipe: Recipe) -> str:
    file = recipe.drawing.replace("\\", "/").rpartition("/")[2]
    match read.path:
        case ("code",):
            return "mouldloft's own code for it changed"
        case ("recipe", "steps", str(step), "places", str(field)):
            whose = "its" if step == own else f"{step}'s"
            return f"{whose} {field} {'is written now' if now == '=true' else 'is not written any more'}"
        case ("recipe", "steps", str(step), "spec", *field) | ("recipe", "steps", str(step), *field):
            whose = "its" if step == own else f"{step}'{'' if step.endswith('s') else 's'}"
            return _change(f"{whose} {'.'.join(map(str, field)) or 'kind'}", read, now)
        case ("recipe", "steps"):
            return "the recipe's steps are others"
        case ("recipe", "sheets", str(stock), "measured", str(letter)):
            return _change(f"sheet {stock} {letter}", read, now)
        case ("recipe", "sheets", str(stock), *field):
            return _change(f"the {'.'.join(map(str, field)) or 'list'} of {stock}", read, now)
        case ("recipe", "shops", str(shop), *field):
            return _change(f"the {'.'.join(map(str, field)) or 'profile'} of the shop {shop}", read, now)
        case ("recipe", "hardware", str(part), *field):
            return _change(f"the {'.'.join(map(str, field)) or 'entry'} of the part {part}", read, now)
        case ("recipe", *field):
            return _change(f"the recipe's {'.'.join(map(str, field))}", read, now)
        case ("drawing", "objects", name, *_):
            return f"the object {name} of {file} changed"
        case ("drawing", "several", tuple(names), *_):
            return f"the objects {_and(names)} of {file} changed"
        case ("drawing", *_):
            return f"the drawing {file} changed"
        case ("results", str(step), *_):
            return f"{step} came out otherwise"
        case ("blank_measured", str(blank)):
            return _change(f"the measured thickness of {blank}", read, now)
        case ("since", str(piece)):
            return _change(f"the revision since which {piece} is unchanged", read, now)
        case _:
            return f"{'.'.join(map(str, read.path))} changed"


def _change(what: str, read: Read, now: str) -> str:
    if read.asked == "has":
        return f"{what} is {'given now' if now == '=true' else 'not given any more'}"
    old, new = _shown(read.sign), _shown(now)
    if read.asked != "whole" or old is None or new is None:
        return f"{what} changed"
    return f"{what} is {new} instead of {old}"


def _shown(sign: str) -> str | None:
    """A short value as a person writes it; None for a long one."""
    if sign == GONE:
        return "missing"
    if not sign.startswith("="):
        return None
    try:
        return _words(json.loads(sign[1:]))
    except ValueError:
        return None


def _words(tree: Any) -> str | None:
    if tree is None:
        return "nothing"
    if isinstance(tree, bool):
        return "true" if tree else "false"
    if isinstance(tree, float | int):
        return f"{tree:.6g}"
    if isinstance(tree, str):
        return tree or "empty"
    if tree and tree[0] == "t":
        parts = [_words(v) for v in tree[1:]]
        return None if None in parts else f"[{', '.join(p or '' for p in parts)}]"
    return None


def _and(names: Iterable[Any]) -> str:
    words = [str(n) for n in names]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
