"""The numbers of a weighing, checked: the batch and the balance's step."""

from __future__ import annotations

import math
from typing import Any

from ..errors import InputError

MOST_GRAMS = 100_000.0


def check_number(name: str, value: Any, low: float, high: float) -> float:
    """``value`` as a finite number above ``low`` and up to ``high``; raises
    :class:`~substitute.errors.InputError` with that range."""
    allowed = f"allowed is above {low:g} up to {high:,.10g}"
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise InputError(f"{name}: '{value}' is not a number: {allowed}") from None
    if not math.isfinite(number) or not low < number <= high:
        raise InputError(f"{name}: {number:g} is out of range: {allowed}")
    return number


def check_balance(grams: Any, balance: Any) -> tuple[float, float]:
    """Batch and balance step in grams, both checked; the step is at most a tenth of the batch."""
    grams = check_number("grams", grams, 0.0, MOST_GRAMS)
    return grams, check_number("balance", balance, 0.0, grams / 10.0)
