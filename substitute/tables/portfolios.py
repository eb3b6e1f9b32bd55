"""Many accords at once: a folder, one long CSV or XLSX, or Parquet, read in blocks so that memory does not
grow with the portfolio.

A long file has the columns ``accord``, ``material`` and ``parts`` (``strength_pct`` may follow); the lines
of one accord stand
together, and an accord whose lines stand apart is rejected. A line may name another accord of the same
portfolio (a base), to any
depth; what answers to a material's name is that material. Plain lines are handled as arrays; whatever is
odd goes through the same reader as a single accord, so that its message is the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import sparse

from ..errors import InputError, NotFound, Several
from ..records import Accord
from .blocks import Block, take_rows
from .files import Row
from .formulas import MOST_PARTS, accord_from_rows
from .long_files import open_source
from .names import Names, Reading

MOST_HINTS = (
    100  # unknown names beyond these are reported without the nearest ones: looking for those takes long
)


@dataclass(frozen=True, eq=False)
class Chunk:
    """Accords as arrays: accord ``i`` holds ``active[indptr[i]:indptr[i+1]]`` parts of the materials
    ``columns[...]``, ``total[i]`` in all.

    ``columns`` are positions among the materials of the tables; ``done`` is the share of the portfolio
    read so far (0 to 1), ``None`` where nobody can tell.
    """

    names: list[str]
    indptr: np.ndarray
    columns: np.ndarray
    active: np.ndarray
    total: np.ndarray
    done: float | None = None

    def __len__(self) -> int:
        return len(self.names)


class _KnownNames:
    """:class:`~substitute.tables.names.Names` with every answer, good or bad, worked out once."""

    def __init__(self, names: Names):
        self._names, self._hints = names, 0
        self._answers: dict[str, Reading | InputError] = {}

    def quick(self, text: str) -> Reading:
        """How the text is read, or the error without nearest names."""
        return self._names.read(text, hints=False)

    def read(self, text: str) -> Reading:
        if text not in self._answers:
            try:
                self._answers[text] = self._names.read(text, hints=self._hints < MOST_HINTS)
            except InputError as error:
                self._hints += 1
                self._answers[text] = error
        answer = self._answers[text]
        if isinstance(answer, InputError):
            raise answer.with_traceback(None)
        return answer


class _Codes(dict):
    """Text of a material cell -> its column; unusual texts get -2, -3, … and wait in ``odd``."""

    def __init__(self, names: _KnownNames, columns: dict[str, int]):
        super().__init__()
        self._names, self._columns = names, columns
        self.odd: list[str] = []
        self.unknown: set[str] = set()
        self.guessed: dict[str, int] = {}  # columns of short names, which an accord of that name beats

    def __missing__(self, text: str) -> int:
        column = None
        try:
            reading = self._names.quick(text)
            column = self._columns[reading.material.id] if reading.strength is None else None
            guess = not reading.sure
        except InputError as error:
            guess = isinstance(error, NotFound | Several) and bool(text)
        if column is not None and not guess:
            self[text] = column
            return column
        if guess:
            self.unknown.add(text)
            if column is not None:
                self.guessed[text] = column
        self.odd.append(text)
        self[text] = -1 - len(self.odd)
        return self[text]


class _Bases:
    """Accords that other accords name as a material, each worked out once; circles are refused by name."""

    def __init__(self, rows: dict[str, list[Row]], names: _KnownNames, broken: dict[str, InputError]):
        self._rows, self._names = {**dict.fromkeys(broken, ()), **rows}, names
        self._done: dict[str, Accord | InputError] = dict(broken)

    def find(self, text: str) -> Accord | None:
        """The accord of this name, ``None`` if there is none. Raises what is wrong with it."""
        if text not in self._rows:
            return None
        if text not in self._done:
            self._work_out(text)
        answer = self._done[text]
        if isinstance(answer, InputError):
            raise answer.with_traceback(None)
        return answer

    def _needs(self, name: str) -> list[str]:
        return [
            text
            for text in dict.fromkeys(row.text("material") for row in self._rows[name])
            if text in self._rows
        ]

    def _work_out(self, name: str) -> None:
        """Depth first with a stack of our own: as deep as the accords go."""
        stack = [(name, iter(self._needs(name)))]
        opened = {name: None}
        while stack:
            current, needs = stack[-1]
            step = next((one for one in needs if one not in self._done), None)
            if step is None:
                stack.pop()
                del opened[current]
                if current not in self._done:
                    self._done[current] = self._read(current)
            elif step in opened:
                circle = list(opened)[list(opened).index(step) :]
                error = InputError(
                    f"the accords contain each other in a circle: {' > '.join([*circle, step])}"
                )
                self._done.update(dict.fromkeys(circle, error))
            else:
                opened[step] = None
                stack.append((step, iter(self._needs(step))))

    def _read(self, name: str) -> Accord | InputError:
        rows = self._rows[name]
        try:
            return accord_from_rows(rows, self._names, name, rows[0].file, self.find)
        except InputError as error:
            return error


def _odd(codes: np.ndarray, parts: np.ndarray, strength: np.ndarray | None) -> np.ndarray:
    """Lines that are not plain: an unknown material, or a figure that is none or out of range."""
    odd = (codes < 0) | ~((parts >= 0) & (parts <= MOST_PARTS))
    return odd if strength is None else odd | ~((strength > 0) & (strength <= 100))


class Portfolio:
    """A portfolio that can be read more than once. ``rejected`` fills while :meth:`chunks` runs: (accord,
    message)."""

    def __init__(self, path, names: Names, materials: Iterable[str]):
        if not str(path).strip():
            raise InputError("the portfolio's name is empty; a folder or a file is wanted")
        self.path = Path(path)
        self._names = _KnownNames(names)
        self._columns = {name: column for column, name in enumerate(materials)}
        self._codes = _Codes(self._names, self._columns)
        self._source = open_source(self.path)
        self._bases: _Bases | None = None
        self._base_column: dict[str, int] = {}
        self._spread: sparse.csr_array | None = (
            None  # (materials + bases, materials): a base's share of each material
        )
        self.rejected: list[tuple[str, str]] = []
        self.apart: set[str] = set()
        self.apart_count = 0  # how often accords whose lines stand apart were given out

    # -- reading
    #
    # ---------------------------------------------------------------------------------------------------------

    def chunks(self) -> Iterator[Chunk]:
        """All readable accords, a block at a time.

        Raises :class:`~substitute.errors.InputError` for a file that is empty, damaged or lacks a column.
        An accord whose lines stand apart is given out once and rejected at the end (see :attr:`apart`).
        """
        self.rejected, self.apart, self.apart_count = [], set(), 0
        seen: list[np.ndarray] = []
        for block in self._whole_accords():
            seen.append(np.fromiter(map(hash, block.names), np.int64, len(block.names)))
            yield self._chunk(block)
        self.rejected += self._source.rejected
        self._reject_apart(seen)

    def _whole_accords(self) -> Iterator[Block]:
        """Blocks cut between accords."""
        open_: Block | None = None
        for block in self._source.blocks(self._codes):
            block = block if open_ is None else open_.join(block)
            ready, open_ = block.cut_last()
            if len(ready.names):
                yield ready
        if open_ is not None and len(open_.names):
            yield open_

    def _chunk(self, block: Block) -> Chunk:
        codes, parts, strength = block.codes, block.parts, block.strength
        if len(codes) and codes.min() < 0:
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
        if "" in block.names:
            bad |= np.array([not name for name in block.names])
        lengths = np.diff(starts, append=len(codes))
        names, extra = block.names, []
        if bad.any():
            extra = [
                accord for place in np.flatnonzero(bad) if (accord := self._one_by_one(block, int(place)))
            ]
            keep = np.repeat(~bad, lengths)
            names = [name for name, out in zip(names, bad) if not out]
            codes, active, total, lengths = codes[keep], active[keep], total[~bad], lengths[~bad]
        indptr = np.zeros(len(names) + 1, np.int32)
        np.cumsum(lengths, out=indptr[1:])
        chunk = self._settled_chunk(names, indptr, codes, active, total, block.done)
        return self._with(chunk, extra) if extra else chunk

    def _settled_chunk(self, names, indptr, codes, active, total, done) -> Chunk:
        n = len(self._columns)
        if (self._spread is not None and len(codes) and codes.max() >= n) or (
            len(active) and active.min() == 0
        ):
            amounts = sparse.csr_array(
                (active, codes.astype(np.int32), indptr), (len(names), n + len(self._base_column))
            )
            amounts = amounts @ self._spread if self._spread is not None else amounts.copy()
            amounts.eliminate_zeros()
            return Chunk(names, amounts.indptr, amounts.indices, amounts.data, total, done)
        return Chunk(names, indptr, codes, active, total, done)

    def _with(self, chunk: Chunk, accords: list[Accord]) -> Chunk:
        """Accords that were read one by one, behind the others."""
        held = [{name: parts for name, parts in accord.active().items() if parts > 0} for accord in accords]
        columns = np.array([self._columns[name] for one in held for name in one], np.int32)
        active = np.array([parts for one in held for parts in one.values()], float)
        indptr = np.concatenate(
            [chunk.indptr, chunk.indptr[-1] + np.cumsum([len(one) for one in held])]
        ).astype(np.int32)
        return Chunk(
            [*chunk.names, *(accord.name for accord in accords)],
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
    #
    # -----------------------------------------------------------------------------------------------------------

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
        lines."""
        for _ in self._source.blocks(self._codes):
            pass
        wanted = set(self._codes.unknown)
        rows: dict[str, list[Row]] = {}
        broken: dict[str, InputError] = {}
        for block in self._whole_accords():
            for place, name in enumerate(block.names):
                if name in wanted:
                    try:
                        rows.setdefault(name, []).extend(take_rows(block, place))
                    except InputError as error:
                        broken[name] = error
        self._bases = _Bases(rows, self._names, broken)
        n, entries = len(self._columns), []
        for text in rows:
            try:
                base = self._bases.find(text)
            except InputError:
                continue
            column = n + len(self._base_column)
            self._base_column[text] = column
            entries += [
                (column, self._columns[name], parts / base.total)
                for name, parts in base.active().items()
                if parts > 0
            ]
        if entries:
            at, to, share = (np.array(values) for values in zip(*entries))
            eye = np.arange(n)
            shape = n + len(self._base_column), n
            self._spread = sparse.csr_array(
                (
                    np.r_[np.ones(n), share],
                    (np.r_[eye, at].astype(np.int32), np.r_[eye, to].astype(np.int32)),
                ),
                shape,
            )

    # -- afterwards
    # ------------------------------------------------------------------------------------------------------

    def _reject_apart(self, seen: list[np.ndarray]) -> None:
        marks = np.sort(np.concatenate(seen)) if seen else np.zeros(0, np.int64)
        twice = set(marks[1:][marks[1:] == marks[:-1]].tolist())
        if not twice:
            return
        counts: dict[str, int] = {}
        for block in self._whole_accords():
            for name in block.names:
                if hash(name) in twice:
                    counts[name] = counts.get(name, 0) + 1
        self.apart = {name for name, count in counts.items() if count > 1 and name}
        refused = [name for name, _ in self.rejected if name in self.apart]
        self.apart_count = sum(counts[name] for name in self.apart) - len(refused)
        self.rejected = [(name, message) for name, message in self.rejected if name not in self.apart]
        for name in sorted(self.apart):
            message = f"{self.path}: the lines of '{name}' stand in {counts[name]} places; sort the file by accord, or give each its own name"
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
