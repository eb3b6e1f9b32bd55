"""Keywords that several questions share, and those that are handed on as they are: each has the meaning and
the default of the record it becomes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypedDict

from ..records import Asked, Where

__all__ = [
    "AdjustOptions",
    "Asked",
    "LineVerdicts",
    "PlanOptions",
    "RebalanceOptions",
    "TriedOptions",
    "Where",
    "split",
]


class Freedom(TypedDict, total=False):
    """How far an adjustment may go (:class:`substitute.accords.gaps.Wanted`)."""

    move: float
    same_total: bool
    max_new: int | None
    rivals: int
    hold_dose: bool


class AdjustOptions(Freedom, Asked, total=False):
    """How far an adjustment may go, and where its accord goes."""


class LineVerdicts(TypedDict, total=False):
    """Lines of an accord by what the nose said of them, each with a degree behind a colon if one was said."""

    too_strong: Sequence[str]
    too_weak: Sequence[str]
    right: Sequence[str]


class RebalanceOptions(LineVerdicts, Asked, total=False):
    """What was said of an accord's lines, and where it goes."""


class SwapVerdict(TypedDict, total=False):
    """What the nose said of a stand-in (:class:`substitute.book.desk.Spoken`); ``on``: the day, ISO text."""

    nearness: str
    amount: str
    degree: str
    used: float | None
    needs: float | None
    words: str
    on: str


class TriedOptions(SwapVerdict, LineVerdicts, total=False):
    """What the nose said, of a stand-in or of an accord's lines."""


class Wished(TypedDict, total=False):
    """What is to be bought (:class:`substitute.shelf.wish.Wish`); materials by any of their names."""

    buy: int | None
    from_nothing: int | None
    budget: float | None
    must: Sequence[str]
    must_not: Sequence[str]
    include_controlled: bool
    exact: bool


class PlanOptions(Wished, Asked, total=False):
    """What is to be bought, and where the accords go."""


def split(options: Mapping[str, Any], *kinds: Any) -> list[dict[str, Any]]:
    """``options`` by the kind that knows them, in the order of ``kinds``; raises :class:`TypeError` for one
    that none knows."""
    known = [kind.__annotations__ for kind in kinds]
    for name in options:
        if not any(name in words for words in known):
            raise TypeError(f"unexpected keyword argument '{name}'")
    return [{name: options[name] for name in words if name in options} for words in known]
