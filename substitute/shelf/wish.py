"""What a person asks a plan for, checked: numbers, budget, materials that must or must not be bought, and
prices."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

from ..errors import InputError
from ..figures import figure
from ..frozen import frozen
from ..records import Shelf, Tables
from ..standins.candidates import smellable
from ..tables.near import nearest

PURCHASE_GRAMS = 10.0  # a purchase is this much where the price list names no grams


@frozen
class Wish:
    """``buy`` more for a shelf, or ``from_nothing`` to start one; ``budget`` in the price list's
    currency; ids to buy or not to buy."""

    buy: int | None = None
    from_nothing: int | None = None
    budget: float | None = None
    must: tuple[str, ...] = ()
    must_not: tuple[str, ...] = ()
    include_controlled: bool = False
    exact: bool = True

    @property
    def most(self) -> int | None:
        """The number of purchases; ``None`` if only the budget ends them."""
        return self.buy if self.buy is not None else self.from_nothing

    @property
    def buys(self) -> bool:
        """Whether anything is to be bought at all."""
        return self.most is not None or self.budget is not None


def check_wish(tables: Tables, wish: Wish, has_shelf: bool) -> None:
    """Raises :class:`~substitute.errors.InputError` for a wish that contradicts itself, whatever the
    shelf."""
    if wish.buy is not None and wish.from_nothing is not None:
        raise InputError(
            "`buy` and `from_nothing` exclude each other: "
            "`buy` N adds to a shelf, `from_nothing` N starts one"
        )
    if not has_shelf and wish.from_nothing is None:
        raise InputError("a shelf is wanted: `shelf` FILE, or `from_nothing` N to start one")
    if wish.budget is not None and not (math.isfinite(wish.budget) and wish.budget > 0):
        raise InputError(f"`budget` {wish.budget:g} is out of range: allowed is above 0")
    both = [name for name in wish.must if name in wish.must_not]
    if both:
        raise InputError(f"`must` and `must_not` contradict each other: both name {', '.join(both)}")
    if wish.must and not wish.buys:
        raise InputError(
            "`must` asks for a purchase: say how many with `buy` N or `from_nothing` N, or give a `budget`"
        )
    for name in wish.must:
        if tables.materials[name].kind == "solvent":
            raise InputError(f"`must` {name}: is a carrier, and carriers are taken to be at hand")
        if not tables.materials[name].stocked:
            raise InputError(f"`must` {name}: nobody weighs it, it is met inside naturals only")
    if wish.most is not None and len(set(wish.must)) > wish.most >= 1:
        raise InputError(f"`must` names {len(set(wish.must))} materials, more than the {wish.most} to buy")


def purchasable(
    tables: Tables, held: Iterable[str], wish: Wish, status: Callable[[str], tuple[str, ...]]
) -> list[str]:
    """Ids that may be bought: weighed, with a smell, not held, not ``must_not``, and free in law.

    Protected materials and precursors come in by ``include_controlled`` or by name in ``must``;
    prohibited ones never. Raises :class:`~substitute.errors.InputError` if the number asked for is
    outside 1 to what there is.
    """
    held = set(held)
    for name in wish.must:
        words = [word for word in status(name) if word.startswith("prohibited")]
        if words:
            raise InputError(f"`must` {name}: is {', '.join(words)}; it is never put on a list of purchases")
    found = []
    for name in dict.fromkeys([*smellable(tables), *wish.must]):
        if name in held or name in wish.must_not:
            continue
        if (
            name in wish.must
            or not status(name)
            or (wish.include_controlled and not any(word.startswith("prohibited") for word in status(name)))
        ):
            found.append(name)
    if wish.most is not None and not 1 <= wish.most <= len(found):
        option = "`buy`" if wish.buy is not None else "`from_nothing`"
        raise InputError(
            f"{option} {wish.most} is out of range: allowed is 1 to {len(found)}, "
            "what the tables hold that may be bought"
        )
    return found


def costs(names: Sequence[str], prices: Shelf | None, shelf: Shelf | None) -> dict[str, float]:
    """Price of one purchase: price per gram x grams of the row (10 g where it names none), cheapest row;
    the price list before the shelf.

    On the shelf, ``grams`` is what is left in the bottle, so a purchase there counts as 10 g.
    """
    found: dict[str, float] = {}
    for source, own_grams in ((shelf, False), (prices, True)):
        rows: dict[str, list[float]] = {}
        for item in source.stock if source else ():
            if item.price is not None:
                rows.setdefault(item.material, []).append(
                    item.price * (item.grams if own_grams and item.grams else PURCHASE_GRAMS)
                )
        found |= {name: min(each) for name, each in rows.items()}
    return {name: found[name] for name in names if name in found}


def check_budget(wish: Wish, budget: float, known: Mapping[str, float], unpriced: Sequence[str]) -> None:
    """Raises :class:`~substitute.errors.InputError` for a budget without prices, or one that buys nothing
    or not what must be bought."""
    if not known:
        raise InputError(
            "`budget` needs prices of what is to be bought: "
            "`prices` FILE with the columns material, price_per_gram and grams"
        )
    missing = [name for name in wish.must if name in unpriced]
    if missing:
        raise InputError(
            f"`must` {missing[0]}: has no price, which a budget needs; "
            f"add it to the price list{nearest(missing[0], known)}"
        )
    needed = sum(known[name] for name in wish.must if name in known)
    if needed > budget * (1 + 1e-12):
        raise InputError(
            f"`budget` {budget:g}: does not buy what `must` asks for, which costs {figure(needed, 4)}"
        )
    cheapest = min(known, key=lambda name: (known[name], name))
    if known[cheapest] > budget:
        raise InputError(
            f"`budget` {budget:g}: buys nothing; "
            f"the cheapest of {len(known)} priced materials is {cheapest} at {figure(known[cheapest], 4)}"
        )
