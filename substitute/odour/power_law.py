"""Intensity as a power of the amount: I = (potency x amount) ** n.

Source: Stevens, S. S. (1957), On the psychophysical law, Psychological Review 64, 153-181 (the form; cited
from memory). Exponents for odorants run from 0.1 to 0.8, most 0.2 to 0.6 (Patte, Etcheto and Laffort 1975,
recalled); 0.35 is the usual default when nothing is known, and the default here. Not modelled: one exponent
serves all materials; no threshold, no ceiling.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

EXPONENT = 0.35
EXPONENT_RANGE = (0.2, 0.6)  # Patte et al. 1975, recalled: most odorants


def intensity_power_law(amount: ArrayLike, potency: ArrayLike = 1.0, *, exponent: float = EXPONENT) -> Array:
    """Perceived intensity of an ``amount`` [g or parts, any shape] of a given ``potency`` [per gram, coumarin
    = 1].
    """
    heard = np.maximum(np.asarray(potency, dtype=float) * np.asarray(amount, dtype=float), 0.0)
    return np.asarray(np.power(heard, exponent))
