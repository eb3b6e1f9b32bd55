"""Which rows of the limit tables count in a category, each picked once.

A row for the category beats a row for ``all``, except that a person's own row for ``all`` counts beside
ours where it is stricter. A
substance with figures for other categories only is *unknown* here and gets a rule that says so; it is never
silently left out.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..records import Limit, Tables
from .context import ANY, AppliedSet
from .estimate import estimated
from .exposure import Exposure
from .kinds import kind_of
from .rule import Part, Rule

FIGURES = ("max", "prohibited")
NO_FIGURE = "no figure on file for category {category}"


def pick(exposure: Exposure, applied: AppliedSet) -> list[Rule]:
    """The rules of a set where it puts the product; in no category (``ANY``) the strictest figure of any
    speaks.
    """
    tables, category = exposure.tables, applied.category
    figures: dict[str, Rule] = {}
    others: list[Rule] = []
    sums: list[Limit] = []
    for substance, rows in exposure.limits_by_set.get(applied.limit_set.id, {}).items():
        figure = _figure(exposure, applied, substance, rows)
        if figure is not None:
            figures[substance] = figure
        for name in dict.fromkeys(row.rule for row in rows if row.rule not in FIGURES):
            for row in _best([row for row in rows if row.rule == name], category):
                if name == "sum_of_fractions":
                    sums.append(row)
                else:
                    others.append(_rule(row))
    for row in sums:
        others.append(_rule(row, parts=tuple(_parts(tables, row.substance, figures, set()))))
    return [*figures.values(), *others]


def _figure(exposure: Exposure, applied: AppliedSet, substance: str, rows: list[Limit]) -> Rule | None:
    category = applied.category
    plain = [row for row in rows if row.rule in FIGURES]
    chosen = _best(plain, category)
    if category == ANY and not any(_strictness(row) <= 0 for row in chosen):
        chosen = [row for row in plain if row.max_pct and row.rule == "max"]
    picked = _rule(min(chosen, key=_strictness)) if chosen else None
    if category == ANY or (picked is not None and picked.max_pct is not None):
        return picked
    as_such = [row for row in rows if row.rule == "prohibited_as_such"]
    if picked is None and (not (plain or as_such) or _best(as_such, category)):
        return None
    guess = estimated(exposure, applied, substance, plain)
    note = picked.note if picked is not None else NO_FIGURE.format(category=category or "''")
    basis = picked.basis if picked is not None and guess is None else "estimate" if guess is not None else ""
    source = picked.source if picked is not None else applied.limit_set.source
    said = picked.category if picked is not None and guess is None else category
    return Rule(applied.limit_set.id, substance, said, None, "max", note, basis, source, (), guess)


def words_of(row: Limit) -> str:
    """A row of the limit tables in words: a maximum, what is prohibited and how, or that no figure is on
    file.
    """
    rule = _rule(row)
    return kind_of(rule).terms(rule)[-1].words


def _best(rows: Iterable[Limit], category: str) -> list[Limit]:
    """Rows for the category, else rows for all; a person's own row for all stands beside ours for the
    category.
    """
    rows = list(rows)
    mine = [row for row in rows if row.category == category]
    everywhere = [row for row in rows if row.category == "all"]
    if not mine:
        return everywhere
    if any(row.own for row in mine):
        return mine
    return [*mine, *(row for row in everywhere if row.own and row.rule in FIGURES)]


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
    """Members of a sum with their own maxima; a member group without a figure of its own stands for its
    members.
    """
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
