"""What the texts of a portfolio's material cells stand for: materials, other accords of it, or nothing on
file."""

from __future__ import annotations

from collections.abc import Container
from contextlib import suppress

import numpy as np

from ..errors import InputError, NotFound, Several
from ..records import Accord
from .formulas import accord_from_rows
from .names import Names
from .readings import Reading
from .rows import Row

MOST_HINTS = (
    100  # unknown names beyond these are reported without the nearest ones: looking for those takes long
)


class KnownNames:
    """:class:`~substitute.tables.names.Names` with every answer, good or bad, worked out once."""

    def __init__(self, names: Names):
        self._names, self._hints = names, 0
        self._answers: dict[str, Reading | InputError] = {}

    def quick(self, text: str) -> Reading:
        """How the text is read, or the error without nearest names."""
        return self._names.read(text, hints=False)

    def refusal(self, text: str) -> NotFound | Several | None:
        """The error for a text that no material answers to; ``None`` for what is read, or wrong in
        another way."""
        if text not in self._answers:
            with suppress(InputError):
                self.read(text)
        answer = self._answers[text]
        return answer if isinstance(answer, NotFound | Several) else None

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


class TextCodes(dict[str, int]):
    """Text of a material cell -> its column; unusual texts get -2, -3, … and wait in ``odd``."""

    def __init__(self, names: KnownNames, columns: dict[str, int]):
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

    def refused(self, known: Container[str]) -> np.ndarray:
        """By minus its code, whether a text is a name that nobody knows: no material, and none of the
        accords ``known``."""
        return np.array(
            [
                False,
                False,
                *(
                    text in self.unknown and text not in known and self._names.refusal(text) is not None
                    for text in self.odd
                ),
            ]
        )

    def text(self, code: int) -> str:
        """The unusual text of a code below -1."""
        return self.odd[-code - 2]


class Bases:
    """Accords that other accords name as a material, each worked out once; circles are refused by
    name."""

    def __init__(self, rows: dict[str, list[Row]], names: KnownNames, broken: dict[str, InputError]):
        self._rows: dict[str, list[Row]] = {**{name: [] for name in broken}, **rows}
        self._names = names
        self._done: dict[str, Accord | InputError] = dict(broken)

    def __contains__(self, text: object) -> bool:
        return text in self._rows

    def find(self, text: str) -> Accord | None:
        """The accord of this name, ``None`` if there is none.

        Raises what is wrong with it.
        """
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
        opened: dict[str, None] = {name: None}
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
