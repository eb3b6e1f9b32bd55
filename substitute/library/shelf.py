"""Questions about a shelf: what it makes, what to buy, what lifts an accord, how to teach it."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from ..records import Accord, Shelf

if TYPE_CHECKING:
    from ..shelf.listing import ShelfList

from .core import AccordSource, Day, ShelfSource
from .portfolio import PortfolioQuestions


class ShelfQuestions(PortfolioQuestions):
    """What a shelf makes, and what to teach with it."""

    def plan(
        self,
        accords: Any,
        *,
        shelf: ShelfSource = None,
        buy: int | None = None,
        from_nothing: int | None = None,
        budget: float | None = None,
        must: Sequence[str] = (),
        must_not: Sequence[str] = (),
        include_controlled: bool = False,
        prices: ShelfSource = None,
        exact: bool = True,
        progress: Any = None,
        product: str | None = None,
        category: str | None = None,
        dose: float | None = None,
        market: str | None = None,
        on: Day = None,
    ) -> Any:
        """What a shelf makes of ``accords`` (a folder, or accords), and what to buy; see
        :func:`substitute.shelf.plan.plan`.

        ``prices`` is a table like a shelf's: material, price_per_gram and grams of one purchase.
        ``progress(done, of, what)`` hears how far it is. With a product and a dose the accords are made
        within its known limits, and nothing counts for more than they let through.
        """
        from ..accords.trials import trial_number
        from ..rules.cautions import of_situation
        from ..shelf.plan import Benchwork, plan, rules_for_plan
        from ..shelf.wish import Wish, check_wish

        wish = Wish(
            buy,
            from_nothing,
            budget,
            tuple(dict.fromkeys(self.find(text).id for text in must)),
            tuple(self.find(text).id for text in must_not),
            include_controlled,
            exact,
        )
        check_wish(self.tables, wish, shelf is not None or self.book is not None)
        where: dict[str, Any] = {
            "product": product,
            "category": category,
            "dose": dose,
            "market": market,
            "on": on,
        }
        situation = self.situate(**where)
        record = self.shelf_for(False if from_nothing and shelf is None else shelf)
        found, rejected, folder = self._accords_of(accords)
        if folder is not None:  # of a folder the accords are made, not their trials
            found = [one for one in found if trial_number(one.name) == 1] or found
        files = (
            self._accord_files(folder)
            if folder is not None and record is not None and not isinstance(shelf, Shelf)
            else {}
        )

        flags = [
            text for word, value in where.items() if value is not None for text in (f"--{word}", f"{value}")
        ]

        def command(name: str) -> str | None:
            return (
                shlex.join(["substitute", "adjust", str(files[name]), "--shelf", str(shelf), *flags])
                if name in files
                else None
            )

        answer = plan(
            self.bench,
            found,
            shelf=record,
            wish=wish,
            rules=rules_for_plan(situation),
            work=Benchwork(self._adjusted_many(where), command, progress),
            prices=self.read_shelf(prices),
            rejected=rejected,
        )
        return replace(answer, cautions=of_situation(situation))

    @staticmethod
    def _accord_files(folder: Path) -> dict[str, Path]:
        """Name -> file of the accords of a folder."""
        from ..tables.formulas import accord_files

        return {path.stem: path for path in accord_files(folder)}

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
        product: str | None = None,
        category: str | None = None,
        dose: float | None = None,
        market: str | None = None,
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
            situation=self.situate(product=product, category=category, dose=dose, market=market),
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
