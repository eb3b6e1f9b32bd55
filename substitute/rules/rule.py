"""One rule of a set of limits for the category in question, as picked from the tables."""

from __future__ import annotations

from ..frozen import frozen
from ..records import Tables

CHECK = "check against the official Standard"


@frozen
class Part:
    """A member of a sum of fractions with its own maximum, percent of the product; ``None`` = unknown."""

    substance: str
    max_pct: float | None
    basis: str


@frozen
class Rule:
    """``rule`` names its kind (:mod:`.kinds`); ``estimate_pct`` is a guess where no figure is on file,
    which clears nothing.
    """

    limit_set: str
    substance: str
    category: str
    max_pct: float | None
    rule: str
    note: str
    basis: str
    source: str
    parts: tuple[Part, ...] = ()
    estimate_pct: float | None = None

    @property
    def check(self) -> str:
        """What to do about a recalled figure, '' if none is behind this rule."""
        return CHECK if "memory" in (self.basis, *(part.basis for part in self.parts)) else ""


def substance_name(tables: Tables, substance: str) -> str:
    """A material's name, or a group's id in plain words."""
    record = tables.materials.get(substance)
    return record.name if record else substance.replace("-", " ")
