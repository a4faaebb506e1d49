"""What a recipe asks of the order of work: its own cautions, those it leaves out, rings, and what each costs."""

from __future__ import annotations

import shutil
from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.core.reasons import REASONS, RELAXABLE
from pipeline.core.recipe import Relaxed
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.steps.values import Derived, WorkLine
from pipeline.verbs import sequence as told
from pipeline.workshop.arrange import Line, arranged
from pipeline.workshop.sequence import left_idle, sequence
from pipeline.workshop.tasks import Link, Task

DESIGNS = Path(__file__).parent / "designs"


def changed(tmp_path: Path, name: str, *changes: tuple[str, str]) -> Path:
    """A small design with some of its text changed; the recipe's path."""
    shutil.copytree(DESIGNS, tmp_path, dirs_exist_ok=True)
    path = tmp_path / f"{name}.yaml"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def made(path: Path) -> Derived:
    recipe = read_recipe(path)
    return derive(recipe, read_drawing(recipe))


def line(work: tuple[WorkLine, ...], words: str) -> WorkLine:
    (found,) = [w for w in work if words in w.work]
    return found


# -- the oracle as a recipe ----------------------------------------------------------------------------
def test_the_oracle_as_a_recipe(tmp_path: Path):
    """Trade notes 13.3: 1 flip and 6 tool changes."""
    work = sequence(made(changed(tmp_path, "oracle")))
    assert line(work, "pocket (f4)").visit == "2 set-ups, 1 flip, 6 tool changes: no order has fewer"
    cutters = [w.cutter for w in work if w.piece == "body" and w.cutter]
    assert sum(a != b for a, b in pairwise(cutters)) == 6
    assert not line(work, "pocket (f4)").price


def test_the_cautious_edges_as_a_recipe(tmp_path: Path):
    """8 tool changes, and the line says that the caution costs 2 of them."""
    path = changed(tmp_path, "oracle", ("depth: 7}\n", "depth: 7, after: [f2, f3]}\n"))
    work = sequence(made(path))
    f4 = line(work, "pocket (f4)")
    assert f4.visit == "2 set-ups, 1 flip, 8 tool changes: no order has fewer"
    assert (f4.kind, f4.price) == ("quality", "this caution costs 2 tool changes")
    assert f4.because in ("the recipe asks for f2 before f4", "the recipe asks for f3 before f4")
    assert "this caution costs 2 tool changes" in told(path).text


# -- prices --------------------------------------------------------------------------------------------
def cut(key: str, cutter: str, face: str = "front") -> Task:
    return Task(key=key, work=key, stage=1, clamping=f"p {face}", piece="p", face=face, cutter=cutter, who="mill")


def link(before: str, after: str, reason: str) -> Link:
    return Link(before=before, after=after, reason=REASONS[reason])


def lines(tasks: list[Task], links: list[Link], *relax: Relaxed) -> dict[str, Line]:
    return {x.task.key: x for x in arranged(tasks, links, relax)}


def test_a_caution_that_costs_nothing_has_no_price():
    tasks = [cut("text", "3"), cut("hole", "6"), cut("rim", "6")]
    found = lines(tasks, [link("text", "hole", "mark-first"), link("hole", "rim", "clamp")])
    assert [x.price for x in found.values()] == ["", "", ""]
    assert list(found) == ["text", "hole", "rim"]


def test_a_caution_that_costs_a_tool_change_says_so_where_it_holds():
    """Marks with cutter 6 before openings with 3: 6, 3, 6 where 3, 6, 6 would do."""
    tasks = [cut("text", "6"), cut("hole", "3"), cut("rim", "6")]
    links = [link("text", "hole", "mark-first"), link("hole", "rim", "clamp"), link("text", "rim", "clamp")]
    found = lines(tasks, links)
    assert found["hole"].price == "this caution costs 1 tool change"
    assert (found["hole"].kind, found["hole"].caution) == ("quality", "mark-first")
    assert not found["rim"].price


def test_a_must_has_no_price():
    tasks = [cut("text", "6"), cut("hole", "3"), cut("rim", "6")]
    links = [link("text", "hole", "lens"), link("hole", "rim", "lens"), link("text", "rim", "lens")]
    assert not any(x.price for x in lines(tasks, links).values())


def test_waits_are_priced_in_days():
    """Two days for sheets and two nights for slow glue; with one that waits beside it, one of them is saved."""
    tasks = [
        Task(key="lie", work="lie", stage=0, kind="quality", caution="settle", hours=48),
        Task(key="glue", work="glue", stage=1),
        Task(key="rest", work="rest", stage=2, caution="rest", hours=48),
        Task(key="idle", work="idle", stage=2, caution="cured", hours=24),
        Task(key="end", work="end", stage=3),
    ]
    links = [
        link("lie", "glue", "settle"), link("glue", "rest", "rest"), link("rest", "end", "rest"),
        link("lie", "idle", "settle"), link("idle", "end", "cured"),
    ]  # fmt: skip
    found = lines(tasks, links)
    assert found["lie"].price == "this caution costs 2 days of waiting"
    assert found["rest"].price == "this caution costs 1 day of waiting"
    assert not found["idle"].price
    assert [x.day for x in found.values()] == [1, 3, 3, 3, 5]


def test_while_glue_sets_the_machine_goes_on():
    """What needs the glue stands a day later than all that doesn't, and the glue is spread first."""
    glued = Task(key="glue", work="glue", stage=2)
    rest = Task(key="rest", work="rest", stage=2, caution="rest", hours=24)
    tasks = [glued, rest, cut("template", "6"), cut("blank", "6", "back")]
    found = lines(tasks, [link("glue", "rest", "rest"), link("rest", "blank", "rest")])
    assert list(found) == ["glue", "rest", "template", "blank"]
    assert [x.day for x in found.values()] == [1, 1, 1, 2]


# -- what a recipe leaves out ----------------------------------------------------------------------------
RELAX = "hardware:\n"


def test_a_caution_of_the_machine_can_be_left_out(tmp_path: Path):
    plain = sequence(made(changed(tmp_path, "hand")))
    assert line(plain, "rout neck").n < line(plain, "bore out most of pickup").n
    text = "relax: [{caution: fit-first, of: pickup, because: the neck stands far from it}]\n"
    work = sequence(made(changed(tmp_path, "hand", (RELAX, text + RELAX))))
    bench = [w.visit for w in work if "rout neck" in w.work] + [w.visit for w in plain if "rout neck" in w.work]
    assert bench == [f"2 set-ups, 1 flip, {n} tool changes: no order has fewer" for n in (7, 9)]
    freed = line(work, "bore out most of pickup")
    assert freed.because.endswith(
        "the recipe lets it come before its time (fit-first): the neck stands far from it"
    )
    assert not any(w.caution == "fit-first" for w in work)


def test_a_task_that_is_done_for_a_caution_alone_goes_with_it(tmp_path: Path):
    text = "relax: [{caution: rest, of: blank, because: epoxy brings no water}]\n"
    work = sequence(made(changed(tmp_path, "hand", (RELAX, text + RELAX))))
    assert not any("24 hours" in w.work for w in work)
    measure = line(work, "measure the blank")
    assert measure.n > line(work, "knock the pins out").n
    assert measure.because.endswith(
        'the recipe leaves out "let the blank rest for 24 hours" (rest): epoxy brings no water'
    )
    assert max(w.day for w in work) == 4  # one day less


def test_an_entry_for_another_step_leaves_it_in(tmp_path: Path):
    text = "relax: [{caution: rest, of: neck, because: no}]\n"
    path = changed(tmp_path, "hand", (RELAX, text + RELAX))
    assert any("24 hours" in w.work for w in sequence(made(path)))
    assert [r.of for r in left_idle(made(path))] == ["neck"]
    assert told(path).said == ("`relax:` names rest of neck, which this design doesn't have: no",)


@pytest.mark.parametrize("name", RELAXABLE)
def test_every_caution_can_be_left_out(name: str, tmp_path: Path):
    """Whatever goes, the rest still holds together: all other work is there, and none comes before its parts."""
    text = f"relax: [{{caution: {name}, because: tried}}]\n"
    before = sequence(made(changed(tmp_path, "hand")))
    after = sequence(made(changed(tmp_path, "hand", (RELAX, text + RELAX))))
    gone = {(w.work, w.piece) for w in before} - {(w.work, w.piece) for w in after}
    assert len(gone) <= 5
    assert not any(w.caution == name for w in after)
    assert line(after, "spread the glue").n < line(after, "measure the blank").n < line(after, "round the back").n


@pytest.mark.parametrize("name", [n for n in REASONS if n not in RELAXABLE])
def test_nothing_else_can(name: str, tmp_path: Path):
    text = f"relax: [{{caution: {name}, because: in a hurry}}]\n"
    with pytest.raises(Refused) as refused:
        read_recipe(changed(tmp_path, "hand", (RELAX, text + RELAX)))
    (problem,) = refused.value.problems
    assert problem.place is not None
    assert problem.place.line == 9
    if name == "asked":
        assert "take the name out of the step's `after:`" in problem.remedy
    else:
        reason = REASONS[name]
        assert problem.wrong == f'"{name}" can\'t be left out, because {reason.because} ({reason.kind}).'


def test_a_name_that_is_none_is_told(tmp_path: Path):
    text = "relax: [{caution: fitfirst, because: no}, {caution: rest, of: nek, because: no}]\n"
    with pytest.raises(Refused) as refused:
        read_recipe(changed(tmp_path, "hand", (RELAX, text + RELAX)))
    wrong = [p.wrong for p in refused.value.problems]
    assert 'The order of work has no caution called "fitfirst".' in wrong
    assert any("did you mean fit-first" in p.remedy for p in refused.value.problems)


# -- rings ---------------------------------------------------------------------------------------------
ASKED = ("depth: 18}", "depth: 18, after: [body]}")
"""The pickup's cavity shall come after the outline is cut."""


def test_a_ring_is_walked_by_name_with_reason_and_kind(tmp_path: Path):
    """By machine: the wood around the cavity is the clamp, and no recipe can change that."""
    path = changed(tmp_path, "sawn", ASKED, ("by_hand: [body, pickup]", "cut_blank: [body, pickup]"))
    with pytest.raises(Refused) as refused:
        sequence(made(path))
    (problem,) = refused.value.problems
    outside, pocket = '"cut the outside (blank, front)"', '"pocket (pickup), 18.00 deep (blank, front)"'
    assert problem.wrong == (
        f"The order of work goes in a ring, so none of these can be done first: {outside} comes before {pocket}, "
        f"because the recipe asks for body before pickup (quality); {pocket} comes before {outside}, because what "
        "is around it is the clamp: the cut that frees the work comes last (place)."
    )
    assert problem.place is not None
    assert problem.place.line == 10
    assert problem.remedy == f"take out the `after:` at {problem.place}"


def test_a_ring_with_a_caution_names_both_ways_out(tmp_path: Path):
    """By hand: waste outside the outline carries the router, which is a caution; leaving it out opens the ring."""
    path = changed(tmp_path, "sawn", ASKED)
    with pytest.raises(Refused) as refused:
        sequence(made(path))
    (problem,) = refused.value.problems
    assert "carries the router's base and backs the fibres at open ends (quality)" in problem.wrong
    assert problem.remedy.endswith(", or leave out the caution by `relax: [{caution: trim-last, because: …}]`")
    relax = "relax: [{caution: trim-last, because: the blank is thick}]\nsheets:\n"
    work = sequence(made(changed(tmp_path / "open", "sawn", ASKED, ("sheets:\n", relax))))
    assert line(work, "trim body").n < line(work, "bore out most of pickup").n


def test_the_usual_ring_contours_before_roundings(tmp_path: Path):
    """Trade notes 13.3: roundings need flat faces, and the recipe asks for all hand contours first."""
    old = "  hollows: {kind: chambers"
    path = changed(tmp_path, "hand", (old, "  horn:    {kind: offset, of: body, by: -9, after: [blank]}\n" + old))
    assert sequence(made(path))  # nothing is cut for it, so nothing waits
    ring = [
        Task(key="round", work="round the edge", stage=1), Task(key="bevel", work="bevel the edge", stage=1),
    ]  # fmt: skip
    with pytest.raises(Refused, match=r"router's base needs flat faces, and carving takes them away \(quality"):
        arranged(ring, [link("round", "bevel", "flat-base"), link("bevel", "round", "asked")])


def test_faces_in_the_wrong_order_make_a_ring(tmp_path: Path):
    path = changed(tmp_path, "oracle", ("depth: 5}\n  b3", "depth: 5, after: [f1]}\n  b3"))
    with pytest.raises(Refused, match=r"this face lies down until the work is turned \(must"):
        sequence(made(path))


def test_steps_asked_round_in_a_ring_are_refused_before_any_work(tmp_path: Path):
    path = changed(tmp_path, "oracle", ("after: [f1]", "after: [f4]"), ("depth: 7}\n", "depth: 7, after: [f2]}\n"))
    with pytest.raises(Refused, match="wait for one another"):
        made(path)


def test_a_link_to_nowhere_is_our_own_fault():
    with pytest.raises(ValueError, match="unknown task"):
        arranged([cut("a", "6")], [link("z", "a", "clamp")])


# -- arranging -------------------------------------------------------------------------------------------
def test_work_stays_at_its_clamping_and_with_its_cutter():
    """Two pieces, two cutters each: one change of clamping, and the cutter in hand goes first."""
    tasks = [
        Task(key=f"{p}{c}", work="cut", stage=1, clamping=p, piece=p, cutter=c)
        for p in ("left", "right")
        for c in ("6", "8")
    ]
    assert list(lines(tasks, [])) == ["left6", "left8", "right8", "right6"]


def test_links_hold_whatever_the_order_of_the_lists():
    tasks = [cut(f"t{n}", str(n % 3), ("front", "back")[n % 2]) for n in range(12)]
    links = [link(f"t{a}", f"t{b}", "clamp") for a, b in ((0, 5), (1, 4), (5, 7), (2, 9), (7, 11), (3, 6))]
    order = list(lines(tasks, links))
    assert all(order.index(x.before) < order.index(x.after) for x in links)
    assert order == list(lines(tasks[::-1], links[::-1]))


def test_names_sort_as_people_count():
    tasks = [cut(f"blank-{n}", "6") for n in (10, 9, 2, 1)]
    assert list(lines(tasks, [])) == ["blank-1", "blank-2", "blank-9", "blank-10"]
