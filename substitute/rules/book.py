"""The rows of the limit tables that count in a context, each picked once.

A row for the category beats a row for ``all``. A substance with figures for other categories only is *unknown* here and gets a row
that says so; it is never silently left out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..records import Limit, Tables
from .context import ANY, AppliedSet, Context
from .exposure import Exposure

FIGURES = ("max", "prohibited")
DOSE_RULES = ("max", "prohibited", "prohibited_as_such", "sum_of_fractions")  # what a lower dose can mend
CHECK = "check against the official Standard"
NO_FIGURE = "no figure on file for category {category}"


@dataclass(frozen=True)
class Part:
    """A member of a sum of fractions with its own maximum, percent of the product; ``None`` = unknown."""

    substance: str
    max_pct: float | None
    basis: str


@dataclass(frozen=True)
class Rule:
    """One rule of a set for the category in question."""

    limit_set: str
    substance: str
    category: str
    max_pct: float | None
    rule: str
    note: str
    basis: str
    source: str
    parts: tuple[Part, ...] = ()

    @property
    def check(self) -> str:
        """What to do about a recalled figure, '' if none is behind this rule."""
        return CHECK if "memory" in (self.basis, *(part.basis for part in self.parts)) else ""

    @property
    def tolerated_pct(self) -> float | None:
        """Of a substance prohibited as such: how much may come from naturals; ``None`` where no figure is stated."""
        return self.max_pct or None

    @property
    def asks_naturals(self) -> bool:
        """Whether it matters that a natural was not assessed for the substance."""
        if self.rule == "prohibited_as_such":
            return self.tolerated_pct is not None
        return self.rule in ("max", "prohibited", "sum_of_fractions", "alternative") or (
            self.rule == "grade" and self.max_pct is not None
        )


class Book:
    """The rules (``rules``) and label thresholds (``labels``) of a context, and which of them a material touches."""

    def __init__(self, exposure: Exposure, context: Context):
        self.exposure = exposure
        self.context = context
        picked = dict.fromkeys(rule for applied in context.sets for rule in _pick(exposure, applied))
        self.rules = tuple(rule for rule in picked if rule.rule != "declare")
        self.labels = tuple(rule for rule in picked if rule.rule == "declare")
        self._touched: dict[str, tuple[frozenset[int], frozenset[int]]] = {}
        self._prohibited: dict[str, tuple[str, ...]] | None = None
        self.members_of_sums: dict[
            int, frozenset[str]
        ] = {}  # by number of an alternative: the materials that must be measured
        self.stands_for: dict[
            int, frozenset[Rule]
        ] = {}  # by number of an alternative: the single limits and sums it replaces
        for number, rule in enumerate(self.rules):
            if rule.rule == "alternative":
                self._add_alternative(number, rule)

    def _add_alternative(self, number: int, rule: Rule) -> None:
        beside = [
            other
            for other in self.rules
            if other.rule == "sum_of_fractions"
            and (other.limit_set, other.category) == (rule.limit_set, rule.category)
        ]
        singles = {part.substance for one in beside for part in one.parts} | {one.substance for one in beside}
        self.members_of_sums[number] = frozenset(
            name for one in beside for name in self.exposure.members(one.substance)
        )
        self.stands_for[number] = frozenset(
            other
            for other in self.rules
            if other.limit_set == rule.limit_set
            and other.rule in ("max", "sum_of_fractions")
            and other.substance in singles - {rule.substance}
        )

    def touched(self, material: str) -> tuple[frozenset[int], frozenset[int]]:
        """Numbers of the rules whose substance ``material`` brings, and of those it was not assessed for."""
        if material not in self._touched:
            shares = self.exposure.shares(material)
            found = frozenset(n for n, rule in enumerate(self.rules) if rule.substance in shares)
            open_ = frozenset()
            if self.exposure.composed(material):
                open_ = frozenset(
                    n for n, rule in enumerate(self.rules) if unassessed_for(self.exposure, rule, (material,))
                )
            self._touched[material] = found, open_
        return self._touched[material]

    def prohibited(self, material: str) -> tuple[str, ...]:
        """Ids of the sets that prohibit ``material`` in the category, by itself or in a group."""
        if self._prohibited is None:
            found: dict[str, list[str]] = {}
            for rule in self.rules:
                if rule.rule in ("prohibited", "prohibited_as_such") or (
                    rule.rule == "max" and rule.max_pct == 0
                ):
                    for member in self.exposure.members(rule.substance):
                        found.setdefault(member, []).append(rule.limit_set)
            self._prohibited = {name: tuple(dict.fromkeys(sets)) for name, sets in found.items()}
        return self._prohibited.get(material, ())


def unassessed_for(exposure: Exposure, rule: Rule, materials: Iterable[str]) -> tuple[str, ...]:
    """Those of ``materials`` that may bring an unknown amount of what ``rule`` limits."""
    if not rule.asks_naturals:
        return ()
    wanted = [part.substance for part in rule.parts] if rule.rule == "sum_of_fractions" else [rule.substance]
    return tuple(name for name in materials if any(exposure.unassessed((name,), one) for one in wanted))


def book_of(exposure: Exposure, context: Context) -> Book:
    """The book of a context, compiled once per exposure."""
    if context not in exposure.books:
        exposure.books[context] = Book(exposure, context)
    return exposure.books[context]


def substance_name(tables: Tables, substance: str) -> str:
    """A material's name, or a group's id in plain words."""
    record = tables.materials.get(substance)
    return record.name if record else substance.replace("-", " ")


def _best(rows: Iterable[Limit], category: str) -> list[Limit]:
    """Rows for the category, else rows for all."""
    rows = list(rows)
    return [row for row in rows if row.category == category] or [row for row in rows if row.category == "all"]


def _pick(exposure: Exposure, applied: AppliedSet) -> list[Rule]:
    tables, category = exposure.tables, applied.category
    by_substance = exposure.limits_by_set.get(applied.limit_set.id, {})
    figures: dict[str, Rule] = {}
    others: list[Rule] = []
    sums: list[Limit] = []
    for substance, rows in by_substance.items():
        plain = [row for row in rows if row.rule in FIGURES]
        chosen = _best(plain, category)
        if category == ANY and not any(_strictness(row) <= 0 for row in chosen):
            # the strictest of any product, so that two materials can be compared
            chosen = [row for row in plain if row.max_pct and row.rule == "max"]
        if chosen:
            figures[substance] = _rule(min(chosen, key=_strictness))
        elif category != ANY:
            as_such = [row for row in rows if row.rule == "prohibited_as_such"]
            if (plain or as_such) and not _best(as_such, category):
                note = NO_FIGURE.format(category=category or "''")
                figures[substance] = Rule(
                    applied.limit_set.id, substance, category, None, "max", note, "", applied.limit_set.source
                )
        for name in dict.fromkeys(row.rule for row in rows if row.rule not in FIGURES):
            for row in _best([row for row in rows if row.rule == name], category):
                if name == "sum_of_fractions":
                    sums.append(row)
                else:
                    others.append(_rule(row))
    for row in sums:
        others.append(_rule(row, parts=tuple(_parts(tables, row.substance, figures, set()))))
    return [*figures.values(), *others]


def _strictness(row: Limit) -> float:
    if row.rule == "prohibited":
        return -1.0
    return float("inf") if row.max_pct is None else row.max_pct


def _rule(row: Limit, parts: tuple[Part, ...] = ()) -> Rule:
    most = 0.0 if row.rule == "prohibited" else row.max_pct
    return Rule(
        row.limit_set, row.substance, row.category, most, row.rule, row.note, row.basis, row.source, parts
    )


def _parts(tables: Tables, group: str, figures: dict[str, Rule], seen: set[str]) -> Iterable[Part]:
    """Members of a sum with their own maxima; a member group without a figure of its own stands for its members."""
    for member in tables.groups.get(group, {}):
        if member in seen:
            continue
        seen.add(member)
        figure = figures.get(member)
        if figure is not None:
            yield Part(member, figure.max_pct, figure.basis)
        elif member in tables.groups:
            yield from _parts(tables, member, figures, seen)
        else:
            yield Part(member, None, "")
