"""How alike people would find two smells: the space's words carried over to what panels of people said.

Two panels rated single molecules by words of their own: an atlas of 146 words by some 150 judges (Dravnieks
1985, ASTM DS 61) and 19 words by 49 people (Keller and Vosshall 2016, BMC Neuroscience 17:55). A ridge from
the square root of a material's widely smoothed descriptor shares to the square root of each panel's words,
kept in a few axes (``data/impressions.csv``, fitted by ``python -m substitute.odour.train``), says how people
would have described any material that has a profile. Two materials are compared by the cosine of what either
panel would have said, and by the sharp side of the space itself:

    s = 0.4 cos(atlas) + 0.4 cos(panel) + 0.2 cos(space) ** 4

Sets and mixtures are compared by the best transport of one's perceived shares onto the other's (the earth
mover's similarity, Rubner, Tomasi and Guibas 2000, International Journal of Computer Vision 40:99), so that
what is the same in both stays where it is; a mixture of many parts and one of few are a little less alike
than their parts say. On the scale of the rated pairs of Snitz et al. 2013 (PLoS Computational Biology
9:e1003184):

    likeness = max(0, 1 - 2.2 (1 - s) (1 + 0.1 ln(n_large / n_small)))

with n the effective number of parts, 1 / sum of squared shares. At 0.4 people said about 40 of 100.
Symmetric, 1 for the same (people said about 90 of 100 of the same thing smelled twice).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..frozen import frozen
from ..records import Tables
from .space import Space
from .transport import transport

Array = NDArray[np.float64]

CONSTANT = "constant"  # the row of a panel's map that every material has
WEIGHTS = {"atlas-1985": 0.4, "panel-2016": 0.4}
SPACE_WEIGHT, SPACE_POWER = 0.2, 4  # near in the space counts, middling similarity there does not
SLOPE = 2.2  # rated likeness lost per unit of 1 - s
SIZE = 0.1  # and its growth with the ratio of the numbers of parts, per unit of its logarithm

# likeness, and what people said of rated pairs this alike on average (fifths of 256 pairs, and 40 of the same
# thing twice), as tests/evaluation/people.py prints it
PEOPLE_SAID = ((0.29, 0.28), (0.43, 0.38), (0.49, 0.40), (0.53, 0.45), (0.62, 0.47), (1.0, 0.87))


def people_said(likeness: float) -> float:
    """The mean rating (0 to 1) of pairs this alike; straight lines between what was measured."""
    alike, said = zip(*PEOPLE_SAID, strict=True)
    return float(np.interp(likeness, alike, said))


def impression_inputs(space: Space) -> Array:
    """(N, 1 + D) what the panels' maps are applied to: a constant, and the square roots of the widely
    smoothed shares.
    """
    return np.hstack([np.ones((len(space.ids), 1)), np.sqrt(space.broad)])


def cosines(vectors: Array) -> Array:
    """(N, N) cosines of the rows; zero for a row of zeros."""
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    unit = np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0)
    return np.asarray(unit @ unit.T)


def rated(s: Array | float, ratio: float = 1.0) -> Array:
    """Likeness on the scale of people's ratings from the similarity ``s`` (1 for the same) and the ratio of
    part counts (1 or more).
    """
    lost = SLOPE * (1.0 - np.asarray(s, dtype=float)) * (1.0 + SIZE * np.log(ratio))
    return np.asarray(np.clip(1.0 - lost, 0.0, 1.0))


@frozen(eq=False)
class Likeness:
    """Likeness of the materials of one space."""

    tables: Tables
    space: Space

    @cached_property
    def panels(self) -> dict[str, Array]:
        """(N, K) axes of what each panel would have said of every material."""
        inputs, column = (
            impression_inputs(self.space),
            {word: i for i, word in enumerate(self.space.words, 1)},
        )
        column[CONSTANT] = 0
        found = {}
        for panel, words in self.tables.impressions.items():
            width = max(len(axes) for axes in words.values())
            weights = np.zeros((inputs.shape[1], width))
            for word, axes in words.items():
                if word in column:
                    weights[column[word]] = axes
            found[panel] = inputs @ weights
        return found

    @cached_property
    def similarity(self) -> Array:
        """(N, N) the s of single materials, 0 to 1."""
        return self.among(range(len(self.space.ids)))

    def among(self, rows: Sequence[int]) -> Array:
        """(K, K) the s of the materials in ``rows`` of the space, 0 to 1."""
        places = list(rows)
        both = sum(
            (
                weight * cosines(self.panels[name][places])
                for name, weight in WEIGHTS.items()
                if name in self.panels
            ),
            SPACE_WEIGHT * self.space.among(rows) ** SPACE_POWER,
        )
        both = np.clip(both, 0.0, 1.0)
        np.fill_diagonal(both, 1.0)
        return np.asarray(both)

    @cached_property
    def matrix(self) -> Array:
        """(N, N) likeness of single materials."""
        return rated(self.similarity)

    def of(self, one: Mapping[str, float], other: Mapping[str, float]) -> float | None:
        """Likeness of two mixtures given as perceived shares (any scale) by id; ``None`` if one has no part
        with a profile.
        """
        first, second = self._parts(one), self._parts(other)
        if first is None or second is None:
            return None
        (rows, share), (columns, weight) = first, second
        every = list(dict.fromkeys((*rows, *columns)))
        place = {row: at for at, row in enumerate(every)}
        sides = np.ix_([place[row] for row in rows], [place[row] for row in columns])
        s = transport(self.among(every)[sides], share, weight)
        counts = sorted((1.0 / float((share**2).sum()), 1.0 / float((weight**2).sum())))
        return float(rated(s, counts[1] / counts[0]))

    def _parts(self, mixture: Mapping[str, float]) -> tuple[Sequence[int], Array] | None:
        known = {name: share for name, share in mixture.items() if name in self.space.row and share > 0}
        if not known:
            return None
        share = np.array(list(known.values()), dtype=float)
        return [self.space.row[name] for name in known], share / share.sum()
