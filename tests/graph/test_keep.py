"""Work is done again when, and only when, something that it read is not what it was."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from pipeline.core.errors import Refused, refuse
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Frame, Recipe, Sheet
from pipeline.core.shop import Shop
from pipeline.geometry.shapes import disc
from pipeline.graph.code import Code
from pipeline.graph.keep import Keep
from pipeline.graph.once import files_once, keeping, kept, kept_for, once, traced
from pipeline.graph.run import Run
from pipeline.graph.store import Store
from pipeline.graph.watch import noting, row, shared, watched
from pipeline.steps.values import Drawing, Drawn, Result
from tests.graph.recipes import drawing, place, recipe

CODE = ("pipeline.steps.values",)
Work = Callable[[Mapping[str, Any]], Any]


class Bench:
    """One store; each ``run`` is a run of its own, and tells whether the work was done."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.keep = self._keep()

    def _keep(self) -> Keep:
        return Keep(store=Store(self.out), code=Code(Run()))

    def run(self, work: Work, given: Mapping[str, Any] = MappingProxyType({}), **roots: Any) -> tuple[Any, bool]:
        self.keep = self._keep()
        with keeping(self.keep):
            made = traced("unit", "name", roots, work, code=CODE, given=given)
        return made, self.keep.done[-1].again


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


SHEETS = {"birch": Sheet(measured={"A": 11.8, "B": 11.7}, price=38.0), "mdf": Sheet(measured={"A": 9.1})}
BASE = recipe({"body": {}, "cover": {"body": "of"}}, sheets=SHEETS)
WITH_OAK = replace(BASE, sheets=SHEETS | {"oak": SHEETS["mdf"]})


def with_sheet(r: Recipe, name: str, **changed: Any) -> Recipe:
    return replace(r, sheets={**r.sheets, name: replace(r.sheets[name], **changed)})


def reads_b(roots: Mapping[str, Any]) -> float:
    found: float = roots["recipe"].sheets["birch"].measured["B"]
    return found


def test_only_what_was_read_counts(bench: Bench):
    assert bench.run(reads_b, recipe=BASE) == (11.7, True)
    assert bench.run(reads_b, recipe=BASE) == (11.7, False)
    for other in (
        with_sheet(BASE, "birch", price=40.0),
        with_sheet(BASE, "birch", measured={"A": 12.0, "B": 11.7, "C": 3.0}),
        with_sheet(BASE, "mdf", measured={"A": 1.0}),
        replace(BASE, title="other", tolerance=0.001, steps={}),
    ):
        assert bench.run(reads_b, recipe=other) == (11.7, False)
    assert bench.run(reads_b, recipe=with_sheet(BASE, "birch", measured={"B": 11.75})) == (11.75, True)
    assert bench.run(reads_b, recipe=BASE) == (11.7, False)  # the older run is remembered too


READERS: dict[str, tuple[Work, Recipe, Recipe]] = {
    "a name that is not there": (lambda r: "oak" in r["recipe"].sheets, BASE, WITH_OAK),
    "get of what is not there": (
        lambda r: r["recipe"].sheets.get("oak") is None, BASE, WITH_OAK
    ),
    "all names": (lambda r: list(r["recipe"].sheets), BASE, replace(BASE, sheets=dict(reversed(SHEETS.items())))),
    "how many": (lambda r: len(r["recipe"].sheets), BASE, replace(BASE, sheets={"mdf": SHEETS["mdf"]})),
    "whether any": (lambda r: bool(r["recipe"].sheets), BASE, replace(BASE, sheets={})),
    "what kind of thing": (
        lambda r: r["recipe"].frame is None, BASE, replace(BASE, frame=Frame())
    ),
    "a kind among all steps": (
        lambda r: any(s.kind == "fretboard" for s in r["recipe"].steps.values()),
        BASE,
        recipe({"body": {}, "cover": {"body": "of"}}, {"cover": "fretboard"}, sheets=SHEETS),
    ),
    "equality": (
        lambda r: r["recipe"].sheets["birch"] == SHEETS["birch"], BASE, with_sheet(BASE, "birch", price=1.0)
    ),
    "a copy with a change": (
        lambda r: replace(r["recipe"].sheets["birch"], density=700.0), BASE, with_sheet(BASE, "birch", price=1.0)
    ),
    "its words": (lambda r: repr(r["recipe"].sheets["birch"]), BASE, with_sheet(BASE, "birch", grain="x")),
    "a property": (
        lambda r: r["recipe"].default_shop.half_depth,
        BASE,
        replace(BASE, shops={"router": Shop(partial_depth=False)}),
    ),
    "the whole of it": (lambda r: r["recipe"].sheets["birch"], BASE, with_sheet(BASE, "birch", price=1.0)),
    "the line itself": (
        lambda r: r["recipe"].steps["body"].place().line, BASE,
        replace(BASE, steps=recipe({"new": {}, "body": {}, "cover": {"body": "of"}}).steps),
    ),
    "whether a field is written": (
        lambda r: "of" in r["recipe"].steps["cover"].places, BASE, recipe({"body": {}, "cover": {}}, sheets=SHEETS)
    ),
}  # fmt: skip


@pytest.mark.parametrize("reader", READERS)
def test_however_it_is_read_it_counts(bench: Bench, reader: str):
    work, base, other = READERS[reader]
    assert bench.run(work, recipe=base) == (work({"recipe": base}), True)
    assert bench.run(work, recipe=base) == (work({"recipe": base}), False)
    assert bench.run(work, recipe=other) == (work({"recipe": other}), True)
    assert bench.run(work, recipe=base) == (work({"recipe": base}), False)


def test_the_way_taken_counts(bench: Bench):
    """What is read depends on what was read before."""

    def work(roots: Mapping[str, Any]) -> float:
        r = roots["recipe"]
        return r.tolerance if r.make == 1 else r.sheets["mdf"].measured["A"]  # type: ignore[no-any-return]

    assert bench.run(work, recipe=BASE)[1]
    assert not bench.run(work, recipe=with_sheet(BASE, "mdf", measured={"A": 2.0}))[1]
    assert bench.run(work, recipe=replace(BASE, make=2)) == (9.1, True)
    assert bench.run(work, recipe=with_sheet(replace(BASE, make=2), "mdf", measured={"A": 2.0})) == (2.0, True)
    assert not bench.run(work, recipe=replace(BASE, make=2, tolerance=0.1))[1]


def test_a_place_is_handed_on_unread(bench: Bench):
    def work(roots: Mapping[str, Any]) -> tuple[Finding, ...]:
        where = roots["recipe"].steps["cover"].place("of")
        return (Finding(check="c", severity="ask", message="m", place=where),)

    made, again = bench.run(work, recipe=BASE)
    assert again
    assert made[0].place == place(21, 9)
    assert type(made[0].place) is Place
    later = recipe({"body": {}, "well": {}, "cover": {"body": "of"}}, sheets=SHEETS)
    made, again = bench.run(work, recipe=later)
    assert not again
    assert made[0].place == place(31, 9)


def test_results_count_by_their_content_and_field_by_field(bench: Bench):
    def work(roots: Mapping[str, Any]) -> float:
        return roots["results"]["body"].region.area  # type: ignore[no-any-return]

    body = Result(step="body", kind="outline", region=disc(0, 0, 10), reports=("made",))
    assert bench.run(work, results={"body": body})[1]
    same = replace(body, region=disc(0, 0, 10), reports=("made otherwise",), numbers={"x": 1})
    assert bench.run(work, results={"body": same}) == (body.region and body.region.area, False)
    assert bench.run(work, results={"body": replace(body, region=disc(0, 0, 11))})[1]


def test_objects_of_a_drawing_count_one_by_one(bench: Bench):
    def work(roots: Mapping[str, Any]) -> float:
        return roots["drawing"].objects["body"].region.area  # type: ignore[no-any-return]

    def drawn(name: str, radius: float, line: int = 1) -> Drawn:
        at = Place(file="wren.svg", line=line, object=name)
        return Drawn(name=name, region=disc(0, 0, radius), lines=(), mark=None, place=at)

    def of(body: float, well: float, line: int = 1) -> Drawing:
        return replace(drawing(), objects={"body": drawn("body", body, line), "well": drawn("well", well)})

    assert bench.run(work, drawing=of(10, 5))[1]
    assert not bench.run(work, drawing=of(10, 6, line=7))[1]
    assert bench.run(work, drawing=of(11, 5))[1]


def test_what_is_given_counts_whole_and_so_does_the_code(bench: Bench, monkeypatch: pytest.MonkeyPatch):
    def work(_: Mapping[str, Any]) -> int:
        return 1

    assert bench.run(work, {"rows": [1, 2]})[1]
    assert not bench.run(work, {"rows": [1, 2]})[1]
    assert bench.run(work, {"rows": [1, 2, 3]})[1]
    monkeypatch.setattr(Code, "version", lambda self, *modules: "another")
    assert bench.run(work, {"rows": [1, 2]})[1]


def test_a_list_that_grew_is_signed_anew(tmp_path: Path):
    keep, rows = Keep(store=Store(tmp_path), code=Code(Run())), [1]
    for again in (True, False):
        keep.traced("u", "n", {}, lambda _: 1, code=CODE, given={"rows": rows})
        assert keep.done[-1].again is again
    rows.append(2)
    keep.traced("u", "n", {}, lambda _: 1, code=CODE, given={"rows": rows})
    assert keep.done[-1].again


def test_a_result_holds_no_stand_in(bench: Bench):
    def work(roots: Mapping[str, Any]) -> Any:
        r = roots["recipe"]
        return (
            r.sheets["birch"],
            {"all": r.sheets},
            [r.steps["body"]],
            Result(step="s", kind="k", numbers=r.parameters),
        )

    made, _ = bench.run(work, recipe=replace(BASE, parameters={"skin": 4.0}))
    assert type(made[0]) is Sheet
    assert type(made[1]["all"]) is dict
    assert made[2][0] is BASE.steps["body"]
    assert type(made[3].numbers) is dict


def test_a_refusal_is_told_each_time_and_never_kept(bench: Bench):
    def work(roots: Mapping[str, Any]) -> int:
        raise refuse("No.", place=roots["recipe"].steps["body"].place())

    for _ in range(2):
        with pytest.raises(Refused) as caught:
            bench.run(work, recipe=BASE)
        assert type(caught.value.problems[0].place) is Place
        assert caught.value.show() == "wren.yaml:10:3: No."


def test_what_the_store_cannot_hold_is_made_each_time(bench: Bench):
    for _ in range(2):
        made, again = bench.run(lambda r: {r["recipe"].make}, recipe=BASE)
        assert (made, again) == ({1}, True)
    with keeping(Keep(store=Store(bench.out), code=Code(Run()))) as keep:
        assert traced("unit", "odd", {}, lambda _: 1, code=CODE, given={"odd": object()}) == 1
    assert keep.done == []


def test_any_entry_may_be_lost_or_damaged(bench: Bench):
    """Whatever is taken away, the answer is right; at worst the work is done again, and then kept again."""
    bench.run(reads_b, recipe=BASE)
    files = [p for p in (bench.out / ".mouldloft/store").rglob("*") if p.is_file() and p.parent.name != "store"]
    assert len(files) >= 2
    for file in files:
        whole = file.read_bytes()
        for spoilt in (
            None,
            b"",
            whole[: len(whole) // 2],
            whole[:-1] + bytes([whole[-1] ^ 1]),
            b"x" * len(whole),
        ):
            file.unlink() if spoilt is None else file.write_bytes(spoilt)
            assert bench.run(reads_b, recipe=BASE)[0] == 11.7
            assert bench.run(reads_b, recipe=BASE) == (11.7, False)
        file.write_bytes(whole)


def test_so_many_runs_are_remembered(tmp_path: Path):
    def run(make: int) -> bool:
        keep = Keep(store=Store(tmp_path), code=Code(Run()), most=3)
        keep.traced("u", "n", {"recipe": replace(BASE, make=make)}, lambda r: r["recipe"].make, code=CODE)
        return keep.done[-1].again

    assert [run(n) for n in (1, 2, 3, 4)] == [True] * 4
    assert [run(n) for n in (4, 3, 2)] == [False] * 3
    assert run(1)


def test_recipes_and_units_do_not_meet(tmp_path: Path):
    for of in ("a.yaml", "b.yaml"):
        for unit in ("u", "v"):
            keep = Keep(store=Store(tmp_path), code=Code(Run()), of=of)
            made = keep.traced(unit, "n", {}, lambda _, x=(of, unit): x, code=CODE)
            assert made == (of, unit)


def test_plain_functions_are_kept_by_their_arguments(tmp_path: Path):
    calls: list[int] = []

    def work() -> int:
        calls.append(1)
        return len(calls)

    for n, arguments in enumerate([(disc(0, 0, 1), 2.0), (disc(0, 0, 1), 2.0), (disc(0, 0, 1), -2.0)]):
        with keeping(Keep(store=Store(tmp_path), code=Code(Run()))):
            made = kept("square", arguments, work, code=CODE)
        assert made == (1, 1, 2)[n]
    assert kept("square", (1,), work, code=CODE) == 3  # nobody keeps here
    with keeping(Keep(store=Store(tmp_path), code=Code(Run()))):
        assert [kept("odd", (object(),), work, code=CODE) for _ in range(2)] == [4, 5]


def test_what_several_share_counts_for_each(bench: Bench):
    class Seen:
        def __init__(self, r: Any) -> None:
            self.recipe = r

        @shared
        def thickest(self) -> float:
            return max(self.recipe.sheets["birch"].measured.values())  # type: ignore[no-any-return]

    def run(r: Recipe) -> list[bool]:
        keep = Keep(store=Store(bench.out), code=Code(Run()))
        seen = Seen(watched(r, ("recipe",)))
        for name in ("first", "second"):
            keep.traced("check", name, {"recipe": r}, lambda _: seen.thickest, code=CODE)
        return [d.again for d in keep.done]

    assert run(BASE) == [True, True]
    assert run(with_sheet(BASE, "mdf", measured={"A": 1.0})) == [False, False]
    assert run(with_sheet(BASE, "birch", measured={"A": 12.5, "B": 11.7})) == [True, True]
    assert Seen(BASE).thickest == 11.8


def test_a_row_counts_when_it_is_looked_into(bench: Bench):
    with noting() as notes:
        handed = row((1, 2), ("nests",))
        assert not notes
        assert list(handed) == [1, 2]
    assert notes == {(("nests",), "whole"): (1, 2)}


def area(derived: Recipe, more: float) -> float:
    return derived.tolerance + more


area.__module__ = CODE[0]


def test_once_reads_the_rest_whole(tmp_path: Path):
    def run(r: Recipe, more: float) -> tuple[float, bool]:
        keep = Keep(store=Store(tmp_path), code=Code(Run()))
        with keeping(keep):
            made = once(area, derived=r, more=more)
        return made, keep.done[-1].again

    assert run(BASE, 1.0) == (1.005, True)
    assert run(replace(BASE, title="other"), 1.0) == (1.005, False)
    assert run(BASE, 2.0) == (2.005, True)


def test_files_are_put_where_they_were_written(tmp_path: Path):
    def write(folder: Path, recipe: Recipe) -> None:
        (folder / "print").mkdir(parents=True, exist_ok=True)
        (folder / "print/a.txt").write_text(recipe.title)

    write.__module__ = CODE[0]
    for n, again in ((1, True), (2, False)):
        stage = tmp_path / f"stage-{n}"
        stage.mkdir()
        (stage / "own.txt").write_text("there before")
        keep = Keep(store=Store(tmp_path), code=Code(Run()))
        with keeping(keep):
            files_once(stage, write, recipe=BASE)
        assert keep.done[-1].again is again
        assert (stage / "print/a.txt").read_text() == "Wren"
        assert sorted(p.name for p in stage.iterdir()) == ["own.txt", "print"]


def test_work_while_our_files_are_replaced_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def work() -> bool:
        with kept_for(BASE, tmp_path, Run()) as keep:
            traced("unit", "name", {"recipe": BASE}, reads_b, code=CODE)
        return keep.done[-1].again

    with monkeypatch.context() as patch:
        patch.setattr("pipeline.graph.once.moved", lambda: True)
        assert work()
        assert work()
    assert work()
    assert not work()
