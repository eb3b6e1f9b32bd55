"""What is not known of many accords: bits that materials have, OR-ed per accord, and counted by rule."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from .portfolio_columns import Columns
from .rule import Rule

Governing = list[np.ndarray | None]
"""Per alternative, which accords it governs; ``None`` if it cannot."""


class Doubts:
    """Counts unknown states of ``current`` rules among blocks of accords; ``words`` (n, accords) are an
    accord's bits (see :class:`~substitute.rules.portfolio_columns.Columns`)."""

    def __init__(self, columns: Columns, current: frozenset[Rule]):
        self.columns = columns
        self.rules = tuple(rule for rule in columns.bit_of_rule if rule in current)
        self._place = {rule: place for place, rule in enumerate(self.rules)}
        self._bit = np.array([columns.bit_of_rule[rule] for rule in self.rules], np.int64)
        weight = np.bincount(self._bit, minlength=columns.bits)
        self._asked = _as_words(weight > 0)
        self._weight = weight.astype(np.float32)
        counted = {
            one.rule for one in columns.alternatives
        }  # where they govern, their bit is taken off already
        places = [-1 if one.rule in counted else self._place.get(one.rule, -1) for one in columns.columns]
        self._place_of_column = np.array(places, np.int64)
        bits = np.array([self._bit[place] if place >= 0 else -1 for place in places], np.int64)
        self._word_of_column = np.maximum(bits, 0) // 64
        self._bit_of_column = np.where(
            bits >= 0, np.uint64(1) << (np.maximum(bits, 0) % 64).astype(np.uint64), 0
        )

    def has(self, words: np.ndarray, bit: int) -> np.ndarray:
        """Which accords have a bit."""
        if bit < 0:
            return np.zeros(words.shape[1], bool)
        found: np.ndarray = words[bit // 64] & np.uint64(1 << (bit % 64)) != 0
        return found

    def governing(self, words: np.ndarray) -> Governing:
        """Per alternative, where it governs; ``None`` if it cannot."""
        return [
            None if one.column < 0 else self.has(words, one.present) & ~self.has(words, one.blocked)
            for one in self.columns.alternatives
        ]

    def count(
        self, words: np.ndarray, accord: np.ndarray, column: np.ndarray, governs: Governing
    ) -> tuple[np.ndarray, int, int]:
        """Accords by rule whose state is unknown, how many have any, and how many of these break nothing.

        ``accord`` and ``column`` are the breaches: over one figure is over, whatever else is not known.
        """
        by_rule = _count_bits(_as_bytes(words))[self._bit]
        fewer = np.zeros(words.shape[1], np.int64)
        for rule, known in self._known_all_the_same(words, governs):
            by_rule[rule] -= len(known)
            fewer[known] += 1  # an accord comes once per rule
        at = np.take(self._word_of_column, column) * len(fewer) + accord
        has = np.flatnonzero(np.take(words.reshape(-1), at) & np.take(self._bit_of_column, column))
        by_rule -= np.bincount(self._place_of_column[column[has]], minlength=len(by_rule))
        fewer += np.bincount(accord[has], minlength=len(fewer))
        asked = np.bitwise_count(words & self._asked[:, None]).sum(axis=0, dtype=np.uint16)
        doubtful = asked > 0  # at least one rule for each bit
        some = np.flatnonzero(doubtful & (asked <= fewer))
        if len(some):  # several rules may share a bit
            doubtful[some] = (
                _flags(_as_bytes(words[:, some])).astype(np.float32) @ self._weight - fewer[some] > 0.5
            )
        breaks = np.zeros(len(fewer), bool)
        breaks[accord] = True
        return by_rule, int(doubtful.sum()), int((doubtful & ~breaks).sum())

    def _known_all_the_same(self, words: np.ndarray, governs: Governing) -> Iterable[tuple[int, np.ndarray]]:
        """Per rule, accords that have its bit and are known all the same: an alternative is mentioned beside
        the single limits, or governs in their place."""
        for one, over in zip(self.columns.alternatives, governs):
            if one.rule in self._place:
                known = self.has(words, one.touched) & self.has(words, one.present)
                yield self._place[one.rule], np.flatnonzero(known)
            if over is not None and over.any():
                for rule in one.replaces:
                    if rule in self._place:
                        has = self.has(words, self.columns.bit_of_rule[rule])
                        yield self._place[rule], np.flatnonzero(over & has)


def _as_words(flags: np.ndarray) -> np.ndarray:
    """Flags (bits,) as words of 64."""
    return np.packbits(flags.astype(np.uint8), bitorder="little").view("<u8").astype(np.uint64)


def _as_bytes(words: np.ndarray) -> np.ndarray:
    """Words (n, accords) as bytes (accords, 8 n), lowest bits first."""
    return np.ascontiguousarray(words.T, "<u8").view(np.uint8)


def _flags(bytes_: np.ndarray) -> np.ndarray:
    """Bits as 0 and 1: (accords, bits) uint8."""
    found: np.ndarray = np.unpackbits(bytes_, axis=1, bitorder="little")
    return found


def _count_bits(bytes_: np.ndarray) -> np.ndarray:
    """How many rows have each bit; bytes are added in runs of 255, which a byte still holds."""
    found = np.zeros(bytes_.shape[1] * 8, np.int64)
    for start in range(0, len(bytes_), 4 * 255):
        flags = _flags(bytes_[start : start + 4 * 255])
        runs, whole = flags.shape[1] * (len(flags) // 255), len(flags) // 255 * 255
        counts = flags[:whole].reshape(255, runs).sum(axis=0, dtype=np.uint8)
        found += counts.reshape(-1, flags.shape[1]).sum(axis=0, dtype=np.int64)
        found += flags[whole:].sum(axis=0, dtype=np.int64)
    return found
