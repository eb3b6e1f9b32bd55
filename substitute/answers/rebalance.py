"""An accord's next trial, and the trials so far, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from . import words
from .sections import Answer, Cell, Column, table

COLUMNS = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word", drop=2),
    Column("strength_pct", "strength", "%", form="figure", drop=1),
    Column("parts_before", "before", form="figure", digits=4),
    Column("parts_after", "after", form="figure", digits=4),
    Column("verdict", form="text"),
    Column("why", form="note"),
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``rebalance`` as an answer."""
    said: dict[str, list[str]] = {}
    for line in answer["lines"]:
        if line["verdict"]:
            said.setdefault(line["verdict"].replace("_", " "), []).append(line["name"])
    told = "; ".join(f"{words.names(each)} {verdict}" for verdict, each in said.items())
    headline = f"Trial {answer['trial']}, after {answer['parent']}: {told or 'nothing was said of any line'}."
    cautions = (*answer["warnings"], *answer.get("cautions", ()))
    section = table("", COLUMNS, map(_row, answer["lines"]))
    notes = tuple(answer.get("notes", ()))
    return Answer("rebalance", f"Trial {answer['trial']}", headline, (section,), notes, cautions)


def _row(line: Mapping[str, Any]) -> tuple[Cell, ...]:
    return (
        line["id"],
        line["name"],
        line["cas"],
        line["strength_pct"],
        line["parts_before"],
        line["parts_after"],
        line["verdict"].replace("_", " "),
        words.reason(line["why"]),
    )


def lay_out_history(answer: Mapping[str, Any]) -> Answer:
    """The JSON of the trials so far as an answer: parts and verdict of every material, oldest first."""
    trials = answer["trials"]
    columns = [Column("id", form="word", where="data"), Column("name", "material")]
    for trial in trials:
        columns.append(Column(f"{trial} parts", trial, "parts", form="figure", digits=4))
        columns.append(Column(f"{trial} verdict", "verdict"))
    rows = []
    for material in answer["materials"]:
        cells: list[Cell] = [material["id"], material["name"]]
        for said in material["trials"]:
            cells += [said["parts"], said["verdict"].replace("_", " ")]
        rows.append(cells)
    section = table("", columns, rows, ["A verdict stands beside the parts it was given on."])
    headline = f"{words.count(len(trials), 'trial')} so far: {', '.join(trials)}."
    return Answer("history", "Trials", headline, (section,))
