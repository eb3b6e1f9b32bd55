"""What came out of a portfolio held against the rules: the record, of any length, and its JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field
from functools import cached_property
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np

from ..figures import known
from ..frozen import frozen
from ..records import Tables
from ..shown import Shown
from ..tables.packed import Packed
from .changes import KINDS, Moves, Pair, Since
from .compiled import Compiled
from .context import Context
from .kinds import FRACTION
from .portfolio_columns import Column, why_unknown
from .rule import Rule, substance_name

PIECE = 4096  # records written at once
ROUNDED = ("limit_pct", "old_limit_pct", "found_pct", "times")


@frozen(eq=False)
class Screening(Shown):
    """All that ``screen`` answers. Breaches are arrays: accord (a place in ``names``), column, found
    (percent of the product).

    ``unknown`` holds (rule, accords); ``doubtful`` accords have at least one unknown, ``doubtful_only`` of
    them break nothing.
    ``mended`` is filled by the library where it was asked for.
    """

    asked_by: ClassVar[str] = "screen"

    compiled: Compiled = field(repr=False)
    dose_pct: float
    accords: int
    names: Packed
    accord: np.ndarray
    column: np.ndarray
    found: np.ndarray
    columns: tuple[Column, ...]
    unknown: tuple[tuple[Rule, int], ...]
    doubtful: int
    doubtful_only: int
    rejected: tuple[tuple[str, str], ...]
    since: Since | None = None
    pairs: tuple[Pair, ...] = ()
    moves: Moves | None = None
    mended: tuple[dict[str, Any], ...] | None = None

    def __len__(self) -> int:
        return len(self.accord)

    @property
    def tables(self) -> Tables:
        return self.compiled.exposure.tables

    @property
    def context(self) -> Context:
        return self.compiled.context

    @cached_property
    def broken(self) -> int:
        """How many accords break a limit."""
        return len(each_once(self.accord))

    @cached_property
    def broken_names(self) -> list[str]:
        """Their names, in the portfolio's order."""
        return self.names.at(each_once(self.accord))

    @cached_property
    def _order(self) -> np.ndarray:
        """Largest found / limit first; what is prohibited before all."""
        with np.errstate(divide="ignore"):
            scale = -1.0 / np.array([column.limit for column in self.columns], float)
        ratio = self.found * np.take(scale, self.column) if len(self) else np.zeros(0)
        return np.argsort(ratio, kind="stable")

    def breaches(self, most: int | None = None) -> Iterator[dict[str, Any]]:
        """Breaches as records, by how much must move; at most ``most``."""
        for names, column, found in self._pieces(self._order[:most], (self.column, self.found)):
            for name, place, amount in zip(names, column, found):
                one = self.columns[place]
                yield {
                    "accord": name,
                    "substance": one.rule.substance,
                    "limit_set": one.rule.limit_set,
                    "limit_pct": one.limit_pct,
                    "found_pct": None if one.term.unit == FRACTION else amount,
                    "times": amount / one.limit if one.limit > 0 else None,
                    "rule": one.rule.rule,
                    "category": one.rule.category,
                    "limit_words": one.term.words,
                }

    def _pieces(self, order: np.ndarray, arrays: Sequence[np.ndarray]) -> Iterator[Any]:
        accord = self.accord if arrays[0] is self.column or self.moves is None else self.moves.accord
        for start in range(0, len(order), PIECE):
            at = order[start : start + PIECE]
            yield self.names.at(accord[at]), *(values[at].tolist() for values in arrays)

    # -- against an older set
    # --------------------------------------------------------------------------------------------

    def changes(self, most: int | None = None) -> Iterator[dict[str, Any]]:
        """What moved, newly broken first, then by how much must move."""
        if self.moves is None or self.since is None:
            return
        moves, since = self.moves, self.since
        order = np.lexsort((-moves.ratio, moves.kind))[:most]
        arrays = (moves.pair, moves.kind, moves.found, moves.ratio, moves.new, moves.old)
        for names, *rest in self._pieces(order, arrays):
            for name, pair, kind, found, ratio, new, old in zip(names, *rest):
                new_limit, old_limit = self.pairs[pair].limits
                limit = self.columns[new].limit_pct if new >= 0 else new_limit
                yield {
                    "accord": name,
                    "substance": self.pairs[pair].substance,
                    "change": KINDS[kind],
                    "limit_set": since.new,
                    "limit_pct": limit,
                    "old_limit_set": since.old,
                    "old_limit_pct": self.columns[old].limit_pct if old >= 0 else old_limit,
                    "found_pct": None if math.isnan(found) or self._in_fractions(new, old) else found,
                    "times": ratio if 0 < ratio < 1e9 and new >= 0 else None,
                }

    def _in_fractions(self, *places: int) -> bool:
        """Whether a column counts in fractions of limits, which are no percentage of the product."""
        return any(self.columns[place].term.unit == FRACTION for place in places if place >= 0)

    def changed_limits(self) -> list[dict[str, Any]]:
        """Per changed rule: both limits, and how many accords each kind of change concerns."""
        if self.moves is None or self.since is None:
            return []
        counts = np.zeros((len(self.pairs), len(KINDS)), int)
        np.add.at(counts, (self.moves.pair, self.moves.kind), 1)
        rows = []
        for pair, row in zip(self.pairs, counts.tolist()):
            new, old = pair.limits
            rows.append(
                {
                    "substance": pair.substance,
                    "limit_set": self.since.new,
                    "limit_pct": new,
                    "old_limit_set": self.since.old,
                    "old_limit_pct": old,
                    "stated": bool(pair.new),
                    "old_stated": bool(pair.old),
                    **dict(zip(KINDS, row)),
                }
            )
        return sorted(rows, key=lambda row: [-row[kind] for kind in KINDS])

    # -- as JSON -------------------------------------------------------------------------------------------
    # --------------

    def _head(self) -> dict[str, Any]:
        return {
            "accords": self.accords,
            "dose_pct": self.dose_pct,
            "category": self.context.category,
            "product": self.context.product or None,
            "limit_sets": list(dict.fromkeys(one.limit_set.id for one in self.context.sets)),
            "broken": self.broken,
            "breach_count": len(self),
        }

    def _tail(self) -> dict[str, Any]:
        unknown = [
            {
                "substance": rule.substance,
                "name": substance_name(self.tables, rule.substance),
                "limit_set": rule.limit_set,
                "accords": count,
                "why": why_unknown(self.compiled, rule),
            }
            for rule, count in self.unknown
        ]
        tail = {
            "unknown": {
                "accords": self.doubtful,
                "of_these_unbroken": self.doubtful_only,
                "rows": sum(count for _, count in self.unknown),
                "by_substance": unknown,
            },
            "rejected": [{"accord": name, "message": message} for name, message in self.rejected],
        }
        if self.since is not None:
            tail |= {"since": self.since.old, "changed_limits": self.changed_limits()}
        if self.mended is not None:
            tail["mended"] = list(self.mended)
        return tail | {"notes": list(self.context.notes), "cautions": list(self.context.cautions)}

    def to_dict(self, most: int | None = None) -> dict[str, Any]:
        """The JSON; with ``most``, only the worst so many breaches and changes (``breach_count`` stays
        whole).
        """
        answer = self._head() | {"breaches": list(self.breaches(most))} | self._tail()
        if self.since is not None:
            answer["changes"] = list(self.changes(most))
        return answer

    def json(self, told: Mapping[str, Any] = MappingProxyType({})) -> Iterator[str]:
        """The same JSON as text, piece by piece: a long answer is never held as a whole. ``told`` is added at
        its end.
        """
        yield "{" + ",".join(
            f"\n  {json.dumps(key)}: {_compact(value)}" for key, value in self._head().items()
        )
        yield from _json_list("breaches", map(_rounded, self.breaches()))
        if self.since is not None:
            yield from _json_list("changes", map(_rounded, self.changes()))
        for key, value in {**self._tail(), **told}.items():
            if isinstance(value, list):
                yield from _json_list(key, value)
            else:
                yield f",\n  {json.dumps(key)}: {_compact(value)}"
        yield "\n}\n"


def each_once(ascending: np.ndarray) -> np.ndarray:
    """Numbers that come in order, each once."""
    return ascending[np.flatnonzero(np.diff(ascending, prepend=-1))]


def _rounded(record: dict[str, Any]) -> dict[str, Any]:
    """A record with its figures rounded to what is known, in place: there may be millions."""
    for key in ROUNDED:
        value = record.get(key)
        if value:
            record[key] = known(key, value)
    return record


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _json_list(key: str, records: Iterable[Any]) -> Iterator[str]:
    yield f",\n  {json.dumps(key)}: ["
    some, piece = False, []
    for record in records:
        piece.append(f"\n    {_compact(record)}")
        if len(piece) == PIECE:
            yield ("," if some else "") + ",".join(piece)
            some, piece = True, []
    if piece:
        yield ("," if some else "") + ",".join(piece)
    yield "\n  ]" if some or piece else "]"
