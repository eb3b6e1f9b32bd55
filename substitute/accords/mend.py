"""Broken accords mended: an adjusted copy of each with its reasons."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..figures import figure
from ..frozen import frozen
from ..records import Accord
from ..tables.formulas import write_accord
from ..tables.writing import write_whole
from .adjusted import Adjusted, AdjustedLine

NOT_IN_FILES = re.compile(r"[^\w .,()+&'-]+")


@frozen
class Mended:
    """A broken accord's adjusted copy, or why there is none: the limit in the way (``wall``) or a
    ``message``.

    ``match`` is the overall likeness to the old accord (0 to 1); ``changed`` the lines that moved, as
    (material, parts before, parts
    after, why); ``dose_within_known_pct`` the highest dose of the accord as it is.
    """

    accord: str
    file: str | None
    match: float | None
    changed: tuple[tuple[str, float, float, str], ...] = ()
    wall: dict[str, Any] | None = None
    dose_within_known_pct: float | None = None
    message: str = ""

    @property
    def said(self) -> str:
        """What was changed and why in one line, the largest change first; why there is no copy."""
        if self.file is None:
            return self.message
        told = [
            f"{name} {f'{figure(before, 4)} to' if before else 'new,'} {figure(after, 4)} ({why})"
            for name, before, after, why in self.changed
        ]
        return "; ".join(told)

    def to_dict(self) -> dict[str, Any]:
        changed = [
            {"id": name, "parts_before": before, "parts_after": after, "why": why}
            for name, before, after, why in self.changed
        ]
        return {
            "accord": self.accord,
            "file": self.file,
            "match": self.match,
            "changed": changed,
            "wall": self.wall,
            "dose_within_known_pct": self.dose_within_known_pct,
            "message": self.message,
            "said": self.said,
        }


def file_names(accords: Iterable[str], folder: Path) -> dict[str, Path]:
    """A CSV file in ``folder`` for each accord, every one another."""
    found: dict[str, Path] = {}
    taken: set[str] = set()
    for accord in accords:
        stem = base = NOT_IN_FILES.sub("-", accord).strip(" .-")[:100] or "accord"
        number = 2
        while stem.casefold() in taken:
            stem, number = f"{base}-{number}", number + 1
        taken.add(stem.casefold())
        found[accord] = folder / f"{stem}.csv"
    return found


def check_folder(
    folder: Path | str, portfolio: Path | str, accords: Iterable[str], *, force: bool = False
) -> dict[str, Path]:
    """Where each mended accord goes; makes the folder.

    Raises :class:`~substitute.errors.InputError`, before anything is written, if the folder is the portfolio
    itself or a file there
    would be written over without ``force``.
    """
    folder = Path(folder)
    if folder.resolve() == Path(portfolio).resolve():
        raise InputError(
            f"{folder}: the mended copies would lie among the accords themselves; name another folder"
        )
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file, a folder is wanted")
    files = file_names(accords, folder)
    there = [path for path in files.values() if path.exists()]
    if there and not force:
        more = f" (and {len(there) - 1} more)" if len(there) > 1 else ""
        raise InputError(f"{there[0]}: exists already{more}; another folder, or `force` to write over it")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be made ({error.strerror or error})") from None
    return files


def mend(
    accords: Iterable[Accord],
    adjust: Callable[[Accord], Adjusted],
    files: Mapping[str, Path],
    *,
    force: bool = False,
) -> Iterator[Mended]:
    """Each accord adjusted and written with the column ``why``; nothing is written for one that cannot be
    made legal.
    """
    for accord in accords:
        try:
            found = adjust(accord)
        except InputError as error:
            yield Mended(accord.name, None, None, message=str(error))
            continue
        changed = tuple(
            (line.material, line.before, line.after, line.why) for line in sorted(found.changed, key=_largest)
        )
        wall = None if found.wall is None else dict(found.wall)
        state = (found.match.overall, changed, wall, found.dose_within_known)
        if not found.within_known:
            message = (
                "nothing within the known limits was found at this dose; an adjustment alone cannot mend it"
            )
            yield Mended(accord.name, None, *state, message=message)
            continue
        path = write_whole(files[accord.name], with_reasons(found), force=force)
        yield Mended(accord.name, str(path), *state)


def _largest(line: AdjustedLine) -> tuple[bool, float, str]:
    """What was over or gone first, by how much of it went; then what is new."""
    return line.before <= 0, line.after / line.before if line.before > 0 else 0.0, line.material


def worst_first(mended: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Entries of ``screen``: those without a copy, then by falling loss of likeness."""
    return sorted(mended, key=lambda one: (one["file"] is not None, one["match"] or 0.0, one["accord"]))


def with_reasons(found: Adjusted) -> str:
    """The new accord as CSV, with a column ``why``."""
    return write_accord(found.formula(), {"why": [line.why for line in found.lines if line.after > 0]})
