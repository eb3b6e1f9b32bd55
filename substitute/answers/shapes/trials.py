"""Answers about an accord's trials: the next one, the whole family, two side by side."""

from __future__ import annotations

from typing import TypedDict

from .accords import BeforeAfter
from .book import Amount, Degree


class TrialLine(BeforeAfter):
    """A line of the next trial."""

    verdict: Amount
    degree: Degree
    why: str


class RebalanceAnswer(TypedDict):
    """``rebalance``."""

    trial: int
    parent: str
    lines: list[TrialLine]
    total_before: float
    total_after: float
    ratios: list[list[str]]
    notes: list[str]
    warnings: list[str]
    cautions: list[str]


class Said(TypedDict):
    """What a trial held of a material and what was said of it."""

    parts: float | None
    verdict: Amount
    degree: Degree


class InTrials(TypedDict):
    """A material over the trials, oldest first."""

    id: str
    name: str
    trials: list[Said]


class TrialOf(TypedDict):
    """A trial of the family; ``parent_gone`` where the file it came from is not there any more."""

    name: str
    trial: int
    parent: str | None
    parent_gone: bool
    total: float
    words: list[str]


class HistoryAnswer(TypedDict):
    """The whole family of an accord's trials."""

    accord: str
    trials: list[TrialOf]
    materials: list[InTrials]
    notes: list[str]


class ComparedLine(TypedDict):
    """A material in two trials; ``times`` is how many times as much of itself the second holds."""

    id: str
    name: str
    before: Said
    after: Said
    times: float | None
    changed: bool


class CompareAnswer(TypedDict):
    """Two trials side by side."""

    trials: list[str]
    totals: list[float]
    lines: list[ComparedLine]
