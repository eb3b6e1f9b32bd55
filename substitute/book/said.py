"""What a person said in their own words, read as far as it is plain: how near, too strong or too weak, how
much was right.

"1 g was too much, half was right; sweet, wanting freshness" -> 1 g used, too strong, 0.5 g right. Words are
kept as they are; what is not understood here is still kept, found again, and told in the next answer. Other
languages are put into English first (:mod:`.tongues`).
"""

from __future__ import annotations

import re
from dataclasses import replace

from ..errors import InputError
from ..frozen import frozen
from ..tables.rows import shorten
from .records import DEGREES

NUMBER = r"(?P<number>\d+(?:[.,]\d+)?|\.\d+)"
WORDS = {
    "half": 0.5,
    "a half": 0.5,
    "a third": 1 / 3,
    "a quarter": 0.25,
    "a fifth": 0.2,
    "a tenth": 0.1,
    "twice": 2.0,
    "double": 2.0,
    "three times": 3.0,
}
OFTEN = "|".join(sorted(WORDS, key=len, reverse=True))
QUANTITY = re.compile(rf"(?<![\w.,-]){NUMBER}\s*(?:g|grams?|gramme?s?)?(?![\w%-])|\b(?P<word>{OFTEN})\b")
SLIGHTLY = re.compile(r"\b(?:slightly|a little|a touch|a bit|a shade|somewhat)\b")
FAR = re.compile(r"\b(?:far|much|way|greatly|vastly) too\b|\bfar\s+(?:louder|stronger|weaker|quieter)\b")
STRONG = re.compile(
    r"\btoo (?:much|strong|loud|prominent)\b|\b(?:shout(?:s|ed|ing)?|scream(?:s|ed)?|took "
    r"over|takes over|drown(?:s|ed)|dominate[sd]?)\b"
)
WEAK = re.compile(
    r"\b(?:too (?:little|weak|faint|quiet|low)|not enough|hardly there|(?:is|was|gets|got) "
    r"lost|vanish(?:es|ed)|disappear(?:s|ed))\b"
)
RIGHT = re.compile(r"\b(?:right|perfect|enough|just so|spot on)\b")
NEARNESS = (
    (
        "not_smelled",
        re.compile(r"\b(?:can(?:no|')t smell|do(?:n't| not) smell|smell(?:ed)? nothing|no smell at all)\b"),
    ),
    (
        "far",
        re.compile(
            r"\b(?:not (?:at all )?(?:near|close|alike)|nothing like|far (?:from|off|away)|another thing)\b"
        ),
    ),
    (
        "fair",
        re.compile(r"\b(?:fairly (?:near|close)|quite (?:near|close)|so-so|half-?way there|passable)\b"),
    ),
    ("near", re.compile(r"\b(?:near|close|alike|hard to tell apart|the same smell|spot on)\b")),
)
CLAUSE = re.compile(r"[;:!?\n]|,(?!\d)|\.(?!\d)|\bbut\b|\band\b")
TRIAL = re.compile(r"\btrial\s*(?:no\.?\s*)?(\d+)\b")


@frozen
class Said:
    """What was understood: nearness, verdict on the amount with its degree, grams used and right for 1 g;
    '' and ``None`` unsaid."""

    nearness: str = ""
    amount: str = ""
    degree: str = ""
    used: float | None = None
    right: float | None = None


def clauses(text: str) -> list[str]:
    """The text in pieces that say one thing each."""
    return [piece.strip() for piece in CLAUSE.split(text.lower()) if piece and piece.strip()]


def judged(clause: str) -> tuple[str, str]:
    """(too_strong, too_weak, right or '', degree) of one clause."""
    amount = "too_weak" if WEAK.search(clause) else "too_strong" if STRONG.search(clause) else ""
    if not amount:
        return ("right", "") if RIGHT.search(clause) else ("", "")
    return amount, "far" if FAR.search(clause) else "slightly" if SLIGHTLY.search(clause) else ""


def read_said(text: str) -> Said:
    """What is plain in the words about a swap."""
    found = Said()
    for clause in clauses(text):
        amount, degree = judged(clause)
        grams = _grams(clause, found.used)
        if amount == "right" and grams is not None:
            found = replace(found, right=grams)
        elif amount in ("too_strong", "too_weak") and not found.amount:
            found = replace(
                found, amount=amount, degree=degree, used=grams if grams is not None else found.used
            )
        if not found.nearness:
            near = next((name for name, cue in NEARNESS if cue.search(clause)), "")
            found = replace(found, nearness=near)
    return found


def _grams(clause: str, used: float | None) -> float | None:
    hit = QUANTITY.search(clause)
    if hit is None:
        return None
    if hit["word"]:
        return WORDS[hit["word"]] * (used or 1.0)
    value = float(hit["number"].replace(",", "."))
    return value if value > 0 else None


def with_degree(text: str) -> tuple[str, str]:
    """'ionone:far' -> ('ionone', 'far'); without a degree it is ''. Raises for a degree there is none of."""
    name, colon, degree = text.rpartition(":")
    if not colon:
        return text.strip(), ""
    word = degree.strip().lower()
    if word not in DEGREES:
        raise InputError(f"'{shorten(degree)}' is no degree: one of {', '.join(DEGREES)}")
    return name.strip(), word
