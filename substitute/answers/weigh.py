"""Weighing, solutions to make, strips to dip and the check of old against new, as sections."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ..figures import figure
from . import words
from .columns import MADE_FROM, SOLUTION
from .sections import BLANKS, Answer, Cell, Column, Said, Section, table, text

LINES = (
    Column("order", "no.", form="count"),
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word", drop=2),
    Column("strength_pct", "strength", "%", form="figure"),
    Column("grams", "weigh", "g", form="fixed"),
    Column("weighed", "weighed", "g", form="blank", where="paper"),
    Column("lot", form="blank", where="paper"),
    Column("error_pct", "rounding", "%", form="signed", where="unprinted", drop=1),
    Column("active_g", "of itself", "g", form="figure", where="data"),
    Column("warn", "note", form="note"),
)
MAKE = (
    *SOLUTION,
    Column("grams", "makes", "g", form="fixed", drop=1),
    *MADE_FROM,
    Column("carrier", "in"),
    Column("lot", form="blank", where="paper"),
)
STRIPS = (
    Column("name", "material"),
    Column("dip_pct", "dip", "%", form="figure"),
    Column("have", "at hand", form="word"),
    Column("why", form="note"),
    Column("says", "what it says", where="paper"),
)
CHECK = (
    Column("test"),
    Column("day", form="count"),
    Column("lay_out", "lay out"),
    Column("ask", form="note"),
    Column("answer", where="paper"),
)
STRIPS_NOTE = (
    "Dip all to the same depth, lay the strips in a row and smell along it, before anything is mixed: "
    "does it sound like one thing?"
)
CHECK_NOTES = (
    "Someone else lays out the triangles and keeps this sheet; old and new at the same strength.",
    "Five or six of six right: the two can be told apart (guessing does that in 2 rounds of 100).",
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``weigh`` as an answer; its first caution stands before the first weighing."""
    total, active = figure(answer["total_g"], 6), figure(answer["concentrate_pct"], 4)
    headline = f"{answer['accord']}: {total} g, of which {active} % are materials and the rest carrier."
    sections = (_make(answer), _lines(answer), _strips(answer), _check(answer))
    notes, cautions = (*_paid(answer), *answer.get("notes", ())), tuple(answer["cautions"])
    title = f"Weighing: {answer['accord']}"
    return Answer("weigh", title, headline, sections, notes, cautions, weighed=True, blanks=BLANKS)


def _paid(answer: Mapping[str, Any]) -> list[str]:
    """What the batch costs, and what was taken from the bottles."""
    found = [f"Taken from your bottles: {', '.join(answer['taken'])}."] if answer["taken"] else []
    cost = answer["cost"]
    if cost is None or (cost["high"] is None and not cost["known"]):
        return found
    without = [one["name"] for one in cost["unpriced"]]
    told = f"The batch costs {cost['told']} by your own prices"
    if without:
        told += (
            f" and rough words for {words.names(without)}"
            if cost["high"] is not None
            else (f"; without a price: {words.names(without)}")
        )
    return [*found, f"{told}."]


def decimals(step: float) -> int:
    """Decimals that a balance with this step shows."""
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    while places < 9 and abs(round(step, places) - step) > 1e-9 * step:
        places += 1  # a step such as 0.025 needs one more
    return places


def _fixed(columns: tuple[Column, ...], step: float) -> tuple[Column, ...]:
    places = decimals(step)
    return tuple(replace(one, decimals=places) if one.form == "fixed" else one for one in columns)


def _lines(answer: Mapping[str, Any]) -> Section:
    rows: list[tuple[Cell, ...]] = [
        (
            line["order"],
            line["id"],
            line["name"],
            line["cas"],
            line["strength_pct"],
            line["grams"],
            None,
            None,
            line["error_pct"],
            line["active_g"],
            line["warn"],
        )
        for line in sorted(answer["lines"], key=lambda line: line["order"])
    ]
    if answer["solvent_g"] > 0:
        carrier = answer["solvent"]
        name, grams = f"{carrier['name']} to fill up", answer["solvent_g"]
        rows.append(
            (len(rows) + 1, carrier["id"], name, carrier["cas"], 100.0, grams, None, None, None, None, "")
        )
    note = "Smallest first: a slip there is mended by scaling the rest (common practice, no source)."
    return table("Weigh", _fixed(LINES, answer["balance"]), rows, [note], tick=True, main=True)


def _make(answer: Mapping[str, Any]) -> Section:
    rows = [tuple(one.get(column.key) for column in MAKE) for one in answer["dilutions"]]
    note = "By mass, from top to bottom; label each bottle with name, strength, carrier and date."
    return table("Make first", _fixed(MAKE, answer["balance"]), rows, [note], tick=True)


def _strips(answer: Mapping[str, Any]) -> Section:
    rows = [
        (one["name"], one["dip_pct"], _at_hand(one["have"]), words.reason(one["why"]), "")
        for one in answer["strips"]
    ]
    return table("Strips", STRIPS, rows, [STRIPS_NOTE], tick=True, aside=True)


def _at_hand(have: bool) -> Said:
    return Said(have, "yes" if have else "to make")


def _check(answer: Mapping[str, Any]) -> Section:
    rows = [(one["test"], one["day"], one["lay_out"], one["ask"], "") for one in answer["check"]]
    if not rows:
        return text()
    return table("Check old against new", CHECK, rows, CHECK_NOTES, tick=True, aside=True)
