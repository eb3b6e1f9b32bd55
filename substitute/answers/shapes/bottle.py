"""Answers for a bottle: the label's text, and how far an accord reaches."""

from __future__ import annotations

from typing import Literal, TypedDict

from .common import Brief

LabelName = TypedDict(
    "LabelName",
    {
        "name": str,
        "pct": float,
        "role": Literal["composition", "allergen", "base"],
        "any_order": bool,
        "state": Literal["declare", "between"],
        "threshold_pct": float | None,
        "from": list[str],
        "limit_set": str,
        "basis": str,
    },
)
"""A name of the list of ingredients, percent by mass of the product; ``any_order``: its place among the last
is free."""


class LabelWord(TypedDict):
    """What a label says beside the list, and what that is taken from."""

    words: str
    law: str
    basis: Literal["memory", "practice"]


class Contained(Brief):
    """A line of the accord in the product, for the assessor."""

    botanical: str
    pct: float


class LabelAnswer(TypedDict):
    """``label``."""

    accord: str
    product: str
    kind: Literal["cosmetic", "detergent", "home", "other"]
    market: str
    dose_pct: float
    on: str
    text: str
    names: list[LabelName]
    names_before: list[str]
    maybe: list[str]
    sensitisers: list[str]
    words: list[LabelWord]
    undecided: list[str]
    contained: list[Contained]
    laws: list[str]
    cautions: list[str]


class Reached(TypedDict):
    """Products with the same answer."""

    products: list[str]
    category: str
    state: Literal["none", "unknown", "limited", "nothing on file"]
    most_known_pct: float | None
    words: str
    wall: str
    unknown: list[str]


class ReachAnswer(TypedDict):
    """``reach``."""

    accord: str
    market: str
    on: str
    products: list[Reached]
    cautions: list[str]
