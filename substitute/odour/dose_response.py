"""Intensity as a saturating dose-response: I = I_max / (1 + exp(-(log10 c - C) / D)).

Source: Wakayama, Sakasai, Yoshikawa and Inoue (2019), Ind. Eng. Chem. Res., doi 10.1021/acs.iecr.9b01225: c
in ug per litre of air, I_max the ceiling, C the place, D the spread; a threshold follows for I = 1.4. Needs
the concentration in air above the strip, so it is used where parameters and that concentration are known; the
accord's own arithmetic uses the power law.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

THRESHOLD_INTENSITY = 1.4  # the paper's intensity at threshold


def intensity_dose_response(concentration: ArrayLike, *, i_max: float, c: float, d: float) -> Array:
    """Perceived intensity at a ``concentration`` [ug/L air]; 0 at 0."""
    with np.errstate(divide="ignore"):
        place = np.log10(np.asarray(concentration, dtype=float))
    return np.asarray(i_max / (1.0 + np.exp(-(place - c) / d)))


def concentration_for(intensity: float, *, i_max: float, c: float, d: float) -> float:
    """The concentration [ug/L air] that smells of ``intensity``; raises ``ValueError`` at or above the
    ceiling.
    """
    if not 0 < intensity < i_max:
        raise ValueError(f"intensity {intensity:g} is out of range: allowed is above 0 and under {i_max:g}")
    return float(10 ** (c - d * np.log((i_max - intensity) / intensity)))


def threshold(*, i_max: float, c: float, d: float) -> float:
    """The odour threshold [ng/L air] that the parameters imply (intensity 1.4)."""
    return 1000.0 * concentration_for(THRESHOLD_INTENSITY, i_max=i_max, c=c, d=d)
