"""The front of the perception models: one function a question, ``method=`` names the model."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..frozen import frozen
from .dose_response import intensity_dose_response
from .mixing import SHARE_EXPONENT, P, mix_p_norm, mix_strongest, mix_u_model, mix_vector
from .power_law import EXPONENT, intensity_power_law

Array = NDArray[Any]
INTENSITY_METHODS: Mapping[str, Callable[..., Array]] = {
    "power_law": intensity_power_law,
    "dose_response": intensity_dose_response,
}
MIXING_METHODS: Mapping[str, Callable[..., Array]] = {
    "p_norm": mix_p_norm,
    "vector": mix_vector,
    "u_model": mix_u_model,
    "strongest": mix_strongest,
}
FAINT = 0.01  # a stage under this part of the strongest stage is not judged


def _chosen(methods: Mapping[str, Callable[..., Array]], method: str) -> Callable[..., Array]:
    if method not in methods:
        raise ValueError(f"method '{method}' is not known: one of {', '.join(methods)}")
    return methods[method]


def intensity(amount: ArrayLike, *, method: str = "power_law", **parameters: Any) -> Array:
    """Perceived intensity of one component; ``parameters`` as the chosen model's function takes them."""
    return _chosen(INTENSITY_METHODS, method)(amount, **parameters)


def mixture_intensity(intensities: ArrayLike, *, method: str = "p_norm", **parameters: Any) -> Array:
    """Total intensity of a mixture over the last axis."""
    return _chosen(MIXING_METHODS, method)(intensities, **parameters)


@frozen
class Hearing:
    """The exponents by which an accord is judged; their product with 1.2 is the power of grams in perceived
    shares.
    """

    exponent: float = EXPONENT
    p: float = P
    share: float = SHARE_EXPONENT

    @property
    def power(self) -> float:
        """Exponent of grams in a perceived share."""
        return self.exponent * self.share


HEARING = Hearing()


@frozen
class Impression:
    """What an accord smells of at each stage: ``shares`` (T, D) rows sum to 1 (0 if nothing smells),
    ``strength`` (T).
    """

    shares: Array
    strength: Array


def impression(grams: ArrayLike, potency: Array, profile: Array, hearing: Hearing = HEARING) -> Impression:
    """Impression of ``grams`` (N) of materials with ``potency`` (N, T) and ``profile`` (N, T, D)."""
    single = intensity_power_law(np.asarray(grams, dtype=float)[:, None], potency, exponent=hearing.exponent)
    powered = np.power(single, hearing.share)
    total = powered.sum(axis=0)
    weights = np.divide(powered, total, out=np.zeros_like(powered), where=total > 0)
    return Impression(np.einsum("nt,ntd->td", weights, profile), mix_p_norm(single.T, p=hearing.p))


@frozen
class Match:
    """How alike two accords smell, 0 to 1; a stage is ``None`` where the old accord is hardly noticed."""

    overall: float
    stages: tuple[float | None, ...]

    def to_dict(self, names: Sequence[str]) -> dict[str, float | None]:
        return {"overall": self.overall, **dict(zip(names, self.stages))}


def stage_values(shares: Array, strength: Array, before: Impression) -> Array:
    """Match of each stage (…, T) of any number of accords with one old one: the kernel wherever a match is
    worked out.

    ``shares`` (…, T, D), ``strength`` (…, T). overlap x ratio, overlap = 1 - 1/2 sum |P - P0|, ratio =
    min(S / S0, S0 / S). Never rescaled.
    """
    apart = shares - before.shares
    overlap = 1.0 - 0.5 * np.abs(apart, out=apart).sum(axis=-1)
    high = np.maximum(strength, before.strength)
    low = np.minimum(strength, before.strength)
    ratio = low / np.where(high > 0, high, 1.0)
    return np.asarray(np.where(strength > 0, overlap, 0.0) * ratio)


def stage_weights(before: Impression) -> Array:
    """How much each stage (T) counts: by the old accord's strength, 0 under 1 % of its strongest; they sum to
    1 (or 0).
    """
    top = before.strength.max()
    weight = (
        np.where(before.strength >= FAINT * top, before.strength, 0.0) if top > 0 else before.strength * 0
    )
    return weight / weight.sum() if weight.sum() > 0 else weight


def match(after: Impression, before: Impression) -> Match:
    """Overlap of smells x ratio of strengths, per stage and overall (weighted by the old strength)."""
    return as_match(stage_values(after.shares, after.strength, before), stage_weights(before))


def as_match(values: Array, weight: Array) -> Match:
    """Stage values (T) and their weights (T) as a record."""
    return Match(float(values @ weight), tuple(float(v) if w > 0 else None for v, w in zip(values, weight)))


@frozen
class Sums:
    """What is heard of accords before shares are taken, so that one more material is one more addition.

    ``words`` (…, T, D), ``total`` (…, T) and ``beat`` (…, T): sums over the materials of c x profile, c and
    c ** (p / share), c being a material's contribution to the shares, I ** share.
    """

    words: Array
    total: Array
    beat: Array


@frozen(eq=False)
class Ear:
    """N materials, ready to be heard in any amounts against one old accord.

    ``loud`` (N, T): a material's contribution to the shares at one gram; ``voiced`` (N, T x D): the same
    times
    its profile.
    """

    hearing: Hearing
    loud: Array
    voiced: Array
    before: Impression
    weight: Array

    def sums(self, grams: Array) -> Sums:
        """``grams`` (…, N); what is in none of them costs nothing."""
        grams = np.asarray(grams)
        live = np.flatnonzero(grams.reshape(-1, grams.shape[-1]).any(axis=0))
        y = np.maximum(grams[..., live], 0.0) ** self.hearing.power
        part = y[..., None] * self.loud[live]
        words = (y @ self.voiced[live]).reshape(*y.shape[:-1], *self.before.shares.shape)
        return Sums(words, part.sum(axis=-2), (part**self._beat).sum(axis=-2))

    def one(self, i: int | Array, grams: Array) -> Sums:
        """The material ``i`` alone in ``grams`` (…); or materials ``i`` (n) in ``grams`` (n, …)."""
        y = np.asarray(grams, dtype=float) ** self.hearing.power
        loud = self.loud[i]
        voiced = self.voiced[i].reshape(*np.shape(i), *self.before.shares.shape)
        if np.ndim(i):
            lead = (slice(None), *(None,) * (y.ndim - 1))
            loud, voiced = loud[lead], voiced[lead]
        part = y[..., None] * loud
        return Sums(y[..., None, None] * voiced, part, part**self._beat)

    @property
    def _beat(self) -> float:
        return self.hearing.p / self.hearing.share

    def stages(self, sums: Sums) -> Array:
        """Match (…, T) of every stage."""
        shares = sums.words / np.where(sums.total > 0, sums.total, 1.0)[..., None]
        return stage_values(shares, sums.beat ** (1.0 / self.hearing.p), self.before)

    def values(self, sums: Sums) -> Array:
        """Overall match (…)."""
        return self.stages(sums) @ self.weight

    def match(self, grams: Array) -> Match:
        """Match of ``grams`` (N) with the old accord."""
        return as_match(self.stages(self.sums(grams)), self.weight)


def add(one: Sums, other: Sums) -> Sums:
    """Two mixtures in one vessel."""
    return Sums(one.words + other.words, one.total + other.total, one.beat + other.beat)


def along(one: Sums) -> Sums:
    """The same with a further axis behind the last, along which a material's amounts may be added."""
    return Sums(one.words[..., None, :, :], one.total[..., None, :], one.beat[..., None, :])


def make_ear(potency: Array, profile: Array, old: Array, hearing: Hearing = HEARING) -> Ear:
    """An ear for materials of ``potency`` (N, T) and ``profile`` (N, T, D); ``old`` (N grams) is what it
    knows.
    """
    before = impression(old, potency, profile, hearing)
    loud = potency**hearing.power
    voiced = (loud[..., None] * profile).reshape(len(loud), -1)
    return Ear(hearing, loud, voiced, before, stage_weights(before))
