"""Questions at the balance: accords weighed and priced, and a person's own files checked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from ..shown import Plain
from .accords import AccordQuestions
from .core import AccordSource, ShelfSource

if TYPE_CHECKING:
    from ..tables.check_files import Checked


class WeighQuestions(AccordQuestions):
    """Accords weighed and priced."""

    def weigh(
        self,
        accord: AccordSource,
        *,
        grams: float,
        balance: float = 0.01,
        shelf: ShelfSource = None,
        take: bool = False,
        stretch: bool = False,
    ) -> Any:
        """A weighing sheet in solutions, and a strip sheet, with what the batch costs.

        ``stretch`` lets the batch weigh more, so that the solutions at hand fit. ``take`` takes what is
        weighed from the book's bottles, and puts what is left of solutions made for it among them. Raises
        :class:`~substitute.errors.InputError`, and takes nothing, if a bottle does not hold enough.
        """
        from ..accords.weigh import weigh
        from ..rules.cautions import of_accord

        record = self.read_accord(accord)
        if take and shelf is not None:
            raise InputError("`take` is from the bottles of your own book; leave `shelf` out")
        found = weigh(
            record, self.tables, grams=grams, balance=balance, shelf=self.shelf_for(shelf), stretch=stretch
        )
        taken = self._take(found, found.total_g) if take else ()
        cautions = (*of_accord(self.situate(), record.active()), *found.cautions)
        return replace(found, cautions=cautions, taken=taken)

    def sheets(
        self,
        accords: Any,
        out: str | Path,
        *,
        grams: float,
        balance: float = 0.01,
        shelf: ShelfSource = None,
        kind: str = "html",
        force: bool = False,
    ) -> tuple[list[Path], list[tuple[str, str]]]:
        """A weighing sheet of every accord of a folder, written into the folder ``out``; (name, message)
        of those that cannot be read.

        ``kind`` is html, xlsx, md or csv. Nothing is written if a sheet is there already, unless
        ``force``.
        """
        from ..answers import lay_out
        from ..answers.files import ENDINGS, write_answer

        if f".{kind}" not in ENDINGS:
            known = ", ".join(one[1:] for one in ENDINGS)
            raise InputError(f"`kind` '{kind}' is not a kind of sheet: one of {known}")
        found, rejected, _ = self._accords_of(accords)
        folder = Path(out)
        targets = [folder / f"{accord.name}.{kind}" for accord in found]
        there = [path for path in targets if path.exists()]
        if there and not force:
            raise InputError(f"{there[0]}: exists already; another folder, or `force` to write over it")
        laid = []
        for accord in found:
            try:
                answer = self.weigh(accord, grams=grams, balance=balance, shelf=shelf).to_dict()
            except InputError as error:
                rejected.append((accord.name, str(error)))
            else:
                laid.append((folder / f"{accord.name}.{kind}", lay_out("weigh", answer)))
        if not laid:
            raise InputError(
                f"no accord could be weighed: {rejected[0][0]}: {rejected[0][1]}"
                if rejected
                else "no accords were given"
            )
        folder.mkdir(parents=True, exist_ok=True)
        return [write_answer(path, answer, force=force) for path, answer in laid], list(rejected)

    def _take(self, weighed: Any, grams: float) -> tuple[str, ...]:
        """Take a weighing from the book's bottles; what was taken, in words."""
        from ..book.desk import draws_of, told_moves

        book = self._own_book()
        names = {id: material.name for id, material in self.tables.materials.items()}
        draws = draws_of(weighed, book.bottles(self.names), self.tables)
        return told_moves(book.take(draws, self.names, accord=weighed.accord, batch=grams, titles=names))

    def cost(self, *accords: AccordSource, grams: float = 10.0, shelf: ShelfSource = None) -> Plain:
        """What ``grams`` of each accord cost by the shelf's prices, and all together; a missing price
        makes a range.

        Of a folder the accords are priced, not their trials.
        """
        from ..accords.balance import MOST_GRAMS, check_number
        from ..accords.cost import cost_of, scale_of, total_of
        from ..accords.trials import trial_number

        check_number("`grams`", grams, 0.0, MOST_GRAMS)
        held = self.shelf_for(shelf)
        scale = scale_of(self.tables, held)
        found, rejected = [], []
        for source in accords:
            if isinstance(source, (str, Path)) and Path(source).is_dir():
                read, wrong = self.read_accords(source)
                found += [accord for accord in read if trial_number(accord.name) == 1]
                rejected += wrong
            else:
                found.append(self.read_accord(source))
        costs = {
            accord.name: cost_of(
                self.tables,
                held,
                [(line.material, line.strength, line.parts / accord.total * grams) for line in accord.lines],
                scale,
            )
            for accord in found
        }
        notes = [f"{name}: not read, {message}" for name, message in rejected]
        if any(cost.unpriced for cost in costs.values()):
            notes.append(
                "A range where a price is missing: rough words for prices, scaled by the prices of your own "
                "bottles; no quote."
            )
        rows = [{"accord": name, "grams": grams, **cost.to_dict()} for name, cost in costs.items()]
        return Plain("cost", {"accords": rows, "total": total_of(costs).to_dict(), "notes": notes})

    def check(self, *files: str | Path, fix: str | None = None, force: bool = False) -> Checked:
        """Everything wrong with a person's own files; see
        :func:`substitute.tables.check_files.check_files`."""
        from ..book.check import check_book, is_book
        from ..tables.check_files import Checked, check_files

        books = [Path(file) for file in files if is_book(Path(file))]
        found = [check_book(folder, self.names) for folder in books]
        rest = [file for file in files if Path(file) not in books]
        if rest or not books:
            found.append(check_files(map(str, rest), self.names, tables=self.tables, fix=fix, force=force))
        return Checked(
            tuple(line for one in found for line in one.lines),
            tuple(complaint for one in found for complaint in one.complaints),
        )
