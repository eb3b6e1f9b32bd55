"""What a swap costs: a person's own shelf first, else nothing is said."""

from __future__ import annotations

from ..records import Shelf, Tables


def dearer(tables: Tables, shelf: Shelf | None, missing: str, stand_in: str, grams: float) -> bool:
    """Whether ``grams`` of the stand-in cost as much as one gram of the missing material or more, by prices known for both."""
    old, new = (shelf.price(name) if shelf else None for name in (missing, stand_in))
    return old is not None and new is not None and new * grams >= old
