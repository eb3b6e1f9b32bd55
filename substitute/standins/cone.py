"""The target's projection on the cone of one, two or three materials.

For a set S of non-negative vectors, V(S) = max over w >= 0 of 2 b.w - w.G w (G their Gram matrix, b their
products with the target) is the squared length of the target's projection on the cone of S; with a target
of length 1 the cosine of blend and target is sqrt(V).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..frozen import frozen

SLACK = 1e-9


@frozen
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
