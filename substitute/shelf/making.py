"""Accords adjusted to a shelf for real, before and after buying."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from ..accords.adjusted import Adjusted
from ..frozen import frozen
from ..records import Accord, Shelf, Tables
from .choice import Progress
from .coverage import Array, Coverage, CoverLine
from .parallel import each
from .planned import Made

MOVED = 0.02  # an accord whose value rises by less is not adjusted again after buying: it is made as before
_NOWHERE = cast(Tables, None)
Adjust = Callable[[Accord, Shelf], Adjusted]


@frozen
class Benchwork:
    """How an accord is adjusted for real: ``adjusted(accord, shelf)`` does it, ``command(accord)`` is the
    text of the command that does the same, ``progress`` hears how far the work is."""

    adjusted: Adjust
    command: Callable[[str], str | None] = lambda _: None
    progress: Progress | None = None


def made_for_real(
    model: Coverage,
    accords: Sequence[Accord],
    start: Shelf,
    after: Shelf,
    new: bool,
    work: Benchwork,
    tables: Tables,
) -> tuple[list[Made], tuple[float, float]]:
    """Every accord adjusted for real, before and after buying, and the mean matches.

    A fuller shelf can still make what the old one made.
    """
    first = after if new else start
    before, then = model.by_accord(first.materials()), model.by_accord(after.materials())
    again = [] if first is after else [i for i in range(len(accords)) if then[i] >= before[i] + MOVED]
    jobs = [(i, first) for i in range(len(accords))] + [(i, after) for i in again]
    answers = _adjust_all(model, accords, jobs, work, tables)
    told = (lambda _: None) if new else work.command
    makes = _makes(model, accords, first, answers[: len(accords)], before, told, tables)
    if new:
        return makes, (0.0, _mean(m.match for m in makes))
    mean = _mean(m.match for m in makes)
    if len(after.stock) == len(start.stock):
        return makes, (mean, mean)
    better = dict(zip(again, answers[len(accords) :]))
    makes = [
        replace(made, match_after=max(made.match, _match(better.get(i))), surrogate_after=float(then[i]))
        for i, made in enumerate(makes)
    ]
    return makes, (mean, _mean(m.match_after or 0.0 for m in makes))


def _adjust_all(
    model: Coverage,
    accords: Sequence[Accord],
    jobs: Sequence[tuple[int, Shelf]],
    work: Benchwork,
    tables: Tables,
) -> list[Adjusted | None]:
    """The accord of each job adjusted to its shelf; ``None`` where the shelf has nothing for any of its
    lines."""
    carried = {
        id(shelf): {line.accord for line, by, _ in model.assigned(shelf.materials()) if by}
        for shelf in {id(shelf): shelf for _, shelf in jobs}.values()
    }

    def adjust(job: tuple[int, Shelf]) -> Adjusted | None:
        place, shelf = job
        if place not in carried[id(shelf)]:
            return None
        with np.errstate(invalid="ignore", divide="ignore"):  # a trial formula of nothing has no shares
            found = work.adjusted(accords[place], shelf)
        return replace(found, tables=_NOWHERE)  # the tables are here already: they need not come back

    answers: list[Adjusted | None] = []
    for found in each(adjust, jobs):
        answers.append(found and replace(found, tables=tables))
        if work.progress:
            work.progress(len(answers), len(jobs), "adjusting accords")
    return answers


def _makes(
    model: Coverage,
    accords: Sequence[Accord],
    shelf: Shelf,
    answers: Sequence[Adjusted | None],
    values: Array,
    command: Callable[[str], str | None],
    tables: Tables,
) -> list[Made]:
    held = shelf.materials()
    assigned: dict[int, list[tuple[CoverLine, str | None]]] = {}
    for line, by, _ in model.assigned(held):
        assigned.setdefault(line.accord, []).append((line, by))
    found = []
    for place, (accord, answer) in enumerate(zip(accords, answers)):
        lacks = tuple(
            name
            for name, grams in accord.active().items()
            if grams > 0 and name not in held and tables.materials[name].kind != "solvent"
        )
        out = tuple(line.material for line, by in assigned.get(place, []) if by is None)
        news = (
            tuple(line.material for line in answer.lines if line.is_new and line.after > 0) if answer else ()
        )
        stages = answer.match.stages if answer else (None, None, None)
        value, told = float(values[place]), command(accord.name)
        found.append(Made(accord.name, _match(answer), stages, value, lacks, news, out, answer, told))
    return found


def _match(answer: Adjusted | None) -> float:
    return float(np.clip(answer.match.overall, 0.0, 1.0)) if answer else 0.0


def _mean(values: Iterable[float]) -> float:
    values = list(values)
    return float(sum(values) / len(values)) if values else 0.0
