"""Sparse rows and their product: amounts of materials in accords, times what materials add to each limit.

A bound leaves few accords that may break anything: for those numpy's own pieces do, a few rows at a time so
that they stay in a processor's cache, as the import of a library of sparse matrices takes longer than a
hundred thousand accords. Where nearly all are near a limit, its product is faster, and worth the import.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import numpy as np

from ..frozen import frozen

CELLS = 1 << 18  # of a product worked out at once: two megabytes
MANY = 1 << 18  # cells of a product beyond which the library is asked
ENTRIES = 1 << 15  # looked up at once


@frozen(eq=False)
class Rows:
    """Row ``i`` holds ``data[indptr[i]:indptr[i+1]]`` in the columns ``indices[...]``, of ``width`` in all; a
    column may stand in a row more than once and is added up.
    """

    indptr: np.ndarray
    indices: np.ndarray
    data: np.ndarray
    width: int

    def __len__(self) -> int:
        return len(self.indptr) - 1

    @cached_property
    def lengths(self) -> np.ndarray:
        """How many entries each row has."""
        return np.diff(self.indptr)

    @classmethod
    def of(cls, matrix: np.ndarray) -> Rows:
        """The entries of a dense (N, M) matrix that are not 0."""
        row, column = np.nonzero(matrix)
        ends = np.cumsum(np.bincount(row, minlength=len(matrix)))
        indptr = np.concatenate([[0], ends]).astype(np.int32)
        return cls(indptr, column.astype(np.int32), matrix[row, column], matrix.shape[1])

    def dense(self) -> np.ndarray:
        """(N, width), entries of one place added up."""
        places = np.repeat(np.arange(len(self)) * self.width, self.lengths) + self.indices
        found = np.bincount(places, self.data, minlength=len(self) * self.width)
        return found.reshape(len(self), self.width)

    def picked(self, rows: np.ndarray) -> Rows:
        """Some of the rows, in the order given."""
        lengths = self.lengths[rows]
        ends = np.cumsum(lengths)
        first = self.indptr[:-1][rows] - ends + lengths
        at = np.arange(ends[-1] if len(ends) else 0) + np.repeat(first, lengths)
        indptr = np.concatenate([[0], ends]).astype(np.int32)
        return Rows(indptr, self.indices[at], self.data[at], self.width)

    def part(self, start: int, stop: int) -> Rows:
        """The rows from ``start`` to before ``stop``."""
        some = slice(int(self.indptr[start]), int(self.indptr[stop]))
        indptr = self.indptr[start : stop + 1] - self.indptr[start]
        return Rows(indptr, self.indices[some], self.data[some], self.width)

    def scaled(self, factor: np.ndarray) -> Rows:
        """Each row times its own ``factor`` (N)."""
        return Rows(self.indptr, self.indices, self.data * np.repeat(factor, self.lengths), self.width)

    def only(self, columns: np.ndarray) -> Rows:
        """The entries of some ``columns``, flags (width); no row may be empty before."""
        there = np.empty(len(self.indices), bool)
        for start in range(0, len(there), ENTRIES):
            some = slice(start, start + ENTRIES)
            np.take(columns, self.indices[some], out=there[some], mode="clip")  # "raise" would copy `out`
        at = np.flatnonzero(there)
        lengths = np.add.reduceat(there.view(np.uint8), self.indptr[:-1], dtype=np.uint32)
        indptr = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
        return Rows(indptr, self.indices[at], self.data[at], self.width)

    def gathered(self, weights: np.ndarray, words: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Of each row's entries the sum (N) of their data times the weight (width) of their column, and the
        bits (n, N) of ``words`` (n, width; uint64), OR-ed; 0 for an empty row.
        """
        places = np.zeros(len(self.indices) + 1, np.intp)  # one behind the last, where an empty row may begin
        places[:-1] = self.indices
        starts, empty = self.indptr[:-1].astype(np.intp), np.flatnonzero(self.lengths == 0)
        weighed = np.take(weights, places)
        weighed[:-1] *= self.data
        weighed[-1] = 0
        sums, bits = np.add.reduceat(weighed, starts), np.empty((len(words), len(self)), np.uint64)
        for word, found in zip(words, bits):
            held = np.take(word, places)
            held[-1] = 0
            np.bitwise_or.reduceat(held, starts, out=found)
        sums[empty], bits[:, empty] = 0, 0
        return sums, bits

    def times(self, other: Rows) -> np.ndarray:
        """The product with ``other`` (width, M), dense: (N, M)."""
        return np.concatenate([found for _, found in self._times(other)]).reshape(len(self), other.width)

    def above(self, other: Rows, least: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Row, column and value of what is above ``least`` in the product with ``other``."""
        if len(self) * other.width > MANY:
            return self._above_of_many(other, least)
        rows, columns, values = [], [], []
        for start, found in self._times(other):
            at = np.flatnonzero(found > least)
            row = at // max(other.width, 1)
            rows.append(row + start)
            columns.append((at - row * other.width).astype(np.int32))
            values.append(found[at])
        return np.concatenate(rows), np.concatenate(columns), np.concatenate(values)

    def _above_of_many(self, other: Rows, least: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        from scipy import sparse

        left, right = (
            sparse.csr_array((one.data, one.indices, one.indptr), shape=(len(one), one.width))
            for one in (self, other)
        )
        found = left @ right
        at = np.flatnonzero(found.data > least)
        row = np.repeat(np.arange(len(self)), np.diff(found.indptr))[at]
        return row, found.indices[at], found.data[at]

    def _times(self, other: Rows) -> Iterator[tuple[int, np.ndarray]]:
        """The product, some rows at a time: which is first, and their cells in a row."""
        some, wide = other.lengths > 0, max(other.width, 1)
        step = max(CELLS // wide, 1)
        for start in range(0, len(self), step):
            part = self.part(start, min(start + step, len(self)))
            at = np.flatnonzero(np.take(some, part.indices, mode="clip"))
            column = part.indices[at]
            count = other.lengths[column]
            each = np.repeat(np.arange(len(at)), count)  # which of `at` an entry of the product comes of
            there = np.arange(len(each))
            there += (other.indptr[column] - np.cumsum(count) + count)[each]
            places = np.repeat(np.arange(0, len(part) * wide, wide), part.lengths)[at][each]
            places += other.indices[there]
            values = part.data[at][each]
            values *= other.data[there]
            yield start, np.bincount(places, values, minlength=len(part) * other.width)
