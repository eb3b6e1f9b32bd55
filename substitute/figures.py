"""How numbers are rounded and shown, in one place: for reading, for paper, and for files that other
programs read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

UNKNOWN = "unknown"
SMALLEST = 8  # decimals, past which a number is only told to be smaller

# Keys of an answer by what is known of their numbers. A dose is cut, never rounded up: at the figure shown
# the limits still hold.
CUT = {"max_dose_pct", "max_dose_known_pct", "dose_within_known_pct", "legal_dose_pct"}
AMOUNTS = {"grams_per_gram", "low", "high", "grams_for_one_gram_of"}
SHARES = {
    *("match", "overall", "opening", "heart", "drydown", "match_after", "score", "similarity", "by", "gain"),
    *("coverage", "before", "after", "verified_before", "verified_after", "bound", "gap", "surrogate"),
    *("surrogate_after", "likeness", "share_of_smell"),
}


def figure(value: float | None, digits: int = 3, unknown: str = "-") -> str:
    """A number at ``digits`` figures, never in powers of ten; ``unknown`` where there is none.

    >>> figure(0.000012345), figure(12345.6), figure(2.50), figure(None)
    ('0.0000123', '12,346', '2.5', '-')
    """
    if value is None or not math.isfinite(value):
        return unknown
    if value == 0:
        return "0"
    if abs(value) >= 10_000:
        return f"{value:,.0f}"
    places = min(SMALLEST, max(0, digits - 1 - math.floor(math.log10(abs(value)))))
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text if float(text) else f"under {10.0**-SMALLEST:.{SMALLEST}f}"


def percent(value: float | None, digits: int = 3) -> str:
    """A percentage with its sign; 'unknown' where there is none.

    >>> percent(0.25), percent(None)
    ('0.25 %', 'unknown')
    """
    shown = figure(value, digits, UNKNOWN)
    return shown if shown == UNKNOWN else f"{shown} %"


def given(value: float | None) -> str:
    """A percentage as somebody gave it (a strength, a dose, a limit): with up to six figures.

    >>> given(10.0), given(12.345678), given(0.00001)
    ('10 %', '12.3457 %', '0.00001 %')
    """
    return percent(value, 6)


def in_grams(value: float) -> str:
    """Grams at two figures, which is what an amount found by nose and by ratios is worth; without the
    unit.

    >>> in_grams(123.4), in_grams(0.0333)
    ('120', '0.033')
    """
    return figure(significant(value, 2), 2)


def share(value: float) -> str:
    """A natural's share in percent at two figures.

    >>> share(0.0234), share(100.0)
    ('0.023 %', '100 %')
    """
    return percent(significant(value, 2), 2)


def part(value: float) -> str:
    """A part of one in whole percent.

    >>> part(0.194), part(0.5), part(0.004)
    ('19 %', '50 %', 'under 1 %')
    """
    return f"{100 * value:.0f} %" if value >= 0.01 or value == 0 else "under 1 %"


def ratio(value: float | None) -> str:
    """A match or likeness between 0 and 1, at two decimals."""
    return UNKNOWN if value is None or not math.isfinite(value) else f"{value:.2f}"


def significant(value: float, digits: int) -> float:
    """``value`` rounded to ``digits`` figures."""
    return float(f"{value:.{digits}g}")


def cut(value: float, digits: int = 4) -> float:
    """``value`` rounded towards zero at ``digits`` figures."""
    if value == 0 or not math.isfinite(value):
        return value
    step = 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)
    return significant(math.trunc(value / step * (1 + 1e-12)) * step, digits)


def known(key: str, value: float) -> float | None:
    """A number of an answer under ``key``, rounded to what is known of it; ``None`` for one that is not
    finite.

    Percentages and multiples of a limit have four figures, amounts in grams for a gram three, shares and
    matches (0 to 1) three decimals, everything else eight figures, which is more than a balance shows.
    """
    if not math.isfinite(value):
        return None
    if key in CUT:
        return cut(value)
    if key in AMOUNTS:
        return significant(value, 3)
    if key in SHARES:
        return round(value, 3)
    if key == "error_pct":
        return round(value, 2)
    if key == "times" or (key.endswith("_pct") and key not in ("dose_pct", "strength_pct")):
        return significant(value, 4)
    return significant(value, 8)


def as_known(answer: Any, key: str = "") -> Any:
    """An answer's JSON with every number rounded by :func:`known`; lists and mappings are copied, unknown
    becomes ``None``."""
    if isinstance(answer, Mapping):
        return {name: as_known(item, name) for name, item in answer.items()}
    if isinstance(answer, (list, tuple)):
        return [as_known(item, key) for item in answer]
    return known(key, answer) if isinstance(answer, float) else answer
