"""Trials as records and as plain files beside their accord: ``NAME.trial-2.csv`` with the parent and what
was said of it.

A family is an accord and all trials that came of it, by whatever branches. What was said of a trial's lines
stands in the trials made of it (column ``verdict``, with its degree behind a colon), or in a bench book,
which then is asked instead.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import field, replace
from pathlib import Path
from typing import Any, ClassVar

from ..errors import complain
from ..frozen import frozen
from ..records import Accord, Line
from ..shown import Shown
from ..tables.files import read_rows
from ..tables.formulas import ACCORD_COLUMNS, FORMULA_FILES, cells_of, read_accord
from ..tables.names import Names
from ..tables.rows import Row, shorten
from ..tables.writing import to_csv, write_whole
from .weigh import CARRIER, CARRIERS

VERDICTS = ("too_strong", "too_weak", "right")
DEGREES = ("slightly", "clearly", "far")
TRIAL_COLUMNS = (*ACCORD_COLUMNS, "parent", "verdict", "ratio")
TRIAL_NAME = re.compile(r"(?P<stem>.+)\.trial-(?P<number>\d+)")

SaidOf = Callable[[str, int], Mapping[str, tuple[str, str]]]  # (accord, trial) -> id -> (verdict, degree)


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


def read_family(path: Path | str, names: Names, said: SaidOf | None = None) -> Family:
    """The accord behind the file ``path`` and every trial of it in that folder.

    ``said`` tells the verdicts on a trial's lines; without it they are read from the trials made of it. A
    parent whose file is gone makes its trial an orphan. Raises :class:`~substitute.errors.TableError` for
    several parents, a circle or an unknown verdict.
    """
    path = Path(path)
    stem = base_name(path.name)
    files = {other.name: other for other in path.parent.iterdir() if _is_trial_of(stem, other)}
    files.setdefault(path.name, path)
    read = {name: _read_trial(file, names) for name, file in files.items()}
    verdicts: dict[str, dict[str, tuple[str, str]]] = {name: {} for name in files}
    for name in sorted(files, key=_order):
        accord, parent, of_parent, _ = read[name]
        if parent in verdicts:
            verdicts[parent].update(of_parent)
        if said is not None:
            verdicts[name].update(said(stem, trial_number(name)))
    trials = []
    for name in sorted(files, key=_order):
        accord, parent, _, ratios = read[name]
        _no_circle(path.parent, name, {one: read[one][1] for one in files})
        mine = verdicts[name]
        trials.append(
            Trial(
                name,
                accord,
                {id: verdict for id, (verdict, _) in mine.items()},
                parent,
                {id: degree for id, (_, degree) in mine.items() if degree},
                ratios,
                bool(parent) and parent not in files,
            )
        )
    return Family(stem, tuple(trials))


def read_history(path: Path | str, names: Names, said: SaidOf | None = None) -> tuple[Trial, ...]:
    """The trials that led to the file ``path``, oldest first and itself last; see :func:`read_family`."""
    return read_family(path, names, said).chain(Path(path).name)


def _is_trial_of(stem: str, path: Path) -> bool:
    return (
        path.suffix.lower() in FORMULA_FILES
        and not path.name.startswith(".")
        and base_name(path.name) == stem
    )


def _order(name: str) -> tuple[int, str]:
    return trial_number(name), name


def _no_circle(folder: Path, name: str, parents: Mapping[str, str]) -> None:
    seen = [name]
    while parents.get(seen[-1]):
        parent = parents[seen[-1]]
        if parent in seen:
            told = " > ".join([*seen, parent])
            raise complain(
                folder / name, None, "parent", f"the trials come from each other in a circle: {told}"
            )
        seen.append(parent)


def _read_trial(
    path: Path, names: Names
) -> tuple[Accord, str, dict[str, tuple[str, str]], tuple[tuple[str, ...], ...]]:
    """The accord of a file, its parent, what is said in it of the parent's lines, and the ratios that
    stay."""
    accord = read_accord(path, names)
    parent, verdicts = "", {}
    groups: dict[str, list[str]] = {}
    for row in read_rows(path, ("material", "parts"), TRIAL_COLUMNS):
        mine = row.text("parent").strip()
        if Path(mine).name != mine or "\\" in mine:
            raise row.fault(
                "parent", f"'{shorten(mine)}' is not a plain file name; a file of this folder is wanted"
            )
        if mine and parent and mine != parent:
            raise row.fault("parent", f"'{shorten(mine)}' beside '{shorten(parent)}'; a trial has one parent")
        parent = mine or parent
        verdict = _verdict(row)
        group = row.text("ratio").strip()
        if verdict[0] or group:
            id = names.find(row.text("material")).id
            if verdict[0]:
                verdicts[id] = verdict
            if group:
                groups.setdefault(group, []).append(id)
    ratios = tuple(tuple(dict.fromkeys(ids)) for ids in groups.values() if len(set(ids)) > 1)
    return accord, parent, verdicts, ratios


def _verdict(row: Row) -> tuple[str, str]:
    """A cell such as ``too_strong`` or ``too_strong:far``."""
    word, _, degree = row.text("verdict").strip().lower().partition(":")
    if word and word not in VERDICTS:
        raise row.fault("verdict", f"'{shorten(word)}' is not allowed: one of {', '.join(VERDICTS)}")
    if degree and degree not in DEGREES:
        raise row.fault("verdict", f"'{shorten(degree)}' is no degree: one of {', '.join(DEGREES)}")
    return word, degree


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


def next_trial_path(path: Path | str) -> Path:
    """Where the next trial goes: ``NAME.trial-N.csv`` beside ``path``, N one above the highest there is
    (the accord itself counts as 1)."""
    path = Path(path)
    stem = base_name(path.name)
    others = path.parent.iterdir() if path.parent.is_dir() else ()
    numbers = [trial_number(other) for other in others if base_name(other.name) == stem]
    return path.with_name(f"{stem}.trial-{max([*numbers, trial_number(path)]) + 1}.csv")


# -- writing ------------------------------------------------------------------------------------------------


def write_trial(found: NextTrial, *, verdicts: bool = True) -> str:
    """The trial as CSV text, with its parent and ratios; parts at full precision.

    ``verdicts`` are what was said of the parent and led to this trial; where a bench book keeps them they
    are left out.
    """
    group = {id: str(number) for number, ids in enumerate(found.ratios, 1) for id in ids}
    rows = [
        (
            *cells_of(line),
            found.parent,
            f"{said.verdict}{':' if said.degree else ''}{said.degree}" if verdicts else "",
            group.get(line.material, ""),
        )
        for line, said in zip(found.accord.lines, found.lines)
    ]
    return to_csv(TRIAL_COLUMNS, rows)


def save_trial(found: NextTrial, path: Path | str) -> Path:
    """Write the trial beside its parent ``path`` under the next free number, ``path`` named as its parent;
    nothing is ever written over."""
    return write_whole(next_trial_path(path), write_trial(replace(found, parent=Path(path).name)))


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


__all__ = [
    "DEGREES",
    "VERDICTS",
    "Family",
    "NextTrial",
    "Trial",
    "TrialLine",
    "base_name",
    "find_trial",
    "next_trial_path",
    "read_family",
    "read_history",
    "save_trial",
    "trial_number",
    "write_trial",
]
