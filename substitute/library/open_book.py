"""A library with a person's bench book open: what it teaches is laid over the tables, and laid anew when its
files change.

Another process may write in the same book (the command line beside the app). Every question looks at the
files' sizes and times first, which costs a few calls to the file system, and reads again only what changed.
A file with a fault in it stops no answer that can do without it: the fault is told in ``troubles``, and
raised where the file is what the answer stands on.
"""

from __future__ import annotations

import functools
import threading
import types
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from ..errors import InputError
from ..records import Tables
from ..tables.load import load_tables

if TYPE_CHECKING:
    from ..book.book import Book
    from ..book.overlay import Lessons
    from ..tables.names import Names

Stamp = tuple[tuple[str, int, int], ...]
Asking = TypeVar("Asking", bound=type)

ON_TABLES = ("materials", "space", "graph", "staged", "bench", "_likeness")  # built on what was learned
ON_FILE = (*ON_TABLES, "names", "exposure", "swaps_by_missing")  # built on the tables as well
WATCHED = ("book.csv", "bottles.csv", "labels.csv", "verdicts.csv")
FOLDERS = ("accords", "tables")


class OpenBook:
    """The tables of a library, with what the book teaches; ``turn`` counts how often that changed."""

    on_file: Tables  # without what a person's nose taught
    tables: Tables
    book: Book | None
    lessons: Lessons | None
    troubles: tuple[str, ...]

    if TYPE_CHECKING:

        @functools.cached_property
        def names(self) -> Names: ...

    def _open(self, tables: Tables, book: Book | None) -> None:
        self.on_file = self.tables = tables
        self.book, self.lessons, self.troubles, self.turn = book, None, (), 0
        self._labels: dict[str, str] = {}
        self._asking = threading.local()
        self._seen: Stamp = ()
        self._wrong_tables: tuple[str, ...] = ()
        if book is not None:
            self._read_book(book)

    def add_labels(self, labels: dict[str, str]) -> None:
        """Let names answer to a person's labels (label -> CAS number)."""
        self._labels.update(labels)
        self.names.add_labels(labels)

    def refresh(self) -> bool:
        """Look whether the book's files changed since they were read, and read anew what did; whether
        anything had. Every question does this first by itself."""
        if self.book is None:
            return False
        seen = stamp_of(self.book.folder)
        if seen == self._seen:
            return False
        if _part(seen, "tables/") != _part(self._seen, "tables/"):
            self._read_tables(self.book)
        self._read_book(self.book)
        return True

    def _read_tables(self, book: Book) -> None:
        """The person's own tables in the book anew, and with them everything that stands on tables."""
        book.__dict__.pop("tables", None)
        try:
            self.on_file = self.tables = load_tables(book.tables)
        except InputError as error:
            self._wrong_tables = (f"your book's own tables changed and are not taken: {_in_a_line(error)}",)
            return
        self._wrong_tables = ()
        self.lessons = None
        for built in ON_FILE:
            self.__dict__.pop(built, None)
        self.__dict__.get("_situations", {}).clear()
        self.names.add_labels(self._labels)

    def _read_book(self, book: Book) -> None:
        """Labels, bottles and verdicts anew; a file that cannot be read is told and left out."""
        self._seen = stamp_of(book.folder)
        self.troubles = self._wrong_tables
        files: tuple[tuple[str, Callable[[], object]], ...] = (
            ("labels.csv, your labels are not known", lambda: self.names.add_labels(book.labels())),
            (
                "bottles.csv, answers that ask what stands on your shelf stop here",
                lambda: book.name_bottles(self.names),
            ),
            ("verdicts.csv, what your nose said is not counted", self._learn),
        )
        for what, read in files:
            try:
                read()
            except InputError as error:
                told = f"your book has a fault in {what}: {_in_a_line(error)}"
                self.troubles = (*self.troubles, told)

    @property
    def taught(self) -> Lessons:
        """What the book's verdicts taught; raises where no book is open."""
        self._own_book().verdicts()  # a fault in them is raised where they are what is asked for
        assert self.lessons is not None
        return self.lessons

    def _learn(self) -> None:
        """Lay what the book's verdicts teach over the tables; what was built on the tables of before is
        built anew."""
        from ..book.overlay import lessons

        book = self._own_book()
        try:
            found = lessons(self.on_file, book.verdicts(), book.parts_of(self.names))
        except InputError:
            self._lay_over(lessons(self.on_file, []))
            raise
        self._lay_over(found)
        self._seen = stamp_of(book.folder)

    def _lay_over(self, found: Lessons) -> None:
        from ..book.overlay import lay_over

        if found == self.lessons:
            return
        self.lessons, self.tables = found, lay_over(self.on_file, found)
        self.turn += 1
        for built in ON_TABLES:
            self.__dict__.pop(built, None)

    def _from_own(self, given: object) -> tuple[str, ...]:
        """The note that an answer is from the book's own bottles, where no shelf was ``given``."""
        if given is not None or self.book is None:
            return ()
        return (
            f"from the bottles of your book, {self.book.about.name}; the shelf '-' is everything on file",
        )

    def _own_book(self) -> Book:
        if self.book is None:
            raise InputError(
                "no bench book is open: name its folder with `book`, or in the environment as "
                "SUBSTITUTE_BOOK; `substitute book new FOLDER` begins one"
            )
        return self.book


def _in_a_line(error: InputError) -> str:
    return str(error).replace("\n", "; ")


def stamp_of(folder: Path) -> Stamp:
    """(name, time, size) of the book's files that an open library has read."""
    found = [folder / name for name in WATCHED]
    for inner in FOLDERS:
        if (folder / inner).is_dir():
            found += sorted((folder / inner).iterdir())
    seen = []
    for path in found:
        try:
            about = path.stat()
        except OSError:
            continue  # not there, or gone while we looked
        seen.append((path.relative_to(folder).as_posix(), about.st_mtime_ns, about.st_size))
    return tuple(seen)


def _part(stamp: Stamp, start: str) -> Stamp:
    return tuple(one for one in stamp if one[0].startswith(start))


def looks_first(library: Asking) -> Asking:
    """Let every question of a library (a public method of the classes it is made of) refresh the book
    first; one that is asked by another question does not."""
    for base in library.__mro__[:-1]:
        for name, method in list(vars(base).items()):
            own = name.startswith("_") or name in ("refresh", "add_labels")
            if not own and isinstance(method, types.FunctionType) and name not in vars(library):
                setattr(library, name, _looking(method))
    return library


def _looking(method: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(method)
    def asked(self: Any, *args: Any, **options: Any) -> Any:
        inside = getattr(self._asking, "inside", False)
        if self.book is None or inside:
            return method(self, *args, **options)
        self.refresh()
        self._asking.inside = True
        try:
            return method(self, *args, **options)
        finally:
            self._asking.inside = False

    return asked
