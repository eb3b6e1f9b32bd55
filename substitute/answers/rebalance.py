"""An accord's next trial, and the trials so far, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import figure
from . import words
from .columns import LINE_BEFORE_AFTER
from .sections import BLANKS, Answer, Cell, Column, listing, table

COLUMNS = (
    *LINE_BEFORE_AFTER,
    Column("weighed", "weighed", form="blank", where="paper"),
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
    silent = "a ratio is set anew" if answer["ratios"] else "nothing was said of any line"
    headline = f"Trial {answer['trial']}, after {answer['parent']}: {told or silent}."
    cautions = (*answer["warnings"], *answer.get("cautions", ()))
    section = table("", COLUMNS, map(_row, answer["lines"]))
    notes = tuple(answer.get("notes", ()))
    title = f"Trial {answer['trial']}"
    return Answer("rebalance", title, headline, (section,), notes, cautions, blanks=BLANKS)


def _row(line: Mapping[str, Any]) -> tuple[Cell, ...]:
    return (
        line["id"],
        line["name"],
        line["cas"],
        line["strength_pct"],
        line["parts_before"],
        line["parts_after"],
        None,
        said_of(line),
        words.reason(line["why"]),
    )


def said_of(cell: Mapping[str, Any]) -> str:
    """'far too strong', 'right', ''."""
    return f"{cell.get('degree') or ''} {cell['verdict'].replace('_', ' ')}".strip()


def lay_out_history(answer: Mapping[str, Any]) -> Answer:
    """The JSON of the whole family of trials: parts and verdict of every material, by the trials' numbers."""
    trials = answer["trials"]
    columns = [Column("id", form="word", where="data"), Column("name", "material")]
    for trial in trials:
        title = f"trial {trial['trial']}"
        columns.append(Column(f"{title} parts", title, form="figure", digits=4))
        columns.append(Column(f"{title} verdict", "said"))
    rows = []
    for material in answer["materials"]:
        cells: list[Cell] = [material["id"], material["name"]]
        for said in material["trials"]:
            cells += [said["parts"], said_of(said)]
        rows.append(cells)
    rows.append(["", "total", *(cell for trial in trials for cell in (trial["total"], ""))])
    section = table("", columns, rows, ["What was said stands beside the parts it was said of."])
    whole = [f"Trial {one['trial']}: {'; '.join(one['words'])}" for one in trials if one["words"]]
    headline = (
        f"{answer['accord']}: {words.count(len(trials), 'trial')}. {'; '.join(map(_comes_from, trials))}."
    )
    sections = (section, listing("Said of the whole", whole))
    return Answer("history", "Trials", headline, sections, tuple(answer["notes"]))


def _comes_from(trial: Mapping[str, Any]) -> str:
    if not trial["parent"]:
        return f"trial {trial['trial']} is {trial['name']}"
    gone = ", which is gone" if trial["parent_gone"] else ""
    return f"trial {trial['trial']} from {trial['parent']}{gone}"


COMPARED = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("before", form="figure", digits=4),
    Column("said_before", "said"),
    Column("after", form="figure", digits=4),
    Column("said_after", "said"),
    Column("times", "times as much", form="figure"),
)


def lay_out_compare(answer: Mapping[str, Any]) -> Answer:
    """The JSON of two trials side by side: what changed first."""
    lines = sorted(answer["lines"], key=lambda line: not line["changed"])
    rows = [
        (
            *(line["id"], line["name"], line["before"]["parts"], said_of(line["before"])),
            *(line["after"]["parts"], said_of(line["after"]), line["times"] if line["changed"] else None),
        )
        for line in lines
    ]
    changed = [line["name"] for line in lines if line["changed"]]
    one, other = answer["trials"]
    told = f"{', '.join(changed)} changed" if changed else "nothing changed"
    first, second = (figure(total, 4) for total in answer["totals"])
    headline = f"{one} beside {other}: {told}; {first} and {second} parts."
    return Answer("compare", f"{one} and {other}", headline, (table("", COMPARED, rows),))
