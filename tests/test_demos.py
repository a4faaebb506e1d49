"""Every demo as a shop gets it: built in two processes that share nothing but the inputs, then read."""

from __future__ import annotations

import html.parser
import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from jsonschema import Draft202012Validator

from pipeline.path import build
from tests.readback import HOME, bounds, loops, start, touched, tree, zipped

DEMOS = ("curlew", "heron", "lapwing", "sandpiper")
PACKETS = ("curlew", "heron", "heron-left", "lapwing", "sandpiper")
RECIPES = sorted((HOME / "configs" / "recipes").glob("*.yaml"))
WORLDS = (
    {"PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland", "LC_ALL": "C"},
    {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C.UTF-8"},
)

NUMBER = r"\d+-\d\d"
LAYER = re.compile(
    r"(FRONT|BACK)_(CUT_OUTSIDE|CUT_INSIDE|SCORE"
    rf"|POCKET_Z{NUMBER}|RAMP_Z{NUMBER}_Z{NUMBER}|DRILL_DIA{NUMBER}_(Z{NUMBER}|THROUGH)"
    rf"|GROOVE_DIA{NUMBER}_Z{NUMBER}|ENGRAVE_Z{NUMBER})"
    r"|STOCK|DATUM|INDEX|BRIDGE|KEEP_CLEAR|CARVE_LINE|REFERENCE|CHECK_SQUARE|TEXT"
)
"""The closed list of layers, written out once more from the contract."""
CLOSED = re.compile(r"(FRONT|BACK)_(CUT_|POCKET_|RAMP_|DRILL_)")


@pytest.fixture(scope="session")
def worlds(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Two projects with their packets in `out`, built side by side under different seeds, zones and locales."""
    folders, processes = [], []
    for world in WORLDS:
        folder = tmp_path_factory.mktemp("demos")
        for part in ("configs", "demo_inputs"):
            shutil.copytree(HOME / part, folder / part)
        processes.append(start(["build", "configs/recipes", "--fresh"], folder, world))
        folders.append(folder)
    for process in processes:
        _, err = process.communicate(timeout=240)
        assert process.returncode == 0, err
    return folders[0], folders[1]


@pytest.fixture(scope="session")
def out(worlds: tuple[Path, Path]) -> Path:
    return worlds[0] / "out"


def drawings(out: Path) -> Iterator[tuple[Path, Any]]:
    for path in sorted(out.rglob("*.dxf")):
        yield path, ezdxf.readfile(path)


def test_all_demos_are_built(out: Path) -> None:
    assert [p.stem for p in RECIPES] == list(DEMOS)
    assert sorted(p.name for p in out.iterdir() if not p.name.startswith(".")) == list(PACKETS)


def test_same_bytes_in_another_world(worlds: tuple[Path, Path]) -> None:
    """Other folder, hash seed, time zone and locale."""
    here, there = ({n: b for n, b in tree(w / "out").items() if not n.startswith(".mouldloft/")} for w in worlds)
    assert sorted(here) == sorted(there)
    assert [n for n in here if here[n] != there[n]] == []
    assert len(here) > 40


def test_second_run_writes_nothing(worlds: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(worlds[0])
    before = touched(worlds[0])
    answer = build(["configs/recipes"], out="out")
    assert {d["state"] for d in answer.data["designs"]} == {"nothing to do"}, answer.data["designs"]
    assert touched(worlds[0]) == before


def test_no_machine_or_clock_in_a_packet(worlds: tuple[Path, Path]) -> None:
    for name, data in tree(worlds[0] / "out").items():
        if not name.startswith(".mouldloft/"):
            assert str(worlds[0]).encode() not in data, name


def test_audit_units_and_layers(out: Path) -> None:
    seen = set()
    for path, drawing in drawings(out):
        audit = drawing.audit()
        assert not audit.errors, path.name
        assert not audit.fixes, path.name
        assert drawing.dxfversion == "AC1024", path.name  # R2010
        assert drawing.header["$INSUNITS"] == 4, path.name  # millimetres (outside checks F2)
        for e in drawing.modelspace():
            assert LAYER.fullmatch(e.dxf.layer), f"{path.name}: {e.dxf.layer}"
            assert e.dxf.layer in drawing.layers, path.name
            seen.add(e.dxf.layer)
        extra = {la.dxf.name for la in drawing.layers} - {"0", "Defpoints"}
        assert all(LAYER.fullmatch(n) for n in extra), path.name
    assert {"FRONT_RAMP_Z16-00_Z17-89", "FRONT_CUT_OUTSIDE", "BACK_CUT_OUTSIDE", "INDEX", "TEXT"} <= seen


def test_only_closed_contours_where_a_machine_cuts(out: Path) -> None:
    for path, drawing in drawings(out):
        for e in drawing.modelspace():
            if not CLOSED.match(e.dxf.layer):
                continue
            assert e.dxftype() in ("LWPOLYLINE", "CIRCLE"), path.name
            if e.dxftype() == "LWPOLYLINE":
                assert e.closed, path.name
                assert e.dxf.const_width == 0, path.name
                points = [(x, y) for x, y in e.get_points("xy")]
                assert all(p != q for p, q in zip(points, points[1:] + points[:1], strict=True)), path.name


def test_a_laser_cut_file_holds_nothing_else(out: Path) -> None:
    cut = [p for p in sorted(out.rglob("shops/laser/*.dxf")) if not p.stem.endswith("_reference")]
    assert len(cut) == 6
    for path in cut:
        for e in ezdxf.readfile(path).modelspace():
            assert re.match(r"(FRONT|BACK)_(CUT_OUTSIDE|CUT_INSIDE|ENGRAVE|SCORE)", e.dxf.layer), path.name
        assert path.with_name(f"{path.stem}_reference.dxf").is_file()


def test_extents_are_true(out: Path) -> None:
    """$EXTMIN and $EXTMAX against all closed contours and open lines, by our own sum."""
    for path, drawing in drawings(out):
        boxes = [bounds(loop) for la in drawing.layers for loop in closed(drawing, la.dxf.name)]
        for e in drawing.modelspace().query("LWPOLYLINE"):
            if not e.closed:
                xs, ys = zip(*e.get_points("xy"), strict=True)
                boxes.append((min(xs), min(ys), max(xs), max(ys)))
        for e in drawing.modelspace().query("TEXT"):
            x, y, _ = e.dxf.insert
            boxes.append((x, y, x, y))
        low, high = drawing.header["$EXTMIN"], drawing.header["$EXTMAX"]
        true = (*(min(b[i] for b in boxes) for i in (0, 1)), *(max(b[i] for b in boxes) for i in (2, 3)))
        assert (low[0], low[1], high[0], high[1]) == pytest.approx(true, abs=3e-6), path.name


def closed(drawing: Any, layer: str) -> list[Any]:
    """Closed contours of a layer that may hold open ones too."""
    space = drawing.modelspace()
    if any(not e.closed for e in space.query(f'LWPOLYLINE[layer=="{layer}"]')):
        return []
    return loops(drawing, layer)


def test_back_files_are_mirrored_and_pins_coincide(out: Path) -> None:
    """Heron turns over about x: what is (x, y) in a front file is (x, −y) in a back one. Laminations 1 and 3 are
    worked from the back, 2 and the blank from the front; the pins tie all four together."""
    folder = out / "heron" / "shops" / "router"
    pins, edges = {}, {}
    for n in ("blank-1", "blank-2", "blank-3", "blank"):
        (path,) = folder.glob(f"heron-B_{n}_*x1.dxf")
        drawing = ezdxf.readfile(path)
        names = {e.dxf.layer for e in drawing.modelspace()}
        back = any(x.startswith("BACK_") for x in names)
        assert back == (n in ("blank-1", "blank-3"))
        assert not back or not any(x.startswith("FRONT_") for x in names)
        sign = -1 if back else 1
        pins[n] = sorted(
            (round(c.dxf.center.x, 6), round(sign * c.dxf.center.y, 6), c.dxf.radius)
            for c in drawing.modelspace().query("CIRCLE")
            if c.dxf.layer == "INDEX" or "_DRILL_" in c.dxf.layer
        )
        if n != "blank":
            (loop,) = loops(drawing, f"{'BACK' if back else 'FRONT'}_CUT_OUTSIDE")
            x0, y0, x1, y1 = bounds(loop)
            edges[n] = (x0, -y1, x1, -y0) if back else (x0, y0, x1, y1)
    assert all(p == [(-190.0, 0.0, 3.0), (225.0, 0.0, 4.0)] for p in pins.values()), pins  # as the recipe says
    assert edges["blank-1"] == pytest.approx(edges["blank-2"], abs=0.01)
    assert edges["blank-3"] == pytest.approx(edges["blank-2"], abs=0.01)
    assert abs(edges["blank-2"][1] + edges["blank-2"][3]) > 1, "a lopsided outline, so that a missing mirror shows"


def test_packet_json_follows_its_schema(out: Path) -> None:
    schema = json.loads((HOME / "pipeline" / "data" / "packet.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    for demo in PACKETS:
        found = json.loads((out / demo / "packet.json").read_text(encoding="utf-8"))
        assert [e.message for e in Draft202012Validator(schema).iter_errors(found)] == []
        there = {n for n in tree(out / demo) if n != "packet.json"}
        assert {f["path"] for f in found["files"]} == there
        assert 0 < found["proof"]["worst_mm"] <= 0.005


def test_zip_holds_the_folder(out: Path) -> None:
    zips = sorted(out.rglob("*.zip"))
    assert len(zips) == 8
    for path in zips:
        folder = tree(path.with_suffix(""))
        inside = zipped(path)
        assert {
            n.split("/", 1)[1] if n.split("/", 1)[0] == path.stem else n: b for n, b in inside.items()
        } == folder


def strict(path: Path) -> Any:
    """A recipe as plain values, read by PyYAML alone with YAML 1.2's idea of numbers and truth."""
    import yaml

    class Loader(yaml.SafeLoader):
        yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012 PyYAML's way

    core = {
        "bool": r"true|false", "null": r"null|~|", "int": r"[-+]?[0-9]+",
        "float": r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?",
    }  # fmt: skip
    for tag, pattern in core.items():
        Loader.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{pattern})$"), None)
    return yaml.load(path.read_text(encoding="utf-8"), Loader=Loader)


@pytest.fixture(scope="module")
def recipes() -> Draft202012Validator:
    from pipeline.intake.schema import recipe_schema

    return Draft202012Validator(json.loads(json.dumps(recipe_schema())))


@pytest.mark.parametrize("path", RECIPES, ids=lambda p: p.stem)
def test_recipe_schema_takes_the_demos(path: Path, recipes: Draft202012Validator) -> None:
    assert [f"{list(e.absolute_path)}: {e.message}" for e in recipes.iter_errors(strict(path))] == []


@pytest.mark.parametrize(
    "name",
    ["missing_names", "no_table", "out_of_range", "unknown_names", "unsafe_names", "wrong_forms", "wrong_units"],
)
def test_recipe_schema_rejects_the_bad_ones(name: str, recipes: Draft202012Validator) -> None:
    """Those whose fault is in the structure or in one value."""
    assert list(recipes.iter_errors(strict(HOME / "tests" / "errors" / "recipes" / f"{name}.yaml")))


class Tags(html.parser.HTMLParser):
    """Open tags, counted SVG pictures, and every address that a page would fetch or lead to."""

    VOID = frozenset(("area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"))

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.pictures = 0
        self.addresses: list[str] = []

    def _seen(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.pictures += tag == "svg"
        self.addresses += [
            v or "" for k, v in attributes if k in ("src", "href", "xlink:href", "srcset", "action")
        ]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._seen(tag, attrs)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._seen(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


@pytest.mark.parametrize("demo", PACKETS)
def test_report_is_one_whole_page(out: Path, demo: str) -> None:
    """One picture of each set-up (and nest) at least, nothing fetched, every tag closed."""
    text = (out / demo / "report.html").read_text(encoding="utf-8")
    tags = Tags()
    tags.feed(text)
    tags.close()
    assert tags.wrong == []
    assert tags.open == []
    assert not re.search(r"https?://", re.sub(r'xmlns(:\w+)?="[^"]*"', "", text))
    there = tree(out / demo)
    for address in tags.addresses:
        assert address.startswith(("#", "data:")) or address in there, address
    assert "<script src" not in text
    packet = json.loads((out / demo / "packet.json").read_text(encoding="utf-8"))
    set_ups = {
        (owner["name"], f["set_up"]) for owner in (*packet["pieces"], *packet["blanks"]) for f in owner["files"]
    }
    assert tags.pictures >= len(set_ups)
    for name, _ in set_ups:
        assert name in text
