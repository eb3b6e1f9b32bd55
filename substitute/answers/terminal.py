"""An answer drawn on a terminal: the answer first, then its tables, fitted to the width, then notes and
cautions.

A table is fitted in steps, each only if the one before was not enough: reasons become letters with the
reasons below; text is wrapped at spaces to at most two lines; columns that may go are left out and named; at
last text takes as many lines as it needs. No word is broken (a name longer than its column is parted after a
hyphen).
"""

from __future__ import annotations

import re
import shutil
import unicodedata
from collections.abc import Sequence
from itertools import product as every
from string import ascii_lowercase

from .sections import Answer, Cell, Column, Said, Section

NARROWEST, WIDEST = 40, 140
GAP = 2
LINES = 2  # that a row may take
LONG_WORD = 20  # from which a word may be parted after a hyphen
SPACE = re.compile(r"[ \t\n]+")
UNIT = re.compile(r"(?<=\d) (?=(%|g)(\W|$))")  # a number and its unit stay together
CODES = {"bold": "1", "dim": "2", "bad": "31;1", "doubt": "33", "gain": "32", "under": "4"}


def width_of(text: str) -> int:
    """Cells that ``text`` takes on a terminal: wide letters two, marks above letters none."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def pieces(word: str, room: int) -> list[str]:
    """A word in pieces that may stand on lines of their own: whole, or parted after hyphens if it has no
    room."""
    if width_of(word) <= room or len(word) <= LONG_WORD or "-" not in word:
        return [word]
    parts = word.split("-")
    return [part + "-" for part in parts[:-1]] + [parts[-1]]


def wrap(text: str, room: int) -> list[str]:
    """``text`` in lines of at most ``room`` cells, broken at spaces; a longer word stands alone on its
    line."""
    text = "".join(
        letter if letter.isprintable() else " " for letter in text
    )  # codes for a terminal do nothing
    lines: list[str] = [""]
    for word in SPACE.split(UNIT.sub("\N{NO-BREAK SPACE}", text.strip())):
        joint = " " if lines[-1] else ""
        for piece in pieces(word, room):
            if lines[-1] and width_of(lines[-1] + joint + piece) > room:
                lines.append(piece)
            else:
                lines[-1] += joint + piece
            joint = ""
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def paragraph(text: str, room: int, first: str = "", then: str = "") -> str:
    """``text`` wrapped under a hanging indent."""
    lines = wrap(text, max(room - len(then), 10))
    return "\n".join((first if number == 0 else then) + line for number, line in enumerate(lines))


class Terminal:
    """Draws answers ``width`` cells wide.

    ``why`` shows reasons whole; ``colour`` uses the terminal's own codes; ``more`` is said where something
    was shortened.
    """

    def __init__(self, width: int | None = None, *, why: bool = False, colour: bool = False, more: str = ""):
        found = width if width is not None else shutil.get_terminal_size((100, 40)).columns
        self.width = max(NARROWEST, min(found, WIDEST))
        self.why = why
        self.colour = colour
        self.more = more
        self._shortened = False

    def draw(self, answer: Answer) -> str:
        """The whole answer."""
        blocks = [self._ink(paragraph(answer.headline, self.width), "bold", answer.mood)]
        blocks += [self._section(section) for section in answer.on("terminal")]
        if self._shortened and self.more:
            blocks.append(self._ink(self.more, "dim"))
        if answer.notes:
            blocks.append("\n".join(paragraph(note, self.width, "", "  ") for note in answer.notes))
        if answer.cautions:
            told = [self._ink(paragraph(one, self.width, "! ", "  "), "doubt") for one in answer.cautions]
            blocks.append("\n".join(told))
        return "\n\n".join(filter(None, blocks))

    def _ink(self, text: str, *moods: str) -> str:
        codes = ";".join(CODES[mood] for mood in moods if mood in CODES)
        if not self.colour or not codes or not text:
            return text
        return "\n".join(f"\x1b[{codes}m{line}\x1b[0m" for line in text.split("\n"))

    def _section(self, section: Section) -> str:
        out = [self._ink(paragraph(section.title, self.width), "bold")] if section.title else []
        if section.kind == "table":
            out += self._table(section)
        elif section.kind == "list":
            items = section.items if self.why else section.items[: section.brief]
            self._shortened |= len(items) < len(section.items)
            out += [self._item(item) for item in items]
        else:
            out += [paragraph(item, self.width) for item in section.items]
        out += [paragraph(note, self.width, "", "  ") for note in (section.more(), *section.notes) if note]
        return "\n".join(out)

    def _item(self, item: str) -> str:
        if item.startswith("! "):
            return self._ink(paragraph(item[2:], self.width, "  ! ", "    "), "doubt")
        return paragraph(item, self.width, "  - ", "    ")

    # -- tables ------------------------------------------------------------------------------------

    def _table(self, section: Section) -> list[str]:
        grid = Grid(section, why=self.why)
        self._shortened |= grid.shortened
        widths = grid.fit(self.width)
        out = [self._ink(line, "under") for line in grid.lines(grid.heads, widths, bottom=True)]
        for number, cells in enumerate(grid.cells):
            if number and cells == grid.cells[number - 1]:
                continue  # the same in all that is shown here
            lines = grid.lines(cells, widths)
            mood = next((c.mood for c in grid.rows[number] if isinstance(c, Said) and c.mood), "")
            out += [self._ink(line, mood) for line in lines]
        for key, reason in grid.keyed.items():
            out.append(paragraph(reason, self.width, f"  {key:<2} ", " " * 5))
        if grid.left_out:
            told = f"No room for: {', '.join(grid.left_out)} (a wider window, or CSV)."
            out.append(self._ink(paragraph(told, self.width), "dim"))
        return out


class Grid:
    """A table's texts while they are fitted to a width."""

    def __init__(self, section: Section, *, why: bool = False):
        self.why = why
        self.columns: list[Column] = list(section.columns)
        self.rows: list[tuple[Cell, ...]] = list(section.rows)
        self.keyed: dict[str, str] = {}
        self.left_out: list[str] = []
        self.shortened = False
        for place in reversed(range(len(self.columns))):
            if not any(self._text(place, row[place]) for row in self.rows):
                self._remove(place)
        self._lay()

    def _text(self, place: int, cell: Cell) -> str:
        shown = self.columns[place].show(cell)
        if isinstance(cell, Said) and cell.short and cell.short != shown and not self.why:
            shown, self.shortened = cell.short, True
        return " ".join("".join(one if one.isprintable() else " " for one in shown).split())

    def _remove(self, place: int) -> None:
        self.columns.pop(place)
        self.rows = [row[:place] + row[place + 1 :] for row in self.rows]

    def _lay(self) -> None:
        self.heads = [f"{c.name or c.key.replace('_', ' ')} {c.unit}".strip() for c in self.columns]
        self.cells = [[self._text(place, cell) for place, cell in enumerate(row)] for row in self.rows]

    def _natural(self) -> list[int]:
        texts = [self.heads, *self.cells]
        return [max(width_of(row[place]) for row in texts) for place in range(len(self.columns))]

    @staticmethod
    def _total(widths: Sequence[int]) -> int:
        return sum(widths) + GAP * (len(widths) - 1)

    def fit(self, width: int) -> list[int]:
        """Widths of the columns, so that the table is no wider than ``width`` if that can be."""
        while True:
            widths = self._natural()
            if self._total(widths) <= width:
                return widths
            if self._key_notes():
                continue
            widths = self._shrunk(widths, width, LINES)
            if self._total(widths) <= width:
                return widths
            if not self._drop_some():
                return self._shrunk(self._natural(), width, 99)

    def _key_notes(self) -> bool:
        """Reasons as letters; whether there was one to change."""
        for place, column in enumerate(self.columns):
            if column.form == "note":
                letters: dict[str, str] = {}
                names = (a + b for a, b in every(("", *ascii_lowercase), ascii_lowercase))
                for row in self.cells:
                    if row[place] and row[place] not in letters:
                        letters[row[place]] = next(names)
                cells = [letters.get(row[place], "") for row in self.cells]
                self.keyed |= {letter: reason for reason, letter in letters.items()}
                self.columns[place] = Column(column.key, column.name, form="word")
                self.rows = [(*row[:place], cell, *row[place + 1 :]) for row, cell in zip(self.rows, cells)]
                self._lay()
                return True
        return False

    def _drop_some(self) -> bool:
        """The columns with the highest ``drop`` go together; whether there were any."""
        most = max(column.drop for column in self.columns)
        if not most:
            return False
        gone = [place for place, column in enumerate(self.columns) if column.drop == most]
        self.left_out[:0] = [self.heads[place] for place in gone]
        for place in reversed(gone):
            self._remove(place)
        self._lay()
        return True

    def _shrunk(self, widths: list[int], width: int, lines: int) -> list[int]:
        """Text columns narrowed, the widest first, while no cell takes more than ``lines``; heads may be
        wrapped too."""
        widths = list(widths)
        least = [self._least(place, lines) for place in range(len(widths))]
        while self._total(widths) > width:
            place = max(range(len(widths)), key=lambda p: widths[p] if widths[p] > least[p] else -1)
            if widths[place] <= least[place]:
                break
            widths[place] -= 1
        return widths

    def _least(self, place: int, lines: int) -> int:
        """The narrowest that a column may be; heads may be wrapped whatever stands below."""
        column = [row[place] for row in self.cells]
        heads = max(width_of(word) for word in self.heads[place].split() or [""])
        whole = max(heads, max((width_of(text) for text in column), default=0))
        last_resort = lines > LINES  # then what stands in for a number may be wrapped too
        if self.columns[place].form != "text" and not (last_resort and self.columns[place].is_number):
            return whole
        for room in range(max(heads, 8), whole):
            if all(
                len(broken) <= lines and max(map(width_of, broken)) <= room
                for broken in (wrap(text, room) for text in column)
            ):
                return room
        return whole

    def lines(self, cells: Sequence[str], widths: Sequence[int], *, bottom: bool = False) -> list[str]:
        """One row as lines; numbers stand to the right, heads at the bottom of theirs."""
        wrapped = [wrap(cell, room) for cell, room in zip(cells, widths)]
        tall = max(map(len, wrapped))
        out = []
        for number in range(tall):
            parts = []
            for place, (column, own) in enumerate(zip(self.columns, wrapped)):
                at = number - (tall - len(own)) if bottom else number
                text = own[at] if 0 <= at < len(own) else ""
                blank = " " * max(0, widths[place] - width_of(text))
                parts.append(blank + text if column.is_number else text + blank)
            out.append((" " * GAP).join(parts).rstrip())
        return out


__all__ = ["Terminal", "width_of", "wrap"]
