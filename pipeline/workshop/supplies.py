"""What is used up besides sheets and bought parts: cutters, glue, abrasives, finish, tape, film.

The usual amounts are common practice, no source, but where a number says otherwise; each can be given in the
recipe (`quote: supplies:`), and `use: 0` leaves a line out. A price is never assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipeline.core.quote import Supply
from pipeline.steps.stack import Press
from pipeline.steps.stack_press import WASTE
from pipeline.steps.values import Blank, Derived, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.sheet_counts import Stock
from pipeline.workshop.shop_time import EACH, Worked

CUTTER_M = 400.0
"""Metres of cut in plywood that one cutter lasts: 300 to 500 for diameter 6 (trade notes 9.3)."""
ABRASIVE_SHEETS = 6.0
"""Sheets of abrasive for a m² of surface: three grits, two sheets each (common practice, no source)."""
FINISH_ML = 100.0
"""Finish in ml for a m² and coat: 10 m² a litre (common practice, no source; the can's data sheet rules)."""
TAPE_M = 0.5
"""Two-sided tape that holds one template once (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """One supply for a number of objects: ``amount`` in ``unit``, the steps it is drawn from, what was assumed.
    ``called`` is what it is priced as: all cutters alike."""

    name: str
    called: str
    amount: float
    unit: str
    price: float | None
    steps: tuple[str, ...]
    note: str


def supplies(derived: Derived, objects: int, stocks: Sequence[Stock], runs: Sequence[Worked]) -> tuple[Used, ...]:
    """Everything that is used up for so many objects."""
    given = derived.recipe.quote.supplies
    found = [*_cutters(derived, objects, runs), *_glue(derived, objects)]
    surface, steps = _surface(derived)
    if surface:
        sheets = _use(given.abrasive, ABRASIVE_SHEETS)
        found.append(
            Used(
                name="abrasives",
                called="abrasives",
                amount=surface * objects * sheets,
                unit="sheet",
                price=given.abrasive.price,
                steps=steps,
                note=f"{sheets:g} sheets for each m² of {surface:.3f} m² an object",
            )
        )
        ml = _use(given.finish, FINISH_ML)
        found.append(
            Used(
                name="finish",
                called="finish",
                amount=surface * objects * ml * given.coats / 1000,
                unit="l",
                price=given.finish.price,
                steps=steps,
                note=f"{given.coats} coats of {ml:g} ml/m² on {surface:.3f} m² an object",
            )
        )
    templates = [p for p in derived.pieces if p.role == "template"]
    tape = _use(given.tape, TAPE_M)
    found.append(
        Used(
            name="two-sided tape",
            called="two-sided tape",
            amount=tape * len(templates) * objects,
            unit="m",
            price=given.tape.price,
            steps=_steps(templates),
            note=f"{tape:g} m for each of {len(templates)} templates and object",
        )
    )
    found += _film(derived, objects, stocks)
    for name, supply in given.other.items():
        each = _use(supply, 1.0)
        found.append(
            Used(
                name=name,
                called=name,
                amount=each * objects,
                unit="piece",
                price=supply.price,
                steps=(),
                note=f"{each:g} for each object, as the recipe says",
            )
        )
    return tuple(u for u in found if u.amount > 0)


def _use(supply: Supply, usual: float) -> float:
    return usual if supply.use is None else supply.use


def _steps(things: Sequence[Piece | Blank]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(t.step for t in things))


def _cutters(derived: Derived, objects: int, runs: Sequence[Worked]) -> list[Used]:
    """Wear of every cutter by the metres it cuts; drills are not counted."""
    given = derived.recipe.quote.supplies.cutter
    life = _use(given, CUTTER_M)
    metres: dict[tuple[str, str], float] = {}
    steps: dict[tuple[str, str], dict[str, None]] = {}
    for w in runs:
        if w.run.cutter.startswith(("cutter ", "ball ")) and w.run.path_mm:
            key = w.shop, w.run.cutter
            metres[key] = metres.get(key, 0.0) + (w.each * objects + w.once) * w.run.path_mm / 1000
            steps.setdefault(key, {})[w.step] = None
    return [
        Used(
            name=f"{cutter}, {shop}",
            called="cutters",
            amount=cut / life,
            unit="cutter",
            price=given.price,
            steps=tuple(steps[shop, cutter]),
            note=f"wear: {cut:.1f} m cut, one lasts {life:g} m",
        )
        for (shop, cutter), cut in metres.items()
        if life
    ]


def _glue(derived: Derived, objects: int) -> list[Used]:
    """Glue by the joints of stacks and bent laminations: what a stack's press needs, or the recipe's g/m²."""
    given = derived.recipe.quote.supplies.glue
    found: list[tuple[str, str, float, int]] = []
    for blank in derived.blanks:
        found.append((blank.name, blank.step, _joints(derived, blank), blank.count))
    for step in derived.order:
        plies = getattr(step.spec, "plies", None)
        bent = next((p for p in derived.pieces if p.step == step.name and p.name == f"{step.name}-ply"), None)
        if plies and bent:
            found.append((step.name, step.name, (plies - 1) * bent.region.area * 1e-6, bent.count // plies))
    used = []
    for name, source, joints, count in found:
        spec = derived.recipe.steps[source].spec if source in derived.recipe.steps else None
        press = getattr(spec, "press", None)
        usual = (press if isinstance(press, Press) else Press()).glue * WASTE
        grams = joints * _use(given, usual) * count / derived.recipe.make * objects
        note = f"{_use(given, usual):g} g/m² on {joints:.3f} m² of joints"
        note += "" if given.use is not None else f", {(WASTE - 1) * 100:.0f} % of waste in it"
        used.append(
            Used(
                name=f"glue, {name}",
                called="glue",
                amount=grams / 1000,
                unit="kg",
                price=given.price,
                steps=(source,),
                note=note,
            )
        )
    return used


def _joints(derived: Derived, blank: Blank) -> float:
    """Area of all glue lines of a blank in m²: the stack's own numbers, else the smaller of two neighbours."""
    told = derived.results[blank.step].numbers.get("glue_area_mm2")
    if told:
        return float(sum(told)) * 1e-6
    pieces = {p.name: p for p in derived.pieces}
    areas = [pieces[v.piece].region.area for v in blank.laminations if v.piece in pieces]
    return sum(min(a, b) for a, b in pairwise(areas)) * 1e-6


def _surface(derived: Derived) -> tuple[float, tuple[str, ...]]:
    """What is sanded and finished of one object, in m²: both faces and the edges of blanks, panels and covers."""
    things: list[Piece | Blank] = [
        *derived.blanks,
        *(p for p in derived.pieces if p.role in EACH and p.role != "lamination"),
    ]
    area = sum(
        (2 * t.region.area + t.region.perimeter * t.thickness_mm) * t.count / derived.recipe.make for t in things
    )
    return area * 1e-6, _steps(things)


def _film(derived: Derived, objects: int, stocks: Sequence[Stock]) -> list[Used]:
    given = derived.recipe.quote.supplies.film
    faces = _use(given, 0.0)
    lasers = [s for s in stocks if shop_named(derived.recipe, s.shop).process == "laser"]
    area = 0.0
    for s in lasers:
        w, h = derived.recipe.sheets[s.name].size
        area += s.count(objects, derived.recipe.make) * w * h * 1e-6
    steps = _steps([p for p in derived.pieces if any((p.shop, p.sheet) == (s.shop, s.name) for s in lasers)])
    return [
        Used(
            name="film",
            called="film",
            amount=area * faces,
            unit="m²",
            price=given.price,
            steps=steps,
            note=f"{faces:g} faces of every sheet that a laser cuts",
        )
    ]
