"""Adjust in the small: problems of our own with numbers that can be worked out beside them, no tables read."""

import itertools
import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import minimize

from substitute.accords import cut as cutting
from substitute.accords import fill as filling
from substitute.accords import written as writing
from substitute.accords.adjusted import verdict_of
from substitute.accords.cost import Cost, Unpriced
from substitute.accords.doubts import make_doubts
from substitute.accords.explain import reasons
from substitute.accords.fill import NEW_PRICE, fill, moved, pairs_on, pruned, singles_on, trial
from substitute.accords.gaps import Gap, _over_what, _times_over
from substitute.accords.mend import Mended, check_folder, file_names, mend
from substitute.accords.plain import heaviest, plain_ways, within_known
from substitute.accords.problem import Problem, build_problem
from substitute.accords.same_total import at_old_total
from substitute.accords.setting import at_most
from substitute.accords.written import Written, WrittenLine, floored, rounded, strength_for, write
from substitute.errors import InputError
from substitute.odour.perception import impression, match
from substitute.records import Accord, Line, Shelf, Stock

# -- a small problem of our own: three materials, three words, no tables -------------------------------------


def small(rows=None, banned=(), most=(), unknown=0) -> Problem:
    """Four lines and three candidates over one stage and four words, plain numbers."""
    ids = ("a", "b", "c", "d", "x", "y", "z")
    words = np.array(
        [
            [1.0, 0.0, 0.0, 0.0],
            [0.0, 1.0, 0.0, 0.0],
            [0.0, 0.0, 1.0, 0.0],
            [0.0, 0.2, 0.2, 0.6],
            [0.8, 0.2, 0.0, 0.0],
            [0.5, 0.0, 0.0, 0.5],
            [0.0, 0.1, 0.9, 0.0],
        ]
    )
    potency = np.array([[1.0], [2.0], [5.0], [1.0], [0.7], [3.0], [1.0]])
    old = np.array([50.0, 20.0, 8.0, 10.0, 0.0, 0.0, 0.0])
    rows = np.zeros((0, 7)) if rows is None else np.array(rows, dtype=float)
    return Problem(
        ids,
        4,
        build_problem.__defaults__[1],
        potency,
        words[:, None, :],
        old,
        rows,
        len(rows) - unknown,
        np.isin(ids, banned),
        np.array([dict(most).get(name, np.inf) for name in ids]),
        float(old.sum()),
    )


def without_a(problem: Problem) -> np.ndarray:
    base = problem.old.copy()
    base[0] = 0.0
    return base


def value_of(problem: Problem, grams) -> float:
    """The match by the plain road: two impressions, compared."""
    after = impression(grams, problem.potency, problem.profile, problem.hearing)
    before = impression(problem.old, problem.potency, problem.profile, problem.hearing)
    return match(after, before).overall


def test_the_kernel_says_what_two_impressions_say():
    problem, rng = small(), np.random.default_rng(1)
    for _ in range(50):
        grams = rng.lognormal(0, 2, 7) * (rng.random(7) < 0.7)
        assert float(problem.ear.values(problem.ear.sums(grams))) == pytest.approx(
            value_of(problem, grams), abs=1e-12
        )
    many = rng.lognormal(0, 1, (3, 5, 7))
    values = problem.ear.values(problem.ear.sums(many))
    assert values.shape == (3, 5)
    assert values[1, 2] == pytest.approx(value_of(problem, many[1, 2]), abs=1e-12)
    held, more = problem.ear.sums(problem.old), problem.ear.one(4, np.array([3.0, 7.0]))
    both = problem.ear.values(filling.add(held, more))
    for place, grams in enumerate((3.0, 7.0)):
        mixed = problem.old.copy()
        mixed[4] = grams
        assert both[place] == pytest.approx(value_of(problem, mixed), abs=1e-12)
    assert problem.match(problem.old).overall == pytest.approx(1.0)
    assert float(problem.ear.values(problem.ear.sums(np.zeros(7)))) == 0.0


def test_one_material_is_as_good_as_a_dense_grid():
    problem = small()
    base = without_a(problem)
    found = singles_on(problem, trial(problem, base), [4, 5, 6])
    assert {one.new for one in found} == {(4,), (5,), (6,)}
    for one in found:
        (i,) = one.new
        grid = np.repeat(base[None], 4000, axis=0)
        grid[:, i] = np.geomspace(1e-3, 1e4, 4000)
        best = max(value_of(problem, row) for row in grid[::16])
        assert one.value >= best - 1e-3
        assert one.value == pytest.approx(value_of(problem, one.grams), abs=1e-12)
        kept = np.delete(one.grams, i)
        assert (kept == np.delete(base, i)).all()
    assert found[0].new == (4,), "the one that smells of what went comes first"


def test_two_materials_are_as_good_as_a_dense_grid_and_a_solver():
    problem = small()
    base = without_a(problem)
    start = trial(problem, base)
    best = fill(problem, base, [4, 5, 6], 2)
    pair = max((one for one in best if len(one.new) == 2), key=lambda one: one.value)
    levels = np.geomspace(0.05, 500, 60)
    top = 0.0
    for i, j in itertools.combinations((4, 5, 6), 2):
        grid = np.repeat(base[None], 3600, axis=0)
        grid[:, i], grid[:, j] = (axis.ravel() for axis in np.meshgrid(levels, levels))
        top = max(top, float(problem.ear.values(problem.ear.sums(grid)).max()))
    assert pair.value >= top - 1e-3

    def minus(log_grams):
        grams = base.copy()
        grams[4:] = np.exp(log_grams)
        return -value_of(problem, grams)

    solver = max(
        -minimize(minus, np.log(first), method="Nelder-Mead", options={"maxiter": 2000}).fun
        for first in ([50.0, 0.1, 0.1], [30.0, 3.0, 0.01], [60.0, 0.01, 1.0])
    )
    three = max(one.value for one in fill(problem, base, [4, 5, 6], 3))
    assert three >= solver - 2e-3
    assert len(pairs_on(problem, start, singles_on(problem, start, [4]))) == 0


def test_amounts_stop_at_a_limit_and_at_what_the_pair_allows():
    row = [0.0, 0.0, 0.0, 0.0, 0.05, 0.0, 0.0]
    for problem, most in ((small([row]), 20.0), (small(most={"x": 7.0}), 7.0)):
        base = without_a(problem)
        x = next(one for one in fill(problem, base, [4], 1) if one.new == (4,))
        assert x.grams[4] == pytest.approx(most, rel=1e-6)
        assert problem.room(base, 4) == pytest.approx(most)
    together = small([[0.0, 0.0, 0.0, 0.05, 0.05, 0.05, 0.05]])
    base = without_a(together)
    assert together.room(base, 4) == pytest.approx(10.0)
    for one in fill(together, base, [4, 5, 6], 3):
        assert together.obeys(one.grams)
        assert together.used(one.grams)[0] <= 1 + 1e-9
    full = small([[1 / 50, 0, 0, 0, 0.1, 0, 0]])
    assert [one.new for one in singles_on(full, trial(full, full.old), [4, 5])] == [(5,)], "no room for x"
    banned = small(banned=("x",))
    assert banned.room(without_a(banned), 4) == 0.0
    assert not any(4 in one.new for one in fill(banned, without_a(banned), [4, 5], 2))
    assert not banned.obeys(np.array([0, 0, 0, 0, 1.0, 0, 0]))


def test_no_more_new_materials_than_allowed_and_those_asked_for_in_any_case():
    problem = small()
    base = without_a(problem)
    for most in range(4):
        found = fill(problem, base, [4, 5, 6], most)
        assert max(len(one.new) for one in found) <= most
        assert any(len(one.new) == 0 for one in found)
    assert [one.new for one in fill(problem, base, [4, 5, 6], 0)] == [()]
    asked = fill(problem, base, [4, 5], 2, must=[6])
    assert all(6 in one.new for one in asked)
    raised = fill(problem, base, [], 0, must=[3])[0]
    assert raised.grams[3] >= base[3]
    assert raised.new == ()


def test_a_crumb_and_what_pays_nothing_are_taken_out_again():
    problem = small()
    grams = without_a(problem)
    grams[4], grams[6] = 60.0, 1e-9
    assert pruned(problem, trial(problem, grams)).new == (4,)
    grams[6] = 0.3  # heard, but of no use
    least = pruned(problem, trial(problem, grams))
    assert least.new == (4,)
    assert pruned(problem, trial(problem, grams), must=(6,)).new == (4, 6)
    low = np.where(np.arange(7) == 4, 20.0, grams)
    turned, alone = (
        pruned(problem, trial(problem, low)),
        singles_on(problem, trial(problem, without_a(problem)), [4]),
    )
    assert turned.value >= alone[0].value - 6e-3, "what stays is turned to its best again"
    useful = pruned(problem, trial(problem, np.where(np.arange(7) == 6, 0.0, grams)))
    assert useful.value - trial(problem, without_a(problem)).value >= NEW_PRICE


def test_a_line_moves_only_where_it_pays_and_never_beyond_its_reach():
    problem = small()
    base = without_a(problem)
    start = trial(problem, base)
    still = moved(problem, start, [1, 2, 3], 0.0, base)
    assert still is start
    once = moved(problem, start, [1, 2, 3], 0.25, base)
    far = moved(problem, start, [1, 2, 3], 2.0, base)
    for one, reach in ((once, 0.25), (far, 2.0)):
        shift = np.abs(one.grams[1:4] - base[1:4]) / base[1:4]
        assert (shift <= reach + 1e-9).all()
        assert one.value >= start.value + NEW_PRICE * (shift > 1e-9).sum() - 1e-9
    assert far.value >= once.value
    grid = np.array(list(itertools.product(*[np.linspace(0.75, 1.25, 9) * base[i] for i in (1, 2, 3)])))
    tries = np.repeat(base[None], len(grid), axis=0)
    tries[:, 1:4] = grid
    best = float(problem.ear.values(problem.ear.sums(tries)).max())
    assert once.value >= best - 3 * NEW_PRICE
    pinned = moved(problem, start, [1], 0.25, base)
    assert (pinned.grams[2:] == base[2:]).all()


def test_a_line_that_pays_moves_to_the_best_of_its_steps():
    """Beside it: every step of every line, one at a time."""
    problem = small()
    base = np.where(np.arange(7) == 2, 0.0, problem.old)
    start = trial(problem, base)
    steps = {
        (i, factor): value_of(problem, np.where(np.arange(7) == i, base * factor, base))
        for i in (0, 1, 3)
        for factor in np.linspace(0.75, 1.25, 9)
    }
    (i, factor), top = max(steps.items(), key=lambda item: item[1])
    assert top >= start.value + NEW_PRICE
    found = moved(problem, start, [i], 0.25, base)
    assert found.grams[i] == pytest.approx(base[i] * factor)
    assert found.value == pytest.approx(top)
    every = moved(problem, start, [0, 1, 3], 0.25, base)
    assert every.value >= top
    assert every.grams[i] == pytest.approx(base[i] * factor), "the best goes first and is not moved again"
    assert moved(problem, start, [2], 0.25, base) is start, "what is not in it cannot move"


# -- over a limit --------------------------------------------------------------------------------------------


def test_the_cut_is_the_least_change_on_a_dense_grid():
    row = [0.02, 0.02, 0.05, 0.0, 0.0, 0.0, 0.0]  # 1.8 of 1 at the start: a group of three, met as a whole
    problem = small([row])
    free = np.zeros(7, dtype=bool)
    found = cutting.cut(problem, problem.old, free)
    assert problem.used(found)[0] <= 1 + 1e-9
    assert problem.used(found)[0] == pytest.approx(1.0, abs=1e-6)
    assert (found <= problem.old + 1e-12).all()
    assert found[3] == problem.old[3]
    steps = np.linspace(0, 1, 31)
    tries = np.stack([axis.ravel() for axis in np.meshgrid(steps, steps, steps)], axis=1)
    grid = np.repeat(problem.old[None], len(tries), axis=0)
    grid[:, :3] *= tries
    grid = grid[(grid @ problem.rows[0]) <= 1.0]
    best = float(problem.ear.values(problem.ear.sums(grid)).max())
    assert value_of(problem, found) >= best - 0.02
    fixed = free.copy()
    fixed[0] = True
    kept = cutting.cut(problem, problem.old, fixed)
    assert kept[0] == problem.old[0]
    assert problem.used(kept)[0] <= 1 + 1e-9
    within = small([[0.001] * 7])
    assert cutting.cut(within, within.old, free) is within.old
    equal = small([[1 / 50, 0, 0, 0, 0, 0, 0]])
    assert cutting.cut(equal, equal.old, free) is equal.old, "equal is within"
    hopeless = cutting.cut(small([[0.04] * 7]), problem.old, np.ones(7, dtype=bool))
    assert (hopeless == problem.old).all()


def test_two_limits_at_once_and_what_is_unknown_asks_for_no_cut():
    problem = small([[0.04, 0, 0, 0, 0, 0, 0], [0.0, 0.1, 0, 0.001, 0, 0, 0]])
    found = cutting.cut(problem, problem.old, np.zeros(7, dtype=bool))
    assert found[0] == pytest.approx(25.0)
    assert problem.used(found).max() <= 1 + 1e-9
    assert found[3] == pytest.approx(problem.old[3]), "a small contributor is not touched for nothing"
    unknown = small([[1 / 40, 0, 0, 0, 0, 0, 0]], unknown=1)
    assert cutting.cut(unknown, unknown.old, np.zeros(7, dtype=bool)) is unknown.old


def test_the_plain_ways():
    problem = small([[0.04, 0, 0, 0, 0, 0, 0]])
    gaps = [Gap("a", "limit", "limit", "")]
    base = cutting.cut(problem, problem.old, np.zeros(7, dtype=bool))
    ways = {
        way.name: way
        for way in plain_ways(problem, base, gaps, {"a": [("b", 1.0), ("x", 1.4), ("y", 0.3)]}, 2, 0.5)
    }
    assert list(ways) == ["leave_out", "one_to_one", "strength", "cut", "lower_dose"]
    assert ways["leave_out"].grams[0] == 0
    assert ways["cut"].grams[0] == pytest.approx(25)
    assert ways["one_to_one"].grams[4] == pytest.approx(25)
    assert ways["strength"].grams[4] == pytest.approx(35)
    assert (ways["lower_dose"].grams == problem.old * 0.5).all()
    assert within_known(problem, ways["cut"].grams)
    assert not within_known(problem, problem.old)
    gone = plain_ways(problem, base, [Gap("a", "asked", "price", "")], {"a": [("y", 1e-9)]}, 2, None)
    assert [way.name for way in gone] == ["leave_out", "one_to_one", "strength"]
    assert gone[2].grams[5] == 0, "no crumb, by hand either"
    assert plain_ways(problem, base, [], {}, 2, None) == []
    assert at_most({"a": [("x", 2.0), ("y", None)], "b": [("x", 1.0)]}, {"a": 10.0, "b": 4.0}) == {
        "x": pytest.approx(36.0),
        "y": np.inf,
    }


# -- as a person writes it -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "near", "cut"),
    [
        (1.23456, 1.23, 1.23),
        (0.00012799, 0.000128, 0.000127),
        (99999.9, 100000, 99900),
        (0.0, 0, 0),
        (0.3, 0.3, 0.3),
    ],
)
def test_three_figures(value, near, cut):
    assert rounded(value) == near
    assert floored(value) == cut
    assert floored(value) <= value


def test_new_lines_are_written_at_a_strength_that_can_be_weighed():
    held = Shelf((Stock("x", 100.0), Stock("x", 10.0), Stock("y", 50.0)))
    assert strength_for("x", 1.0, 100.0, held) == (100.0, False)
    assert strength_for("x", 0.1, 100.0, held) == (100.0, False)
    assert strength_for("x", 0.05, 100.0, held) == (10.0, False)
    assert strength_for("x", 0.005, 100.0, held) == (1.0, True)
    assert strength_for("y", 0.01, 100.0, held) == (10.0, True)
    assert strength_for("z", 0.0000001, 100.0, None) == (0.1, True)
    assert strength_for("z", 5.0, 100.0, None) == (100.0, False)


def test_writing_keeps_untouched_lines_to_the_digit_and_the_limits():
    problem = small([[0.0, 0.0, 0.0, 0.0, 1 / 20.127, 0.0, 0.0]])
    accord = Accord("s", tuple(Line(name, parts) for name, parts in zip("abcd", problem.old)))
    grams = without_a(problem)
    grams[1] = 1.2345 * grams[1]
    grams[4] = 20.127
    made = write(problem, grams, accord, None)
    lines = {line.material: line for line in made.lines}
    assert (lines["a"].after, lines["b"].after, lines["c"].after) == (0.0, 24.7, 8.0)
    assert lines["x"].after == 20.1, "rounded down where up would break the limit"
    assert lines["x"].is_new
    assert problem.obeys(made.grams)
    assert made.total == pytest.approx(24.7 + 8 + 10 + 20.1)
    down = write(problem, np.where(np.arange(7) == 1, 24.69, problem.old), accord, None, lowered=["b"])
    assert {line.material: line.after for line in down.lines}["b"] == 24.6


def test_verdicts():
    assert [verdict_of(m) for m in (1.0, 0.95, 0.949, 0.85, 0.849, 0.70, 0.699, 0.0)] == [
        *("good", "good", "fair", "fair", "poor", "poor", "none", "none"),
    ]


def test_doubts_keep_the_accord_itself_at_one():
    problem = small()
    grams = np.array([problem.old, without_a(problem), problem.old * 0.5])
    values = make_doubts(problem, grams, 12).values(grams)
    assert values.shape == (12, 3)
    assert values[:, 0] == pytest.approx(1.0)
    assert (values[:, 1:] < 1).all()
    assert values[:, 2].std() > 0.005, "the exponent differs from world to world"
    again = make_doubts(problem, grams, 12).values(grams)
    assert (again == values).all()


# -- single figures, so that a turned sign or another constant shows -------------------------------------------


NONE_FIXED = np.zeros(7, dtype=bool)


def test_rounding_within_the_slack_is_no_breach():
    """Known limits are held to a part in a thousand million: beside it, nothing is cut."""
    for over, touched in ((0.5e-9, False), (1e-6, True)):
        problem = small([[(1 + over) / 50, 0, 0, 0, 0, 0, 0]])
        found = cutting.cut(problem, problem.old, NONE_FIXED)
        assert (found is not problem.old) is touched
        assert within_known(problem, problem.old) is not touched
        assert bool(problem.obeys(problem.old)) is not touched


def test_a_cut_goes_to_the_limit_and_not_below_it():
    problem = small([[0.04, 0, 0, 0, 0, 0, 0]])
    found = cutting.cut(problem, problem.old, NONE_FIXED)
    assert found[0] == pytest.approx(25.0, rel=1e-9)
    assert found[0] <= 25.0
    assert (found[1:] == problem.old[1:]).all()


def test_all_in_one_proportion_where_nothing_is_said():
    row = np.array([0.02, 0.02, 0.05, 0.0, 0.0, 0.0, 0.0])
    problem = small([row])
    found = cutting._lowered(problem, problem.old, NONE_FIXED, ())
    assert found[:3] == pytest.approx(problem.old[:3] / (row @ problem.old))
    assert found[3] == problem.old[3]
    held = NONE_FIXED.copy()
    held[1] = True
    found = cutting._lowered(problem, problem.old, held, ())
    assert found[1] == problem.old[1]
    assert found[[0, 2]] == pytest.approx(problem.old[[0, 2]] * (1 - 0.4) / 1.4)


def test_one_before_the_others_takes_its_part_of_the_excess():
    problem = small([[0.02, 0.02, 0.05, 0.0, 0.0, 0.0, 0.0]])  # 1 + 0.4 + 0.4 of 1
    found = cutting._lowered(problem, problem.old, NONE_FIXED, ((0, 1.0),))
    assert found[0] == pytest.approx(50 - 0.8 / 0.02)
    assert (found[1:] == problem.old[1:]).all()
    split = cutting._lowered(problem, problem.old, NONE_FIXED, ((0, 0.5), (1, 1.0)))
    assert split[0] == pytest.approx(50 - 0.4 / 0.02)
    assert split[1] == pytest.approx(20 - 0.4 / 0.02, abs=1e-9)
    assert split[2] == problem.old[2]
    small_one = cutting._lowered(problem, problem.old, NONE_FIXED, ((2, 1.0),))
    assert small_one[2] == pytest.approx(0.0, abs=1e-9), "what it cannot give the others must"
    assert small_one[:2] == pytest.approx(problem.old[:2] / 1.4)


def test_a_line_that_brings_little_is_left_while_others_can_give_way():
    row = [0.04, 0.0, 0.0, 0.004, 0.0, 0.0, 0.0]  # 2 and 0.04: d brings 2 % of it
    problem = small([row])
    found = cutting._lowered(problem, problem.old, NONE_FIXED, ())
    assert found[3] == problem.old[3]
    assert found[0] == pytest.approx((1 - 0.04) / 0.04)
    held = NONE_FIXED.copy()
    held[0] = True
    assert cutting._lowered(problem, problem.old, held, ())[3] == 0.0, "with the large one held, it must"
    more = small([[0.04, 0.0, 0.0, 0.02, 0.0, 0.0, 0.0]])  # 2 and 0.2: 9 %
    assert cutting._lowered(more, more.old, NONE_FIXED, ())[3] == pytest.approx(10 / 2.2)


def test_the_worst_limit_is_met_first():
    rows = [[0.03, 0, 0, 0, 0, 0, 0], [0.04, 0.05, 0, 0, 0, 0, 0]]  # 1.5 and 3
    problem = small(rows)
    found = cutting._lowered(problem, problem.old, NONE_FIXED, ())
    assert found[:2] == pytest.approx(problem.old[:2] / 3)
    assert (cutting._lowered(small(rows[::-1]), problem.old, NONE_FIXED, ()) == found).all()


def test_touching_one_more_line_must_save_match():
    """Among all ways that hold the limit, the chosen one is the best by match less 0.003 a line."""
    problem = small([[0.02, 0.02, 0.05, 0.01, 0.0, 0.0, 0.0]])
    found = cutting.cut(problem, problem.old, NONE_FIXED)

    def worth(grams) -> float:
        touched = np.abs(grams - problem.old) > 1e-9 * problem.old
        return value_of(problem, grams) - 0.003 * touched[:4].sum()

    ways = [w for w in cutting._ways(problem, problem.old, NONE_FIXED) if within_known(problem, w)]
    assert len(ways) > 50
    assert worth(found) == pytest.approx(max(map(worth, ways)), abs=2e-6)
    assert len(list(cutting._ways(problem, problem.old, NONE_FIXED))) == 1 + 4 + 4 * 3 * 9


def test_dense_pairs_of_cuts_are_not_beaten():
    """Two lines under one limit: every split of the cut between them, from a grid beside it."""
    problem = small([[0.03, 0.06, 0.0, 0.0, 0.0, 0.0, 0.0]])
    found = cutting.cut(problem, problem.old, NONE_FIXED)
    best = 0.0
    for a in np.linspace(0, 1 / 0.03, 200):
        grams = problem.old.copy()
        grams[0], grams[1] = min(a, 50.0), min(max((1 - 0.03 * a) / 0.06, 0.0), 20.0)
        best = max(best, value_of(problem, grams))
    assert value_of(problem, found) >= best - 0.006


def test_units_shares_and_room_by_hand():
    problem = small([[0.01, 0, 0, 0, 0.02, 0, 0]], most={"y": 3.0}, banned=("z",))
    power = problem.hearing.power
    heard = problem.potency[:, 0] * problem.old
    wanted = heard**power / (heard**power).sum()
    assert problem.shares(problem.old) == pytest.approx(wanted)
    assert problem.fresh_shares(problem.old) == pytest.approx(wanted)
    assert (problem.fresh_shares(np.zeros(7)) == 0).all()
    total = (heard**power).sum()
    assert problem.unit == pytest.approx(total ** (1 / power) / problem.potency[:, 0])
    assert problem.room(problem.old, 4) == pytest.approx((1 - 0.5) / 0.02)
    assert problem.room(problem.old, 0) == pytest.approx(100.0), "its own amount does not count"
    assert problem.room(problem.old, 5) == 3.0
    assert problem.room(problem.old, 1) == math.inf
    assert problem.room(problem.old, 6) == 0.0
    assert problem.used(problem.old) == pytest.approx([0.5])
    assert list(problem.is_line) == [True] * 4 + [False] * 3
    assert problem.index["c"] == 2
    over = problem.old.copy()
    over[0] = 120.0
    assert problem.room(over, 4) == 0.0


def test_what_is_never_heard_has_no_unit():
    problem = small()
    mute = Problem(**{**vars_of(problem), "potency": problem.potency * (np.arange(7) != 5)[:, None]})
    assert mute.unit[5] == math.inf
    assert np.isfinite(np.delete(mute.unit, 5)).all()
    assert [one.new for one in singles_on(mute, trial(mute, without_a(mute)), [4, 5])] == [(4,)]


def vars_of(problem: Problem) -> dict:
    return {name: getattr(problem, name) for name in problem.__dataclass_fields__}


def test_the_loudest_loss_is_stood_in_for_first():
    problem = small()
    gaps = [Gap("c", "asked", "price", ""), Gap("a", "asked", "price", "")]
    base = problem.old.copy()
    base[[0, 2]] = 0.0
    ranked = {"a": [("x", 0.9)], "c": [("z", 3.0)]}
    ways = {way.name: way.grams for way in plain_ways(problem, base, gaps, ranked, 1, None)}
    loudest = max(
        "ac", key=lambda name: problem.old[problem.index[name]] * problem.potency[problem.index[name], 0]
    )
    place = {"a": 4, "c": 6}[loudest]
    assert ways["one_to_one"][place] == pytest.approx(problem.old[problem.index[loudest]])
    assert ways["strength"][place] == pytest.approx(
        problem.old[problem.index[loudest]] * ranked[loudest][0][1]
    )
    assert ways["one_to_one"][10 - place] == 0
    both = {way.name: way.grams for way in plain_ways(problem, base, gaps, ranked, 2, None)}
    assert both["strength"][[4, 6]] == pytest.approx([45.0, 24.0])
    assert (both["leave_out"] == base).all()


def test_no_new_material_is_more_than_half_unless_more_went():
    """Of 88 parts: 44, or what it stands in for; where all but all went, what it takes."""
    problem = small()
    for gone, ratio, amount in (("a", 2.0, 50.0), ("b", 5.0, 44.0), ("b", 2.0, 40.0), ("abcd", 2.0, 100.0)):
        gaps = [Gap(name, "asked", "price", "") for name in gone]
        base = np.where(np.isin(problem.ids, list(gone)), 0.0, problem.old)
        ranked = {name: [("x", ratio)] for name in gone}
        ways = {way.name: way.grams for way in plain_ways(problem, base, gaps, ranked, 1, None)}
        assert ways["strength"][4] == pytest.approx(amount)
    assert heaviest(100.0, 89.0, 89.0) == 89.0
    assert heaviest(100.0, 20.0, 90.0) == math.inf
    assert heaviest(100.0, 20.0, 89.0) == 50.0
    two = [Gap("b", "asked", "price", ""), Gap("a", "asked", "price", "")]
    base = np.where(np.isin(problem.ids, ["a", "b"]), 0.0, problem.old)
    ways = plain_ways(problem, base, two, {"a": [("x", 2.0)], "b": [("x", 1.0)]}, 2, None)
    assert {way.name: way.grams[4] for way in ways} == {
        "leave_out": 0.0,
        "one_to_one": 70.0,
        "strength": 70.0,
    }


def test_a_plain_stand_in_is_new_allowed_and_of_known_amount_and_limit():
    rows = [[0, 0, 0, 0, 0, 0.001, 0]]
    problem = small(rows, banned=("z",), unknown=1)
    base, gaps = without_a(problem), [Gap("a", "asked", "price", "")]

    def placed(*ranked) -> list[int]:
        ways = plain_ways(problem, base, gaps, {"a": ranked}, 2, None)
        return np.flatnonzero(ways[1].grams - base).tolist()

    assert placed(("b", 1.0), ("x", None), ("z", 1.0), ("y", 1.0), ("w", 1.0)) == []
    assert placed(("y", 1.0), ("x", 1.0)) == [4]
    limited = [Gap("a", "limit", "limit", "")]
    for dose, named in ((0.5, True), (None, False), (1.0, False), (0.0, False)):
        ways = [way.name for way in plain_ways(problem, base, limited, {"a": []}, 2, dose)]
        assert ("lower_dose" in ways) is named
    mixed = [*limited, Gap("b", "asked", "price", "")]
    ways = plain_ways(problem, base, mixed, {"a": [], "b": []}, 2, 0.5)
    assert [way.name for way in ways] == ["leave_out", "one_to_one", "strength", "cut"]


def test_what_is_banned_is_not_within_the_known():
    problem = small(banned=("x",))
    grams = problem.old.copy()
    assert within_known(problem, grams)
    grams[4] = 1e-6
    assert not within_known(problem, grams)


def test_written_strengths_at_the_edge():
    """A thousandth of the total can be weighed, less cannot; dilutions are of ten, one and a tenth percent."""
    assert writing.WEIGHABLE == 0.001
    assert strength_for("x", 0.1, 100.0, None) == (100.0, False)
    assert strength_for("x", 0.0999, 100.0, None) == (10.0, True)
    assert strength_for("x", 0.01, 100.0, None) == (10.0, True)
    assert strength_for("x", 0.00999, 100.0, None) == (1.0, True)
    assert strength_for("x", 0.00099, 100.0, None) == (0.1, True)
    half = Shelf((Stock("x", 100.0), Stock("x", 0.5)))
    assert strength_for("x", 1e-9, 100.0, half) == (0.1, True)
    weak = Shelf((Stock("x", 100.0), Stock("x", 0.05)))
    assert strength_for("x", 1e-9, 100.0, weak) == (0.05, False)
    weak = Shelf((Stock("x", 0.05),))
    assert strength_for("x", 1e-9, 100.0, weak) == (0.05, False)
    ten = Shelf((Stock("x", 10.0),))
    assert strength_for("x", 0.0099, 100.0, ten) == (1.0, True), "not thinned to what stands there"
    assert rounded(-1.0) == rounded(math.inf) == floored(-1.0) == floored(math.nan) == 0.0
    assert (floored(9.999), floored(10.0), floored(0.1 + 0.2)) == (9.99, 10.0, 0.3)
    assert rounded(1234.5) == 1230.0


def test_written_lines_of_solutions():
    """Parts are of the solution: half the active grams halve the parts, at any strength."""
    problem = small()
    accord = Accord(
        "s",
        (
            Line("a", 50.0, 100.0, "core"),
            Line("b", 200.0, 10.0, optional=True),
            Line("c", 8.0),
            Line("d", 10.0),
        ),
    )
    grams = problem.old.copy()
    grams[1] /= 2
    grams[5] = 0.02
    made = write(problem, grams, accord, None)
    lines = {line.material: line for line in made.lines}
    assert (lines["b"].before, lines["b"].after, lines["b"].active) == (200.0, 100.0, 10.0)
    assert (lines["b"].optional, lines["a"].role, lines["a"].optional) == (True, "core", False)
    assert (lines["y"].strength, lines["y"].after, lines["y"].diluted, lines["y"].before) == (
        10.0,
        0.2,
        True,
        0.0,
    )
    assert "x" not in lines
    assert made.grams == pytest.approx(grams)
    assert made.total == pytest.approx(50 + 100 + 8 + 10 + 0.2)


def test_an_untouched_line_of_many_figures_stays_to_the_digit():
    problem = small()
    accord = Accord("s", tuple(Line(name, parts) for name, parts in zip("abcd", problem.old)))
    fine = Accord("f", (Line("a", 49.98765), *accord.lines[1:]))
    long = Problem(**{**vars_of(problem), "old": np.array([49.98765, 20.0, 8.0, 10.0, 0, 0, 0])})
    grams = long.old.copy()
    grams[1] = 15.4321
    assert [line.after for line in write(long, grams, fine, None).lines] == [49.98765, 15.4, 8.0, 10.0]
    assert write(long, grams, fine, None).grams.tolist() == [49.98765, 15.4, 8.0, 10.0, 0, 0, 0]


def test_a_line_of_less_than_a_gram_is_written_too():
    problem = small()
    less = Problem(**{**vars_of(problem), "old": problem.old / 100.0})
    accord = Accord("s", tuple(Line(name, parts) for name, parts in zip("abcd", less.old)))
    grams = less.old.copy()
    grams[0] = 0.25
    grams[4] = 0.5
    made = {line.material: line.after for line in write(less, grams, accord, None).lines}
    assert made == {"a": 0.25, "b": 0.2, "c": 0.08, "d": 0.1, "x": 0.5}


def test_equal_worth_within_noise_goes_by_the_alphabet_of_places():
    later = filling.Trial(np.zeros(7), 0.5 + 1e-11, (5,))
    earlier = filling.Trial(np.zeros(7), 0.5, (4,))
    better = filling.Trial(np.zeros(7), 0.5 + 1e-7, (6,))
    assert sorted([later, earlier, better], key=filling._order) == [better, earlier, later]


def test_the_eight_heaviest_give_way_and_the_ninth_does_not():
    """Nine lines under one limit, each heavier by its row than by its grams: who presses is row x grams."""
    n = 9
    row = np.linspace(0.01, 0.09, n)
    old = np.linspace(9.0, 10.0, n)
    problem = Problem(
        tuple("abcdefghi"),
        n,
        small().hearing,
        np.ones((n, 1)),
        np.eye(n)[:, None, :],
        old,
        row[None],
        1,
        np.zeros(n, dtype=bool),
        np.full(n, np.inf),
        float(old.sum()),
    )
    ways = list(cutting._ways(problem, old, np.zeros(n, dtype=bool)))
    assert len(ways) == 1 + 8 + 8 * 7 * 9
    first = [int(np.flatnonzero(np.isclose(way, 0.0))[0]) for way in ways[1:] if np.isclose(way, 0.0).any()]
    assert 0 not in first, "the lightest is not asked to give way before the others"
    alone = cutting._lowered(problem, old, np.zeros(n, dtype=bool), ((8, 1.0),))
    assert any(np.allclose(way, alone) for way in ways)


def test_what_would_break_a_limit_is_written_lower_and_the_rest_to_the_nearest():
    problem = small([[1 / 40.555, 0, 0, 0, 0, 0, 0]])
    accord = Accord("s", tuple(Line(name, parts) for name, parts in zip("abcd", problem.old)))
    grams = problem.old.copy()
    grams[0], grams[1] = 40.555, 15.456
    lines = {line.material: line.after for line in write(problem, grams, accord, None).lines}
    assert lines["a"] == 40.5
    assert lines["b"] in (15.4, 15.5)
    free = {line.material: line.after for line in write(small(), grams, accord, None).lines}
    assert (free["a"], free["b"]) == (40.6, 15.5)


def test_worlds_differ_as_far_as_is_said():
    """Potencies by up to x/÷ 1.5, exponents within 0.2 to 0.6; what is mute or in no formula is not heard."""
    problem = small()
    grams = np.array([np.where(np.arange(7) == 5, 2.0, problem.old)])
    doubts = make_doubts(problem, grams, 200)
    assert [problem.ids[i] for i in doubts.live] == ["a", "b", "c", "d", "y"]
    exponents = np.array([ear.hearing.exponent for ear in doubts.ears])
    assert exponents.min() >= 0.2
    assert exponents.max() <= 0.6
    assert np.ptp(exponents) > 0.35
    factors = np.array(
        [(ear.loud[:, 0] ** (1 / ear.hearing.power)) / problem.potency[doubts.live, 0] for ear in doubts.ears]
    )
    assert factors.max() <= 1.5 + 1e-9
    assert factors.min() >= 1 / 1.5 - 1e-9
    assert factors.max() > 1.45
    assert factors.min() < 1 / 1.45
    assert (np.ptp(factors, axis=1) > 0).all(), "materials differ within a world"
    assert {(ear.hearing.p, ear.hearing.share) for ear in doubts.ears} == {
        (problem.hearing.p, problem.hearing.share)
    }


def test_little_of_a_material_is_heard_too():
    problem = small()
    less = Problem(**{**vars_of(problem), "old": problem.old / 100.0})
    grams = np.array([[0.0, 0.2, 0.0, 0.0, 0.1, 0.0, 0.0]])
    assert [less.ids[i] for i in make_doubts(less, grams, 2).live] == ["a", "b", "c", "d", "x"]
    gone = np.hstack([problem.potency, problem.potency * (np.arange(7) != 2)[:, None]])
    late = Problem(**{**vars_of(less), "potency": gone, "profile": np.repeat(problem.profile, 2, axis=1)})
    assert [late.ids[i] for i in make_doubts(late, grams, 2).live] == ["a", "b", "c", "d", "x"], (
        "heard at first"
    )


def test_loss_rates_differ_by_two_and_the_opening_stays():
    problem = small()
    fading = np.hstack([problem.potency, problem.potency * 0.1])
    two = Problem(**{**vars_of(problem), "potency": fading, "profile": np.repeat(problem.profile, 2, axis=1)})
    doubts = make_doubts(two, two.old[None], 300)
    fading = np.hstack([fading, problem.potency * 0.01])
    long = Problem(
        **{**vars_of(problem), "potency": fading, "profile": np.repeat(problem.profile, 3, axis=1)}
    )
    for ear in make_doubts(long, long.old[None], 5).ears:
        heard = np.log(ear.loud / ear.loud[:, :1])
        assert heard[:, 2] == pytest.approx(2 * heard[:, 1]), "a material loses at one rate"
    rates = []
    for ear in doubts.ears:
        heard = ear.loud ** (1 / ear.hearing.power)
        rates.append(np.log(heard[:, 1] / heard[:, 0]) / np.log(0.1))
    rates = np.array(rates)
    assert 0.5 - 1e-9 <= rates.min() < 0.53
    assert 1.9 < rates.max() <= 2.0 + 1e-9


def test_the_order_of_lines_does_not_change_the_worlds():
    problem = small()
    turn = np.array([3, 2, 1, 0, 6, 5, 4])
    other = vars_of(problem)
    for name in ("potency", "profile", "old", "banned", "most"):
        other[name] = other[name][turn]
    turned = Problem(**{**other, "ids": tuple(problem.ids[i] for i in turn)})
    grams = without_a(problem)
    grams[4] = 40.0
    assert make_doubts(turned, grams[turn][None], 8).values(grams[turn][None]) == pytest.approx(
        make_doubts(problem, grams[None], 8).values(grams[None])
    )


def here(*solvents: str, categories=(), named=False):
    """As much of a situation as the old total asks of it."""
    kinds = {name: SimpleNamespace(kind="solvent" if name in solvents else "molecule") for name in "abcds"}
    sets = tuple(SimpleNamespace(category=category) for category in categories)
    return SimpleNamespace(
        tables=SimpleNamespace(materials=kinds), context=SimpleNamespace(sets=sets), named=named
    )


def as_written(problem: Problem, **after: float) -> Written:
    lines = tuple(WrittenLine(name, 100.0, value, value) for name, value in after.items())
    grams = np.array([after.get(name, 0.0) for name in problem.ids])
    return Written(lines, grams)


ACCORD = Accord("s", (Line("a", 50.0), Line("b", 20.0), Line("c", 8.0), Line("d", 22.0)))


def test_what_is_short_of_the_old_total_is_carrier():
    problem = small()
    short = as_written(problem, b=20.0, c=8.0, d=22.0)
    found, factor = at_old_total(here(), ACCORD, problem, short)
    assert factor == 1.0
    assert found.total == pytest.approx(100.0)
    last = found.lines[-1]
    assert (last.material, last.strength, last.before, last.after) == ("ethanol", 100.0, 0.0, 50.0)
    assert (last.is_new, last.optional) == (True, True)
    assert (found.grams == short.grams).all()
    cream, _ = at_old_total(here(categories=("5A",), named=True), ACCORD, problem, short)
    assert cream.lines[-1].material == "dipropylene-glycol"
    fine, _ = at_old_total(here(categories=("4",), named=True), ACCORD, problem, short)
    assert fine.lines[-1].material == "ethanol"
    unnamed, _ = at_old_total(here(categories=("5A",)), ACCORD, problem, short)
    assert unnamed.lines[-1].material == "ethanol"


def test_an_own_solvent_takes_what_is_short_and_gives_what_is_over():
    problem = small()
    fill_up = as_written(problem, b=20.0, c=8.0, d=10.0)
    found, factor = at_old_total(here("c", "d"), ACCORD, problem, fill_up)
    assert [line.after for line in found.lines] == [20.0, 8.0, 72.0], "the larger of two"
    assert factor == 1.0
    over = as_written(problem, a=90.0, c=8.0, d=10.0)
    found, factor = at_old_total(here("c", "d"), ACCORD, problem, over)
    assert [line.after for line in found.lines] == [90.0, 0.0, 10.0]
    assert factor == 1.0
    much = as_written(problem, a=140.0, c=8.0, b=52.0)
    found, factor = at_old_total(here("c"), ACCORD, problem, much)
    assert factor == pytest.approx(100 / 192)
    assert [line.after for line in found.lines] == [72.91, 0.0, 27.08], "cut, never rounded up"
    assert found.grams[:2] == pytest.approx([72.91, 27.08])


def test_hardly_short_or_over_is_left():
    problem = small()
    for total, made_up in ((99.96, False), (99.94, True)):
        found, _ = at_old_total(here(), ACCORD, problem, as_written(problem, a=total))
        assert (len(found.lines) == 2) is made_up
    for total, scaled in ((100.04, False), (100.06, True)):
        found, factor = at_old_total(here(), ACCORD, problem, as_written(problem, a=total))
        assert (factor < 1.0) is scaled
        assert len(found.lines) == 1


# -- the words for what was done ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "more", "cause", "why"),
    [
        (("linalool", 10.0, 10.0), {}, "kept", "unchanged"),
        (("linalool", 0.0, 0.0), {}, "kept", "a zero line, left as it is"),
        (("ethanol", 10.0, 10.0), {}, "kept", "carrier, left as it is"),
        (("atranol", 10.0, 10.0), {}, "kept", "unchanged; no odour profile or potency on file"),
        (("ethanol", 10.0, 12.0), {}, "moved", "raised by 20 %: keeps the old total, as asked"),
        (("ethanol", 10.0, 5.0), {"scaled": 0.5}, "moved", "lowered by 50 %: keeps the old total, as asked"),
        (
            ("linalool", 10.0, 5.0),
            {"scaled": 0.5},
            "moved",
            "lowered by 50 %, as all lines: keeps the old total",
        ),
        (("linalool", 10.0, 12.0), {"gone": "coumarin"}, "moved", "raised by 20 %: to hold the balance"),
        (("beta-ionone", 10.0, 12.0), {"gone": "alpha-ionone"}, "moved", "raised by 20 %: it carries violet"),
        (
            ("beta-ionone", 10.0, 8.0),
            {"new": "alpha-ionone"},
            "moved",
            "lowered by 20 %: what is new brings violet",
        ),
        (("skatole", 10.0, 8.0), {"new": "alpha-ionone"}, "moved", "lowered by 20 %: to hold the balance"),
    ],
)
def test_every_line_says_why_it_moved_or_stayed(library, line, more, cause, why):
    """Causes by what was done to a line: a carrier, a line without a profile, all in one proportion, balance."""
    name, before, now = line
    lines = [WrittenLine(name, 100.0, before, now)]
    if "new" in more:
        lines.append(WrittenLine(more["new"], 100.0, 0.0, 5.0, is_new=True))
    gaps = [Gap(more["gone"], "shelf", "unavailable", "")] if "gone" in more else []
    found = reasons(library.tables, lines, gaps, {}, more.get("scaled", 1.0))
    assert (found[0].cause, found[0].why[: len(why)]) == (cause, why)
    assert "new" not in more or found[1].why == "new: asked for"


@pytest.mark.parametrize(
    ("row", "words", "times"),
    [
        (("max", 0.5, 1.25), "over a limit (set: thing 0.5 % of the product, found 1.25 %)", 2.5),
        (("max", 0.0, 0.2), "over a limit (set: thing)", math.inf),
        (("max", None, 0.2), "over a limit (set: thing)", math.inf),
        (
            ("sum_of_fractions", None, 150.0),
            "over a limit (set: thing, together 1.5 times what they may be)",
            1.5,
        ),
    ],
)
def test_a_limit_is_told_by_its_kind_and_a_prohibition_presses_hardest(row, words, times):
    rule, limit, found = row
    told = SimpleNamespace(rule=rule, limit_pct=limit, found_pct=found, limit_set="set", name="thing")
    assert _over_what(told) == words
    assert _times_over(told) == times


def test_a_price_is_told_as_far_as_it_is_known():
    bottle = Unpriced("a", "a", 1.0, None, None, "")
    told = [
        Cost(4.2, 4.2, 4.2, ()),
        Cost(4.0, 4.04, 6.0, (bottle,)),
        Cost(4.0, 4.04, None, (bottle,)),
        Cost(0.0, 0.0, None, (bottle,)),
    ]
    assert [one.told for one in told] == [
        "4.2",
        "about 4 to 6",
        "at least 4, how much more is not known",
        "not known: no price of yours to reckon from",
    ]


# -- mended copies -----------------------------------------------------------------------------------------------


def test_every_accord_gets_a_file_of_its_own_whatever_it_is_called(tmp_path):
    names = ["a/b", "A?b", "a-b", "..", "", "x" * 300, "a-b-2"]
    files = file_names(names, tmp_path)
    assert list(files) == names
    assert len({path.name.casefold() for path in files.values()}) == len(names)
    assert all(path.parent == tmp_path and len(path.name) < 120 for path in files.values())
    assert (files["a/b"].name, files[".."].name) == ("a-b.csv", "accord.csv")


def test_a_folder_for_mended_copies_is_refused_before_anything_is_written(tmp_path):
    (tmp_path / "file").write_text("x")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "a.csv").write_text("mine")
    for folder, message in (
        (tmp_path, "the mended copies would lie among the accords themselves; name another folder"),
        (tmp_path / "file", "is a file, a folder is wanted"),
        (tmp_path / "full", "a.csv: exists already; another folder, or `force` to write over it"),
        (tmp_path / "file" / "below", "cannot be made"),
    ):
        with pytest.raises(InputError, match=message):
            check_folder(folder, tmp_path, ["a", "b"])
    assert check_folder(tmp_path / "full", tmp_path, ["a"], force=True) == {"a": tmp_path / "full" / "a.csv"}
    assert (tmp_path / "full" / "a.csv").read_text() == "mine"


def test_what_cannot_be_mended_says_so_and_leaves_no_file(tmp_path):
    """A refusal and an adjustment that stays over a limit; the next accord is gone on with."""
    changed = [
        SimpleNamespace(material="x", before=4.0, after=3.0, why="over a limit"),
        SimpleNamespace(material="y", before=0.0, after=9.0, why="in its place"),
        SimpleNamespace(material="w", before=4.0, after=0.0, why="prohibited"),
    ]

    def adjust(accord):
        if accord.name == "refused":
            raise InputError("refused: nothing is near")
        return SimpleNamespace(
            changed=changed,
            wall={"name": "thing"},
            match=SimpleNamespace(overall=0.9),
            dose_within_known=1.5,
            within_known=False,
        )

    files = {name: tmp_path / f"{name}.csv" for name in ("refused", "over")}
    refused, over = mend([Accord(name, (Line("a", 1.0),)) for name in files], adjust, files)
    assert (refused.file, refused.match, refused.said) == (None, None, "refused: nothing is near")
    assert (over.file, over.match, over.wall, over.dose_within_known_pct) == (
        None,
        0.9,
        {"name": "thing"},
        1.5,
    )
    assert (
        over.said
        == "nothing within the known limits was found at this dose; an adjustment alone cannot mend it"
    )
    assert [line["id"] for line in over.to_dict()["changed"]] == ["w", "x", "y"]  # what is new comes last
    told = Mended("a", "a.csv", 0.9, (("y", 0.0, 9.0, "in its place"), ("x", 4.0, 3.0, "over a limit")))
    assert told.said == "y new, 9 (in its place); x 4 to 3 (over a limit)"
    assert list(tmp_path.iterdir()) == []


def test_pairs_that_would_break_a_limit_in_any_amount_are_none():
    """What stands is over a limit by itself: no amount of two more is within it."""
    over = small(rows=[[0, 0.1, 0, 0, 0.001, 0.001, 0.001]])  # 20 of b: twice what the limit lets in
    start = trial(over, without_a(over))
    singles = [filling.Trial(np.where(np.arange(7) == i, 1.0, start.grams), 0.0, (i,)) for i in (4, 5, 6)]
    assert pairs_on(over, start, singles) == []
    free = small()
    assert pairs_on(free, trial(free, without_a(free)), singles)


def test_a_carrier_that_is_no_part_of_the_problem_weighs_nothing_in_it():
    problem = small()
    lines = [
        WrittenLine("a", 50.0, 0.0, 8.0),
        WrittenLine("carrier", 100.0, 0.0, 90.0),
        WrittenLine("a", 100.0, 0.0, 1.0),
    ]
    assert writing.active_of(problem, lines).tolist() == [5.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
