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

LAYOUTS = {
    **{name: f"{name}:lay_out" for name in ("swap", "neighbours", "adjust", "limits", "screen", "weigh")},
    **{
        name: f"{name}:lay_out" for name in ("rebalance", "plan", "lift", "check", "lesson", "several", "ask")
    },
    "label": "label:lay_out",
    "reach": "label:lay_out_reach",
    "show": "card:lay_out",
    "history": "rebalance:lay_out_history",
    "shelf": "plan:lay_out_shelf",
    "compare": "rebalance:lay_out_compare",
    "book": "book:lay_out",
    **{name: f"book:lay_out_{name}" for name in ("tried", "taken", "found", "cost")},
}


def lay_out(kind: str, answer: Mapping[str, Any]) -> Answer:
    """The JSON of the question ``kind`` (one of ``LAYOUTS``) as an answer in sections."""
    module, name = LAYOUTS[kind].split(":")
    found: Answer = getattr(import_module(f".{module}", __name__), name)(answer)
    return found


__all__ = ["LAYOUTS", "lay_out"]
