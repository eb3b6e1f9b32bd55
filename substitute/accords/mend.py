"""Broken accords mended: an adjusted copy of each with its reasons, and the sheets that tell a portfolio's state to others."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..errors import InputError
from ..records import Accord
from ..tables.files import write_whole
from ..tables.formulas import write_accord
from .adjusted import Adjusted
from .sheets import Sheet, write_sheets

NOT_IN_FILES = re.compile(r"[^\w .,()+&'-]+")
SUMMARIES = (".md", ".xlsx", ".html")
MOST_ROWS = 5000  # of a sheet; a workbook or page with more is of no use to a reader
CHANGE_WORDS = {
    "newly_broken": "newly broken",
    "newly_fine": "newly fine",
    "newly_unknown": "newly unknown",
    "tighter": "tighter",
    "looser": "looser",
}


@dataclass(frozen=True)
class Mended:
    """A broken accord's adjusted copy, or why there is none: the limit in the way (``wall``) or a ``message``.

    ``match`` is the overall likeness to the old accord (0 to 1); ``changed`` the lines that moved, as (material, parts before, parts
    after, why); ``dose_within_known_pct`` the highest dose of the accord as it is.
    """

    accord: str
    file: str | None
    match: float | None
    changed: tuple[tuple[str, float, float, str], ...] = ()
    wall: dict | None = None
    dose_within_known_pct: float | None = None
    message: str = ""

    def to_dict(self) -> dict:
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


def check_folder(folder, portfolio, accords: Iterable[str], *, force: bool = False) -> dict[str, Path]:
    """Where each mended accord goes; makes the folder.

    Raises :class:`~substitute.errors.InputError`, before anything is written, if the folder is the portfolio itself or a file there
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
        raise InputError(f"{there[0]}: exists already{more}; another folder, or --force to write over it")
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
    """Each accord adjusted and written with the column ``why``; nothing is written for one that cannot be made legal."""
    for accord in accords:
        try:
            found = adjust(accord)
        except InputError as error:
            yield Mended(accord.name, None, None, message=str(error))
            continue
        changed = tuple((line.material, line.before, line.after, line.why) for line in found.changed)
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


def with_reasons(found: Adjusted) -> str:
    """The new accord as CSV, with a column ``why``."""
    return write_accord(found.formula(), {"why": [line.why for line in found.lines if line.after > 0]})


def check_summary(path, *, force: bool = False) -> None:
    """Raises :class:`~substitute.errors.InputError` for a summary that could not be written in the end."""
    path = Path(path)
    if path.suffix.lower() not in SUMMARIES:
        raise InputError(f"{path}: '{path.suffix}' is not a kind of summary: one of {', '.join(SUMMARIES)}")
    if path.exists() and not force:
        raise InputError(f"{path}: exists already; another name, or --force to write over it")
    if not path.parent.is_dir():
        raise InputError(f"{path.parent}: there is no such folder")


def write_summary(path, screening, *, force: bool = False) -> Path:
    """A portfolio's state to send on, as Markdown, workbook or a page to print. Raises as :func:`check_summary`."""
    check_summary(path, force=force)
    answer = screening.to_dict(MOST_ROWS)
    sheets, cautions = screening_sheets(answer), answer["cautions"]
    if Path(path).suffix.lower() == ".md":
        sheets.append(Sheet("Cautions", ("what these figures cannot say",), [(text,) for text in cautions]))
    return write_sheets(path, "Portfolio against limits", sheets, cautions, force=force)


def screening_sheets(answer: Mapping) -> list[Sheet]:
    """What breaks, by how much, what changed, what was mended, what is not known: from the JSON of ``screen``."""
    columns = ("accord", "substance", "set", "limit [%]", "found [%]", "times the limit")
    rows = [
        (
            b["accord"],
            b["substance"],
            b["limit_set"],
            b["limit_pct"],
            b["found_pct"],
            b["times"] if b["times"] is not None else "not allowed at all",
        )
        for b in answer["breaches"]
    ]
    where = answer["product"] or f"category {answer['category']}"
    notes = [
        f"{answer['accords']} accords at {answer['dose_pct']:g} % in {where}: {answer['broken']} break a limit.",
        f"Held against {', '.join(answer['limit_sets']) or 'no set of limits'}.",
        "Percent by mass of the finished product; a grade in percent of the material, a sum of fractions of the members' own limits.",
        *answer["notes"],
    ]
    found = [_sheet("What breaks", columns, rows, notes, answer["breach_count"])]
    if answer.get("since"):
        columns = ("substance", "old limit [%]", "new limit [%]", *CHANGE_WORDS.values())
        rows = [
            (
                r["substance"],
                _limit(r["old_limit_pct"], r["old_stated"]),
                _limit(r["limit_pct"], r["stated"]),
                *(r[kind] for kind in CHANGE_WORDS),
            )
            for r in answer["changed_limits"]
        ]
        found.append(
            _sheet(
                f"Limits that change since {answer['since']}",
                columns,
                rows,
                ["Numbers of accords by what the change does to them."],
            )
        )
        columns = (
            "accord",
            "substance",
            "change",
            "old limit [%]",
            "new limit [%]",
            "found [%]",
            "times the limit",
        )
        rows = [
            (
                c["accord"],
                c["substance"],
                CHANGE_WORDS[c["change"]],
                c["old_limit_pct"],
                c["limit_pct"],
                c["found_pct"],
                c["times"],
            )
            for c in answer["changes"]
        ]
        found.append(
            _sheet(
                "What that does to each accord",
                columns,
                rows,
                [],
                sum(sum(r[kind] for kind in CHANGE_WORDS) for r in answer["changed_limits"]),
            )
        )
    if answer.get("mended") is not None:
        columns = ("accord", "file", "match", "what moved", "what stands in the way")
        rows = [
            (
                m["accord"],
                Path(m["file"]).name if m["file"] else "",
                m["match"],
                _moved(m["changed"]) if m["file"] else "",
                _stuck(m),
            )
            for m in answer["mended"]
        ]
        found.append(
            _sheet(
                "Mended copies",
                columns,
                rows,
                [
                    "Match: likeness to the old accord, 0 to 1; arithmetic, to be smelled before it is trusted."
                ],
                decimals={"match": 2},
            )
        )
    unknown = answer["unknown"]
    rows = [(u["name"], u["limit_set"], u["accords"], u["why"]) for u in unknown["by_substance"]]
    note = (
        f"Unknown is neither fine nor broken. It concerns {unknown['accords']} accords, {unknown['of_these_unbroken']} of which break "
        "nothing by the figures on file: that is no clearance."
    )
    found.append(_sheet("Not known", ("substance", "set", "accords", "why"), rows, [note]))
    if answer["rejected"]:
        found.append(
            _sheet(
                "Rejected",
                ("accord", "what is wrong"),
                [(r["accord"], r["message"]) for r in answer["rejected"]],
                ["Not looked at; everything else was."],
            )
        )
    return found


def _sheet(title: str, columns, rows, notes, count: int | None = None, decimals=None) -> Sheet:
    rows, count = list(rows), count if count is not None else len(rows)
    if len(rows) > MOST_ROWS or count > len(rows):
        rows = rows[:MOST_ROWS]
        notes = [*notes, f"The first {len(rows):,} of {count:,}; the JSON holds all."]
    return Sheet(title, columns, rows, notes, decimals or {})


def _limit(value, stated: bool):
    return value if value is not None else "no figure: unknown" if stated else "no rule"


def _moved(changed) -> str:
    return "; ".join(
        f"{line['id']} {line['parts_before']:.4g} to {line['parts_after']:.4g}" for line in changed
    )


def _stuck(entry: Mapping) -> str:
    if entry["file"]:
        return ""
    wall = f"; the wall: {entry['wall']['name']} ({entry['wall']['limit_set']})" if entry["wall"] else ""
    dose = (
        f"; as it is, up to {entry['dose_within_known_pct']:.4g} %" if entry["dose_within_known_pct"] else ""
    )
    return f"{entry['message']}{wall}{dose}"
