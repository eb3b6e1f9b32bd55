"""An answer as Markdown: cautions first, then tables under headings, notes as lists."""

from __future__ import annotations

from collections.abc import Iterable

from .sections import Answer, Section


def safe(text: str) -> str:
    """Text that Markdown shows as it is: no table is broken, no mark-up or picture comes of it."""
    text = " ".join(text.split()).replace("\\", "\\\\").replace("&", "&amp;").replace("<", "&lt;")
    for letter in "|`*_[]!":
        text = text.replace(letter, f"\\{letter}")
    return text


def section_markdown(section: Section) -> str:
    """One section; '' where nothing stands in it."""
    if not (section.rows or section.items or section.columns):
        return ""
    lines = [f"## {safe(section.title)}", ""] if section.title else []
    if section.kind == "table":
        marks = ("---:" if column.is_number else "---" for column in section.columns)
        lines += [_row(column.title for column in section.columns), f"|{'|'.join(marks)}|"]
        lines += [_row(cells) for cells in section.texts()]
    elif section.kind == "list":
        lines += [f"- {safe(item)}" for item in section.lines()]
    else:
        lines.append("\n\n".join(safe(item) for item in section.items))
    notes = [note for note in (section.more(), *section.notes) if note]
    return "\n".join(lines + (["", *(f"- {safe(note)}" for note in notes)] if notes else []))


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(map(safe, cells))} |"


def answer_markdown(answer: Answer) -> str:
    """The whole answer as one document."""
    pen = " · ".join(f"{one}: ____________" for one in answer.blanks)
    blocks = [f"# {safe(answer.title)}", pen, safe(answer.headline)]
    if answer.cautions:
        blocks.append("\n".join(["## Cautions", "", *(f"- {safe(one)}" for one in answer.cautions)]))
    blocks += [section_markdown(section) for section in answer.on("paper")]
    if answer.notes:
        blocks.append("\n".join(f"- {safe(note)}" for note in answer.notes))
    return "\n\n".join(filter(None, blocks)) + "\n"
