"""The best non-negative blend of k materials, exactly for k up to three, greedily with exchanges beyond.

Materials and target are non-negative vectors over the stages, so that a blend has to fit the opening, the
heart and the drydown at once.
"""

from __future__ import annotations

import numpy as np

from .cone import Blend, fit, pair_values, single_values
from .triples import best_triple


def best_pair(gram: np.ndarray, toward: np.ndarray, anchors: np.ndarray) -> Blend | None:
    """The exact best pair with at least one row in ``anchors`` (boolean, N)."""
    values = pair_values(gram, toward)
    allowed = anchors[:, None] | anchors[None, :]
    values = np.where(np.triu(allowed, 1), values, -1.0)
    i, j = (int(place) for place in np.unravel_index(int(values.argmax()), values.shape))
    return fit(gram, toward, (i, j)) if values[i, j] > 0 else None


def greedy(gram: np.ndarray, toward: np.ndarray, k: int, anchors: np.ndarray) -> Blend | None:
    """Grow from the best anchor one row at a time, then exchange rows while that helps."""
    start = np.where(anchors, single_values(gram, toward), -1.0)
    if start.max() <= 0:
        return None
    chosen = fit(gram, toward, (int(start.argmax()),))
    while len(chosen.rows) < min(k, len(toward)):
        chosen = _best_addition(gram, toward, chosen)
    improved = True
    while improved:
        improved = False
        for leaving in range(len(chosen.rows)):
            rest = tuple(row for place, row in enumerate(chosen.rows) if place != leaving)
            if not rest:
                continue
            other = _best_addition(
                gram, toward, fit(gram, toward, rest), None if anchors[list(rest)].any() else anchors
            )
            if other.cosine > chosen.cosine + 1e-9:
                chosen, improved = other, True
                break
    return chosen


def _best_addition(
    gram: np.ndarray, toward: np.ndarray, blend: Blend, allowed: np.ndarray | None = None
) -> Blend:
    """``blend`` with the row whose direction the residual points to most."""
    mixed = gram[:, list(blend.rows)] @ np.array(blend.weights)
    gain = (toward - mixed) / np.sqrt(np.maximum(np.diag(gram), 1e-300))
    gain[list(blend.rows)] = -np.inf
    if allowed is not None:
        gain = np.where(allowed, gain, -np.inf)
    tries = [
        fit(gram, toward, (*blend.rows, int(row))) for row in np.argsort(-gain)[:8] if np.isfinite(gain[row])
    ]
    return max(tries, key=lambda found: found.cosine) if tries else blend


def best_blend(gram: np.ndarray, toward: np.ndarray, k: int, anchors: np.ndarray) -> Blend | None:
    """The best blend of exactly ``k`` rows with an anchor: exact for two and three, greedy beyond."""
    if k == 2:
        return best_pair(gram, toward, anchors)
    if k == 3:
        return best_triple(gram, toward, anchors)
    return greedy(gram, toward, k, anchors)
