"""Loss on the strip: first order, one rate per material.

Model: Kasting and Saiyasombati 2003 found first-order loss with a rate constant per component to describe
twelve fragrance components with a fixative (as summarised in the project's notes; values not carried over).
The rate here comes from the tenacity: a dip counts as noticed until 1 % of it is left.

Not modelled: activity coefficients in the mixture (in published example E1 limonene's is 5.3, and ideal
mixing names the wrong leading note there), diffusion in the paper, temperature.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

NOTICED_FRACTION = 0.01


def loss_rate(tenacity_h: ArrayLike) -> Array:
    """First-order rate [1/h] of a material noticed for ``tenacity_h`` hours: ln(1 / 0.01) / tenacity."""
    return np.asarray(np.log(1.0 / NOTICED_FRACTION) / np.maximum(np.asarray(tenacity_h, dtype=float), 1e-3))


def remaining(hours: ArrayLike, tenacity_h: ArrayLike) -> Array:
    """Fraction left after ``hours`` (any shape), 0 to 1."""
    return np.asarray(np.exp(-loss_rate(tenacity_h) * np.asarray(hours, dtype=float)))
