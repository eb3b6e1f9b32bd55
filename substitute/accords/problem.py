"""An accord to be adjusted as arrays: what may move, how far, and what it has to smell like.

Variables are z = perceived shares: y = grams ** (1.2 n), scaled so that z is a material's mean share of the old accord's smell. In z
the sums of shares are linear, limits (power functions with exponent above 1) are convex, and the infinite slope at zero grams is
gone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..odour.perception import FAINT, HEARING, Hearing, Impression, impression
from ..odour.staging import Staged

MOVE = 4.0  # a core or support line moves at most by this factor either way
MOVE_FINE = 2.0  # lift and trace lines
SOFT = 1e-4  # width over which |x| is rounded off at zero, so that it has a slope


@dataclass(frozen=True)
class Problem:
    """Arrays over N materials (lines first, then candidates), T stages, D descriptors, R limits.

    ``unit`` (N, T): contribution to a stage at z = 1; ``grams`` (N): active grams at z = 1; ``start`` (N): z of the old accord;
    ``low``/``high`` (N): bounds on z; ``per_gram`` (R, N): what one active gram adds to a limit, as a part of it; ``parts`` (N):
    what one active gram adds to the accord's total, as a part of it.
    """

    ids: tuple[str, ...]
    hearing: Hearing
    profile: np.ndarray
    unit: np.ndarray
    grams: np.ndarray
    start: np.ndarray
    low: np.ndarray
    high: np.ndarray
    is_line: np.ndarray
    before: Impression
    weight: np.ndarray
    per_gram: np.ndarray
    parts: np.ndarray

    @property
    def inverse(self) -> float:
        """grams = grams at 1 x z ** inverse."""
        return 1.0 / self.hearing.power

    def to_grams(self, z: np.ndarray) -> np.ndarray:
        return self.grams * np.maximum(z, 0.0) ** self.inverse

    def from_grams(self, grams: np.ndarray) -> np.ndarray:
        return (grams / self.grams) ** self.hearing.power


def build_problem(
    staged: Staged,
    ids,
    old_grams,
    low_grams,
    high_grams,
    is_line,
    per_gram,
    parts,
    hearing: Hearing = HEARING,
) -> Problem:
    """Scale materials ``ids`` to perceived shares of the accord ``old_grams`` (N, zero for candidates)."""
    rows = staged.rows(ids)
    potency, profile = staged.potency[rows], staged.profile[rows]
    before = impression(old_grams, potency, profile, hearing)
    top = before.strength.max()
    weight = np.where(before.strength >= FAINT * top, before.strength, 0.0)
    weight = weight / weight.sum()
    powered = potency**hearing.power
    total = (powered * np.asarray(old_grams)[:, None] ** hearing.power).sum(axis=0)
    mean = (weight * np.divide(powered, total, out=np.zeros_like(powered), where=total > 0)).sum(axis=1)
    scale = np.where(mean > 0, 1.0 / np.maximum(mean, 1e-300), 1.0)  # y at which the mean share is 1
    grams = scale ** (1.0 / hearing.power)
    to_z = lambda g: (np.asarray(g, dtype=float) / grams) ** hearing.power  # noqa: E731
    return Problem(
        tuple(ids),
        hearing,
        profile,
        powered * scale[:, None],
        grams,
        to_z(old_grams),
        to_z(low_grams),
        to_z(high_grams),
        np.asarray(is_line),
        before,
        weight,
        np.asarray(per_gram, dtype=float),
        np.asarray(parts, dtype=float),
    )


def objective(
    problem: Problem, z: np.ndarray, columns: np.ndarray, penalty: float
) -> tuple[float, np.ndarray]:
    """Minus the smoothed match plus ``penalty`` x moved shares of the lines, and its gradient over ``columns``.

    ``z`` holds the values of ``columns`` only; all other materials are at zero.
    """
    unit, profile = problem.unit[columns], problem.profile[columns]
    part = unit * z[:, None]  # (n, T)
    total = part.sum(axis=0)
    safe = np.where(total > 0, total, 1.0)
    shares = np.einsum("nt,ntd->td", part, profile) / safe[:, None]
    gap = shares - problem.before.shares
    rounded = np.sqrt(gap**2 + SOFT**2)
    overlap = 1.0 - 0.5 * (rounded - SOFT).sum(axis=1)
    slope = gap / rounded
    pull = np.einsum("td,ntd->nt", slope, profile) - (slope * shares).sum(axis=1)
    d_overlap = -0.5 * pull * unit / safe

    q = problem.hearing.p / problem.hearing.share
    top = part.max(axis=0)
    safe_top = np.where(top > 0, top, 1.0)
    relative = part / safe_top
    summed = (relative**q).sum(axis=0)
    strength = safe_top ** (1.0 / problem.hearing.share) * summed ** (1.0 / problem.hearing.p)
    heard = problem.weight > 0
    log_ratio = np.where(
        heard, np.log(np.maximum(strength, 1e-300) / np.where(heard, problem.before.strength, 1.0)), 0.0
    )
    soft_log = np.sqrt(log_ratio**2 + SOFT**2)
    ratio = np.exp(-(soft_log - SOFT))
    d_log = (
        relative ** (q - 1.0) * unit / (problem.hearing.share * safe_top * np.where(summed > 0, summed, 1.0))
    )  # silent: no slope
    d_ratio = -ratio * (log_ratio / soft_log) * d_log

    value = -(problem.weight * overlap * ratio).sum()
    gradient = -(problem.weight * (d_overlap * ratio + overlap * d_ratio)).sum(axis=1)
    moved = np.where(problem.is_line[columns], z - problem.start[columns], 0.0)
    soft_moved = np.sqrt(moved**2 + SOFT**2)
    return value + penalty * (soft_moved - SOFT).sum(), gradient + penalty * moved / soft_moved


def constraints(problem: Problem, columns: np.ndarray) -> tuple:
    """(function, jacobian) of 1 - used for every limit and for the accord's total; non-negative where obeyed."""
    per_gram = np.vstack([problem.per_gram[:, columns], problem.parts[None, columns]])
    live = per_gram.max(axis=1) > 0 if per_gram.size else np.zeros(len(per_gram), dtype=bool)
    per_gram = per_gram[live] * problem.grams[columns]
    power = problem.inverse

    def value(z: np.ndarray) -> np.ndarray:
        return 1.0 - per_gram @ np.maximum(z, 0.0) ** power

    def jacobian(z: np.ndarray) -> np.ndarray:
        return -per_gram * (power * np.maximum(z, 0.0) ** (power - 1.0))

    return value, jacobian


def repair(problem: Problem, grams: np.ndarray) -> np.ndarray:
    """``grams`` brought inside every limit and the total by scaling down what contributes; lowering never breaks another limit."""
    grams = grams.copy()
    rows = np.vstack([problem.per_gram, problem.parts[None, :]])
    for row in rows:
        used = float(row @ grams)
        if used > 1.0:
            grams[row > 0] *= (1.0 - 1e-9) / used
    return grams
