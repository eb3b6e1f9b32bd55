"""Many accords at once: a folder, one long CSV or XLSX, or Parquet, read in blocks so that memory does
not grow with the portfolio.

A long file has the columns ``accord``, ``material`` and ``parts`` (``strength_pct`` may follow); the
lines of one accord stand together, and an accord whose lines stand apart is rejected. A line may name
another accord of the same portfolio (a base), to any depth; what answers to a material's name is that
material. Plain lines are handled as arrays; whatever is odd goes through the same reader as a single
accord, so that its message is the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import compress
from pathlib import Path

import numpy as np

from ..errors import InputError, TableError
from ..records import Accord
from .blocks import Block, Chunk, take_rows
from .formulas import accord_from_rows
from .lines import MOST_PARTS
from .long_files import open_source
from .names import Names
from .packed import Packed
from .portfolio_names import Bases, KnownNames, TextCodes
from .rows import Row


def _odd(codes: np.ndarray, parts: np.ndarray, strength: np.ndarray | None) -> np.ndarray:
    """Lines that are not plain: an unknown material, or a figure that is none or out of range."""
    odd = (codes < 0) | ~((parts >= 0) & (parts <= MOST_PARTS))
    return odd if strength is None else odd | ~((strength > 0) & (strength <= 100))


class Portfolio:
    """A portfolio that can be read more than once.

    ``rejected`` fills while :meth:`chunks` runs: (accord, message).
    """

    def __init__(self, path: str | Path, names: Names, materials: Iterable[str]):
        if not str(path).strip():
            raise InputError("the portfolio's name is empty; a folder or a file is wanted")
        self.path = Path(path)
        self._names = KnownNames(names)
        self._columns = {name: column for column, name in enumerate(materials)}
        self._codes = TextCodes(self._names, self._columns)
        self._source = open_source(self.path)
        self._bases: Bases | None = None
        self._base_column: dict[str, int] = {}
        self._shares: dict[int, tuple[np.ndarray, np.ndarray]] = {}  # of each base's column
        self.rejected: list[tuple[str, str]] = []
        self.apart: set[str] = set()
        self.apart_count = 0  # how often accords whose lines stand apart were given out

    # -- reading

    def chunks(self) -> Iterator[Chunk]:
        """All readable accords, a block at a time.

        Raises :class:`~substitute.errors.InputError` for a file that is empty, damaged or lacks a column.
        An accord whose lines stand apart is given out once and rejected at the end (see :attr:`apart`).
        """
        self.rejected, self.apart, self.apart_count = [], set(), 0
        seen: list[np.ndarray] = []
        for block in self._whole_accords():
            seen.append(block.names.marks())
            yield self._chunk(block)
        self.rejected += self._source.rejected
        self._reject_apart(seen)

    def _whole_accords(self) -> Iterator[Block]:
        """Blocks cut between accords."""
        open_: Block | None = None
        for block in self._source.blocks(self._codes):
            block = block if open_ is None else open_.join(block)
            ready, open_ = (block, None) if block.closed else block.cut_last()
            if len(ready.names):
                yield ready
        if open_ is not None and len(open_.names):
            yield open_

    def _chunk(self, block: Block) -> Chunk:
        codes, parts, strength = block.codes, block.parts, block.strength
        if codes.min() < 0:
            codes = self._settle(codes)
        starts = block.starts
        total = np.add.reduceat(parts, starts)
        active = parts if strength is None else parts * strength / 100.0
        plain = (
            codes.min() >= 0
            and parts.min() >= 0  # then no line is above its accord's total
            and (total.max() <= MOST_PARTS or parts.max() <= MOST_PARTS)
            and (strength is None or (strength.min() > 0 and strength.max() <= 100))
        )
        bad = (
            np.zeros(len(starts), bool)
            if plain
            else np.logical_or.reduceat(_odd(codes, parts, strength), starts)
        )
        bad |= ~(total > 0)
        bad |= block.names.empty
        lengths = np.diff(starts, append=len(codes))
        names, extra = block.names, []
        if bad.any():
            extra = self._odd_accords(block, codes, bad)
            keep = np.repeat(~bad, lengths)
            names = names.picked(~bad)
            codes, active, total, lengths = codes[keep], active[keep], total[~bad], lengths[~bad]
        indptr = np.zeros(len(names) + 1, np.int32)
        np.cumsum(lengths, out=indptr[1:])
        chunk = self._settled_chunk(names, indptr, codes, active, total, block.done)
        return self._with(chunk, extra) if extra else chunk

    def _odd_accords(self, block: Block, codes: np.ndarray, bad: np.ndarray) -> list[Accord]:
        """Those of the ``bad`` accords that can be read after all; the others are rejected.

        What names nothing on file and is plain otherwise is rejected without being read line by line, in
        the same words.
        """
        unknown, sums = (codes == -1) & (block.codes < -1), np.add.reduceat(block.parts, block.starts)
        simple = np.zeros(len(bad), bool)
        if unknown.any():
            refused = (
                unknown & self._codes.refused(self._bases or frozenset())[np.minimum(block.codes, 0) * -1]
            )
            odd = _odd(codes, block.parts, block.strength) & ~refused
            simple = bad & (sums > 0) & ~np.logical_or.reduceat(odd, block.starts)
        found = []
        ends = np.append(block.starts, len(codes))
        for place in np.flatnonzero(bad).tolist():
            name = block.names[place]
            message = None
            if simple[place] and name and name not in (self._bases or ()):
                at = np.flatnonzero(unknown[ends[place] : ends[place + 1]]) + ends[place]
                message = self._refusal(block, at)
            if message is not None:
                self.rejected.append((name, message))
            elif accord := self._one_by_one(block, place):
                found.append(accord)
        return found

    def _refusal(self, block: Block, at: np.ndarray) -> str | None:
        """What is said of an accord with unknown names in the lines ``at``; ``None`` where more may be
        wrong with them."""
        first = block.row(int(at[0]))
        if not first.cells.keys().isdisjoint(("role", "optional")):
            return None
        wrong = self._names.refusal(self._codes.text(int(block.codes[at[0]])))
        return str(TableError([first.complaint("material", str(wrong))] * len(at)))

    def _settled_chunk(
        self,
        names: Packed,
        indptr: np.ndarray,
        codes: np.ndarray,
        active: np.ndarray,
        total: np.ndarray,
        done: float | None,
    ) -> Chunk:
        if self._shares and len(codes) and codes.max() >= len(self._columns):
            indptr, codes, active = self._spread(indptr, codes, active)
        if len(active) and active.min() == 0:
            there = active > 0
            indptr = np.concatenate([[0], np.cumsum(np.add.reduceat(there, indptr[:-1], dtype=np.int64))])
            codes, active = codes[there], active[there]
        return Chunk(names, indptr.astype(np.int32), codes, active, total, done)

    def _spread(
        self, indptr: np.ndarray, codes: np.ndarray, active: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Lines of bases as the lines that these have."""
        bases = np.flatnonzero(codes >= len(self._columns)).tolist()
        times = np.ones(len(codes), np.int64)
        for line in bases:
            times[line] = len(self._shares[int(codes[line])][0])
        ends = np.cumsum(times)
        codes, active = np.repeat(codes, times), np.repeat(active, times)
        for line in bases:
            some = slice(ends[line] - times[line], ends[line])
            materials, shares = self._shares[int(codes[some.start])]
            codes[some], active[some] = materials, active[some] * shares
        return np.concatenate([[0], ends])[indptr], codes, active

    def _with(self, chunk: Chunk, accords: list[Accord]) -> Chunk:
        """Accords that were read one by one, behind the others."""
        held = [{name: parts for name, parts in accord.active().items() if parts > 0} for accord in accords]
        columns = np.array([self._columns[name] for one in held for name in one], np.int32)
        active = np.array([parts for one in held for parts in one.values()], float)
        indptr = np.concatenate(
            [chunk.indptr, chunk.indptr[-1] + np.cumsum([len(one) for one in held])]
        ).astype(np.int32)
        return Chunk(
            Packed.joined([chunk.names, Packed.of([accord.name for accord in accords])]),
            indptr,
            np.concatenate([chunk.columns, columns]),
            np.concatenate([chunk.active, active]),
            np.concatenate([chunk.total, [accord.total for accord in accords]]),
            chunk.done,
        )

    def _one_by_one(self, block: Block, place: int) -> Accord | None:
        name = block.names[place]
        try:
            rows = take_rows(block, place)
            if not name:
                raise rows[0].fault("accord", "is empty; the accord's name is wanted")
            return self._read(name, rows)
        except InputError as error:
            self.rejected.append((name, str(error)))
            return None

    def _read(self, name: str, rows: list[Row]) -> Accord:
        bases = self._bases.find if self._bases else None
        return (bases(name) if bases else None) or accord_from_rows(
            rows, self._names, name, rows[0].file, bases
        )

    # -- bases

    def _settle(self, codes: np.ndarray) -> np.ndarray:
        """Codes of texts that are no material: the column of a base behind those of the materials, else
        -1."""
        if self._codes.unknown and self._bases is None:
            self._load_bases()
        known = {**self._codes.guessed, **self._base_column}
        final = np.array([-1, -1, *(known.get(text, -1) for text in self._codes.odd)], np.int32)
        codes = codes.copy()
        odd = np.flatnonzero(codes < 0)
        codes[odd] = final[-codes[odd]]
        return codes

    def _load_bases(self) -> None:
        """Read the portfolio through for names of accords used as materials, and once more for their
        lines if there are any."""
        marks = [block.names.marks() for block in self._source.blocks(self._codes)]
        unknown = sorted(self._codes.unknown)
        wanted = set(compress(unknown, np.isin(Packed.of(unknown).marks(), np.concatenate(marks)).tolist()))
        rows: dict[str, list[Row]] = {}
        broken: dict[str, InputError] = {}
        for block in self._whole_accords() if wanted else ():
            for place, name in enumerate(block.names):
                if name in wanted:
                    try:
                        rows.setdefault(name, []).extend(take_rows(block, place))
                    except InputError as error:
                        broken[name] = error
        self._bases = Bases(rows, self._names, broken)
        n = len(self._columns)
        for text in rows:
            try:
                base = self._bases.find(text)
            except InputError:
                continue
            if base is None:
                continue
            self._base_column[text] = n + len(self._base_column)
            held = {self._columns[name]: parts for name, parts in base.active().items() if parts > 0}
            self._shares[self._base_column[text]] = (
                np.array(list(held), np.int32),
                np.array(list(held.values())) / base.total,
            )

    # -- afterwards

    def _reject_apart(self, seen: list[np.ndarray]) -> None:
        marks = np.sort(np.concatenate(seen)) if seen else np.zeros(0, np.uint64)
        twice = marks[1:][marks[1:] == marks[:-1]]
        if not len(twice):
            return
        counts: dict[str, int] = {}
        for block in self._whole_accords():
            for name in block.names.at(np.flatnonzero(np.isin(block.names.marks(), twice))):
                counts[name] = counts.get(name, 0) + 1
        self.apart = {name for name, count in counts.items() if count > 1 and name}
        refused = [name for name, _ in self.rejected if name in self.apart]
        self.apart_count = sum(counts[name] for name in self.apart) - len(refused)
        self.rejected = [(name, message) for name, message in self.rejected if name not in self.apart]
        for name in sorted(self.apart):
            message = (
                f"{self.path}: the lines of '{name}' stand in {counts[name]} places; "
                "sort the file by accord, or give each its own name"
            )
            self.rejected.append((name, message))

    def accords(self, wanted: Iterable[str]) -> Iterator[Accord]:
        """The named accords as records, bases replaced by their lines; those that cannot be read are left
        out."""
        wanted = set(wanted)
        for block in self._whole_accords() if wanted else ():
            for place, name in enumerate(block.names):
                if name in wanted:
                    try:
                        yield self._read(name, take_rows(block, place))
                    except InputError:
                        continue
