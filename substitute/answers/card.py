"""A material's card, to be read at the bench, as sections."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..figures import percent
from ..rules.kinds import KINDS
from . import words
from .limits import controls
from .sections import Answer, Cell, Column, Said, Section, listing, table, text

CARD = (
    Column("part", form="word"),
    Column("id", form="word"),
    Column("name"),
    Column("low", form="figure"),
    Column("value", form="figure"),
    Column("high", form="figure"),
    Column("unit", form="word"),
    Column("limit_set", form="word"),
    Column("category", form="word"),
    Column("note"),
    Column("basis", form="word"),
    Column("source", form="word"),
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
    Column("limit_set", "set"),
    Column("substance"),
    Column("category"),
    Column("max_pct", "at most", "%", form="percent"),
    Column("limit_words", "note", form="note"),
    Column("note", "besides", drop=2, where="paper"),
    Column("basis", form="word", drop=1),
)
MOST = 24  # rows of a part
WHOLE = "CSV and JSON hold them all"


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``show`` as an answer."""
    name = answer["name"]
    headline = f"{name}{words.cas(answer)}: {answer['description'] or answer['kind']}"
    sections = [
        text(*_about(answer)),
        listing("Smells of", _profile(answer["profile"])),
        listing("In its place", (f"{one['name']}: {one['loud']}" for one in answer["beside"])),
        text(*_replaced(answer)),
        _inside("In it, percent by mass", INSIDE, answer["constituents"]),
        _inside("Held by", HELD_BY, answer["held_by"]),
        listing(
            "Gives back", (f"{r['name']}: {percent(r['share_pct'])} by mass" for r in answer["releases"])
        ),
        _rules(answer["limits"]),
        listing("Controls", controls(answer["controls"])),
        listing("Sources", (f"{one['citation']} ({one['kind']})" for one in answer["sources"]), aside=True),
        table("Card", CARD, _rows(answer), where="data", main=True),
    ]
    return Answer("show", name, headline.rstrip(".") + ".", tuple(sections), (), tuple(_cautions(answer)))


def _row(part: str, row: Mapping[str, Any], **cells: Cell) -> tuple[Cell, ...]:
    """A row of the card as a file: what ``cells`` do not say is taken from ``row`` under its own key."""
    found = {**{column.key: row.get(column.key) for column in CARD}, "part": part, **cells}
    return tuple(found[column.key] for column in CARD)


def _share(part: str, row: Mapping[str, Any]) -> tuple[Cell, ...]:
    low, high = row.get("low_pct"), row.get("high_pct")
    value = row["typical_pct"] if "typical_pct" in row else row["share_pct"]
    return _row(part, row, low=low, value=value, high=high, unit="%")


def _rows(answer: Mapping[str, Any]) -> Iterable[tuple[Cell, ...]]:
    """All that the card says, a row each; ``part`` says what a row is about."""
    yield _row("material", answer, note=answer["description"], source="")
    yield from (_row("caution", {}, note=line) for line in _cautions(answer))
    yield from (_row("CAS number", {}, name=one) for one in answer["all_cas"])
    yield from (_row("also written", {}, name=one) for one in answer["synonyms"])
    yield from (_row("about", {}, note=line) for line in _told(answer))
    for one in answer["profile"]:
        yield _row("smells of", {}, name=one["descriptor"], value=one["weight"], unit="1-10")
    yield from (_row("loud beside it", one, note=one["loud"]) for one in answer["beside"])
    yield from (_row("replaced by", one) for one in answer["replaced_by"])
    yield from (_row("stands in for", one) for one in answer["replaces"])
    yield from (_share("in it", one) for one in answer["constituents"])
    yield from (_share("held by", one) for one in answer["held_by"])
    yield from (_share("gives back", one) for one in answer["releases"])
    for one in answer["limits"]:
        told = "; ".join(dict.fromkeys(filter(None, (one["limit_words"], one["note"]))))
        unit = "" if one["max_pct"] is None else "%"
        yield _row("rule", one, id=one["substance"], value=one["max_pct"], unit=unit, note=told)
    for one in answer["controls"]:
        yield _row("control", one, name=one["control"], note=f"{one['market']}: {one['detail']}")
    yield from (
        _row("figure", one, name=one["property"], note=one["at"] and f"at {one['at']}")
        for one in answer["figures"]
    )
    yield from (_row("source", one, note=f"{one['citation']} ({one['kind']})") for one in answer["sources"])


def _about(answer: Mapping[str, Any]) -> Iterable[str]:
    yield _origin(answer)
    if answer["synonyms"]:
        yield f"Also written: {words.names(answer['synonyms'])}."
    yield from _nose(answer)


def _told(answer: Mapping[str, Any]) -> Iterable[str]:
    yield _origin(answer)
    yield from _nose(answer)


def _origin(answer: Mapping[str, Any]) -> str:
    plant = (answer["botanical"], answer["part"], answer["process"])
    return ", ".join(filter(None, (answer["kind"].capitalize(), *plant))) + "."


def _nose(answer: Mapping[str, Any]) -> Iterable[str]:
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
            yield f"{told}: {words.names([one['name'] for one in answer[key]])}."


def _inside(title: str, columns: tuple[Column, ...], rows: list[Mapping[str, Any]]) -> Section:
    cells = (tuple(row.get(column.key) for column in columns) for row in rows[:MOST])
    return table(title, columns, cells, of=len(rows), whole=WHOLE, where="people")


def _rules(rows: list[Mapping[str, Any]]) -> Section:
    """A row for each rule; categories in which it says the same stand together."""
    found: dict[tuple[Cell, ...], list[str]] = {}
    for row in rows:
        label = row["note"] if KINDS[row["rule"]].on_label else ""  # what the law calls it is its name here
        besides = "" if row["note"] in (label, row["limit_words"]) else row["note"]
        said = (
            Said(row["limit_set"], words.set_title(row["limit_set_title"])),
            Said(row["substance"], label or row["name"]),
            words.limit(row["max_pct"], row),
            words.limit_note(row),
            besides,
            words.basis(row["basis"]),
        )
        found.setdefault(said, []).append(words.as_words(row["category"]))
    cells = [(*said[:2], ", ".join(each), *said[2:]) for said, each in found.items()]
    title, notes = f"Rules ({len(cells)})", words.recalled(rows)
    return table(title, RULES, cells[:MOST], notes, of=len(cells), whole=WHOLE, where="people")


def _cautions(answer: Mapping[str, Any]) -> Iterable[str]:
    if answer["law"]:
        yield f"Law: {', '.join(answer['law'])}."
    yield from answer["cautions"]
