"""The front of the perception models: one function a question, ``method=`` names the model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .dose_response import intensity_dose_response
from .mixing import SHARE_EXPONENT, P, mix_p_norm, mix_strongest, mix_vector
from .power_law import EXPONENT, intensity_power_law

INTENSITY_METHODS = {"power_law": intensity_power_law, "dose_response": intensity_dose_response}
MIXING_METHODS = {"p_norm": mix_p_norm, "vector": mix_vector, "strongest": mix_strongest}
FAINT = 0.01  # a stage under this part of the strongest stage is not judged


def _chosen(methods: dict, method: str):
    if method not in methods:
        raise ValueError(f"method '{method}' is not known: one of {', '.join(methods)}")
    return methods[method]


def intensity(amount, *, method: str = "power_law", **parameters):
    """Perceived intensity of one component; ``parameters`` as the chosen model's function takes them."""
    return _chosen(INTENSITY_METHODS, method)(amount, **parameters)


def mixture_intensity(intensities, *, method: str = "p_norm", **parameters):
    """Total intensity of a mixture over the last axis."""
    return _chosen(MIXING_METHODS, method)(intensities, **parameters)


@dataclass(frozen=True)
class Hearing:
    """The exponents by which an accord is judged; their product with 1.2 is the power of grams in perceived shares."""

    exponent: float = EXPONENT
    p: float = P
    share: float = SHARE_EXPONENT

    @property
    def power(self) -> float:
        """Exponent of grams in a perceived share."""
        return self.exponent * self.share


HEARING = Hearing()


@dataclass(frozen=True)
class Impression:
    """What an accord smells of at each stage: ``shares`` (T, D) rows sum to 1 (0 if nothing smells), ``strength`` (T)."""

    shares: np.ndarray
    strength: np.ndarray


def impression(grams, potency, profile, hearing: Hearing = HEARING) -> Impression:
    """Impression of ``grams`` (N) of materials with ``potency`` (N, T) and ``profile`` (N, T, D)."""
    grams = np.asarray(grams, dtype=float)
    single = intensity_power_law(grams[:, None], potency, exponent=hearing.exponent)
    powered = np.power(single, hearing.share)
    total = powered.sum(axis=0)
    weights = np.divide(powered, total, out=np.zeros_like(powered), where=total > 0)
    return Impression(np.einsum("nt,ntd->td", weights, profile), mix_p_norm(single.T, p=hearing.p))


@dataclass(frozen=True)
class Match:
    """How alike two accords smell, 0 to 1; a stage is ``None`` where the old accord is hardly noticed."""

    overall: float
    stages: tuple[float | None, ...]

    def to_dict(self, names) -> dict:
        return {"overall": self.overall, **dict(zip(names, self.stages))}


def match(after: Impression, before: Impression) -> Match:
    """Overlap of smells x ratio of strengths, per stage and overall (weighted by the old strength).

    overlap = 1 - 1/2 sum |P - P0|, ratio = min(S / S0, S0 / S). Never rescaled.
    """
    overlap = 1.0 - 0.5 * np.abs(after.shares - before.shares).sum(axis=1)
    high = np.maximum(after.strength, before.strength)
    ratio = np.divide(
        np.minimum(after.strength, before.strength), high, out=np.zeros_like(high), where=high > 0
    )
    value = np.where(after.strength > 0, overlap, 0.0) * ratio
    top = before.strength.max()
    judged = before.strength >= FAINT * top if top > 0 else np.zeros(len(value), dtype=bool)
    weight = np.where(judged, before.strength, 0.0)
    overall = float((weight * value).sum() / weight.sum()) if weight.sum() > 0 else 0.0
    return Match(overall, tuple(float(v) if yes else None for v, yes in zip(value, judged)))
