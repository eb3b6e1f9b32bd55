"""The one orchestrator: a library of materials that answers every question of the commands.

Each command is a method of the same name; files may be given as paths or as records already read. A module
per kind of question; what is slow to build is built once, when first asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..book.which import which_book
from ..shown import draw_with
from ..tables.load import load_tables

if TYPE_CHECKING:
    import pandas as pd

from .book import BookQuestions
from .core import AccordSource, Day, ShelfSource, Smell, today
from .open_book import looks_first

__all__ = ["AccordSource", "Day", "Library", "ShelfSource", "Smell", "load", "today"]


def _html(kind: str, answer: Mapping[str, Any]) -> str:
    from ..answers.notebook import html

    return html(kind, answer)


def _frame(kind: str, answer: Mapping[str, Any]) -> pd.DataFrame:
    from ..answers.notebook import frame

    return frame(kind, answer)


draw_with(_html, _frame)


def load(
    tables: str | Path | None = None,
    evidence: bool = True,
    labels: str | Path | None = None,
    book: Path | str | bool | None = None,
) -> Library:
    """The shipped tables with a person's own laid over them, and what their bench book taught.

    Parameters
    ----------
    tables : path, optional
        A folder with a person's own tables; then the environment's ``SUBSTITUTE_TABLES``, then none.
    evidence : bool
        Whether documented swaps (``swaps.csv``) count.
    labels : path, optional
        A ``labels.csv`` (label, cas) for the names on a person's own bottles.
    book : path, optional
        A person's bench book; then the environment's ``SUBSTITUTE_BOOK``, then none. Its tables and
        labels are laid over ours, its bottles are the shelf where none is given, its verdicts count.
        ``False``: none, whatever the environment says.

    Raises
    ------
    TableError
        With every complaint about the tables.
    """
    named = which_book(book)
    found = None
    if named:
        from ..book.book import open_book

        found = open_book(named, tables)
    library = Library(load_tables(found.tables if found and found.tables else tables), evidence, found)
    if labels is not None:
        from ..tables.shelves import read_labels

        library.add_labels(read_labels(labels))
    return library


@looks_first
class Library(BookQuestions):
    """Materials, rules and evidence, and every question that can be asked of them."""
