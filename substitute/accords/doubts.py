"""The same question with other figures, so that no formula is tuned to single ones: what holds in most worlds
is chosen.
"""

from __future__ import annotations

import numpy as np

from ..frozen import frozen
from ..odour.perception import Array, Ear, Hearing, make_ear
from ..odour.power_law import EXPONENT_RANGE
from .problem import Problem

WORLDS = 32
POTENCY_OFF, RATE_OFF = 1.5, 2.0  # how far potencies and loss rates may be off
SEED = 3


@frozen(eq=False)
class Doubts:
    """Worlds as ears over the ``live`` materials (places in the problem)."""

    live: Array
    ears: tuple[Ear, ...]

    def values(self, grams: Array) -> Array:
        """Match (W, K) of formulas ``grams`` (K, N), which hold nothing but what is live."""
        return np.array([ear.values(ear.sums(grams[:, self.live])) for ear in self.ears])


def make_doubts(problem: Problem, grams: Array, worlds: int = WORLDS, seed: int = SEED) -> Doubts:
    """Seeded worlds for formulas ``grams`` (K, N): potencies off by up to x/÷ 1.5, loss rates by x/÷ 2, the
    exponent anywhere in its range.

    A material's factors are drawn by its place among the ids in order of the alphabet, so that the order of
    lines changes nothing.
    """
    heard = problem.potency.max(axis=1) > 0
    live = np.flatnonzero(((grams > 0).any(axis=0) | (problem.old > 0)) & heard)
    live = live[np.argsort([problem.ids[i] for i in live], kind="stable")]
    rng = np.random.default_rng(seed)
    potency, profile, old = problem.potency[live], problem.profile[live], problem.old[live]
    fresh = np.maximum(potency[:, :1], 1e-300)
    ears = []
    for _ in range(worlds):
        strength = np.exp(rng.uniform(-1, 1, (len(live), 1)) * np.log(POTENCY_OFF))
        rate = np.exp(rng.uniform(-1, 1, (len(live), 1)) * np.log(RATE_OFF))
        off = strength * fresh * (potency / fresh) ** rate
        hearing = Hearing(float(rng.uniform(*EXPONENT_RANGE)), problem.hearing.p, problem.hearing.share)
        ears.append(make_ear(off, profile, old, hearing))
    return Doubts(live, tuple(ears))
