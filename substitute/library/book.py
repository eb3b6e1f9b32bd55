"""The bench book: what a nose said, and what was learned from it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from ..errors import InputError
from ..records import Accord
from ..shown import Plain

if TYPE_CHECKING:
    from ..book.book import Book
    from ..book.records import Verdict
    from ..book.shown import BookShown

from .asked import LineVerdicts, SwapVerdict, TriedOptions, split
from .core import ShelfSource
from .shelf import ShelfQuestions


class BookQuestions(ShelfQuestions):
    """A person's bench book."""

    def tried(
        self,
        what: Any,
        *,
        instead_of: str | None = None,
        trial: int | None = None,
        elsewhere: bool = False,
        **options: Unpack[TriedOptions],
    ) -> Any:
        """What the nose said, put down in the bench book, and what it changes
        (:class:`substitute.book.shown.TriedAnswer`).

        With ``instead_of``, ``what`` is a stand-in tried in the place of that material (several as
        ``a:0.5 + b:0.3`` or a mapping, with the grams of each for 1 g): ``nearness``
        (near, fair, far, not_smelled), ``amount`` (too_strong, right, too_weak) with ``degree``
        (slightly, clearly, far) at ``used`` grams, ``needs`` the grams that are right, both for 1 g. Else
        ``what`` is an accord of the book, with lines ``too_strong``, ``too_weak``, ``right`` in
        ``trial``. ``words`` are the person's own; what is plain in them is read.

        Raises :class:`~substitute.errors.InputError` for what was never tried: no bottle of it, no such
        trial, no such line.
        """
        from ..book.desk import Spoken, accord_verdicts
        from ..book.shown import TriedAnswer, moved
        from ..book.stood_in import swap_verdict
        from ..book.tongues import in_english

        book = self._own_book()
        verdict, lines = split(options, SwapVerdict, LineVerdicts)
        verdict["words"] = verdict.get("words", "").strip()
        spoken = Spoken(**verdict, english=in_english(self.tables, verdict["words"]))
        if instead_of is not None:
            if any(lines.values()) or trial is not None:
                raise InputError("`trial` and verdicts on lines are of an accord; of a swap say `amount`")
            pair = instead_of, what
            one, notes = swap_verdict(
                book, self.names, self.tables, pair, spoken, elsewhere=elsewhere, usual=self._usual
            )
            said: tuple[Verdict, ...] = (one,)
        else:
            if spoken.amount or spoken.used is not None or spoken.needs is not None:
                raise InputError("an amount is of a swap: name the material it was tried `instead_of`")
            said, notes = accord_verdicts(book, self.names, what, spoken, lines, trial)
        before = self.taught
        kept = book.add_verdicts(said)
        self._learn()
        return TriedAnswer(kept, moved(self.on_file, before, self.taught), notes)

    def _usual(self, missing: str, stand_in: str) -> float | None:
        """The grams that answers name for a pair today."""
        from ..book.learn import on_file

        amount = on_file(self.tables)(missing, stand_in)
        return amount.grams if amount else None

    def book_forget(self, id: int) -> Any:
        """Take a verdict back; what it changed goes back with it."""
        from ..book.shown import TriedAnswer, moved

        before = self.taught
        one = self._own_book().take_back(id)
        self._learn()
        return TriedAnswer((one,), moved(self.on_file, before, self.taught))

    def book_show(self) -> BookShown:
        """What stands in the book, and what was learned from what
        (:class:`substitute.book.shown.BookShown`)."""
        from ..book.shown import show_book

        book = self._own_book()
        return show_book(book, self.on_file, self.taught, book.bottles(self.names))

    def book_undo(self) -> Plain:
        """Put back what the last weighing took from the bottles."""
        book = self._own_book()
        moves = book.undo(self.names)
        left = {bottle.label: bottle.grams for bottle in book.bottles(self.names)}
        rows = [{"label": m.label, "grams": m.grams, "left": left.get(m.label)} for m in moves]
        return Plain("taken", {"id": moves[0].id, "accord": moves[0].accord, "moves": rows, "notes": []})

    def book_new(
        self, folder: str | Path, *, name: str = "", shelf: ShelfSource = None, accords: Any = None
    ) -> Book:
        """A new book (:class:`substitute.book.book.Book`), with the bottles of a ``shelf`` and the
        ``accords`` of a folder to begin with."""
        from ..book.book import Book
        from ..book.desk import files_of_accords

        stock = self.read_shelf(shelf)
        files = files_of_accords(accords) if accords is not None else {}
        names = {id: material.name for id, material in self.tables.materials.items()}
        return Book.begin(folder, name=name, shelf=stock, names=names, accords=files)

    def book_add(self, *files: str | Path) -> list[Path]:
        """Take accords, each with its trials, into the book."""
        from ..accords.trial_files import read_family
        from ..book.desk import texts_of

        book = self._own_book()
        texts: dict[str, str | bytes] = {}
        for file in files:
            path = Path(file)
            family = read_family(path, self.names)  # complains of what cannot be read
            texts.update(texts_of(path.parent, [trial.name for trial in family.trials]))
        return book.add_accords(texts)

    def book_keep(self, accord: Accord) -> Path:
        """The file of a formula among the book's accords, put there if it is not: so that what is said of
        an accord that no file holds yet stays with it."""
        from ..book.formulas import keep_formula

        book = self._own_book()
        return book.accord_of(keep_formula(book, self.names, accord))

    def book_find(self, text: str) -> Plain:
        """Accords and trials of the book by what was said of them, by name or by material."""
        from ..book.search import find_in

        return Plain("found", find_in(self._own_book(), self.names, self.tables, text))
