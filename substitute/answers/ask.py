"""What to ask a supplier, as sections: a table with an empty field on each line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from . import words
from .sections import Answer, Column, listing, table

COLUMNS = (
    Column("material"),
    Column("cas", "CAS", form="word"),
    Column("question"),
    Column("answer_pct", "answer", "%", form="figure"),
    Column("table", form="word", where="data"),
    Column("about", form="word", where="data"),
    Column("substance", form="word", where="data"),
    Column("category", form="word", where="data"),
)
BACK = (
    "Fill in the column answer_pct of the CSV; read back, it becomes limits.csv and constituents.csv "
    "of your own.",
    "What is left empty stays unknown.",
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``ask`` as a page to send."""
    asked = answer["questions"]
    rows = [
        (q["name"], q["cas"], q["question"], None, q["table"], q["about"], q["substance"], q["category"])
        for q in asked
    ]
    materials = len({q["material"] for q in asked})
    headline = (
        f"{words.count(len(asked), 'question')} about {words.count(materials, 'material')}, for "
        f"{answer['product']}."
        if asked
        else f"Nothing to ask for {answer['product']}: every limit has a figure, which is no clearance."
    )
    return Answer(
        "ask", "Questions to a supplier", headline, (table("", COLUMNS, rows), listing("The way back", BACK))
    )
