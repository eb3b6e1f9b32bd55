"""What a weighing takes from which bottles, what it leaves, and the way back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from ..errors import InputError
from ..figures import given, significant
from ..frozen import frozen
from ..tables.names import plain as alike
from ..tables.rows import Row, shorten
from .records import Bottle, Move

ENOUGH = 1e-9  # relative: weighings this near to what is left take all


@frozen
class Draw:
    """Grams of a material at a strength [%] that a weighing wants; negative for a solution that was made
    and is left over."""

    material: str
    strength: float
    grams: float


@frozen
class Short:
    """A bottle, or all bottles of a material at one strength, that do not hold what is wanted;
    ``others`` are the strengths [%] that there are."""

    material: str
    strength: float
    wanted: float
    held: float
    others: tuple[float, ...] = ()


def allot(bottles: Sequence[Bottle], draws: Iterable[Draw]) -> tuple[list[tuple[Bottle, float]], list[Short]]:
    """(bottle, grams) for all draws, and what is short; the bottle with the least left is emptied first.

    A bottle whose grams are not known gives any amount, and only after the others. What no bottle stands
    for is short by all of it.
    """
    left = {bottle.label: bottle.grams for bottle in bottles}
    taken: list[tuple[Bottle, float]] = []
    short: list[Short] = []
    for draw in draws:
        if draw.grams <= 0:
            continue
        wanted = draw.grams
        mine = [b for b in bottles if b.material == draw.material and b.strength == draw.strength]
        held = sum(left[b.label] or 0.0 for b in mine)
        for bottle in sorted(mine, key=lambda b: (left[b.label] is None, left[b.label] or 0.0)):
            have = left[bottle.label]
            here = wanted if have is None else min(have, wanted)
            if here > 0:
                taken.append((bottle, here))
                wanted -= here
                left[bottle.label] = None if have is None else have - here
        if wanted > ENOUGH * draw.grams:
            others = {b.strength for b in bottles if b.material == draw.material and b.grams != 0}
            kept = tuple(sorted(others - {draw.strength}, reverse=True))
            short.append(Short(draw.material, draw.strength, draw.grams, held, kept))
    return taken, short


def solution_bottle(bottles: Sequence[Bottle], draw: Draw, name: str, date: str) -> tuple[Bottle, bool]:
    """Where a solution that is left over goes: the bottle of that strength, else a new one; whether it is
    new."""
    for bottle in bottles:
        if bottle.material == draw.material and bottle.strength == draw.strength:
            return bottle, False
    held = {alike(bottle.label) for bottle in bottles}  # two labels that read alike are a fault of the file
    label, number = f"{name} {given(draw.strength)}", 2
    while alike(label) in held:
        label, number = f"{name} {given(draw.strength)}, bottle {number}", number + 1
    return Bottle(label, draw.material, draw.strength, 0.0, None, date=date, note="made at the bench"), True


def read_moves(rows: Iterable[Row]) -> tuple[Move, ...]:
    """All that was taken, oldest first."""
    found = []
    for row in rows:
        id = row.figure("id", low=1, high=1e9)
        grams = row.figure("grams")
        if id is None or grams is None:
            raise row.fault("id" if id is None else "grams", "is empty; a number is wanted")
        if not row.text("label"):
            raise row.fault("label", "is empty; the bottle's label is wanted")
        found.append(
            Move(
                int(id),
                row.text("date"),
                row.text("what") or "weighed",
                row.text("accord"),
                row.figure("batch_g", default=0.0) or 0.0,
                row.text("label"),
                row.text("material"),
                row.figure("strength_pct", low=0.0, high=100.0, default=100.0) or 100.0,
                grams,
                row.text("undone"),
            )
        )
    return tuple(found)


def move_cells(one: Move) -> dict[str, Any]:
    """A move as cells of ``moves.csv``."""
    return {
        "id": one.id,
        "date": one.date,
        "what": one.what,
        "accord": one.accord,
        "batch_g": one.batch_g,
        "label": one.label,
        "material": one.material,
        "strength_pct": one.strength,
        "grams": one.grams,
        "undone": one.undone,
    }


def last_move(moves: Sequence[Move]) -> list[Move]:
    """The rows of the newest weighing that was not undone; raises if there is none."""
    open_ids = [move.id for move in moves if not move.undone]
    if not open_ids:
        raise InputError("nothing was taken from the bottles that could be undone")
    return [move for move in moves if move.id == max(open_ids)]


def put_back(bottles: Sequence[Bottle], rows: Sequence[Move]) -> dict[str, Bottle]:
    """Label -> bottle with what ``rows`` took put back.

    Raises :class:`~substitute.errors.InputError` for a bottle that is gone, or whose solution was used up
    meanwhile.
    """
    held = {bottle.label: bottle for bottle in bottles}
    changed: dict[str, Bottle] = {}
    for move in rows:
        bottle = changed.get(move.label) or held.get(move.label)
        if bottle is None:
            raise InputError(
                f"the bottle '{shorten(move.label)}' is not in bottles.csv any more; put its row "
                "back, then undo"
            )
        if bottle.grams is None:
            continue
        grams = significant(bottle.grams + move.grams, 9)
        if grams < -ENOUGH:
            raise InputError(
                f"the solution '{shorten(move.label)}' that this weighing made was used since; "
                "correct its grams in bottles.csv instead"
            )
        changed[move.label] = replace(bottle, grams=max(0.0, grams))
    return changed
