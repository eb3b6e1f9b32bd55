"""The words by which a question says what product it is about, and by whose rules."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TypedDict


class Where(TypedDict, total=False):
    """A product or a category of one; whose law applies besides the worldwide sets, and on which day (a
    date, ISO text, ``None`` for today); sets of limits to judge by instead of all in force."""

    product: str | None
    category: str | None
    market: str | None
    on: dt.date | str | None
    limits: Sequence[str]


class Asked(Where, total=False):
    """The same, with the accord's dose in percent of the finished product."""

    dose: float | None
