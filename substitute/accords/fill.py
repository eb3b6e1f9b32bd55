"""Which new materials to bring in and how much of each: amounts searched on a grid of their share of the
smell, then closed in on.

Nothing is smoothed and no solver can fail: what is heard of a mixture is a sum over its materials, so a
candidate on top of held lines
is one addition, and a grid over all candidates one array.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..frozen import frozen
from ..odour.perception import Array, add, along
from .problem import FULL, Problem

NEW_PRICE = 0.01  # match that every new material must bring
LEAST_SHARE = 0.01  # of the smell, that a new line must carry
LEVELS = np.geomspace(0.01, 4.0, 20)  # perceived share of the old accord's smell
COARSE = np.geomspace(0.02, 2.0, 7)  # the same, for two materials at once
ZOOM = 5  # rounds in which the step between levels shrinks
CLOSEST = np.linspace(-1.0, 1.0, 5)
PAIR_POOL = 9
POLISHED = 4
AT_ONCE = 3  # materials whose amounts are turned together; more are turned one by one
BEAM = 2  # best sets of one size from which the next larger ones grow


@frozen(eq=False)
class Trial:
    """Active grams (N), their match, and the places of the new materials."""

    grams: Array
    value: float
    new: tuple[int, ...]

    @property
    def worth(self) -> float:
        """Match less what a person pays for every further bottle."""
        return self.value - NEW_PRICE * len(self.new)


def trial(problem: Problem, grams: Array) -> Trial:
    """``grams`` as they are, heard."""
    new = tuple(int(i) for i in np.flatnonzero((grams > 0) & ~problem.is_line))
    return Trial(grams, float(problem.ear.values(problem.ear.sums(grams))), new)


def fill(
    problem: Problem, base: Array, allowed: Sequence[int], most_new: int, must: Sequence[int] = ()
) -> list[Trial]:
    """Trials with up to ``most_new`` of ``allowed`` added to ``base`` (N), the lines held; each set of
    materials once, best worth first.

    ``must`` are taken in any case; of a line among them, more.
    """
    start = [trial(problem, base)]
    if must:
        grams = base.copy()
        for i in must:
            grams[i] = max(_within(problem, base, i, np.array([0.2]))[0], base[i])
        raised = closed_in(problem, grams, must).grams
        start = [trial(problem, np.where(problem.is_line, np.maximum(raised, base), raised))]
        most_new = max(most_new, len(start[0].new))
    found = {one.new: one for one in start}
    singles = singles_on(problem, start[0], allowed) if most_new > len(start[0].new) else []
    found |= {one.new: one for one in singles}
    layer = singles
    for size in range(len(start[0].new) + 2, most_new + 1):
        grown = pairs_on(problem, start[0], singles) if size == len(start[0].new) + 2 else []
        for one in layer[:BEAM]:
            grown += singles_on(problem, one, allowed)[: BEAM + 1]
        layer = sorted({one.new: one for one in grown}.values(), key=_order)
        if not layer:
            break
        found |= {one.new: one for one in layer if one.new not in found or one.value > found[one.new].value}
    return sorted(found.values(), key=_order)


def _order(one: Trial) -> tuple[float, tuple[int, ...]]:
    return (-round(one.worth, 9), one.new)


def _within(problem: Problem, grams: Array, i: int, levels: Array) -> Array:
    """Grams of ``i`` at ``levels`` of perceived share, capped where a limit stands."""
    unit = problem.unit[i]
    if not np.isfinite(unit):
        return np.zeros(len(levels))
    wanted = unit * levels ** (1.0 / problem.hearing.power)
    return np.asarray(np.minimum(wanted, problem.room(grams, i)))


def singles_on(problem: Problem, one: Trial, allowed: Iterable[int]) -> list[Trial]:
    """``one`` with one more material each, the most useful first; at most twice ``PAIR_POOL``."""
    places = [
        i for i in allowed if i not in one.new and np.isfinite(problem.unit[i]) and not problem.banned[i]
    ]
    if not places:
        return []
    grams = np.array([_within(problem, one.grams, i, LEVELS) for i in places])
    held = problem.ear.sums(one.grams)
    values = problem.ear.values(add(held, problem.ear.one(np.array(places), grams)))
    values = np.where(grams > 0, values, -1.0)
    best = values.max(axis=1)
    found: list[Trial] = []
    for at in sorted(
        range(len(places)), key=lambda at: (-round(float(best[at]), 9), problem.ids[places[at]])
    ):
        if best[at] <= 0 or len(found) >= 2 * PAIR_POOL:
            break
        trying = one.grams.copy()
        trying[places[at]] = grams[at, int(values[at].argmax())]
        if len(found) < POLISHED:
            found.append(closed_in(problem, trying, (*one.new, places[at])))
        else:
            found.append(Trial(trying, float(best[at]), tuple(sorted((*one.new, places[at])))))
    return sorted(found, key=_order)


def pairs_on(problem: Problem, one: Trial, singles: Sequence[Trial]) -> list[Trial]:
    """Pairs among the best singles, on a grid of both amounts, the best few closed in on."""
    places = [next(i for i in single.new if i not in one.new) for single in singles[:PAIR_POOL]]
    if len(places) < 2:
        return []
    ear, held = problem.ear, problem.ear.sums(one.grams)
    grams = {i: _within(problem, one.grams, i, COARSE) for i in places}
    alone = {i: ear.one(i, grams[i]) for i in places}
    tries: list[tuple[float, int, int, float, float]] = []
    for a, i in enumerate(places):
        first = along(add(held, alone[i]))
        taken = (problem.used(one.grams) + grams[i][:, None] * problem.rows[:, i])[:, None]
        for j in places[a + 1 :]:
            values = ear.values(add(first, alone[j]))
            used = taken + grams[j][:, None] * problem.rows[:, j]
            values = np.where((used <= FULL).all(axis=-1), values, -1.0)
            p, q = np.unravel_index(int(values.argmax()), values.shape)
            if values[p, q] > 0:
                tries.append((float(values[p, q]), i, j, float(grams[i][p]), float(grams[j][q])))
    tries.sort(key=lambda t: (-round(t[0], 9), problem.ids[t[1]], problem.ids[t[2]]))
    found = []
    for _, i, j, mine, other in tries[:POLISHED]:
        trying = one.grams.copy()
        trying[i], trying[j] = mine, other
        found.append(closed_in(problem, trying, (*one.new, i, j)))
    return found


def closed_in(problem: Problem, grams: Array, places: Sequence[int], rounds: int = ZOOM) -> Trial:
    """``grams`` with the amounts at ``places`` turned to their best, in steps down to about a percent."""
    best = trial(problem, grams)
    step = float(np.log(LEVELS[1] / LEVELS[0])) / problem.hearing.power
    groups = [list(places)] if len(places) <= AT_ONCE else [[i] for i in places]
    for _ in range(rounds):
        for group in groups:
            best = _turned(problem, best, group, np.exp(step * CLOSEST))
        step *= 0.5
    return best


def _turned(problem: Problem, one: Trial, places: Sequence[int], factors: Array) -> Trial:
    """``one`` or the best of all ``factors`` on its amounts at ``places``, taken together, that the limits
    allow.
    """
    places = [i for i in places if one.grams[i] > 0]
    if not places:
        return one
    levels = [np.minimum(one.grams[i] * factors, problem.room(one.grams, i)) for i in places]
    rest = one.grams.copy()
    rest[places] = 0.0
    heard, used = problem.ear.sums(rest), problem.used(rest)
    for i, amounts in zip(places, levels):
        heard = add(along(heard), problem.ear.one(i, amounts))
        used = used[..., None, :] + amounts[:, None] * problem.rows[:, i]
    values = problem.ear.values(heard)
    if len(places) > 1 and problem.obeys(one.grams):
        values = np.where((used <= FULL).all(axis=-1), values, -1.0)
    top = np.unravel_index(int(values.argmax()), values.shape)
    if values[top] <= one.value + 1e-12:
        return one
    for i, amounts, at in zip(places, levels, top):
        rest[i] = amounts[at]
    return Trial(rest, float(values[top]), one.new)


def pruned(problem: Problem, one: Trial, must: Sequence[int] = ()) -> Trial:
    """``one`` without new materials that are a crumb or bring less than their price, each looked at in turn,
    the least useful first.
    """
    while True:
        shares, fresh = problem.shares(one.grams), problem.fresh_shares(one.grams)
        weighed = []
        for i in one.new:
            if i in must:
                continue
            less = one.grams.copy()
            less[i] = 0.0
            rest = tuple(j for j in one.new if j != i)
            without = closed_in(problem, less, rest, 3) if rest else trial(problem, less)
            crumb = min(shares[i], fresh[i]) < LEAST_SHARE
            if crumb or one.value - without.value < NEW_PRICE:
                weighed.append((one.value - without.value, problem.ids[i], without))
        if not weighed:
            return one
        one = min(weighed, key=lambda item: item[:2])[2]


def moved(problem: Problem, one: Trial, free: Sequence[int], reach: float, base: Array) -> Trial:
    """``one`` with lines of ``free`` moved within ±``reach`` (a part of ``base``), only where it pays."""
    if reach <= 0:
        return one
    factors = np.linspace(max(1.0 - reach, 0.0), 1.0 + reach, 9)
    waiting = [i for i in free if base[i] > 0]
    while waiting:
        tries = np.repeat(one.grams[None, None], len(waiting), axis=0).repeat(len(factors), axis=1)
        for at, i in enumerate(waiting):
            tries[at, :, i] = np.minimum(base[i] * factors, problem.room(one.grams, i))
        values = problem.ear.values(problem.ear.sums(tries))
        best, step = (int(place) for place in np.unravel_index(int(values.argmax()), values.shape))
        if values[best, step] < one.value + NEW_PRICE:
            break
        one = closed_in(problem, tries[best, step], one.new, 3)
        waiting.pop(best)
    return one
