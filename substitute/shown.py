"""Answers that show themselves: in a notebook and as a frame.

A record of any room may be :class:`Shown`; how answers are drawn is known further down the house, which says
so with :func:`draw_with` when the library is loaded.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar

if TYPE_CHECKING:
    import pandas as pd

Drawer = Callable[[str, Mapping[str, Any]], Any]
_drawers: dict[str, Drawer] = {}


def draw_with(html: Drawer, frame: Drawer) -> None:
    """Say how an answer is drawn: functions of its kind and its JSON."""
    _drawers.update(html=html, frame=frame)


class Shown:
    """An answer with a JSON (``to_dict``); ``asked_by`` is the command that asks for it."""

    asked_by: ClassVar[str] = ""

    def to_dict(self) -> Mapping[str, Any]:
        """The answer's JSON."""
        raise NotImplementedError

    def _repr_html_(self) -> str | None:
        """The answer as a notebook shows it."""
        return str(_drawers["html"](self.asked_by, self.to_dict())) if _drawers else None

    def to_frame(self) -> pd.DataFrame:
        """The answer's main table as a DataFrame: columns as in CSV, numbers rounded to what is known."""
        found: pd.DataFrame = _drawers["frame"](self.asked_by, self.to_dict())
        return found


class Plain(Shown):
    """An answer that is no more than its JSON."""

    def __init__(self, asked_by: str, answer: Mapping[str, Any]):
        self.asked_by = asked_by  # type: ignore[misc]
        self._answer = answer

    def to_dict(self) -> Mapping[str, Any]:
        return self._answer
