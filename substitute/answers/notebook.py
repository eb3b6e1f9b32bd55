"""An answer as a notebook shows it, and its main table as a frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from . import lay_out
from .csv import plain
from .page import answer_fragment

if TYPE_CHECKING:
    import pandas as pd

MOST = 60  # rows of a table in a notebook


def html(kind: str, answer: Mapping[str, Any]) -> str:
    """The answer's headline, cautions and tables; long tables are cut and say so."""
    found = lay_out(kind, answer)
    filled = [part.filled() for part in found.sections]
    sections = tuple(
        replace(part, rows=part.rows[:MOST], of=part.of or len(part.rows), tick=False) for part in filled
    )
    page = answer_fragment(replace(found, sections=sections))
    return f"<div>{page.replace('<h2', '<h4').replace('</h2', '</h4')}</div>"


def frame(kind: str, answer: Mapping[str, Any]) -> pd.DataFrame:
    """The main table: one column a key of the CSV; unknown is missing."""
    import pandas as pd

    main = lay_out(kind, answer).main.on("data")
    rows = [[plain(column, cell, raw=True) for column, cell in zip(main.columns, row)] for row in main.rows]
    return pd.DataFrame(rows, columns=[column.key for column in main.columns])
