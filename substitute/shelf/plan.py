"""What a shelf makes, what to buy next, and what to start from: choices by the coverage model, every
accord adjusted for real."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from ..accords.adjusted import Adjusted
from ..errors import InputError
from ..frozen import frozen
from ..records import Accord, Shelf, Stock, Tables
from ..rules.situation import Situation
from ..standins.bench import Bench
from ..standins.candidates import smellable
from .coverage import Array, Coverage, CoverLine, cover, judged_lines
from .optimum import Optimum, Question, exact, greedy, in_order
from .parallel import each
from .planned import Lean, Made, Plan, Purchase
from .purchases import purchases
from .wish import Wish, check_budget, costs, purchasable

MOVED = 0.02  # an accord whose value rises by less is not adjusted again after buying: it is made as before
LEAST_GAIN = 0.02  # of one accord: a purchase that adds less is not bought unless it must be
Progress = Callable[[int, int, str], None]
_NOWHERE = cast(Tables, None)
Adjust = Callable[[Accord, Shelf], Adjusted]
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
class Benchwork:
    """How an accord is adjusted for real: ``adjusted(accord, shelf)`` does it, ``command(accord)`` is the
    text of the command that does the same, ``progress`` hears how far the work is."""

    adjusted: Adjust
    command: Callable[[str], str | None] = lambda _: None
    progress: Progress | None = None


@frozen
class _Offer:
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
    offer = _Offer(tuple(held), tuple(allowed), costs(allowed, prices, shelf))
    choice = _choose(tables, model, accords, offer, wish, rules, work.progress)
    after = Shelf((*start.stock, *(Stock(purchase.id) for purchase in choice.buy)), start.name)
    makes, verified = _verified(model, accords, start, after, new, work, tables)
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


def _choose(
    tables: Tables,
    model: Coverage,
    accords: Sequence[Accord],
    offer: _Offer,
    wish: Wish,
    rules: Rules,
    progress: Progress | None,
) -> Choice:
    """Purchases, greedy and exact; nothing that adds less than ``LEAST_GAIN`` of one accord."""
    if not wish.buys:
        return Choice()
    scale = len(model.accords)
    known = offer.known
    notes: list[str] = []
    if wish.budget is not None:
        unpriced = [name for name in offer.allowed if name not in known]
        check_budget(wish, known, unpriced)
        offer = replace(offer, allowed=tuple(name for name in offer.allowed if name in known))
        if unpriced:
            notes.append(
                f"{len(unpriced)} materials have no price on file and are left out because there is a budget"
            )
    question = _question(model, offer, wish)
    quick = _worth_it(question, greedy(question), scale)
    best = exact(question, progress) if wish.exact else None
    order = _worth_it(question, best.chosen if best else in_order(question, quick), scale)
    if wish.budget is not None and not order:
        cheapest = min(known, key=lambda name: (known[name], name))
        raise InputError(
            f"`budget` {wish.budget:g}: buys nothing that helps these accords; "
            f"the cheapest priced is {cheapest} at {known[cheapest]:.4g}"
        )
    if len(order) < question.most and wish.budget is None:
        notes.append(f"{len(order)} purchases are enough: nothing further would add to these accords")
    names = [model.materials[c] for c in order]
    return Choice(
        purchases(tables, model, accords, offer.held, names, known, rules.told),
        tuple(model.materials[c] for c in quick),
        question.value(order) - question.value(quick) if best else None,
        best.proved if best else None,
        best.bound if best else None,
        _curve(model, question, quick, order, best) if wish.from_nothing is not None else (),
        sum(known[name] for name in names) if all(name in known for name in names) else None,
        tuple(notes),
    )


def _question(model: Coverage, offer: _Offer, wish: Wish) -> Question:
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


def _verified(
    model: Coverage,
    accords: Sequence[Accord],
    start: Shelf,
    after: Shelf,
    new: bool,
    work: Benchwork,
    tables: Tables,
) -> tuple[list[Made], tuple[float, float]]:
    """Every accord adjusted for real, before and after buying, and the mean matches.

    A fuller shelf can still make what the old one made.
    """
    first = after if new else start
    before, then = model.by_accord(first.materials()), model.by_accord(after.materials())
    again = [] if first is after else [i for i in range(len(accords)) if then[i] >= before[i] + MOVED]
    jobs = [(i, first) for i in range(len(accords))] + [(i, after) for i in again]
    answers = _adjust_all(model, accords, jobs, work, tables)
    told = (lambda _: None) if new else work.command
    makes = _makes(model, accords, first, answers[: len(accords)], before, told, tables)
    if new:
        return makes, (0.0, _mean(m.match for m in makes))
    mean = _mean(m.match for m in makes)
    if len(after.stock) == len(start.stock):
        return makes, (mean, mean)
    better = dict(zip(again, answers[len(accords) :]))
    makes = [
        replace(made, match_after=max(made.match, _match(better.get(i))), surrogate_after=float(then[i]))
        for i, made in enumerate(makes)
    ]
    return makes, (mean, _mean(m.match_after or 0.0 for m in makes))


def _adjust_all(
    model: Coverage,
    accords: Sequence[Accord],
    jobs: Sequence[tuple[int, Shelf]],
    work: Benchwork,
    tables: Tables,
) -> list[Adjusted | None]:
    """The accord of each job adjusted to its shelf; ``None`` where the shelf has nothing for any of its
    lines."""
    carried = {
        id(shelf): {line.accord for line, by, _ in model.assigned(shelf.materials()) if by}
        for shelf in {id(shelf): shelf for _, shelf in jobs}.values()
    }

    def adjust(job: tuple[int, Shelf]) -> Adjusted | None:
        place, shelf = job
        if place not in carried[id(shelf)]:
            return None
        with np.errstate(invalid="ignore", divide="ignore"):  # a trial formula of nothing has no shares
            found = work.adjusted(accords[place], shelf)
        return replace(found, tables=_NOWHERE)  # the tables are here already: they need not come back

    answers: list[Adjusted | None] = []
    for found in each(adjust, jobs):
        answers.append(found and replace(found, tables=tables))
        if work.progress:
            work.progress(len(answers), len(jobs), "adjusting accords")
    return answers


def _makes(
    model: Coverage,
    accords: Sequence[Accord],
    shelf: Shelf,
    answers: Sequence[Adjusted | None],
    values: Array,
    command: Callable[[str], str | None],
    tables: Tables,
) -> list[Made]:
    held = shelf.materials()
    assigned: dict[int, list[tuple[CoverLine, str | None]]] = {}
    for line, by, _ in model.assigned(held):
        assigned.setdefault(line.accord, []).append((line, by))
    found = []
    for place, (accord, answer) in enumerate(zip(accords, answers)):
        lacks = tuple(
            name
            for name, grams in accord.active().items()
            if grams > 0 and name not in held and tables.materials[name].kind != "solvent"
        )
        out = tuple(line.material for line, by in assigned.get(place, []) if by is None)
        news = (
            tuple(line.material for line in answer.lines if line.is_new and line.after > 0) if answer else ()
        )
        stages = answer.match.stages if answer else (None, None, None)
        value, told = float(values[place]), command(accord.name)
        found.append(Made(accord.name, _match(answer), stages, value, lacks, news, out, answer, told))
    return found


def _match(answer: Adjusted | None) -> float:
    return float(np.clip(answer.match.overall, 0.0, 1.0)) if answer else 0.0


def _leans(model: Coverage, held: Sequence[str]) -> Iterator[tuple[float, Lean]]:
    for line, by, value in model.assigned(held):
        if by is not None and by != line.material:
            yield line.weight * value, Lean(line.material, by, model.accords[line.accord], value)


def _mean(values: Iterable[float]) -> float:
    values = list(values)
    return float(sum(values) / len(values)) if values else 0.0
