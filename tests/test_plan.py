"""The shelf: coverage against the perception functions, the optimum against exhaustive search, and every fault a person can make."""

from __future__ import annotations

import itertools
import json
import multiprocessing
import os
import threading
from dataclasses import replace
from multiprocessing.connection import Connection
from types import SimpleNamespace
from typing import ClassVar

import numpy as np
import pytest
from click.testing import CliRunner
from effort import examples, thorough
from hypothesis import given, settings
from hypothesis import strategies as st

from substitute.errors import InputError
from substitute.library import Library, apart
from substitute.odour.perception import impression, match
from substitute.records import Accord, Line, Shelf, Stock
from substitute.shelf import optimum
from substitute.shelf.choice import LEAST_GAIN, _worth_it
from substitute.shelf.coverage import OPTIONAL, STRENGTHS, TRUST, cover
from substitute.shelf.optimum import GREEDY_BOUND, Question, exact, greedy, without_dominated
from substitute.shelf.parallel import each, workers_for
from substitute.standins.candidates import smellable

NEAR = 1e-6
ACCORDS = ("bedtime-story", "choir-book", "drivers-scarf", "rose-on-the-dust-jacket")


@pytest.fixture(scope="module")
def accords(library):
    return [library.read_accord(library.demo / "accords" / f"{name}.csv") for name in ACCORDS]


@pytest.fixture(scope="module")
def model(library, accords):
    return cover(library.bench, accords, sorted(smellable(library.tables)))


@pytest.fixture(scope="module")
def shelf(library):
    return library.read_shelf(library.demo / "shelf-starter.csv")


@pytest.fixture(scope="module")
def planned(library, accords, shelf):
    """What the shelf makes of the accords, worked out in this process alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("substitute.shelf.parallel.workers_for", lambda jobs: 1)
        return library.plan(accords, shelf=shelf)


# -- the optimum ----------------------------------------------------------------------------------------------------------


def best_by_search(question: Question) -> float:
    """The optimum by trying every choice."""
    free = [c for c in question.allowed if c not in question.must]
    found = -1.0
    for size in range(question.most - len(question.must) + 1):
        for more in itertools.combinations(free, size):
            chosen = [*question.must, *more]
            if question.affordable(chosen):
                found = max(found, question.value(chosen))
    return found


@st.composite
def questions(draw):
    """Small facility-location questions: coarse or fine factors, something held or nothing, must and budget or not."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    lines, materials = draw(st.integers(1, 8)), draw(st.integers(1, 9))
    factor = rng.random((lines, materials)) * (
        rng.random((lines, materials)) < draw(st.sampled_from([0.3, 0.6, 1.0]))
    )
    if draw(st.booleans()):
        factor = np.round(factor * 4) / 4  # ties
    start = rng.random(lines) * draw(st.sampled_from([0.0, 0.5]))
    weight = rng.random(lines) * (rng.random(lines) < 0.9)
    most = draw(st.integers(1, materials))
    must = tuple(range(min(draw(st.integers(0, 2)), most)))
    cost = rng.integers(1, 9, materials).astype(float) if draw(st.booleans()) else None
    budget = float(cost[list(must)].sum() + draw(st.integers(0, 12))) if cost is not None else None
    return Question(factor, start, weight, tuple(range(materials)), must, most, cost, budget)


@settings(max_examples=examples(120), deadline=None)
@given(questions())
def test_exact_equals_exhaustive_search(question):
    found = exact(question)
    assert found.proved
    assert found.value == pytest.approx(best_by_search(question), abs=NEAR)
    assert question.value(found.chosen) == pytest.approx(found.value)
    assert question.affordable(found.chosen)
    assert set(question.must) <= set(found.chosen)
    assert len(set(found.chosen)) == len(found.chosen)


@settings(max_examples=examples(120), deadline=None)
@given(questions())
def test_greedy_keeps_its_bound(question):
    """1 - 1/e of what can be gained by a number of purchases; half of that with a budget (the better of two greedy ways)."""
    chosen = greedy(question)
    best = best_by_search(question)
    assert question.affordable(chosen)
    assert set(question.must) <= set(chosen)
    assert question.value(chosen) <= best + NEAR
    if question.budget is None:
        floor = question.value(question.must)
        assert question.value(chosen) - floor >= GREEDY_BOUND * (best - floor) - NEAR
    free = replace(question, must=())
    nothing = free.value(())
    bound = GREEDY_BOUND if question.budget is None else GREEDY_BOUND / 2
    assert free.value(greedy(free)) - nothing >= bound * (best_by_search(free) - nothing) - NEAR


@settings(max_examples=examples(60), deadline=None)
@given(questions())
def test_what_is_dominated_is_not_needed(question):
    kept = without_dominated(question)
    less = Question(
        question.factor,
        question.start,
        question.weight,
        tuple(kept.tolist()),
        question.must,
        question.most,
        question.cost,
        question.budget,
    )
    assert best_by_search(less) == pytest.approx(best_by_search(question), abs=NEAR)


TRAP = Question(  # the broad third column first, then only one of the two that together are perfect
    np.array([[1, 0, 0.6], [1, 0, 0.6], [0, 1, 0.6], [0, 1, 0.6]]),
    np.zeros(4),
    np.full(4, 0.25),
    (0, 1, 2),
    (),
    2,
)


def test_greedy_can_be_beaten():
    question = TRAP
    assert question.value(greedy(question)) == pytest.approx(0.8)
    found = exact(question)
    assert (set(found.chosen), found.value, found.proved) == ({0, 1}, pytest.approx(1.0), True)


@pytest.mark.parametrize("stopped", ["no time", "no answer"])
def test_where_the_solver_comes_to_no_end_greed_answers_under_a_bound_that_is_one(monkeypatch, stopped):
    """Out of time before the first answer: told as not proved, below what all columns together are worth."""
    monkeypatch.setattr(optimum, "MOST_ROUNDS", 1)
    if stopped == "no answer":
        monkeypatch.setattr("scipy.optimize.milp", lambda *_, **__: SimpleNamespace(x=None))
    found = exact(TRAP, time_limit=0.0 if stopped == "no time" else 60.0)
    assert (found.value, found.proved) == (pytest.approx(0.8), False)
    assert found.chosen[0] == 2
    assert found.bound == pytest.approx(1.0)


def test_the_integer_rounds_find_the_optimum_by_themselves(monkeypatch):
    """With one round of the relaxation there are few cuts: the rest are found where the solver's choice breaks them."""
    monkeypatch.setattr(optimum, "MOST_ROUNDS", 1)
    rng, told = np.random.default_rng(5), []
    for _ in range(25):
        factor = rng.random((8, 7)) * (rng.random((8, 7)) < 0.7)
        question = Question(factor, np.zeros(8), rng.random(8), tuple(range(7)), (), 3)
        found = exact(question, progress=lambda *now: told.append(now))
        assert found.proved
        assert found.value == pytest.approx(best_by_search(question), abs=NEAR)
        assert found.bound == pytest.approx(found.value, abs=NEAR)
    assert {now[2] for now in told} == {"bounding the optimum", "solving the mixed-integer programme"}
    assert max(now[0] for now in told if now[2].startswith("solving")) > 1


def test_what_adds_next_to_nothing_is_not_bought_unless_it_must_be():
    factor = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, LEAST_GAIN * 0.6]])
    question = Question(factor, np.zeros(3), np.array([1.0, 1.0, 1.0]), (0, 1, 2), (), 3)
    assert _worth_it(question, (0, 1, 2), 1) == (0, 1)
    must = Question(factor, np.zeros(3), np.array([1.0, 1.0, 1.0]), (0, 1, 2), (2,), 3)
    assert _worth_it(must, (0, 1, 2), 1) == (0, 1, 2)
    assert _worth_it(question, (0, 1, 2), 2) == (
        0,
        1,
        2,
    )  # the gain is a mean over two accords, told in accords


# -- the model ------------------------------------------------------------------------------------------------------------


def test_factors_are_real_matches(library, accords, model):
    """One line, one candidate: the factor is what the perception functions say of the accord with that line swapped."""
    accord, staged, tables = accords[2], library.staged, library.tables
    held = accord.active()
    before = impression(
        list(held.values()), staged.potency[staged.rows(list(held))], staged.profile[staged.rows(list(held))]
    )
    row = next(
        i for i, line in enumerate(model.lines) if line.accord == 2 and line.material == "oakmoss-absolute"
    )

    def matched(grams):
        rows = staged.rows(list(grams))
        return match(
            impression(list(grams.values()), staged.potency[rows], staged.profile[rows]), before
        ).overall

    rest = {name: grams for name, grams in held.items() if name != "oakmoss-absolute"}
    without = matched(rest)
    assert model.lines[row].without == pytest.approx(without)
    equal = (
        held["oakmoss-absolute"]
        * tables.value("oakmoss-absolute", "potency")
        / tables.value("methyl-atrarate", "potency")
    )
    swapped = max(
        matched({**rest, "methyl-atrarate": rest.get("methyl-atrarate", 0.0) + times * equal})
        for times in STRENGTHS
    )
    documented = any(
        swap.stand_in == "methyl-atrarate" for swap in library.swaps_by_missing.get("oakmoss-absolute", ())
    )
    believed = TRUST["documented"] if documented else TRUST["profile"]
    assert model.factor[row, model.column["methyl-atrarate"]] == pytest.approx(
        believed * max(swapped - without, 0) / (1 - without)
    )
    assert model.factor[row, model.column["oakmoss-absolute"]] == 1.0


def test_weights_and_bounds(model, accords):
    assert np.bincount(model.owner, model.weight) == pytest.approx(np.ones(len(accords)))
    assert model.factor.min() >= 0
    assert model.factor.max() <= 1
    assert model.value(()) == 0.0
    assert model.value(model.materials) == pytest.approx(
        1.0, abs=0.05
    )  # lines that only a constituent could fill stay below
    assert 0 < OPTIONAL < 1


@settings(max_examples=examples(200), deadline=None)
@given(st.data())
def test_adding_a_material_never_lowers_coverage(model, data):
    """And what it adds is never more on a fuller shelf (submodular)."""
    pick = st.sets(st.sampled_from(model.materials), max_size=12)
    small, extra = data.draw(pick), data.draw(pick)
    new = data.draw(st.sampled_from(model.materials))
    large = small | extra
    assert (model.by_accord(large) >= model.by_accord(small) - 1e-12).all()
    gain = lambda held: model.by_accord(held | {new}) - model.by_accord(held)  # noqa: E731
    assert (gain(small) >= -1e-12).all()
    assert (gain(large) <= gain(small) + 1e-12).all()


# -- plans ----------------------------------------------------------------------------------------------------------------


def test_what_a_shelf_makes(library, accords, shelf, planned):
    answer = planned.to_dict()
    assert [made["accord"] for made in answer["makes"]] == list(ACCORDS)
    assert answer["buy"] == []
    assert answer["gap"] is None
    held = set(shelf.materials())
    for made, accord in zip(answer["makes"], accords):
        assert made["match"] == pytest.approx(library.adjust(accord, shelf=shelf).match.overall)
        assert set(made["lacks"]) == set(accord.active()) - held
        assert set(made["stand_ins"]) <= held - set(accord.active())
        assert made["adjusted"]["lines"]


def test_a_full_shelf_makes_it_as_it_is(library, accords):
    accord = accords[3]
    found = library.plan([accord], shelf=Shelf(tuple(Stock(name) for name in accord.active())))
    assert found.makes[0].match == pytest.approx(1.0)
    assert found.makes[0].lacks == ()
    assert found.coverage[0] == pytest.approx(1.0)


def test_an_empty_shelf_makes_nothing(library):
    accord = Accord("rose", (Line("phenethyl-alcohol", 5.0), Line("citronellol", 5.0)))
    made = library.plan([accord], shelf=Shelf((Stock("ethanol"), Stock("citronellol", grams=0.0)))).makes[0]
    assert (made.match, made.lacks, made.adjusted) == (0.0, ("phenethyl-alcohol", "citronellol"), None)


def test_purchases(library, accords, shelf):
    found = library.plan(accords, shelf=shelf, buy=4, must=["indole"], must_not=["cyclohexadecenone"])
    ids = [purchase.id for purchase in found.buy]
    assert len(ids) == 4
    assert "indole" in ids
    assert "cyclohexadecenone" not in ids
    assert not set(ids) & set(shelf.materials())
    assert not any(library.status()(name) for name in ids)
    assert found.gap >= 0
    assert found.proved
    assert len(found.greedy) == 4
    assert "indole" in found.greedy
    assert sum(purchase.gain for purchase in found.buy) == pytest.approx(
        found.coverage[1] - found.coverage[0]
    )
    assert found.verified[1] >= found.verified[0]
    assert all(made.match_after >= made.match for made in found.makes)
    assert any(purchase.helps for purchase in found.buy)
    held = {*shelf.materials(), *ids}
    for lean in found.leans_on:
        assert lean.stand_in in held
        assert lean.missing not in held
        assert 0 < lean.value <= 1
    if (
        thorough()
    ):  # a plan comes out the same a second time: two plans of one shelf are compared below in any case
        wish = {"buy": 4, "must": ["indole"], "must_not": ["cyclohexadecenone"]}
        assert found.to_dict() == library.plan(accords, shelf=shelf, **wish).to_dict()


def test_from_nothing(library, accords):
    found = library.plan(accords, from_nothing=6)
    curve = [value for _, value, _ in found.curve]
    assert [n for n, _, _ in found.curve] == list(range(1, 7))
    assert curve == sorted(curve)
    assert len(found.buy) == 6
    assert curve[-1] == pytest.approx(found.coverage[1])
    assert found.coverage[0] == 0.0
    assert found.bound >= found.coverage[1] - NEAR
    steps = np.diff([0.0, *curve])
    assert (
        steps[1:-1] <= steps[:-2] + NEAR
    ).all()  # each adds less than the one before; the last is the exact optimum's


def test_budget(library, accords, shelf):
    prices = Shelf(
        (
            Stock("indole", grams=5, price=2.0),
            Stock("ethyl-maltol", price=0.5),
            Stock("oakmoss-absolute", grams=2, price=3.0),
            Stock("cedarwood-oil-atlas", price=0.2),
        )
    )
    found = library.plan(accords, shelf=shelf, budget=8.0, prices=prices)
    cost = {"indole": 10.0, "ethyl-maltol": 5.0, "oakmoss-absolute": 6.0, "cedarwood-oil-atlas": 2.0}
    assert found.buy
    assert all(purchase.price == pytest.approx(cost[purchase.id]) for purchase in found.buy)
    assert found.spent == pytest.approx(sum(cost[purchase.id] for purchase in found.buy))
    assert found.spent <= 8.0
    assert any("no price" in note for note in found.notes)


def test_law(library):
    """A protected wood and a precursor are bought only when asked for, a prohibited material never."""
    accord = Accord(
        "wood", (Line("guaiacwood-oil", 5.0, role="core"), Line("piperonal", 3.0), Line("agarwood-oil", 1.0))
    )
    bought = lambda **wish: {purchase.id for purchase in library.plan([accord], from_nothing=3, **wish).buy}  # noqa: E731
    assert not bought() & set(accord.active())
    assert bought(include_controlled=True) == set(accord.active())
    named = library.plan([accord], from_nothing=3, must=["piperonal"])
    assert next(p for p in named.buy if p.id == "piperonal").law
    every = library.plan([accord], from_nothing=3, include_controlled=True)
    assert not any(word.startswith("prohibited") for p in every.buy for word in p.law)


PROHIBITED = "hydroxyisohexyl-3-cyclohexene-carboxaldehyde"


@pytest.mark.parametrize(
    ("wish", "message"),
    [
        ({"buy": 0}, "`buy` 0 is out of range: allowed is 1 to"),
        ({"buy": 10_000}, "`buy` 10000 is out of range: allowed is 1 to"),
        ({"from_nothing": -1}, "`from_nothing` -1 is out of range"),
        ({"buy": 2, "from_nothing": 3}, "exclude each other"),
        ({"buy": 2, "must": ["indole"], "must_not": ["indole"]}, "contradict each other: both name indole"),
        ({"buy": 1, "must": ["indole", "ethyl-maltol"]}, "more than the 1 to buy"),
        ({"must": ["indole"]}, "say how many"),
        ({"buy": 2, "must": ["no-such-thing"]}, "is not in the tables"),
        ({"buy": 2, "must_not": ["no-such-thing"]}, "is not in the tables"),
        ({"buy": 2, "must": ["ethanol"]}, "carriers are taken to be at hand"),
        ({"buy": 2, "must": [PROHIBITED]}, "prohibited"),
        ({"buy": 2, "must": ["thujone"]}, "nobody weighs it, it is met inside naturals only"),
        (
            {"budget": 1.0, "prices": Shelf((Stock("vetiver-oil", price=0.05),))},
            "`budget` 1: buys nothing that helps these accords; the cheapest priced is vetiver-oil at 0.5",
        ),
        ({"budget": 0.0}, "`budget` 0 is out of range"),
        ({"budget": float("nan")}, "out of range"),
        ({"budget": 1.0}, "`budget` needs prices"),
        (
            {"budget": 1.0, "prices": Shelf((Stock("indole", grams=5, price=2.0),))},
            "`budget` 1: buys nothing; the cheapest of 1 priced materials is indole at 10",
        ),
        (
            {
                "budget": 11.0,
                "must": ["indole", "ethyl-maltol"],
                "prices": Shelf((Stock("indole", grams=5, price=2.0), Stock("ethyl-maltol", price=1.0))),
            },
            "does not buy what `must` asks for",
        ),
        (
            {"budget": 1.0, "must": ["ethyl-maltol"], "prices": Shelf((Stock("indole", price=0.1),))},
            "ethyl-maltol: has no price",
        ),
    ],
)
def test_bad_wishes(library, accords, shelf, wish, message):
    with pytest.raises(InputError) as caught:
        library.plan(accords[:1], shelf=shelf, **wish)
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


def test_bad_accords(library, shelf, tmp_path):
    with pytest.raises(InputError, match="holds no accords"):
        library.plan(tmp_path, shelf=shelf)
    with pytest.raises(InputError, match="a shelf is wanted"):
        library.plan([Accord("a", (Line("linalool", 1.0),))])
    with pytest.raises(InputError, match="no accord can be judged"):
        library.plan([Accord("a", (Line("ethanol", 1.0),))], shelf=shelf)
    (tmp_path / "good.csv").write_text("material,parts\nlinalool,1\n")
    (tmp_path / "bad.csv").write_text("material,parts\nno such thing,1\n")
    found = library.plan(tmp_path, shelf=shelf)
    assert [made.accord for made in found.makes] == ["good"]
    assert [name for name, _ in found.rejected] == ["bad"]


# -- the command ----------------------------------------------------------------------------------------------------------


def test_command(library, tmp_path, monkeypatch):
    from substitute.cli import cli

    folder = tmp_path / "accords"
    folder.mkdir()
    for name in ACCORDS[:2]:
        (folder / f"{name}.csv").write_bytes((library.demo / "accords" / f"{name}.csv").read_bytes())
    plan = Library.plan
    asked: dict[str, object] = {}  # three faces of one answer: worked out once

    def once(self, *given, **wish):
        question = repr((given, {name: value for name, value in wish.items() if name != "progress"}))
        if question not in asked:
            asked[question] = plan(self, *given, **wish)
        return asked[question]

    monkeypatch.setattr(Library, "plan", once)
    arguments = ["plan", "--accords", str(folder), "--shelf", str(library.demo / "shelf.csv"), "--buy", "2"]
    run = CliRunner().invoke(cli, [*arguments, "--format", "json", "--sheet", str(tmp_path / "plan.html")])
    assert run.exit_code == 0, run.output
    answer = json.loads(run.stdout)
    assert {"makes", "buy", "greedy", "gap", "curve", "leans_on", "rejected"} <= set(answer)
    assert answer["makes"][0]["adjusted"]["command"].startswith("substitute adjust ")
    page = (tmp_path / "plan.html").read_text()
    assert "What to buy" in page
    assert "Dilutions to prepare" in page
    assert "Label each bottle" in page
    table = CliRunner().invoke(cli, arguments)
    assert table.exit_code == 0
    assert "2 accords, mean match" in table.output
    assert "proved" in table.output
    assert CliRunner().invoke(cli, [*arguments, "--format", "csv"]).output.startswith("id,name,cas,gain")
    assert len(asked) == 1


# -- in a product, in parallel --------------------------------------------------------------------------------------------


def test_what_it_buys_may_be_used(library):
    """Bergamot pressed from the peel and oakmoss are held down on skin: in a lotion nothing counts above what the limits on file let
    through, and what is forbidden there is never bought."""
    accords = [
        library.read_accord(library.demo / "accords" / f"{name}.csv")
        for name in ("returns-box", "foxed-pages", "drivers-scarf")
    ]
    where = {"product": "body-lotion", "dose": 2.0}
    found = library.plan(accords, from_nothing=12, **where)
    situation = library.situate(**where)
    assert found.buy
    for purchase in found.buy:
        assert not situation.forbidden(purchase.id)
        assert situation.most_pct(purchase.id) != 0
    assert found.cautions
    free = library.plan(accords, from_nothing=12)
    assert found.coverage[1] <= free.coverage[1] + NEAR
    for made in found.makes:
        if made.adjusted and made.adjusted.within_known:
            verdict = situation.judge(made.adjusted.formula().active(), made.adjusted.total[1])
            assert not verdict.broken


def test_a_line_over_its_limit_is_worth_less(library):
    """Oakmoss at 0.1 % of the product at most (IFRA, category 4): of an accord that is half oakmoss at a dose of 20 % a bottle of it
    makes good only part; at a dose so small that the limit is far away it makes good all."""
    accord = Accord("moss", (Line("oakmoss-absolute", 5.0), Line("linalool", 5.0)))
    ids = sorted(smellable(library.tables))
    column = ids.index("oakmoss-absolute")
    row = lambda model: next(i for i, line in enumerate(model.lines) if line.material == ids[column])  # noqa: E731
    capped = cover(library.bench, [accord], ids, most_pct=lambda name: 0.5 if name == ids[column] else None)
    plain = cover(library.bench, [accord], ids)
    assert plain.factor[row(plain), column] == 1.0
    assert 0.0 <= capped.factor[row(capped), column] < 0.9


def test_nothing_is_bought_that_adds_nothing(library, accords):
    """Two lines need two bottles, however many are asked for; the note says so."""
    accord = Accord("pair", (Line("phenethyl-alcohol", 5.0), Line("vanillin", 1.0)))
    found = library.plan([accord], from_nothing=9)
    assert 1 <= len(found.buy) <= 3
    assert all(purchase.gain >= 0.02 for purchase in found.buy)
    assert all(purchase.helps == ("pair",) for purchase in found.buy)
    assert any("are enough" in note for note in found.notes)
    for purchase in library.plan(accords, from_nothing=25).buy:
        assert purchase.helps
        assert purchase.form in {"neat", "10", "1"}
        assert purchase.price_word in {"cheap", "ordinary", "dear", "very dear", "precious", ""}


def test_processes_answer_as_one_does(library, accords, shelf, planned, monkeypatch):
    """Two processes and one give the same plan, line by line."""
    monkeypatch.setattr("substitute.shelf.parallel.workers_for", lambda jobs: 2)
    assert library.plan(accords, shelf=shelf).to_dict() == planned.to_dict()


def test_work_in_processes():
    assert list(each(lambda n: n * n, range(20), workers=3)) == [n * n for n in range(20)]
    with pytest.raises(ZeroDivisionError):
        list(each(lambda n: 1 / n, [2, 1, 0], workers=2))
    assert workers_for(1) == 1


def test_a_process_apart_answers_the_same(library, accords, shelf, planned, monkeypatch):
    """The app's way: never a fork of a process with threads."""
    monkeypatch.setattr(apart, "LEAST_JOBS", 1)
    heard: list[tuple[int, int, str]] = []
    told = apart.plan_apart(library, accords, lambda *how: heard.append(how), shelf=shelf)
    assert told.to_dict() == planned.to_dict()
    assert heard[0] == (0, 0, "starting")
    assert heard[-1] == (len(accords), len(accords), "adjusting accords")
    assert not multiprocessing.active_children()


class Enough(Exception):
    pass


class InThread(threading.Thread):
    """A process played by a thread, which starts at once; its end of the pipe is its own."""

    exitcode = 0
    begun: ClassVar[list[InThread]] = []

    def __init__(self, target, args):
        super().__init__(target=target, args=(Connection(os.dup(args[0].fileno())), *args[1:]), daemon=True)
        self.begun.append(self)


@pytest.fixture
def in_thread(monkeypatch):
    play = SimpleNamespace(Pipe=multiprocessing.Pipe, Process=InThread)
    monkeypatch.setattr(apart.multiprocessing, "get_context", lambda how: play)
    monkeypatch.setattr(apart, "LEAST_JOBS", 1)
    monkeypatch.setattr(apart, "PATIENCE_S", 0.01)
    InThread.begun.clear()
    return InThread.begun


def test_a_plan_apart_stops_when_asked_and_hands_back_what_is_wrong(library, accords, shelf, in_thread):
    def stop(done: int, of: int, what: str) -> None:
        if what == "judging swaps":
            raise Enough

    with pytest.raises(Enough):
        apart.plan_apart(library, accords[:2], stop, shelf=shelf)
    with pytest.raises(InputError, match="`buy` -1 is out of range"):
        apart.plan_apart(library, accords[:2], shelf=shelf, buy=-1)
    assert len(in_thread) == 2
    assert not any(work.is_alive() for work in in_thread)  # nobody listens, so it ended


@pytest.mark.parametrize(
    ("ends", "told"),
    [(lambda its, *rest: its.close(), "is gone"), (lambda its, *rest: KEPT.append(its), "ended with 0")],
)
def test_a_process_that_dies_is_told(library, accords, in_thread, monkeypatch, ends, told):
    monkeypatch.setattr(apart, "_work", ends)
    with pytest.raises(RuntimeError, match=told):
        apart.plan_apart(library, accords[:1])
    KEPT.clear()


KEPT: list[Connection] = []  # a pipe that nobody closes


def test_few_accords_are_planned_here(library, accords, shelf, planned):
    heard: list[tuple[int, int, str]] = []
    few = apart.plan_apart(library, accords[:1], lambda *how: heard.append(how), shelf=shelf)
    assert few.to_dict()["makes"] == planned.to_dict()["makes"][:1]
    assert heard[0][2] != "starting"
