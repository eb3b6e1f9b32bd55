"""Total intensity of a mixture from the intensities of its components: the published models side by side.

- ``p_norm``: (sum I ** p) ** (1 / p). p = 6 was fitted to the binary mixtures of Ma, Tang, Xu and
  Thomas-Danguin (2021), Data in Brief 107143, and holds for any number of components: the default.
- ``vector``: sqrt(sum I_i ** 2 + 2 cos(alpha) sum_(i<j) I_i I_j), Berglund, Berglund, Lindvall and Svensson
  (1973), with cos(alpha) = -0.388 from Ma et al. 2021. For two components; from four equal ones on its square
  turns negative.
- ``u_model``: I_a + I_b + 2 cos(alpha) sqrt(I_a I_b), the U model of Patte and Laffort (1979), Chemical
  Senses and Flavour 4, 267-274; equation and source are recalled, the paper was not open (basis ``memory``).
  With cos(alpha) = -0.444, an estimate of ours: least squares over the 131 open two-part mixtures of Ma et
  al. 2021. For two components and no more.
- ``strongest``: the strongest component alone, the usual plain bound.

Intensities are on any scale with a true zero, all on the same one, and the total is on it too.

Not modelled: synergy, counteraction of particular pairs, and activity in the liquid (ideal mixing is assumed;
published example E1 shows it can name the wrong leading note).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

P = 6.0
COS_ALPHA = -0.388
U_COS_ALPHA = -0.444  # the U model's own: its angle is not the vector model's
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


def mix_u_model(intensities: ArrayLike, *, cos_alpha: float = U_COS_ALPHA) -> Array:
    """U model over the last axis: I_a + I_b + 2 cos(alpha) sqrt(I_a I_b), in the unit of the intensities.

    Source: Patte and Laffort (1979), Chemical Senses and Flavour 4, 267-274 (recalled). ``cos_alpha`` [no
    unit, -1 to 1]: 1 gives the square of the roots' sum, 0 the sum of the intensities, -1 the square of the
    roots' difference. Components of zero do not count. Raises ``ValueError`` where more than two are over
    zero (summed over pairs, three equal ones would smell a third as strong as one), where one is negative,
    and for a ``cos_alpha`` out of range.
    """
    if not -1 <= cos_alpha <= 1:
        raise ValueError(f"cos_alpha {cos_alpha:g} is out of range: allowed is from -1 to 1")
    single = np.asarray(intensities, dtype=float)
    if np.any(single < 0):
        raise ValueError("an intensity is negative: allowed is 0 or more")
    if np.any(np.count_nonzero(single, axis=-1) > 2):
        raise ValueError("the U model holds for two components: here are more; use p_norm")
    total = single.sum(axis=-1)
    twice = np.sqrt(single).sum(axis=-1) ** 2 - total  # 2 sqrt(I_a I_b)
    return np.asarray(np.maximum(total + cos_alpha * twice, 0.0))


def mix_strongest(intensities: ArrayLike) -> Array:
    """The strongest component over the last axis."""
    return np.asarray(np.asarray(intensities, dtype=float).max(axis=-1))


def perceived_shares(intensities: ArrayLike, *, exponent: float = SHARE_EXPONENT) -> Array:
    """Part of the smell that each component is, over the last axis; zeros where nothing smells."""
    powered = np.power(np.asarray(intensities, dtype=float), exponent)
    total = powered.sum(axis=-1, keepdims=True)
    return np.asarray(np.divide(powered, total, out=np.zeros_like(powered), where=total > 0))
