"""Finds which new materials to bring in and how all lines move: supports ranked cheaply, the best few polished by SLSQP."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..odour.perception import Match, impression, match
from ..standins.blends import pair_values, single_values
from .problem import Problem, constraints, objective, repair

PENALTY = 0.05  # match given up per unit of perceived share that existing lines move
NEW_PRICE = 0.004  # match that one more new material must bring
POLISHED = 8
PAIR_POOL = 10


@dataclass(frozen=True)
class Solution:
    """Active grams (N), their match with the old accord, and the new materials' places."""

    grams: np.ndarray
    match: Match
    new: tuple[int, ...]

    @property
    def worth(self) -> float:
        return self.match.overall - NEW_PRICE * len(self.new)


def judged(problem: Problem, potency: np.ndarray, grams: np.ndarray) -> Match:
    """Match of ``grams`` with the old accord."""
    return match(impression(grams, potency, problem.profile, problem.hearing), problem.before)


def rank_supports(problem: Problem, kept: np.ndarray, most_new: int) -> list[tuple[int, ...]]:
    """Sets of new materials by how well they fill the gap the lines ``kept`` (z) leave, denominators fixed at the old accord's."""
    candidates = np.flatnonzero(~problem.is_line & (problem.high > 0))
    supports: list[tuple[int, ...]] = [()]
    if not len(candidates) or most_new < 1:
        return supports
    old = np.maximum((problem.unit * problem.start[:, None]).sum(axis=0), 1e-300)
    root = np.sqrt(problem.weight)[:, None]
    share = problem.unit / old
    vectors = (share[:, :, None] * problem.profile * root).reshape(len(problem.ids), -1)
    gap = (problem.before.shares * root).reshape(-1) - kept @ vectors
    matrix = vectors[candidates]
    gram, toward = matrix @ matrix.T, matrix @ gap
    single = single_values(gram, toward)
    order = np.argsort(-single)
    supports += [(int(candidates[i]),) for i in order if single[i] > 0][: POLISHED]
    if most_new >= 2 and len(candidates) >= 2:
        best = order[:PAIR_POOL]
        values = pair_values(gram[np.ix_(best, best)], toward[best])
        rows, columns = np.triu_indices(len(best), 1)
        ranked = np.argsort(-values[rows, columns])
        supports += [tuple(sorted((int(candidates[best[rows[i]]]), int(candidates[best[columns[i]]])))) for i in ranked[:POLISHED]]
        chosen = supports[-1] if len(supports) > 1 else ()
        for size in range(3, most_new + 1):  # more than two: grow the best set greedily
            base = next((s for s in supports if len(s) == size - 1), None)
            if base is None:
                break
            chosen = _grow(gram, toward, candidates, base)
            if chosen == base:
                break
            supports.append(chosen)
    return supports


def _grow(gram, toward, candidates, base: tuple[int, ...]) -> tuple[int, ...]:
    from ..standins.blends import fit

    place = {int(name): i for i, name in enumerate(candidates)}
    rows = [place[name] for name in base]
    now = fit(gram, toward, rows).cosine
    tries = [(fit(gram, toward, [*rows, i]).cosine, i) for i in np.argsort(-single_values(gram, toward))[:PAIR_POOL] if i not in rows]
    if not tries or max(tries)[0] <= now + 1e-6:
        return base
    return tuple(sorted((*base, int(candidates[max(tries)[1]]))))


def first_guess(problem: Problem, kept: np.ndarray, support: Sequence[int]) -> np.ndarray:
    """z of the new materials that fills the gap best with the lines held."""
    from ..standins.blends import fit

    old = np.maximum((problem.unit * problem.start[:, None]).sum(axis=0), 1e-300)
    root = np.sqrt(problem.weight)[:, None]
    vectors = ((problem.unit / old)[:, :, None] * problem.profile * root).reshape(len(problem.ids), -1)
    gap = (problem.before.shares * root).reshape(-1) - kept @ vectors
    matrix = vectors[list(support)]
    return np.array(fit(matrix @ matrix.T, matrix @ gap, range(len(support))).weights)


def polish(problem: Problem, kept: np.ndarray, support: Sequence[int], penalty: float = PENALTY) -> np.ndarray:
    """z (N) that maximises match minus penalty for one support, from a warm start."""
    from scipy.optimize import minimize

    lines = np.flatnonzero(problem.is_line & (problem.high > 0))
    columns = np.concatenate([lines, np.array(support, dtype=int)]).astype(int)
    z = np.zeros(len(problem.ids))
    if not len(columns):
        return z
    start = np.concatenate([kept[lines], first_guess(problem, kept, support) if len(support) else []])
    low, high = problem.low[columns], problem.high[columns]
    floor = np.where(problem.is_line[columns], low, 1e-9)
    start = np.clip(np.maximum(start, 1e-6), floor, np.maximum(high, floor))
    value, jacobian = constraints(problem, columns)
    found = minimize(
        lambda x: objective(problem, np.maximum(x, 0.0), columns, penalty),
        start,
        jac=True,
        method="SLSQP",
        bounds=list(zip(floor, np.maximum(high, floor))),
        constraints=[{"type": "ineq", "fun": value, "jac": jacobian}],
        options={"maxiter": 60, "ftol": 1e-6},
    )
    z[columns] = np.clip(np.where(np.isfinite(found.x), found.x, start), 0.0, np.maximum(high, floor))
    return z


def solve(problem: Problem, potency: np.ndarray, kept: np.ndarray, most_new: int, others: Sequence[np.ndarray] = ()) -> Solution:
    """The best legal formula: polished supports and the plain ``others`` (grams) compete on the match itself."""
    tries: list[Solution] = []
    supports = rank_supports(problem, kept, most_new)
    empty, filled = supports[:1], supports[1:]
    singles = [s for s in filled if len(s) == 1][: POLISHED // 2]
    larger = [s for s in filled if len(s) == 2][: POLISHED // 2] + [s for s in filled if len(s) > 2]
    for support in [*empty, *singles, *larger]:
        grams = repair(problem, problem.to_grams(polish(problem, kept, support)))
        tries.append(_solution(problem, potency, grams))
    for grams in others:
        tries.append(_solution(problem, potency, repair(problem, grams)))
    tries = [found for found in tries if len(found.new) <= most_new]
    return max(tries, key=lambda found: found.worth)


def _solution(problem: Problem, potency: np.ndarray, grams: np.ndarray) -> Solution:
    grams = np.where(~problem.is_line & (grams < 1e-6 * max(float(grams.sum()), 1e-300)), 0.0, grams)
    new = tuple(int(i) for i in np.flatnonzero(~problem.is_line & (grams > 0)))
    return Solution(grams, judged(problem, potency, grams), new)
