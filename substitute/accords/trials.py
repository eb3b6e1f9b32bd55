"""Trials as records and as plain files beside their accord: ``NAME.trial-2.csv`` with the parent and what was said of it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, ClassVar

from ..errors import complain
from ..records import Accord, Line, Tables
from ..shown import Shown
from ..tables.files import read_rows, shorten, to_csv, write_whole
from ..tables.formulas import ACCORD_COLUMNS, FORMULA_FILES, read_accord
from ..tables.names import Names
from .weigh import CARRIER, CARRIERS

VERDICTS = ("too_strong", "too_weak", "right")
TRIAL_COLUMNS = (*ACCORD_COLUMNS, "parent", "verdict")
TRIAL_NAME = re.compile(r"(?P<stem>.+)\.trial-(?P<number>\d+)")


@dataclass(frozen=True)
class Trial:
    """A weighed accord and what was said of its lines (material id -> verdict); ``name`` and ``parent`` are file names."""

    name: str
    accord: Accord
    verdicts: Mapping[str, str] = field(default_factory=dict)
    parent: str = ""

    def share(self, id: str) -> float:
        """Active share of a material in the trial's total, 0 to 1."""
        return self.accord.active().get(id, 0.0) / self.accord.total


@dataclass(frozen=True)
class TrialLine:
    """A line of the next trial; parts at the line's strength, ``why`` in words, ``verdict`` the one on the parent ('' if none)."""

    id: str
    name: str
    cas: str
    strength_pct: float
    parts_before: float
    parts_after: float
    why: str
    verdict: str = ""
    role: str = "support"
    optional: bool = False

    def to_dict(self) -> dict:
        keys = ("id", "name", "cas", "strength_pct", "parts_before", "parts_after", "verdict", "why")
        return {key: getattr(self, key) for key in keys}


@dataclass(frozen=True)
class NextTrial(Shown):
    """What to weigh and smell next."""

    asked_by: ClassVar[str] = "rebalance"

    trial: int
    parent: str
    lines: tuple[TrialLine, ...]
    warnings: tuple[str, ...] = ()
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
        return Accord(f"{_base(self.parent)}.trial-{self.trial}", lines)

    def to_dict(self) -> dict:
        """The JSON of ``substitute rebalance``."""
        lines = [line.to_dict() for line in self.lines]
        return {
            "trial": self.trial,
            "parent": self.parent,
            "lines": lines,
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
        }


def read_history(path, names: Names) -> tuple[Trial, ...]:
    """The trials that led to the file ``path``, oldest first and itself last, by following ``parent`` in its folder.

    Raises :class:`~substitute.errors.TableError` for a parent that is not there, several parents, a circle or an unknown verdict.
    """
    path = Path(path)
    chain: list[Trial] = []
    said: dict[str, str] = {}
    seen: list[str] = []
    while True:
        seen.append(path.name)
        accord = read_accord(path, names)
        parent, verdicts = _parent_and_verdicts(path, names)
        chain.append(Trial(path.name, accord, said, parent))
        if not parent:
            return tuple(reversed(chain))
        if parent in seen:
            raise complain(
                path,
                None,
                "parent",
                f"the trials come from each other in a circle: {' > '.join([*seen, parent])}",
            )
        if not (path.parent / parent).is_file():
            raise complain(
                path,
                None,
                "parent",
                f"'{shorten(parent)}' is not in this folder; put it back, or empty the column to start afresh",
            )
        path, said = path.parent / parent, verdicts


def _parent_and_verdicts(path: Path, names: Names) -> tuple[str, dict[str, str]]:
    parent, verdicts = "", {}
    for row in read_rows(path, ("material", "parts"), TRIAL_COLUMNS):
        mine = row.text("parent").strip()
        if Path(mine).name != mine or "\\" in mine:
            raise row.fault(
                "parent", f"'{shorten(mine)}' is not a plain file name; a file of this folder is wanted"
            )
        if mine and parent and mine != parent:
            raise row.fault("parent", f"'{shorten(mine)}' beside '{shorten(parent)}'; a trial has one parent")
        parent = mine or parent
        verdict = row.choice("verdict", VERDICTS, "")
        if verdict:
            verdicts[names.find(row.text("material")).id] = verdict
    return parent, verdicts


def _base(name: str) -> str:
    """The accord's own name behind a file's or a trial's."""
    stem = Path(name).stem if Path(name).suffix.lower() in FORMULA_FILES else name
    made = TRIAL_NAME.fullmatch(stem)
    return made["stem"] if made else stem


def trial_number(path) -> int:
    """The number in a trial's name; the accord itself is trial 1."""
    made = TRIAL_NAME.fullmatch(Path(path).stem)
    return int(made["number"]) if made else 1


def next_trial_path(path) -> Path:
    """Where the next trial goes: ``NAME.trial-N.csv`` beside ``path``, N one above the highest there is (the accord itself counts as 1)."""
    path = Path(path)
    stem = _base(path.name)
    others = path.parent.iterdir() if path.parent.is_dir() else ()
    numbers = [trial_number(other) for other in others if _base(other.name) == stem]
    return path.with_name(f"{stem}.trial-{max([*numbers, trial_number(path)]) + 1}.csv")


def write_trial(found: NextTrial) -> str:
    """The trial as CSV text, with the parent and the verdicts that led to it; parts at full precision."""
    rows = [
        (
            line.material,
            line.parts,
            line.strength,
            line.role,
            "yes" if line.optional else "no",
            found.parent,
            said.verdict,
        )
        for line, said in zip(found.accord.lines, found.lines)
    ]
    return to_csv(TRIAL_COLUMNS, rows)


def save_trial(found: NextTrial, path) -> Path:
    """Write the trial beside its parent ``path`` under the next free number, ``path`` named as its parent; nothing is ever written over."""
    return write_whole(next_trial_path(path), write_trial(replace(found, parent=Path(path).name)))


def history_record(history: Sequence[Trial], tables: Tables) -> dict[str, Any]:
    """Parts and verdict of every material over the trials, oldest first, as JSON."""
    ids = dict.fromkeys(line.material for trial in history for line in trial.accord.lines)
    materials = []
    for id in ids:
        said = []
        for trial in history:
            parts = [line.parts for line in trial.accord.lines if line.material == id]
            said.append({"parts": sum(parts) if parts else None, "verdict": trial.verdicts.get(id, "")})
        name = tables.materials[id].name if id in tables.materials else id
        materials.append({"id": id, "name": name, "trials": said})
    return {"trials": [trial.name for trial in history], "materials": materials}
