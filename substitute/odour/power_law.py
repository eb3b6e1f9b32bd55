"""Intensity as a power of the amount: I = (potency x amount) ** n.

Source: Stevens, S. S. (1957), On the psychophysical law, Psychological Review 64, 153-181 (the form; cited from memory). Exponents
for odorants run from 0.1 to 0.8, most 0.2 to 0.6 (Patte, Etcheto and Laffort 1975, recalled); 0.35 is the usual default when
nothing is known, and the default here. Not modelled: one exponent serves all materials; no threshold, no ceiling.
"""

from __future__ import annotations

import numpy as np

EXPONENT = 0.35
EXPONENT_RANGE = (0.2, 0.6)  # Patte et al. 1975, recalled: most odorants


def intensity_power_law(amount, potency=1.0, *, exponent: float = EXPONENT):
    """Perceived intensity of an ``amount`` [g or parts, any shape] of a given ``potency`` [per gram, coumarin = 1]."""
    return np.power(np.maximum(np.asarray(potency, dtype=float) * amount, 0.0), exponent)
