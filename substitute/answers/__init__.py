"""Answers as sections, once; the terminal, files, pages, notebooks and screens draw the same sections.

:func:`lay_out` turns the JSON of a question's answer into an :class:`~substitute.answers.sections.Answer`;
the renderers are :mod:`.terminal`, :mod:`.csv`, :mod:`.xlsx`, :mod:`.markdown` and :mod:`.page`. Layouts are
imported when first asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .sections import Answer

KINDS = ("neighbours", "limits")


def lay_out(kind: str, answer: Mapping[str, Any]) -> Answer:
    """The JSON of the question ``kind`` (one of ``KINDS``) as an answer in sections."""
    found: Answer = import_module(f".{kind}", __name__).lay_out(answer)
    return found


__all__ = ["KINDS", "lay_out"]
