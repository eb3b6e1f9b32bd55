"""The JSON of every answer, typed: one class a record. Percentages are by mass, matches and shares 0 to 1,
amounts in grams."""

from __future__ import annotations

from typing import Any

from .accords import AdjustAnswer, LiftAnswer, WeighAnswer
from .book import BookAnswer, CostAnswer, FoundAnswer, TakenAnswer, TriedAnswer
from .bottle import LabelAnswer, ReachAnswer
from .lesson import LessonAnswer
from .materials import CardAnswer, NeighboursAnswer, SwapAnswer
from .rules import AskAnswer, LimitsAnswer, ScreenAnswer, SeveralAnswer
from .shelf import CheckAnswer, PlanAnswer, ShelfAnswer
from .trials import CompareAnswer, HistoryAnswer, RebalanceAnswer

SHAPES: dict[str, Any] = {
    "swap": SwapAnswer,
    "neighbours": NeighboursAnswer,
    "show": CardAnswer,
    "adjust": AdjustAnswer,
    "limits": LimitsAnswer,
    "several": SeveralAnswer,
    "ask": AskAnswer,
    "screen": ScreenAnswer,
    "weigh": WeighAnswer,
    "rebalance": RebalanceAnswer,
    "history": HistoryAnswer,
    "lift": LiftAnswer,
    "lesson": LessonAnswer,
    "label": LabelAnswer,
    "reach": ReachAnswer,
    "plan": PlanAnswer,
    "shelf": ShelfAnswer,
    "check": CheckAnswer,
    "compare": CompareAnswer,
    "book": BookAnswer,
    "tried": TriedAnswer,
    "taken": TakenAnswer,
    "found": FoundAnswer,
    "cost": CostAnswer,
}

__all__ = ["SHAPES"]
