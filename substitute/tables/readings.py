"""How names were read: what was taken for what, noted while files are read, to be told beside an answer."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from ..figures import given
from ..frozen import frozen
from ..records import Material
from .rows import shorten

MOST_HINTS = 4  # other materials that are named

MOST_NOTES = 200
_notes: ContextVar[dict[str, object] | None] = ContextVar("readings", default=None)


@frozen
class Reading:
    """A material and how it was read from a text.

    ``sure`` is true for ids, names, synonyms, labels and CAS numbers; ``others`` are ids that may have
    been meant instead; ``strength`` is what the bottle says in percent; ``left_out`` the words that were
    not looked at.
    """

    text: str
    material: Material
    sure: bool = True
    others: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    strength: float | None = None

    @property
    def plain(self) -> bool:
        """Whether there is nothing to say about it."""
        return self.sure and self.strength is None and not self.left_out

    def __str__(self) -> str:
        text = f"'{shorten(self.text)}' read as {self.material.name}"
        if self.strength is not None:
            text += f", a solution of {given(self.strength)}"
        if self.left_out:
            text += f"; not looked at: {', '.join(self.left_out)}"
        if self.others:
            text += f"; if you mean another: {', '.join(self.others[:MOST_HINTS])}"
        return text

    def to_dict(self) -> dict[str, object]:
        """``{text, id, name, strength_pct, others}``."""
        return {
            "text": self.text,
            "id": self.material.id,
            "name": self.material.name,
            "strength_pct": self.strength,
            "others": list(self.others),
        }


@contextmanager
def noting() -> Iterator[dict[str, object]]:
    """What is worth saying of names and files that are read while the block runs, each once, by its
    sentence."""
    found: dict[str, object] = {}
    token = _notes.set(found)
    try:
        yield found
    finally:
        _notes.reset(token)


def note(thing: object) -> None:
    """Say this if anybody listens (:func:`noting`)."""
    notes = _notes.get()
    if notes is not None and len(notes) < MOST_NOTES:
        notes.setdefault(str(thing), thing)


def noted() -> list[object]:
    """What was said so far in the block that listens: readings, lines to fill, sentences."""
    return list((_notes.get() or {}).values())
