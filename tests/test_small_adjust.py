"""The whole way of an adjustment in the small: a world of our own with four words, no tables read.

What the code answers is held against sums worked out beside it: dense grids, definitions written out again.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import SimpleNamespace

import numpy as np
import pytest
from test_small_accords import small, value_of

from substitute.accords.adjust import adjust
from substitute.accords.adjusted import Option
from substitute.accords.doubts import make_doubts
from substitute.accords.explain import solvent_notes, stands_for
from substitute.accords.fill import fill
from substitute.accords.formulas import (
    Formula,
    chosen_of,
    doubted,
    finished,
    options_of,
)
from substitute.accords.gaps import Wanted
from substitute.accords.rivals import bottle_of, raised_words, rivals_of
from substitute.accords.setting import at_most, prepare, usual, weighable
from substitute.accords.written import Written, WrittenLine, rounded
from substitute.errors import InputError
from substitute.records import Accord, Line, Shelf, Stock
from substitute.rules.verdict import Row, Verdict, Wall

SMALL = small()
IDS = SMALL.ids
ACCORD = Accord("s", tuple(Line(name, float(parts)) for name, parts in zip("abcd", SMALL.old)))
PAIRS = {"a": [("x", 1.4), ("y", 0.4)], "b": [("y", 0.5), ("x", 2.0)], "c": [("z", 5.0)], "d": [("y", 0.3)]}


@dataclass
class World:
    """As much of a situation as an adjustment asks of it. ``most`` are limits, percent of the product;
    ``blind`` what nobody knows a limit of."""

    shelf: Shelf | None = None
    because: str = "unavailable"
    dose: float | None = None
    named: bool = False
    banned: tuple[str, ...] = ()
    most: dict[str, float] = field(default_factory=dict)
    blind: tuple[str, ...] = ()
    use_high: dict[str, float] = field(default_factory=dict)
    category: str = "4"

    @property
    def judged(self) -> bool:
        return self.dose is not None

    @property
    def context(self):
        return SimpleNamespace(
            sets=(SimpleNamespace(category=self.category),), product="p", category=self.category
        )

    @property
    def tables(self):
        potency = dict(zip(IDS, SMALL.potency[:, 0]))
        figures = {"potency": potency, "use_high_pct": self.use_high}
        materials = {
            name: SimpleNamespace(
                kind="molecule", source="memory", name=name.upper(), brief=lambda name=name: {"id": name}
            )
            for name in IDS
        }
        for name in ("ethanol", "dipropylene-glycol"):
            materials[name] = SimpleNamespace(
                kind="solvent", source="memory", name=name, brief=lambda name=name: {"id": name}
            )
        words = ["round", "sharp", "green", "dry"]
        return SimpleNamespace(
            materials=materials,
            profiles={
                name: {word: 10 * float(v) for word, v in zip(words, SMALL.profile[i, 0]) if v > 0}
                for i, name in enumerate(IDS)
            },
            descriptors={word: SimpleNamespace(name=word) for word in words},
            value=lambda name, what: figures.get(what, {}).get(name),
        )

    def forbidden(self, name: str):
        return (SimpleNamespace(words="banned here"),) if name in self.banned else ()

    def unknown(self, name: str):
        return (name,) if name in self.blind else ()

    @property
    def exposure(self):
        def matrix(names, ids):
            share = np.array([[float(name == one) for one in ids] for name in names])
            return share, share

        return SimpleNamespace(matrix=matrix)

    def rows(self, ids):
        share = np.array([[float(name == one) for one in ids] for name in self.most]).reshape(-1, len(ids))
        return share, np.array(list(self.most.values())), np.isin(ids, self.banned)

    def judge(self, active, total, dose=None) -> Verdict:
        dose = self.dose if dose is None else dose
        rows = []
        for name, most in self.most.items():
            found = dose * active.get(name, 0.0) / total
            rows.append(
                Row(
                    substance=name,
                    name=name.upper(),
                    limit_set="set",
                    category="4",
                    limit_pct=most,
                    found_pct=found,
                    typical_pct=found,
                    ok=found <= most * (1 + 1e-9),
                    basis="memory",
                    rule="max",
                    note="",
                    check="",
                    source="",
                    sources=((name, found),),
                )
            )
        highest = [most * total / active[name] for name, most in self.most.items() if active.get(name)]
        wall = Wall("a", "A", "set", "a") if highest else None
        return Verdict(dose, "4", tuple(rows), min(highest, default=None), wall)


class Staged:
    """Odours of the small problem by id."""

    potency = SMALL.potency
    profile = SMALL.profile

    def rows(self, ids):
        return np.array([IDS.index(name) for name in ids])


def ranked_by(pairs=PAIRS):
    return lambda material, because: pairs[material]


def ready(world: World, wanted=Wanted(), accord=ACCORD, pairs=PAIRS, tight=1.0):  # noqa: B008  (frozen)
    return prepare(Staged(), accord, world, ranked_by(pairs), wanted, tight)


def answer(world: World, wanted=Wanted(), accord=ACCORD, pairs=PAIRS, wider=None):  # noqa: B008
    return adjust(
        Staged(), accord, world, ranked_by(pairs), wanted, wider=ranked_by(wider) if wider else None
    )


def after(found) -> dict[str, float]:
    return {line.material: line.after for line in found.lines}


# -- the question made ready ---------------------------------------------------------------------------------


def test_as_many_new_lines_as_loud_gaps_and_at_least_two():
    assert ready(World(), Wanted(without=("a",))).most_new == 2
    assert ready(World(), Wanted(without=("a", "b"))).most_new == 2
    assert ready(World(), Wanted(without=("a", "b", "c"))).most_new == 3
    assert ready(World(), Wanted(without=("a",), max_new=1)).most_new == 1
    assert ready(World(), Wanted(without=("a",), max_new=0)).most_new == 0
    assert ready(World(), Wanted(without=("a",), use=("x",))).most_new == 1
    assert ready(World(), Wanted(without=("a", "b"), use=("x",))).most_new == 2
    with pytest.raises(InputError, match="no line of s is in question"):
        ready(World(), Wanted(use=("x",)))


def test_lines_that_may_move_are_those_nobody_spoke_of():
    one = ready(World(), Wanted(without=("a",), keep=("b",)))
    assert [one.problem.ids[i] for i in one.free] == ["c", "d"]
    assert one.base.tolist()[:4] == [0.0, 20.0, 8.0, 10.0]
    raised = ready(World(), Wanted(without=("a",), use=("d",)))
    assert [raised.problem.ids[i] for i in raised.free] == ["b", "c"]
    limited = ready(World(dose=10.0, named=True, most={"b": 1.0}))
    assert limited.lowered == ("b",)
    assert [limited.problem.ids[i] for i in limited.free] == ["a", "c", "d"]
    zero = Accord("z", (*ACCORD.lines[:3], Line("d", 0.0)))
    assert ready(World(), Wanted(without=("a",)), zero).free == [1, 2]


def test_what_is_most_of_a_candidate():
    """1.5 x what its pairs ask for; three times the usual highest share; half of the accord unless more went."""
    lost = {"a": 50.0, "c": 2.0}
    ranked = {"a": [("x", 0.2), ("y", None)], "c": [("x", 3.0)]}
    most = at_most(ranked, lost)
    assert most == {"x": pytest.approx(1.5 * (0.2 * 50 + 3 * 2)), "y": np.inf}
    tables = World(use_high={"x": 2.0, "c": 4.0}).tables
    # three times 2 % of 88 parts; c, at 2.3 % of 88, is under its 4 %
    assert usual(tables, most, ranked, lost, ACCORD) == {
        "x": pytest.approx(3 * 0.02 * 88),
        "y": pytest.approx(50.0),
    }
    tables = World(use_high={"x": 2.0, "a": 10.0}).tables  # a went at 56.8 %: 5.68 times its usual
    assert usual(tables, most, ranked, lost, ACCORD)["x"] == pytest.approx(50 / 88 * 10 * 0.02 * 88)
    assert usual(tables, {"x": 1.0}, ranked, lost, ACCORD) == {"x": 1.0}
    every = {name: [("x", 1.0)] for name in "abcd"}
    gone = {"a": 50.0, "b": 20.0, "c": 8.0, "d": 0.0}
    assert usual(World().tables, {"x": 99.0}, every, gone, ACCORD) == {"x": 78.0}
    assert usual(World().tables, {"x": 99.0}, every, {**gone, "d": 1.5}, ACCORD) == {"x": 99.0}, "all but all"
    few = {"c": [("y", None)]}
    assert usual(World().tables, {"y": np.inf}, few, {"c": 2.0}, ACCORD) == {"y": pytest.approx(44.0)}
    assert usual(World().tables, {"q": np.inf}, few, {"c": 2.0}, ACCORD) == {"q": np.inf}
    setting = ready(World(), Wanted(without=("a",), use=("x",)))
    assert setting.problem.most[setting.problem.index["x"]] == np.inf, "asked for: as much as it takes"


def test_a_line_cut_to_what_no_balance_weighs_goes():
    problem = small()
    base = problem.old.copy()
    for left, stays in ((0.0879, False), (0.0881, True)):  # a thousandth of 88 parts
        base[0] = left
        assert weighable(problem, base, ACCORD)[0] == (left if stays else 0.0)
    assert weighable(problem, base, ACCORD)[1:].tolist() == base[1:].tolist()
    tiny = Accord("t", (Line("a", 0.02), *ACCORD.lines[1:]))
    thin = replace(problem, old=np.array([0.02, 20.0, 8.0, 10.0, 0, 0, 0]))
    cut = thin.old * np.array([0.5, 1, 1, 1, 1, 1, 1])
    assert weighable(thin, cut, tiny)[0] == 0.01, "what was under it before is left"
    weak = Accord("w", (Line("a", 500.0, 10.0), *ACCORD.lines[1:]))
    base[0] = 0.06  # 0.6 parts of the solution, and a thousandth is 0.538
    assert weighable(problem, base, weak)[0] == 0.06
    gone = answer(World(dose=10.0, named=True, most={"a": 0.005}))
    assert after(gone)["a"] == 0.0
    assert "taken out" in gone.lines[0].why


def test_limits_are_met_and_the_lines_told():
    one = ready(World(dose=10.0, named=True, most={"a": 2.0, "b": 1.0}))
    assert one.base[:2] == pytest.approx([2.0 * 88 / 10, 1.0 * 88 / 10])
    assert [(gap.material, gap.cause, gap.because) for gap in one.gaps] == [
        ("a", "limit", "limit"),
        ("b", "limit", "limit"),
    ]
    assert one.gaps[0].why == "over a limit (set: A 2 % of the product, found 5.68 %)"
    tight = ready(World(dose=10.0, named=True, most={"a": 2.0}), tight=2.0)
    assert tight.base[0] == pytest.approx(8.8)
    kept = ready(World(dose=10.0, named=True, most={"a": 2.0}), Wanted(keep=("a",)))
    assert kept.base[0] == 50.0
    whole = ready(World(dose=100.0, named=True, most={}), Wanted(without=("a",)))
    assert whole.problem.used(whole.problem.old) == pytest.approx([1.0]), "no more than the product holds"
    half = ready(World(dose=50.0, named=True, most={}), Wanted(without=("a",)))
    assert half.problem.used(half.problem.old) == pytest.approx([0.5])


def test_nothing_is_raised_or_brought_in_whose_limit_is_unknown():
    one = ready(World(dose=10.0, named=True, blind=("b", "x")), Wanted(without=("a",)))
    index = one.problem.index
    assert list(np.array(one.problem.ids)[one.problem.banned]) == ["x"], "new, and nobody knows how much"
    assert one.problem.room(one.problem.old, index["b"]) == pytest.approx(20.0), "not more than before"
    assert one.problem.known == len(one.problem.rows) - 1
    found = answer(World(dose=10.0, named=True, blind=("x",)), Wanted(without=("a",)))
    assert "x" not in after(found)
    open_ = ready(World(banned=("y",)), Wanted(without=("a",)))
    assert list(np.array(open_.problem.ids)[open_.problem.banned]) == ["y"]
    in_it = ready(World(banned=("b",)), Wanted(without=("a",)))
    assert not in_it.problem.banned.any(), "what stands in it is asked of a product only"
    little = Accord("l", (ACCORD.lines[0], Line("b", 0.5), *ACCORD.lines[2:]))
    assert not ready(World(banned=("b",)), Wanted(without=("a",)), little).problem.banned.any()
    prohibited = ready(World(dose=10.0, named=True, most={"y": 0.0}), Wanted(without=("a",)))
    assert list(np.array(prohibited.problem.ids)[prohibited.problem.banned]) == ["y"], "a limit of nothing"


def test_solutions_of_the_shelf_weigh_more_than_the_product_holds():
    shelf = Shelf((*(Stock(name) for name in "abcdy"), Stock("x", 10.0)))
    one = ready(World(shelf=shelf, dose=50.0, named=True), Wanted(without=("a",)))
    row = one.problem.rows[0]
    assert row == pytest.approx([0.5 / 88 * (10 if name == "x" else 1) for name in one.problem.ids])
    weak = Accord("w", (Line("a", 500.0, 10.0), *ACCORD.lines[1:]))
    thin = ready(World(dose=50.0, named=True), Wanted(without=("b",)), weak)
    assert thin.problem.rows[0][:2] == pytest.approx([0.5 / 538 * 10, 0.5 / 538])
    trace = Accord("t", (Line("a", 5.0, 10.0), *ACCORD.lines[1:]))
    little = ready(World(dose=50.0, named=True), Wanted(without=("b",)), trace)
    assert little.problem.rows[0][0] == pytest.approx(0.5 / 43 * 10), "half a gram is a line too"


# -- finished formulas ---------------------------------------------------------------------------------------


def test_formulas_are_written_in_amounts_about_the_best_and_in_those_the_pairs_ask_for():
    setting = ready(World(), Wanted(without=("a",), max_new=1))
    found = [f for f in finished(setting) if f.new == ("x",) and not f.moved]
    place = setting.problem.index["x"]
    amounts = sorted(float(f.written.grams[place]) for f in found)
    (asked,) = (f for f in found if f.as_asked)
    assert float(asked.written.grams[place]) == pytest.approx(50.0), "the pair asks for 70; 50 went"
    assert len(found) == 5
    grid = np.geomspace(1, 200, 4000)
    tries = np.repeat(setting.base[None], len(grid), axis=0)
    tries[:, place] = grid
    best = grid[int(setting.problem.ear.values(setting.problem.ear.sums(tries)).argmax())]
    best = min(best, setting.problem.most[place])
    most = 50.0  # as much as went
    wanted = sorted([*(min(rounded(best * factor), most) for factor in (0.7, 0.84, 1.0, 1.19)), most])
    assert amounts == pytest.approx(wanted, rel=0.02)
    for formula in found:
        assert formula.value == pytest.approx(value_of(setting.problem, formula.written.grams), abs=1e-12)
        assert formula.changes == 1
    assert any(f.new == () for f in finished(setting)), "leaving it out is looked at too"
    many = ready(World(), Wanted(without=("a", "b", "c")))
    made = finished(many)
    trials = fill(many.problem, many.base, range(4, len(many.problem.ids)), 3)
    for number in range(2):
        best = max((one for one in trials if len(one.new) == number), key=lambda one: one.worth)
        assert any(f.new == tuple(many.problem.ids[i] for i in best.new) for f in made), (
            "the best of each number"
        )
    far = ready(World(), Wanted(without=("c",), max_new=0, move=300.0))
    shifted = [f for f in finished(far) if f.moved]
    assert [f.moved for f in shifted] == [("d",)]
    for formula in shifted:
        apart = {n for n, g, b in zip(IDS, formula.written.grams[:4], far.base) if abs(g - b) > 1e-9 * b}
        assert set(formula.moved) == apart


def test_an_amount_as_asked_keeps_to_limits_and_is_no_crumb():
    setting = ready(World(dose=10.0, named=True, most={"x": 4.0}), Wanted(without=("a",), max_new=1))
    place = setting.problem.index["x"]
    amounts = {float(f.written.grams[place]) for f in finished(setting) if f.as_asked and f.new == ("x",)}
    assert amounts == {35.2}  # 4 % of 10 % of 88 parts, where 50 went
    faint = ready(World(), Wanted(without=("a",), max_new=1), pairs={**PAIRS, "a": [("x", 1e-9)]})
    assert not any(f.as_asked and f.new for f in finished(faint))
    unknown = ready(World(), Wanted(without=("a",), max_new=1), pairs={**PAIRS, "a": [("x", None)]})
    assert any(f.new for f in finished(unknown))
    assert not any(f.as_asked for f in finished(unknown))


def test_worth_is_the_mean_of_worlds_less_changes_and_regret():
    setting = ready(World(), Wanted(without=("a",)))
    options = options_of(setting)
    formulas = finished(setting)
    ranked = doubted(setting, formulas, options)
    by_hand = [f for _, f in options]
    grams = np.array([f.written.grams for f in [*formulas, *by_hand]])
    values = make_doubts(setting.problem, grams).values(grams)
    best = values[:, len(formulas) :].max(axis=1)
    for n, formula in enumerate([*formulas, *by_hand]):
        behind = np.mean([min(max((b - v) / 0.02, 0.0), 1.0) for b, v in zip(best, values[:, n])])
        worth = values[:, n].mean() - 0.1 * behind
        same = next(r for r in ranked if r.written is formula.written)
        assert same.doubted == pytest.approx(worth, abs=1e-12)
        plainly = 0.01 if formula.as_asked else 0.0
        changes = len(formula.new) + len(formula.moved)
        assert same.worth == pytest.approx(worth - 0.01 * changes + plainly, abs=1e-12)
    assert [f.worth for f in ranked] == sorted((f.worth for f in ranked), reverse=True)
    assert {f.plain for f in ranked} == {"", "leave_out", "one_to_one", "strength"}


def test_a_plain_way_is_taken_only_where_it_may_be():
    def plain(world, wanted):
        setting = ready(world, wanted)
        return {f.plain for f in doubted(setting, finished(setting), options_of(setting))} - {""}

    assert plain(World(), Wanted(without=("a",), max_new=0)) == {"leave_out", "one_to_one", "strength"}
    assert plain(World(), Wanted(without=("a",), use=("y",))) == set(), "none of them uses y"
    tight = World(dose=10.0, named=True, most={"x": 1.0})
    assert plain(tight, Wanted(without=("a",))) == {"leave_out"}
    setting = ready(World())
    assert [f.written.grams.tolist() for f in finished(setting)] == [setting.base.tolist()]
    assert doubted(setting, finished(setting), [])[0].doubted == 0.0, "nothing is in question"


def formula(value, *, new=(), moved=(), plain="", dose=None, doubt=None) -> Formula:
    written = Written((), np.zeros(7))
    return Formula(written, value, new, moved, plain, dose, 1.0, value if doubt is None else doubt)


def test_the_answer_is_never_plainly_under_a_plain_way():
    setting = ready(World(), Wanted(without=("a",)))
    good, near, far = formula(0.9, moved=("b",)), formula(0.897, new=("x",)), formula(0.88, new=("y",))
    by_hand = formula(0.9, plain="strength")
    assert chosen_of(setting, [near, by_hand, good], []) is near
    assert chosen_of(setting, [far, by_hand, good], []) is by_hand
    assert chosen_of(setting, [far, good], []) is far, "no plain way: the order of worth stands"
    one, other = formula(0.8, new=("x",)), formula(0.831, new=("y",))
    assert chosen_of(setting, [one, other], []) is other, "plainly nearer with as few changes"
    assert chosen_of(setting, [one, formula(0.829, new=("y",))], []) is one
    assert chosen_of(setting, [one, formula(0.9, new=("y", "z"))], []) is one, (
        "for one more change worth decides"
    )
    lower, hardly = formula(0.905, dose=5.0), formula(0.903, dose=5.0)
    option = Option("lower_dose", 0.9, True)
    assert chosen_of(setting, [good], [(option, lower)]) is lower
    assert chosen_of(setting, [good], [(option, hardly)]) is good
    assert chosen_of(setting, [good], [(option, formula(0.99))]) is good, "a plain way without a dose"
    held = ready(World(), Wanted(without=("a",), hold_dose=True))
    assert chosen_of(held, [good], [(option, lower)]) is good
    assert chosen_of(setting, [], []).written.grams == pytest.approx(setting.base)


def test_plain_ways_say_their_dose_and_whether_they_keep_limits():
    setting = ready(World(dose=10.0, named=True, most={"a": 2.0, "x": 1.0}))
    found = {option.name: (option, formula) for option, formula in options_of(setting)}
    assert list(found) == ["leave_out", "one_to_one", "strength", "cut", "lower_dose"]
    assert {name: option.within_known for name, (option, _) in found.items()} == {
        "leave_out": True,
        "one_to_one": False,
        "strength": False,
        "cut": True,
        "lower_dose": True,
    }
    highest = 2.0 * 88 / 50
    assert found["lower_dose"][0].dose_pct == pytest.approx(highest)
    assert found["lower_dose"][1].dose == pytest.approx(highest)
    assert found["lower_dose"][0].match == pytest.approx(
        value_of(setting.problem, setting.problem.old * highest / 10)
    )
    assert found["lower_dose"][0].active == pytest.approx(
        {name: value * highest / 10 for name, value in zip("abcd", SMALL.old)}
    )
    assert [line.after for line in found["lower_dose"][1].written.lines] == SMALL.old[:4].tolist()
    assert found["cut"][0].dose_pct == 10.0
    assert found["cut"][0].active["a"] == pytest.approx(17.6)
    assert found["cut"][0].match == pytest.approx(value_of(setting.problem, setting.base), abs=1e-9)
    assert [o.name for o, _ in options_of(ready(World(), Wanted(without=("a",))))] == [
        *("leave_out", "one_to_one", "strength")
    ]


# -- rivals and the one bottle -------------------------------------------------------------------------------


def test_rivals_differ_in_kind():
    setting = ready(World(), Wanted(without=("a",)))

    def names(chosen, *others):
        return [(rival.name, rival.new) for rival in rivals_of(setting, chosen, [chosen, *others], None)]

    chosen = formula(0.80, new=("x", "y"), moved=("b",))
    fewer = formula(0.76, new=("x",))
    fewest = formula(0.755)
    nearer, nearest = formula(0.81, new=("z",), moved=("c", "d")), formula(0.83, new=("z", "y", "x"))
    assert names(chosen, fewer, nearer, nearest) == [("least_changed", ("x",)), ("nearest", ("z", "y", "x"))]
    assert names(chosen, fewer, fewest) == [("least_changed", ())]
    assert names(chosen, formula(0.69)) == [], "poor, and far under the answer"
    assert names(chosen, formula(0.701)) == [("least_changed", ())], "not under 0.70"
    poor = formula(0.60, new=("x",))
    assert names(poor, formula(0.56)) == [("least_changed", ())]
    assert names(poor, formula(0.54)) == []
    assert names(chosen, formula(0.803, new=("z", "y", "x"))) == [], "hardly nearer"
    assert names(chosen, formula(0.85, new=("x",))) == [("least_changed", ("x",))], "each formula once"
    bought = rivals_of(setting, chosen, [chosen, fewer], "the bottle")
    assert [bought[0].name, bought[1]] == ["least_changed", "the bottle"]
    assert rivals_of(ready(World()), chosen, [chosen, fewer], None) == []


def test_the_one_bottle_is_the_best_of_all_that_can_be_bought():
    """Beside it: every amount of every bottle on a dense grid."""
    shelf = Shelf(tuple(Stock(name, 100.0, 10.0, 1.0) for name in "bcdy"))
    world = World(shelf=shelf)
    own = {**PAIRS, "a": [("y", 0.4)]}
    wider = {**PAIRS, "a": [("x", 1.4), ("z", 3.0), ("y", 0.4)]}
    found = answer(world, Wanted(), pairs=own, wider=wider)
    assert found.bottle is not None
    (rival,) = (rival for rival in found.rivals if rival.name == "one_bottle")
    tops = {}
    for name in "xz":
        i = IDS.index(name)
        grid = np.repeat(np.array([0.0, 20.0, 8.0, 10.0, 0, 0, 0])[None], 400, axis=0)
        grid[:, i] = np.geomspace(0.01, 50.0, 400)
        tops[name] = max(value_of(SMALL, row) for row in grid[::4])
    assert found.bottle.material == max(tops, key=tops.get) == "x"
    assert found.bottle.match >= tops["x"] - 0.01
    assert found.bottle.match >= found.match.overall + 0.01
    assert rival.note == "with one bottle bought: X"
    assert "x" in rival.new
    assert rival.match.overall == pytest.approx(found.bottle.match)
    # no bottle: everything wanted is named, nothing can be bought, no shelf, no new line, or it is good already
    assert answer(world, Wanted(use=("y",)), pairs=own, wider=wider).bottle is None
    assert answer(world, Wanted(), pairs=own, wider=own).bottle is None
    assert answer(World(), Wanted(without=("a",)), pairs=own, wider=wider).bottle is None
    assert answer(world, Wanted(max_new=0), pairs=own, wider=wider).bottle is None
    full = World(shelf=Shelf(tuple(Stock(name) for name in "bcdyx")))
    assert answer(full, Wanted(), wider=wider).bottle is None


def test_a_bottle_joins_what_the_shelf_gives_and_stays_within_the_allowed_number():
    shelf = Shelf(tuple(Stock(name) for name in "dy"))
    own = {name: [("y", 0.4)] for name in "abc"}
    wider = {"a": [("x", 1.4), ("y", 0.4)], "b": [("y", 0.5)], "c": [("z", 5.0), ("y", 0.4)]}
    for most in (2, 3):
        found = answer(World(shelf=shelf), Wanted(max_new=most), pairs=own, wider=wider)
        (rival,) = (rival for rival in found.rivals if rival.name == "one_bottle")
        assert sum(name in ("x", "z") for name in rival.new) == 1, "one bottle, not two"
        assert len(rival.new) <= most
    setting = ready(World(shelf=shelf), Wanted(), pairs=own)
    none = bottle_of(setting, formula(0.95), Staged(), ranked_by(wider))
    assert none == (None, None)
    some = bottle_of(
        setting, replace(formula(0.5), written=Written((), setting.base)), Staged(), ranked_by(wider)
    )
    assert some[0] is not None


def test_more_of_what_is_in_it_already_is_told_where_it_brings_much():
    """Beside it: the line at a quarter more to five times as much, in thirteen steps."""
    pairs = {"a": [("c", 1.0), ("b", 1.0)]}
    accord_, gone = ACCORD, Wanted(without=("a",), max_new=0, move=0)
    setting = ready(World(), gone, accord_, pairs)
    bare = replace(formula(value_of(setting.problem, setting.base)), written=Written((), setting.base))
    tops = {}
    for i in (1, 2):
        for times in np.geomspace(1.25, 5, 13):
            grams = setting.base.copy()
            grams[i] *= times
            tops[i, times] = value_of(setting.problem, grams)
    (place, times), top = max(tops.items(), key=lambda item: item[1])
    told = raised_words(setting, replace(bare, value=top - 0.021))
    name = IDS[place].upper()
    assert told.startswith(f"{name} is in it already and stands in for A: about {times:.2g} times as much")
    assert f"the match to {top:.2f}" in told
    assert raised_words(setting, replace(bare, value=top - 0.019)) == ""
    assert raised_words(setting, replace(bare, value=0.0, dose=5.0)) == ""
    pinned = ready(World(), replace(gone, keep=("b", "c")), accord_, pairs)
    assert raised_words(pinned, replace(bare, value=0.0)) == ""
    others = [("x", 1.0), ("y", 1.0), ("z", 1.0), ("d", 1.0)]
    fifth = ready(World(), replace(gone, keep=("d",)), accord_, {"a": [*others, ("c", 1.0)]})
    held = replace(bare, value=0.0, written=Written((), fifth.base))
    assert raised_words(fifth, held).startswith("C is in it already")
    sixth = ready(World(), replace(gone, keep=("d", "b")), accord_, {"a": [*others, ("b", 1.0), ("c", 1.0)]})
    assert raised_words(sixth, held) == "", "among the five best only"
    limited = ready(
        World(dose=10.0, named=True, most={"c": 10 * 8 / 88, "b": 10 * 20 / 88}), gone, accord_, pairs
    )
    told = raised_words(limited, replace(bare, value=0.0, written=Written((), limited.base)))
    assert "about 1 times" in told, "no more than the limit leaves"


def test_a_gap_is_filled_by_the_new_one_that_ranks_first():
    ranked = {"a": [("x", 1.0), ("y", 1.0)], "b": [("y", 1.0), ("x", 1.0)], "c": [("z", 1.0), ("x", 1.0)]}
    assert stands_for("x", ranked, ["x"]) == ["a", "b", "c"]
    assert stands_for("x", ranked, ["x", "y"]) == ["a", "c"]
    assert stands_for("x", ranked, ["x", "y", "z"]) == ["a"]
    assert stands_for("x", {"b": ranked["b"]}, ["x", "y"]) == ["b"], "else where it ranks best"
    assert stands_for("q", ranked, ["q"]) == []


# -- the answer ----------------------------------------------------------------------------------------------


def test_the_answer_at_a_named_dose():
    found = answer(World(dose=10.0, named=True, most={"a": 2.0}))
    lines = {line.material: line for line in found.lines}
    assert lines["a"].after == 17.6
    assert lines["a"].cause == "limit"
    assert found.within_known
    total = sum(line.after for line in found.lines)
    assert found.dose == (10.0, pytest.approx(10.0 * total / 88))
    assert found.dose_within_known == pytest.approx(2.0 * 88 / 50)
    (change,) = found.limits
    assert (change.ok_before, change.ok_after) == (False, True)
    assert change.after_pct == pytest.approx(2.0)
    grams = np.array([after(found).get(name, 0.0) for name in IDS])
    assert found.match.overall == pytest.approx(value_of(SMALL, grams))
    assert found.category == "4"
    assert found.product == "p"
    none = answer(World(), Wanted(without=("a",)))
    assert (none.dose, none.product, none.category, none.limits) == ((None, None), "", "", ())
    grown = abs(none.total[1] / none.total[0] - 1) > 0.005
    assert any("the formula weighs" in note for note in none.notes) is grown


def test_held_to_the_dose_the_limits_hold_in_the_lighter_formula():
    world = World(dose=10.0, named=True, most={"a": 2.0})
    found = answer(world, Wanted(hold_dose=True, max_new=0))
    total = sum(line.after for line in found.lines)
    assert total < 88
    assert found.dose == (10.0, 10.0)
    assert 10.0 * after(found)["a"] / total <= 2.0
    assert 10.0 * after(found)["a"] / total >= 2.0 * 0.97, "and no deeper than needed"
    assert found.within_known
    grams = np.array([after(found).get(name, 0.0) for name in IDS]) * 88 / total
    assert found.match.overall == pytest.approx(value_of(SMALL, grams), abs=1e-9), "at the same dose"
    assert found.notes == (), "the dose is the old one, so there is nothing to say of it"
    free = answer(world, Wanted(max_new=0))
    assert after(free)["a"] > after(found)["a"]
    assert any("the formula weighs" in note for note in free.notes)


def test_a_lower_dose_is_the_answer_where_nothing_comes_nearer():
    """Three of four lines as much over their limits: cutting them leaves the fourth too loud, less of all not."""
    most = {name: 10.0 * parts / 88 * 0.7 for name, parts in zip("abc", SMALL.old)}
    found = answer(World(dose=10.0, named=True, most=most), Wanted(max_new=0))
    assert found.dose[1] == pytest.approx(7.0)
    assert found.notes[0].startswith("nothing that changes the formula comes nearer")
    assert [line.after for line in found.lines] == SMALL.old[:4].tolist()
    assert all(line.cause == "kept" for line in found.lines)
    assert not any("the formula weighs" in note for note in found.notes)
    held = answer(World(dose=10.0, named=True, most=most), Wanted(max_new=0, hold_dose=True))
    assert held.dose[1] == 10.0


def test_words_under_070_and_costs():
    shelf = Shelf((Stock("d", 100.0, 10.0, 2.0), Stock("y", 100.0, 10.0, 3.0)))
    found = answer(World(shelf=shelf), Wanted(max_new=0), pairs={**PAIRS, "c": [], "a": [], "b": []})
    assert found.verdict == "none"
    assert found.notes[0] == "nothing here takes its place; what is shown comes nearest"
    assert found.cost == (None, pytest.approx(2.0 * after(found)["d"] / 88))
    fair = answer(World(), Wanted(without=("d",)))
    assert fair.match.overall >= 0.7
    assert not any("nothing here" in note for note in fair.notes)
    silent = answer(World(shelf=Shelf((Stock("ethanol"),))), pairs={name: [] for name in "abcd"})
    assert not silent.within_known
    assert silent.match.overall == 0.0
    with pytest.raises(InputError, match="nothing to match"):
        answer(World(), Wanted(), Accord("m", (Line("ethanol", 3.0), Line("a", 0.0))))


def test_few_rivals_as_asked():
    shelf = Shelf(tuple(Stock(name) for name in "bcdy"))
    pairs = {**PAIRS, "a": [("y", 0.4)]}
    for most in (0, 1, 3):
        found = answer(World(shelf=shelf), Wanted(rivals=most), pairs=pairs, wider=PAIRS)
        assert len(found.rivals) == min(most, 1)


@pytest.mark.parametrize(("parts", "told"), [(0.4, False), (0.5, True)])
def test_a_trifle_of_solvent_is_not_told(parts, told):
    """Of 88 parts half a percent is 0.44: 0.4 parts at 1 % bring 0.396 of solvent, 0.5 parts 0.495."""
    line = WrittenLine("x", 1.0, 0.0, parts, is_new=True)
    written = Written((line,), np.zeros(7))
    notes = solvent_notes(World().tables, World(), written, (88.0, 88.0), (None, None))
    assert bool(notes) is told
    grown = solvent_notes(
        World().tables, World(), Written((), np.zeros(7)), (88.0, 88.0 + parts), (None, None)
    )
    assert bool(grown) is told
