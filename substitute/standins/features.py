"""What is compared between a missing material and a candidate: at most a dozen named, signed features, larger
is better.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from ..frozen import frozen
from ..odour.space import Space
from ..odour.staging import tenacity
from ..records import Tables
from .amounts import odour_parts
from .kinship import Kinship
from .price import STEP

FEATURES = (
    "similarity",  # cosine in the smoothed space, 0..1
    "sharpness",  # cosine of the plain profiles, 0..1: the very same words
    "contains",  # part of the candidate's odour that is the missing material itself, cubed, 0..1
    "contained_in",  # part of the missing material's odour that is the candidate, cubed, 0..1
    "potency_ratio",  # minus the distance of potencies in decades
    "tenacity_difference",  # minus the distance of tenacities in decades
    "same_note",  # part of the strongest word's weight that the candidate shares, 0..1
    "kin",  # how near of kin plants or structures are, as far as the two smell alike, 0..1
    "usual",  # 1 if benches commonly hold the candidate, or this one does
    "headroom",  # minus how far the candidate would overstep its limits in the product, decades
    "company",  # minus what it brings that neither the missing material nor its company has, 0..1
    "effort",  # minus the steps of price and bulk, about four times each, beyond what is borne
)
# a shared constituent counts with the cube of its part: only what carries the smell makes one stand for the
# other
CARRIES = 3
ALIKE = 2  # kinship counts with this power of the similarity: kin that smell otherwise are no stand-ins
LEARNED = FEATURES[:9]  # the rest depends on product, accord and purse: their weights are stated, not learned
BORNE = 2.0  # steps that somebody in need of a material bears without a thought


@frozen
class Question:
    """One missing material with all that its candidates are compared against."""

    missing: str
    candidates: tuple[str, ...]


def plain_profiles(tables: Tables, ids: Sequence[str]) -> np.ndarray:
    """(N, D) raw weights at length 1 per row; zeros without profile."""
    column = {word: i for i, word in enumerate(tables.descriptors)}
    matrix = np.zeros((len(ids), len(column)))
    for row, name in enumerate(ids):
        for word, weight in tables.profiles.get(name, {}).items():
            matrix[row, column[word]] = weight
    length = np.linalg.norm(matrix, axis=1, keepdims=True)
    unit: np.ndarray = np.divide(matrix, length, out=matrix, where=length > 0)
    return unit


class Features:
    """Feature matrices over one set of tables; profiles are laid out once."""

    def __init__(self, tables: Tables, space: Space):
        self._space = space
        self.ids = space.ids
        self._plain = plain_profiles(tables, self.ids)
        self._potency = np.array(
            [math.log10(max(tables.value(name, "potency") or 0.0, 1e-4)) for name in self.ids]
        )
        self._tenacity = np.array([math.log10(max(tenacity(tables, name), 0.05)) for name in self.ids])
        self._kinship = Kinship(tables.materials, self.ids)
        self._usual = np.array(
            [float(tables.materials[name].basis in ("practice", "")) for name in self.ids]
        )  # a person's own row states no basis
        self._price = np.array(
            [tables.prices[name].step if name in tables.prices else math.nan for name in self.ids]
        )
        self.parts = {natural: odour_parts(tables, natural) for natural in tables.constituents}
        self._holders: dict[str, list[tuple[int, float]]] = {}
        for natural, parts in self.parts.items():
            if natural in space.row:
                for part, share in parts.items():
                    self._holders.setdefault(part, []).append((space.row[natural], share))

    def matrix(
        self,
        missing: str,
        headroom: Mapping[str, float] | None = None,
        company: np.ndarray | None = None,
        *,
        at_hand: bool = False,
    ) -> np.ndarray:
        """(N, 12) features of every material with a profile as a stand-in for ``missing``.

        ``headroom`` maps id to minus the overstep in decades; ``company`` (N) is the minus part brought
        that nothing else has. What is ``at_hand`` need not be found nor paid for.
        """
        row = self._space.row[missing]
        plain = self._plain @ self._plain[row]
        contains = np.zeros(len(self.ids))
        for holder, share in self._holders.get(missing, ()):
            contains[holder] = share**CARRIES
        contained = np.zeros(len(self.ids))
        for part, share in self.parts.get(missing, {}).items():
            if part in self._space.row:
                contained[self._space.row[part]] = share**CARRIES
        own = self._plain[row]
        top = own >= 0.85 * own.max()
        same_note = np.minimum(self._plain[:, top], own[top]).sum(axis=1) / own[top].sum()
        far = np.zeros(len(self.ids))
        for name, value in (headroom or {}).items():
            if name in self._space.row:
                far[self._space.row[name]] = value
        similarity = self._space.like(missing)
        return np.column_stack(
            [
                similarity,
                plain,
                contains,
                contained,
                -np.abs(self._potency - self._potency[row]),
                -np.abs(self._tenacity - self._tenacity[row]),
                same_note,
                self._kinship.row(row) * similarity**ALIKE,
                np.ones(len(self.ids)) if at_hand else self._usual,
                far,
                company if company is not None else np.zeros(len(self.ids)),
                self._effort(row, at_hand=at_hand),
            ]
        )

    def _effort(self, row: int, *, at_hand: bool) -> np.ndarray:
        """Minus the steps beyond :data:`BORNE` that as much smell costs (N): of price and bulk, and of bulk
        alone where it is ``at_hand`` already.
        """
        bulk = (self._potency[row] - self._potency) / math.log10(STEP)
        price = np.zeros(len(self.ids)) if at_hand else np.nan_to_num(self._price - self._price[row])
        found: np.ndarray = -np.maximum(price + bulk - BORNE, 0.0)
        return found
