"""Which of many accords break a limit, what a new set changes, what was mended, as sections."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from ..figures import figure, percent
from . import words
from .csv import streamed
from .sections import Answer, Cell, Column, Said, Section, listing, table, text

BREACHES = (
    Column("accord"),
    Column("substance"),
    Column("limit_set", "set", form="word", drop=1),
    Column("limit_pct", "limit", "%", form="percent"),
    Column("found_pct", "found", "%", form="percent"),
    Column("times", "times the limit", form="figure", drop=2),
    Column("limit_words", "note", form="note"),
    Column("rule", form="word", where="data"),
    Column("category", form="word", where="data"),
)
LIMITS = (
    Column("substance"),
    Column("old_limit_pct", "old", "%", form="percent"),
    Column("limit_pct", "new", "%", form="percent"),
    *(Column(key, name, form="count") for key, name in words.CHANGES.items()),
)
CHANGES = (
    Column("accord"),
    Column("substance"),
    Column("change", form="text"),
    Column("old_limit_pct", "old", "%", form="figure"),
    Column("limit_pct", "new", "%", form="figure"),
    Column("found_pct", "found", "%", form="figure"),
    Column("times", "times the limit", form="figure", drop=1),
)
MENDED = (
    Column("accord"),
    Column("file", form="text"),
    Column("match", form="ratio"),
    Column("moved", "what moved", where="paper"),
    Column("stuck", "what stands in the way", where="paper"),
)
UNKNOWN = (
    Column("substance"),
    Column("limit_set", "set", form="word", drop=1),
    Column("accords", form="count"),
    Column("why", form="note"),
)
REJECTED = (Column("accord"), Column("message", "what is wrong"))
MOST = 5000  # rows of a part; a workbook or page with more is of no use to a reader
FEW = 8  # rows of what is not known, on a terminal


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``screen`` as an answer."""
    counted = words.count(answer["accords"], "accord")
    told = f"{counted} {words.where(answer)}: {answer['broken']:,} break a limit"
    rejected = answer["rejected"]
    more = f"; {len(rejected):,} could not be read" if rejected else ""
    sets = ", ".join(answer["limit_sets"]) or "no set of limits"
    sections = [
        text(f"Held against {sets}."),
        _breaches(answer),
        *(_since(answer) if answer.get("since") else ()),
        *(_mended(answer["mended"]) if answer.get("mended") is not None else ()),
        *_unknown(answer["unknown"]),
        table("Rejected", REJECTED, ((one["accord"], one["message"]) for one in rejected[:MOST])),
    ]
    return Answer(
        "screen",
        "Accords against limits",
        f"{told}{more}.",
        tuple(sections),
        tuple(answer["notes"]),
        tuple(answer["cautions"]),
        "bad" if answer["broken"] else "",
    )


def _times(value: float | None) -> Cell:
    return Said(None, "none allowed") if value is None else value


def _breaches(answer: Mapping[str, Any]) -> Section:
    rows = map(_breach, answer["breaches"][:MOST])
    notes = [
        "Percent by mass of the finished product; a grade in percent of the material, a sum of fractions of "
        "the members' own limits."
    ]
    return table("What breaks", BREACHES, rows, notes, of=answer["breach_count"])


def _found(one: Mapping[str, Any]) -> Cell:
    """Percent of the product; a sum of fractions is told as such."""
    if one["found_pct"] is None and one["times"] is not None:
        return Said(None, f"sum {figure(one['times'])}")
    return Said(one["found_pct"], figure(one["found_pct"]))


def _breach(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    return (
        one["accord"],
        words.named(one),
        one["limit_set"],
        words.limit(one["limit_pct"], one),
        _found(one),
        _times(one["times"]),
        words.limit_note(one),
        one["rule"],
        one["category"],
    )


def breaches_csv(breaches: Iterable[Mapping[str, Any]], *, raw: bool = False) -> Iterator[str]:
    """All breaches as CSV text, piece by piece."""
    return streamed(table("What breaks", BREACHES, ()), map(_breach, breaches), raw=raw)


def _stated(value: float | None, stated: bool) -> Cell:
    if value is None:
        return Said(None, "no figure" if stated else "no rule")
    return words.limit(value)


def _since(answer: Mapping[str, Any]) -> Iterable[Section]:
    """What the new set changes, limit by limit and then accord by accord."""
    changed = answer["changed_limits"]
    matter = [row for row in changed if any(row[kind] for kind in words.CHANGES)]
    rows = [
        (
            words.named(row),
            _stated(row["old_limit_pct"], row["old_stated"]),
            _stated(row["limit_pct"], row["stated"]),
            *(row[kind] or None for kind in words.CHANGES),
        )
        for row in matter[:MOST]
    ]
    title = (
        f"Changes since {answer['since']}: {words.count(len(changed), 'limit differs', 'limits differ')}, "
        f"{len(matter)} of them matter here"
    )
    note = "Numbers of accords, by what the change does to them."
    yield table(title, LIMITS, rows, [note] if rows else [])
    cells = [
        (
            one["accord"],
            words.named(one),
            Said(one["change"], words.CHANGES.get(one["change"], one["change"])),
            one["old_limit_pct"],
            one["limit_pct"],
            one["found_pct"],
            one["times"],
        )
        for one in answer["changes"][:MOST]
    ]
    count = sum(row[kind] for row in changed for kind in words.CHANGES)
    yield table("What that does to each accord", CHANGES, cells, of=count)


def _mended(rows: list[Mapping[str, Any]]) -> Iterable[Section]:
    done = [row for row in rows if row["file"]]
    note = "Match: likeness to the old accord, 0 to 1; arithmetic, to be smelled before it is trusted."
    cells = [
        (
            row["accord"],
            Said(row["file"], Path(row["file"]).name if row["file"] else ""),
            row["match"],
            _moved(row["changed"]) if row["file"] else "",
            _stuck(row),
        )
        for row in rows[:MOST]
    ]
    yield table(f"Mended {len(done)} of {len(rows)}", MENDED, cells, [note], of=len(rows))
    stuck = [f"{row['accord']}: {_stuck(row)}" for row in rows if not row["file"]]
    yield listing("Not mended", stuck, where="terminal")


def _moved(changed: Iterable[Mapping[str, Any]]) -> str:
    return "; ".join(
        f"{line['id']} {figure(line['parts_before'], 4)} to {figure(line['parts_after'], 4)}"
        for line in changed
    )


def _stuck(row: Mapping[str, Any]) -> str:
    if row["file"]:
        return ""
    told = [row["message"]]
    if row["wall"]:
        told.append(f"in the way: {words.wall(row['wall'])}")
    most = row["dose_within_known_pct"]
    if most:
        told.append(f"as it is, within the known limits up to {percent(most, 4)}")
    return "; ".join(told)


def _unknown(unknown: Mapping[str, Any]) -> Iterable[Section]:
    if not unknown["accords"]:
        return
    rows = unknown["by_substance"]
    cells = [(words.named(one), one["limit_set"], one["accords"], one["why"]) for one in rows[:MOST]]
    told = (
        f"Not known, which is no clearance, in {words.count(unknown['accords'], 'accord')}; "
        f"{unknown['of_these_unbroken']:,} of them break nothing by the figures on file"
    )
    yield table(told, UNKNOWN, cells[:FEW], of=len(rows), where="terminal")
    yield table("Not known", UNKNOWN, cells, [f"{told}."], of=len(rows), where="paper")
