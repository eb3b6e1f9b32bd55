"""Lines of a long file as its reader found them, made into a block of arrays."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from ..frozen import frozen
from .blocks import Block, Codes, numbers
from .figures import Typed
from .packed import Packed
from .rows import Row


def _bare(text: str) -> str:
    return text if isinstance(text, Typed) else text.strip()


@frozen
class Lines:
    """Lines as a reader found them: ``place`` says where a column stands, ``row`` gives a line for its
    complaints, ``broken`` the lines that are wrong as a whole, ``style`` how decimals are written."""

    cells: Sequence[Sequence[str]]
    place: Mapping[str, int]
    row: Callable[[int], Row]
    broken: Sequence[int] = ()
    style: str = ""

    def column(self, name: str) -> list[str]:
        """The cells of a column, empty where a line or the whole file lacks it."""
        place = self.place.get(name)
        if place is None:
            return [""] * len(self.cells)
        return [_bare(line[place]) if place < len(line) else "" for line in self.cells]

    def figures(self, name: str, absent: float) -> np.ndarray:
        """The numbers of a column, ``absent`` where a cell is empty."""
        return numbers(self.column(name), absent, self.style)


def block_of_lines(lines: Lines, codes: Codes, done: float, accord: str | None = None) -> Block:
    """A block of lines: all of one ``accord``, else of those their own column names."""
    if accord is None:
        accords = lines.column("accord")
        starts = [i for i, name in enumerate(accords) if i == 0 or name != accords[i - 1]]
        names = [accords[i] for i in starts]
    else:
        starts, names = [0], [accord]
    parts = lines.figures("parts", np.nan)
    parts[list(lines.broken)] = np.nan
    return Block(
        Packed.of(names),
        np.array(starts, np.int64),
        np.array([codes[text] for text in lines.column("material")], np.int32),
        parts,
        lines.figures("strength_pct", 100.0) if "strength_pct" in lines.place else None,
        lines.row,
        done,
    )


def lines_of_sheet(rows: Sequence[Row]) -> Lines:
    """The rows of a sheet read as a whole (one at least)."""
    columns = list(rows[0].cells)
    return Lines(
        [[row.cells.get(column, "") for column in columns] for row in rows],
        {column: i for i, column in enumerate(columns)},
        rows.__getitem__,
        style=rows[0].style,
    )
