"""From features to a score between 0 and 1, and the rule by which evidence is added to it.

The weights come from a pairwise logistic regression (``python -m substitute.standins.train``) on
``swaps.csv``, whose rows are positives and never a feature; folds are by missing material. Whether a swap
is documented is added afterwards by the stated rule (:func:`with_evidence`).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from ..frozen import frozen
from .features import FEATURES, LEARNED

STATED = {"headroom": 1.0, "company": 1.5}  # log-odds per unit; a matter of judgement, not learned
SURE, BEYOND = (
    0.5,
    0.2,
)  # log-odds that features alone give in full, and the part of what lies beyond: figures are no proof
EVIDENCE = 3.0  # log-odds of a pair that all evidence speaks for
EFFORT = 0.6  # log-odds per step of price in "effort": whoever wrote a row down knew the smell, not the purse
TRUST = 0.9  # part by which full evidence outweighs the features
LEAST = 1e-9
LEAST_OWN = {"near": 0.98, "fair": 0.75}  # what a person found themselves: the score it has at least
OWN_FACTOR = {
    "far": 0.2,
    "not_smelled": 0.3,
}  # and what is left of it where they found it far, or hardly smell it
WORDS = ((0.6, "likely"), (0.3, "try it"), (0.0, "only if nothing else"))
NEAREST_ON_SHELF = "the nearest you have; a makeshift"


@frozen
class Weights:
    """Log-odds per unit of each learned feature, and the offset that turns them into a chance of being
    accepted.
    """

    features: tuple[str, ...]
    values: tuple[float, ...]
    offset: float


@lru_cache(maxsize=1)
def learned_weights() -> Weights:
    """The weights shipped beside this module."""
    kept = json.loads(Path(__file__).with_name("weights.json").read_text(encoding="utf-8"))
    return Weights(tuple(kept["features"]), tuple(kept["values"]), kept["offset"])


def score(features: np.ndarray, weights: Weights | None = None) -> np.ndarray:
    """(N) scores 0..1 of an (N, 12) feature matrix."""
    weights = weights or learned_weights()
    columns = [FEATURES.index(name) for name in weights.features]
    log_odds: np.ndarray = features[:, columns] @ np.array(weights.values) + weights.offset
    for name, value in STATED.items():
        log_odds = log_odds + value * features[:, FEATURES.index(name)]
    return chance(log_odds)


def chance(log_odds: np.ndarray) -> np.ndarray:
    """Log-odds of the features as a chance 0..1; what lies beyond :data:`SURE` counts in part."""
    sure = np.minimum(log_odds, SURE) + BEYOND * np.maximum(log_odds - SURE, 0.0)
    found: np.ndarray = 1.0 / (1.0 + np.exp(-sure))
    return found


def with_evidence(value: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Scores (N) with what is documented around each pair (N, 0 nothing to 1 all) counted in, in log-odds.

    Evidence lifts; its absence takes nothing away from what is similar. The more is documented, the less
    the features say beside it: whoever wrote a row down in its place knew the two, and the features only
    know their figures.
    """
    value = np.clip(value, LEAST, 1.0 - LEAST)
    log_odds = np.log(value / (1.0 - value))
    found: np.ndarray = 1.0 / (1.0 + np.exp(-(log_odds * (1.0 - TRUST * weight) + EVIDENCE * weight)))
    return found


def with_effort(value: np.ndarray, features: np.ndarray) -> np.ndarray:
    """Scores (N) once it counts what the candidate's work costs: nobody replaces a cheap material by one many
    times its price while something else does, however well the two are documented.
    """
    value = np.clip(value, LEAST, 1.0 - LEAST)
    effort = EFFORT * features[:, FEATURES.index("effort")]
    found: np.ndarray = 1.0 / (1.0 + (1.0 - value) / value * np.exp(-effort))
    return found


def with_own(value: np.ndarray, nearness: Sequence[str]) -> np.ndarray:
    """Scores (N) once the person's own nose has spoken: what they found near stands before all that is
    documented, what they found far from it behind; unsaid ('') changes nothing.
    """
    found = value.copy()
    for place, said in enumerate(nearness):
        if said in LEAST_OWN:
            found[place] = max(found[place], LEAST_OWN[said])
        elif said in OWN_FACTOR:
            found[place] *= OWN_FACTOR[said]
    return found


def evidence_alone(weight: float, value: float = 0.0) -> float:
    """:func:`with_evidence` of one pair."""
    return float(with_evidence(np.array([value]), np.array([weight]))[0])


def in_words(value: float, *, best_of_shelf: bool = False) -> str:
    """How far to trust a score, as measured by the calibration in the evaluation; a shelf's best is said
    to be that.
    """
    found = next(word for least, word in WORDS if value >= least)
    return NEAREST_ON_SHELF if best_of_shelf and found == WORDS[-1][1] else found


__all__ = ["FEATURES", "LEARNED", "Weights", "in_words", "learned_weights", "score", "with_evidence"]
