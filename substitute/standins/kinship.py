"""How near of kin two materials are, as a botanist or a chemist would say without smelling them.

Two naturals are kin where their plants are of one genus, less where they come from other parts of it (peel
and flower of one tree do not smell alike); two molecules by the pieces that their structures share, less
where they are mirror images (what tells them apart, only the nose knows). A structure's pieces are the runs
of two to four signs in its SMILES without stereochemistry, which one curator writes alike; the measure is
that of Jaccard (1912, New Phytologist 11:37), what both have over what either has.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..records import Material

LENGTHS = (2, 3, 4)  # signs in a piece
OTHER_PART = 0.5  # kinship of two parts of one genus
MIRRORED = 0.5  # part that the kinship of mirror images counts for
_PLAIN = str.maketrans("", "", "@/\\[]H")


def pieces(smiles: str) -> frozenset[str]:
    """The pieces of a structure; none of what has no structure."""
    plain = smiles.translate(_PLAIN)
    return frozenset({plain[i : i + n] for n in LENGTHS for i in range(len(plain) - n + 1)})


def same_part(first: str, second: str) -> bool:
    """Whether two parts of plants are one: a word of one stands in a word of the other (wood, heartwood)."""
    small = {"and", "of", "on", "from", "with", "dried"}
    words, others = (set(re.findall(r"[a-z]+", part)) - small for part in (first, second))
    return any(word in other or other in word for word in words for other in others)


def genus(material: Material) -> str:
    """The genus of the plant or animal that a natural comes from; '' if none is on file."""
    return next(iter(material.botanical.lower().split()), "")


class Kinship:
    """Kinship of the materials ``ids`` with each other, a row at a time."""

    def __init__(self, materials: Mapping[str, Material], ids: Sequence[str]) -> None:
        self._materials = materials
        self._ids = ids
        self._arrays: dict[str, NDArray[np.intp]] = {}

    @cached_property
    def _pieces(self) -> tuple[frozenset[str], ...]:
        return tuple(pieces(self._materials[name].smiles) for name in self._ids)

    @cached_property
    def _holders(self) -> dict[str, list[int]]:
        """Piece -> rows that have it."""
        found: dict[str, list[int]] = {}
        for row, some in enumerate(self._pieces):
            for piece in some:
                found.setdefault(piece, []).append(row)
        return found

    def _held_by(self, piece: str) -> NDArray[np.intp]:
        if piece not in self._arrays:
            self._arrays[piece] = np.array(self._holders[piece], dtype=np.intp)
        return self._arrays[piece]

    @cached_property
    def _counts(self) -> NDArray[np.float64]:
        return np.array([len(some) for some in self._pieces], dtype=float)

    @cached_property
    def _genus(self) -> NDArray[np.str_]:
        return np.array([genus(self._materials[name]) for name in self._ids])

    def row(self, row: int) -> NDArray[np.float64]:
        """(N) kinship of everything with the material in ``row``, 0 none to 1 the same."""
        mine = self._pieces[row]
        if not mine:
            return self._of_one_genus(row)
        both = np.bincount(
            np.concatenate([self._held_by(piece) for piece in mine]), minlength=len(self._ids)
        ).astype(float)
        found: NDArray[np.float64] = both / (self._counts + len(mine) - both)
        for other in np.flatnonzero(found == 1.0).tolist():
            if self._mirrored(row, other):
                found[other] = MIRRORED
        return found

    def _of_one_genus(self, row: int) -> NDArray[np.float64]:
        own, part = self._genus[row], self._materials[self._ids[row]].part.lower()
        found = np.zeros(len(self._ids))
        for other in np.flatnonzero((self._genus == own) & (own != "")).tolist():
            same = same_part(part, self._materials[self._ids[other]].part.lower())
            found[other] = 1.0 if same else OTHER_PART
        return found

    def _mirrored(self, row: int, other: int) -> bool:
        """Whether two written alike are turned the other way round somewhere."""
        hands = [re.findall("@+", self._materials[self._ids[place]].smiles) for place in (row, other)]
        return all(hands) and hands[0] != hands[1]
