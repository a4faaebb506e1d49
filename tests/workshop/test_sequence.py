"""The order of work: complete, in a possible order, each line with its reason, the same on any machine."""

from __future__ import annotations

import os
import subprocess
import sys

from pipeline.core.recipe import HardwarePart
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.steps.values import Derived, Label, Op, SetUp, WorkLine
from pipeline.workshop.cautions import cautions
from pipeline.workshop.sequence import sequence
from tests.workshop.factory import body_w, of_pieces, piece, ring

BODY = """\
maker   let the sheets lie in the workshop for two days
maker   measure each sheet of birch12 at eight points, 50 mm in from the edges (A 11.8, B 11.7, C 11.9)
maker   measure each sheet of mdf9 at eight points, 50 mm in from the edges (A 9.1)
maker   measure each sheet of ply3 at eight points, 50 mm in from the edges (A 3.1)
laser   cut one 20 mm square from ply3: its hole less the square, halved, is the cut's width [beam]
maker   put what was measured into the recipe, build again where it differs, and send these files
router  bore the index holes (pins), 6 through <blank-1 front> [cutter 6]
router  bore the index holes (pins), 8 through <blank-1 front> [cutter 8]
router  cut the outside <blank-1 front> [cutter 8]
router  bore the index holes (pins), 8 through <blank-2 front> [cutter 8]
router  bore the index holes (pins), 6 through <blank-2 front> [cutter 6]
router  cut the openings <blank-2 front> [cutter 8]
router  cut the outside <blank-2 front> [cutter 8]
router  bore the index holes (pins), 8 through <blank-3 front> [cutter 8]
router  bore the index holes (pins), 6 through <blank-3 front> [cutter 6]
router  cut the outside <blank-3 front> [cutter 8]
maker   number the laminations of blank from the back <blank>
maker   stack them dry on waxed pins (pins) <blank>
maker   spread the glue on 2 joints and press <blank>
maker   knock the pins out <blank>
maker   let the blank rest for 24 hours <blank>
laser   cut the outside <cover front> [beam]
router  cut the openings <pickup_guide front> [cutter 8]
router  cut the outside <pickup_guide front> [cutter 8]
maker   measure the blank's thickness (35.50 in these files) <blank>
maker   enter it in the made register and build again <blank>
router  skim the machine's table and bore its pin holes for blank
router  pocket (control), 32.15 deep <blank back> [cutter 8]
router  turn blank over onto its pins <blank front>
router  pocket with a sloped floor (neck_pocket), 16.00 to 18.10 deep <blank front> [cutter 8]
router  cut the outside <blank front> [cutter 8]
maker   free blank and trim its bridges <blank>
maker   bore out most of pickup <blank front> [drill]
maker   rout pickup by pickup_guide <blank front> [bush 17, cutter 8]
maker   fit cover over control in the back <cover>
maker   try every bought part in its place: neck
maker   mark screw holes from the parts as they stand true, and drill those that are still missing
maker   sand
maker   apply the finish and let it cure by its data sheet
maker   assemble"""


def told(line: WorkLine) -> str:
    where = f" <{' '.join(x for x in (line.piece, line.face) if x)}>" if line.piece else ""
    return f"{line.who:7s} {line.work}{where}{f' [{line.cutter}]' if line.cutter else ''}"


def at(design: Derived, words: str) -> int:
    found = [w.n for w in sequence(design) if words in f"{told(w)} "]
    assert len(found) == 1, (words, found)
    return found[0]


NECK = {"neck": HardwarePart(mass=410.0)}


def test_the_whole_order_of_body_w():
    assert "\n".join(told(w) for w in sequence(body_w(hardware=NECK))) == BODY


def test_every_line_has_its_number_and_its_reason():
    work = sequence(body_w(make=2, hardware=NECK))
    assert [w.n for w in work] == list(range(1, len(work) + 1))
    assert all(w.because and not w.because.endswith(".") and w.because[0].islower() for w in work)


def test_a_laser_marks_then_opens_then_frees():
    """Trade notes 13.2: b5 → b6 → b7 → b8."""
    square = ring(60.0, 30.0)
    cut = piece("tile", square, shop="laser", sheet="ply3").set_ups[0]
    score = Op(work="SCORE", face="front", contours=(rectangle(10.0, 10.0),))
    part = piece("tile", square, shop="laser", sheet="ply3", set_ups=(SetUp(face="front", ops=(*cut.ops, score)),))
    work = [w for w in sequence(of_pieces(part)) if w.piece == "tile"]
    assert [w.work for w in work] == ["score the marks", "cut the openings", "cut the outside"]
    assert work[2].because == "once the outside is cut the piece can drop or tilt under the lens"


def test_a_router_frees_its_work_last():
    """Trade notes 13.1, R: the full blank is the clamp; also where the cutter in hand would tempt it on."""
    small, large = (Op(work="CUT_INSIDE", face="front", contours=(circle(0, 0, r),)) for r in (2.0, 30.0))
    outside = piece("plate", solid(rectangle(90.0, 90.0))).set_ups[0].ops
    plate = piece(
        "plate", solid(rectangle(90.0, 90.0)), set_ups=(SetUp(face="front", ops=(*outside, large, small)),)
    )
    work = [w for w in sequence(of_pieces(plate)) if w.piece == "plate"]
    assert [(w.work, w.cutter) for w in work] == [
        ("cut the openings", "cutter 3"),
        ("cut the openings", "cutter 8"),
        ("cut the outside", "cutter 8"),
    ]
    assert "is the clamp" in work[-1].because
    only_small = piece(
        "plate", solid(rectangle(90.0, 90.0)), set_ups=(SetUp(face="front", ops=(*outside, small)),)
    )
    design = of_pieces(piece("a", solid(rectangle(95.0, 95.0))), only_small)
    work = [w for w in sequence(design) if w.piece in ("a", "plate")]
    assert [(w.piece, w.work) for w in work] == [
        ("plate", "cut the openings"),  # with cutter 3, and all that follows with cutter 8
        ("plate", "cut the outside"),
        ("a", "cut the outside"),
    ]


def test_engraved_text_comes_before_the_piece_is_free():
    label = Label(text="WREN A", at=(0.0, 0.0), height_mm=6.0, engrave=True)
    plain = piece("guide", ring(80.0, 40.0)).set_ups[0]
    part = piece("guide", ring(80.0, 40.0), set_ups=(SetUp(face="front", ops=plain.ops, labels=(label,)),))
    work = [w.work for w in sequence(of_pieces(part)) if w.piece == "guide"]
    assert work == ["engrave the text", "cut the openings", "cut the outside"]


def test_templates_alone_need_no_finish():
    guide = piece("guide", ring(80.0, 40.0), role="template")
    assert [w.work for w in sequence(of_pieces(guide))][-1] == "cut the outside"


def test_loose_panels_are_tried_together():
    design = of_pieces(piece("side", solid(rectangle(90.0, 60.0))), piece("floor", solid(rectangle(80.0, 60.0))))
    assert [w.work for w in sequence(design)][-3] == "put all parts together dry"


def test_another_hash_seed_gives_the_same_lines():
    code = (
        "from tests.workshop.factory import body_w\n"
        "from pipeline.workshop.sequence import sequence\n"
        "from pipeline.workshop.nest import nests\n"
        "print(sequence(body_w(make=2)), nests(body_w(make=2)))"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("0", "77")
    }
    assert len(said) == 1


# -- cautions --------------------------------------------------------------------------------------
def test_cautions_follow_the_ways_of_working():
    whole = cautions(body_w())
    for words in ("CNC router", "Laser", "Hand router", "Glue", "Dust", "Finishing", "manual", "data sheet"):
        assert any(words in c for c in whole), words
    plain = cautions(of_pieces(piece("guide", ring(60.0, 30.0), role="template")))
    assert not any(c.startswith(("Laser", "Glue", "Finishing")) for c in plain)
    assert any(c.startswith("Hand router") for c in plain)


def test_the_feed_of_a_hand_router_is_against_the_cutter():
    """Trade notes 5.3: hand router seen from above, outside anticlockwise, inside clockwise."""
    said = next(c for c in cautions(body_w()) if c.startswith("Hand router: feed"))
    assert "clockwise round an opening, anticlockwise round an outside edge" in said


def test_nothing_claims_strength():
    assert any("Nothing here says how strong" in c for c in cautions(body_w()))
