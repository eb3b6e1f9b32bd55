"""Trials as records and as plain files beside their accord: ``NAME.trial-2.csv`` with the parent and what
was said of it.

A family is an accord and all trials that came of it, by whatever branches. What was said of a trial's lines
stands in the trials made of it (column ``verdict``, with its degree behind a colon), or in a bench book,
which then is asked instead.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path
from typing import Any, ClassVar

from ..errors import complain
from ..frozen import frozen
from ..records import Accord, Line
from ..shown import Shown
from ..tables.formulas import FORMULA_FILES
from ..tables.rows import shorten
from .carriers import CARRIER, CARRIERS

VERDICTS = ("too_strong", "too_weak", "right")
DEGREES = ("slightly", "clearly", "far")
TRIAL_NAME = re.compile(r"(?P<stem>.+)\.trial-(?P<number>\d+)")


@frozen
class Trial:
    """A weighed accord and what was said of its lines (material id -> verdict, id -> degree); ``name`` and
    ``parent`` are file names.

    ``ratios`` are groups of ids whose ratio was asked to stay. ``orphan`` is true where the parent's file
    is gone.
    """

    name: str
    accord: Accord
    verdicts: Mapping[str, str] = field(default_factory=dict)
    parent: str = ""
    degrees: Mapping[str, str] = field(default_factory=dict)
    ratios: tuple[tuple[str, ...], ...] = ()
    orphan: bool = False

    def amount(self, id: str) -> float:
        """Parts of the material itself."""
        return self.accord.active().get(id, 0.0)


@frozen
class Family:
    """An accord and all its trials, by number."""

    stem: str
    trials: tuple[Trial, ...]

    def chain(self, name: str) -> tuple[Trial, ...]:
        """The trials that led to ``name``, oldest first and itself last."""
        known = {trial.name: trial for trial in self.trials}
        found = [known[name]]
        while found[-1].parent in known:
            found.append(known[found[-1].parent])
        return tuple(reversed(found))

    def evidence(self, name: str) -> tuple[Trial, ...]:
        """All trials as evidence about the one called ``name``: those of other branches first, then the
        ones that led to it."""
        chain = self.chain(name)
        names = {trial.name for trial in chain}
        return (*(trial for trial in self.trials if trial.name not in names), *chain)


@frozen
class TrialLine:
    """A line of the next trial; parts at the line's strength, ``why`` in words, ``verdict`` the one on the
    parent ('' if none)."""

    id: str
    name: str
    cas: str
    strength_pct: float
    parts_before: float
    parts_after: float
    why: str
    verdict: str = ""
    degree: str = ""
    role: str = "support"
    optional: bool = False

    def to_dict(self) -> dict[str, Any]:
        keys = (
            "id",
            "name",
            "cas",
            "strength_pct",
            "parts_before",
            "parts_after",
            "verdict",
            "degree",
            "why",
        )
        return {key: getattr(self, key) for key in keys}


@frozen
class NextTrial(Shown):
    """What to weigh and smell next."""

    asked_by: ClassVar[str] = "rebalance"

    trial: int
    parent: str
    lines: tuple[TrialLine, ...]
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    ratios: tuple[tuple[str, ...], ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def accord(self) -> Accord:
        """The trial as an accord; a line ``carrier`` that was added becomes a solvent that can be weighed."""
        known = {line.id for line in self.lines}
        solvent = next((id for id in CARRIERS if id not in known), CARRIERS[0])
        lines = tuple(
            Line(
                solvent if line.id == CARRIER else line.id,
                line.parts_after,
                line.strength_pct,
                line.role,
                line.optional,
            )
            for line in self.lines
        )
        return Accord(f"{base_name(self.parent)}.trial-{self.trial}", lines)

    @property
    def total_before(self) -> float:
        return sum(line.parts_before for line in self.lines)

    @property
    def total_after(self) -> float:
        return sum(line.parts_after for line in self.lines)

    def to_dict(self) -> dict[str, Any]:
        """The JSON of ``substitute rebalance``."""
        return {
            "trial": self.trial,
            "parent": self.parent,
            "lines": [line.to_dict() for line in self.lines],
            "total_before": self.total_before,
            "total_after": self.total_after,
            "ratios": [list(group) for group in self.ratios],
            "notes": list(self.notes),
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
        }


# -- reading ------------------------------------------------------------------------------------------------


# -- names --------------------------------------------------------------------------------------------------


def base_name(name: str) -> str:
    """The accord's own name behind a file's or a trial's."""
    stem = Path(name).stem if Path(name).suffix.lower() in FORMULA_FILES else name
    made = TRIAL_NAME.fullmatch(stem)
    return made["stem"] if made else stem


def trial_number(path: Path | str) -> int:
    """The number in a trial's name; the accord itself is trial 1."""
    name = Path(path).name
    stem = Path(name).stem if Path(name).suffix.lower() in FORMULA_FILES else name
    made = TRIAL_NAME.fullmatch(stem)
    return int(made["number"]) if made else 1


def find_trial(family: Family, text: str) -> Trial:
    """A trial by its number, ``trial-3`` or its file's name; raises :class:`~substitute.errors.TableError`
    if there is none."""
    digits = re.fullmatch(r"(?:trial[\s-]*)?(\d+)", text.strip().lower())
    for trial in family.trials:
        if text in (trial.name, Path(trial.name).stem) or (
            digits and trial_number(trial.name) == int(digits[1])
        ):
            return trial
    have = ", ".join(str(trial_number(trial.name)) for trial in family.trials)
    raise complain(family.stem, None, None, f"there is no trial '{shorten(text)}'; there are {have}")
