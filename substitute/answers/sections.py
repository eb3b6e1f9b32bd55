"""An answer as sections: what stands in it is said here once, how it is drawn is the renderers' affair.

A layout (one module per question) turns an answer's JSON into an :class:`Answer`; the terminal, CSV,
workbook, Markdown, page to print, notebook and screens draw the same :class:`Answer`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, replace
from typing import Any, Literal, TypeAlias

from .. import figures
from ..frozen import frozen

Plain: TypeAlias = str | int | float | bool | None
Medium = Literal["terminal", "paper", "data"]
Form = Literal["word", "text", "note", "figure", "percent", "ratio", "fixed", "count", "signed", "blank"]
BLANKS = ("date", "lot", "weighed by")
Mood = Literal["", "bad", "doubt", "gain"]
MEDIA: dict[str, frozenset[str]] = {
    "all": frozenset(("terminal", "paper", "data")),
    "people": frozenset(("terminal", "paper")),
    "terminal": frozenset(("terminal",)),
    "paper": frozenset(("paper",)),
    "unprinted": frozenset(("terminal", "data")),
    "wide": frozenset(("paper", "data")),
    "data": frozenset(("data",)),
}


@frozen
class Said:
    """A cell that people read otherwise than programs: ``value`` for files, ``text`` for people,
    ``short`` where room is dear.

    ``mood`` colours it on a terminal and a screen; the words say the same without colour.
    """

    value: Plain
    text: str
    short: str = ""
    mood: Mood = ""


Cell: TypeAlias = Plain | Said


@frozen
class Column:
    """A column: ``key`` in files, ``name`` and ``unit`` for people.

    ``form`` says what stands in it: ``word`` (an id, a CAS number: never broken), ``text`` (may be
    wrapped), ``note`` (a reason: on a narrow terminal it becomes a letter and the reasons stand below the
    table), ``blank`` (empty, to be written into with a pen), or a number and how it is shown (``fixed``
    and ``signed`` with ``decimals``). ``where`` is one of ``MEDIA``. Where a terminal is too narrow,
    columns with the highest ``drop`` go first; 0 never goes.
    """

    key: str
    name: str = ""
    unit: str = ""
    form: Form = "text"
    decimals: int = 2
    digits: int = 3
    where: str = "all"
    drop: int = 0

    @property
    def title(self) -> str:
        """The heading for people, with its unit."""
        name = self.name or self.key.replace("_", " ")
        return f"{name} [{self.unit}]" if self.unit else name

    @property
    def is_number(self) -> bool:
        return self.form not in ("word", "text", "note", "blank")

    def show(self, cell: Cell) -> str:
        """A cell as people read it, whole."""
        if isinstance(cell, Said):
            return cell.text
        if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
            return figures.UNKNOWN if self.form in ("percent", "ratio") else ""
        if isinstance(cell, bool):
            return "yes" if cell else "no"
        if isinstance(cell, str):
            return cell
        return self._number(cell)

    def _number(self, value: float) -> str:
        if self.form == "fixed":
            return f"{value:.{self.decimals}f}"
        if self.form == "signed":
            return f"{value:+.{self.decimals}f}"
        if self.form == "ratio":
            return figures.ratio(value)
        if self.form == "count":
            return f"{value:,.0f}"
        return figures.figure(value, self.digits)


@frozen
class Section:
    """One part of an answer: a ``table``, a ``list``, a ``text`` (paragraphs), or the data of a
    ``picture``.

    ``rows`` have a cell for every column. ``of`` is how many rows there are where only the first are
    here, ``whole`` says where all of them are; ``brief`` how many items a terminal shows that was not asked
    for all. ``tick`` gives each row a box to tick on paper; ``main`` marks the table that stands for the
    whole answer; ``own_page`` begins a new page on paper; ``aside`` is folded away on a screen. ``where`` is
    one of ``MEDIA``, for a section that only some media show.
    """

    kind: Literal["table", "list", "text", "picture"]
    title: str = ""
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[Cell, ...], ...] = ()
    items: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    of: int | None = None
    whole: str = "the JSON holds them all"
    brief: int | None = None
    tick: bool = False
    main: bool = False
    own_page: bool = False
    aside: bool = False
    where: str = "all"
    picture: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"{self.title}: a row of {len(row)} cells under {len(self.columns)} columns")

    def on(self, medium: Medium) -> Section:
        """The section with the columns that ``medium`` shows."""
        kept = [place for place, column in enumerate(self.columns) if medium in MEDIA[column.where]]
        return self._only(kept)

    def _only(self, kept: Sequence[int]) -> Section:
        if len(kept) == len(self.columns):
            return self
        return replace(
            self,
            columns=tuple(self.columns[place] for place in kept),
            rows=tuple(tuple(row[place] for place in kept) for row in self.rows),
        )

    def filled(self) -> Section:
        """The section without the columns that a pen is for: what a screen shows."""
        return self._only([place for place, column in enumerate(self.columns) if column.form != "blank"])

    def texts(self) -> list[list[str]]:
        """The rows as people read them, whole."""
        return [[column.show(cell) for column, cell in zip(self.columns, row)] for row in self.rows]

    def lines(self) -> tuple[str, ...]:
        """The items as paper shows them: a caution among them (it begins with '!

        ') says so in a word.
        """
        return tuple(f"caution: {item[2:]}" if item.startswith("! ") else item for item in self.items)

    def more(self) -> str:
        """A line that says how many rows are left out; '' if none is."""
        if self.of is None or self.of <= len(self.rows):
            return ""
        return f"The first {len(self.rows):,} of {self.of:,}; {self.whole}."


@frozen
class Answer:
    """An answer ready to be drawn: ``headline`` is the answer in a sentence and stands first; cautions
    travel with every drawing.

    ``weighed``: something is weighed by it, so its cautions stand before the first table in every file.
    ``blanks`` are what is written by hand at the head of its sheet.
    """

    kind: str
    title: str
    headline: str
    sections: tuple[Section, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    mood: Mood = ""
    weighed: bool = False
    blanks: tuple[str, ...] = ()

    @property
    def main(self) -> Section:
        """The table that stands for the answer as rows, in CSV and as a frame: the one marked so, else
        the first."""
        tables = [part for part in self.sections if part.kind == "table" and "data" in MEDIA[part.where]]
        return next((part for part in tables if part.main), tables[0] if tables else Section("table"))

    def on(self, medium: Medium) -> tuple[Section, ...]:
        """The sections that ``medium`` shows, without empty ones."""
        shown = (part.on(medium) for part in self.sections if medium in MEDIA[part.where])
        return tuple(part for part in shown if part.rows or part.items or part.picture)


def table(
    title: str,
    columns: Iterable[Column],
    rows: Iterable[Sequence[Cell]],
    notes: Iterable[str] = (),
    **more: Any,
) -> Section:
    """A table; see :class:`Section`."""
    return Section(
        "table", title, tuple(columns), tuple(tuple(row) for row in rows), notes=tuple(notes), **more
    )


def listing(title: str, items: Iterable[str], **more: Any) -> Section:
    """A list of lines."""
    return Section("list", title, items=tuple(items), **more)


def text(*paragraphs: str, title: str = "", **more: Any) -> Section:
    """Paragraphs; empty ones are left out."""
    return Section("text", title, items=tuple(filter(None, paragraphs)), **more)


def joined(first: Answer, *others: Answer) -> Answer:
    """One answer of several for a file: the sections one after another, each caution once."""
    each = (first, *others)
    cautions = dict.fromkeys(caution for one in each for caution in one.cautions)
    return replace(
        first,
        sections=tuple(section for one in each for section in one.sections),
        notes=tuple(note for one in each for note in one.notes),
        cautions=tuple(cautions),
    )
