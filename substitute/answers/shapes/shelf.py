"""Answers about a shelf and a person's own files."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from .common import Brief
from .rules import Rejected


class MadeLine(TypedDict):
    """A line of what the shelf makes of an accord."""

    id: str
    strength_pct: float
    parts_before: float
    parts_after: float
    why: str


class MadeOf(TypedDict):
    """The adjusted accord, and the command that shows it."""

    command: str | None
    lines: list[MadeLine]


class Made(TypedDict):
    """An accord and the match that the shelf reaches."""

    accord: str
    match: float
    surrogate: float
    lacks: list[str]
    stand_ins: list[str]
    left_out: list[str]
    within_known: bool | None
    adjusted: MadeOf
    match_after: NotRequired[float]
    surrogate_after: NotRequired[float]


class Purchase(Brief):
    """One purchase and the accords it brings nearer; ``form`` is the strength it is weighed at, neat, 10 or 1
    percent ('' if it serves no line), ``grams`` what 10 g of each accord it serves take."""

    helps: list[str]
    gain: float
    price: float | None
    price_word: str
    form: Literal["neat", "10", "1", ""]
    grams: float | None
    why: str
    law: list[str]


class Coverage(TypedDict):
    """Mean match by the model and by real adjustment, 0 to 1."""

    before: float
    after: float
    verified_before: float
    verified_after: float


class CurvePoint(TypedDict):
    """Coverage with the first n materials."""

    n: int
    coverage: float
    add: str


class Lean(TypedDict):
    """A swap that the covered accords lean on."""

    missing: str
    stand_in: str
    accord: str
    value: float


class PlanAnswer(TypedDict):
    """``plan``."""

    makes: list[Made]
    buy: list[Purchase]
    greedy: list[str]
    gap: float | None
    proved: bool | None
    bound: float | None
    coverage: Coverage
    curve: list[CurvePoint]
    leans_on: list[Lean]
    spent: float | None
    rejected: list[Rejected]
    notes: list[str]
    cautions: list[str]


class OnShelf(Brief):
    """A material on the shelf, to print."""

    strengths: str
    left_g: float | None
    smells_of: str
    lasts: str
    caution: str


class Solution(TypedDict):
    """A solution to prepare."""

    id: str
    name: str
    strength_pct: float
    grams: float
    from_pct: float
    from_grams: float
    carrier_grams: float


class ShelfAnswer(TypedDict):
    """A shelf to print."""

    shelf: str
    materials: list[OnShelf]
    solutions: list[Solution]
    cautions: list[str]


class Fault(TypedDict):
    """One thing wrong in a file."""

    file: str
    row: int | None
    column: str | None
    message: str
    suggestions: list[str]


class CheckAnswer(TypedDict):
    """``check``."""

    lines: list[str]
    complaints: list[Fault]
