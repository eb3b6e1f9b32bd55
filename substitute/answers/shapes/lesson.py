"""The answer that is a lesson: one accord, told to a class."""

from __future__ import annotations

from typing import TypedDict

from .common import Brief, Stages


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
