"""Ways to spoil a packet, and harmless ways to write it otherwise. Each is told by its function's name.

A spoiler changes the files of the hand-made heron (`tests.packet.factory`) in its memory; `says` is what the proof
must say of it, and of which file. Hashes and archives are made anew after each, so that nothing but what the
files hold can give it away.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.geometry.contour import chain
from pipeline.packet import write
from pipeline.packet.shop_files import shop_files
from tests.packet import factory
from tests.proof.packets import BACK, FRONT, LAMINATION, NEST, REFERENCE
from tests.proof.pairs import Doc, Thing, spin

ROUTER_ZIP, LASER_ZIP = "shops/router.zip", "shops/laser.zip"
TABLE_ROW = "x 194.00"


@dataclass
class Files:
    """A packet in memory. ``zipped`` archives were changed by themselves and are not packed anew."""

    held: dict[str, bytes]
    zipped: set[str] = field(default_factory=set)

    def dxf(self, name: str, change: Callable[[Doc], None]) -> None:
        doc = Doc.of(self.held[name].decode("utf-8"))
        change(doc)
        self.text(name, lambda _: doc.text)

    def text(self, name: str, change: Callable[[str], str]) -> None:
        before = self.held[name].decode("utf-8")
        after = change(before)
        assert after != before, "nothing was changed"
        self.held[name] = after.encode("utf-8")

    def svg(self, name: str, old: str, new: str) -> None:
        """Change the first match of a pattern in the picture beside a DXF file."""
        self.text(picture(name), lambda t: re.sub(old, new, t, count=1))

    def record(self, change: Callable[[dict], None]) -> None:  # type: ignore[type-arg]  # plain JSON
        found = json.loads(self.held["packet.json"])
        change(found)
        self.text("packet.json", lambda _: json.dumps(found))

    def member(self, archive: str, name: str, change: Callable[[str], str]) -> None:
        """Change one member of an archive alone."""
        self.held[archive] = packed(self.held, archive, {name: change})
        self.zipped.add(archive)

    def refreshed(self) -> None:
        """Pack the archives anew and write the hashes that packet.json holds."""
        for archive in (ROUTER_ZIP, LASER_ZIP):
            if archive in self.held and archive not in self.zipped:
                self.held[archive] = packed(self.held, archive, {})
        found = json.loads(self.held["packet.json"])
        if isinstance(found, dict) and isinstance(found.get("files"), list):
            for row in found["files"]:
                data = self.held.get(row["path"], b"")
                row |= {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
            self.held["packet.json"] = json.dumps(found).encode("utf-8")

    def put_into(self, folder: Path) -> None:
        for name, data in self.held.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)


def picture(name: str) -> str:
    return name.removesuffix(".dxf") + ".svg"


def packed(held: dict[str, bytes], archive: str, changes: dict[str, Callable[[str], str]], how: int = 8) -> bytes:
    out, top = io.BytesIO(), archive.removesuffix(".zip") + "/"
    with zipfile.ZipFile(out, "w", how) as z:
        for name in sorted(n for n in held if n.startswith(top)):
            data, short = held[name], name.removeprefix("shops/")
            if name in changes:
                after = changes[name](data.decode("utf-8")).encode("utf-8")
                assert after != data, "nothing was changed"
                data = after
            z.writestr(zipfile.ZipInfo(short, (1980, 1, 1, 0, 0, 0)), data, how)
    return out.getvalue()


def written(folder: Path) -> tuple[Files, tuple]:  # type: ignore[type-arg]  # (derived, nests)
    """The hand-made heron as the real writers write it: shop files, archives, packet.json."""
    derived, nests = factory.derived(factory.recipe()), (factory.cover_nest(),)
    files = shop_files(derived, nests)
    write.write_shop_files(folder, files)
    write.write_record(folder, derived, files, (), (), {}, {"worst_mm": 0.0, "where": ""}, keys={}, since={})
    held = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    return Files(held), (derived, nests)


# -- spoilers ----------------------------------------------------------------------------------------------
Spoiler = Callable[[Files], None]
SPOILERS: list[tuple[Spoiler, str, str]] = []
"""(function, the file it must be told of, what must be said)."""


def spoils(file: str, says: str) -> Callable[[Spoiler], Spoiler]:
    def enter(f: Spoiler) -> Spoiler:
        SPOILERS.append((f, file, says))
        return f

    return enter


def changes(file: str, says: str) -> Callable[[Callable[[Doc], None]], Callable[[Doc], None]]:
    """A spoiler that changes one DXF file."""

    def enter(f: Callable[[Doc], None]) -> Callable[[Doc], None]:
        def spoil(files: Files) -> None:
            files.dxf(file, f)

        spoil.__name__ = f.__name__
        SPOILERS.append((spoil, file, says))
        return f

    return enter


def _away(rows: list[list[float]], k: int, by: float) -> None:
    """Move a vertex of the outline square to it: outward of the large circle about (20, 0)."""
    x, y = rows[k][0] - 20, rows[k][1]
    rows[k][0] += by * x / math.hypot(x, y)
    rows[k][1] += by * y / math.hypot(x, y)


@changes(LAMINATION, "off the design's")
def vertex_moved_outward_by_two_hundredths(doc: Doc) -> None:
    edge = doc.one("FRONT_CUT_OUTSIDE")
    rows = edge.rows
    _away(rows, 0, 0.02)
    edge.rows = rows


@changes(FRONT, "off the design's")
def vertex_moved_inward_by_two_hundredths(doc: Doc) -> None:
    edge = doc.one("FRONT_CUT_OUTSIDE")
    rows = edge.rows
    _away(rows, 0, -0.02)
    edge.rows = rows


def _renamed(doc: Doc, old: str, new: str) -> None:
    doc.before = [(c, new if v == old else v) for c, v in doc.before]
    for t in doc.things:
        t.pairs = [(c, new if c == 8 and v == old else v) for c, v in t.pairs]


@changes(FRONT, "stands on the back")
def ramp_on_the_other_face(doc: Doc) -> None:
    _renamed(doc, "FRONT_RAMP_Z16-00_Z17-89", "BACK_RAMP_Z16-00_Z17-89")


@changes(BACK, "stands on the front")
def pocket_on_the_other_face(doc: Doc) -> None:
    _renamed(doc, "BACK_POCKET_Z32-15", "FRONT_POCKET_Z32-15")


@changes(LAMINATION, "isn't the design's: the cut leaves")
def opening_missing(doc: Doc) -> None:
    doc.things.remove(doc.one("FRONT_CUT_INSIDE"))


@changes(BACK, "The layer BACK_DRILL_DIA5-00_Z12-00 is missing")
def drilled_hole_missing(doc: Doc) -> None:
    doc.things.remove(doc.one("BACK_DRILL_DIA5-00_Z12-00"))


@changes(LAMINATION, "the contour of Heron B 1/3 is")
def engraved_label_mirrored(doc: Doc) -> None:
    strokes = doc.on("FRONT_ENGRAVE_Z0-30")
    xs = [r[0] for t in strokes for r in t.rows]
    middle = (min(xs) + max(xs)) / 2
    for t in strokes:
        t.moved(lambda x, y: (2 * middle - x, y), mirrors=True)


@changes(LAMINATION, "is written backward")
def plain_label_mirrored(doc: Doc) -> None:
    doc.words("this side up").put(71, 2)


@changes(NEST, "drawn twice")
def scored_line_doubled(doc: Doc) -> None:
    doc.things.append(doc.one("FRONT_SCORE").copy())


@changes(LAMINATION, "drawn twice")
def outline_doubled(doc: Doc) -> None:
    doc.things.append(doc.one("FRONT_CUT_OUTSIDE").copy())


@changes(BACK, "32.14 deep, not 32.15 deep")
def pocket_of_another_depth(doc: Doc) -> None:
    _renamed(doc, "BACK_POCKET_Z32-15", "BACK_POCKET_Z32-14")


@changes(BACK, "from 12.00 to")
def drill_of_another_depth(doc: Doc) -> None:
    """Also seen in the cut: two millimetres more of wood go."""
    _renamed(doc, "BACK_DRILL_DIA5-00_Z12-00", "BACK_DRILL_DIA5-00_Z14-00")


@changes(FRONT, "16.00 deep, to 17.80, not 16.00 deep, to 17.89")
def ramp_of_another_deep_end(doc: Doc) -> None:
    _renamed(doc, "FRONT_RAMP_Z16-00_Z17-89", "FRONT_RAMP_Z16-00_Z17-80")


@changes(BACK, "through, not")
def blind_hole_through(doc: Doc) -> None:
    _renamed(doc, "BACK_DRILL_DIA5-00_Z12-00", "BACK_DRILL_DIA5-00_THROUGH")


@changes(FRONT, "Ø 8.00, 5.00 deep, not Ø 6.00")
def groove_of_another_width(doc: Doc) -> None:
    _renamed(doc, "FRONT_GROOVE_DIA6-00_Z5-00", "FRONT_GROOVE_DIA8-00_Z5-00")


@changes(LAMINATION, "is not closed")
def outline_open(doc: Doc) -> None:
    doc.one("FRONT_CUT_OUTSIDE").put(70, 0)


def _scaled(doc: Doc, by: float) -> None:
    for t in doc.things:
        t.moved(lambda x, y: (x * by, y * by))
        if t.kind == "CIRCLE":
            t.put(40, float(t.get(40)) * by)


@changes(FRONT, "3.937 by 3.937 mm")
def file_in_inches(doc: Doc) -> None:
    _scaled(doc, 1 / 25.4)


@changes(BACK, "off the design's")
def file_a_thousandth_larger(doc: Doc) -> None:
    _scaled(doc, 1.001)


@changes(LAMINATION, "the two stand for each other")
def inside_and_outside_swapped(doc: Doc) -> None:
    edge, opening = doc.one("FRONT_CUT_OUTSIDE"), doc.one("FRONT_CUT_INSIDE")
    edge.put(8, "FRONT_CUT_INSIDE")
    opening.put(8, "FRONT_CUT_OUTSIDE")


@changes(LAMINATION, "An outside contour lies within another")
def opening_as_an_outside_contour(doc: Doc) -> None:
    doc.one("FRONT_CUT_INSIDE").put(8, "FRONT_CUT_OUTSIDE")


@changes(LAMINATION, "following it frees nothing")
def opening_beside_the_part(doc: Doc) -> None:
    doc.one("FRONT_CUT_INSIDE").moved(lambda x, y: (x + 400, y))


@changes(LAMINATION, "No outside contour frees blank-1")
def outline_as_an_inside_contour(doc: Doc) -> None:
    doc.one("FRONT_CUT_OUTSIDE").put(8, "FRONT_CUT_INSIDE")


@changes(BACK, "off the design's")
def pocket_shifted_by_five_hundredths(doc: Doc) -> None:
    for t in doc.on("BACK_POCKET_Z32-15"):
        t.moved(lambda x, y: (x + 0.05, y))


@changes(BACK, "off the design's")
def pocket_corner_turned_inside_out(doc: Doc) -> None:
    pocket = doc.one("BACK_POCKET_Z32-15", "LWPOLYLINE")
    rows = pocket.rows
    k = next(i for i, r in enumerate(rows) if r[2])
    rows[k][2] *= -1
    pocket.rows = rows


@changes(BACK, "off the design's")
def bulge_off_by_one_percent(doc: Doc) -> None:
    pocket = doc.one("BACK_POCKET_Z32-15", "LWPOLYLINE")
    rows = pocket.rows
    rows[next(i for i, r in enumerate(rows) if r[2])][2] *= 1.01
    pocket.rows = rows


@changes(BACK, "off the design's")
def hole_moved_by_five_hundredths(doc: Doc) -> None:
    doc.one("BACK_DRILL_DIA5-00_Z12-00").moved(lambda x, y: (x, y + 0.05))


@changes(BACK, "A hole of 5.050 mm stands on")
def drilled_hole_wider_by_five_hundredths(doc: Doc) -> None:
    doc.one("BACK_DRILL_DIA5-00_Z12-00").put(40, 2.525)


@changes(LAMINATION, "off the design's")
def opening_narrower_by_five_hundredths(doc: Doc) -> None:
    doc.one("FRONT_CUT_INSIDE").put(40, 19.975)


@spoils(FRONT, "FRONT_RAMP_Z16-00_Z17-89 is missing")
def two_files_exchanged(files: Files) -> None:
    files.held[FRONT], files.held[BACK] = files.held[BACK], files.held[FRONT]


@changes(BACK, "off the design's")
def back_file_not_mirrored(doc: Doc) -> None:
    for t in doc.things:
        if t.kind != "TEXT" and t.layer not in ("CHECK_SQUARE", "TEXT", "DATUM"):
            t.moved(lambda x, y: (x, -y), mirrors=True)


def _part(doc: Doc) -> list[Thing]:
    """The entities of the first cover on the sheet: an L of 90 by 50 at (60, 10)."""
    found = []
    for t in doc.things:
        at = t.rows or [[float(t.get(10)), float(t.get(20)), 0.0]]
        if all(59 < x < 151 and 9 < y < 61 for x, y, _ in at):
            found.append(t)
    return found


@changes(NEST, "off the design's")
def part_of_a_nest_turned_in_its_place(doc: Doc) -> None:
    for t in _part(doc):
        t.moved(spin(90.0, 105.0, 35.0))


@changes(NEST, "isn't the design's: the cut takes")
def part_missing_from_a_nest(doc: Doc) -> None:
    gone = {id(t) for t in _part(doc)}
    doc.things = [t for t in doc.things if id(t) not in gone]


@changes(NEST, "isn't the design's: the cut leaves")
def part_twice_in_a_nest(doc: Doc) -> None:
    for t in [t.copy() for t in _part(doc)]:
        t.moved(lambda x, y: (x + 350, y))
        doc.things.append(t)


@changes(NEST, "a cut 0.20 wide between them takes from one of the two")
def part_twice_and_too_near(doc: Doc) -> None:
    for t in [t.copy() for t in _part(doc)]:
        t.moved(lambda x, y: (x, y + 50.1))
        doc.things.append(t)


@changes(FRONT, "revision A; its name says heron-B")
def legend_of_another_revision(doc: Doc) -> None:
    line = doc.words("revision B")
    line.put(1, line.get(1).replace("revision B", "revision A"))


@spoils("shops/router/heron-A_blank_x1_front.dxf", "a shop could cut it by mistake")
def file_name_of_another_revision(files: Files) -> None:
    files.held["shops/router/heron-A_blank_x1_front.dxf"] = files.held.pop(FRONT)


@changes(LAMINATION, "the contour of Heron B 1/3 is")
def engraved_letter_of_another_revision(doc: Doc) -> None:
    """B, the seventh letter, moved aside: its strokes become an A's."""
    strokes = doc.on("FRONT_ENGRAVE_Z0-30")
    bowl = next(t for t in strokes if any(r[2] for r in t.rows) and min(r[0] for r in t.rows) > -17)
    bowl.rows = [[x, y, 0.0] for x, y, _ in bowl.rows]


@changes(LAMINATION, "strokes are missing")
def engraved_stroke_missing(doc: Doc) -> None:
    doc.things.remove(doc.one("FRONT_ENGRAVE_Z0-30"))


@changes(FRONT, "$INSUNITS is 1.0, not 4")
def header_says_inches(doc: Doc) -> None:
    doc.variable("$INSUNITS", "1")


@changes(FRONT, "$MEASUREMENT is 0")
def header_says_imperial(doc: Doc) -> None:
    doc.variable("$MEASUREMENT", "0")


@changes(BACK, "A TEXT on BACK_ENGRAVE_Z0-30; this layer holds lines and arcs only")
def engraved_words_in_a_font(doc: Doc) -> None:
    words = doc.words("battery side").copy()
    words.put(8, "BACK_ENGRAVE_Z0-30")
    doc.things.append(words)


@changes(LAMINATION, "A SPLINE on FRONT_CUT_OUTSIDE")
def outline_as_a_spline(doc: Doc) -> None:
    edge = doc.one("FRONT_CUT_OUTSIDE")
    points = [p for x, y, _ in edge.rows for p in ((10, str(x)), (20, str(y)), (30, "0.0"))]
    head = [(c, v) for c, v in edge.pairs if c in (5, 330, 8)]
    edge.pairs = [(0, "SPLINE"), *head, (70, "8"), (71, "3"), *points]


@changes(LAMINATION, "is drawn as 3000 short segments")
def outline_as_three_thousand_segments(doc: Doc) -> None:
    edge = doc.one("FRONT_CUT_OUTSIDE")
    rows = edge.rows
    true = chain([(x, y) for x, y, _ in rows], [b for *_, b in rows])
    points, _ = true.flatten(1e-5)
    step = len(points) / 3000
    assert step > 1
    edge.rows = [[*points[int(k * step)].tolist(), 0.0] for k in range(3000)]


@changes(LAMINATION, "The layer '0' says neither face nor work")
def opening_on_layer_0(doc: Doc) -> None:
    doc.one("FRONT_CUT_INSIDE").put(8, "0")


@changes(NEST, "a contour is too many")
def stray_line_among_the_cuts(doc: Doc) -> None:
    line = doc.one("FRONT_SCORE").copy()
    line.rows = [[300.0, 200.0, 0.0], [310.0, 200.0, 0.0]]
    doc.things.append(line)


@changes(BACK, "On DATUM 1 lines are too many")
def stray_line_on_a_layer_that_is_not_cut(doc: Doc) -> None:
    line = doc.one("DATUM").copy()
    line.rows = [[0.0, 0.0, 0.0], [30.0, 30.0, 0.0]]
    doc.things.append(line)


@changes(LAMINATION, "99.900 by 100.000 mm")
def check_square_too_small(doc: Doc) -> None:
    square = doc.one("CHECK_SQUARE")
    rows = square.rows
    right = max(r[0] for r in rows)
    square.rows = [[x - 0.1 if x == right else x, y, b] for x, y, b in rows]


@changes(FRONT, "On INDEX a contour of pins is missing")
def index_hole_missing_on_one_face(doc: Doc) -> None:
    doc.things.remove(doc.on("INDEX")[0])


@changes(FRONT, "0.030 mm away")
def index_hole_moved_on_one_face(doc: Doc) -> None:
    doc.on("INDEX")[0].moved(lambda x, y: (x + 0.03, y))


@changes(FRONT, "The table of FRONT_RAMP_Z16-00_Z17-89 says 18.89 deep")
def ramp_table_wrong(doc: Doc) -> None:
    row = doc.words(TABLE_ROW)
    row.put(1, row.get(1).replace("17.89", "18.89"))


@changes(FRONT, "has 0 tables of depths")
def ramp_table_missing(doc: Doc) -> None:
    doc.things.remove(doc.words("Depth along"))


@changes(FRONT, "off the design's")
def groove_moved_by_a_tenth(doc: Doc) -> None:
    groove = doc.one("FRONT_GROOVE_DIA6-00_Z5-00")
    groove.moved(lambda x, y: (x, y + 0.1))


@changes(FRONT, "mm long, not")
def groove_runs_there_and_back(doc: Doc) -> None:
    """Twice over the same line: no point is off, and the cutter goes twice."""
    groove = doc.one("FRONT_GROOVE_DIA6-00_Z5-00")
    groove.rows = [*groove.rows, *groove.rows[-2::-1]]


@changes(BACK, "an island of it whole")
def island_lost(doc: Doc) -> None:
    doc.things.remove(doc.one("BACK_POCKET_Z32-15", "CIRCLE"))


@changes(BACK, "drawn twice")
def pocket_boundary_doubled(doc: Doc) -> None:
    doc.things.append(doc.one("BACK_POCKET_Z32-15", "LWPOLYLINE").copy())


@changes(BACK, "doesn't lie flat at z = 0")
def contour_off_the_plane(doc: Doc) -> None:
    doc.one("BACK_POCKET_Z32-15", "LWPOLYLINE").put(38, 2.0)


@changes(BACK, "doesn't lie flat at z = 0")
def hole_seen_from_below(doc: Doc) -> None:
    hole = doc.one("BACK_DRILL_DIA5-00_Z12-00")
    hole.pairs += [(210, "0.0"), (220, "0.0"), (230, "-1.0")]


@changes(LAMINATION, "A INSERT on FRONT_CUT_INSIDE")
def block_hides_an_opening(doc: Doc) -> None:
    opening = doc.one("FRONT_CUT_INSIDE")
    head = [(c, v) for c, v in opening.pairs if c in (5, 330, 8)]
    opening.pairs = [(0, "INSERT"), *head, (2, "OPENING"), (10, "0.0"), (20, "0.0"), (30, "0.0")]


@changes(LAMINATION, "is invisible")
def opening_invisible(doc: Doc) -> None:
    doc.one("FRONT_CUT_INSIDE").put(60, 1)


@changes(LAMINATION, "is hidden: the layer is off or frozen")
def layer_frozen(doc: Doc) -> None:
    doc.table_layer("FRONT_CUT_INSIDE", 70, 1)


@changes(LAMINATION, "stands on a paper layout")
def opening_on_a_paper_layout(doc: Doc) -> None:
    doc.one("FRONT_CUT_INSIDE").put(67, 1)


@changes(BACK, "breaks by")
def corner_arc_as_chords_within_the_tolerance(doc: Doc) -> None:
    """No point is off by more than 0.004 mm, but eight breaks of 5° stand where the design is smooth."""
    pocket = doc.one("BACK_POCKET_Z32-15", "LWPOLYLINE")
    rows = pocket.rows
    k = next(i for i, r in enumerate(rows) if r[2])
    arc = chain([rows[k][:2], rows[(k + 1) % len(rows)][:2]], [rows[k][2], 0.0], closed=False)
    points = arc.flatten(0.004)[0][1:-1].tolist()
    rows[k][2] = 0.0
    pocket.rows = [*rows[: k + 1], *([x, y, 0.0] for x, y in points), *rows[k + 1 :]]


@changes(NEST, "a corner of 90.0° of the design is rounded off")
def corner_rounded_within_the_tolerance(doc: Doc) -> None:
    edge = doc.one("FRONT_CUT_OUTSIDE")
    rows = edge.rows
    (ax, ay, _), (x, y, _), (bx, by, _) = rows[-1], rows[0], rows[1]
    a, b, r = math.dist((ax, ay), (x, y)), math.dist((bx, by), (x, y)), 0.01
    start = [x + (ax - x) / a * r, y + (ay - y) / a * r, math.tan(math.pi / 8)]
    end = [x + (bx - x) / b * r, y + (by - y) / b * r, 0.0]
    cross = (x - ax) * (by - y) - (y - ay) * (bx - x)
    start[2] = math.copysign(start[2], cross)
    edge.rows = [start, end, *rows[1:]]


@changes(BACK, "Its words say")
def legend_states_another_depth(doc: Doc) -> None:
    line = doc.words("32.15 deep")
    line.put(1, line.get(1).replace("32.15", "23.15"))


@changes(BACK, "Its words say cut 4; the design wants 1")
def legend_states_another_count(doc: Doc) -> None:
    line = doc.words("cut 1")
    line.put(1, line.get(1).replace("cut 1", "cut 4"))


@changes(NEST, "a laser's cut file holds cut, engrave and score layers only")
def carve_line_in_a_laser_file(doc: Doc) -> None:
    doc.one("FRONT_SCORE").put(8, "CARVE_LINE")


@changes(REFERENCE, "off the design's")
def reference_moved(doc: Doc) -> None:
    for t in doc.on("REFERENCE"):
        t.moved(lambda x, y: (x + 0.05, y))


@changes(BACK, "off the design's")
def zero_shifted_by_a_tenth(doc: Doc) -> None:
    for t in doc.things:
        t.moved(lambda x, y: (x + 0.1, y))


@spoils(NEST, "off the design's")
def both_twins_moved_alike(files: Files) -> None:
    """The sheet's score line 0.05 mm aside in the DXF file and in its picture."""

    def change(doc: Doc) -> None:
        doc.on("FRONT_SCORE")[0].moved(lambda x, y: (x + 0.05, y))

    files.dxf(NEST, change)
    files.svg(NEST, r"M100 -10L100 -35", "M100.05 -10L100.05 -35")


@spoils(picture(NEST), "mm off that of the DXF file")
def picture_moved_alone(files: Files) -> None:
    files.svg(NEST, r"M100 -10L100 -35", "M100.02 -10L100.02 -35")


@spoils(picture(NEST), "isn't drawn at 1:1")
def picture_of_another_size(files: Files) -> None:
    files.svg(NEST, r'width="600mm" height="300mm"', 'width="605mm" height="302.5mm"')


@spoils(picture(FRONT), "is moved or scaled by a transform")
def picture_layer_scaled(files: Files) -> None:
    files.svg(
        FRONT, r'<g data-layer="FRONT_CUT_OUTSIDE"', '<g transform="scale(1.01)" data-layer="FRONT_CUT_OUTSIDE"'
    )


@spoils(picture(LAMINATION), "which can hide or change what is cut")
def picture_layer_hidden(files: Files) -> None:
    files.svg(LAMINATION, r'<g data-layer="FRONT_CUT_INSIDE"', '<g display="none" data-layer="FRONT_CUT_INSIDE"')


@spoils(picture(LAMINATION), "The picture has 0 contours on FRONT_CUT_INSIDE")
def picture_lacks_a_hole(files: Files) -> None:
    files.svg(LAMINATION, r'<circle cx="60"[^>]*/>\n', "")


@spoils(picture(FRONT), "speak of revision A, B")
def picture_of_another_revision(files: Files) -> None:
    files.svg(FRONT, "revision B", "revision A")


@spoils(picture(FRONT), "arc of an ellipse")
def picture_arc_squeezed(files: Files) -> None:
    files.svg(FRONT, r"A(\S+) \1 0", r"A\1 41 0")


@spoils(f"{ROUTER_ZIP}/{FRONT.rsplit('/', 1)[-1]}", "FRONT_RAMP_Z15-00_Z17-89 doesn't say")
def member_of_an_archive_altered(files: Files) -> None:
    files.member(ROUTER_ZIP, FRONT, lambda t: t.replace("FRONT_RAMP_Z16-00", "FRONT_RAMP_Z15-00"))


@spoils(f"{LASER_ZIP}/{picture(NEST).rsplit('/', 1)[-1]}", "mm off that of the DXF file")
def picture_in_an_archive_altered(files: Files) -> None:
    files.member(LASER_ZIP, picture(NEST), lambda t: t.replace("M100 -10L100 -35", "M100.1 -10L100.1 -35"))


@spoils("packet.json", "It says count 7 of blank-1")
def record_states_another_count(files: Files) -> None:
    files.record(lambda r: r["pieces"][0].update(count=7))


@spoils("packet.json", "It says revision 'A'; the recipe says 'B'")
def record_of_another_revision(files: Files) -> None:
    files.record(lambda r: r.update(revision="A"))


@spoils("packet.json", "It says thickness_mm 23.5 of blank")
def record_states_another_thickness(files: Files) -> None:
    files.record(lambda r: r["blanks"][0].update(thickness_mm=23.5))


@spoils("packet.json", "doesn't name")
def record_hides_a_file_of_a_piece(files: Files) -> None:
    files.record(lambda r: r["pieces"][0]["files"].pop())


# -- harmless ----------------------------------------------------------------------------------------------
HARMLESS: list[Spoiler] = []
ALL_DXF = (LAMINATION, BACK, FRONT, NEST, REFERENCE)


def harmless(f: Spoiler) -> Spoiler:
    HARMLESS.append(f)
    return f


def _each(files: Files, change: Callable[[Doc], None]) -> None:
    for name in ALL_DXF:
        files.dxf(name, change)


@harmless
def entities_in_another_order(files: Files) -> None:
    _each(files, lambda d: d.things.reverse())


@harmless
def contours_from_another_vertex(files: Files) -> None:
    def change(doc: Doc) -> None:
        for t in doc.things:
            if t.kind == "LWPOLYLINE" and int(t.get(70)) & 1:
                t.rows = [*t.rows[2:], *t.rows[:2]]

    _each(files, change)


@harmless
def contours_the_other_way_round(files: Files) -> None:
    def change(doc: Doc) -> None:
        for t in doc.things:
            if t.kind == "LWPOLYLINE":
                rows = t.rows[::-1]
                bulges = [-r[2] for r in rows]
                turned = [*bulges[1:], bulges[0]]
                t.rows = [[x, y, b] for (x, y, _), b in zip(rows, turned, strict=True)]

    _each(files, change)


@harmless
def numbers_in_another_format(files: Files) -> None:
    def change(doc: Doc) -> None:
        for t in doc.things:
            if t.kind != "TEXT":
                t.pairs = [(c, f"{float(v):.14E}" if c in (10, 20, 40, 42) else v) for c, v in t.pairs]

    _each(files, change)


@harmless
def other_handles(files: Files) -> None:
    def change(doc: Doc) -> None:
        for k, t in enumerate(doc.things):
            t.put(5, f"{0xA000 + k:X}")

    _each(files, change)


@harmless
def comments_between_the_groups(files: Files) -> None:
    _each(files, lambda d: d.before.insert(0, (999, "read and saved by somebody else")))


@harmless
def windows_line_ends(files: Files) -> None:
    for name in ALL_DXF:
        files.text(name, lambda t: t.replace("\n", "\r\n"))


@harmless
def layers_in_another_order(files: Files) -> None:
    def change(doc: Doc) -> None:
        starts = [i for i, p in enumerate(doc.before) if p == (0, "LAYER")]
        end = next(i for i in range(starts[-1], len(doc.before)) if doc.before[i] == (0, "ENDTAB"))
        rows = [doc.before[a:b] for a, b in zip(starts, [*starts[1:], end], strict=True)]
        doc.before[starts[0] : end] = [p for row in rows[::-1] for p in row]

    _each(files, change)


@harmless
def an_arc_in_two_halves(files: Files) -> None:
    """Two arcs about one centre: the same line, one vertex more."""

    def change(doc: Doc) -> None:
        pocket = doc.one("BACK_POCKET_Z32-15", "LWPOLYLINE")
        rows = pocket.rows
        k = next(i for i, r in enumerate(rows) if r[2])
        arc = chain([rows[k][:2], rows[(k + 1) % len(rows)][:2]], [rows[k][2], 0.0], closed=False)
        half = math.tan(math.atan(rows[k][2]) / 2)
        (px, py), (qx, qy) = arc.xy.tolist()
        # The middle of an arc stands half a chord times the bulge off the chord's middle, on its right.
        x, y = (px + qx) / 2 + (qy - py) / 2 * rows[k][2], (py + qy) / 2 - (qx - px) / 2 * rows[k][2]
        rows[k][2] = half
        pocket.rows = [*rows[: k + 1], [x, y, half], *rows[k + 1 :]]

    files.dxf(BACK, change)


@harmless
def colours_and_line_types_changed(files: Files) -> None:
    _each(files, lambda d: [t.put(62, 3) for t in d.things])  # type: ignore[func-returns-value]  # a list of None


@harmless
def record_reformatted(files: Files) -> None:
    files.text("packet.json", lambda t: json.dumps(json.loads(t), indent=7, sort_keys=True))


@harmless
def archives_packed_otherwise(files: Files) -> None:
    for archive in (ROUTER_ZIP, LASER_ZIP):
        files.held[archive] = packed(files.held, archive, {}, how=0)
        files.zipped.add(archive)


@harmless
def picture_written_otherwise(files: Files) -> None:
    """Relative commands, short lines, a comment, other colours: the same picture."""
    files.svg(NEST, r"M100 -10L100 -35", "m100 -10v-25")
    files.svg(NEST, r'stroke="#[0-9a-f]{6}"', 'stroke="#123456"')
    files.svg(FRONT, r"<title>", "<!-- looked at -->\n<title>")
