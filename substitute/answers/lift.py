"""Clean notes that help an accord carry, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import figure
from . import words
from .sections import Answer, Cell, Column, table, text

COLUMNS = (
    Column("id", form="word", where="data"),
    Column("name", "add"),
    Column("cas", "CAS", form="word", drop=1),
    Column("parts", form="figure"),
    Column("match", form="ratio"),
    Column("core_opening", "core, 10 min", form="percent", unit="%", where="people", drop=2),
    Column("core_heart", "core, 2 h", form="percent", unit="%", where="people", drop=2),
    Column("core_drydown", "core, 24 h", form="percent", unit="%", where="people", drop=2),
    Column("why", form="note"),
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``lift`` as an answer."""
    found = answer["suggestions"]
    accord = answer["accord"]
    if found:
        first = found[0]
        headline = (
            f"{accord}: {figure(first['parts'])} parts of {first['name']} help it carry; match with the old "
            f"accord {first['match']:.2f}."
        )
    else:
        headline = f"{accord}: nothing found that would help it carry."
    shares = (f"{stage} {_share(answer['core_share'][stage])}" for stage in words.STAGES)
    core = f"Its core ({words.names(answer['core'])}) is this part of the smell: {', '.join(shares)}."
    law = [f"{one['name']}: {word}; check before it is used" for one in found for word in one["law"]]
    section = table(
        "",
        COLUMNS,
        map(_row, found),
        ["Core: how loud the core notes stay, in percent of what they were."] if found else [],
    )
    cautions = (*law, *answer.get("cautions", ()))
    return Answer(
        "lift", f"Lift: {accord}", headline, (section, text(core)), tuple(answer["notes"]), cautions
    )


def _share(value: float | None) -> str:
    return "not judged" if value is None else f"{100 * value:.0f} %"


def _row(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    strength = (one["core_strength"][stage] for stage in words.STAGES)
    return (
        one["id"],
        one["name"],
        one["cas"],
        one["parts"],
        one["match"],
        *(None if value is None else round(100 * value) for value in strength),
        words.reason(one["why"]),
    )
