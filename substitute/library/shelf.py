"""Questions about a shelf: what it makes, what to buy, what lifts an accord, how to teach it."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from ..errors import InputError
from ..records import Accord, Shelf

if TYPE_CHECKING:
    from ..shelf.listing import ShelfList

from .asked import Asked, PlanOptions, Wished, split
from .core import AccordSource, ShelfSource
from .portfolio import PortfolioQuestions


class ShelfQuestions(PortfolioQuestions):
    """What a shelf makes, and what to teach with it."""

    def plan(
        self,
        accords: Any,
        *,
        shelf: ShelfSource = None,
        prices: ShelfSource = None,
        progress: Any = None,
        **options: Unpack[PlanOptions],
    ) -> Any:
        """What a shelf makes of ``accords`` (a folder, or accords), and what to buy; see
        :func:`substitute.shelf.plan.plan`.

        ``prices`` is a table like a shelf's: material, price_per_gram and grams of one purchase.
        ``progress(done, of, what)`` hears how far it is. With a product and a dose the accords are made
        within its known limits, and nothing counts for more than they let through.
        """
        from ..rules.cautions import of_situation
        from ..shelf.choice import rules_for_plan
        from ..shelf.making import Benchwork
        from ..shelf.plan import plan
        from ..shelf.wish import Wish, check_wish

        wished, where = split(options, Wished, Asked)
        for word in ("must", "must_not"):
            wished[word] = tuple(dict.fromkeys(self.find(text).id for text in wished.get(word, ())))
        wish = Wish(**wished)
        check_wish(self.tables, wish, shelf is not None or self.book is not None)
        situation = self.situate(**where)
        held = self.shelf_for(False if wish.from_nothing and shelf is None else shelf)
        found, rejected, folder = self._to_make(accords)
        written = folder is not None and held is not None and not isinstance(shelf, Shelf)
        command = _adjusting(folder, shelf, where) if folder is not None and written else _in_no_file
        answer = plan(
            self.bench,
            found,
            shelf=held,
            wish=wish,
            rules=rules_for_plan(situation),
            work=Benchwork(self._adjusted_many(where), command, progress),
            prices=self.read_shelf(prices),
            rejected=rejected,
        )
        return replace(answer, cautions=of_situation(situation))

    def _to_make(self, accords: Any) -> tuple[list[Accord], list[tuple[str, str]], Path | None]:
        """The accords of a plan, what could not be read, and their folder: of one the accords are made, not
        their trials."""
        from ..accords.trials import trial_number

        found, rejected, folder = self._accords_of(accords)
        if folder is not None:
            found = [one for one in found if trial_number(one.name) == 1] or found
        return found, rejected, folder

    def _adjusted_many(self, where: Mapping[str, Any]) -> Any:
        """:meth:`adjust` to a shelf for many accords: stand-ins are ranked once a shelf, and the range
        over naturals' constituents is left out."""
        from functools import cache

        from ..accords.adjust import adjust
        from ..accords.gaps import Wanted

        ranked: dict[Shelf, Callable[[str, str], list[tuple[str, float | None]]]] = {}
        wanted = Wanted(rivals=0)

        def adjusted(accord: Accord, shelf: Shelf) -> Any:
            situation = self.situate(shelf=shelf, **where)
            if shelf not in ranked:
                ranked[shelf] = cache(self.stand_ins_for_adjust(situation))
            return adjust(self.staged, accord, situation, ranked[shelf], wanted)

        return adjusted

    def lift(
        self,
        accord: AccordSource,
        *,
        shelf: ShelfSource = None,
        top: int = 3,
        **asked: Unpack[Asked],
    ) -> Any:
        """What lifts the line of an accord that carries most weakly; see
        :func:`substitute.shelf.lift.lift`."""
        from ..shelf.lift import lift

        if not 1 <= top <= 50:
            raise InputError(f"`top` {top} is out of range: allowed is 1 to 50")
        found = lift(
            self.bench,
            self.read_accord(accord, fill=True),
            shelf=self.shelf_for(shelf),
            top=top,
            situation=self.situate(**asked),
        )
        return replace(found, notes=(*found.notes, *self._from_own(shelf)))

    def lesson(
        self,
        accord: AccordSource,
        intent: str | None = None,
        *,
        shelf: ShelfSource = None,
        places: int | None = None,
        budget: float | None = None,
    ) -> Any:
        """An accord to teach by, to a class of ``places`` if that is given; see
        :func:`substitute.shelf.lesson.lesson`.

        ``intent`` is a line on what it is to smell of, by default the accord's own.
        """
        from ..accords.weighing import CAUTIONS
        from ..rules.cautions import of_accord
        from ..shelf.lesson import lesson

        accord, shelf = self.read_accord(accord, fill=True), self.shelf_for(shelf)
        found = lesson(
            self.bench,
            accord,
            accord.intent if intent is None else intent,
            shelf=shelf,
            swapped=lambda name: self.swap(name, shelf=shelf, accord=accord, top=3),
            places=places,
            budget=budget,
        )
        new = {row["id"] for row in found.room.batch}
        return replace(
            found,
            cautions=(*of_accord(self.situate(), {**accord.active(), **dict.fromkeys(new, 1.0)}), *CAUTIONS),
        )

    def shelf_list(self, shelf: Any) -> ShelfList:
        """A shelf to print: materials with cautions, and dilutions to prepare."""
        from ..shelf.listing import shelf_list

        held = self.shelf_for(shelf)
        if held is None:
            raise InputError("`shelf` is missing: the list is of what stands on one")
        return shelf_list(self.tables, held, self.status())


def _adjusting(folder: Path, shelf: Any, where: Mapping[str, Any]) -> Callable[[str], str | None]:
    """A function (name of an accord) -> the command that adjusts its file to the shelf's; ``None`` for a name
    that has no file in the folder."""
    from ..tables.formulas import accord_files

    files = {path.stem: path for path in accord_files(folder)}
    asked = [(word, where.get(word)) for word in ("product", "category", "dose", "market", "on")]
    asked += [("limits", name) for name in where.get("limits", ())]
    flags = [text for word, value in asked if value is not None for text in (f"--{word}", f"{value}")]

    def command(name: str) -> str | None:
        if name not in files:
            return None
        return shlex.join(["substitute", "adjust", str(files[name]), "--shelf", str(shelf), *flags])

    return command


def _in_no_file(_: str) -> None:
    """Where accords or shelf stand in no file, no command can name them."""
