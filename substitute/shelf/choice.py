"""What to buy by the coverage model: greedy and exact, nothing that adds next to nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..errors import InputError
from ..figures import figure
from ..frozen import frozen
from ..records import Accord, Tables
from ..rules.situation import Situation
from .coverage import Coverage
from .optimum import Optimum, Question, exact, greedy, in_order
from .planned import Purchase
from .purchases import purchases
from .wish import Wish, check_budget

LEAST_GAIN = 0.02  # of one accord: a purchase that adds less is not bought unless it must be
Progress = Callable[[int, int, str], None]
Words = Callable[[str], tuple[str, ...]]


@frozen
class Rules:
    """What law and limits say of a material where the accords go: ``words`` of law, ``most_pct`` of an
    accord (``None``: no figure), ``caution`` to go with a purchase."""

    words: Words
    most_pct: Callable[[str], float | None] | None = None
    caution: Words = lambda _: ()

    def told(self, material: str) -> tuple[str, ...]:
        """All that goes with a purchase."""
        return (*self.words(material), *self.caution(material))


def rules_for_plan(situation: Situation) -> Rules:
    """What a situation says of materials that are bought for accords in it."""
    dose = situation.dose

    def most_pct(material: str) -> float | None:
        most = situation.most_pct(material) if dose else None
        return None if most is None or not dose else 100.0 * most / dose

    def caution(material: str) -> tuple[str, ...]:
        open_ = situation.unknown(material)
        return (
            (f"no figure is on file for a limit of {', '.join(open_)}: ask before buying",) if open_ else ()
        )

    return Rules(situation.status, most_pct if situation.judged else None, caution)


@frozen
class Offer:
    """What is ``held``, what is ``allowed`` to be bought beside it, and the ``known`` price of a
    purchase."""

    held: tuple[str, ...]
    allowed: tuple[str, ...]
    known: Mapping[str, float]


@frozen
class Choice:
    """Purchases, greedy and exact; the fields are those of a :class:`Plan`."""

    buy: tuple[Purchase, ...] = ()
    greedy: tuple[str, ...] = ()
    gap: float | None = None
    proved: bool | None = None
    bound: float | None = None
    curve: tuple[tuple[int, float, str], ...] = ()
    spent: float | None = None
    notes: tuple[str, ...] = ()


def choose(
    tables: Tables,
    model: Coverage,
    accords: Sequence[Accord],
    offer: Offer,
    wish: Wish,
    rules: Rules,
    progress: Progress | None,
) -> Choice:
    """Purchases, greedy and exact; nothing that adds less than ``LEAST_GAIN`` of one accord."""
    if not wish.buys:
        return Choice()
    known = offer.known
    unpriced = [] if wish.budget is None else [name for name in offer.allowed if name not in known]
    if wish.budget is not None:
        check_budget(wish, wish.budget, known, unpriced)
        offer = replace(offer, allowed=tuple(name for name in offer.allowed if name in known))
    question = _question(model, offer, wish)
    scale = len(model.accords)
    quick = _worth_it(question, greedy(question), scale)
    best = exact(question, progress) if wish.exact else None
    order = _worth_it(question, best.chosen if best else in_order(question, quick), scale)
    if wish.budget is not None and not order:
        cheapest = min(known, key=lambda name: (known[name], name))
        raise InputError(
            f"`budget` {wish.budget:g}: buys nothing that helps these accords; "
            f"the cheapest priced is {cheapest} at {figure(known[cheapest], 4)}"
        )
    names = [model.materials[c] for c in order]
    return Choice(
        buy=purchases(tables, model, accords, offer.held, names, known, rules.told),
        greedy=tuple(model.materials[c] for c in quick),
        gap=question.value(order) - question.value(quick) if best else None,
        proved=best.proved if best else None,
        bound=best.bound if best else None,
        curve=_curve(model, question, quick, order, best) if wish.from_nothing is not None else (),
        spent=sum(known[name] for name in names) if all(name in known for name in names) else None,
        notes=tuple(_notes(question, wish, order, unpriced)),
    )


def _notes(question: Question, wish: Wish, order: Sequence[int], unpriced: Sequence[str]) -> Iterator[str]:
    if unpriced:
        yield f"{len(unpriced)} materials have no price on file and are left out because there is a budget"
    if len(order) < question.most and wish.budget is None:
        yield f"{len(order)} purchases are enough: nothing further would add to these accords"


def _question(model: Coverage, offer: Offer, wish: Wish) -> Question:
    column, held, allowed = model.column, offer.held, offer.allowed
    cost = None
    if wish.budget is not None:
        cost = np.array([offer.known.get(name, 0.0) for name in model.materials])
    return Question(
        model.factor,
        model.reached(held),
        model.weight / len(model.accords),
        tuple(column[name] for name in allowed if name in column),
        tuple(column[name] for name in wish.must if name in column and name not in held),
        min(wish.most if wish.most is not None else len(allowed), len(allowed)),
        cost,
        wish.budget,
    )


def _worth_it(question: Question, order: Sequence[int], accords: int) -> tuple[int, ...]:
    """``order`` without what adds next to nothing to what stands before it; what must be bought stays."""
    kept: list[int] = []
    for column in order:
        gain = question.value([*kept, column]) - question.value(kept)
        if column in question.must or gain * accords >= LEAST_GAIN:
            kept.append(column)
    return tuple(kept)


def _curve(
    model: Coverage, question: Question, quick: Sequence[int], order: Sequence[int], best: Optimum | None
) -> tuple[tuple[int, float, str], ...]:
    curve = [(n, question.value(quick[:n]), model.materials[quick[n - 1]]) for n in range(1, len(quick) + 1)]
    if best and curve and len(order) == len(curve) and question.value(order) > curve[-1][1]:
        curve[-1] = (curve[-1][0], question.value(order), curve[-1][2])
    return tuple(curve)
