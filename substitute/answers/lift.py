"""Which line of an accord carries weakly and what lifts it, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import figure, ratio
from . import words
from .sections import Answer, Cell, Column, listing, table

COLUMNS = (
    Column("id", form="word", where="data"),
    Column("name", "add"),
    Column("cas", "CAS", form="word", drop=3),
    Column("parts", form="figure"),
    Column("try", "try from … to, parts"),
    Column("match", form="ratio"),
    Column("lifts", where="data"),
    Column("line_strength", "the line then", form="percent", unit="%"),
    Column("strip_pct", "strip", "%", form="figure", drop=2),
    Column("basis", "said by", form="word", drop=1),
    Column("why", form="note"),
)
LINES = (
    Column("name", "core line"),
    Column("opening", "opening, of the smell", "%", form="fixed", decimals=0),
    Column("heart", "heart", "%", form="fixed", decimals=0),
    Column("drydown", "drydown", "%", form="fixed", decimals=0),
    Column("lasts", "noticed for", form="word"),
    Column("why", "how it is heard"),
)
NOTE = (
    "The line then: how loud its notes are at the stage that needs them, in percent of what they were. "
    "How far a material spreads in a room is not modelled; no large gain is promised."
)
SAID = {"estimate": "the model"}


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``lift`` as an answer."""
    found, accord, weak = answer["suggestions"], answer["accord"], answer["lines"][0]
    headline = f"{accord}: {weak['name']} carries most weakly, at the {weak['needs']}; "
    if found:
        first = found[0]
        headline += (
            f"{figure(first['parts'])} parts of {first['name']} are the first to try; "
            f"match with the old accord {ratio(first['match'])}."
        )
    else:
        headline += "nothing found that would help it carry."
    law = [f"{one['name']}: {word}; check before it is used" for one in found for word in one["law"]]
    sections = (
        table("What lifts it", COLUMNS, map(_row, found), [NOTE] if found else [], main=True),
        table("How the core is heard", LINES, map(_line, answer["lines"])),
        listing("Strips to try first", answer["strips"]),
    )
    cautions = (*law, *answer.get("cautions", ()))
    return Answer("lift", f"Lift: {accord}", headline, sections, tuple(answer["notes"]), cautions)


def _line(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    shares = (one["share"][stage] for stage in words.STAGES)
    return (
        one["name"],
        *(None if share is None else 100.0 * share for share in shares),
        one["lasts"],
        one["why"],
    )


def _row(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    tries = " … ".join(
        dict.fromkeys(figure(amount["parts"]) for amount in (one["amounts"][0], one["amounts"][-1]))
    )
    chosen = next((a for a in one["amounts"] if a["parts"] == one["parts"]), one["amounts"][0])
    return (
        one["id"],
        one["name"],
        one["cas"],
        one["parts"],
        tries,
        one["match"],
        one["lifts"]["name"],
        round(100 * chosen["line_strength"]),
        one["strip_pct"],
        SAID.get(one["basis"], one["basis"]),
        one["why"],
    )
