"""Many short texts as bytes end to end: a million names in a few arrays, each made a text only when it is
asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ..frozen import frozen

STEPS = np.array([0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9], np.uint64)  # odd, their bits well mixed


@frozen(eq=False)
class Packed:
    """Text ``i`` is the UTF-8 in ``data[start[i]:stop[i]]``."""

    data: np.ndarray
    start: np.ndarray
    stop: np.ndarray

    @classmethod
    def of(cls, texts: Sequence[str]) -> Packed:
        """Texts end to end."""
        encoded = [text.encode("utf-8", "replace") for text in texts]
        ends = np.cumsum([0, *map(len, encoded)])
        return cls(np.frombuffer(b"".join(encoded), np.uint8), ends[:-1], ends[1:])

    def __len__(self) -> int:
        return len(self.start)

    def __getitem__(self, place: int) -> str:
        return self.data[int(self.start[place]) : int(self.stop[place])].tobytes().decode("utf-8", "replace")

    def __iter__(self) -> Iterator[str]:
        return map(self.__getitem__, range(len(self)))

    def at(self, places: np.ndarray) -> list[str]:
        """Some of the texts, in the order given."""
        return [self[place] for place in places.tolist()]

    def picked(self, which: slice | np.ndarray) -> Packed:
        """Some of them, packed (a slice, or flags)."""
        return Packed(self.data, self.start[which], self.stop[which])

    @property
    def empty(self) -> np.ndarray:
        """Which of them are empty."""
        found: np.ndarray = self.start == self.stop
        return found

    @classmethod
    def joined(cls, parts: Sequence[Packed]) -> Packed:
        """The texts of several, one after the other."""
        parts = [Packed.of([]), *parts]
        base = np.cumsum([0, *(len(one.data) for one in parts)])
        return cls(
            np.concatenate([one.data for one in parts]),
            np.concatenate([one.start + at for one, at in zip(parts, base)]),
            np.concatenate([one.stop + at for one, at in zip(parts, base)]),
        )

    def copied(self) -> Packed:
        """The same texts end to end, without holding on to what stood between and beside them."""
        length = self.stop - self.start
        ends = np.cumsum(length, dtype=np.int64)
        there = np.arange(int(ends[-1]) if len(ends) else 0)
        there += np.repeat(self.start - ends + length, length)
        return Packed(self.data[there], ends - length, ends)

    def marks(self) -> np.ndarray:
        """A number (uint64) for each text; two texts seldom share one."""
        length = self.stop - self.start
        found = np.empty(len(self), np.uint64)
        for size in sorted(set(length.tolist())):
            rows = np.flatnonzero(length == size)
            padded = np.zeros((len(rows), size // 8 * 8 + 8), np.uint8)
            start, stop = self.start[rows], self.stop[rows]
            if (start[1:] == stop[:-1]).all():  # they stand end to end
                padded[:, :size] = self.data[int(start[0]) : int(stop[-1])].reshape(len(rows), size)
            else:
                padded[:, :size] = self.data[start[:, None] + np.arange(size)]
            mark = np.full(len(rows), size, np.uint64)
            for word in padded.view(np.uint64).T:
                mark = (mark ^ word) * STEPS[0]
                mark ^= mark >> np.uint64(29)
                mark *= STEPS[1]
                mark ^= mark >> np.uint64(32)
            found[rows] = mark
        return found
