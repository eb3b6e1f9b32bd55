"""Columns that tables of several answers have."""

from __future__ import annotations

from .sections import Column

LINE_BEFORE_AFTER = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word", drop=2),
    Column("strength_pct", "strength", "%", form="figure", drop=1),
    Column("parts_before", "before", form="figure", digits=4),
    Column("parts_after", "after", form="figure", digits=4),
)
SOLUTION = (Column("name", "solution of"), Column("strength_pct", "at", "%", form="figure"))
MADE_FROM = (
    Column("from_pct", "from", "%", form="figure"),
    Column("from_grams", "take", "g", form="fixed"),
    Column("carrier_grams", "carrier", "g", form="fixed"),
)
