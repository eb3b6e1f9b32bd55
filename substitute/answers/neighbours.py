"""What lies near something, and the path to another, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from . import words
from .sections import Answer, Column, Section, table, text

COLUMNS = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word", drop=1),
    Column("similarity", form="ratio"),
    Column("shared", "both smell of", form="text"),
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``neighbours`` as an answer."""
    of, near, path = answer["of"], answer["neighbours"], answer.get("path") or ()
    name = of["name"]
    headline = (
        f"Nearest to {name} ({of['kind']}): {near[0]['name']}"
        if near
        else f"Nothing on file lies near {name}"
    )
    rows = [(n["id"], n["name"], n["cas"], n["similarity"], words.few(n["shared"], 4)) for n in near]
    sections = [table("", COLUMNS, rows)]
    if path:
        sections.append(_path(path))
    return Answer("neighbours", f"Near {name}", headline + ".", tuple(sections))


def _path(path: Any) -> Section:
    told = []
    for step, last in zip(path, [False] * (len(path) - 1) + [True]):
        relation = "" if step["shared"] in ("", "smells of") else f" ({step['shared']})"
        told.append(f"{step.get('name') or step['id']}{relation}" + ("" if last else " →"))
    return text(" ".join(told), title="The way there, a smell at a time")
