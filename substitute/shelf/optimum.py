"""Which materials to buy: greedily, and exactly by a mixed-integer programme, from any facility-location
function.

Exact: maximise sum of w x theta over lines, theta of a line being bounded by cuts

    theta <= k + sum over materials c of max(v(c) - k, 0) x(c)      for each level k >= what is held already

which together say "the largest v among the materials chosen" (Benders cuts of the uncapacitated
facility-location problem; Fischetti, Ljubic and Sinnl 2017, Redesigning Benders decomposition for
large-scale facility location, recalled). Cuts are added where they are broken: first in the linear
relaxation, then in the mixed-integer programme (HiGHS through scipy), until what the programme promises is
what the choice is worth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from ..frozen import frozen

# of the optimum, for a number of purchases (Nemhauser, Wolsey and Fisher 1978)
GREEDY_BOUND = 1.0 - 1.0 / np.e
TOLERANCE = 1e-7  # of the whole weight: what counts as no difference
MOST_ROUNDS = 200
TIME_LIMIT_S = 120.0


@frozen
class Question:
    """What may be bought: ``factor`` (L, M) and ``start`` (L) as reached already, ``weight`` (L);
    ``cost`` (M) or ``None``.

    ``allowed`` and ``must`` hold columns; ``most`` is the number of purchases, ``budget`` the sum of
    their costs (``None``: no budget).
    """

    factor: np.ndarray
    start: np.ndarray
    weight: np.ndarray
    allowed: tuple[int, ...]
    must: tuple[int, ...]
    most: int
    cost: np.ndarray | None = None
    budget: float | None = None

    def value(self, chosen: Sequence[int]) -> float:
        """Weighted v over the lines with ``chosen`` beside what is held."""
        reached = (
            np.maximum(self.start, self.factor[:, list(chosen)].max(axis=1)) if len(chosen) else self.start
        )
        return float(self.weight @ reached)

    def spent(self, chosen: Sequence[int]) -> float:
        """Cost of ``chosen``; 0 without costs."""
        return float(self.cost[list(chosen)].sum()) if self.cost is not None and len(chosen) else 0.0

    def costs(self, columns: np.ndarray) -> np.ndarray:
        """Cost of each of ``columns``; 0 without costs."""
        return np.zeros(len(columns)) if self.cost is None else np.asarray(self.cost[columns])

    def affordable(self, chosen: Sequence[int]) -> bool:
        """Whether ``chosen`` keeps number and budget."""
        return len(chosen) <= self.most and (
            self.budget is None or self.spent(chosen) <= self.budget * (1 + 1e-12) + 1e-12
        )


@frozen
class Optimum:
    """Columns in the order to buy them, their value, the bound no choice can pass, and whether the two
    are proved to meet."""

    chosen: tuple[int, ...]
    value: float
    bound: float
    proved: bool
    rounds: int


def greedy(question: Question) -> tuple[int, ...]:
    """Columns bought one at a time, ``must`` first, each the one that adds most; ties go to the first
    column.

    With a budget also by gain per cost; the better of the two is given (then within half of 1 - 1/e of the
    optimum).
    """
    plain = _greedy(question, per_cost=False)
    if question.budget is None:
        return plain
    thrifty = _greedy(question, per_cost=True)
    return thrifty if question.value(thrifty) > question.value(plain) + TOLERANCE else plain


def _greedy(question: Question, per_cost: bool) -> tuple[int, ...]:
    chosen = list(question.must)
    reached = (
        np.maximum(question.start, question.factor[:, chosen].max(axis=1))
        if chosen
        else question.start.copy()
    )
    allowed = np.array([c for c in question.allowed if c not in question.must], dtype=int)
    open_ = np.ones(len(allowed), dtype=bool)
    while len(chosen) < question.most and open_.any():
        gain = question.weight @ np.maximum(question.factor[:, allowed] - reached[:, None], 0.0)
        fits = open_ & (gain > TOLERANCE * 1e-2)
        if question.budget is not None:
            fits &= question.costs(allowed) <= question.budget - question.spent(chosen) + 1e-12
            if per_cost:
                gain = gain / np.maximum(question.costs(allowed), 1e-9)
        if not fits.any():
            break
        best = int(np.argmax(np.where(fits, gain, -1.0)))
        chosen.append(int(allowed[best]))
        open_[best] = False
        reached = np.maximum(reached, question.factor[:, allowed[best]])
    return tuple(chosen)


def in_order(question: Question, chosen: Sequence[int]) -> tuple[int, ...]:
    """``chosen`` in the order in which each adds most to the ones before it."""
    left, order, reached = sorted(chosen), [], question.start.copy()
    while left:
        gain = question.weight @ np.maximum(question.factor[:, left] - reached[:, None], 0.0)
        best = left.pop(int(np.argmax(gain)))
        order.append(best)
        reached = np.maximum(reached, question.factor[:, best])
    return tuple(order)


def without_dominated(question: Question) -> np.ndarray:
    """Allowed columns (sorted) less those that another, no dearer one serves at least as well on every
    line; ``must`` always stay."""
    columns = np.array(sorted(set(question.allowed) | set(question.must)), dtype=int)
    live = question.weight > 0
    above = np.maximum(question.factor[np.ix_(live, columns)] - question.start[live, None], 0.0)
    total = above.sum(axis=0)
    costs = question.costs(columns)
    keep = np.array([c in question.must for c in columns]) | (total > 0)
    for i in np.argsort(total, kind="stable"):
        if columns[i] in question.must or not keep[i]:
            continue
        rivals = np.flatnonzero(keep & ((total > total[i]) | ((total == total[i]) & (columns < columns[i]))))
        if question.budget is not None:
            rivals = rivals[costs[rivals] <= costs[i]]
        lines = above[:, i] > 0
        if len(rivals) and (above[lines][:, rivals] >= above[lines, i][:, None]).all(axis=0).any():
            keep[i] = False
    return np.asarray(columns[keep])


def exact(
    question: Question,
    progress: Callable[[int, int, str], None] | None = None,
    time_limit: float = TIME_LIMIT_S,
) -> Optimum:
    """The best choice of at most ``most`` purchases within the budget.

    The greedy choice is the answer where nothing beats it. ``proved`` is false if the solver ran out of
    ``time_limit`` [s].
    """
    from scipy.optimize import linprog

    columns = without_dominated(question)
    best = greedy(question)
    worth = question.value(best)
    live: np.ndarray = (
        np.flatnonzero(
            (question.weight > 0) & (question.factor[:, columns] > question.start[:, None]).any(axis=1)
        )
        if len(columns)
        else np.zeros(0, dtype=int)
    )
    if not len(live):
        return Optimum(in_order(question, best), worth, worth, True, 0)
    cuts = _Cuts(question.factor[np.ix_(live, columns)], question.start[live])
    fixed = float(question.weight @ question.start) - float(question.weight[live] @ question.start[live])
    objective = np.concatenate([np.zeros(len(columns)), -question.weight[live]])
    low = np.concatenate([np.isin(columns, question.must).astype(float), question.start[live]])
    high = np.concatenate([np.ones(len(columns)), cuts.top])
    side, most = _side(question, columns, len(live))
    programme = _Programme(columns, cuts, objective, low, high, side, most, fixed)
    cuts.at_levels(cuts.start)
    bounds = list(zip(low.tolist(), high.tolist()))
    for rounds in range(MOST_ROUNDS):
        matrix, right = programme.rows()
        found = linprog(objective, A_ub=matrix, b_ub=right, bounds=bounds, method="highs")
        if found.status != 0 or found.x is None or not cuts.separate(found.x):
            break
        if progress:
            progress(rounds + 1, rounds + 2, "bounding the optimum")
    slack = TOLERANCE * question.weight.sum()
    if found.status == 0 and found.fun is not None and fixed - found.fun <= worth + slack:
        return Optimum(in_order(question, best), worth, worth, True, rounds)
    return _integer(question, programme, best, worth, time_limit, progress)


@frozen
class _Programme:
    """The programme over (x (M), theta (L)): minimise ``objective`` between ``low`` and ``high`` under the
    rows ``side`` <= ``most`` and ``cuts``.

    ``columns`` (M) are the question's, ``fixed`` is the worth of the lines left out of it.
    """

    columns: np.ndarray
    cuts: _Cuts
    objective: np.ndarray
    low: np.ndarray
    high: np.ndarray
    side: Any  # sparse, for which the solvers' stubs have no type
    most: np.ndarray
    fixed: float

    def rows(self) -> tuple[Any, np.ndarray]:
        """The side rows and all cuts found so far as (sparse matrix, right-hand side)."""
        return self.cuts.rows(self.side, self.most)


def _integer(
    question: Question,
    programme: _Programme,
    best: tuple[int, ...],
    worth: float,
    time_limit: float,
    progress: Callable[[int, int, str], None] | None,
) -> Optimum:
    """Mixed-integer rounds until promise and worth meet; ``best`` is the choice so far and ``worth`` its
    value. All columns together are a bound even where no round comes to an end."""
    import time

    from scipy.optimize import Bounds, LinearConstraint, milp

    slack = TOLERANCE * float(question.weight.sum())
    until = time.monotonic() + time_limit
    columns, objective = programme.columns, programme.objective
    whole = np.concatenate([np.ones(len(columns)), np.zeros(len(objective) - len(columns))])
    bound, rounds = question.value(columns.tolist()), 0
    while time.monotonic() < until:
        rounds += 1
        if progress:
            progress(rounds, rounds + 1, "solving the mixed-integer programme")
        matrix, right = programme.rows()
        found = milp(
            objective,
            integrality=whole,
            bounds=Bounds(programme.low, programme.high),
            constraints=LinearConstraint(matrix, -np.inf, right),
            options={"mip_rel_gap": 1e-9, "time_limit": max(until - time.monotonic(), 1.0)},
        )
        if found.x is None:
            break
        promised = found.mip_dual_bound if found.mip_dual_bound is not None else found.fun
        bound = min(bound, programme.fixed - promised)
        chosen = tuple(int(c) for c in columns[found.x[: len(columns)] > 0.5])
        value = question.value(chosen)
        if value > worth + slack and question.affordable(chosen):
            best, worth = chosen, value
        if bound <= worth + slack or not programme.cuts.at_choice(found.x):
            break
    return Optimum(in_order(question, best), worth, max(bound, worth), bound <= worth + 10 * slack, rounds)


def _side(question: Question, columns: np.ndarray, n_lines: int) -> tuple[Any, np.ndarray]:
    """Rows of number and budget over (x, theta)."""
    from scipy.sparse import csr_matrix

    rows, most = [np.concatenate([np.ones(len(columns)), np.zeros(n_lines)])], [float(question.most)]
    if question.budget is not None:
        scale = max(question.budget, 1e-12)
        rows.append(np.concatenate([question.costs(columns) / scale, np.zeros(n_lines)]))
        most.append(1.0)
    return csr_matrix(np.array(rows)), np.array(most)


class _Cuts:
    """The cuts found so far over (x (M), theta (L)), and how to find more."""

    def __init__(self, factor: np.ndarray, start: np.ndarray):
        self.factor, self.start = factor, start
        self.top = np.maximum(factor.max(axis=1), start)
        self._order = np.argsort(-factor, axis=1, kind="stable")
        self._sorted = np.take_along_axis(factor, self._order, axis=1)
        self._known: set[tuple[int, float]] = set()
        self._blocks: list[Any] = []
        self._right: list[float] = []

    def _add(self, lines: np.ndarray, levels: np.ndarray) -> int:
        """One cut for each line at its level, those already known left out; how many were new."""
        from scipy.sparse import coo_matrix

        fresh = [
            (line, level)
            for line, level in zip(lines.tolist(), levels.tolist())
            if (line, round(level, 12)) not in self._known
        ]
        if not fresh:
            return 0
        self._known |= {(line, round(level, 12)) for line, level in fresh}
        rows = np.array([line for line, _ in fresh])
        at = np.array([level for _, level in fresh])
        slope = -np.maximum(self.factor[rows] - at[:, None], 0.0)
        row, column = np.nonzero(slope)
        n, m = len(rows), self.factor.shape[1]
        self._blocks.append(
            coo_matrix(
                (
                    np.concatenate([slope[row, column], np.ones(n)]),
                    (np.concatenate([row, np.arange(n)]), np.concatenate([column, m + rows])),
                ),
                shape=(n, m + len(self.factor)),
            )
        )
        self._right.extend(at.tolist())
        return n

    def rows(self, side: Any, most: np.ndarray) -> tuple[Any, np.ndarray]:
        """All cuts and the side rows as (sparse matrix, right-hand side)."""
        from scipy.sparse import vstack

        return vstack([side, *self._blocks]).tocsr(), np.concatenate([most, self._right])

    def at_levels(self, levels: np.ndarray) -> int:
        """A cut for each line at the given level."""
        return self._add(np.arange(len(self.factor)), np.asarray(levels, dtype=float))

    def separate(self, solution: np.ndarray, slack: float = 1e-7) -> int:
        """Add each line's most broken cut at a (fractional) solution."""
        x, theta = np.clip(solution[: self.factor.shape[1]], 0.0, 1.0), solution[self.factor.shape[1] :]
        taken = np.cumsum(x[self._order], axis=1)
        full = taken >= 1.0 - 1e-12
        place = np.where(full.any(axis=1), full.argmax(axis=1), -1)
        level = np.where(place >= 0, self._sorted[np.arange(len(place)), place], self.start)
        level = np.maximum(level, self.start)
        worth = level + (np.maximum(self.factor - level[:, None], 0.0) * x).sum(axis=1)
        broken = np.flatnonzero(theta > worth + slack)
        return self._add(broken, level[broken])

    def at_choice(self, solution: np.ndarray) -> int:
        """Add cuts at the level that a whole choice really reaches."""
        return self.separate(
            np.concatenate([np.round(solution[: self.factor.shape[1]]), solution[self.factor.shape[1] :]]),
            slack=1e-9,
        )
