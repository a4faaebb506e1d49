"""parts.csv, sequence.csv, letter.txt, packet.json, the archives."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.core.shop import Shop
from pipeline.packet.letter import letter_text
from pipeline.packet.packet_json import tidy
from pipeline.packet.shop_files import shop_files
from pipeline.packet.tables import cell, parts_csv, sequence_csv
from pipeline.packet.write import write_shop_files
from tests.packet import factory as f
from tests.packet.whole import ASK, WORK, written

SCHEMA = json.loads(
    (Path(__file__).resolve().parents[2] / "pipeline/data/packet.schema.json").read_text(encoding="utf-8")
)


# -- packet.json -----------------------------------------------------------------------------------
def test_packet_json_holds_to_its_schema(tmp_path: Path) -> None:
    """The shipped schema is a valid draft 2020-12 schema and the written file obeys it."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    written(tmp_path)
    found = json.loads((tmp_path / "packet.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(SCHEMA).validate(found)
    # The keys that the packet promises, spelled so; behind them what comparing and gauging need.
    assert " ".join(found) == (
        "format design revision variant units inputs pieces blanks steps sequence findings files totals proof "
        "views gauges"
    )
    assert " ".join(found["pieces"][0]) == (
        "name role step sheet letter shop count since thickness_mm area_mm2 perimeter_mm bounds_mm mass_g files"
    )
    assert " ".join(found["findings"][0]) == (
        "check severity step piece at_mm face measured limit remedy accepted"
    )
    assert " ".join(found["totals"]) == "mass_g centre_of_mass_mm sheets cost machine_minutes"


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (["format"], 2),
        (["units"], "inch"),
        (["extra"], 1),
        (["files", 0, "path"], "/etc/passwd"),
        (["files", 0, "path"], "shops/../../x"),
        (["files", 0, "sha256"], "abc"),
        (["pieces", 0, "area_mm2"], -1),
        (["pieces", 0, "bounds_mm"], [0, 0, 1]),
        (["findings", 0, "severity"], "warning"),
        (["blanks", 0, "laminations"], []),
        (["proof", "worst_mm"], "small"),
    ],
)
def test_the_schema_turns_away_what_is_wrong(tmp_path: Path, path: list[Any], value: Any) -> None:
    found = written(tmp_path)
    spot: Any = found
    for key in path[:-1]:
        spot = spot[key]
    spot[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(SCHEMA).validate(found)


def test_measures_are_of_the_design_edge(tmp_path: Path) -> None:
    """Body W (trade.md: 55 883.61 mm², 885.398 mm) with an opening of radius 20; all contours count."""
    piece = written(tmp_path)["pieces"][0]
    assert piece["area_mm2"] == pytest.approx(55_883.61 - math.pi * 400, abs=0.005)
    assert piece["perimeter_mm"] == pytest.approx(885.398 + 2 * math.pi * 20, abs=0.0005)
    assert piece["bounds_mm"] == pytest.approx([-100, -120, 232, 120])
    assert piece["since"] == "B"


def test_every_file_is_listed_with_its_hash_and_every_listed_path_exists(tmp_path: Path) -> None:
    found = written(tmp_path)
    on_disk = {p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file()} - {"packet.json"}
    assert {v["path"] for v in found["files"]} == on_disk
    for v in found["files"]:
        data = (tmp_path / v["path"]).read_bytes()
        assert (v["sha256"], v["bytes"]) == (hashlib.sha256(data).hexdigest(), len(data))
    shown = [v for p in (*found["pieces"], *found["blanks"]) for v in p["files"]]
    assert {v["path"] for v in shown} <= on_disk
    assert {(v["set_up"], v["format"]) for v in found["blanks"][0]["files"]} == {
        (face, kind) for face in ("back", "front") for kind in ("dxf", "svg")
    }
    assert [v["path"] for v in found["pieces"][1]["files"]] == [
        "shops/laser/heron-B_nest-ply3-A.dxf",
        "shops/laser/heron-B_nest-ply3-A.svg",
        "shops/laser/heron-B_nest-ply3-A_reference.dxf",
    ]
    text = (tmp_path / "packet.json").read_text(encoding="utf-8")
    assert str(tmp_path) not in text
    assert "/nowhere" not in text


def test_numbers_lose_their_noise_and_nothing_else() -> None:
    """8.55 as a sum of binary numbers is 8.55 again; a depth of 32.145 stays unrounded."""
    assert tidy({"a": (0.1 + 0.2, -0.0, 32.145), "b": [True, None, 3]}) == {
        "a": [0.3, 0.0, 32.145],
        "b": [True, None, 3],
    }
    assert math.copysign(1, tidy(-1e-12)) == 1
    with pytest.raises(ValueError, match="finite"):
        tidy([math.nan])


# -- tables ----------------------------------------------------------------------------------------
@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=30))
def test_no_cell_is_ever_a_formula(text: str) -> None:
    """Cells that a spreadsheet would run begin with = + - @ or a tab or return (libraries.md 7); ours never do,
    and a cell comes back as one cell of one line."""
    table = parts_csv([{"part": text, "n": -1.5}])
    rows = list(csv.reader(io.StringIO(table)))
    assert len(rows) == 2
    shown = rows[1][0]
    assert not shown.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    assert rows[1][1] == "-1.5"


def test_cells_are_plain() -> None:
    assert [cell(v) for v in (None, True, 3, 2.50, -0.0, (1.0, 2.5), "=1+1", "-x", "a,b")] == [
        "", "yes", "3", "2.5", "0", "1 x 2.5", "'=1+1", "'-x", "a,b",
    ]  # fmt: skip


def test_the_order_of_work_as_a_table() -> None:
    rows = list(csv.reader(io.StringIO(sequence_csv(WORK))))
    assert rows[0] == ["n", "work", "piece", "face", "cutter", "who", "because", "kind", "caution", "price", "day"]
    assert rows[1][:7] == ["1", "bore index holes", "blank", "back", "6 end", "maker", "all is located on them"]
    assert rows[1][7:] == ["must", "", "", "1"]


# -- letter ----------------------------------------------------------------------------------------
def letter(*findings: Finding, held: bool = False, since: dict[str, str] | None = None) -> str:
    derived, nests = f.derived(), (f.cover_nest(),)
    return letter_text(derived, shop_files(derived, nests), nests, findings, held=held, since=since or {})


def test_the_letter_names_files_questions_and_defaults() -> None:
    text = letter(ASK, since={"cover": "A"})
    router, laser = text.split("To the shop: laser")
    flat = " ".join(router.split())
    assert "heron-B_blank_x1_back (dxf, svg): glued blank blank, 23.55 thick, 1 to make, back up." in flat
    assert (
        "1. blank, front, near x 160.00, y 25.50 of the design: The wall beside the neck pocket is thin." in flat
    )
    assert "(measured 7.80 mm; limit 8.00 mm)" in flat
    assert "Our answer if we hear nothing: cut it as drawn." in flat
    assert "move the pocket 0.20 toward the centreline." in flat
    assert "Questions\n  None." in laser
    assert "Not changed since revision A: cover." in laser
    assert "ply3 A, 600.00 x 300.00, measured 3.10 thick: 1 sheet." in " ".join(laser.split())
    assert "HELD" not in text
    assert all(len(line) <= 92 for line in text.split("\n"))


def test_accepted_findings_and_notes_are_no_questions() -> None:
    assert "wall" not in letter(replace(ASK, accepted="blended by hand"), replace(ASK, severity="note"))


def test_a_held_packet_says_so_first() -> None:
    assert letter(held=True).startswith("HELD: ")


def test_a_shop_reads_nothing_of_the_others() -> None:
    """The router's part of the letter names neither the laser's files nor its questions."""
    mine = replace(ASK, step="cover", piece="cover", message="The hole is small")
    router = letter(ASK, mine).split("To the shop: laser")[0]
    assert "cover" not in router
    assert "The hole is small" not in router


# -- archives and names ----------------------------------------------------------------------------
def test_a_shops_archive_holds_its_folder(tmp_path: Path) -> None:
    """The same files under the folder's name, dated 1980-01-01, in sorted order."""
    written(tmp_path)
    for shop in ("router", "laser"):
        with zipfile.ZipFile(tmp_path / "shops" / f"{shop}.zip") as archive:
            assert archive.testzip() is None
            names = archive.namelist()
            folder = tmp_path / "shops" / shop
            assert names == sorted(f"{shop}/{p.name}" for p in folder.iterdir())
            assert {i.date_time for i in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
            for name in names:
                assert archive.read(name) == (tmp_path / "shops" / name).read_bytes()


@pytest.mark.parametrize("name", ["../up", "a/b", "con", "", ".hidden", "x" * 300, "naïve", "a b", "nul.txt"])
def test_names_that_could_leave_the_folder_are_refused(tmp_path: Path, name: str) -> None:
    derived = f.derived(f.recipe({"router": replace(Shop(), name=name)}))
    pieces = tuple(replace(p, shop=name) for p in derived.pieces if p.shop == "router")
    bad = shop_files(f.derived(derived.recipe, pieces=pieces, blanks=()), ())
    with pytest.raises(Refused, match="file name"):
        write_shop_files(tmp_path / "packet", bad)
    assert not (tmp_path / "packet").exists()


def test_two_files_that_differ_in_capitals_alone_are_refused(tmp_path: Path) -> None:
    """Some disks take them for one file, and the second would silently replace the first."""
    one = f.lamination()
    files = shop_files(f.derived(pieces=(one, replace(one, name="BLANK-1")), blanks=()), ())
    with pytest.raises(Refused, match="capitals"):
        write_shop_files(tmp_path, files)
