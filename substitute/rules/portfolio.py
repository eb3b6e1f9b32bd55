"""Many accords against the rules at once: a sparse product per block of accords, breaches as arrays."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ..frozen import frozen
from .kinds import SLACK
from .portfolio_columns import GRADE, HUGE, LIMIT, Columns
from .product import Rows
from .rule import Rule

if TYPE_CHECKING:
    from ..tables.portfolios import Chunk
    from .changes import Moves

FEW = 0.6  # below this share of accords near a limit, only those are multiplied


class Comparing(Protocol):
    """What a new set changes for a block of accords (:class:`substitute.rules.changes.Compare`)."""

    def __call__(
        self,
        screener: Screener,
        chunk: Chunk,
        percent: Rows,
        words: np.ndarray,
        governs: list[np.ndarray | None],
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
    names: list[str]  # of the accords in `hits` (and `changes`), which `accord` points to
    hits: Hits
    unknown: np.ndarray
    doubtful: int
    doubtful_only: int
    changes: Moves | None = None
    done: float | None = None


def amounts(chunk: Chunk, dose: float, materials: int) -> Rows:
    """Percent of each material in the product: (accords, materials)."""
    scaled = chunk.active * np.repeat(dose / chunk.total, np.diff(chunk.indptr))
    return Rows(chunk.indptr, chunk.columns, scaled, materials)


def breaches(columns: Columns, percent: Rows) -> Hits:
    """Every value above 1, found by one sparse product over the accords whose bound says that one is
    possible.
    """
    near = np.flatnonzero(percent.weighed(columns.most) > 1.0)
    if not len(near):
        return Hits(np.zeros(0, np.int64), np.zeros(0, np.int32), np.zeros(0))
    every = len(near) > FEW * len(percent)
    accord, column, value = (percent if every else percent.picked(near)).above(columns.values, SLACK)
    return Hits(accord if every else near[accord], column, value)


class Screener:
    """Judges blocks of accords by the rules in ``current``; ``compare`` adds what a new set changes (see
    :mod:`.changes`).
    """

    def __init__(
        self, columns: Columns, dose: float, current: Iterable[Rule], compare: Comparing | None = None
    ):
        self.columns, self.dose, self.compare = columns, dose, compare
        current = frozenset(current)
        self.unknown_rules = tuple(rule for rule in columns.bit_of_rule if rule in current)
        self._place = {rule: place for place, rule in enumerate(self.unknown_rules)}
        self._bit = np.array([columns.bit_of_rule[rule] for rule in self.unknown_rules], np.int64)
        self._asked = np.zeros(columns.words.shape[1], np.uint64)
        for bit in set(self._bit.tolist()):
            self._asked[bit // 64] |= np.uint64(1 << (bit % 64))
        self._weight = np.bincount(self._bit, minlength=columns.bits).astype(np.float32)
        counted = {
            one.rule for one in columns.alternatives
        }  # where they govern, their bit is taken off already
        places = [
            -1 if column.rule in counted else self._place.get(column.rule, -1) for column in columns.columns
        ]
        self._place_of_column = np.array(places, np.int64)
        self._counts = np.array([column.rule in current for column in columns.columns], bool)
        self._graded = np.array([column.kind == GRADE for column in columns.columns], bool)
        places = list(columns.grades)  # only what is above a grade can be the most that breaks it
        self._above_grade = np.any(
            [columns.grades[place] > columns.columns[place].limit for place in places]
            or [np.zeros(len(columns.materials), bool)],
            axis=0,
        )
        self._factor = np.array(
            [column.limit if column.kind == LIMIT else 1 / HUGE for column in columns.columns], float
        )
        self._unless = np.array([column.unless for column in columns.columns], np.int64)
        self._replaced = [
            np.array([column.rule in one.replaces for column in columns.columns], bool)
            for one in columns.alternatives
        ]

    def __call__(self, chunk: Chunk) -> Judged:
        columns = self.columns
        percent = amounts(chunk, self.dose, len(columns.materials))
        words = self._words(chunk)
        hits = breaches(columns, percent)
        governs = self._governing(words)
        hits = self._settled(hits, chunk, governs)
        changes = self.compare(self, chunk, percent, words, governs) if self.compare else None
        unknown, doubtful, only = self._unknown(words, hits, governs, len(chunk))
        named = np.zeros(len(chunk), bool)
        named[hits.accord] = True
        if changes is not None:
            named[changes.accord] = True
        names = [chunk.names[accord] for accord in np.flatnonzero(named).tolist()]
        number = np.cumsum(named, dtype=np.int32) - np.int32(1)
        hits = Hits(number[hits.accord], hits.column.astype(np.int16), hits.found)
        if changes is not None:
            changes = changes.renumbered(number[changes.accord])
        return Judged(len(chunk), names, hits, unknown, doubtful, only, changes, chunk.done)

    # -- unknown -------------------------------------------------------------------------------------------
    # --------------

    def _words(self, chunk: Chunk) -> np.ndarray:
        """The bits of each accord: (accords, words)."""
        starts = chunk.indptr[:-1]
        return np.stack(
            [np.bitwise_or.reduceat(word[chunk.columns], starts) for word in self.columns.words.T], axis=1
        )

    def has(self, words: np.ndarray, bit: int) -> np.ndarray:
        """Which accords have a bit."""
        if bit < 0:
            return np.zeros(len(words), bool)
        found: np.ndarray = (words[:, bit // 64] >> np.uint64(bit % 64)) & np.uint64(1) != 0
        return found

    def _governing(self, words: np.ndarray) -> list[np.ndarray | None]:
        """Per alternative, where it governs; ``None`` if it cannot."""
        return [
            None if one.column < 0 else self.has(words, one.present) & ~self.has(words, one.blocked)
            for one in self.columns.alternatives
        ]

    def _unknown(
        self, words: np.ndarray, hits: Hits, governs: list[np.ndarray | None], count: int
    ) -> tuple[np.ndarray, int, int]:
        """Accords by rule whose state is unknown, how many have any, and how many of these break nothing."""
        by_rule = _count_bits(words)[self._bit]
        less: list[
            tuple[int, np.ndarray]
        ] = []  # (rule, accords) that have the bit and are known all the same
        for one, over in zip(self.columns.alternatives, governs):
            known = self.has(words, one.touched) & self.has(
                words, one.present
            )  # mentioned beside the single limits, or governing
            less += [(self._place[one.rule], np.flatnonzero(known))] if one.rule in self._place else []
            if over is not None and over.any():
                replaced = [rule for rule in one.replaces if rule in self._place]
                less += [
                    (
                        self._place[rule],
                        np.flatnonzero(over & self.has(words, self.columns.bit_of_rule[rule])),
                    )
                    for rule in replaced
                ]
        breaks = np.zeros(count, bool)
        breaks[hits.accord] = True
        fewer = np.zeros(count, np.int64)
        for rule, accord in less:
            by_rule[rule] -= len(accord)
            fewer[accord] += 1  # an accord comes once per rule
        place = np.take(self._place_of_column, hits.column)
        of_rule = np.flatnonzero(place >= 0)  # over one figure is over, whatever else is not known
        place, accord = place[of_rule], hits.accord[of_rule]
        bit = self._bit[place].astype(np.uint64)
        has = (words[accord, bit // 64] >> (bit % 64)) & 1 != 0
        by_rule -= np.bincount(place[has], minlength=len(by_rule))
        fewer += np.bincount(accord[has], minlength=count)
        asked = np.bitwise_count(words & self._asked).sum(
            axis=1, dtype=np.int64
        )  # at least one rule for each bit
        doubtful = asked > 0
        some = np.flatnonzero(doubtful & (asked <= fewer))
        if len(some):
            doubtful[some] = _flags(words[some]).astype(np.float32) @ self._weight - fewer[some] > 0.5
        return by_rule, int(doubtful.sum()), int((doubtful & ~breaks).sum())

    # -- breaches ------------------------------------------------------------------------------------------
    # --------------

    def _settled(self, hits: Hits, chunk: Chunk, governs: list[np.ndarray | None]) -> Hits:
        """Found figures from scaled values, without what another row stands in for."""
        accord, column, value = hits.accord, hits.column, hits.found
        keep = np.take(self._counts, column)
        rival = np.take(self._unless, column)
        for speaker in set(rival[rival >= 0].tolist()):
            spoken = np.zeros(len(chunk), bool)
            spoken[accord[column == speaker]] = True
            keep &= ~((rival == speaker) & spoken[accord])
        for one, replaced, over in zip(self.columns.alternatives, self._replaced, governs):
            if over is not None:
                keep &= np.where(column == one.column, over[accord], ~(replaced[column] & over[accord]))
        if not keep.all():
            accord, column, value = accord[keep], column[keep], value[keep]
        return Hits(accord, column, self.found(chunk, accord, column, value))

    def found(self, chunk: Chunk, accord: np.ndarray, column: np.ndarray, value: np.ndarray) -> np.ndarray:
        """What a verdict's row calls found, from scaled values."""
        found = np.asarray(value * np.take(self._factor, column))
        graded = np.flatnonzero(np.take(self._graded, column))
        if len(graded):
            lines = np.flatnonzero(np.take(self._above_grade, chunk.columns))
            owner = np.searchsorted(chunk.indptr, lines, side="right") - 1
            for place in set(column[graded].tolist()):
                most = np.zeros(len(chunk))
                np.maximum.at(most, owner, self.columns.grades[place][chunk.columns[lines]])
                mine = graded[column[graded] == place]
                found[mine] = most[accord[mine]]
        return found


def _flags(words: np.ndarray) -> np.ndarray:
    """Words of bits as 0 and 1: (accords, bits) uint8."""
    bytes_ = np.ascontiguousarray(words, "<u8").view(np.uint8)
    found: np.ndarray = np.unpackbits(bytes_, axis=1, bitorder="little")
    return found


def _count_bits(words: np.ndarray) -> np.ndarray:
    """How many rows have each bit; bytes are added in runs of 255, which a byte still holds."""
    flags = _flags(words)
    whole = len(flags) // 255 * 255
    runs = flags[:whole].reshape(-1, 255, flags.shape[1]).sum(axis=1, dtype=np.uint8)
    found: np.ndarray = runs.sum(axis=0, dtype=np.int64) + flags[whole:].sum(axis=0, dtype=np.int64)
    return found


def judge_all(screener: Screener, chunks: Iterable[Chunk], workers: int | None = None) -> Iterator[Judged]:
    """Blocks judged in order, by ``workers`` threads while the next is read.

    ``None`` judges where it reads: the reader of Parquet decodes ahead in a thread of its own, which needs no
    lock of the interpreter, and more threads of ours would only wait for one another.
    """
    if workers is None or workers == 1:
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
