"""What is wrong with a person's own files, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from . import words
from .sections import Answer, Column, listing, table

COLUMNS = (
    Column("file", form="text", where="data"),
    Column("row", form="count", where="data"),
    Column("column", form="word", where="data"),
    Column("message", form="text", where="data"),
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``check`` as an answer."""
    wrong = answer["complaints"]
    headline = f"{words.count(len(wrong), 'fault')} found." if wrong else "No fault found."
    rows = [(one["file"], one["row"], one["column"], one["message"]) for one in wrong]
    sections = (listing("", answer["lines"]), table("Faults", COLUMNS, rows, where="data"))
    notes, cautions = tuple(answer.get("notes", ())), tuple(answer.get("cautions", ()))
    return Answer("check", "Check", headline, sections, notes, cautions, "bad" if wrong else "")
