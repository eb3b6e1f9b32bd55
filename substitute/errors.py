"""What can go wrong, by whose fault, and how it is said.

Every error that a person can cause derives from :class:`SubstituteError` and carries the exit code of the
command line. Messages are one line: file, row, column, what is wrong, what is allowed, the nearest name.
"""

from __future__ import annotations

from collections.abc import Iterable

from .frozen import frozen


class SubstituteError(Exception):
    """Base of all errors raised on purpose; ``exit_code`` is what a command ends with."""

    exit_code = 3


class InputError(SubstituteError, ValueError):
    """The input is at fault: a file, a name, a number, an option."""

    exit_code = 2


class NotFound(InputError, LookupError):
    """A name that no material, descriptor or set answers to.

    ``suggestions`` are what may be meant, likeliest first; ``note`` says that the name is a word for a
    smell, and the suggestions are what gives it.
    """

    def __init__(self, message: str, suggestions: Iterable[str] = (), *, note: bool = False):
        super().__init__(message)
        self.suggestions = tuple(suggestions)
        self.note = note


class Several(InputError):
    """A name of several materials; ``suggestions`` are their ids, likeliest first."""

    def __init__(self, message: str, suggestions: Iterable[str] = ()):
        super().__init__(message)
        self.suggestions = tuple(suggestions)


class NothingLegal(SubstituteError):
    """No formula obeys the limits; the record that explains it is in ``result``."""

    exit_code = 1

    def __init__(self, message: str, result: object = None):
        super().__init__(message)
        self.result = result


@frozen
class Complaint:
    """One thing wrong in a file: where it stands and what would be right; ``suggestions`` are ids,
    likeliest first."""

    file: str
    row: int | None
    column: str | None
    message: str
    suggestions: tuple[str, ...] = ()

    def __str__(self) -> str:
        where = [self.file]
        if self.row is not None:
            where.append(f"row {self.row}")
        if self.column:
            where.append(f"column {self.column}")
        return f"{', '.join(where)}: {self.message}"


class TableError(InputError):
    """One or more complaints about a file; the message is the first one and how many follow."""

    def __init__(self, complaints: Iterable[Complaint]):
        self.complaints = tuple(complaints)
        more = len(self.complaints) - 1
        tail = f" (and {more} more; `substitute check` lists them)" if more else ""
        super().__init__(f"{self.complaints[0]}{tail}")


def complain(
    file: object, row: int | None, column: str | None, message: str, suggestions: Iterable[str] = ()
) -> TableError:
    """A :class:`TableError` with a single complaint, ready to raise."""
    return TableError([Complaint(str(file), row, column, message, tuple(suggestions))])
