"""Finished formulas, as a person would weigh them, and the plain ways beside them; which is worth most."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from ..frozen import frozen
from ..odour.perception import Array
from .adjusted import POOR, Option
from .doubts import make_doubts
from .explain import stands_for
from .fill import LEAST_SHARE, NEW_PRICE, Trial, fill, moved, pruned
from .plain import Plain, plain_ways, within_known
from .same_total import at_old_total
from .setting import Setting
from .written import UNMOVED, Written, write

FINISHED = 5  # trials that are pruned, moved and written, so that they can be compared as weighed
SCALES = (0.7, 0.84, 1.0, 1.19)  # of the new amounts, that compete in doubt
AS_ASKED = 0.0  # stands for the amounts that the pairs ask for
PLAINLY = 0.01  # match that another amount than the one its pair asks for must bring
REGRET = 0.1  # fine for a world in which a person does better by hand
REGRETTED = 0.02  # match by which they do better there, for the whole fine
NEARER = 0.03  # match as worked out by which one of as few changes is taken, whatever the doubts
BETTER = 0.004  # match by which a plain way must be better than the answer to take its place


@frozen(eq=False)
class Formula:
    """A finished formula: as written, its match, its new materials and the lines that moved though nobody
    asked; ``dose`` if it is lower.
    """

    written: Written
    value: float
    new: tuple[str, ...]
    moved: tuple[str, ...]
    plain: str = ""
    dose: float | None = None
    scaled: float = 1.0
    doubted: float = 0.0
    as_asked: bool = False

    @property
    def changes(self) -> int:
        return len(self.new) + len(self.moved)

    @property
    def worth(self) -> float:
        """Mean match over the worlds of :mod:`.doubts`, less what changes cost and what a person would
        regret.
        """
        return self.doubted - NEW_PRICE * self.changes + (PLAINLY if self.as_asked else 0.0)


def finished(setting: Setting) -> list[Formula]:
    """Formulas as a person would weigh them."""
    problem, wanted = setting.problem, setting.wanted
    must = tuple(problem.index[name] for name in wanted.use)
    allowed = [i for i in range(problem.n_lines, len(problem.ids)) if not problem.banned[i]]
    allowed = [i for i in allowed if i not in must]
    if not setting.gaps and not must:
        return [as_written(setting, setting.base)]
    trials = fill(problem, setting.base, allowed, setting.most_new, must)
    picked = dict.fromkeys(trials[:FINISHED])
    picked |= dict.fromkeys(sorted(trials, key=lambda one: (-round(one.value, 9), one.new))[:2])
    by_number: dict[int, Trial] = {}
    for one in trials:
        by_number.setdefault(len(one.new), one)
    picked |= dict.fromkeys(by_number.values())  # the best with no new material, with one, with two
    found: dict[tuple[tuple[str, ...], tuple[str, ...], float], Formula] = {}
    for one in picked:
        least = pruned(problem, one, must)
        nearest = moved(problem, least, setting.free, wanted.move / 100.0, setting.base)
        for made in (least, nearest) if nearest.value >= POOR else (least,):
            for factor, grams in _scaled(setting, made):
                formula = replace(as_written(setting, grams), as_asked=factor == AS_ASKED)
                if problem.obeys(formula.written.grams) or not problem.obeys(setting.base):
                    found.setdefault((formula.new, formula.moved, factor), formula)
    return list(found.values())


def _scaled(setting: Setting, one: Trial) -> Iterator[tuple[float, Array]]:
    """Factors and amounts of ``one`` with its new materials in a little less and more, and in what their
    pairs ask for what each stands in for, as far as there is room."""
    problem = setting.problem
    for factor in SCALES if one.new else (1.0,):
        grams = one.grams.copy()
        new = list(one.new)
        grams[new] = np.minimum(grams[new] * factor, problem.most[new])
        yield factor, grams
    news = [problem.ids[i] for i in one.new]
    if not news:
        return
    grams = one.grams.copy()
    for i in one.new:
        asked = _asked(setting, problem.ids[i], news)
        if asked is None:
            return
        grams[i] = min(asked, problem.room(grams, i))
    if min(problem.shares(grams)[i] for i in one.new) >= LEAST_SHARE:
        yield AS_ASKED, grams


def _asked(setting: Setting, name: str, news: Sequence[str]) -> float | None:
    """Grams of ``name`` that its pairs ask for all that it alone stands in for; ``None`` where that is not
    known."""
    problem, found = setting.problem, 0.0
    for gap in stands_for(name, setting.ranked, news):
        if name != next(one for one, _ in setting.ranked[gap] if one in news):
            return None
        ratio = next(ratio for one, ratio in setting.ranked[gap] if one == name)
        if not ratio:
            return None
        i = problem.index[gap]
        found += ratio * float(problem.old[i] - setting.base[i])
    return found or None


def doubted(
    setting: Setting, formulas: Sequence[Formula], options: Sequence[tuple[Option, Formula]]
) -> list[Formula]:
    """``formulas`` and the plain ways that may be taken, best worth first: in other worlds too.

    A formula is fined for every world in which a person would do better by hand.
    """
    problem, wanted = setting.problem, setting.wanted
    by_hand = [
        f
        for option, f in options
        if option.within_known
        and f.dose is None
        and problem.obeys(f.written.grams)
        and set(wanted.use) <= set(f.new)
        and len(f.new) <= setting.most_new
    ]
    some = [*formulas, *by_hand]
    if not some or not setting.gaps:
        return some
    grams = np.array([f.written.grams for f in some])
    values = make_doubts(problem, grams).values(grams)
    behind = np.zeros(values.shape)
    if by_hand:
        best = values[:, len(formulas) :].max(axis=1, keepdims=True)
        behind = np.clip((best - values) / REGRETTED, 0.0, 1.0)
    worths = values.mean(axis=0) - REGRET * behind.mean(axis=0)
    return sorted((replace(f, doubted=float(w)) for f, w in zip(some, worths)), key=order)


def order(formula: Formula) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    return (-round(formula.worth, 9), formula.new, formula.moved)


def as_written(setting: Setting, grams: Array, plain: str = "") -> Formula:
    """``grams`` (N) as a person writes them, and their match."""
    problem = setting.problem
    written = write(problem, grams, setting.accord, setting.situation.shelf, setting.lowered)
    grams = written.grams
    shift = np.abs(grams - setting.base) > UNMOVED * np.maximum(setting.base, 1e-300)
    asked = {problem.index[gap.material] for gap in setting.gaps}
    new = tuple(problem.ids[i] for i in range(problem.n_lines, len(problem.ids)) if grams[i] > 0)
    other = tuple(problem.ids[i] for i in range(problem.n_lines) if shift[i] and i not in asked)
    scaled = 1.0
    if setting.wanted.same_total:
        written, scaled = at_old_total(setting.situation, setting.accord, problem, written)
    value = float(problem.ear.values(problem.ear.sums(written.grams)))
    return Formula(written, value, new, other, plain, scaled=scaled)


def options_of(setting: Setting) -> list[tuple[Option, Formula]]:
    """The plain ways, rounded like the answer."""
    problem, situation = setting.problem, setting.situation
    legal = None
    if setting.lowered and situation.dose:
        most = situation.judge(setting.accord.active(), setting.accord.total).max_dose_known_pct
        legal = None if most is None else most / situation.dose
    found = []
    gaps = [gap for gap in setting.gaps if gap.material in setting.ranked]
    for way in plain_ways(problem, setting.base, gaps, setting.ranked, setting.most_new, legal):
        dose = situation.dose * legal if way.name == "lower_dose" and legal and situation.dose else None
        formula = _plain_formula(setting, way, dose)
        grams = formula.written.grams
        active = {problem.ids[i]: float(grams[i]) for i in np.flatnonzero(grams > 0)}
        within = dose is not None or within_known(problem, grams)
        option = Option(way.name, formula.value, within, active, dose if dose is not None else situation.dose)
        found.append((option, formula))
    return found


def _plain_formula(setting: Setting, way: Plain, dose: float | None) -> Formula:
    problem = setting.problem
    if dose is None:
        return as_written(setting, way.grams, way.name)
    lines = write(problem, problem.old, setting.accord, setting.situation.shelf).lines
    value = float(problem.ear.values(problem.ear.sums(way.grams)))
    return Formula(Written(lines, way.grams), value, (), (), way.name, dose)


def chosen_of(
    setting: Setting, formulas: Sequence[Formula], options: Sequence[tuple[Option, Formula]]
) -> Formula:
    """The best worth that no plain way within the limits is plainly nearer than, nor far from one of as few
    changes; a lower dose only where it is nearer.
    """
    if not formulas:
        return as_written(setting, setting.base)
    least = max((f.value for f in formulas if f.plain), default=0.0) - BETTER
    best = next(f for f in formulas if f.value >= least)
    nearer = (f for f in formulas if f.changes <= best.changes and f.value > best.value + NEARER)
    best = next(nearer, best)
    for _, plain in options:
        if plain.dose is not None and not setting.wanted.hold_dose and plain.value > best.value + BETTER:
            return plain
    return best
