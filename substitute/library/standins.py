"""Questions about materials: what stands in, what lies near, what is on file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Unpack

from ..errors import InputError
from ..records import Asked

if TYPE_CHECKING:
    from ..rules.situation import Situation
    from ..standins.answer import SwapAnswer
    from ..standins.card import Card
    from ..standins.neighbours import Neighbourhood

from .core import AccordSource, Day, ShelfSource
from .rules import RuleQuestions


class StandInQuestions(RuleQuestions):
    """What stands in for a material, and what lies near it."""

    def swap(
        self,
        material: str,
        *,
        because: str = "unavailable",
        shelf: ShelfSource = None,
        blend: int = 1,
        accord: AccordSource | None = None,
        top: int = 5,
        **asked: Unpack[Asked],
    ) -> SwapAnswer:
        """What stands in for ``material``; see :func:`substitute.standins.swap.swap`."""
        from ..standins.ask import Ask
        from ..standins.swap import swap

        for name, value, most in (("`blend`", blend, 6), ("`top`", top, 1000)):
            if not 1 <= value <= most:
                raise InputError(f"{name} {value} is out of range: allowed is 1 to {most}")
        missing = self.find(material).id
        given = shelf
        shelf, accord = (
            self.shelf_for(shelf),
            self.read_accord(accord, fill=True) if accord is not None else None,
        )
        situation = self.situate(because=because, shelf=shelf, **asked)
        found = swap(self.bench, Ask(missing, situation, because, accord), blend=blend, top=top)
        return replace(found, notes=(*found.notes, *self._from_own(given)))

    def neighbours(self, name: str, *, to: str | None = None, top: int = 10) -> Neighbourhood:
        """What lies near a material, descriptor or constituent, and the path to another."""
        from ..standins.neighbours import neighbours

        if not 1 <= top <= 1000:
            raise InputError(f"`top` {top} is out of range: allowed is 1 to 1000")
        return neighbours(self.tables, self.space, self.names, name, to=to, top=top)

    def stand_ins_for_adjust(
        self, situation: Situation, top: int = 14
    ) -> Callable[[str, str], list[tuple[str, float | None]]]:
        """A function (material, because) -> [(id, grams per gram)] of ranked single stand-ins; what law
        holds only from the shelf."""
        from ..standins.ask import Ask
        from ..standins.swap import swap

        def ranked(material: str, because: str) -> list[tuple[str, float | None]]:
            answer = swap(self.bench, Ask(material, situation, because), top=top)
            return [
                (s.members[0].id, s.members[0].amount.grams if s.members[0].amount else None)
                for s in answer.stand_ins
                if len(s.members) == 1 and (situation.shelf or not situation.status(s.members[0].id))
            ]

        return ranked

    def show(self, material: str, *, market: str | None = None, on: Day = None) -> Card:
        """A material's card; see :func:`substitute.standins.card.card`."""
        from ..standins.card import card

        return card(
            self.tables,
            self.situate(market=market, on=on),
            self.swaps_by_missing,
            self.find(material).id,
        )
