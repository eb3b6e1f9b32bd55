"""What a new set of limits changes for many accords against the set it replaces, all others held fixed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ..errors import InputError
from ..frozen import frozen
from ..records import Tables
from ..tables.near import nearest
from .compiled import Compiled
from .context import Context, resolve_context
from .kinds import SLACK, kind_of
from .portfolio_columns import Columns
from .portfolio_unknown import Governing
from .product import Rows
from .rule import Rule

if TYPE_CHECKING:
    from .portfolio import Screener

KINDS = ("newly_broken", "newly_unknown", "tighter", "newly_fine", "looser")  # in this order they are told
BROKEN, UNKNOWN, TIGHTER, FINE, LOOSER = range(len(KINDS))
SAME = 1e-9  # relative; ratios nearer than this have not moved


@frozen(eq=False)
class Moves:
    """One entry per accord and changed rule; ``ratio`` is found / limit by the new set, ``new`` and ``old``
    the columns (-1: none).
    """

    accord: np.ndarray
    pair: np.ndarray
    kind: np.ndarray
    found: np.ndarray
    ratio: np.ndarray
    new: np.ndarray
    old: np.ndarray

    def renumbered(self, accord: np.ndarray) -> Moves:
        return replace(self, accord=accord.astype(np.int32))

    def picked(self, keep: np.ndarray) -> Moves:
        return Moves(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))


@frozen
class Pair:
    """What the new and the old set say about one substance; either may say nothing."""

    substance: str
    new: tuple[Rule, ...]
    old: tuple[Rule, ...]

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """New and old limit in percent of the product; ``None`` where none is stated."""
        return _strictest(self.new), _strictest(self.old)


def _strictest(rules: Sequence[Rule]) -> float | None:
    known = [rule.max_pct for rule in rules if rule.max_pct is not None and not kind_of(rule).of_parts]
    return min(known) if known else None


@frozen
class Since:
    """The pair of sets to compare, and the context of the old one alone."""

    new: str
    old: str
    context: Context


def compare_with(
    tables: Tables, context: Context, old: str, *, product: str | None = None, category: str | None = None
) -> Since:
    """Which applied set takes the place of ``old``, and where ``old`` puts the product.

    Raises
    ------
    InputError
        For an unknown set, one that is applied itself, one that is newer than what it would be compared
        with, or one that nothing
        applied replaces.
    """
    match = next((name for name in tables.limit_sets if name.casefold() == str(old).strip().casefold()), None)
    if match is None:
        raise InputError(
            f"'{old}' is not a known set of limits: one of "
            f"{', '.join(tables.limit_sets)}{nearest(str(old), tables.limit_sets)}"
        )
    applied = list(dict.fromkeys(one.limit_set.id for one in context.sets))
    new = _successor(tables, applied, match)
    day, was = tables.limit_sets[new].in_force, tables.limit_sets[match].in_force
    if day < was:
        raise InputError(
            f"'{new}' (in force {day}) is older than '{match}' (in force {was}), which it would "
            f"replace: `since` wants the older of the two"
        )
    ids = [match if name == new else name for name in applied]
    before = resolve_context(
        tables, product=product, category=category, market=context.market, limits=ids, on=context.on
    )
    return Since(
        new, match, replace(before, sets=tuple(one for one in before.sets if one.limit_set.id == match))
    )


def _successor(tables: Tables, applied: Sequence[str], match: str) -> str:
    """Which of the ``applied`` sets takes the place of ``match``: one that replaces it, else the only one.

    Raises :class:`~substitute.errors.InputError` where none does.
    """
    if match in applied:
        raise InputError(
            f"`since` '{match}' is applied itself; name the new set with `limits` and the older one "
            f"with `since`"
        )
    earlier = {name: _earlier(tables, name) for name in applied}
    for name in applied:
        if match in earlier[name]:
            return name
    later = next((name for name in applied if name in _earlier(tables, match)), None)
    if later is not None:
        raise InputError(
            f"'{match}' is newer than '{later}', which it replaces: `since` wants the older of the two"
        )
    if len(applied) == 1:
        return applied[0]
    near = (
        "; ".join(f"{name} replaces {rows[0]}" for name, rows in earlier.items() if rows)
        or "none of the sets applied replaces another"
    )
    raise InputError(f"no set applied replaces '{match}' ({near}); name the new set with `limits`")


def _earlier(tables: Tables, name: str) -> list[str]:
    found: list[str] = []
    while name in tables.limit_sets and (before := tables.limit_sets[name].replaces) and before not in found:
        found.append(before)
        name = before
    return found


def pair_up(new: Compiled, old: Compiled, since: Since) -> tuple[Pair, ...]:
    """Rules of both sets side by side, where anything differs."""
    sides: dict[tuple[str, str], tuple[list[Rule], list[Rule]]] = {}
    newer = [rule for rule in new.rules if rule.limit_set == since.new]
    for place, rules in enumerate((newer, old.rules)):
        for rule in rules:
            if kind_of(rule).on_label:
                continue
            family = "amount" if kind_of(rule).limits_amount else rule.rule
            sides.setdefault((rule.substance, family), ([], []))[place].append(rule)
    pairs = [Pair(substance, tuple(one), tuple(other)) for (substance, _), (one, other) in sides.items()]
    return tuple(pair for pair in pairs if _says(pair.new) != _says(pair.old))


def _says(rules: Sequence[Rule]) -> list[tuple[str, str, list[tuple[str, str]]]]:
    return sorted(
        (rule.rule, str(rule.max_pct), [(part.substance, str(part.max_pct)) for part in rule.parts])
        for rule in rules
    )


class Compare:
    """Called by :class:`~substitute.rules.portfolio.Screener` with each block of accords."""

    def __init__(self, columns: Columns, pairs: Sequence[Pair]):
        self.columns, self.pairs = columns, tuple(pairs)
        places: dict[Rule, list[int]] = {rule: [] for pair in pairs for rule in (*pair.new, *pair.old)}
        for place, column in enumerate(columns.columns):
            if column.rule in places:
                places[column.rule].append(place)
        wanted = sorted(place for found in places.values() for place in found)
        self._at = {place: i for i, place in enumerate(wanted)}
        self._wanted = np.array(wanted, np.int64)
        self._values = Rows.of(columns.values.dense()[:, wanted])
        self._sides = [
            tuple(
                (tuple(place for rule in rules for place in places[rule]), rules)
                for rules in (pair.new, pair.old)
            )
            for pair in pairs
        ]

    def __call__(
        self,
        screener: Screener,
        percent: Rows,
        words: np.ndarray,
        governs: Governing,
    ) -> Moves:
        ratio = percent.times(self._values)
        for one, over in zip(self.columns.alternatives, governs):
            if one.column in self._at and over is not None:
                ratio[~over, self._at[one.column]] = 0.0
            if over is not None:
                for place, i in self._at.items():
                    if self.columns.columns[place].rule in one.replaces:
                        ratio[over, i] = 0.0
        parts = [
            self._moves(screener, percent, words, governs, ratio, number) for number in range(len(self.pairs))
        ]
        parts = [part for part in parts if part is not None]
        if not parts:
            empty = np.zeros(0, np.int64)
            return Moves(empty, empty, empty, empty * 0.0, empty * 0.0, empty, empty)
        return Moves(
            *(np.concatenate([getattr(part, name) for part in parts]) for name in Moves.__dataclass_fields__)
        )

    def _moves(
        self,
        screener: Screener,
        percent: Rows,
        words: np.ndarray,
        governs: Governing,
        ratio: np.ndarray,
        number: int,
    ) -> Moves | None:
        (new, new_rules), (old, old_rules) = self._sides[number]
        after, new_column = self._worst(ratio, new)
        before, old_column = self._worst(ratio, old)
        state = np.where(after > SLACK, 2, self._in_doubt(screener, words, governs, new_rules))
        was = np.where(before > SLACK, 2, self._in_doubt(screener, words, governs, old_rules))
        kind = np.full(len(state), -1, np.int8)
        if all(
            places or not rules for places, rules in self._sides[number]
        ):  # a figure that is not on file is neither
            kind[after > before * (1 + SAME)] = TIGHTER
            kind[after < before * (1 - SAME)] = LOOSER
        kind[(state == 2) & (was != 2)] = BROKEN
        kind[(state == 1) & (was != 1)] = UNKNOWN
        kind[(state == 0) & (was == 2)] = FINE
        kind[(state == 0) & (was == 1)] = FINE if new_rules else LOOSER
        at = np.flatnonzero(kind >= 0)
        if not len(at):
            return None
        shown = np.where(after[at] > 0, new_column[at], old_column[at])
        values = np.where(after[at] > 0, after[at], before[at])
        found = np.full(len(at), np.nan)
        some = shown >= 0
        found[some] = screener.found(percent, at[some], shown[some], values[some])
        return Moves(
            at,
            np.full(len(at), number, np.int16),
            kind[at],
            found,
            after[at],
            new_column[at].astype(np.int16),
            old_column[at].astype(np.int16),
        )

    def _worst(self, ratio: np.ndarray, places: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
        """The largest ratio among columns, and which it is (-1 where all are zero)."""
        if not places:
            return np.zeros(len(ratio)), np.full(len(ratio), -1)
        mine = ratio[:, [self._at[place] for place in places]]
        best = mine.argmax(axis=1)
        most = mine[np.arange(len(mine)), best]
        return most, np.where(most > 0, np.array(places)[best], -1)

    def _in_doubt(
        self, screener: Screener, words: np.ndarray, governs: Governing, rules: Sequence[Rule]
    ) -> np.ndarray:
        found = np.zeros(words.shape[1], bool)
        for rule in rules:
            mine = screener.doubts.has(words, self.columns.bit_of_rule.get(rule, -1))
            for one, over in zip(self.columns.alternatives, governs):
                if rule == one.rule:
                    mine &= ~screener.doubts.has(words, one.present)
                if over is not None and rule in one.replaces:
                    mine &= ~over
            found |= mine
        return found.astype(int)
