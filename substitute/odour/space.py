"""The vector space in which related descriptors lie near each other.

Raw weights are columns that know nothing of each other: mossy and earthy would be as far apart as mossy and
banana. Three steps mend that: constituents are mixed into the naturals that hold them by their share of the
odour; telling descriptors are weighted up (inverse document frequency); and every profile is spread over the
descriptor graph by a heat kernel, so that weight on one word warms its neighbours in the tree and the words
it is usually met with.

Fitting needs scikit-learn and scipy, which are slow to import; the fitted arrays are kept in the person's
cache folder, keyed by the tables' digest, so that a command does not pay for them twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..frozen import frozen
from ..records import Tables
from ..tables.kept import as_json, first_time, keep_parts, key_of, of_json, recall_parts
from .staging import natural_mix

Array = NDArray[np.float64]
ARRAYS = {"shares": "ND", "unit": "ND", "kernel": "DD", "weight": "D", "broad": "ND"}  # of a space, as kept


@frozen
class SpaceSettings:
    """How profiles become vectors; chosen by the ablation in ``tests/evaluation``."""

    mix: float = 0.3  # part of a natural's profile that comes from its constituents
    heat: float = 1.2  # diffusion time of the heat kernel; 0 leaves the columns unrelated
    tree: float = 1.0  # conductance of a tree edge
    company: float = 0.6  # conductance per unit of cosine between two descriptors' columns
    telling: float = 0.6  # exponent of the inverse document frequency; 0 leaves it out
    sharpen: float = 1.6  # exponent on weights before anything else
    broad: float = 2.0  # diffusion time for what panels' words are predicted from


CHOSEN = SpaceSettings()


@frozen
class Space:
    """Materials as vectors.

    ``ids`` (N) materials with a profile; ``shares`` (N, D) smoothed descriptor shares, rows sum to 1;
    ``unit`` (N, D) the same directions at length 1 (their dot product is the similarity); ``words`` (D)
    descriptor ids; ``kernel`` (D, D) the spreading; ``broad`` (N, D) shares spread wider, without the weight
    on telling words: what people's own words are predicted from.
    """

    ids: tuple[str, ...]
    words: tuple[str, ...]
    shares: Array
    unit: Array
    kernel: Array
    weight: Array
    broad: Array

    @cached_property
    def row(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.ids)}

    @cached_property
    def similarity(self) -> Array:
        """(N, N) cosine between all materials, 0 to 1: a tenth of a second, so :meth:`like` where one row and
        :meth:`among` where a few will do.
        """
        return self.among(range(len(self.ids)))

    def among(self, rows: Sequence[int]) -> Array:
        """(K, K) cosine between the materials in ``rows``, 0 to 1."""
        unit = self.unit if len(rows) == len(self.ids) else self.unit[list(rows)]
        return np.asarray(np.clip(unit @ unit.T, 0.0, 1.0))

    def like(self, material: str) -> Array:
        """(N) cosine of every material to one that has a profile, 0 to 1."""
        if material not in self._like:
            self._like[material] = self.nearest_to(self.unit[self.row[material]])
        return self._like[material]

    @cached_property
    def _like(self) -> dict[str, Array]:
        return {}

    def profiles(self) -> dict[str, Array]:
        """Smoothed shares by id."""
        return dict(zip(self.ids, self.shares))

    def word_vector(self, word: str) -> Array:
        """A descriptor alone, spread and at length 1."""
        vector = self.kernel[self.words.index(word)] * 1.0
        return np.asarray(vector / np.linalg.norm(vector))

    def nearest_to(self, vector: Array) -> Array:
        """Similarity of every material (N) to a vector of length 1."""
        return np.asarray(np.clip(self.unit @ vector, 0.0, 1.0))


def mixed_weights(
    tables: Tables, words: Sequence[str], settings: SpaceSettings
) -> tuple[tuple[str, ...], Array]:
    """Ids with a profile and their weights (N, D): own words, and for naturals their constituents' by odour
    share.
    """
    column = {word: i for i, word in enumerate(words)}
    own: dict[str, Array] = {}
    for name in tables.materials:
        profile = tables.profiles.get(name)
        if not profile:
            continue
        vector = np.zeros(len(words))
        for word, weight in profile.items():
            vector[column[word]] = weight**settings.sharpen
        own[name] = vector / vector.sum()
    rows = []
    for name, vector in own.items():
        parts = (
            {part: share for part, share in natural_mix(tables, name).odour_shares().items() if part in own}
            if name in tables.constituents
            else {}
        )
        known = sum(parts.values())
        if known > 0:
            inside = sum(share * own[part] for part, share in parts.items()) / known
            part = settings.mix * min(1.0, known)
            vector = (1.0 - part) * vector + part * inside
        rows.append(vector)
    return tuple(own), np.array(rows)


def descriptor_conductance(
    tables: Tables, words: Sequence[str], weights: Array, settings: SpaceSettings
) -> Array:
    """Symmetric conductances (D, D): tree edges, and the company two words keep over all materials (cosine of
    their columns).
    """
    from sklearn.metrics.pairwise import cosine_similarity

    index = {word: i for i, word in enumerate(words)}
    conductance = settings.company * cosine_similarity(weights.T)
    for word, i in index.items():
        parent = tables.descriptors[word].parent
        if parent:
            conductance[i, index[parent]] += settings.tree
            conductance[index[parent], i] += settings.tree
    np.fill_diagonal(conductance, 0.0)
    return np.asarray(conductance)


def heat_kernel(conductance: Array, time: float) -> Array:
    """exp(-time L) of the symmetrically normalised Laplacian, rows scaled to sum 1 (Kondor and Lafferty 2002,
    diffusion kernels).
    """
    from scipy.linalg import expm
    from scipy.sparse.csgraph import laplacian

    if time == 0:
        return np.eye(len(conductance))
    kernel = np.clip(expm(-time * np.asarray(laplacian(conductance, normed=True))), 0.0, None)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True))


def telling_weight(weights: Array, exponent: float) -> Array:
    """Weight (D) of each descriptor: its smoothed inverse document frequency to an exponent, mean 1."""
    from sklearn.feature_extraction.text import TfidfTransformer

    idf = TfidfTransformer(smooth_idf=True).fit(weights > 0).idf_ ** exponent
    return np.asarray(idf / idf.mean())


def fit_space(tables: Tables, settings: SpaceSettings = CHOSEN) -> Space:
    """The space of the tables' profiles."""
    from sklearn.preprocessing import normalize

    words = tuple(tables.descriptors)
    ids, weights = mixed_weights(tables, words, settings)
    conductance = descriptor_conductance(tables, words, weights, settings)
    kernel = heat_kernel(conductance, settings.heat)
    broad = normalize(weights @ heat_kernel(conductance, settings.broad), "l1")
    telling = telling_weight(weights, settings.telling)
    spread = (weights * telling) @ kernel
    return Space(ids, words, normalize(spread, "l1"), normalize(spread, "l2"), kernel, telling, broad)


def load_space(tables: Tables, settings: SpaceSettings = CHOSEN) -> Space:
    """:func:`fit_space`, or what was kept of it (:mod:`..tables.kept`) if these tables were fitted before."""
    if not tables.digest:
        return fit_space(tables, settings)
    folder = Path(__file__).parent
    key = key_of(
        [tables.digest.encode(), repr(sorted(asdict(settings).items())).encode()],
        [folder / name for name in ("space.py", "staging.py")],
    )
    parts = recall_parts("space", key)
    if parts is not None:
        return _of_parts(parts)
    with first_time("fitting the odour space"):
        space = fit_space(tables, settings)
    arrays = {name: np.ascontiguousarray(getattr(space, name)).data.cast("B") for name in ARRAYS}
    keep_parts("space", key, {"ids": as_json(space.ids), "words": as_json(space.words), **arrays})
    return space


def _of_parts(parts: Mapping[str, memoryview]) -> Space:
    """A space out of kept parts; its arrays cannot be written to."""
    ids, words = tuple(of_json(parts["ids"])), tuple(of_json(parts["words"]))
    length = {"N": len(ids), "D": len(words)}
    arrays = {
        name: np.frombuffer(parts[name]).reshape([length[one] for one in shape])
        for name, shape in ARRAYS.items()
    }
    return Space(ids, words, **arrays)
