"""One accord in several products: the highest dose by product, and what stands in its way."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from ..frozen import frozen
from ..shown import Shown
from .cautions import once
from .report import Report


@frozen
class Several(Shown):
    """All that ``limits`` answers where several products or categories are named."""

    asked_by: ClassVar[str] = "several"

    accord: str
    reports: tuple[Report, ...]

    @property
    def within_known(self) -> bool | None:
        """``False`` if a known limit is broken in any; ``True`` only where it is so in every one."""
        states = {one.within_known for one in self.reports}
        return False if False in states else None if None in states else True

    def to_dict(self) -> dict[str, object]:
        return {
            "accord": self.accord,
            "within_known": self.within_known,
            "products": [_line(one) for one in self.reports],
            "cautions": once(text for one in self.reports for text in one.all_cautions),
        }


def _line(one: Report) -> dict[str, object]:
    verdict = one.verdict
    return {
        "product": one.product,
        "category": verdict.category,
        "dose_pct": verdict.dose_pct,
        "verdict": one.in_words(),
        "within_known": one.within_known,
        "max_dose_pct": verdict.max_dose_pct,
        "max_dose_known_pct": verdict.max_dose_known_pct,
        "max_dose_words": one.highest_in_words(),
        "wall": verdict.wall.to_dict() if verdict.wall else None,
        "broken": _names(row.name for row in verdict.broken),
        "probably_broken": _names(row.name for row in verdict.probably_broken),
        "unknown": len(one.unknown_lines()),
    }


def _names(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))
