"""Which bench book a question is asked with; a module of its own, so that without one no more is loaded."""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "SUBSTITUTE_BOOK"


def which_book(folder: Path | str | bool | None) -> str | None:
    """The folder named, else the one in the environment (``SUBSTITUTE_BOOK``), else none; ``False`` is none
    whatever the environment says."""
    chosen = folder if folder not in (None, True) else os.environ.get(VARIABLE)
    return str(chosen) if chosen else None
