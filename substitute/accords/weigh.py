"""From parts to the balance: which solution of each material to weigh, how much, and what to make first.

What must be right is the mass of each material itself (its active share of the accord). The strength it is
weighed at is free, and the carrier that comes along counts in the total. A weighing is called good from 50
steps of the balance on, where rounding costs at most 1 %. Solutions are made by mass, 10 % from neat, 1 %
from 10 %, 0.1 % from 1 %; the smallest weighings go into the vessel first, because a slip there is mended
by scaling the rest (both: common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from ..errors import InputError
from ..figures import figure, given
from ..records import Accord, Line, Shelf, Tables
from .balance import check_balance, check_number
from .carriers import CARRIER, carrier_for_solutions, is_carrier, named, own_carriers
from .cost import cost_of
from .settle import needs_of, settle, solvent_lines, weighed
from .solutions import GOOD_STEPS, Need, dilutions_for, is_good, strips_for
from .weighing import CAUTIONS, WeighedLine, Weighing, check_sheet

LADDER = (100.0, 10.0, 1.0, 0.1)  # percent by mass; common practice, no source


def weigh(
    accord: Accord,
    tables: Tables,
    *,
    grams: float,
    balance: float = 0.01,
    shelf: Shelf | None = None,
    make_at: Sequence[float] = LADDER,
    stretch: bool = False,
) -> Weighing:
    """A weighing sheet for ``grams`` [g] of the accord, its carrier included, on a balance with steps of
    ``balance`` [g].

    ``shelf`` gives the strengths at hand; ``make_at`` [% by mass] those that may be made (neat is always
    one of them). The accord's own solvents give way first to carrier that comes along with solutions; if
    there is still too much of it, the largest weighings move to stronger solutions and a caution says so.
    ``total_g`` is what the rounded weighings add up to.

    Raises :class:`~substitute.errors.InputError` for grams outside 0 to 100,000, a balance step above a
    tenth of them, a strength outside 0 to 100, and an accord of nothing but solvents.
    """
    grams, step = check_balance(grams, balance)
    needs = needs_of(accord, tables, grams, shelf, _ladder(make_at))
    if not needs:
        raise InputError(
            f"{accord.name}: holds only solvents or lines of 0 parts; at least one material to "
            "smell is wanted"
        )
    own = {id: mass for id, mass in own_carriers(accord, tables, grams).items() if mass > 0}
    roomy = sum(need.mass(need.first_choice(step)) for need in needs)
    if stretch and roomy > grams + step / 2:
        return _stretched(accord, tables, (grams, math.ceil(roomy / step) * step, step), shelf, make_at)
    carrier = carrier_for_solutions(tables, own, shelf)
    moved = settle(needs, grams, step)
    lines = [weighed(need, step) for need in needs]
    solvents, solvent_g, given_way = solvent_lines(needs, own, tables, grams, step, lines)
    dilutions, used = dilutions_for(needs, carrier, step)
    every = _in_turn(accord, lines, solvents)
    total = float(f"{sum(line.grams for line in every) + solvent_g:.12g}")
    cautions = (
        *moved,
        *given_way,
        *_shelf_cautions(accord, needs, own, solvents, used, shelf, tables),
        *_rounded_away(total, grams),
        *_batch_caution(needs, grams, step),
        *CAUTIONS,
    )
    active = sum(line.active_g for line in lines)
    drawn = [(line.id, line.strength_pct, line.grams) for line in every]
    if solvent_g > 0:
        drawn.append((carrier["id"], 100.0, solvent_g))
    return Weighing(
        accord=accord.name,
        balance=step,
        lines=every,
        solvent=carrier,
        solvent_g=solvent_g,
        total_g=total,
        concentrate_pct=100.0 * active / total if total else 0.0,
        strips=strips_for(needs, tables, dilutions),
        dilutions=dilutions,
        check=check_sheet(),
        cautions=cautions,
        cost=cost_of(tables, shelf, drawn),
    )


def _ladder(make_at: Sequence[float]) -> tuple[float, ...]:
    """Strengths that may be made, checked, strongest first; neat is always one of them."""
    made = {check_number("make_at", strength, 0.0, 100.0) for strength in make_at}
    return tuple(sorted({100.0, *made}, reverse=True))


def _in_turn(
    accord: Accord, lines: Sequence[WeighedLine], solvents: Sequence[WeighedLine]
) -> tuple[WeighedLine, ...]:
    """All weighings as the accord lists them, each with its turn on the balance: smallest first, solvents
    last."""
    turns = (*sorted(lines, key=lambda line: line.grams), *solvents)
    order = {line.id: number for number, line in enumerate(turns, 1)}
    place = {id: number for number, id in enumerate(dict.fromkeys(line.material for line in accord.lines))}
    listed = sorted((*lines, *solvents), key=lambda line: place[line.id])
    return tuple(replace(line, order=order[line.id]) for line in listed)


def _stretched(
    accord: Accord,
    tables: Tables,
    batch: tuple[float, float, float],
    shelf: Shelf | None,
    make_at: Sequence[float],
) -> Weighing:
    """The same materials in a batch that has room for the carrier of their solutions; ``batch`` is grams
    asked for, grams wanted, step."""
    grams, roomy, step = batch
    wanted = accord.total * (roomy / grams - 1.0)
    solvent = next((line for line in accord.lines if is_carrier(line.material, tables) and line.parts), None)
    carrier = solvent.material if solvent else carrier_for_solutions(tables, {}, shelf)["id"]
    wider = replace(accord, lines=(*accord.lines, Line(carrier, wanted, optional=True)))
    found = weigh(wider, tables, grams=roomy, balance=step, shelf=shelf, make_at=make_at)
    told = (
        f"It weighs {figure(roomy, 4)} g instead of {grams:g} g, so that your solutions fit; "
        f"at {figure(roomy / grams)} times the dose it is as strong in the product."
    )
    return replace(found, cautions=(told, *found.cautions))


def _shelf_cautions(
    accord: Accord,
    needs: Sequence[Need],
    own: Mapping[str, float],
    solvents: Sequence[WeighedLine],
    used: Mapping[tuple[str, float], float],
    shelf: Shelf | None,
    tables: Tables,
) -> list[str]:
    """What is not weighed, not on the shelf, or not enough of there."""
    said = []
    idle = [
        named(id, tables).name
        for id in dict.fromkeys(line.material for line in accord.lines)
        if not accord.active()[id] > 0
    ]
    if idle:
        said.append(f"Not weighed, 0 parts: {'; '.join(idle)}.")
    if shelf is None:
        return said
    absent = [need.material.name for need in needs if need.absent]
    absent += [named(id, tables).name for id in own if id != CARRIER and id not in shelf.materials()]
    if absent:
        said.append(f"Not on the shelf: {'; '.join(absent)}.")
    drawn = {**used, **{(line.id, 100.0): line.grams for line in solvents}}
    for (id, strength), wanted in drawn.items():
        stock = [item.grams for item in shelf.stock if item.material == id and item.strength == strength]
        held = sum(grams for grams in stock if grams is not None)
        if stock and None not in stock and held < wanted * (1 - 1e-9):
            said.append(
                f"{named(id, tables).name} at {given(strength)}: {figure(wanted, 4)} g are wanted, the "
                f"shelf holds {held:g} g."
            )
    return said


def _rounded_away(total: float, grams: float) -> list[str]:
    if abs(total - grams) <= 1e-9 * grams:
        return []
    return [f"Rounded to the balance, the weighings add up to {total:g} g and not {grams:g} g."]


def _batch_caution(needs: list[Need], grams: float, step: float) -> list[str]:
    """Which weighings the balance cannot follow well, and the batch in which it would."""
    poor = [need for need in needs if not is_good(need.mass(), step)]
    if not poor:
        return []
    names = "; ".join(need.material.name for need in poor)
    enough = grams * max(GOOD_STEPS * step / need.mass() for need in poor)
    tenth = 10.0 ** (math.floor(math.log10(enough)) - 1)
    return [
        f"Poor weighings (under {GOOD_STEPS} steps of the balance): {names}. At these strengths a batch of "
        f"{math.ceil(enough / tenth) * tenth:,.10g} g would make all of them good; so would a balance of "
        "finer steps."
    ]
