"""An accord to teach by: its lines, strips, what to listen for and what a swap does, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from . import words
from .sections import Answer, Column, table

TIMES = {"opening": "10 min", "heart": "2 h", "drydown": "24 h"}
LINES = (
    Column("role", form="word"),
    Column("name", "material"),
    Column("parts", form="figure", digits=4),
    Column("strength_pct", "strength", "%", form="figure", drop=3),
    Column("smells_of", "smells of", drop=1),
    *(
        Column(stage, f"{TIMES[stage]}, of the smell", "%", form="fixed", decimals=0, drop=2)
        for stage in words.STAGES
    ),
    Column("does", "what it does", form="note"),
)
STRIPS = (
    Column("role", form="word"),
    Column("name", "material"),
    Column("dip_pct", "dip", "%", form="figure"),
    Column("at_hand", "at hand", form="word"),
    Column("why"),
    Column("says", "what it says", where="paper"),
)
LISTEN = (
    Column("after", form="word"),
    Column("stage", form="word"),
    Column("listen_for", "listen for"),
    Column("changed", "what has changed", form="note"),
    Column("carried_by", "carried by", drop=2),
    Column("strength", "strength, of its strongest", "%", form="fixed", decimals=0, drop=1),
)
SWAPS = (
    Column("missing", "instead of"),
    Column("stand_in", "take"),
    Column("grams_per_gram", "for 1 g", "g", form="figure"),
    Column("brings", drop=1),
    Column("loses", drop=1),
    Column("match", form="ratio"),
    Column("match_left_out", "match, left out", form="ratio"),
)
STRIP_NOTES = (
    "Dip the core lines first, each alone, then smell along the row; add the others one at a time and say "
    "what each changes.",
    "Dip all to the same depth and write name, strength and time on each strip.",
)
LISTEN_NOTE = (
    "One dip of the finished accord at 10 %, the strip lying free; smell and write down your own words "
    "before reading these."
)
SWAP_NOTE = (
    "Match: how much of the old accord's smell and strength is kept, 0 to 1, nothing else moved (adjusting "
    "the accord moves the rest too)."
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of a lesson as an answer."""
    name = answer["accord"]
    share_note = "Shares of the smell are the model's, for lines of one material together."
    sections = (
        table(f"{name}: its lines by role", LINES, _rows(answer["lines"], LINES), [share_note]),
        table(f"{name}: strips", STRIPS, _rows(answer["strips"], STRIPS), STRIP_NOTES, tick=True),
        table(f"{name}: what to listen for", LISTEN, _rows(answer["listen"], LISTEN), [LISTEN_NOTE]),
        table(f"{name}: when a line is swapped", SWAPS, _rows(answer["swaps"], SWAPS), [SWAP_NOTE]),
    )
    cautions = tuple(answer.get("cautions", ()))
    return Answer(
        "lesson", f"Lesson: {name}", answer["intent"] or f"{name}: a lesson.", sections, (), cautions
    )


def _rows(entries: list[Mapping[str, Any]], columns: tuple[Column, ...]) -> list[tuple[Any, ...]]:
    return [tuple(entry.get(column.key, "") for column in columns) for entry in entries]
