"""What a swap saves for one gram of the missing material: in money by a person's own prices, else by the
tables' rough words.

A word is a step on a rough scale, and a step is taken as about four times: enough to say what is dearer,
never an amount of money.
"""

from __future__ import annotations

from typing import Any

from ..figures import in_grams
from ..frozen import frozen
from ..records import Shelf, Tables

BLUR = 2.0  # rough prices this near each other tell nothing; then what is documented as cheaper is believed
STEP = 4.0  # one word dearer is about this many times the price (the curators' estimate)


@frozen
class Saving:
    """``before`` and ``after`` for one gram of the missing one: money, or parts of its own price where
    ``words`` stand.
    """

    before: float
    after: float
    words: tuple[str, str] | None = None

    def cheaper(self, documented: bool = False) -> bool:
        """Whether it costs less at the amount it needs; a dearer word never does.

        Where rough words tell no difference, a swap ``documented`` because of its price is believed.
        """
        if self.after < self.before:
            return True
        return bool(documented and self.words and self.words[0] == self.words[1] and self.after <= BLUR)

    def to_dict(self) -> dict[str, Any]:
        if self.words:
            return {"money": None, "before": self.words[0], "after": self.words[1]}
        return {"money": self.before - self.after, "before": self.before, "after": self.after}


def saving(tables: Tables, shelf: Shelf | None, missing: str, stand_in: str, grams: float) -> Saving | None:
    """What ``grams`` of the stand-in save for one gram; ``None`` where a price is not known."""
    old, new = (shelf.price(name) if shelf else None for name in (missing, stand_in))
    if old is not None and new is not None:
        return Saving(old, new * grams)
    rough_old, rough_new = tables.prices.get(missing), tables.prices.get(stand_in)
    if rough_old is None or rough_new is None:
        return None
    steps = rough_new.step - rough_old.step
    after = STEP**steps * grams if steps <= 0 else max(1.0, STEP**steps * grams)
    return Saving(1.0, after, (rough_old.word, rough_new.word))


def saving_reason(tables: Tables, found: Saving | None, missing: str, grams: float) -> str:
    """What is saved, in words."""
    name = tables.materials[missing].name
    if found is None:
        return "what it saves is not known: a price is missing; give both a price on your shelf"
    if found.words is None:
        return (
            f"saves {in_grams(found.before - found.after)} for one gram of {name} by your own prices "
            f"({in_grams(found.before)} against {in_grams(found.after)})"
        )
    before, after = found.words
    if before == after:
        if found.after < found.before:
            return f"{after} like {name}, and less of it is needed ({in_grams(grams)} g for 1 g)"
        return f"documented as the cheaper one; by rough words both are {after}, so compare two quotes"
    return f"{after} where {name} is {before}, at {in_grams(grams)} g for 1 g: rough words, no quote"
