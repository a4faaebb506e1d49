"""What a packet's shop files should hold, worked out from the design: names, layers, contours, words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour, line_chain
from pipeline.proof.layer import BEAM, Layer, theirs, two_decimals
from pipeline.proof.seen import Seen, on_sheet, set_up_seen
from pipeline.proof.signs import strokes_of, width_of
from pipeline.steps.values import Blank, Derived, Nest, Op, Piece, SetUp


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """One contour that must stand on a layer. ``design`` is in the design frame (of engraved words: in the
    file's own); ``grown_mm`` is how far the line must stand outside it (half a kerf; inside: negative)."""

    design: Contour
    seen: Seen
    ours: Layer
    step: str = ""
    subject: str = ""
    grown_mm: float = 0.0
    words: str = ""
    ramp: tuple[tuple[float, float, float], ...] = ()  # of the first contour of a sloped floor: its table


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line that must stand on TEXT, where, and at which turn."""

    text: str
    at: tuple[float, float]
    height_mm: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """One file. ``wanted`` maps the shop's name of each layer to its contours; ``worded`` files carry the
    legend, the check square and, in a reference, what isn't cut. ``nest`` is (sheet, letter, number),
    ``counts`` how often the words must say that it is cut."""

    path: str
    shop: Shop
    kind: str  # "set-up", "nest" or "reference"
    face: str
    subjects: tuple[str, ...]
    wanted: Mapping[str, tuple[Wanted, ...]]
    words: tuple[Words, ...] = ()
    worded: bool = True
    allowances_mm: tuple[float, ...] = (0.0,)
    sheet: tuple[float, float] | None = None
    seen: Seen = field(default_factory=Seen)
    blank: bool = False
    nest: tuple[str, str, int] | None = None
    counts: tuple[int, ...] = ()

    @property
    def cut_file(self) -> bool:
        return self.kind != "reference"

    @property
    def ramps(self) -> list[tuple[str, list[tuple[Seen, tuple[tuple[float, float, float], ...]]]]]:
        """Layers of sloped floors, each with the tables (as the design has them) that must stand in the words."""
        found = [(n, [(w.seen, w.ramp) for w in ws if w.ramp]) for n, ws in self.wanted.items()]
        return [(n, rows) for n, rows in found if rows]


def expected_files(derived: Derived, nests: tuple[Nest, ...]) -> tuple[Expected, ...]:
    """Every DXF file that the packet of a design must hold.

    A piece that lies in a nest of a shop that wants nests, and has one set-up, has no file of its own.
    """
    recipe = derived.recipe
    wanted_nests = [n for n in nests if shop_named(recipe, n.shop).wants == "nests"]
    nested = {p.piece for n in wanted_nests for p in n.placements}
    files: list[Expected] = []
    for piece in derived.pieces:
        if piece.name in nested and len(piece.set_ups) == 1:
            continue
        stem = f"{piece.name}_{piece.sheet}_x{piece.count}"
        files += _set_ups(derived, piece, stem, piece.allowance_mm)
    for blank in derived.blanks:
        files += _set_ups(derived, blank, f"{blank.name}_x{blank.count}", 0.0)
    for nest in wanted_nests:
        files += _nest(derived, nest, wanted_nests)
    return tuple(files)


@dataclass(frozen=True, slots=True, kw_only=True)
class Titled:
    """What of a recipe a file is measured and read by: its names, its letter, its tolerance (mm)."""

    design: str
    variant: str
    revision: str
    tolerance: float


def titled(recipe: Recipe) -> Titled:
    """What a file is measured and read by."""
    return Titled(
        design=recipe.design, variant=recipe.variant, revision=recipe.revision, tolerance=recipe.tolerance
    )


def prefix(recipe: Recipe | Titled) -> str:
    """What every file's name begins with."""
    return "-".join(v for v in (recipe.design, recipe.variant, recipe.revision) if v)


def shop_named(recipe: Recipe, name: str) -> Shop:
    return next((s for s in recipe.shops.values() if s.name == name), None) or recipe.shops[name]


def layer_of(op: Op, shop: Shop) -> Layer:
    """The layer an operation belongs on; a laser has no drill, it cuts through holes as openings."""
    if op.work == "DRILL" and op.through and shop.process == "laser":
        return Layer(work="CUT_INSIDE", face=op.face)
    if op.work in ("CUT_OUTSIDE", "CUT_INSIDE", "SCORE"):
        return Layer(work=op.work, face=op.face)
    depth = two_decimals(op.depth_mm) if op.depth_mm is not None else ""
    wide = two_decimals(op.diameter_mm) if op.diameter_mm is not None else ""
    match op.work:
        case "POCKET" | "ENGRAVE":
            return Layer(work=op.work, face=op.face, depth=depth)
        case "RAMP":
            deep = two_decimals(op.deep_mm) if op.deep_mm is not None else ""
            return Layer(work=op.work, face=op.face, depth=depth, deep=deep)
        case "DRILL":
            through = op.through
            return Layer(
                work=op.work, face=op.face, diameter=wide, depth="" if through else depth, through=through
            )
        case "GROOVE":
            return Layer(work=op.work, face=op.face, diameter=wide, depth=depth)
        case _:
            return Layer(work=op.work)


def first_pin(derived: Derived, set_ups: Iterable[SetUp]) -> tuple[float, float] | None:
    """Centre of the first index hole of a piece or blank, by x then y, in the design frame."""
    index_steps = {n for n, r in derived.results.items() if any(c.index for c in r.cuts)}
    found: list[tuple[float, float]] = []
    for op in (op for s in set_ups for op in s.ops):
        bored = op.work in ("DRILL", "CUT_INSIDE") and op.step in index_steps
        if op.work == "INDEX" or bored:
            rounds = [c.circle() for c in op.contours]
            found += [(round(r[0], 6), round(r[1], 6)) for r in rounds if r is not None]
    return min(found, default=None)


# -- files -------------------------------------------------------------------------------------------
def _set_ups(derived: Derived, subject: Piece | Blank, stem: str, allowance: float) -> list[Expected]:
    recipe = derived.recipe
    shop = shop_named(recipe, subject.shop)
    pin = first_pin(derived, subject.set_ups)
    files: list[Expected] = []
    for set_up in subject.set_ups:
        seen = set_up_seen(set_up, _turn_over(recipe), shop.datum, pin)
        wanted, words = _contents(set_up, seen, shop, subject.name)
        face = f"_{set_up.face}" if len(subject.set_ups) > 1 else ""
        files += _files(
            shop, f"{prefix(recipe)}_{stem}{face}", "set-up", set_up.face, (subject.name,), wanted, words,
            allowances=(allowance,), seen=seen, blank=isinstance(subject, Blank), count=subject.count,
        )  # fmt: skip
    return files


def _nest(derived: Derived, nest: Nest, all_nests: list[Nest]) -> list[Expected]:
    recipe = derived.recipe
    shop = shop_named(recipe, nest.shop)
    pieces = {p.name: p for p in derived.pieces}
    same = [n for n in all_nests if (n.sheet, n.letter) == (nest.sheet, nest.letter)]
    parts = [f"{prefix(recipe)}_nest", nest.sheet, nest.letter, str(nest.number) if len(same) > 1 else ""]
    wanted: list[Wanted] = []
    words: list[Words] = []
    names: list[str] = []
    for placement in nest.placements:
        piece = pieces[placement.piece]
        if len(piece.set_ups) != 1:
            continue
        set_up = piece.set_ups[0]
        seen = on_sheet(set_up.face, _turn_over(recipe), placement)
        more, said = _contents(set_up, seen, shop, piece.name)
        wanted += more
        words += said
        names += [piece.name] if piece.name not in names else []
    w, h = nest.size
    sheet = line_chain(nest.corners or [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
    wanted.append(Wanted(design=sheet, seen=Seen(), ours=Layer(work="STOCK")))
    for x, y, wide, high in nest.keep_out:
        box = line_chain([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)])
        wanted.append(Wanted(design=box, seen=Seen(), ours=Layer(work="KEEP_CLEAR")))
    allowances = tuple(sorted({pieces[n].allowance_mm for n in names})) or (0.0,)
    return _files(
        shop, "-".join(p for p in parts if p), "nest", "", tuple(names), wanted, words,
        allowances=allowances, sheet=nest.size, nest=(nest.sheet, nest.letter, nest.number),
    )  # fmt: skip


def _files(
    shop: Shop,
    stem: str,
    kind: str,
    face: str,
    subjects: tuple[str, ...],
    wanted: list[Wanted],
    words: list[Words],
    *,
    allowances: tuple[float, ...],
    sheet: tuple[float, float] | None = None,
    seen: Seen | None = None,
    blank: bool = False,
    nest: tuple[str, str, int] | None = None,
    count: int = 1,
) -> list[Expected]:
    """One file of a router; of a laser the cut file, and the reference that shows all the rest."""
    folder = f"shops/{shop.name}/"

    def made(path: str, kind: str, chosen: list[tuple[str, Wanted]], worded: bool) -> Expected:
        by_name: dict[str, list[Wanted]] = {}
        for name, w in chosen:
            by_name.setdefault(name, []).append(w)
        return Expected(
            path=path,
            shop=shop,
            kind=kind,
            face=face,
            subjects=subjects,
            wanted={n: tuple(ws) for n, ws in by_name.items()},
            words=tuple(words) if worded else (),
            worded=worded,
            allowances_mm=allowances,
            sheet=sheet if worded else None,
            seen=seen or Seen(),
            blank=blank,
            nest=nest,
            counts=(count,) if worded else (),
        )

    named = [(theirs(str(w.ours), shop.layers), w) for w in wanted]
    if shop.process != "laser":
        return [made(f"{folder}{stem}.dxf", kind, named, True)]
    shown = theirs("REFERENCE", shop.layers)
    beam = [(n, w) for n, w in named if w.ours.work in BEAM]
    rest = [(shown if w.ours.work in BEAM else n, w) for n, w in named]
    return [
        made(f"{folder}{stem}.dxf", kind, beam, False),
        made(f"{folder}{stem}_reference.dxf", "reference", rest, True),
    ]


def _contents(set_up: SetUp, seen: Seen, shop: Shop, subject: str) -> tuple[list[Wanted], list[Words]]:
    half = shop.kerf / 2 if shop.compensation == "kerf" else 0.0
    wanted: list[Wanted] = []
    for op in set_up.ops:
        layer = layer_of(op, shop)
        grown = {"CUT_OUTSIDE": half, "CUT_INSIDE": -half}.get(layer.work, 0.0)
        wanted += [
            Wanted(
                design=c,
                seen=seen,
                ours=layer,
                step=op.step,
                subject=subject,
                grown_mm=grown,
                ramp=() if i or op.work != "RAMP" else op.ramp,
            )
            for i, c in enumerate(op.contours)
        ]
    words: list[Words] = []
    for label in set_up.labels:
        at, turn = seen.label(label, width_of(label.text, label.height_mm))
        if not label.engrave:
            words.append(Words(text=label.text, at=at, height_mm=label.height_mm, turn_deg=turn))
            continue
        layer = Layer(work="ENGRAVE", face=set_up.face, depth=two_decimals(label.depth_mm))
        wanted += [
            Wanted(design=c, seen=Seen(), ours=layer, subject=subject, words=label.text)
            for c in strokes_of(label.text, at, label.height_mm, turn)
        ]
    return wanted, words


def _turn_over(recipe: Recipe) -> str:
    return recipe.frame.turn_over if recipe.frame else "x"
