"""An accord against the limits of a context: what is found, what is allowed, how high the dose may go, and
what is not known.

Three states: ``True`` within, ``False`` over (equal is within), ``None`` unknown. Unknown breaks nothing
and clears nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_DOWN, Decimal

from ..errors import InputError
from ..frozen import frozen
from ..records import Tables
from .compiled import Compiled
from .context import check_dose
from .kinds import EACH, FRACTION, FREE, LABEL, NEVER, SUM, WHOLE, Term, over
from .rule import substance_name
from .verdict import Row, Verdict, Wall

DIGITS = 6  # of a highest dose, rounded down
MEASURED = "measured in every lot: the alternative figure governs"
NOT_MEASURED = (
    "not applied: it needs a lot analysis of every such oil present and no unassessed natural beside them"
)
NO_OIL = "not judged: no oil of the sum is present, and what brings it was not measured in its lot"


def fractions_of(tables: Tables, active: Mapping[str, float], total_parts: float) -> dict[str, float]:
    """Each present material's share of the accord's mass.

    Raises :class:`~substitute.errors.InputError` for parts that are negative, not finite, more than the
    whole, or of a material
    that is not in the tables.
    """
    if not (math.isfinite(total_parts) and total_parts > 0):
        raise InputError(f"the accord's parts sum to {total_parts:g}: allowed is above 0")
    for material, parts in active.items():
        if material not in tables.materials:
            raise InputError(f"'{material}' is not a material of the tables")
        if not (math.isfinite(parts) and parts >= 0):
            raise InputError(f"'{material}' has {parts:g} parts: allowed is 0 or more")
    if math.fsum(active.values()) > total_parts * (1 + 1e-9):
        raise InputError(
            f"the materials sum to {math.fsum(active.values()):g} parts, more than the accord's "
            f"{total_parts:g}"
        )
    return {material: parts / total_parts for material, parts in active.items() if parts > 0}


@dataclass
class Found:
    """What an accord does to one term at a dose of 1 %: (material, high, typical) each, and what is not
    known.
    """

    term: Term
    adds: list[tuple[str, float, float]]
    open: bool = False
    unassessed: tuple[str, ...] = ()

    @property
    def high(self) -> float:
        """Per unit of dose; of a rule about single materials the most that one of them holds."""
        values = [high for _, high, _ in self.adds]
        return max(values, default=0.0) if self.term.how == EACH else math.fsum(values)

    @property
    def typical(self) -> float:
        values = [typical for _, _, typical in self.adds]
        return max(values, default=0.0) if self.term.how == EACH else math.fsum(values)


@frozen
class Counted:
    """A row, its term, and what it finds per unit of dose; ``counts`` if a lower dose could mend it."""

    row: Row
    term: Term
    per_dose: float
    counts: bool


def find(compiled: Compiled, fractions: Mapping[str, float]) -> dict[int, Found]:
    """What an accord of ``fractions`` (material -> share of its mass) does to every term that it touches,
    in order.
    """
    found: dict[int, Found] = {}

    def at(number: int) -> Found:
        return found.setdefault(number, Found(compiled.terms[number], []))

    for material, fraction in fractions.items():
        entry = compiled.entry(material)
        for number, one in entry.adds.items():
            # of a single material, not of the product: the dose has no say in it
            part = 1.0 if compiled.terms[number].how == EACH else fraction
            at(number).adds.append((material, part * one.high, part * one.typical))
        for number in entry.open:
            at(number).open = True
        for number in compiled.blind(material):
            at(number).unassessed += (material,)
    return {number: found[number] for number in sorted(found)}


def judge(compiled: Compiled, active: Mapping[str, float], total_parts: float, dose: float) -> Verdict:
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
    context = compiled.context
    fractions = fractions_of(compiled.exposure.tables, active, total_parts)
    found = find(compiled, fractions)
    replaced: set[int] = set()
    beside: dict[int, bool] = {}  # alternatives that do not govern: whether an oil of the sum is present
    for one in compiled.alternatives:
        if compiled.governs(one, tuple(fractions)):
            replaced |= one.replaces
        else:
            beside[one.term] = any(name in one.members for name in fractions)
            if beside[one.term]:
                found.setdefault(one.term, Found(compiled.terms[one.term], []))
    counted = []
    for number, entry in sorted(found.items()):
        term = entry.term
        if term.how == LABEL or _spoken_for(found, number) or _says_nothing(entry, beside.get(number)):
            continue
        row = _row(compiled, entry, dose, fractions)
        if number in beside:
            note = _joined(term.rule.note, NOT_MEASURED if beside[number] else NO_OIL)
            row = replace(row, ok=None, note=note, applies=not beside[number])
        elif number in replaced:
            row = replace(row, ok=True, applies=False, note=_joined(row.note, MEASURED))
        bound = term.bounds and number not in beside and number not in replaced
        counted.append(Counted(row, term, entry.high, bound))
    highest, wall = _highest(counted)
    rows = _arranged(counted)
    return Verdict(
        dose,
        context.category,
        rows,
        highest,
        wall,
        bool(context.sets),
        context.notes,
        context.cautions,
    )


def _spoken_for(found: Mapping[int, Found], number: int) -> bool:
    """Whether the term that speaks in place of this one has something to say."""
    term = found[number].term
    return bool(term.unless) and (number - term.unless) in found


def _says_nothing(entry: Found, beside: bool | None) -> bool:
    if (
        beside is not None
    ):  # an alternative that does not govern is mentioned where its oils or what it limits are
        return not beside and not entry.adds
    return not (entry.adds or entry.open or entry.unassessed)


def _row(compiled: Compiled, entry: Found, dose: float, fractions: Mapping[str, float]) -> Row:
    term, rule = entry.term, entry.term.rule
    exposure = compiled.exposure
    scale = 1.0 if term.how == EACH else dose
    amount, usual = scale * entry.high, scale * entry.typical
    state = _state(entry, amount)
    used = amount / term.limit if term.limit and term.how in (SUM, EACH) else None
    if term.unit == FRACTION:  # the members' own percent, shown beside the fraction
        shares = [(name, part, exposure.share(name, rule.substance)) for name, part in fractions.items()]
        sources = _largest_first(
            (name, dose * part * share.high) for name, part, share in shares if share.high > 0
        )
        amount = math.fsum(pct for _, pct in sources)
        usual = math.fsum(dose * part * share.typical for _, part, share in shares)
    else:
        sources = _largest_first((name, scale * high) for name, high, _ in entry.adds)
    remote = (
        not sources
        and not exposure.met_in_naturals(rule.substance)
        and not any(exposure.of_unknown_make(name) for name in entry.unassessed)
    )
    guess = rule.estimate_pct
    return Row(
        rule.substance,
        substance_name(exposure.tables, rule.substance),
        rule.limit_set,
        rule.category,
        term.limit_pct,
        amount,
        usual,
        state,
        rule.basis,
        rule.rule,
        _joined(rule.note, term.note),
        rule.check,
        rule.source,
        sources,
        entry.unassessed,
        used=used,
        limit_words=term.words,
        estimate_pct=guess,
        probably_broken=guess is not None and over(amount, guess),
        remote=remote,
        of_dose=term.how not in (EACH, NEVER),
    )


def _state(entry: Found, amount: float) -> bool | None:
    term = entry.term
    if term.how == NEVER:
        return None
    if term.how == FREE:  # nothing to exceed, assessed or not
        return None if entry.unassessed else True
    if term.limit is None:
        return None
    if over(amount, term.limit):
        return False
    return None if entry.open or entry.unassessed else True


def _largest_first(pairs: Iterable[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    return tuple(sorted(pairs, key=lambda pair: (-pair[1], pair[0])))


def _joined(note: str, more: str) -> str:
    return f"{note}; {more}" if note and more else note or more


def _highest(counted: list[Counted]) -> tuple[float | None, Wall | None]:
    """The highest dose at which every known row holds, rounded down, and what stops it there; nothing if
    nothing stops it.
    """
    counting = [one for one in counted if one.counts and one.per_dose > 0]
    failing = next((one.row for one in counted if one.term.how == EACH and one.row.ok is False), None)
    if failing is not None:  # no dose mends a grade
        return 0.0, _wall(failing)
    best, wall = WHOLE, None
    for one in counting:
        assert one.term.limit is not None
        reach = one.term.limit / one.per_dose
        if reach < best:
            best, wall = reach, one.row
    if wall is None:
        return None, None
    most = _floored(best, counting)
    return (most, _wall(wall)) if most < WHOLE else (None, None)  # met at 100 % exactly: nothing stops it


def _wall(row: Row) -> Wall:
    return Wall(row.substance, row.name, row.limit_set, row.sources[0][0] if row.sources else "")


def _floored(best: float, counting: list[Counted]) -> float:
    def holds(dose: float) -> bool:
        return not any(over(dose * one.per_dose, one.term.limit or 0.0) for one in counting)

    near = float(f"{best:.{DIGITS + 6}g}")  # 19.999999999999996 is 20
    exact = Decimal(repr(near if holds(near) else best))
    if not exact:
        return 0.0
    step = Decimal(1).scaleb(exact.adjusted() - DIGITS + 1)
    return float(exact.quantize(step, ROUND_DOWN))  # what is less than a dose that holds, holds


def _arranged(counted: list[Counted]) -> tuple[Row, ...]:
    """Broken first, then by how much of the limit is used; of one substance the strictest first and marked
    as governing.
    """
    by_substance: dict[str, list[Counted]] = {}
    for one in counted:
        by_substance.setdefault(one.row.substance, []).append(one)
    ranked = []
    for substance, group in by_substance.items():
        group.sort(key=_strictness)
        rows = [one.row for one in group]
        if group[0].counts:
            rows[0] = replace(rows[0], governs=True)
        key = (
            not any(row.ok is False for row in rows),
            -max((_used(row) for row in rows), default=0.0),
            all(row.remote for row in rows),
            substance,
        )
        ranked.append((key, rows))
    return tuple(row for _, rows in sorted(ranked, key=lambda pair: pair[0]) for row in rows)


def _strictness(one: Counted) -> tuple[bool, float, str, str]:
    limit = one.term.limit if one.counts and one.term.limit is not None else math.inf
    return not one.counts, limit, one.row.limit_set, one.row.rule


def _used(row: Row) -> float:
    if row.ok is False and not row.used:
        return math.inf
    if not row.applies:
        return 0.0
    if row.estimate_pct:
        return row.found_pct / row.estimate_pct
    return row.used or 0.0
