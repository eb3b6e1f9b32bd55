"""What an accord puts into the finished product, held against limit sets, label thresholds and controls."""

from .context import AppliedSet, Context, check_dose, resolve_context
from .controls import ControlRow, controls, status, statuses
from .declare import Declaration, Declarations, declare
from .exposure import Exposure, Share
from .judge import judge
from .linear import Linear, headroom, linear
from .situation import REASONS, Ban, Situation, situate
from .verdict import Row, Verdict, Wall

__all__ = [
    "REASONS",
    "AppliedSet",
    "Ban",
    "Context",
    "ControlRow",
    "Declaration",
    "Declarations",
    "Exposure",
    "Linear",
    "Row",
    "Share",
    "Situation",
    "Verdict",
    "Wall",
    "check_dose",
    "controls",
    "declare",
    "headroom",
    "judge",
    "linear",
    "resolve_context",
    "situate",
    "status",
    "statuses",
]
