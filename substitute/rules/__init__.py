"""What an accord puts into the finished product, held against limit sets, label thresholds and controls."""

from .compiled import Compiled, Rows, compiled_for
from .context import AppliedSet, Context, check_dose, resolve_context
from .controls import ControlRow, controls
from .declare import Declaration, Declarations, declare
from .exposure import Exposure, Share
from .judge import judge
from .situation import REASONS, Ban, Situation, situate
from .verdict import Row, Verdict, Wall

__all__ = [
    "REASONS",
    "AppliedSet",
    "Ban",
    "Compiled",
    "Context",
    "ControlRow",
    "Declaration",
    "Declarations",
    "Exposure",
    "Row",
    "Rows",
    "Share",
    "Situation",
    "Verdict",
    "Wall",
    "check_dose",
    "compiled_for",
    "controls",
    "declare",
    "judge",
    "resolve_context",
    "situate",
]
