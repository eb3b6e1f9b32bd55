"""Answers about one accord."""

from __future__ import annotations

from typing import Literal, TypedDict

from ...accords.weighing import CheckStep, Dilution, Strip, WeighedLine
from .book import BatchCost
from .common import Basis, Brief, Match, Stages, Verdict, Wall


class BeforeAfter(Brief):
    """A line's parts before and after."""

    strength_pct: float
    parts_before: float
    parts_after: float


class AdjustedLine(BeforeAfter):
    """A line and what caused its change."""

    cause: Literal["kept", "asked", "shelf", "prohibited", "limit", "moved", "new"]
    why: str
    role: Literal["core", "support", "lift", "trace"]
    optional: bool


class Option(TypedDict):
    """A plain way out."""

    name: Literal["leave_out", "one_to_one", "strength", "cut", "lower_dose"]
    match: float
    within_known: bool
    dose_pct: float | None


class Rival(TypedDict):
    """Another formula for the same question."""

    name: str
    verdict: Verdict
    match: Match
    moved: list[str]
    new: list[str]
    lines: list[BeforeAfter]
    cost_per_gram: float | None
    note: str


class LimitChange(TypedDict):
    """A limit before and after; ``None`` is unknown."""

    substance: str
    limit_set: str
    limit_pct: float | None
    before_pct: float
    after_pct: float
    ok_before: bool | None
    ok_after: bool | None
    basis: Basis
    name: str
    rule: str
    limit_words: str


class Bottle(Brief):
    """The one bottle that would help most, and the match with it."""

    match: float


class Cost(TypedDict):
    """Cost of a gram in the shelf's currency."""

    before: float | None
    after: float | None


class AdjustAnswer(TypedDict):
    """``adjust``."""

    accord: str
    verdict: Verdict
    lines: list[AdjustedLine]
    match: Match
    match_range: list[float]
    likeness: float | None
    total_before: float
    total_after: float
    dose_pct: float | None
    dose_after_pct: float | None
    product: str | None
    category: str | None
    options: list[Option]
    rivals: list[Rival]
    limits: list[LimitChange]
    lost_for_good: list[str]
    bottle: Bottle | None
    cost_per_gram: Cost
    notes: list[str]
    cautions: list[str]
    within_known: bool
    wall: Wall | None
    dose_within_known_pct: float | None


class WeighAnswer(TypedDict):
    """``weigh``."""

    accord: str
    balance: float
    lines: list[WeighedLine]
    solvent: Brief
    solvent_g: float
    total_g: float
    concentrate_pct: float
    strips: list[Strip]
    dilutions: list[Dilution]
    check: list[CheckStep]
    cautions: list[str]
    taken: list[str]
    cost: BatchCost | None


class Voice(Brief):
    """A core line as it is heard: its share of the smell, 0 to 1, and the stage that needs it."""

    parts: float
    share: Stages
    voice: float
    needs: str
    lasts: str
    why: str


class LiftAmount(TypedDict):
    """An amount to try: the match, and the line's notes at the stage that needs them (after / before)."""

    parts: float
    match: float
    line_strength: float


class Suggestion(Brief):
    """What helps a line carry and how little of it; ``practice`` is a row of ``lifts.csv`` in words."""

    lifts: Brief
    parts: float
    match: float
    match_by_stage: Stages
    line_strength: Stages
    total_strength: Stages
    amounts: list[LiftAmount]
    practice: str | None
    basis: Basis
    source: str
    strip_pct: float
    why: str
    law: list[str]


class LiftAnswer(TypedDict):
    """``lift``: core lines, the weakest voice first; the first is the one that is lifted."""

    accord: str
    lines: list[Voice]
    suggestions: list[Suggestion]
    strips: list[str]
    notes: list[str]
    cautions: list[str]
