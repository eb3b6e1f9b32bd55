"""What a shelf makes, what to buy next, and what to start from: choices by the coverage model, every
accord adjusted for real."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..errors import InputError
from ..records import Accord, Shelf, Stock, Tables
from ..standins.bench import Bench
from ..standins.candidates import smellable
from .choice import Offer, Rules, choose
from .coverage import Coverage, cover, judged_lines
from .making import Benchwork, made_for_real
from .planned import Lean, Plan
from .wish import Wish, costs, purchasable


def plan(
    bench: Bench,
    accords: Sequence[Accord],
    *,
    shelf: Shelf | None,
    wish: Wish,
    rules: Rules,
    work: Benchwork,
    prices: Shelf | None = None,
    rejected: Iterable[tuple[str, str]] = (),
) -> Plan:
    """What ``shelf`` makes of ``accords`` and what ``wish`` asks to buy.

    Raises :class:`~substitute.errors.InputError` for a number, budget or list of materials that cannot be
    met.
    """
    tables = bench.tables
    accords, unjudged = _judged(tables, accords)
    rejected = [*rejected, *unjudged]
    if not accords:
        raise InputError(
            f"no accord can be judged: {rejected[0][0]}: {rejected[0][1]}"
            if rejected
            else "no accords were given"
        )
    new = wish.from_nothing is not None
    start = at_hand(None if new else shelf)
    held = start.materials()
    allowed = purchasable(tables, held, wish, rules.words) if wish.buys else []
    model = cover(
        bench,
        accords,
        sorted({*smellable(tables), *allowed, *(name for name in held if name in bench.space.row)}),
        work.progress,
        rules.most_pct,
    )
    offer = Offer(tuple(held), tuple(allowed), costs(allowed, prices, shelf))
    choice = choose(tables, model, accords, offer, wish, rules, work.progress)
    after = Shelf((*start.stock, *(Stock(purchase.id) for purchase in choice.buy)), start.name)
    makes, verified = made_for_real(model, accords, start, after, new, work, tables)
    chosen = after.materials()
    leans = sorted(_leans(model, chosen), key=lambda item: (-item[0], item[1].accord, item[1].missing))
    return Plan(
        tuple(makes),
        choice.buy,
        choice.greedy,
        choice.gap,
        choice.proved,
        choice.bound,
        choice.curve,
        tuple(lean for _, lean in leans),
        (model.value(held), model.value(chosen)),
        verified,
        choice.spent,
        tuple(rejected),
        choice.notes,
        after,
        tables,
    )


def at_hand(shelf: Shelf | None) -> Shelf:
    """The shelf without bottles that are known to be empty (0 g)."""
    return (
        Shelf((), "nothing")
        if shelf is None
        else Shelf(tuple(item for item in shelf.stock if item.grams is None or item.grams > 0), shelf.name)
    )


def _judged(tables: Tables, accords: Sequence[Accord]) -> tuple[list[Accord], list[tuple[str, str]]]:
    """Accords with a line that smells, and (name, message) of the others."""
    fine = [accord for accord in accords if judged_lines(tables, accord)]
    return fine, [
        (a.name, "no line has an odour profile and potency, so there is nothing to match")
        for a in accords
        if a not in fine
    ]


def _leans(model: Coverage, held: Sequence[str]) -> Iterator[tuple[float, Lean]]:
    for line, by, value in model.assigned(held):
        if by is not None and by != line.material:
            yield line.weight * value, Lean(line.material, by, model.accords[line.accord], value)
