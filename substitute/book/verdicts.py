"""Verdicts as rows of ``verdicts.csv``, read back and checked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..tables.rows import Row, shorten
from .records import AMOUNTS, DEGREES, KINDS, NEARNESS, PLUS, Verdict

MOST_GRAMS = 1e6
LONGEST_WORDS = 2000


def read_verdicts(rows: Iterable[Row]) -> tuple[Verdict, ...]:
    """Every verdict, those taken back included, by id. Raises :class:`~substitute.errors.TableError` for a
    row that makes no sense."""
    found: dict[int, Verdict] = {}
    for row in rows:
        one = _verdict(row)
        if one.id in found:
            raise row.fault("id", f"{one.id} stands twice; every verdict has a number of its own")
        found[one.id] = one
    return tuple(found[id] for id in sorted(found))


def _verdict(row: Row) -> Verdict:
    id = row.figure("id", low=1, high=1e9)
    if id is None or id != int(id):
        raise row.fault("id", f"'{shorten(row.text('id'))}' is no whole number from 1 on")
    kind = row.choice("kind", KINDS, "")
    about, line = row.text("about").strip(), row.text("line").strip()
    if not kind or not about:
        raise row.fault("about" if kind else "kind", "is empty and must not be")
    if kind != "accord" and not line:
        raise row.fault("line", "is empty; the material that was judged is wanted")
    if kind == "blend":
        _check_blend(row, line)
    trial = row.figure("trial", low=1, high=1e6)
    return Verdict(
        int(id),
        row.text("date"),
        kind,
        about,
        line,
        int(trial) if trial is not None else None,
        row.choice("nearness", NEARNESS, ""),
        row.choice("amount", AMOUNTS, ""),
        row.choice("degree", DEGREES, ""),
        _grams(row, "grams_used"),
        _grams(row, "grams_right"),
        row.text("words"),
        row.text("taken_back").strip(),
    )


def _check_blend(row: Row, line: str) -> None:
    """Raise for a blend that is not written ``a:0.5 + b:0.3``."""
    for part in line.split(PLUS):
        id, colon, grams = part.rpartition(":")
        try:
            fine = bool(id and colon) and 0 < float(grams) <= MOST_GRAMS
        except ValueError:
            fine = False
        if not fine:
            raise row.fault(
                "line", f"'{shorten(part)}' is no member of a blend; wanted is the like of a:0.5 + b:0.3"
            )


def _grams(row: Row, column: str) -> float | None:
    value = row.figure(column, low=0.0, high=MOST_GRAMS)
    if value == 0:
        raise row.fault(column, f"0 is out of range: allowed is above 0 to {MOST_GRAMS:,.0f}")
    return value


def verdict_cells(one: Verdict) -> dict[str, Any]:
    """A verdict as cells of ``verdicts.csv``."""
    return {
        "id": one.id,
        "date": one.date,
        "kind": one.kind,
        "about": one.about,
        "line": one.line,
        "trial": one.trial,
        "nearness": one.nearness,
        "amount": one.amount,
        "degree": one.degree,
        "grams_used": one.grams_used,
        "grams_right": one.grams_right,
        "words": one.words,
        "taken_back": one.taken_back,
    }
