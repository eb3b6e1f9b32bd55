"""Everything known of one pair, worked out once; every sentence about amounts and strength is made from
it, so that none disagrees.

The amount is the documented one where there is one (turned round, if only the reverse swap has an
amount: so the two ways agree), else the share of the one in the other where that share rules, else the
ratio of strengths, else of use levels. Low and high span what the sources say together. Where a
documented amount and the tables lie more than three times apart, both are told and a trial series is
offered.
"""

from __future__ import annotations

import math

from ..frozen import frozen
from ..records import Constituent, Tables
from .amounts import SPREAD, Amount, by_tables, constituent_of, odour_part
from .evidence import Ground

APART = 3.0  # sources that differ by more than this are told, not mixed
SHARED_ODOUR = 0.2  # a constituent that carries this part of the odour ties two materials


@frozen
class Pair:
    """What is known of ``stand_in`` in the place of ``missing``.

    ``amount`` [g for 1 g] is what every sentence speaks of; ``on_file`` the same by shares and strengths
    alone; ``holds`` the missing material's row inside the stand-in and ``held`` the reverse, with the
    part of the odour that each gives.
    """

    missing: str
    stand_in: str
    ground: Ground | None
    amount: Amount | None
    on_file: Amount | None
    holds: Constituent | None
    held: Constituent | None
    holds_part: float
    held_part: float

    @property
    def documented(self) -> bool:
        return self.ground is not None and self.ground.kind == "documented"

    @property
    def evidence(self) -> str:
        """documented, constituent or profile: what the answer rests on."""
        if self.documented:
            return "documented"
        return "constituent" if max(self.holds_part, self.held_part) >= SHARED_ODOUR else "profile"

    @property
    def apart(self) -> bool:
        """Whether the documented amount and the tables disagree by more than three times."""
        if self.amount is None or self.on_file is None or self.amount.ground == "tried":
            return False
        return abs(math.log(self.amount.grams / self.on_file.grams)) > math.log(APART) * 1.0001

    def trial_series(self) -> tuple[float, ...]:
        """Amounts to try, smallest first; empty where the amount is plain."""
        if self.amount is None:
            return ()
        if self.apart and self.on_file is not None:
            low, high = sorted((self.amount.grams, self.on_file.grams))
            return tuple(low * (high / low) ** (step / 4) for step in range(5))
        return self.amount.trial_series() if self.amount.is_order_of_magnitude else ()


def make_pair(tables: Tables, missing: str, stand_in: str, ground: Ground | None) -> Pair:
    """The pair with its one amount."""
    holds, held = constituent_of(tables, stand_in, missing), constituent_of(tables, missing, stand_in)
    on_file = by_tables(tables, missing, stand_in)
    documented = _amount(ground, on_file, tables.louder(missing, stand_in))
    return Pair(
        missing,
        stand_in,
        ground,
        tried_amount(tables, missing, stand_in) or documented,
        on_file,
        holds,
        held,
        odour_part(tables, stand_in, missing) if holds else 0.0,
        odour_part(tables, missing, stand_in) if held else 0.0,
    )


def tried_amount(tables: Tables, missing: str, stand_in: str) -> Amount | None:
    """What the person found themselves, the pair tried this way or the other way round."""
    own = tables.tried.get((missing, stand_in))
    if own and own.grams and own.low and own.high:
        return Amount(own.grams, own.low, own.high, "tried")
    other = tables.tried.get((stand_in, missing))
    if other and other.grams and other.low and other.high:
        return Amount(1.0 / other.grams, 1.0 / other.high, 1.0 / other.low, "tried")
    return None


def _amount(ground: Ground | None, on_file: Amount | None, louder: float) -> Amount | None:
    """The documented amount, times how much ``louder`` the missing one is to this person than the stand-in;
    else what is on file.
    """
    stated = _stated(ground)
    if stated is None:
        return on_file
    grams, spread = louder * stated[0], stated[1]
    if on_file is None:
        return Amount(grams, grams / spread, grams * spread, "evidence")
    return Amount(grams, min(grams / spread, on_file.grams), max(grams * spread, on_file.grams), "evidence")


def _stated(ground: Ground | None) -> tuple[float, float] | None:
    """Grams for one gram as documented and how far they may be off: for the swap itself, else for the same
    swap the other way round, turned.
    """
    if ground is None or ground.kind not in ("documented", "reverse"):
        return None
    there, back = (ground.rows, ground.back) if ground.kind == "documented" else ((), ground.rows)
    for row in there:
        if row.grams_per_gram:
            return row.grams_per_gram, SPREAD[row.basis]
    for row in back:
        if row.grams_per_gram:
            return 1.0 / row.grams_per_gram, SPREAD[row.basis]
    return None
