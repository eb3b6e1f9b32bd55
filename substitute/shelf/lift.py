"""What helps an accord carry: first which core line carries weakly and why, then what lifts that one, and
how little of it.

Who is asked (:mod:`.lift_asked`): what practice names for the line's own smell (``lifts.csv``); what smells
of much of it and lasts to the stage that needs it; and materials that air and soften, the ones a perfumer
calls radiant. How much of each is tried says :mod:`.lift_trial`. Of near twins only the better is told.

Not modelled: how far a material spreads in a room, which is what a lift is for. So no large gain of
strength is promised.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import InputError
from ..records import Accord, Shelf, Tables
from ..rules.cautions import of_accord
from ..rules.situation import Situation
from ..standins.bench import Bench
from ..standins.candidates import smellable
from .coverage import judged_lines
from .lift_trial import LiftTrial
from .lift_words import strips_to_try
from .lifted import Lift, LiftAnswer
from .voices import core_of, voices

TRACE_PCT = 2.0  # practice that stays under this percent is a trace
TWINS = 0.8  # likeness in the space from which two suggestions say the same


def lift(
    bench: Bench,
    accord: Accord,
    *,
    shelf: Shelf | None = None,
    top: int = 3,
    situation: Situation,
) -> LiftAnswer:
    """Up to ``top`` lifts for the weakest core line of ``accord``, best first.

    From the ``shelf`` only, if one is given; nothing that is forbidden in the situation, no more of
    anything than its known limits let through. Raises :class:`~substitute.errors.InputError` for an
    accord in which nothing smells.
    """
    tables = bench.tables
    held = judged_lines(tables, accord)
    if not held:
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to lift"
        )
    core, notes = core_of(accord, held)
    lines = voices(bench, held, core)
    lines = tuple(
        sorted(lines, key=lambda one: bool(situation.forbidden(one.material)))
    )  # what may not be there is not lifted
    trial = LiftTrial(bench, accord, held, lines[0], situation)
    on_shelf = set(shelf.materials()) if shelf else None
    asked = [
        name
        for name in smellable(tables)
        if name not in core
        and not situation.forbidden(name)
        and (name in on_shelf if on_shelf is not None else not situation.status(name))
    ]
    tried = sorted(filter(None, map(trial.best, asked)), key=lambda item: (-item[0], item[1].material))
    chosen = _told(bench, [one for _, one in tried], top)
    if not chosen:
        where = "on the shelf " if shelf else ""
        name = tables.materials[lines[0].material].name
        notes.append(f"nothing {where}lifts {name} and leaves the accord what it is")
    return LiftAnswer(
        accord.name,
        lines,
        chosen,
        tuple(strips_to_try(tables, lines[0], chosen)),
        tuple(notes),
        tables,
        of_accord(situation, [*held, *(one.material for one in chosen)]),
    )


def _told(bench: Bench, found: Sequence[Lift], top: int) -> tuple[Lift, ...]:
    """The best without near twins; the last place goes to a trace of a natural, where practice names one
    that is left out."""
    row, like = bench.space.row, bench.space.like
    chosen: list[Lift] = []
    for one in found:
        if len(chosen) < top and all(like(one.material)[row[other.material]] < TWINS for other in chosen):
            chosen.append(one)
    naturals = [one for one in found if _is_trace(bench.tables, one)]
    if naturals and len(chosen) == top > 1 and not any(_is_trace(bench.tables, one) for one in chosen):
        chosen[-1] = naturals[0]
    return tuple(chosen)


def _is_trace(tables: Tables, one: Lift) -> bool:
    row = one.practice
    return row is not None and row.high_pct <= TRACE_PCT and tables.materials[one.material].kind == "natural"
