"""A portfolio in Parquet, in record batches: texts stay dictionary-encoded, so that each is looked at once
per batch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from ..errors import complain
from .arrow import dictionary, figures, first_line, is_number, is_text, runs, text, texts
from .blocks import BLOCK, OPTIONAL, Block, Codes, check_header
from .files import read_bytes
from .rows import Row

WHOLE_GROUP = 2 * BLOCK  # lines of a row group that is decoded at once


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
        texts = [name for name in self.columns.values() if is_text(schema.field(name).type)]
        self._encoded = [
            name
            for name in texts
            if pa.types.is_string(schema.field(name).type) or pa.types.is_binary(schema.field(name).type)
        ]
        for column in ("parts", "strength_pct"):
            if column in self.columns and not is_number(schema.field(self.columns[column]).type):
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
                f"is not a whole Parquet file: cut off, damaged or something else ({first_line(error)})",
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
                    yield from self._cut(batch, done, codes)
                    done += len(batch)
            except (pa.ArrowException, OSError) as error:
                raise complain(
                    self.file, done + 1, None, f"the file is damaged from here on ({first_line(error)})"
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

    def _cut(self, batch: Any, done: int, codes: Codes) -> Iterator[Block]:
        """A batch, behind ``done`` lines, cut between accords into pieces of some ``BLOCK`` lines."""
        columns = {
            column: batch.column(batch.schema.get_field_index(name)) for column, name in self.columns.items()
        }
        starts, names = runs(columns["accord"])
        wanted = np.searchsorted(starts, np.arange(BLOCK, len(batch), BLOCK))
        cuts = sorted({0, *wanted.tolist()} - {len(starts)})
        for first, last in zip(cuts, [*cuts[1:], len(starts)]):
            start, stop = int(starts[first]), int(starts[last]) if last < len(starts) else len(batch)
            cells = {column: array.slice(start, stop - start) for column, array in columns.items()}
            yield Block(
                names.picked(slice(first, last)),
                starts[first:last] - start,
                self._codes(cells["material"], codes),
                figures(cells["parts"], np.nan),
                figures(cells["strength_pct"], 100.0) if "strength_pct" in cells else None,
                self._row(cells, done + start + 1),
                (done + stop) / self.rows,
                last < len(starts),
            )

    def _row(self, cells: Mapping[str, Any], first: int) -> Callable[[int], Row]:
        return lambda i: Row(
            self.file, first + i, {column: text(array[i].as_py()) for column, array in cells.items()}
        )

    def _codes(self, array: Any, codes: Codes) -> np.ndarray:
        places, known = dictionary(array)
        if self._known is None or not self._known[0].equals(known):  # a row group's pieces share one
            self._known = known, np.array([*map(codes.__getitem__, texts(known)), -1], np.int32)
        found = self._known[1]
        if places.min() < 0:
            found[-1] = codes[""]
            places = places % len(found)  # a null is the last
        return np.take(found, places, mode="clip")


T = TypeVar("T")


def ahead(items: Iterable[T]) -> Iterator[T]:
    """``items`` in order, the next one worked out in another thread while the last is in use."""
    source, end = iter(items), object()
    with ThreadPoolExecutor(1) as pool:
        coming = pool.submit(next, source, end)
        while (item := coming.result()) is not end:
            coming = pool.submit(next, source, end)
            yield item  # type: ignore[misc]
