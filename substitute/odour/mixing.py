"""Total intensity of a mixture from the intensities of its components: the published models side by side.

- ``p_norm``: (sum I ** p) ** (1 / p). p = 6 was fitted to the binary mixtures of Ma, Tang, Xu and
  Thomas-Danguin (2021), Data in Brief 107143, and holds for any number of components: the default.
- ``vector``: sqrt(sum I_i ** 2 + 2 cos(alpha) sum_(i<j) I_i I_j), Berglund, Berglund, Lindvall and Svensson
  (1973), with cos(alpha) = -0.388 from Ma et al. 2021. For two components; from four equal ones on its square
  turns negative.
- ``strongest``: the strongest component alone, the usual plain bound.

Not modelled: synergy, counteraction of particular pairs, and activity in the liquid (ideal mixing is assumed;
published example E1 shows it can name the wrong leading note).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

P = 6.0
COS_ALPHA = -0.388
SHARE_EXPONENT = 1.2  # shares of a mixture follow intensity ** 1.2 (Ma et al. 2021)


def mix_p_norm(intensities: ArrayLike, *, p: float = P) -> Array:
    """p-norm over the last axis; finite for any scale (the largest is factored out)."""
    single = np.asarray(intensities, dtype=float)
    top = single.max(axis=-1, keepdims=True, initial=0.0)
    safe = np.where(top > 0, top, 1.0)
    return np.asarray(np.squeeze(safe, -1) * np.power(np.power(single / safe, p).sum(axis=-1), 1.0 / p))


def mix_vector(intensities: ArrayLike, *, cos_alpha: float = COS_ALPHA) -> Array:
    """Vector model over the last axis; raises ``ValueError`` where its square is negative."""
    single = np.asarray(intensities, dtype=float)
    squares = (single**2).sum(axis=-1)
    products = single.sum(axis=-1) ** 2 - squares
    square = squares + cos_alpha * products
    if np.any(square < 0):
        raise ValueError(
            "the vector model holds for two components: with these its square is negative; use p_norm"
        )
    return np.asarray(np.sqrt(square))


def mix_strongest(intensities: ArrayLike) -> Array:
    """The strongest component over the last axis."""
    return np.asarray(np.asarray(intensities, dtype=float).max(axis=-1))


def perceived_shares(intensities: ArrayLike, *, exponent: float = SHARE_EXPONENT) -> Array:
    """Part of the smell that each component is, over the last axis; zeros where nothing smells."""
    powered = np.power(np.asarray(intensities, dtype=float), exponent)
    total = powered.sum(axis=-1, keepdims=True)
    return np.asarray(np.divide(powered, total, out=np.zeros_like(powered), where=total > 0))
