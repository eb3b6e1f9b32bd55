"""What is asked: one missing material, in a situation, because of something, for an accord."""

from __future__ import annotations

from collections.abc import Mapping

from ..frozen import frozen
from ..records import Accord, Shelf
from ..rules.situation import Situation


@frozen
class Ask:
    """A question, handed on whole. ``because`` is why this material is gone (a line of an accord may be
    gone for another reason).
    """

    missing: str
    situation: Situation
    because: str = "unavailable"
    accord: Accord | None = None
    without: tuple[str, ...] = ()

    @property
    def shelf(self) -> Shelf | None:
        return self.situation.shelf

    def status(self, name: str) -> tuple[str, ...]:
        """Words of law on a material here; none if it is free."""
        return self.situation.status(name)

    def held(self) -> Mapping[str, float]:
        """Active parts of the accord's other materials."""
        if self.accord is None:
            return {}
        return {name: parts for name, parts in self.accord.active().items() if name != self.missing}
