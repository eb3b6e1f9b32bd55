"""Where an accord stands in a product, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import figure, percent
from . import words
from .sections import Answer, Column, Section, listing, table, text

COLUMNS = (
    Column("substance", "substance"),
    Column("limit_set", "set", form="word", drop=2),
    Column("limit_pct", "limit", "%", form="percent"),
    Column("found_pct", "found", "%", form="percent"),
    Column("typical_pct", "typical", "%", form="percent", drop=4),
    Column("headroom_pct", "headroom", "%", form="figure", drop=3),
    Column("ok", "state", form="word"),
    Column("basis", form="word", drop=5),
    Column("limit_words", "note", form="note"),
    Column("rule", form="word", where="data"),
    Column("note", "what the rule says besides", form="text", where="wide"),
    Column("source", form="word", where="data"),
)
ORDER = {False: 0, None: 1, True: 2}


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``limits`` as an answer: broken first, then unknown, then within."""
    rows = sorted(answer["limits"], key=lambda row: ORDER[row["ok"]])
    broken = any(row["ok"] is False for row in rows)
    headline = f"{answer['accord']} {words.where(answer)}: {answer['verdict']}."
    sections = [
        text(*_dose(answer)),
        limit_table("", rows),
        listing("To declare on the label", _declare(answer)),
        listing("Controls", controls(answer.get("controls", ()))),
        listing("Unknown, which is no clearance", answer.get("unknown", ())),
    ]
    return Answer(
        "limits",
        f"Limits: {answer['accord']}",
        headline,
        tuple(sections),
        tuple(answer.get("notes", ())),
        tuple(answer.get("cautions", ())),
        "bad" if broken else "",
    )


def limit_table(title: str, rows: list[Mapping[str, Any]]) -> Section:
    """Limits with what was found; a figure that is only remembered has a star and a footnote."""
    cells = [
        (
            words.named(row),
            row["limit_set"],
            words.limit(row["limit_pct"], row),
            words.found(row["found_pct"], row),
            words.found(row.get("typical_pct"), row),
            row.get("headroom_pct"),
            words.state(row["ok"], row.get("state", "")),
            words.basis(row["basis"]),
            words.limit_note(row),
            row.get("rule", ""),
            row.get("note", ""),
            row.get("source", ""),
        )
        for row in rows
    ]
    return table(title, COLUMNS, cells, words.recalled(rows))


def _dose(answer: Mapping[str, Any]) -> list[str]:
    """The highest dose, as far as it is known, and what stands in the way."""
    told = f"Highest dose: {answer['max_dose_words']}."
    if not answer.get("wall"):
        return [told]
    return [told, f"In the way first: {words.wall(answer['wall'])}."]


def _declare(answer: Mapping[str, Any]) -> list[str]:
    return [
        f"{entry['label']}: {percent(entry['found_pct'])} (from {figure(entry['threshold_pct'])} %)"
        + (
            ""
            if entry.get("state", "declare") == "declare"
            else ", only by high constituents, not typical ones"
        )
        for entry in answer.get("declare", ())
    ]


def controls(rows: Any) -> list[str]:
    """Rules of trade and supply, a line each."""
    return [
        (f"{row['id']}: " if row.get("id") else "") + f"{row['control']} ({row['market']}): {row['detail']}"
        for row in rows
    ]
