"""The best non-negative blend of k materials, exactly for k up to three, greedily with exchanges beyond.

Materials and target are non-negative vectors over the stages, so that a blend has to fit the opening, the
heart and the drydown at once. For a set S, V(S) = max over w >= 0 of 2 b.w - w.G w is the squared length
of the target's projection on the cone of S; with a target of length 1 the cosine of blend and target is
sqrt(V). V is subadditive for non-negative vectors: V(ijk) <= V(ij) + V(k) and V(ijk) <= (V(ij) + V(ik) +
V(jk)) / 2, which prunes almost all triples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

SLACK = 1e-9
CHUNK = 1024


@dataclass(frozen=True)
class Blend:
    """Rows of the chosen vectors, their weights, and the cosine of the blend with the target."""

    rows: tuple[int, ...]
    weights: tuple[float, ...]
    cosine: float


def fit(gram: np.ndarray, toward: np.ndarray, rows: Sequence[int]) -> Blend:
    """The best non-negative weights of given ``rows`` (NNLS on the normal equations)."""
    from scipy.optimize import nnls

    rows = list(rows)
    part = gram[np.ix_(rows, rows)]
    root = np.linalg.cholesky(part + 1e-12 * np.trace(part) * np.eye(len(rows)))
    weights, _ = nnls(root.T, np.linalg.solve(root, toward[rows]))
    value = 2.0 * weights @ toward[rows] - weights @ part @ weights
    return Blend(tuple(rows), tuple(weights), float(np.sqrt(max(value, 0.0))))


def single_values(gram: np.ndarray, toward: np.ndarray) -> np.ndarray:
    """V of every single row (N)."""
    found: np.ndarray = np.maximum(toward, 0.0) ** 2 / np.maximum(np.diag(gram), 1e-300)
    return found


def pair_values(gram: np.ndarray, toward: np.ndarray) -> np.ndarray:
    """V of every pair (N, N), in closed form; the diagonal holds the singles."""
    single = single_values(gram, toward)
    size = np.diag(gram)
    det = size[:, None] * size[None, :] - gram**2
    first = toward[:, None] * size[None, :] - gram * toward[None, :]  # weight of the row's material times det
    inside = (first > 0) & (first.T > 0) & (det > SLACK * size[:, None] * size[None, :])
    both = np.where(
        inside, (toward[:, None] * first + toward[None, :] * first.T) / np.where(inside, det, 1.0), 0.0
    )
    found: np.ndarray = np.maximum(both, np.maximum(single[:, None], single[None, :]))
    return found


def best_pair(gram: np.ndarray, toward: np.ndarray, anchors: np.ndarray) -> Blend | None:
    """The exact best pair with at least one row in ``anchors`` (boolean, N)."""
    values = pair_values(gram, toward)
    allowed = anchors[:, None] | anchors[None, :]
    values = np.where(np.triu(allowed, 1), values, -1.0)
    i, j = (int(place) for place in np.unravel_index(int(values.argmax()), values.shape))
    return fit(gram, toward, (i, j)) if values[i, j] > 0 else None


def triple_values(gram: np.ndarray, toward: np.ndarray, triples: np.ndarray) -> np.ndarray:
    """V (M) of triples (M, 3) inside their cone's interior; 0 where a weight would be negative (a pair is
    as good there).
    """
    i, j, k = triples.T
    a, b, c = gram[i, i], gram[j, j], gram[k, k]
    d, e, f = gram[i, j], gram[i, k], gram[j, k]
    x, y, z = toward[i], toward[j], toward[k]
    det = a * (b * c - f * f) - d * (d * c - f * e) + e * (d * f - b * e)
    u = x * (b * c - f * f) + y * (e * f - d * c) + z * (d * f - b * e)
    v = x * (e * f - d * c) + y * (a * c - e * e) + z * (d * e - a * f)
    w = x * (d * f - b * e) + y * (d * e - a * f) + z * (a * b - d * d)
    inside = (det > SLACK * a * b * c) & (u > 0) & (v > 0) & (w > 0)
    return np.where(inside, (x * u + y * v + z * w) / np.where(inside, det, 1.0), 0.0)


def best_triple(gram: np.ndarray, toward: np.ndarray, anchors: np.ndarray) -> Blend | None:
    """The exact best triple with an anchor: pairs in falling order, thirds pruned by both bounds."""
    n = len(toward)
    if n < 3 or not anchors.any():
        return None
    single, pairs = single_values(gram, toward), pair_values(gram, toward)
    start = greedy(gram, toward, 3, anchors)
    best, chosen = (start.cosine**2, start.rows) if start else (0.0, None)
    top_single = float(single.max())
    # the triple's best pair holds two thirds of it, and V(ijk) <= V(ij) + V(k)
    least = max(2.0 / 3.0 * best, best - top_single)
    i, j = np.nonzero(np.triu(pairs >= least, 1))
    order = np.argsort(-pairs[i, j], kind="stable")
    i, j = i[order], j[order]
    value = pairs[i, j]
    for begin in range(0, len(value), CHUNK):
        if value[begin] < max(2.0 / 3.0 * best, best - top_single):
            break
        part = slice(begin, begin + CHUNK)
        third = np.flatnonzero(single > best - value[begin])
        a, b, ab = i[part], j[part], value[part, None]
        left, right = pairs[a[:, None], third], pairs[b[:, None], third]
        hopeful = (left + right > 2.0 * best - ab) & (single[third] > best - ab)
        hopeful &= (left <= ab + SLACK) & (right <= ab + SLACK)
        hopeful &= (anchors[a] | anchors[b])[:, None] | anchors[third]
        here, column = np.nonzero(hopeful)
        triples = np.column_stack([a[here], b[here], third[column]])
        triples = triples[(triples[:, 2] != triples[:, 0]) & (triples[:, 2] != triples[:, 1])]
        if len(triples):
            found = triple_values(gram, toward, triples)
            top = int(found.argmax())
            if found[top] > best:
                first, second, last = (int(x) for x in triples[top])
                best, chosen = float(found[top]), (first, second, last)
    return fit(gram, toward, chosen) if chosen else None


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
