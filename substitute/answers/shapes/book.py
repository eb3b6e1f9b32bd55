"""Answers about the bench book."""

from __future__ import annotations

from typing import Literal, TypedDict

Degree = Literal["", "slightly", "clearly", "far"]
Amount = Literal["", "too_strong", "right", "too_weak"]


class Unpriced(TypedDict):
    """A material without a price of the person's own, and what it may cost."""

    id: str
    name: str
    grams: float
    low: float | None
    high: float | None
    word: str | None


class BatchCost(TypedDict):
    """What a batch costs in the money of the person's own prices; ``high`` is ``None`` where a price is not
    known at all."""

    known: float
    low: float
    high: float | None
    unpriced: list[Unpriced]
    told: str


class AccordCost(BatchCost):
    """What an accord costs."""

    accord: str
    grams: float


class CostAnswer(TypedDict):
    """``book cost``."""

    accords: list[AccordCost]
    total: BatchCost
    notes: list[str]


# A figure learned: before (on file), after, nine-in-ten limits, and the verdicts it comes from.
Learned = TypedDict(
    "Learned",
    {
        "what": Literal["amount", "rank", "loudness", "profile"],
        "id": str,
        "name": str,
        "missing": str | None,
        "before": float | None,
        "after": float | None,
        "low": float | None,
        "high": float | None,
        "from": list[int],
        "told": str,
    },
)


class VerdictSaid(TypedDict):
    """What the nose said once."""

    id: int
    date: str
    kind: Literal["swap", "blend", "line", "accord"]
    about: str
    line: str | None
    trial: int | None
    nearness: Literal["near", "fair", "far", "not_smelled"] | None
    amount: Literal["too_strong", "right", "too_weak"] | None
    degree: Literal["slightly", "clearly", "far"] | None
    grams_used: float | None
    grams_right: float | None
    words: str
    taken_back: str | None


class VerdictTold(VerdictSaid):
    """A verdict with itself in a sentence."""

    told: str


class TriedAnswer(TypedDict):
    """``tried`` and ``book forget``."""

    verdicts: list[VerdictSaid]
    learned: list[Learned]
    notes: list[str]


class About(TypedDict):
    """The book."""

    folder: str
    name: str
    created: str


class BottleShown(TypedDict):
    """A bottle; ``grams`` and price ``None`` where not known."""

    label: str
    id: str
    name: str
    lot: str
    strength_pct: float
    grams: float | None
    price_per_gram: float | None
    date: str


class Taken(TypedDict):
    """Grams out of a bottle, negative into it; rows of one weighing share ``id``."""

    id: int
    date: str
    what: str
    accord: str
    label: str
    grams: float


class BookAnswer(TypedDict):
    """``book show``."""

    book: About
    learned: list[Learned]
    verdicts: list[VerdictTold]
    bottles: list[BottleShown]
    accords: list[str]
    taken: list[Taken]
    notes: list[str]


class PutBack(TypedDict):
    """A bottle after an undone weighing."""

    label: str
    grams: float
    left: float | None


class TakenAnswer(TypedDict):
    """``book undo``."""

    id: int
    accord: str
    moves: list[PutBack]
    notes: list[str]


class Place(TypedDict):
    """Where something was found."""

    accord: str
    trial: int | None
    where: Literal["said", "name", "line"]
    told: str
    verdict: int | None


class FoundAnswer(TypedDict):
    """``book find``."""

    text: str
    found: list[Place]
    notes: list[str]
