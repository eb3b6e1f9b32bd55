"""From features to a score between 0 and 1, and the rule by which evidence is added to it.

The weights come from a pairwise logistic regression (``python -m substitute.standins.train``) on ``swaps.csv``, whose rows are
positives and never a feature; folds are by missing material. Whether a swap is documented is added afterwards by the stated rule
(:func:`with_evidence`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from ..records import Swap
from .features import FEATURES, LEARNED

STATED = {"headroom": 1.0, "company": 1.5}  # log-odds per unit; a matter of judgement, not learned
SAME_REASON = 0.55  # evidence for this swap and this reason
OTHER_REASON = 0.25  # evidence for this swap, written down for another reason
NOT_AMONG_THEM = 0.35  # factor for a candidate without evidence where the missing material has documented swaps: the usual ones are named
WORDS = ((0.6, "likely"), (0.3, "try it"), (0.0, "only if nothing else"))


@dataclass(frozen=True)
class Weights:
    """Log-odds per unit of each learned feature, and the offset that turns them into a chance of being accepted."""

    features: tuple[str, ...]
    values: tuple[float, ...]
    offset: float


@lru_cache(maxsize=1)
def learned_weights() -> Weights:
    """The weights shipped beside this module."""
    kept = json.loads(Path(__file__).with_name("weights.json").read_text(encoding="utf-8"))
    return Weights(tuple(kept["features"]), tuple(kept["values"]), kept["offset"])


def score(features: np.ndarray, weights: Weights | None = None) -> np.ndarray:
    """(N) scores 0..1 of an (N, 10) feature matrix."""
    weights = weights or learned_weights()
    log_odds = (
        features[:, [FEATURES.index(name) for name in weights.features]] @ np.array(weights.values)
        + weights.offset
    )
    for name, value in STATED.items():
        log_odds = log_odds + value * features[:, FEATURES.index(name)]
    return 1.0 / (1.0 + np.exp(-log_odds))


def with_evidence(value: float, rows: Iterable[Swap], because: str, documented: bool = True) -> float:
    """A score with the documented swaps of the pair counted in.

    1 - (1 - score) x (1 - weight of the best row); without a row, less where others are ``documented`` for the same missing material.
    The three weights were set on the open evaluation questions so that a score is about the chance of being accepted.
    """
    weight = max((SAME_REASON if row.because == because else OTHER_REASON for row in rows), default=None)
    if weight is None:
        return value * NOT_AMONG_THEM if documented else value
    return 1.0 - (1.0 - value) * (1.0 - weight)


def in_words(value: float) -> str:
    """How far to trust a score, as measured by the calibration in the evaluation."""
    return next(word for least, word in WORDS if value >= least)


__all__ = ["FEATURES", "LEARNED", "Weights", "in_words", "learned_weights", "score", "with_evidence"]
