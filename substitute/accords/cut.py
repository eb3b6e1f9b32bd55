"""Over a limit: the lines that press on it brought down to it by the least change, nothing else touched."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..odour.perception import Array
from .problem import FULL, Problem

TOGETHER = 8  # heaviest contributors whose cuts are weighed against each other, pair by pair
STEPS = np.linspace(0.0, 1.0, 11)
PER_LINE = 0.003  # match that touching one more line must save
SLIGHT = 0.05  # of what is found: a line that brings less is not touched while others can give way
UNDER = 1e-12  # cut this part deeper, so that equal stays within


def cut(problem: Problem, start: Array, fixed: Array) -> Array:
    """``start`` (N) with contributors lowered until every known limit holds, chosen by match; ``fixed`` (N)
    lines never move.

    Limited materials are met as a whole: all in one proportion, one before the others, and every split
    between two compete. What
    cannot be mended (only fixed lines press) is left over the limit.
    """
    if not _over(problem, start):
        return start
    tries = np.array(list(_ways(problem, start, fixed)))
    values = problem.ear.values(problem.ear.sums(tries))
    moved = (np.abs(tries - start) > 1e-9 * np.maximum(start, 1e-300)).sum(axis=1)
    worth = np.round(values - PER_LINE * moved, 6)
    worth[(tries @ problem.rows[: problem.known].T > FULL).any(axis=1)] -= 2.0
    return np.asarray(tries[int(np.lexsort((moved, -worth))[0])])


def _over(problem: Problem, grams: Array) -> bool:
    return bool((problem.rows[: problem.known] @ grams > FULL).any())


def _ways(problem: Problem, start: Array, fixed: Array) -> Iterator[Array]:
    pressed = problem.rows[: problem.known]
    broken = pressed @ start > FULL
    burden = np.where(fixed, 0.0, (pressed[broken] * start).max(axis=0))
    heavy = [int(i) for i in np.argsort(-burden, kind="stable") if burden[i] > 0][:TOGETHER]
    yield _lowered(problem, start, fixed, ())
    for i in heavy:
        yield _lowered(problem, start, fixed, ((i, 1.0),))
        for j in heavy:
            if i != j:
                for step in STEPS[1:-1]:
                    yield _lowered(problem, start, fixed, ((i, float(step)), (j, 1.0)))


def _lowered(problem: Problem, start: Array, fixed: Array, first: tuple[tuple[int, float], ...]) -> Array:
    """Row after row, the worst first: each of ``first`` takes its part of the excess, the others share the
    rest in proportion.
    """
    grams = start.copy()
    rows = problem.rows[: problem.known]
    for row in rows[np.argsort(-(rows @ start), kind="stable")]:
        for i, part in first:
            excess = float(row @ grams) - 1.0
            if excess > 0 and row[i] > 0:
                grams[i] = max(grams[i] - part * excess / row[i] * (1 + UNDER), 0.0)
        pressing = (row > 0) & ~fixed
        for some in (pressing & (row * start >= SLIGHT * float(row @ start)), pressing):
            free, held = float(row[some] @ grams[some]), float(row[~some] @ grams[~some])
            if free + held > FULL and free > 0:
                grams[some] *= max((1.0 - held) / free, 0.0) * (1 - UNDER)
    return grams
