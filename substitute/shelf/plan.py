"""What a shelf makes, what to buy next, and what to start from: choices by the coverage model, every accord adjusted for real."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np

from ..accords.adjusted import Adjusted
from ..errors import InputError
from ..records import Accord, Shelf, Stock, Tables
from ..standins.bench import Bench
from ..standins.candidates import smellable
from .coverage import Coverage, cover
from .optimum import Question, exact, greedy, in_order
from .planned import Lean, Made, Plan, Purchase
from .wish import Wish, check_budget, costs, purchasable

MOVED = 0.02  # an accord whose value rises by less is not adjusted again after buying: it is made as before
UNLOCKED = 0.02  # an accord counts as unlocked by a purchase if without it its value would fall by this
Progress = Callable[[int, int, str], None]


def plan(
    bench: Bench,
    accords: Sequence[Accord],
    *,
    shelf: Shelf | None,
    wish: Wish,
    status: Callable[[str], tuple[str, ...]],
    adjusted: Callable[[Accord, Shelf], Adjusted],
    prices: Shelf | None = None,
    rejected: Iterable[tuple[str, str]] = (),
    command: Callable[[str], str | None] = lambda _: None,
    progress: Progress | None = None,
) -> Plan:
    """What ``shelf`` makes of ``accords`` and what ``wish`` asks to buy.

    ``adjusted(accord, shelf)`` adjusts for real; ``command(accord)`` is the text of the command that does the same. Raises
    :class:`~substitute.errors.InputError` for a number, budget or list of materials that cannot be met.
    """
    tables = bench.tables
    rejected = list(rejected)
    accords, unjudged = _judged(tables, accords)
    rejected += unjudged
    if not accords:
        raise InputError(
            f"no accord can be judged: {rejected[0][0]}: {rejected[0][1]}"
            if rejected
            else "no accords were given"
        )
    start = at_hand(None if wish.from_nothing is not None else shelf)
    held = start.materials()
    allowed = purchasable(tables, held, wish, status) if wish.buys else []
    model = cover(
        bench,
        accords,
        sorted({*smellable(tables), *allowed, *(name for name in held if name in bench.space.row)}),
        progress,
    )
    result = _choose(tables, model, held, allowed, wish, status, prices, shelf, progress)
    after = Shelf((*start.stock, *(Stock(purchase.id) for purchase in result["buy"])), start.name)
    tell = _Steps(progress, len(accords) * (2 if result["buy"] and wish.from_nothing is None else 1))
    if wish.from_nothing is not None:
        makes = _makes(model, accords, after, adjusted, lambda _: None, tables, tell)
        verified = (0.0, _mean(m.match for m in makes))
    else:
        makes = _makes(model, accords, start, adjusted, command, tables, tell)
        before = _mean(m.match for m in makes)
        if result["buy"]:
            makes = [
                _made_after(model, made, accord, start, after, adjusted, tell)
                for made, accord in zip(makes, accords)
            ]
        verified = (before, _mean(m.match if m.match_after is None else m.match_after for m in makes))
    chosen = after.materials()
    leans = sorted(_leans(model, chosen), key=lambda item: (-item[0], item[1].accord, item[1].missing))
    return Plan(
        tuple(makes),
        result["buy"],
        result["greedy"],
        result["gap"],
        result["proved"],
        result["bound"],
        result["curve"],
        tuple(lean for _, lean in leans),
        (model.value(held), model.value(chosen)),
        verified,
        result["spent"],
        tuple(rejected),
        tuple(result["notes"]),
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


def _judged(tables: Tables, accords: Sequence[Accord]):
    """Accords with a line that smells, and (name, message) of the others."""
    from .coverage import judged_lines

    fine = [accord for accord in accords if judged_lines(tables, accord)]
    return fine, [
        (a.name, "no line has an odour profile and potency, so there is nothing to match")
        for a in accords
        if a not in fine
    ]


def _choose(tables, model: Coverage, held, allowed, wish: Wish, status, prices, shelf, progress) -> dict:
    """Purchases, greedy and exact, as the keys of a :class:`Plan`."""
    empty = {
        "buy": (),
        "greedy": (),
        "gap": None,
        "proved": None,
        "bound": None,
        "curve": (),
        "spent": None,
        "notes": [],
    }
    if not wish.buys:
        return empty
    column, scale = model.column, len(model.accords)
    known = costs(allowed, prices, shelf)
    notes = []
    if wish.budget is not None:
        unpriced = [name for name in allowed if name not in known]
        check_budget(wish, known, unpriced)
        allowed = [name for name in allowed if name in known]
        if unpriced:
            notes.append(
                f"{len(unpriced)} materials have no price on file and are left out because there is a budget"
            )
    cost = np.array([known.get(name, 0.0) for name in model.materials]) if wish.budget is not None else None
    most = min(wish.most if wish.most is not None else len(allowed), len(allowed))
    question = Question(
        model.factor,
        model.reached(held),
        model.weight / scale,
        tuple(column[name] for name in allowed if name in column),
        tuple(column[name] for name in wish.must if name in column and name not in held),
        most,
        cost,
        wish.budget,
    )
    quick = greedy(question)
    best = exact(question, progress) if wish.exact else None
    order = best.chosen if best else in_order(question, quick)
    if wish.budget is not None and not order:
        cheapest = min(known, key=lambda name: (known[name], name))
        raise InputError(
            f"`budget` {wish.budget:g}: buys nothing that helps these accords; the cheapest priced is {cheapest} at {known[cheapest]:.4g}"
        )
    if len(order) < most and wish.budget is None:
        notes.append(f"{len(order)} purchases are enough: nothing further would add to these accords")
    curve = []
    if wish.from_nothing is not None:
        curve = [
            (n, question.value(quick[:n]), model.materials[quick[n - 1]]) for n in range(1, len(quick) + 1)
        ]
        if best and best.value > curve[-1][1]:
            curve[-1] = (curve[-1][0], best.value, curve[-1][2])
    names = [model.materials[c] for c in order]
    return {
        "buy": tuple(_purchases(tables, model, held, names, known, status)),
        "greedy": tuple(model.materials[c] for c in quick),
        "gap": best.value - question.value(quick) if best else None,
        "proved": best.proved if best else None,
        "bound": best.bound if best else None,
        "curve": tuple(curve),
        "spent": sum(known[name] for name in names) if all(name in known for name in names) else None,
        "notes": notes,
    }


def _purchases(tables, model: Coverage, held, names: Sequence[str], known: Mapping[str, float], status):
    final = model.by_accord([*held, *names])
    serves: dict[str, list[tuple[str, str]]] = {name: [] for name in names}
    for line, by, _ in model.assigned([*held, *names]):
        if by in serves:
            serves[by].append((line.material, model.accords[line.accord]))
    now = model.value(held)
    for place, name in enumerate(names):
        value = model.value([*held, *names[: place + 1]])
        drop = final - model.by_accord([*held, *(other for other in names if other != name)])
        order = sorted(np.flatnonzero(drop >= UNLOCKED), key=lambda i: (-drop[i], i))
        yield Purchase(
            name,
            value - now,
            tuple(model.accords[i] for i in order),
            known.get(name),
            _why(name, serves[name]),
            status(name),
        )
        now = value


def _why(name: str, serves: Sequence[tuple[str, str]]) -> str:
    """What a purchase is for: its own lines, and what it stands in for most."""
    own = len({accord for missing, accord in serves if missing == name})
    others: dict[str, int] = {}
    for missing, _ in serves:
        if missing != name:
            others[missing] = others.get(missing, 0) + 1
    parts = [f"itself a line of {own} accord{'s' if own != 1 else ''}"] if own else []
    if others:
        best = sorted(others, key=lambda other: (-others[other], other))[:3]
        parts.append(
            f"stands in on {sum(others.values())} line{'s' if sum(others.values()) != 1 else ''}, most for {', '.join(best)}"
        )
    return "; ".join(parts) or "asked for; serves no line of these accords better than what is there"


def _makes(model: Coverage, accords, shelf: Shelf, adjusted, command, tables, tell) -> list[Made]:
    held = shelf.materials()
    values = model.by_accord(held)
    assigned: dict[int, list] = {}
    for line, by, _ in model.assigned(held):
        assigned.setdefault(line.accord, []).append((line.material, by))
    found = []
    for place, accord in enumerate(accords):
        lines = assigned.get(place, [])
        lacks = [
            name
            for name, grams in accord.active().items()
            if grams > 0 and name not in held and tables.materials[name].kind != "solvent"
        ]
        out = tuple(name for name, by in lines if by is None)
        found.append(
            _made(
                accord,
                float(values[place]),
                tuple(lacks),
                out,
                _adjusted(accord, shelf, adjusted, lines),
                command(accord.name),
            )
        )
        tell()
    return found


def _adjusted(accord: Accord, shelf: Shelf, adjusted, lines) -> Adjusted | None:
    """The accord adjusted for real; ``None`` where the shelf has nothing for any of its lines."""
    if not any(by for _, by in lines):
        return None
    with np.errstate(invalid="ignore", divide="ignore"):  # a trial formula of nothing has no shares
        return adjusted(accord, shelf)


def _made(
    accord: Accord, value: float, lacks, left_out, answer: Adjusted | None, command: str | None
) -> Made:
    if answer is None:
        return Made(accord.name, 0.0, (None, None, None), value, lacks, (), left_out, None, command)
    news = tuple(line.material for line in answer.lines if line.is_new and line.after > 0)
    match = float(np.clip(answer.match.overall, 0.0, 1.0))
    return Made(accord.name, match, answer.match.stages, value, lacks, news, left_out, answer, command)


def _made_after(
    model: Coverage, made: Made, accord: Accord, start: Shelf, after: Shelf, adjusted, tell
) -> Made:
    """``made`` with its match after the purchases; a fuller shelf can still make what the old one made."""
    place = model.accords.index(accord.name)
    value = float(model.by_accord(after.materials())[place])
    match = made.match
    if value >= made.surrogate + MOVED:
        answer = _adjusted(
            accord,
            after,
            adjusted,
            [(None, by) for line, by, _ in model.assigned(after.materials()) if line.accord == place],
        )
        match = max(match, float(np.clip(answer.match.overall, 0.0, 1.0)) if answer else 0.0)
    tell()
    return Made(**{**made.__dict__, "match_after": match, "surrogate_after": value})


def _leans(model: Coverage, held):
    for line, by, value in model.assigned(held):
        if by is not None and by != line.material:
            yield line.weight * value, Lean(line.material, by, model.accords[line.accord], value)


def _mean(values: Iterable[float]) -> float:
    values = list(values)
    return float(sum(values) / len(values)) if values else 0.0


class _Steps:
    """Counts adjusted accords for the progress line."""

    def __init__(self, progress: Progress | None, of: int):
        self._progress, self._of, self._done = progress, of, 0

    def __call__(self) -> None:
        self._done += 1
        if self._progress:
            self._progress(self._done, self._of, "adjusting accords")
