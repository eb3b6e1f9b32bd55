"""How much work a run of the tests does: by default a sixth of what it does under ``--slow``."""

from __future__ import annotations

from typing import Any

LEAST = 3  # examples, however few are asked for in a quick run
PART = 6
_slow = False
answers: list[Any] = []  # a record of every kind, likewise read once
tables: dict[
    Any, Any
] = {}  # read once, by a person's folder and its bytes: frozen, so that all may share them


def choose(slow: bool) -> None:
    """Called once, before any test file is read."""
    global _slow
    _slow = slow


def examples(full: int) -> int:
    """``full`` under ``--slow``, else a sixth of it and at least three (or ``full``, if that is less)."""
    return full if _slow else min(full, max(LEAST, full // PART))


def thorough() -> bool:
    """Whether this run takes its time."""
    return _slow
