"""A row of a table, whatever file it came from: it remembers where it stood, and complains in its name."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ..errors import Complaint, TableError
from ..frozen import frozen
from .near import nearest

TRUE = {"yes", "y", "true", "1", "x", "ja", "oui", "si", "sí", "да", "✓"}
FALSE = {"no", "n", "false", "0", "", "nein", "non", "нет"}


@frozen
class Row:
    """One line of a table: the number a spreadsheet shows for it, its cells by column name, and its
    file's decimal sign."""

    file: str
    number: int
    cells: dict[str, str]
    style: str = ""

    def text(self, column: str, default: str = "") -> str:
        return self.cells.get(column, default) or default

    def complaint(self, column: str | None, message: str, suggestions: Iterable[str] = ()) -> Complaint:
        """What is wrong in this row and column."""
        return Complaint(self.file, self.number, column, message, tuple(suggestions))

    def fault(self, column: str | None, message: str, suggestions: Iterable[str] = ()) -> TableError:
        """The error to raise for this row and column."""
        return TableError([self.complaint(column, message, suggestions)])

    def value(
        self, column: str, text: str, *, low: float = -math.inf, high: float = math.inf
    ) -> float | None:
        """``text`` of a column as a finite number within ``low``..``high``; ``None`` where it is
        empty."""
        if not text.strip():
            return None
        from .figures import parse_number  # most texts hold no numbers

        return parse_number(
            text, lambda message: self.fault(column, message), low=low, high=high, style=self.style
        )

    def figure(
        self, column: str, *, low: float = -math.inf, high: float = math.inf, default: float | None = None
    ) -> float | None:
        """The cell as a finite number within ``low``..``high``; ``default`` where it is empty."""
        found = self.value(column, self.text(column), low=low, high=high)
        return default if found is None else found

    def choice(self, column: str, allowed: Sequence[str], default: str) -> str:
        """The cell as one of ``allowed``."""
        text = self.text(column).strip().lower()
        if not text:
            return default
        if text not in allowed:
            raise self.fault(
                column,
                f"'{shorten(text)}' is not allowed: one of {', '.join(allowed)}{nearest(text, allowed)}",
            )
        return text

    def flag(self, column: str) -> bool:
        """The cell as yes or no; empty is no."""
        text = self.text(column).strip().lower()
        if text in TRUE:
            return True
        if text in FALSE:
            return False
        raise self.fault(column, f"'{shorten(text)}' is neither yes nor no")


class Rows(list[Row]):
    """Rows of a file, what a person should be ``told`` about how it was read, the cells of its header as they
    stand, and the ``doubt`` whether its letters were read right."""

    told: tuple[str, ...] = ()
    header: frozenset[str] = frozenset()
    doubt: str = ""

    def blamed(self, error: TableError) -> TableError:
        """The faults found in these rows, and the doubt that may explain them."""
        file = self[0].file if self else "table"
        return (
            TableError([*error.complaints, Complaint(file, None, None, self.doubt)]) if self.doubt else error
        )


def shorten(text: str, length: int = 40) -> str:
    """``text`` fit for one line of a message: no line breaks, no codes for a terminal."""
    text = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
    return text if len(text) <= length else text[: length - 1] + "…"
