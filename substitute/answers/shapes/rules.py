"""Answers about rules."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from .common import Basis, Control, Share, Wall

# ``from`` is a word of Python, so the records that have it are written as calls.
LimitRow = TypedDict(
    "LimitRow",
    {
        "substance": str,
        "name": str,
        "limit_set": str,
        "category": str,
        "limit_pct": float | None,
        "limit_words": str,
        "found_pct": float | None,
        "typical_pct": float | None,
        "headroom_pct": float | None,
        "used": float | None,
        "ok": bool | None,
        "state": str,
        "estimate_pct": float | None,
        "basis": Basis,
        "from": list[Share],
        "rule": str,
        "note": str,
        "check": str,
        "source": str,
        "unassessed": list[str],
        "governs": bool,
        "applies": bool,
        "remote": bool,
    },
)
Declared = TypedDict(
    "Declared",
    {
        "label": str,
        "substance": str,
        "limit_set": str,
        "found_pct": float,
        "typical_pct": float,
        "threshold_pct": float,
        "state": str,
        "basis": Basis,
        "check": str,
        "from": list[Share],
    },
)


class DeclareUnknown(TypedDict):
    """A label that may have to be named: naturals were not looked into for it."""

    label: str
    substance: str
    limit_set: str
    unassessed: list[str]


class ControlOf(Control):
    """A rule of trade or supply about one of the lines."""

    id: str
    material: str
    name: str
    check: str


class NotLookedFor(TypedDict):
    """What a natural was not looked into for."""

    natural: str
    substances: list[str]


class LimitsAnswer(TypedDict):
    """``limits``; ``None`` is unknown."""

    accord: str
    dose_pct: float
    category: str
    product: str | None
    verdict: str
    within_known: bool | None
    limits: list[LimitRow]
    max_dose_pct: float | None
    max_dose_known_pct: float | None
    max_dose_words: str
    wall: Wall | None
    declare: list[Declared]
    declare_unknown: list[DeclareUnknown]
    controls: list[ControlOf]
    unknown: list[str]
    not_looked_for: list[NotLookedFor]
    notes: list[str]
    cautions: list[str]


class InProduct(TypedDict):
    """Where an accord stands in one of several products."""

    product: str
    category: str
    dose_pct: float
    verdict: str
    within_known: bool | None
    max_dose_pct: float | None
    max_dose_known_pct: float | None
    max_dose_words: str
    wall: Wall | None
    broken: list[str]
    probably_broken: list[str]
    unknown: int


class SeveralAnswer(TypedDict):
    """``limits`` in several products."""

    accord: str
    within_known: bool | None
    products: list[InProduct]
    cautions: list[str]


class Question(TypedDict):
    """What to ask a supplier, with an empty field."""

    material: str
    name: str
    cas: str
    question: str
    answer_pct: float | None
    table: str
    about: str
    substance: str
    category: str
    used_in: list[str]


class AskAnswer(TypedDict):
    """``ask``."""

    product: str
    questions: list[Question]


class Breach(TypedDict):
    """An accord over a limit; ``times`` is found over limit, ``None`` where nothing is allowed."""

    accord: str
    substance: str
    limit_set: str
    limit_pct: float | None
    found_pct: float | None
    times: float | None
    rule: str
    category: str
    limit_words: str


class UnknownIn(TypedDict):
    """In how many accords a substance is not known, and why."""

    substance: str
    name: str
    limit_set: str
    accords: int
    why: str


class UnknownCount(TypedDict):
    """What is not known."""

    accords: int
    of_these_unbroken: int
    rows: int
    by_substance: list[UnknownIn]


class Rejected(TypedDict):
    """An accord that could not be read."""

    accord: str
    message: str


class Change(TypedDict):
    """What a new set does to one accord."""

    accord: str
    substance: str
    change: Literal["newly_broken", "newly_unknown", "tighter", "newly_fine", "looser"]
    limit_set: str
    limit_pct: float | None
    old_limit_set: str
    old_limit_pct: float | None
    found_pct: float | None
    times: float | None


class ChangedLimit(TypedDict):
    """A limit that differs, and how many accords each kind of change concerns."""

    substance: str
    limit_set: str
    limit_pct: float | None
    old_limit_set: str
    old_limit_pct: float | None
    stated: bool
    old_stated: bool
    newly_broken: int
    newly_unknown: int
    tighter: int
    newly_fine: int
    looser: int


class Moved(TypedDict):
    """A line that a mended copy changes."""

    id: str
    parts_before: float
    parts_after: float
    why: str


class Mended(TypedDict):
    """A broken accord's adjusted copy, or why there is none."""

    accord: str
    file: str | None
    match: float | None
    changed: list[Moved]
    wall: Wall | None
    dose_within_known_pct: float | None
    message: str
    said: str


class ScreenAnswer(TypedDict):
    """``screen``."""

    accords: int
    dose_pct: float
    category: str
    product: str | None
    limit_sets: list[str]
    broken: int
    breach_count: int
    breaches: list[Breach]
    unknown: UnknownCount
    rejected: list[Rejected]
    notes: list[str]
    cautions: list[str]
    since: NotRequired[str]
    changes: NotRequired[list[Change]]
    changed_limits: NotRequired[list[ChangedLimit]]
    mended: NotRequired[list[Mended]]
