"""Answers about one accord."""

from __future__ import annotations

from typing import Literal, TypedDict

from .book import Amount, BatchCost, Degree
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


class WeighedLine(Brief):
    """One weighing; ``order`` its turn on the balance."""

    strength_pct: float
    grams: float
    error_pct: float
    active_g: float
    warn: str
    order: int


class Dilution(TypedDict):
    """A solution to make first."""

    id: str
    name: str
    strength_pct: float
    grams: float
    from_pct: float
    from_grams: float
    carrier: str
    carrier_grams: float
    error_pct: float
    text: str


class Strip(Brief):
    """A strip to dip."""

    dip_pct: float
    have: bool
    why: str


class CheckStep(TypedDict):
    """A row of the check of old against new."""

    day: int
    test: str
    lay_out: str
    ask: str


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


class LessonLine(Brief, Stages):
    """A line and what part of the smell it is, percent."""

    role: str
    parts: float
    strength_pct: float
    smells_of: str
    does: str


class LessonStrip(TypedDict):
    """A strip for a class."""

    role: str
    id: str
    name: str
    dip_pct: float
    at_hand: str
    why: str


class Listening(TypedDict):
    """What to listen for at a stage."""

    after: str
    stage: str
    listen_for: str
    changed: str
    carried_by: str
    strength: float


class LessonSwap(TypedDict):
    """What a swap of one line does."""

    missing_id: str
    missing: str
    stand_in_id: str
    stand_in: str
    grams_per_gram: float | None
    brings: str
    loses: str
    match: float | None
    match_left_out: float


class ToPrepare(TypedDict):
    """A solution to have ready, grams by mass; nothing is drawn where it stands on the shelf."""

    id: str
    name: str
    strength_pct: float
    grams: float
    from_pct: float | None
    from_grams: float | None
    carrier_grams: float | None
    how: str


class Weighed(TypedDict):
    """A weighing of a batch for the class."""

    batch: str
    id: str
    name: str
    strength_pct: float
    grams: float


class PlaceStrips(TypedDict):
    """What lies at every place."""

    what: str
    strips: int


class Seat(TypedDict):
    """A place, its bench and its role."""

    place: int
    bench: int
    role: str


class Minute(TypedDict):
    """What is done at a minute of the lesson; below 0 before it."""

    minute: int
    do: str


class Coded(TypedDict):
    """A blind sample; ``id`` is '' for the accord."""

    code: str
    id: str
    what: str


class ToBuy(Brief):
    """What a class takes of a material, and what the rest costs in the shelf's money (``None``: no price)."""

    grams: float
    at_hand: str
    at_hand_g: float | None
    buy_g: float
    price_per_gram: float | None
    price_word: str
    low: float | None
    high: float | None


class Spared(TypedDict):
    """What need not be bought: something from the shelf in its place, or nothing (``take`` is ``None``)."""

    id: str
    name: str
    take: str | None
    grams_per_gram: float | None
    match: float
    low: float
    high: float


class ClassCost(TypedDict):
    """What is to be bought costs from ``low`` to ``high``, what has no price left out."""

    low: float
    high: float
    unpriced: list[str]
    budget: float | None
    holds: bool | None
    from_bottles: float | None
    spare: list[Spared]


class ClassAnswer(TypedDict):
    """All that a class needs."""

    places: int
    prepare: list[ToPrepare]
    batch: list[Weighed]
    place_strips: list[PlaceStrips]
    seats: list[Seat]
    timetable: list[Minute]
    key: list[Coded]
    orders: list[list[str]]
    buy: list[ToBuy]
    cost: ClassCost


LessonAnswer = TypedDict(
    "LessonAnswer",
    {
        "accord": str,
        "intent": str,
        "lines": list[LessonLine],
        "strips": list[LessonStrip],
        "listen": list[Listening],
        "swaps": list[LessonSwap],
        "prepare": list[ToPrepare],
        "class": ClassAnswer | None,
        "cautions": list[str],
    },
)
"""A lesson."""
