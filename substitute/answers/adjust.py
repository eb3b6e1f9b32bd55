"""An accord swapped and rescaled, as sections: the formula first, then how near it comes and what else would
do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..figures import figure, percent, ratio
from . import words
from .columns import LINE_BEFORE_AFTER
from .sections import Answer, Cell, Column, Mood, Said, Section, listing, table, text

VERDICTS = {
    "good": "good: the difference is small",
    "fair": "fair: a difference is smelled",
    "poor": "poor: the difference is smelled at once",
    "none": "nothing here takes its place",
}
LINES = (
    *LINE_BEFORE_AFTER,
    Column("cause", form="word", where="data"),
    Column("why", form="note"),
)
LIMITS = (
    Column("substance"),
    Column("limit_set", "set", form="word", drop=2),
    Column("limit_pct", "limit", "%", form="percent"),
    Column("before_pct", "before", "%", form="percent", drop=1),
    Column("after_pct", "after", "%", form="percent"),
    Column("ok_after", "state", form="text"),
    Column("basis", form="word", drop=3),
    Column("limit_words", "note", form="note"),
)
OPTIONS = {
    "leave_out": "left out",
    "one_to_one": "one to one",
    "strength": "at equal strength",
    "cut": "cut down to the limit",
    "lower_dose": "the same accord at a lower dose",
}


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``adjust`` as an answer."""
    within = answer["within_known"]
    sections = [
        table("", LINES, map(_line, answer["lines"])),
        text(*_match(answer)),
        listing("Other ways", [*_plain_ways(answer), *map(_rival, answer["rivals"])]),
        _limits(answer["limits"]),
    ]
    return Answer(
        "adjust",
        f"{answer['accord']}, adjusted",
        _headline(answer),
        tuple(sections),
        tuple(answer["notes"]),
        tuple(answer["cautions"]),
        "" if within and answer["verdict"] != "none" else "bad",
    )


def _headline(answer: Mapping[str, Any]) -> str:
    overall = answer["match"]["overall"]
    if not answer["within_known"]:
        if not answer["wall"]:
            return f"{answer['accord']}: nothing was found; what is left carries none of this accord."
        most = answer["dose_within_known_pct"]
        dose = f" The old accord keeps to them up to {percent(most, 4)}." if most is not None else ""
        return (
            f"{answer['accord']}: nothing within the known limits was found {words.where(answer)}. "
            f"In the way: {words.wall(answer['wall'])}.{dose}"
        )
    told = f"{answer['accord']}, adjusted: match {ratio(overall)}, {VERDICTS[answer['verdict']]}."
    bottle = answer["bottle"]
    if bottle:
        told += f" One bottle would help most: {bottle['name']}, to {ratio(bottle['match'])}."
    return told


def _line(line: Mapping[str, Any]) -> tuple[Cell, ...]:
    same = line["parts_before"] == line["parts_after"]
    why = Said(line["why"], "") if same and line["cause"] == "kept" else words.reason(line["why"])
    mood: Mood = "gain" if line["cause"] == "new" else ""
    return (
        line["id"],
        Said(line["name"], line["name"], mood=mood),
        line["cas"],
        line["strength_pct"],
        line["parts_before"],
        line["parts_after"],
        line["cause"],
        why,
    )


def _match(answer: Mapping[str, Any]) -> Iterable[str]:
    low, high = answer["match_range"]
    yield f"Match by stage: {words.stages(answer['match'])}."
    if high - low >= 0.01:
        yield f"Over the naturals' low and high constituents it lies between {ratio(low)} and {ratio(high)}."
    if answer.get("likeness") is not None:
        yield f"{words.in_peoples_terms(answer['likeness'])}"
    told = f"Total {figure(answer['total_before'], 4)} parts before, {figure(answer['total_after'], 4)} after"
    before, after = answer["dose_pct"], answer["dose_after_pct"]
    if before is not None and after is not None:
        told += f"; the dose that carries the same: {percent(after, 4)} in place of {percent(before, 4)}"
    yield told + "."
    cost = answer["cost_per_gram"]
    if cost["before"] is not None and cost["after"] is not None:
        yield (
            f"A gram costs {figure(cost['before'])} before and {figure(cost['after'])} after, in the shelf's "
            "currency."
        )
    if answer["lost_for_good"]:
        yield f"Lost for good: {', '.join(answer['lost_for_good'])}."


def _plain_ways(answer: Mapping[str, Any]) -> Iterable[str]:
    for option in answer["options"]:
        name = OPTIONS.get(option["name"], option["name"].replace("_", " "))
        dose = option.get("dose_pct")
        at = f", at {percent(dose, 4)}" if dose is not None and dose != answer["dose_pct"] else ""
        over = "" if option["within_known"] else "; over a limit"
        yield f"{name}{at}: match {ratio(option['match'])}{over}"


def _rival(rival: Mapping[str, Any]) -> str:
    moved = {*rival["new"], *rival["moved"]}
    changed = [
        f"{line['name']} {figure(line['parts_after'], 4)}"
        + ("" if line["strength_pct"] == 100 else f" at {figure(line['strength_pct'])} %")
        for line in rival["lines"]
        if line["id"] in moved
    ]
    note = f" ({rival['note']})" if rival.get("note") else ""
    name = rival["name"].replace("_", " ")
    return f"{name}: match {ratio(rival['match']['overall'])}, {words.names(changed) or 'nothing new'}{note}"


def _limits(rows: list[Mapping[str, Any]]) -> Section:
    """Limits that were broken before or are not plainly held now; the rest is counted."""
    told = [row for row in rows if row["ok_before"] is False or row["ok_after"] is not True]
    if not rows:
        return text()
    counted = words.count(len(rows), "limit")
    if not told:
        return text(f"{counted} looked at by what is on file: none broken, none unknown.")
    cells = [
        (
            words.named(row),
            row["limit_set"],
            words.limit(row["limit_pct"], row),
            words.found(row["before_pct"], row),
            words.found(row["after_pct"], row),
            words.moved_state(row),
            words.basis(row["basis"]),
            words.limit_note(row),
        )
        for row in told
    ]
    title = f"{counted} looked at; these were broken before or are not known now"
    return table(title, LIMITS, cells, words.recalled(told))
