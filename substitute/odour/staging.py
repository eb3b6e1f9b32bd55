"""What a material still smells of after a time on the strip: its potency and its profile, stage by stage.

Molecules weaken at one rate. A natural loses its constituents one by one: each counts with its share times
its potency, and what the listed constituents don't explain of the natural's own potency is a residue that
leaves at the natural's own rate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ..frozen import frozen
from ..records import Tables
from .evaporation import remaining

Array = NDArray[np.float64]
STAGE_HOURS = {"opening": 10 / 60, "heart": 2.0, "drydown": 24.0}
DEFAULT_TENACITY_H = 48.0  # for a material without figure: neither opening nor base
RESIDUE_FLOOR = 0.15  # even a fully assessed natural keeps this part of its odour for traces nobody lists
OWN_PROFILE = 0.65  # how much of a natural's profile is its own row, the rest its constituents by odour share


@frozen
class NaturalMix:
    """A natural as odour-giving parts: ``weights[i]`` = share x potency of constituent ``ids[i]``, and a
    residue.
    """

    ids: tuple[str, ...]
    weights: tuple[float, ...]
    residue: float
    potency: float

    def odour_shares(self) -> dict[str, float]:
        """Part of the natural's odour that each constituent gives, residue left out of the keys but not of
        the sum.
        """
        total = sum(self.weights) + self.residue
        return {name: weight / total for name, weight in zip(self.ids, self.weights)} if total > 0 else {}


def natural_mix(tables: Tables, natural: str, share: str = "typical") -> NaturalMix:
    """The potency-weighted make-up of a natural by its ``low``, ``typical`` or ``high`` shares."""
    potency = tables.value(natural, "potency") or 0.0
    ids, weights = [], []
    for part in tables.constituents.get(natural, ()):
        weight = getattr(part, share) / 100.0 * (tables.value(part.id, "potency") or 0.0)
        if weight > 0:
            ids.append(part.id)
            weights.append(weight)
    explained = sum(weights)
    residue = max(potency - explained, RESIDUE_FLOOR * max(potency, explained))
    return NaturalMix(tuple(ids), tuple(weights), residue, potency)


@frozen
class Staged:
    """Odour of N materials at T times: ``potency`` (N, T) per gram, ``profile`` (N, T, D) non-negative rows
    that sum to 1 (or 0).
    """

    ids: tuple[str, ...]
    hours: tuple[float, ...]
    potency: Array
    profile: Array

    def rows(self, ids: Sequence[str]) -> list[int]:
        index = {name: row for row, name in enumerate(self.ids)}
        return [index[name] for name in ids]


def tenacity(tables: Tables, material: str) -> float:
    """Hours one dip of a 10 % solution is noticed; a middle value where none is on file."""
    return tables.value(material, "tenacity_h") or DEFAULT_TENACITY_H


def stage_odour(
    tables: Tables,
    profiles: Mapping[str, Array],
    width: int,
    hours: Sequence[float] = tuple(STAGE_HOURS.values()),
    *,
    potency_factor: Mapping[str, float] | None = None,
    rate_factor: Mapping[str, float] | None = None,
    ids: Sequence[str] | None = None,
    share: str = "typical",
) -> Staged:
    """Potency and profile of materials at each of ``hours``.

    ``profiles`` maps id to a vector of length ``width`` that sums to 1. ``potency_factor`` and
    ``rate_factor`` disturb single materials (for checks of robustness); ``share`` picks the naturals' low,
    typical or high constituents. Materials without potency or profile get zeros.
    """
    ids = tuple(ids if ids is not None else tables.materials)
    hours = tuple(float(h) for h in hours)
    potency = np.zeros((len(ids), len(hours)))
    profile = np.zeros((len(ids), len(hours), width))
    parts_of = (part.id for name in ids for part in tables.constituents.get(name, ()))
    row_of = {name: row for row, name in enumerate(dict.fromkeys((*ids, *parts_of)))}
    left = _left(tables, list(row_of), hours, rate_factor or {})
    words = np.zeros((len(row_of), width))
    known = np.zeros(len(row_of), dtype=bool)
    for name, row in row_of.items():
        if name in profiles:
            words[row], known[row] = profiles[name], True
    alone: list[tuple[int, int, float]] = []
    for row, name in enumerate(ids):
        strength = (tables.value(name, "potency") or 0.0) * (potency_factor or {}).get(name, 1.0)
        me = row_of[name]
        if not known[me] or strength <= 0:
            continue
        if name not in tables.constituents:
            alone.append((row, me, strength))
            continue
        mix = natural_mix(tables, name, share)
        parts = [*map(row_of.__getitem__, mix.ids), me]
        weights = np.array([*mix.weights, mix.residue])
        still = (weights / weights.sum())[:, None] * left[parts]
        kept = still.sum(axis=0)
        potency[row] = strength * kept
        said = np.where(
            known[parts, None], words[parts], words[me]
        )  # a part nobody described smells of the whole
        inside = still.T @ said / np.maximum(kept, 1e-300)[:, None]
        profile[row] = OWN_PROFILE * words[me] + (1.0 - OWN_PROFILE) * inside
    if alone:
        rows, places, strengths = (list(some) for some in zip(*alone))
        potency[rows] = np.array(strengths)[:, None] * left[places]
        profile[rows] = words[places][:, None, :]
    return Staged(ids, hours, potency, profile)


def _left(
    tables: Tables, names: Sequence[str], hours: Sequence[float], rate_factor: Mapping[str, float]
) -> Array:
    """What is left (N, T) of each of ``names`` after each of ``hours``."""
    lasting = np.array([tenacity(tables, name) for name in names])
    faster = np.array([rate_factor.get(name, 1.0) for name in names])
    return remaining(np.array(hours) * faster[:, None], lasting[:, None])
