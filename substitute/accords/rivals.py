"""Other formulas for the same question, that differ in kind: less changed, nearer, with one bottle bought."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from ..figures import figure, ratio
from ..odour.perception import Array
from ..odour.staging import Staged
from .adjusted import GOOD, POOR, Bottle, Rival
from .explain import cost
from .fill import NEW_PRICE, Trial, closed_in, pruned, singles_on, trial
from .formulas import BETTER, Formula, as_written, order
from .problem import Problem, build_problem
from .setting import Candidates, Setting, at_most, usual

LOUDEST = 4  # gaps for which a bottle is looked for
BOTTLES = 2  # that help the answer most, and as many that would do best alone, are tried
NEAREST = 5  # of a gap's stand-ins, among which a line that is in it already may stand
TIMES = np.geomspace(1.25, 5.0, 13)  # as much of such a line as before, that is looked at
WORTH_RAISING = 0.02  # match that this must bring to be told
WORTH_SHOWING = 0.05  # match under the answer down to which a poor rival is still shown


def rivals_of(
    setting: Setting,
    chosen: Formula,
    formulas: Sequence[Formula],
    bought: Rival | None,
) -> list[Rival]:
    """Formulas that differ in kind from the answer: less changed, nearer, with one bottle bought."""
    if not setting.gaps:
        return []
    seen = {(chosen.new, chosen.moved, chosen.dose)}
    others = list(formulas)
    found = []
    least = min(POOR, chosen.value - WORTH_SHOWING)
    fewer = [f for f in others if f.changes < chosen.changes and f.value >= least]
    nearer = [f for f in others if f.value > chosen.value + BETTER]
    for name, some in (
        ("least_changed", sorted(fewer, key=lambda f: (f.changes, *order(f)))),
        ("nearest", sorted(nearer, key=lambda f: -f.value)),
    ):
        for formula in some[:1]:
            key = (formula.new, formula.moved, formula.dose)
            if key not in seen:
                seen.add(key)
                found.append(_rival(setting, name, formula))
    return [*found, bought] if bought else found


def _rival(setting: Setting, name: str, formula: Formula, note: str = "") -> Rival:
    lines = formula.written.lines
    price = cost(
        [(line.material, line.active) for line in lines], setting.accord.total, setting.situation.shelf
    )
    return Rival(
        name, setting.problem.match(formula.written.grams), formula.moved, formula.new, lines, price, note
    )


def raised_words(setting: Setting, chosen: Formula) -> str:
    """What more of a line would bring that is in it already and ranks among the stand-ins of what went; ''
    where that is not much."""
    problem, ranked = setting.problem, setting.ranked
    near: dict[str, str] = {}
    for gap, some in ranked.items():
        for name, _ in some[:NEAREST]:
            near.setdefault(name, gap)
    lines = [i for i in setting.free if problem.ids[i] in near]
    if not lines or chosen.dose is not None:
        return ""
    grams = chosen.written.grams
    tries = np.repeat(grams[None, None], len(lines), axis=0).repeat(len(TIMES), axis=1)
    for at, i in enumerate(lines):
        tries[at, :, i] = np.maximum(np.minimum(setting.base[i] * TIMES, problem.room(grams, i)), grams[i])
    values = np.round(problem.ear.values(problem.ear.sums(tries)), 9)
    at, step = (int(place) for place in np.unravel_index(int(values.argmax()), values.shape))
    if values[at, step] < chosen.value + WORTH_RAISING:
        return ""
    name, materials = problem.ids[lines[at]], setting.situation.tables.materials
    times = tries[at, step, lines[at]] / setting.base[lines[at]]
    return (
        f"{materials[name].name} is in it already and stands in for {materials[near[name]].name}: about "
        f"{figure(times, 2)} times as much of it as before would bring the match to "
        f"{ratio(values[at, step])}; ask to use it, if you like"
    )


def bottle_of(
    setting: Setting, chosen: Formula, staged: Staged, wider: Candidates | None
) -> tuple[Bottle | None, Rival | None]:
    """The one bottle, not on the shelf, that would help most, and the formula with it."""
    shelf = setting.situation.shelf
    if shelf is None or wider is None or not setting.ranked or setting.wanted.use or chosen.value >= GOOD:
        return None, None
    wide, bought = _opened(setting, staged, wider)
    if not bought or setting.most_new < 1:
        return None, None
    best = _with_bottle(wide, _carried(setting, wide, chosen), bought)
    if best is None:
        return None, None
    formula = as_written(wide, best.grams)
    if formula.value < chosen.value + NEW_PRICE or not wide.problem.obeys(formula.written.grams):
        return None, None
    name = next(name for name in formula.new if name in bought)
    note = f"with one bottle bought: {setting.situation.tables.materials[name].name}"
    return Bottle(name, formula.value), _rival(wide, "one_bottle", formula, note)


def _opened(setting: Setting, staged: Staged, wider: Candidates) -> tuple[Setting, set[str]]:
    """The question with what can be bought for the loudest gaps among its candidates, and what that is."""
    situation, accord, old = setting.situation, setting.accord, setting.problem.old
    index, unit = setting.problem.index, setting.problem.unit
    lost = {gap: float(old[index[gap]] - setting.base[index[gap]]) for gap in setting.ranked}
    because = {gap.material: gap.because for gap in setting.gaps}
    loudest = sorted(lost, key=lambda gap: (-lost[gap] / unit[index[gap]], gap))[:LOUDEST]
    ranked = {gap: tuple(wider(gap, because[gap])) for gap in loudest}
    out = set(accord.active()) | (set(situation.shelf.materials()) if situation.shelf else set())
    bought = {name for found in ranked.values() for name, _ in found} - out
    both = {
        gap: (*found, *(one for one in ranked.get(gap, ()) if one[0] in bought))
        for gap, found in setting.ranked.items()
    }
    most = usual(situation.tables, at_most(both, lost), both, lost, accord)
    problem = build_problem(staged, replace(situation, shelf=None), accord, most)
    base = np.zeros(len(problem.ids))
    base[: problem.n_lines] = setting.base[: problem.n_lines]
    return replace(setting, problem=problem, base=base, ranked=both), bought


def _carried(setting: Setting, wide: Setting, chosen: Formula) -> Array:
    """The answer's grams in the wider problem."""
    grams = np.zeros(len(wide.problem.ids))
    for name, held in zip(setting.problem.ids, chosen.written.grams):
        if held > 0:
            grams[wide.problem.index[name]] = held
    return grams


def _with_bottle(wide: Setting, held: Array, bought: Collection[str]) -> Trial | None:
    """The answer with the bottle that is of most worth: those that help it and those that would do best alone
    are tried."""
    problem = wide.problem
    places = [problem.index[name] for name in sorted(bought)]
    alone = singles_on(problem, trial(problem, wide.base), places)[:BOTTLES]
    tries = [*alone, *singles_on(problem, trial(problem, held), places)[:BOTTLES]]
    for single in alone:
        both = trial(problem, np.where(single.grams > held, single.grams, held))
        if problem.obeys(both.grams):
            tries.append(closed_in(problem, both.grams, both.new, 3))
    own = [i for i in range(problem.n_lines, len(problem.ids)) if i not in places]
    best: Trial | None = None
    for one in sorted(tries, key=lambda one: (-round(one.worth, 9), one.new))[:BOTTLES]:
        one = _grown(problem, pruned(problem, one), own, wide.most_new)
        i = next((i for i in one.new if i in places), -1)
        while len(one.new) > wide.most_new:
            one = max((_less(problem, one, j) for j in one.new if j != i), key=lambda less: less.value)
        if i >= 0 and (best is None or one.worth > best.worth):
            best = one
    return best


def _grown(problem: Problem, one: Trial, own: Sequence[int], most_new: int) -> Trial:
    """``one`` with more of what stands on the shelf, while that pays."""
    while len(one.new) < most_new:
        more = [pruned(problem, better) for better in singles_on(problem, one, own)[:1]]
        if not more or more[0].worth <= one.worth + 1e-9:
            break
        one = more[0]
    return one


def _less(problem: Problem, one: Trial, i: int) -> Trial:
    """``one`` without ``i``, the others turned to their best."""
    grams = one.grams.copy()
    grams[i] = 0.0
    return closed_in(problem, grams, [j for j in one.new if j != i], 3)
