"""A block of a portfolio's lines as arrays, and what every reader of long files shares: the header, plain
numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, MutableMapping, Sequence
from contextlib import suppress

import numpy as np

from ..errors import InputError, complain
from ..frozen import frozen
from .figures import Typed
from .near import nearest
from .packed import Packed
from .rows import Row, shorten

REQUIRED = ("accord", "material", "parts")
OPTIONAL = ("strength_pct", "role", "optional")
BLOCK = 1 << 19  # lines in hand at once

Codes = MutableMapping[str, int]


@frozen(eq=False)
class Block:
    """Some lines of a long file; ``starts`` are the first lines of its accords, called ``names``.

    A cell that is not a plain number is NaN in ``parts`` or ``strength`` (``None``: no such column);
    ``row(i)`` tells what stands there, or raises what is wrong with the whole line. ``done`` is the share
    of the file read so far; ``closed`` says that the last accord does not go on in the next block.
    """

    names: Packed
    starts: np.ndarray
    codes: np.ndarray
    parts: np.ndarray
    strength: np.ndarray | None
    row: Callable[[int], Row]
    done: float | None = None
    closed: bool = False

    def cut_last(self) -> tuple[Block, Block]:
        """All accords but the last, which may go on in the next block, and that one."""
        at = int(self.starts[-1])
        rows = _Rows(
            self.row, range(at, len(self.codes))
        )  # so that what is kept does not hold on to the whole block
        last = self.part(len(self.starts) - 1, len(self.starts), self.done)
        return self.part(0, len(self.starts) - 1, self.done), last._copied(rows)

    def part(self, first: int, last: int, done: float | None) -> Block:
        """The accords from ``first`` to before ``last``."""
        start = int(self.starts[first]) if first < len(self.starts) else len(self.codes)
        stop = int(self.starts[last]) if last < len(self.starts) else len(self.codes)
        cut = slice(start, stop)
        return Block(
            self.names.picked(slice(first, last)),
            self.starts[first:last] - start,
            self.codes[cut],
            self.parts[cut],
            None if self.strength is None else self.strength[cut],
            (lambda i: self.row(start + i)) if start else self.row,
            done,
            self.closed or last < len(self.starts),
        )

    def _copied(self, row: Callable[[int], Row]) -> Block:
        strength = None if self.strength is None else self.strength.copy()
        codes, parts = self.codes.copy(), self.parts.copy()
        return Block(self.names.copied(), self.starts, codes, parts, strength, row, self.done, self.closed)

    def join(self, other: Block) -> Block:
        """This block (the lines of one accord) and the next one."""
        n, same = len(self.codes), self.names[-1] == other.names[0]
        starts = np.concatenate([self.starts, other.starts[same:] + n])
        strength = None
        if self.strength is not None or other.strength is not None:
            strength = np.concatenate(
                [
                    np.full(len(one.codes), 100.0) if one.strength is None else one.strength
                    for one in (self, other)
                ]
            )
        codes, parts = np.concatenate([self.codes, other.codes]), np.concatenate([self.parts, other.parts])
        return Block(
            Packed.joined([self.names, other.names.picked(slice(int(same), None))]),
            starts,
            codes,
            parts,
            strength,
            lambda i: self.row(i) if i < n else other.row(i - n),
            other.done,
            other.closed,
        )


@frozen(eq=False)
class Chunk:
    """Accords as arrays: accord ``i`` holds ``active[indptr[i]:indptr[i+1]]`` parts of the materials
    ``columns[...]``, ``total[i]`` in all.

    ``columns`` are positions among the materials of the tables; ``done`` is the share of the portfolio
    read so far (0 to 1), ``None`` where nobody can tell.
    """

    names: Packed
    indptr: np.ndarray
    columns: np.ndarray
    active: np.ndarray
    total: np.ndarray
    done: float | None = None

    def __len__(self) -> int:
        return len(self.names)


class _Rows:
    """Rows taken out of a block, with what is wrong with some of them."""

    def __init__(self, row: Callable[[int], Row], places: Iterable[int]):
        self._rows: list[Row | InputError] = []
        for place in places:
            try:
                self._rows.append(row(place))
            except InputError as error:
                self._rows.append(error)

    def __call__(self, place: int) -> Row:
        row = self._rows[place]
        if isinstance(row, InputError):
            raise row
        return row


def take_rows(block: Block, place: int) -> list[Row]:
    """The lines of the accord at ``place``; raises what is wrong with a line as a whole."""
    ends = np.append(block.starts, len(block.codes))
    return [block.row(i) for i in range(int(ends[place]), int(ends[place + 1]))]


def number(text: str, style: str) -> float:
    """A plain decimal number in the file's style; NaN for everything else (looked at again one by
    one)."""
    if style == "," and not isinstance(text, Typed):
        text = "" if "." in text else text.replace(",", ".")
    try:
        return float(text)
    except ValueError:
        return np.nan


def numbers(texts: Sequence[str], empty: float, style: str = "") -> np.ndarray:
    """Cells as numbers, NaN where a cell is not a plain one; ``empty`` where it is empty.

    What Python alone calls a number (1_000, digits of other scripts) is NaN.
    """
    values = None
    if style != ",":
        with suppress(ValueError):
            values = np.array(list(map(float, texts)), float)
    if values is None:
        values = np.array([empty if not text else number(text, style) for text in texts], float)
    joined = "".join(texts)
    if "_" in joined or not joined.isascii():
        odd = np.array(["_" in text or not text.isascii() for text in texts], bool)
        values = np.where(odd, np.nan, values)
    return values


def check_header(header: list[str], file: str, number: int | None = None) -> list[str]:
    """The header of a long file.

    Raises for columns that are missing or stand twice.
    """
    while header and not header[-1]:
        header.pop()
    lacking = [column for column in REQUIRED if column not in header]
    if lacking:
        hint = nearest(lacking[0], [column for column in header if column not in REQUIRED], 70)
        found = shorten(", ".join(header), 60)
        raise complain(
            file,
            number,
            None,
            f"lacks the column{'s' * (len(lacking) > 1)} {', '.join(lacking)}{hint} "
            f"(found: {found}; wanted: {', '.join(REQUIRED)})",
        )
    twice = sorted({column for column in header if column and header.count(column) > 1})
    if twice:
        raise complain(file, number, twice[0], "stands twice in the header")
    return header
