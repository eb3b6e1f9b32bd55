"""The plain ways out that a person would take by hand: they stand beside the answer, and it is never worse
than they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..frozen import frozen
from ..odour.perception import Array
from .fill import LEAST_SHARE
from .gaps import Gap
from .problem import FULL, Problem

Ranked = Mapping[str, Sequence[tuple[str, float | None]]]


HALF = 0.5  # of an accord, more than which no new material is, unless more went
ALL = 0.9  # of an accord: what stands in for so much is as much as it takes


@frozen(eq=False)
class Plain:
    """A plain way: its active grams (N); of a lower dose, the percent of the product."""

    name: str
    grams: Array
    dose: float | None = None


def plain_ways(
    problem: Problem,
    base: Array,
    gaps: Sequence[Gap],
    ranked: Ranked,
    most_new: int,
    legal_dose: float | None,
) -> list[Plain]:
    """``base`` (N) is the accord with what goes gone and what is over a limit cut; ``legal_dose`` percent,
    over percent asked for.
    """
    if not gaps:
        return []
    out = base.copy()
    out[[problem.index[gap.material] for gap in gaps]] = 0.0
    one, strong, taken = base.copy(), base.copy(), dict[int, float]()
    loudest = sorted(gaps, key=lambda gap: (-_lost(problem, base, gap), gap.material))
    for gap in loudest[:most_new]:
        found = _stand_in(problem, ranked[gap.material])
        if found is not None:
            place, ratio = found
            lost = problem.old[problem.index[gap.material]] - base[problem.index[gap.material]]
            taken[place] = taken.get(place, 0.0) + lost
            most = heaviest(problem.old.sum(), taken[place], (problem.old - base).sum())
            one[place] += lost
            strong[place] = min(strong[place] + lost * ratio, most)
    ways = [Plain("leave_out", out)]
    ways += [Plain(name, _no_crumbs(problem, g)) for name, g in (("one_to_one", one), ("strength", strong))]
    if any(gap.cause == "limit" for gap in gaps):
        ways.append(Plain("cut", base))
        if legal_dose is not None and 0 < legal_dose < 1 and all(gap.cause == "limit" for gap in gaps):
            ways.append(Plain("lower_dose", problem.old * legal_dose))
    return ways


def heaviest(whole: float, place_of: float, gone: float) -> float:
    """The most grams that a new material has of an accord of ``whole`` grams: half of it, or as much as it
    stands in for (``place_of``), without bound where all but all is ``gone``."""
    return np.inf if gone >= ALL * whole else max(HALF * whole, place_of)


def within_known(problem: Problem, grams: Array) -> bool:
    """Whether every known limit holds and nothing banned is in."""
    used = problem.rows[: problem.known] @ grams
    return bool((used <= FULL).all() and not (grams[problem.banned] > 0).any())


def _lost(problem: Problem, base: Array, gap: Gap) -> float:
    i = problem.index[gap.material]
    unit = problem.unit[i]
    return float((problem.old[i] - base[i]) / unit) if np.isfinite(unit) else 0.0


def _stand_in(problem: Problem, ranked: Sequence[tuple[str, float | None]]) -> tuple[int, float] | None:
    """The best ranked one that may be used and whose amount is known."""
    for name, ratio in ranked:
        i = problem.index.get(name)
        if i is None or i < problem.n_lines or not ratio or problem.banned[i]:
            continue
        if not (problem.rows[problem.known :, i] > 0).any():  # nothing is raised whose limit is unknown
            return i, ratio
    return None


def _no_crumbs(problem: Problem, grams: Array) -> Array:
    shares = np.minimum(problem.shares(grams), problem.fresh_shares(grams))
    return np.where(~problem.is_line & (shares < LEAST_SHARE), 0.0, grams)
