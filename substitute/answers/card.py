"""A material's card, to be read at the bench, as sections."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..figures import percent
from . import words
from .limits import controls
from .sections import Answer, Cell, Column, Section, listing, table, text

FIGURES = (
    Column("property", form="word", where="data"),
    Column("value", form="figure", where="data"),
    Column("at", form="text", where="data"),
    Column("basis", form="word", where="data"),
    Column("source", form="word", where="data"),
)
INSIDE = (
    Column("name", "in it"),
    Column("low_pct", "low", "%", form="percent", drop=1),
    Column("typical_pct", "typical", "%", form="percent"),
    Column("high_pct", "high", "%", form="percent"),
    Column("basis", form="word", drop=2),
)
HELD_BY = (
    Column("name", "natural"),
    Column("low_pct", "low", "%", form="percent", drop=1),
    Column("typical_pct", "typical", "%", form="percent"),
    Column("high_pct", "high", "%", form="percent"),
)
RULES = (
    Column("limit_set", "set", form="word"),
    Column("substance"),
    Column("category", form="word"),
    Column("max_pct", "at most", "%", form="percent"),
    Column("limit_words", "note", form="note"),
    Column("rule", form="text", drop=2, where="wide"),
    Column("basis", form="word", drop=1),
)
MOST = 24  # rows of a part


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``show`` as an answer."""
    name = answer["name"]
    headline = f"{name}{words.cas(answer)}: {answer['description'] or answer['kind']}"
    sections = [
        text(*_about(answer)),
        listing("Smells of", _profile(answer["profile"])),
        listing("In its place", (f"{one['name']}: {one['loud']}" for one in answer["beside"])),
        text(*_replaced(answer)),
        _inside("In it, percent by mass", INSIDE, answer["constituents"], "people"),
        _inside("Held by", HELD_BY, answer["held_by"], "people"),
        listing(
            "Gives back", (f"{r['name']}: {percent(r['share_pct'])} by mass" for r in answer["releases"])
        ),
        _rules(answer["limits"], "people"),
        listing("Controls", controls(answer["controls"])),
        listing("Sources", (f"{one['id']}: {one['citation']}" for one in answer["sources"])),
        table("Figures", FIGURES, map(_figure, answer["figures"]), where="data", main=True),
        _inside("In it, percent by mass", INSIDE, answer["constituents"], "data"),
        _inside("Held by", HELD_BY, answer["held_by"], "data"),
        _rules(answer["limits"], "data"),
    ]
    return Answer("show", name, headline.rstrip(".") + ".", tuple(sections), (), tuple(_cautions(answer)))


def _figure(row: Mapping[str, Any]) -> tuple[Cell, ...]:
    return row["property"], row["value"], row["at"], row["basis"], row["source"]


def _about(answer: Mapping[str, Any]) -> Iterable[str]:
    plant = ", ".join(filter(None, (answer["botanical"], answer["part"], answer["process"])))
    yield f"{answer['id']}: {answer['kind']}{', ' + plant if plant else ''}."
    if answer["synonyms"]:
        yield f"Also written: {', '.join(answer['synonyms'])}."
    if not answer["stocked"]:
        yield "Nobody weighs it: it is met inside naturals only, and is never a stand-in."
    if answer["profile"]:
        yield f"On a strip it is noticed for: {answer['lasts']}."
    if answer["smell_first"]:
        yield f"Very strong: {answer['smell_first']}."
    if answer["hard_to_smell"]:
        yield "Many people cannot smell it well."


def _profile(profile: Iterable[Mapping[str, Any]]) -> Iterable[str]:
    entries = list(profile)
    wide = max((len(entry["descriptor"]) for entry in entries), default=0)
    for entry in entries:
        name = f"{entry['descriptor']:{wide}}  ".replace(" ", "\N{NO-BREAK SPACE}")
        yield name + "▪" * round(entry["weight"])


def _replaced(answer: Mapping[str, Any]) -> Iterable[str]:
    for told, key in (("Replaced by", "replaced_by"), ("Stands in for", "replaces")):
        if answer[key]:
            yield f"{told}: {', '.join(answer[key])}."


def _shown(rows: list[Mapping[str, Any]], where: str) -> list[Mapping[str, Any]]:
    """People see the first rows of a part, files hold them all."""
    return rows if where == "data" else rows[:MOST]


def _inside(title: str, columns: tuple[Column, ...], rows: list[Mapping[str, Any]], where: str) -> Section:
    cells = (tuple(row.get(column.key) for column in columns) for row in _shown(rows, where))
    return table(title, columns, cells, of=len(rows), where=where)


def _rules(rows: list[Mapping[str, Any]], where: str) -> Section:
    cells = [
        (
            row["limit_set"],
            row["substance"],
            row["category"],
            words.limit(row["max_pct"], row),
            words.limit_note(row),
            row["rule"].replace("_", " "),
            words.basis(row["basis"]),
        )
        for row in _shown(rows, where)
    ]
    title = f"Rules ({len(rows)})"
    return table(title, RULES, cells, words.recalled(rows), of=len(rows), where=where)


def _cautions(answer: Mapping[str, Any]) -> Iterable[str]:
    if answer["law"]:
        yield f"Law: {', '.join(answer['law'])}."
    yield from answer["cautions"]
