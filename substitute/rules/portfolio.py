"""Many accords against the rules at once: a sparse product per block of accords, breaches as arrays."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ..frozen import frozen
from .kinds import SLACK
from .portfolio_columns import GRADE, HUGE, LIMIT, Columns
from .portfolio_unknown import Doubts, Governing
from .product import Rows
from .rule import Rule

if TYPE_CHECKING:
    from ..tables.blocks import Chunk
    from ..tables.packed import Packed
    from .changes import Moves

FEW = 0.6  # below this share of accords near a limit, only those are multiplied
NEAR = 1.0 - 1e-9  # a bound below cannot be above a limit, whatever the order of a sum


class Comparing(Protocol):
    """What a new set changes for a block of accords (:class:`substitute.rules.changes.Compare`)."""

    def __call__(
        self,
        screener: Screener,
        percent: Rows,
        words: np.ndarray,
        governs: Governing,
    ) -> Moves: ...


@frozen(eq=False)
class Hits:
    """Breaches: ``accord`` counts within the block (or the whole), ``column`` within the columns, ``found``
    as in a verdict's row.
    """

    accord: np.ndarray
    column: np.ndarray
    found: np.ndarray


@frozen(eq=False)
class Judged:
    """What one block of accords gave; ``unknown`` counts accords by rule, ``doubtful`` accords with at
    least one unknown.
    """

    count: int
    names: Packed  # of the accords in `hits` (and `changes`), which `accord` points to
    hits: Hits
    unknown: np.ndarray
    doubtful: int
    doubtful_only: int
    changes: Moves | None = None
    done: float | None = None


def breaches(columns: Columns, parts: Rows, rate: np.ndarray, bound: np.ndarray) -> Hits:
    """Every value above 1 of ``parts`` times ``rate`` (accords), found by a product over the accords whose
    ``bound`` (parts times each material's worst column) says that one is possible.
    """
    near = np.flatnonzero(bound * rate > NEAR)
    if not len(near):
        return Hits(np.zeros(0, np.int64), np.zeros(0, np.int32), np.zeros(0))
    if len(near) > FEW * len(parts):
        return Hits(*parts.scaled(rate).above(columns.values, SLACK))
    accord, column, value = parts.picked(near).scaled(rate[near]).above(columns.values, SLACK)
    return Hits(near[accord], column, value)


class Screener:
    """Judges blocks of accords by the rules in ``current``; ``compare`` adds what a new set changes (see
    :mod:`.changes`).
    """

    def __init__(
        self, columns: Columns, dose: float, current: Iterable[Rule], compare: Comparing | None = None
    ):
        self.columns, self.dose, self.compare = columns, dose, compare
        current = frozenset(current)
        self.doubts = Doubts(columns, current)
        self._counts = np.array([column.rule in current for column in columns.columns], bool)
        self._matters = (columns.values.lengths > 0) | columns.words.any(axis=0)  # a quarter of all materials
        self._graded = np.array([column.kind == GRADE for column in columns.columns], bool)
        self._factor = np.array(
            [column.limit if column.kind == LIMIT else 1 / HUGE for column in columns.columns], float
        )
        self._unless = np.array([column.unless for column in columns.columns], np.int64)
        self._replaced = [
            np.array([column.rule in one.replaces for column in columns.columns], bool)
            for one in columns.alternatives
        ]

    def __call__(self, chunk: Chunk) -> Judged:
        columns, rate = self.columns, self.dose / chunk.total
        every = Rows(chunk.indptr, chunk.columns, chunk.active, len(columns.materials))
        parts = every.only(self._matters)
        bound, words = parts.gathered(columns.most, columns.words)
        governs = self.doubts.governing(words)
        hits = self._settled(breaches(columns, parts, rate, bound), parts, governs)
        changes = self.compare(self, parts.scaled(rate), words, governs) if self.compare else None
        unknown, doubtful, only = self.doubts.count(words, hits.accord, hits.column, governs)
        named = np.zeros(len(chunk), bool)
        named[hits.accord] = True
        if changes is not None:
            named[changes.accord] = True
        names = chunk.names.picked(named).copied()
        number = np.cumsum(named, dtype=np.int32) - np.int32(1)
        hits = Hits(number[hits.accord], hits.column.astype(np.int16), hits.found)
        if changes is not None:
            changes = changes.renumbered(number[changes.accord])
        return Judged(len(chunk), names, hits, unknown, doubtful, only, changes, chunk.done)

    def _settled(self, hits: Hits, parts: Rows, governs: Governing) -> Hits:
        """Found figures from scaled values, without what another row stands in for."""
        accord, column, value = hits.accord, hits.column, hits.found
        keep = np.take(self._counts, column)
        rival = np.take(self._unless, column)
        beside = np.flatnonzero(rival >= 0)
        if len(beside):
            width = len(self._unless)
            there = np.zeros(len(parts) * width, bool)
            there[accord * width + column] = True
            keep[beside] &= ~there[accord[beside] * width + rival[beside]]
        for one, replaced, over in zip(self.columns.alternatives, self._replaced, governs):
            if over is not None:
                keep &= np.where(column == one.column, over[accord], ~(replaced[column] & over[accord]))
        if not keep.all():
            accord, column, value = accord[keep], column[keep], value[keep]
        return Hits(accord, column, self.found(parts, accord, column, value))

    def found(self, parts: Rows, accord: np.ndarray, column: np.ndarray, value: np.ndarray) -> np.ndarray:
        """What a verdict's row calls found, from scaled values and the ``parts`` of what matters."""
        found = np.asarray(value * np.take(self._factor, column))
        graded = np.flatnonzero(np.take(self._graded, column))
        for place in set(column[graded].tolist()):  # of these the most that one material holds
            mine = graded[column[graded] == place]
            lines = parts.picked(accord[mine])
            found[mine] = np.maximum.reduceat(self.columns.grades[place][lines.indices], lines.indptr[:-1])
        return found


def judge_all(screener: Screener, chunks: Iterable[Chunk], workers: int | None = None) -> Iterator[Judged]:
    """Blocks judged in order, by ``workers`` threads while the next is read.

    ``None`` judges where it reads: the reader of Parquet decodes ahead in threads of its own, and more of
    ours would only wait for one another. What is in memory already (a sequence) is judged by a thread a
    processor.
    """
    if workers is None:
        workers = (os.cpu_count() or 1) if isinstance(chunks, Sequence) else 1
    if workers == 1:
        yield from map(screener, chunks)
        return
    with ThreadPoolExecutor(workers) as pool:
        waiting: deque[Future[Judged]] = deque()
        for chunk in chunks:
            waiting.append(pool.submit(screener, chunk))
            while len(waiting) > workers:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
