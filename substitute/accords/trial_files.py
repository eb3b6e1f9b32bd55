"""Trials in files: an accord's family read from its folder, and the next trial written beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from ..errors import complain
from ..records import Accord
from ..tables.files import read_rows
from ..tables.formulas import ACCORD_COLUMNS, FORMULA_FILES, cells_of, read_accord
from ..tables.names import Names
from ..tables.rows import Row, shorten
from ..tables.writing import to_csv, write_whole
from .trials import DEGREES, VERDICTS, Family, NextTrial, Trial, base_name, trial_number

TRIAL_COLUMNS = (*ACCORD_COLUMNS, "parent", "verdict", "ratio")
SaidOf = Callable[[str, int], Mapping[str, tuple[str, str]]]  # (accord, trial) -> id -> (verdict, degree)


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


def next_trial_path(path: Path | str) -> Path:
    """Where the next trial goes: ``NAME.trial-N.csv`` beside ``path``, N one above the highest there is
    (the accord itself counts as 1)."""
    path = Path(path)
    stem = base_name(path.name)
    others = path.parent.iterdir() if path.parent.is_dir() else ()
    numbers = [trial_number(other) for other in others if base_name(other.name) == stem]
    return path.with_name(f"{stem}.trial-{max([*numbers, trial_number(path)]) + 1}.csv")


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
