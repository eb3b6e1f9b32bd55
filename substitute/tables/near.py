"""The one hint for words of a small list: columns, choices, commands, files."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(text: str, names: Iterable[str], least: float = 60.0) -> str:
    """'; nearest is x' for the name most like ``text`` (``least`` of 100), or nothing."""
    from rapidfuzz import fuzz, process

    found = process.extractOne(text, list(names), scorer=fuzz.ratio, score_cutoff=least)
    return f"; nearest is '{found[0]}'" if found else ""
