"""One accord in several products, as sections: highest dose by product, walls named."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ..figures import figure
from . import words
from .sections import Answer, Column, Mood, Said, table

COLUMNS = (
    Column("product", form="word"),
    Column("category", form="word", drop=3),
    Column("max_dose_pct", "highest dose", "%", form="percent"),
    Column("max_dose_known_pct", "by what is known", "%", form="percent"),
    Column("wall", "in the way first"),
    Column("state"),
    Column("verdict", where="data"),
    Column("unknown", form="count", drop=2),
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``limits`` over several products as an answer, lowest dose first as asked."""
    rows = [
        (
            one["product"],
            one["category"],
            _dose(one["max_dose_pct"], "not known"),
            _dose(one["max_dose_known_pct"], "no known limit"),
            words.wall(one["wall"]) if one["wall"] else "",
            _state(one),
            one["verdict"],
            one["unknown"],
        )
        for one in answer["products"]
    ]
    every = [(words.as_words(one["product"]), one) for one in answer["products"]]
    broken = [name for name, one in every if one["within_known"] is False]
    likely = [name for name, one in every if one["probably_broken"] and not one["broken"]]
    told = [f"over a limit in {', '.join(broken)}"] if broken else []
    if likely:
        told.append(f"probably over a limit in {', '.join(likely)}")
    headline = f"{answer['accord']}: " + (
        "; ".join(told) or "none broken by the figures on file, which is not a clearance"
    )
    cautions = tuple(answer["cautions"])
    title = f"Limits: {answer['accord']}"
    mood: Mood = "bad" if broken else "doubt"
    return Answer("several", title, headline + ".", (table("", COLUMNS, rows),), (), cautions, mood)


def _state(one: Mapping[str, Any]) -> Said:
    if one["broken"]:
        return Said("broken", f"broken: {words.few(one['broken']).short}", mood="bad")
    if one["probably_broken"]:
        return Said(
            "probably broken", f"probably broken: {words.few(one['probably_broken']).short}", mood="doubt"
        )
    if one["within_known"]:
        return Said("within", "within the limits on file")
    return Said("unknown", "unknown", mood="doubt")


def _dose(value: float | None, otherwise: str) -> Said | float:
    """A highest dose, rounded down as a person reads it."""
    if not value:
        return Said(None, otherwise, mood="doubt") if value is None else value
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return Said(value, figure(math.floor(value / step * (1 + 1e-9)) * step))
