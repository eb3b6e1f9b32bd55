"""Tables as CSV: machine names over the columns, true, false and empty, numbers rounded to what is known.

A spreadsheet takes text that begins with ``=``, ``+``, ``-`` or ``@`` for a formula. Such a cell gets an
apostrophe in front, which spreadsheets hide; with ``raw`` everything is left as it is, for programs that
read it back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import islice

from ..figures import known
from ..tables.writing import harmless, to_csv
from .sections import Answer, Cell, Column, Plain, Said, Section

PIECE = 5000  # rows written at once


def plain(column: Column, cell: Cell, *, raw: bool = False) -> Plain:
    """A cell as programs read it: rounded, unknown as ``None``."""
    value = cell.value if isinstance(cell, Said) else cell
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, float):
        return known(column.key, value)
    return value if isinstance(value, int) or raw else str(harmless(value))


def _written(value: Plain) -> str | int | float | None:
    return ("true" if value else "false") if isinstance(value, bool) else value


def section_csv(section: Section, *, raw: bool = False) -> str:
    """One table as CSV text."""
    shown = section.on("data")
    rows = (
        [_written(plain(column, cell, raw=raw)) for column, cell in zip(shown.columns, row)]
        for row in shown.rows
    )
    return to_csv([column.key for column in shown.columns], rows)


def answer_csv(answer: Answer, *, raw: bool = False) -> str:
    """The answer's main table as CSV text."""
    return section_csv(answer.main, raw=raw)


def streamed(section: Section, rows: Iterable[tuple[Cell, ...]], *, raw: bool = False) -> Iterator[str]:
    """A table whose rows are too many to be held, as CSV text piece by piece under the columns of
    ``section``."""
    waiting, head = iter(rows), True
    while (piece := tuple(islice(waiting, PIECE))) or head:
        written = section_csv(replace(section, rows=piece), raw=raw)
        yield written if head else written.split("\n", 1)[1]
        head = False


def sheets_csv(
    sections: Iterable[Section], cautions: Iterable[str] = (), *, raw: bool = False, warn_first: bool = False
) -> str:
    """Tables one after another with an empty line between, the cautions as the last, or first where
    something is weighed."""
    blocks = [section_csv(section, raw=raw) for section in sections if section.kind == "table"]
    lines = [[text if raw else harmless(text)] for text in cautions]
    if lines:
        blocks.insert(0 if warn_first else len(blocks), to_csv(["caution"], lines))
    return "\n".join(blocks)
