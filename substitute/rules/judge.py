"""An accord against the limits of a context: what is found, what is allowed, how high the dose may go, and what is not known.

Three states: ``True`` within, ``False`` over (equal is within), ``None`` unknown. Unknown breaks nothing and clears nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from decimal import ROUND_DOWN, Decimal

from ..records import Tables
from .book import DOSE_RULES, Rule, book_of, substance_name, unassessed_for
from .context import Context, check_dose
from .exposure import Exposure
from .found import WHOLE, Finder, fractions_of, over
from .linear import Linear, headroom, linear
from .verdict import Row, Verdict, Wall

__all__ = ["Linear", "Row", "Verdict", "Wall", "headroom", "judge", "linear"]

DIGITS = 6  # of a highest dose, rounded down
MEASURED = "measured in every lot: the alternative figure governs"
NOT_MEASURED = (
    "not applied: it needs a lot analysis of every such oil present and no unassessed natural beside them"
)
NO_OIL = "not judged: no oil of the sum is present, and what brings it was not measured in its lot"


def judge(
    tables: Tables,
    exposure: Exposure,
    context: Context,
    active: Mapping[str, float],
    total_parts: float,
    dose: float,
) -> Verdict:
    """Hold an accord against every rule that applies.

    Parameters
    ----------
    active : parts of each material itself, without carrier; zero is legal.
    total_parts : parts of the whole accord, carrier included.
    dose : the accord's percent of the finished product, above 0 to 100.

    Raises
    ------
    InputError
        For parts or a dose out of range, or a material that is not in the tables.
    """
    dose = check_dose(dose)
    found = Finder(exposure, fractions_of(tables, active, total_parts))
    book = book_of(exposure, context)
    touched = [book.touched(material) for material in found.fractions]
    numbers = frozenset().union(*(one | other for one, other in touched))
    replaced: set[Rule] = set()
    entries: list[tuple[Rule, tuple[Row, float]]] = []
    for number, rule in enumerate(book.rules):
        if rule.rule == "alternative":
            present = [name for name in found.fractions if name in book.members_of_sums[number]]
            governs = bool(present) and all(exposure.measured(name, rule.substance) for name in present)
            governs = governs and not exposure.unassessed(found.fractions, rule.substance)
            if governs:
                replaced |= book.stands_for[number]
            entry = _alternative(tables, found, rule, dose, bool(present), governs)
        else:
            entry = _row(tables, found, rule, dose) if number in numbers else None
        if entry:
            entries.append((rule, entry))
    rows = [
        (_replaced(row), 0.0) if rule in replaced else (row, per_dose) for rule, (row, per_dose) in entries
    ]
    highest, wall = _highest(rows)
    doubt = not context.sets or any(_in_doubt(row) for row, _ in rows)
    shown = _arranged([row for row, _ in rows])
    states = {row.ok for row in shown if row.applies or row.ok is False}
    ok = False if False in states else None if None in states or not context.sets else True
    return Verdict(
        dose,
        context.category,
        shown,
        highest,
        highest == 0.0 or not doubt,
        wall,
        ok,
        context.notes,
        context.cautions,
    )


def _row(tables: Tables, found: Finder, rule: Rule, dose: float) -> tuple[Row, float] | None:
    """The row of a rule and its contribution per unit of dose; nothing if the rule has nothing to say here."""
    if rule.rule == "grade":
        return _grade(tables, found, rule)
    high, typical = found.amounts(rule.substance)
    unassessed, limit, note, open_ = (
        unassessed_for(found.exposure, rule, found.fractions),
        rule.max_pct,
        rule.note,
        False,
    )
    if rule.rule == "sum_of_fractions":
        high, typical, open_ = found.fractions_of_limits(rule)
        limit, note = (
            WHOLE if limit is None else limit,
            _joined(note, "percent of the members' own limits, added up"),
        )
    elif rule.rule == "prohibited_as_such":
        added = found.as_such(rule.substance, high)
        if added:
            names = {name for name, _ in added}
            high, typical, limit, unassessed = added, [pair for pair in typical if pair[0] in names], 0.0, ()
            note = _joined(note, "prohibited as such")
        else:
            limit = WHOLE if rule.tolerated_pct is None else rule.tolerated_pct
            note = _joined(
                note, "tolerated from naturals" if rule.tolerated_pct is None else "from naturals only"
            )
    if not high and not unassessed and not open_:
        return None
    per_dose, usual = math.fsum(part for _, part in high), math.fsum(part for _, part in typical)
    ok = None if rule.rule == "not_with" else _state(dose * per_dose, limit, open_, unassessed, rule.rule)
    sources = _largest_first((name, dose * part) for name, part in high)
    return _made(
        tables, found, rule, limit, (dose * per_dose, dose * usual), ok, note, sources, unassessed
    ), per_dose


def _alternative(
    tables: Tables, found: Finder, rule: Rule, dose: float, present: bool, governs: bool
) -> tuple[Row, float] | None:
    """A limit on a measured constituent: it governs, or it is mentioned beside the single limits, or nothing is known."""
    entry = _row(tables, found, rule, dose)
    if governs and entry:
        return entry
    high, typical = found.amounts(rule.substance)
    if governs or not (present or high):
        return None
    amounts = dose * math.fsum(part for _, part in high), dose * math.fsum(part for _, part in typical)
    unassessed = unassessed_for(found.exposure, rule, found.fractions)
    note, sources = (
        _joined(rule.note, NOT_MEASURED if present else NO_OIL),
        _largest_first((name, dose * part) for name, part in high),
    )
    return replace(
        _made(tables, found, rule, rule.max_pct, amounts, None, note, sources, unassessed),
        applies=not present,
    ), 0.0


def _grade(tables: Tables, found: Finder, rule: Rule) -> tuple[Row, float] | None:
    """What a single material may hold; a grade in words concerns the materials named and cannot be read from tables."""
    members = found.exposure.members(rule.substance)
    if rule.max_pct is None:
        named = tuple((name, 0.0) for name in found.fractions if name in members)
        return (
            (_made(tables, found, rule, None, (0.0, 0.0), None, rule.note, named, ()), 0.0) if named else None
        )
    shares = {
        name: found.exposure.share(name, rule.substance) for name in found.fractions if name not in members
    }
    held = _largest_first((name, WHOLE * share.high) for name, share in shares.items() if share.high > 0)
    unassessed = unassessed_for(found.exposure, rule, found.fractions)
    if not held and not unassessed:
        return None
    most, usual = (held[0][1], max(WHOLE * shares[name].typical for name, _ in held)) if held else (0.0, 0.0)
    ok = _state(most, rule.max_pct, False, unassessed, rule.rule)
    note = _joined(rule.note, "percent of the material itself")
    return _made(tables, found, rule, rule.max_pct, (most, usual), ok, note, held, unassessed), 0.0


def _made(tables, found, rule, limit, amounts, ok, note, sources, unassessed) -> Row:
    remote = not sources and not found.exposure.met_in_naturals(rule.substance)
    return Row(
        rule.substance,
        substance_name(tables, rule.substance),
        rule.limit_set,
        rule.category,
        limit,
        *amounts,
        ok,
        rule.basis,
        rule.rule,
        note,
        rule.check,
        rule.source,
        tuple(sources),
        unassessed,
        remote=remote,
    )


def _replaced(row: Row) -> Row:
    return replace(row, ok=True, applies=False, note=_joined(row.note, MEASURED))


def _largest_first(pairs) -> tuple[tuple[str, float], ...]:
    return tuple(sorted(pairs, key=lambda pair: (-pair[1], pair[0])))


def _joined(note: str, more: str) -> str:
    return f"{note}; {more}" if note else more


def _state(
    amount: float, limit: float | None, open_: bool, unassessed: tuple[str, ...], rule: str
) -> bool | None:
    if limit is None:
        return None
    if over(amount, limit):
        return False
    if rule == "max" and limit >= WHOLE:  # nothing can exceed the whole, assessed or not
        return True
    return None if open_ or unassessed else True


def _counts(row: Row) -> bool:
    return row.applies and (row.rule in DOSE_RULES or row.rule == "alternative")


def _in_doubt(row: Row) -> bool:
    """Whether a figure not on file could lower the highest dose."""
    no_limit = row.rule == "max" and row.limit_pct == WHOLE
    return _counts(row) and (row.ok is None or (bool(row.unassessed) and not no_limit))


def _highest(rows: list[tuple[Row, float]]) -> tuple[float, Wall | None]:
    """The highest dose at which every known row is fine, rounded down, and what stops it there."""
    counting = [
        (row, per_dose)
        for row, per_dose in rows
        if _counts(row) and row.limit_pct is not None and per_dose > 0
    ]
    failing = next(
        (row for row, _ in rows if row.rule == "grade" and row.ok is False), None
    )  # no dose mends a grade
    best, wall = (0.0, failing) if failing else (WHOLE, None)
    for row, per_dose in counting:
        reach = row.limit_pct / per_dose
        if reach < best:
            best, wall = reach, row
    best = _floored(best, counting)
    stop = (
        None
        if wall is None
        else Wall(wall.substance, wall.name, wall.limit_set, wall.sources[0][0] if wall.sources else "")
    )
    return best, stop


def _floored(best: float, counting: list[tuple[Row, float]]) -> float:
    def legal(dose: float) -> bool:
        return not any(over(dose * per_dose, row.limit_pct) for row, per_dose in counting)

    near = float(f"{best:.{DIGITS + 6}g}")  # 19.999999999999996 is 20
    exact = Decimal(repr(near if legal(near) else best))
    if not exact:
        return 0.0
    step = Decimal(1).scaleb(exact.adjusted() - DIGITS + 1)
    exact = exact.quantize(step, ROUND_DOWN)
    while exact > 0 and not legal(float(exact)):
        exact -= step
    return float(exact)


def _arranged(rows: list[Row]) -> tuple[Row, ...]:
    """Broken first, then by how much of the limit is used; of one substance the strictest first and marked as governing."""
    by_substance: dict[str, list[Row]] = {}
    for row in rows:
        by_substance.setdefault(row.substance, []).append(row)
    ranked = []
    for substance, group in by_substance.items():
        group.sort(
            key=lambda row: (
                not _counts(row),
                math.inf if row.limit_pct is None else row.limit_pct,
                row.limit_set,
                row.rule,
            )
        )
        if _counts(group[0]) and group[0].limit_pct is not None:
            group[0] = replace(group[0], governs=True)
        used = max((_used(row) for row in group), default=0.0)
        ranked.append(
            (
                (
                    not any(row.ok is False for row in group),
                    -used,
                    all(row.remote for row in group),
                    substance,
                ),
                group,
            )
        )
    return tuple(row for _, group in sorted(ranked, key=lambda pair: pair[0]) for row in group)


def _used(row: Row) -> float:
    if not row.applies or not row.limit_pct:
        return math.inf if row.ok is False else 0.0
    return row.found_pct / row.limit_pct
