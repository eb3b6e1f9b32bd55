"""Which rows of the limit tables count in a category, each picked once.

A row for the category beats a row for ``all``, except that a person's own row for ``all`` counts beside
ours where it is stricter. A
substance with figures for other categories only is *unknown* here and gets a rule that says so; it is never
silently left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..records import Limit, Tables
from .context import ANY, AppliedSet
from .estimate import estimated
from .exposure import Exposure
from .kinds import FIGURE, kind_of
from .rule import Part, Rule

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
        for name in dict.fromkeys(row.rule for row in rows if not kind_of(row).own_figure):
            for row in _best([row for row in rows if row.rule == name], category):
                if kind_of(row).of_parts:
                    sums.append(row)
                else:
                    others.append(_rule(row))
    for row in sums:
        others.append(_rule(row, parts=tuple(_parts(tables, row.substance, figures, set()))))
    return [*figures.values(), *others]


def _figure(exposure: Exposure, applied: AppliedSet, substance: str, rows: list[Limit]) -> Rule | None:
    """The one figure that a set has for a substance in the category; ``None`` where it says nothing of it.

    A row without a figure, and a substance that has one in other categories only, are a rule that is unknown
    here, with an estimate where one can be made.
    """
    plain = [row for row in rows if kind_of(row).own_figure]
    if applied.category == ANY:
        return _in_general(plain)
    chosen = _best(plain, applied.category)
    picked = _rule(min(chosen, key=_strictness)) if chosen else None
    if picked is not None and picked.max_pct is not None:
        return picked
    if picked is None:
        others = [row for row in rows if kind_of(row).limits_amount and not kind_of(row).own_figure]
        if not (plain or others) or _best(others, applied.category):
            return None
    return _unknown(exposure, applied, substance, plain, picked)


def _in_general(plain: Sequence[Limit]) -> Rule | None:
    """The figure where no product is named: what is prohibited everywhere, else the strictest maximum."""
    everywhere = _best(plain, ANY)
    if not any(_strictness(row) <= 0 for row in everywhere):
        everywhere = [row for row in plain if row.max_pct and kind_of(row).maximum]
    return _rule(min(everywhere, key=_strictness)) if everywhere else None


def _unknown(
    exposure: Exposure, applied: AppliedSet, substance: str, plain: list[Limit], picked: Rule | None
) -> Rule:
    """A maximum without a figure: ``picked`` is the row that has none, if there is one."""
    category, guess = applied.category, estimated(exposure, applied, substance, plain)
    note, basis, source = NO_FIGURE.format(category=category or "''"), "", applied.limit_set.source
    said = category
    if picked is not None:
        note, basis, source, said = picked.note, picked.basis, picked.source, picked.category
    if guess is not None:
        basis, said = "estimate", category
    return Rule(applied.limit_set.id, substance, said, None, FIGURE, note, basis, source, (), guess)


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
    return [*mine, *(row for row in everywhere if row.own and kind_of(row).own_figure)]


def _strictness(row: Limit) -> float:
    if kind_of(row).bans:
        return -1.0
    return float("inf") if row.max_pct is None else row.max_pct


def _rule(row: Limit, parts: tuple[Part, ...] = ()) -> Rule:
    most = 0.0 if kind_of(row).bans else row.max_pct
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
