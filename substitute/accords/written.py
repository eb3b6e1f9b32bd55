"""A formula as a person writes it: changed lines in three figures, new lines at a strength in which they can
be weighed.

Whatever is said of a formula (match, limits, cost) is said of the rounded one.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable

import numpy as np

from ..frozen import frozen
from ..odour.perception import Array
from ..records import Accord, Shelf
from .problem import Problem

FIGURES = 3
WEIGHABLE = 0.001  # part of the total under which a line is too little for the balance: 10 mg of 10 g
DILUTIONS = (10.0, 1.0, 0.1)  # percent, that a person makes of what is too strong to weigh
UNMOVED = 1e-9


@frozen
class WrittenLine:
    """A line before and after, in parts at ``strength`` percent; a new one has none before and may be
    ``diluted`` for weighing.
    """

    material: str
    strength: float
    before: float
    after: float
    role: str = "support"
    optional: bool = False
    is_new: bool = False
    diluted: bool = False

    @property
    def active(self) -> float:
        return self.after * self.strength / 100.0


@frozen(eq=False)
class Written:
    """Lines, and the active grams (N) that they come to."""

    lines: tuple[WrittenLine, ...]
    grams: Array

    @property
    def total(self) -> float:
        return math.fsum(line.after for line in self.lines)


def rounded(value: float, figures: int = FIGURES) -> float:
    """``value`` in so many figures."""
    return float(f"{value:.{figures}g}") if value > 0 and math.isfinite(value) else 0.0


def floored(value: float, figures: int = FIGURES) -> float:
    """``value`` cut after so many figures, so that rounding breaks no limit."""
    if value <= 0 or not math.isfinite(value):
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - figures + 1)
    return float(f"{math.floor(value / step * (1 + 1e-12)) * step:.{figures}g}")


def strength_for(name: str, active: float, total: float, shelf: Shelf | None) -> tuple[float, bool]:
    """(percent, to be diluted first) for a new line of ``active`` parts: the strongest at hand that can be
    weighed.
    """
    at_hand = (shelf.strengths(name) if shelf is not None else ()) or (100.0,)
    for strength in at_hand:
        if active * 100.0 / strength >= WEIGHABLE * total:
            return strength, False
    for strength in DILUTIONS:
        if strength < at_hand[-1] and active * 100.0 / strength >= WEIGHABLE * total:
            return strength, True
    return (min(DILUTIONS[-1], at_hand[-1]), at_hand[-1] > DILUTIONS[-1])


def write(
    problem: Problem, grams: Array, accord: Accord, shelf: Shelf | None, lowered: Collection[str] = ()
) -> Written:
    """``grams`` (N) in lines; those of ``lowered`` materials are rounded down, and all where a limit would
    break else.
    """
    found = _lines(problem, grams, accord, shelf, set(lowered))
    if problem.obeys(found.grams) or not problem.obeys(grams):
        return found
    return _lines(problem, grams, accord, shelf, set(problem.ids))


def _lines(problem: Problem, grams: Array, accord: Accord, shelf: Shelf | None, down: set[str]) -> Written:
    lines: list[WrittenLine] = []
    for line in accord.lines:
        i = problem.index[line.material]
        factor = grams[i] / problem.old[i] if problem.old[i] > 0 else 1.0
        after = line.parts
        if abs(factor - 1.0) > UNMOVED:
            after = (floored if line.material in down else rounded)(line.parts * factor)
        lines.append(WrittenLine(line.material, line.strength, line.parts, after, line.role, line.optional))
    for i in range(problem.n_lines, len(problem.ids)):
        if grams[i] <= 0:
            continue
        name = problem.ids[i]
        strength, diluted = strength_for(name, float(grams[i]), problem.total, shelf)
        parts = grams[i] * 100.0 / strength
        after = floored(parts) if name in down else rounded(parts)
        lines.append(WrittenLine(name, strength, 0.0, after, "support", False, True, diluted))
    active = active_of(problem, lines)
    same = np.abs(active - grams) <= UNMOVED * np.maximum(grams, 1e-300)
    return Written(tuple(lines), np.where(same, grams, active))


def active_of(problem: Problem, lines: Iterable[WrittenLine]) -> Array:
    """Active grams (N) of ``lines``; a carrier that is no part of the problem counts nothing."""
    active = np.zeros(len(problem.ids))
    for line in lines:
        if line.material in problem.index:
            active[problem.index[line.material]] += line.active
    return active
