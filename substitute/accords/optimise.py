"""Finds which new materials to bring in and how all lines move: supports ranked cheaply, the best few polished by SLSQP."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..odour.perception import Hearing, Impression, Match, impression, match
from ..odour.power_law import EXPONENT_RANGE
from ..standins.blends import pair_values, single_values
from .problem import Problem, constraints, objective, repair

PENALTY = 0.1  # match given up per unit of perceived share that existing lines move
NEW_PRICE = 0.004  # match that one more new material must bring
DOUBTS = 40  # worlds in which the rivals are compared
POTENCY_OFF, RATE_OFF = 1.5, 2.0  # how far potencies and loss rates may be off
REGRET, REGRETTED = 0.2, 0.01  # fine for a world in which a person would do better by hand, by how much
BEST = 3
HALF_WAY = (0.25, 0.5, 0.75)  # mixtures of a plain way and a polished one that compete too
POLISHED = 8
PAIR_POOL = 10


@dataclass(frozen=True)
class Solution:
    """Active grams (N), their match with the old accord, the new materials' places, and the match in each doubtful world (W)."""

    grams: np.ndarray
    match: Match
    new: tuple[int, ...]
    doubted: np.ndarray

    def worth(self, plain: np.ndarray) -> float:
        """Mean match over the worlds, less a fine for every world in which doing it by hand (``plain``, W: the best of it) is better."""
        behind = np.clip((plain - REGRETTED - self.doubted) / REGRETTED + 1.0, 0.0, 1.0)
        return float(self.doubted.mean() - REGRET * behind.mean()) - NEW_PRICE * len(self.new)


@dataclass(frozen=True)
class Doubts:
    """The same accord heard with other figures, so that a formula is not tuned to single ones: what it smelled of, world by world."""

    worlds: tuple[tuple[np.ndarray, Hearing, Impression], ...]

    def matches(self, grams: np.ndarray, profile: np.ndarray) -> np.ndarray:
        """Overall match (W) of active ``grams`` (N) in every world."""
        live = np.flatnonzero(grams > 0)
        return np.array(
            [
                match(impression(grams[live], potency[live], profile[live], hearing), before).overall
                for potency, hearing, before in self.worlds
            ]
        )


def doubts(problem: Problem, potency: np.ndarray, n: int = DOUBTS, seed: int = 3) -> Doubts:
    """``n`` seeded worlds: potencies off by up to x/÷ 1.5, loss rates by x/÷ 2, the exponent over its published range."""
    rng = np.random.default_rng(seed)
    old = problem.to_grams(problem.start)
    live = np.flatnonzero(old > 0)
    fresh = np.maximum(potency[:, :1], 1e-300)
    worlds = []
    for _ in range(n):
        strength = np.exp(rng.uniform(-1, 1, len(potency)) * np.log(POTENCY_OFF))[:, None]
        rate = np.exp(rng.uniform(-1, 1, len(potency)) * np.log(RATE_OFF))[:, None]
        off = strength * fresh * (potency / fresh) ** rate
        hearing = Hearing(rng.uniform(*EXPONENT_RANGE), problem.hearing.p, problem.hearing.share)
        worlds.append((off, hearing, impression(old[live], off[live], problem.profile[live], hearing)))
    return Doubts(tuple(worlds))


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
    supports += [(int(candidates[i]),) for i in order if single[i] > 0][:POLISHED]
    if most_new >= 2 and len(candidates) >= 2:
        best = order[:PAIR_POOL]
        values = pair_values(gram[np.ix_(best, best)], toward[best])
        rows, columns = np.triu_indices(len(best), 1)
        ranked = np.argsort(-values[rows, columns])
        supports += [
            tuple(sorted((int(candidates[best[rows[i]]]), int(candidates[best[columns[i]]]))))
            for i in ranked[:POLISHED]
        ]
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
    tries = [
        (fit(gram, toward, [*rows, i]).cosine, i)
        for i in np.argsort(-single_values(gram, toward))[:PAIR_POOL]
        if i not in rows
    ]
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


def polish(
    problem: Problem, kept: np.ndarray, support: Sequence[int], penalty: float = PENALTY
) -> np.ndarray:
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


def solve(
    problem: Problem, potency: np.ndarray, kept: np.ndarray, most_new: int, others: Sequence[np.ndarray] = ()
) -> Solution:
    """The best legal formula: polished supports and the plain ``others`` (grams) compete on the match itself."""
    tries: list[Solution] = []
    worlds = doubts(problem, potency)
    supports = rank_supports(problem, kept, most_new)
    empty, filled = supports[:1], supports[1:]
    singles = [s for s in filled if len(s) == 1][: POLISHED // 2]
    larger = [s for s in filled if len(s) == 2][: POLISHED // 2] + [s for s in filled if len(s) > 2]
    by_others = [tuple(int(i) for i in np.flatnonzero(~problem.is_line & (grams > 0))) for grams in others]
    for support in dict.fromkeys([*empty, *singles, *larger, *by_others]):
        grams = repair(problem, problem.to_grams(polish(problem, kept, support)))
        tries.append(_solution(problem, potency, grams, worlds))
    plain = [_solution(problem, potency, repair(problem, grams), worlds) for grams in others]
    by_hand = np.max([found.doubted for found in plain], axis=0) if plain else np.zeros(len(worlds.worlds))
    best = sorted(
        (found for found in tries if len(found.new) <= most_new), key=lambda found: -found.worth(by_hand)
    )[:BEST]
    for found in plain:
        for rival in best:
            for part in HALF_WAY:
                between = problem.to_grams(
                    (1 - part) * problem.from_grams(found.grams) + part * problem.from_grams(rival.grams)
                )
                tries.append(_solution(problem, potency, repair(problem, between), worlds))
    tries = [found for found in [*tries, *plain] if len(found.new) <= most_new]
    least = (
        max((found.match.overall for found in plain if len(found.new) <= most_new), default=0.0) - REGRETTED
    )
    return max(
        (found for found in tries if found.match.overall >= least), key=lambda found: found.worth(by_hand)
    )


def _solution(problem: Problem, potency: np.ndarray, grams: np.ndarray, worlds: Doubts) -> Solution:
    grams = np.where(~problem.is_line & (grams < 1e-6 * max(float(grams.sum()), 1e-300)), 0.0, grams)
    new = tuple(int(i) for i in np.flatnonzero(~problem.is_line & (grams > 0)))
    return Solution(grams, judged(problem, potency, grams), new, worlds.matches(grams, problem.profile))
