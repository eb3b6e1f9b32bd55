"""A portfolio held against the rules: one run over its blocks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..tables.packed import Packed
from .changes import Compare, Moves, Pair, Since, pair_up
from .compiled import Compiled, compiled_for
from .context import check_dose
from .portfolio import Screener, judge_all
from .portfolio_kept import columns_for
from .screened import Screening, each_once

if TYPE_CHECKING:
    from ..tables.portfolios import Portfolio

Progress = Callable[[float | None, int, int], None]
"""Called with the share of the portfolio done (0 to 1, ``None`` if nobody can tell), accords so far, and
broken ones so far.
"""


def _emptied(pile: list[np.ndarray], kind: Any) -> np.ndarray:
    """The arrays of a pile as one; the pile is given up, so that nothing is held twice for long."""
    whole = np.concatenate(pile) if pile else np.zeros(0, kind)
    pile.clear()
    return whole


def screen(
    compiled: Compiled,
    portfolio: Portfolio,
    dose: float,
    *,
    since: Since | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Screening:
    """Hold every accord of ``portfolio`` (see :class:`substitute.tables.portfolios.Portfolio`) against
    ``compiled`` rules.

    ``dose`` in percent of the finished product. Raises :class:`~substitute.errors.InputError` for a dose
    out of range and for what
    the portfolio cannot be read as; a single accord at fault is among ``rejected``.
    """
    dose = check_dose(dose)
    both, pairs = [compiled], tuple[Pair, ...]()
    if since is not None:
        older = compiled_for(compiled.exposure, since.context)
        both.append(older)
        pairs = pair_up(compiled, older, since)
    columns = columns_for(both)
    screener = Screener(columns, dose, compiled.rules, Compare(columns, pairs) if since is not None else None)
    accords = doubtful = only = broken = held = 0
    unknown = np.zeros(len(screener.doubts.rules), np.int64)
    names: list[Packed] = []
    parts: tuple[list[np.ndarray], ...] = ([], [], [])
    moves: list[Moves] = []
    for judged in judge_all(screener, portfolio.chunks(), workers):
        accords, doubtful, only = (
            accords + judged.count,
            doubtful + judged.doubtful,
            only + judged.doubtful_only,
        )
        unknown += judged.unknown
        broken += len(each_once(judged.hits.accord))
        for pile, values in zip(
            parts, (judged.hits.accord + np.int32(held), judged.hits.column, judged.hits.found)
        ):
            pile.append(values)
        if judged.changes is not None:
            moves.append(replace(judged.changes, accord=judged.changes.accord + np.int32(held)))
        names.append(judged.names)
        held += len(judged.names)
        if progress:
            progress(judged.done, accords, broken)
    accord, column, found = (_emptied(pile, kind) for pile, kind in zip(parts, (np.int32, np.int16, float)))
    every = Packed.joined(names)
    names.clear()
    all_moves = (
        Moves(*(np.concatenate([getattr(one, name) for one in moves]) for name in Moves.__dataclass_fields__))
        if moves
        else None
    )
    moves.clear()
    if portfolio.apart:
        accords -= portfolio.apart_count
        out = np.array([name in portfolio.apart for name in every], bool)
        keep = ~out[accord]
        accord, column, found = accord[keep], column[keep], found[keep]
        all_moves = all_moves.picked(~out[all_moves.accord]) if all_moves is not None else None
    counted = sorted(
        ((rule, int(count)) for rule, count in zip(screener.doubts.rules, unknown) if count > 0),
        key=lambda pair: (-pair[1], pair[0].substance),
    )
    return Screening(
        compiled,
        dose,
        accords,
        every,
        accord,
        column,
        found,
        columns.columns,
        tuple(counted),
        doubtful,
        only,
        tuple(portfolio.rejected),
        since,
        pairs,
        all_moves,
    )
