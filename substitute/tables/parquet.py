"""A portfolio in Parquet, in record batches: texts stay dictionary-encoded, so that each is looked at once
per batch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from ..errors import InputError, complain
from .blocks import BLOCK, OPTIONAL, Block, Codes, check_header, numbers
from .files import read_bytes
from .packed import Packed
from .rows import Row

WHOLE_GROUP = 4 * BLOCK  # lines of a row group that is decoded at once
BLANK, ASCII = 32, 128  # bytes up to the one may be blanks, from the other on parts of other letters


class ParquetSource:
    """One Parquet file with the columns of a long CSV; names of columns without regard to case.

    Raises :class:`~substitute.errors.InputError` for a file that is cut off or damaged, or lacks a column.
    """

    def __init__(self, path: Path):
        import pyarrow as pa

        self.path, self.file = path, str(path)
        self.rejected: list[tuple[str, str]] = []
        if (not path.is_file() or path.stat().st_size == 0) and not read_bytes(path):
            raise complain(
                self.file, None, None, "is empty; a Parquet file with accord, material, parts is wanted"
            )
        with self._open(()) as file:
            schema = file.schema_arrow
            self.rows = file.metadata.num_rows
        own = {name.strip().lower(): name for name in schema.names}
        check_header([name.strip().lower() for name in schema.names], self.file)
        self.columns = {
            column: own[column] for column in ("accord", "material", "parts", *OPTIONAL) if column in own
        }
        texts = [name for name in self.columns.values() if _is_text(schema.field(name).type)]
        self._encoded = [
            name
            for name in texts
            if pa.types.is_string(schema.field(name).type) or pa.types.is_binary(schema.field(name).type)
        ]
        for column in ("parts", "strength_pct"):
            if column in self.columns and not _is_number(schema.field(self.columns[column]).type):
                kind = schema.field(self.columns[column]).type
                raise complain(self.file, None, column, f"holds {kind}, numbers are wanted")
        self._known: tuple[Any, np.ndarray] | None = None
        if not self.rows:
            raise complain(self.file, None, None, "holds no lines; at least one accord is wanted")

    def _open(self, encoded: Iterable[str]) -> Any:
        import pyarrow as pa
        from pyarrow import parquet

        try:
            return parquet.ParquetFile(
                self.path, read_dictionary=list(encoded), pre_buffer=False, memory_map=False
            )
        except (pa.ArrowException, OSError, ValueError) as error:
            raise complain(
                self.file,
                None,
                None,
                f"is not a whole Parquet file: cut off, damaged or something else ({_first(error)})",
            ) from None

    def blocks(self, codes: Codes) -> Iterator[Block]:
        """Blocks of about ``BLOCK`` lines; none reaches over a row group, whose dictionaries are its own.

        The next row group is decoded while the last one is looked at.
        """
        import pyarrow as pa

        done = 0
        with self._open(self._encoded) as file:
            try:
                for batch in ahead(self._batches(file)):
                    done += len(batch)
                    yield from self._cut(self._block(batch, done, codes), done)
            except (pa.ArrowException, OSError) as error:
                raise complain(
                    self.file, done + 1, None, f"the file is damaged from here on ({_first(error)})"
                ) from None

    def _batches(self, file: Any) -> Iterator[Any]:
        """A row group decoded in one go where it is small enough, which is faster than batch by batch."""
        columns = list(self.columns.values())
        for group in range(file.num_row_groups):
            if file.metadata.row_group(group).num_rows <= WHOLE_GROUP:
                batches = file.read_row_group(group, columns=columns).to_batches()
            else:
                batches = file.iter_batches(BLOCK, row_groups=[group], columns=columns)
            yield from (batch for batch in batches if len(batch))

    def _block(self, batch: Any, done: int, codes: Codes) -> Block:
        cells = {
            column: batch.column(batch.schema.get_field_index(name)) for column, name in self.columns.items()
        }
        starts, names = _runs(cells["accord"])
        first = done - len(batch) + 1
        strength = _figures(cells["strength_pct"], 100.0) if "strength_pct" in cells else None

        def row(i: int) -> Row:
            return Row(
                self.file, first + i, {column: _text(array[i].as_py()) for column, array in cells.items()}
            )

        return Block(
            names,
            starts,
            self._codes(cells["material"], codes),
            _figures(cells["parts"], np.nan),
            strength,
            row,
            done / self.rows,
        )

    def _cut(self, block: Block, done: int) -> Iterator[Block]:
        """A block cut between accords into pieces of some ``BLOCK`` lines."""
        lines = len(block.codes)
        wanted = np.searchsorted(block.starts, np.arange(BLOCK, lines, BLOCK))
        cuts = [0, *np.unique(wanted[(wanted > 0) & (wanted < len(block.starts))]).tolist(), len(block.starts)]
        for first, last in zip(cuts, cuts[1:]):
            behind = lines - int(block.starts[last]) if last < len(block.starts) else 0
            yield block.part(first, last, (done - behind) / self.rows)

    def _codes(self, array: Any, codes: Codes) -> np.ndarray:
        places, texts = _dictionary(array)
        if self._known is None or not self._known[0].equals(
            texts
        ):  # batches of one row group share their dictionary
            self._known = texts, np.array([*map(codes.__getitem__, map(_text, texts.to_pylist())), -1], np.int32)
        known = self._known[1]
        if places.min() < 0:
            known[-1] = codes[""]
            places = places % len(known)  # -1 is the last
        return np.take(known, places, mode="clip")


T = TypeVar("T")


def ahead(items: Iterable[T]) -> Iterator[T]:
    """``items`` in order, the next one worked out in another thread while the last is in use."""
    source, end = iter(items), object()
    with ThreadPoolExecutor(1) as pool:
        coming = pool.submit(next, source, end)
        while (item := coming.result()) is not end:
            coming = pool.submit(next, source, end)
            yield item  # type: ignore[misc]


def _first(error: Exception) -> str:
    return (
        str(error).strip().splitlines()[0].rstrip(".")[:120] if str(error).strip() else type(error).__name__
    )


def _text(value: object) -> str:
    return (
        ""
        if value is None
        else value.decode("utf-8", "replace").strip()
        if isinstance(value, bytes)
        else str(value).strip()
    )


def _is_text(kind: Any) -> bool:
    import pyarrow as pa

    return any(
        test(kind)
        for test in (
            pa.types.is_string,
            pa.types.is_large_string,
            pa.types.is_binary,
            pa.types.is_large_binary,
        )
    )


def _is_number(kind: Any) -> bool:
    import pyarrow as pa

    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    tests = (pa.types.is_floating, pa.types.is_integer, pa.types.is_decimal, pa.types.is_null)
    return _is_text(kind) or any(test(kind) for test in tests)


def _plain(array: Any) -> np.ndarray:
    """A column of numbers without nulls; read from its buffer, because ``to_numpy`` imports pandas."""
    import pyarrow as pa

    kinds = {pa.float64(): np.float64, pa.float32(): np.float32, pa.int32(): np.int32, pa.int64(): np.int64}
    if array.type in kinds and not array.null_count and len(array):
        kind = np.dtype(kinds[array.type])
        return np.frombuffer(array.buffers()[1], kind, len(array), array.offset * kind.itemsize)
    found: np.ndarray = array.to_numpy(zero_copy_only=False)
    return found


def _dictionary(array: Any) -> tuple[np.ndarray, Any]:
    """Places (-1 for null) and texts of a column, whatever its type."""
    import pyarrow as pa

    if not pa.types.is_dictionary(array.type):
        array = array.dictionary_encode()
    places = array.indices
    if places.null_count:
        places = places.fill_null(-1)  # comes with pyarrow.compute, which is slow to import
    return _plain(places), array.dictionary


def _runs(array: Any) -> tuple[np.ndarray, Packed]:
    """First lines of equal neighbours, and the names there."""
    places, texts = _dictionary(array)
    starts = np.concatenate([[0], np.flatnonzero(places[1:] != places[:-1]) + 1])
    at = places[starts]
    packed = _packed(texts) if at.min() >= 0 else None
    if packed is not None:
        packed = packed.picked(at)
        if not _ends_in_blanks(packed):
            return starts, packed
    known = [*(_text(text) for text in texts.to_pylist()), ""]  # a null is the last
    names = [known[place] for place in at.tolist()]
    new = [i for i, (name, before) in enumerate(zip(names, [None, *names])) if name != before]
    return starts[new], Packed.of([names[i] for i in new])


def _packed(texts: Any) -> Packed | None:
    """A dictionary's texts, read from its buffers; ``None`` where these are of another make."""
    import pyarrow as pa

    kinds = {pa.string(): np.int32, pa.large_string(): np.int64}
    if texts.type not in kinds or texts.null_count or not len(texts):
        return None
    kind = np.dtype(kinds[texts.type])
    _, places, data = texts.buffers()
    ends = np.frombuffer(places, kind, len(texts) + 1, texts.offset * kind.itemsize)
    return Packed(np.frombuffer(data, np.uint8) if data else np.zeros(0, np.uint8), ends[:-1], ends[1:])


def _ends_in_blanks(names: Packed) -> bool:
    """Whether one of the names may begin or end with a blank (or is empty, or does not end in plain letters and is
    looked at as a text)."""
    if names.empty.any():
        return True
    ends = names.data[np.concatenate([names.start, names.stop - 1])]
    plain = bool(((ends > BLANK) & (ends < ASCII)).all())
    return not plain and any(name != name.strip() for name in names)


def _figures(array: Any, empty: float) -> np.ndarray:
    """A column of numbers (or of numbers as text) as float64; ``empty`` for null."""
    import pyarrow as pa

    if pa.types.is_dictionary(array.type):
        array = array.dictionary_decode()
    if _is_text(array.type):
        return numbers([_text(value) for value in array.to_pylist()], empty)
    try:
        plain = array if pa.types.is_float64(array.type) else array.cast(pa.float64(), safe=False)
        values = _plain(plain)
    except pa.ArrowException as error:
        raise InputError(f"numbers of type {array.type} cannot be read ({_first(error)})") from None
    if array.null_count:
        values = np.where(array.is_null().to_numpy(zero_copy_only=False), empty, values)
    return values
