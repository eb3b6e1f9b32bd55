"""From parts to the balance: which solution of each material to weigh, how much, and what to make first.

What must be right is the mass of each material itself (its active share of the accord). The strength it is
weighed at is free, and the carrier that comes along counts in the total. A weighing is called good from 50
steps of the balance on, where rounding costs at most 1 %. Solutions are made by mass, 10 % from neat, 1 %
from 10 %, 0.1 % from 1 %; the smallest weighings go into the vessel first, because a slip there is mended
by scaling the rest (both: common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..errors import InputError
from ..records import Accord, Line, Material, Shelf, Tables
from .cost import cost_of
from .solutions import GOOD_STEPS, HOPELESS_STEPS, Need, dilutions_for, is_good, steps_of, strips_for, to_step
from .weighing import CAUTIONS, WeighedLine, Weighing, check_sheet

MOST_GRAMS = 100_000.0
LADDER = (100.0, 10.0, 1.0, 0.1)  # percent by mass; common practice, no source
CARRIER = "carrier"  # the line that stands for any solvent
CARRIERS = ("ethanol", "dipropylene-glycol")  # preferred for solutions, in this order
NOT_FOR_SOLUTIONS = frozenset({"water", "glycerin", CARRIER})  # most materials do not dissolve in them


def check_number(name: str, value: Any, low: float, high: float) -> float:
    """``value`` as a finite number above ``low`` and up to ``high``; raises
    :class:`~substitute.errors.InputError` with that range."""
    allowed = f"allowed is above {low:g} up to {high:,.10g}"
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise InputError(f"{name}: '{value}' is not a number: {allowed}") from None
    if not math.isfinite(number) or not low < number <= high:
        raise InputError(f"{name}: {number:g} is out of range: {allowed}")
    return number


def check_balance(grams: Any, balance: Any) -> tuple[float, float]:
    """Batch and balance step in grams, both checked; the step is at most a tenth of the batch."""
    grams = check_number("grams", grams, 0.0, MOST_GRAMS)
    return grams, check_number("balance", balance, 0.0, grams / 10.0)


def is_carrier(id: str, tables: Tables | None) -> bool:
    """Whether a line is a solvent, or the line ``carrier`` that stands for any."""
    material = tables.materials.get(id) if tables else None
    return id == CARRIER or (material is not None and material.kind == "solvent")


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
    ladder = tuple(
        sorted(
            {100.0, *(check_number("make_at", strength, 0.0, 100.0) for strength in make_at)}, reverse=True
        )
    )
    needs = _needs(accord, tables, grams, shelf, ladder)
    if not needs:
        raise InputError(
            f"{accord.name}: holds only solvents or lines of 0 parts; at least one material to "
            "smell is wanted"
        )
    own = {id: mass for id, mass in _own_carriers(accord, tables, grams).items() if mass > 0}
    roomy = sum(need.mass(need.first_choice(step)) for need in needs)
    if stretch and roomy > grams + step / 2:
        return _stretched(accord, tables, (grams, math.ceil(roomy / step) * step, step), shelf, make_at)
    carrier = _carrier_for_solutions(tables, own, shelf)
    cautions = _settle(needs, grams, step)
    lines = [_weighed(need, step) for need in needs]
    carrier_lines, solvent_g, said = _carrier_lines(needs, own, tables, grams, step, lines)
    dilutions, used = dilutions_for(needs, carrier, step)
    cautions += said + _shelf_cautions(accord, needs, own, carrier_lines, used, shelf, tables)
    order = {
        line.id: number
        for number, line in enumerate((*sorted(lines, key=lambda line: line.grams), *carrier_lines), 1)
    }
    every = tuple(
        replace(line, order=order[line.id]) for line in sorted((*lines, *carrier_lines), key=_place(accord))
    )
    total = float(f"{sum(line.grams for line in every) + solvent_g:.12g}")
    if abs(total - grams) > 1e-9 * grams:
        cautions.append(f"Rounded to the balance, the weighings add up to {total:g} g and not {grams:g} g.")
    cautions += _batch_caution(needs, grams, step)
    active = sum(line.active_g for line in lines)
    drawn = [(line.id, line.strength_pct, line.grams) for line in every]
    if solvent_g > 0:
        drawn.append((carrier["id"], 100.0, solvent_g))
    return Weighing(
        accord.name, step, every, carrier, solvent_g, total, 100.0 * active / total if total else 0.0,
        strips_for(needs, tables, dilutions), dilutions, check_sheet(), (*cautions, *CAUTIONS),
        cost_of(tables, shelf, drawn),
    )  # fmt: skip


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
    carrier = solvent.material if solvent else _carrier_for_solutions(tables, {}, shelf)["id"]
    wider = replace(accord, lines=(*accord.lines, Line(carrier, wanted, optional=True)))
    found = weigh(wider, tables, grams=roomy, balance=step, shelf=shelf, make_at=make_at)
    told = (
        f"It weighs {roomy:.4g} g instead of {grams:g} g, so that your solutions fit; "
        f"at {roomy / grams:.3g} times the dose it is as strong in the product."
    )
    return replace(found, cautions=(told, *found.cautions))


def _place(accord: Accord) -> Callable[[WeighedLine], int]:
    first: dict[str, int] = {}
    for number, line in enumerate(accord.lines):
        first.setdefault(line.material, number)
    return lambda line: first[line.id]


def _material(id: str, tables: Tables) -> Material:
    return tables.materials.get(id) or Material(
        id, id.replace("-", " "), "solvent" if id == CARRIER else "mixture"
    )


def _needs(
    accord: Accord, tables: Tables, grams: float, shelf: Shelf | None, ladder: tuple[float, ...]
) -> list[Need]:
    traces = {line.material for line in accord.lines if line.role == "trace"}
    needs = []
    for id, active in accord.active().items():
        if active > 0 and not is_carrier(id, tables):
            have = shelf.strengths(id) if shelf else ()
            absent = shelf is not None and not have
            needs.append(
                Need(_material(id, tables), active / accord.total * grams, id in traces, have, ladder, absent)
            )
    return needs


def _own_carriers(accord: Accord, tables: Tables, grams: float) -> dict[str, float]:
    """Grams of each solvent that the accord itself lists."""
    own: dict[str, float] = {}
    for line in accord.lines:
        if is_carrier(line.material, tables):
            own[line.material] = own.get(line.material, 0.0) + line.parts / accord.total * grams
    return own


def _carrier_for_solutions(tables: Tables, own: dict[str, float], shelf: Shelf | None) -> dict[str, str]:
    """The solvent for solutions: the accord's own, then the usual two, then any on the shelf; with a shelf,
    one that stands there."""
    on_shelf = [id for id in shelf.materials() if is_carrier(id, tables)] if shelf else []
    wanted = [*sorted(own, key=lambda id: -own[id]), *CARRIERS, *on_shelf]
    usable = [id for id in wanted if id not in NOT_FOR_SOLUTIONS]
    return _material(next((id for id in usable if id in on_shelf), usable[0]), tables).brief()


def _settle(needs: list[Need], grams: float, step: float) -> list[str]:
    """Choose a strength for every need so that all weighings fit into ``grams`` to half a step; says what
    had to move.

    In turn with what can be had today, with as few stronger bottles as will do besides, and with any: the
    first plan without a hopeless weighing, else the least bad of them.
    """
    room = grams + step / 2
    first = [need.first_choice(step) for need in needs]
    today, any_bottle = [need.options for need in needs], [(*need.stronger, *need.options) for need in needs]
    plans: list[tuple[int, int, list[float]]] = []
    for stages in ((today,), (today, any_bottle), (any_bottle,)):
        if _fit(needs, first, stages, room):
            worst = min(steps_of(need.mass(), step) for need in needs)
            plans.append((min(worst, HOPELESS_STEPS), -len(plans), [need.at for need in needs]))
            if worst >= HOPELESS_STEPS:
                break
    for need, strength in zip(needs, max(plans)[2]):
        need.at = strength
    moved = [(need, strength) for need, strength in zip(needs, first) if need.at != strength]
    stronger = [
        f"{need.material.name} at {need.at:g} % instead of {strength:g} %"
        for need, strength in moved
        if need.at in need.options
    ]
    beyond = [
        f"{need.material.name} at {need.at:g} % (it holds {need.have[0]:g} %)"
        for need, _ in moved
        if need.at in need.stronger
    ]
    said = (
        [f"Too much carrier for the batch, so weighed stronger: {'; '.join(stronger)}."] if stronger else []
    )
    if beyond:
        said.append(
            f"Too much carrier for the batch, stronger than on the shelf are wanted: {'; '.join(beyond)}."
        )
    roomy = sum(need.mass(strength) for need, strength in zip(needs, first))
    if moved and all(is_good(need.mass(strength), step) for need, strength in zip(needs, first)):
        said.append(
            f"With the same materials in {roomy:,.4g} g instead of {grams:g} g, the rest carrier, "
            "every weighing would be good."
        )
    return said


def _fit(
    needs: list[Need], first: list[float], stages: Sequence[Sequence[tuple[float, ...]]], room: float
) -> bool:
    """Move the largest weighings to stronger solutions until all fit, then give back what fits after all;
    whether they fit."""
    for need, strength in zip(needs, first):
        need.at = strength
    for choices in stages:
        while sum(need.mass() for need in needs) > room:
            movable = [(need.mass(), i) for i, need in enumerate(needs) if choices[i][0] > need.at]
            if not movable:
                break
            i = max(movable)[1]
            needs[i].at = min(strength for strength in choices[i] if strength > needs[i].at)
    # back first from bottles that are not there, then from the worst weighings
    for i in sorted(range(len(needs)), key=lambda i: (needs[i].at not in needs[i].stronger, needs[i].mass())):
        rest = sum(need.mass() for need in needs) - needs[i].mass()
        weaker = (strength for strength in reversed(choices[i]) if first[i] <= strength < needs[i].at)
        needs[i].at = next(
            (strength for strength in weaker if rest + needs[i].mass(strength) <= room), needs[i].at
        )
    return sum(need.mass() for need in needs) <= room


def _weighed(need: Need, step: float) -> WeighedLine:
    mass = need.mass()
    shown = to_step(mass, step)
    error = 100.0 * (shown / mass - 1.0)
    warn = ""
    if shown == 0:
        warn = f"under half a step of the balance ({mass:.2g} g): cannot be weighed in this batch"
    elif not is_good(mass, step):
        count = steps_of(mass, step)
        warn = f"only {count} steps (good: {GOOD_STEPS}), up to {50 / count:.2g} % off"
    return WeighedLine(
        need.material.id,
        need.material.name,
        need.material.main_cas,
        need.at,
        shown,
        error,
        shown * need.at / 100.0,
        warn,
    )


def _carrier_lines(
    needs: Sequence[Need],
    own: Mapping[str, float],
    tables: Tables,
    grams: float,
    step: float,
    lines: Sequence[WeighedLine],
) -> tuple[list[WeighedLine], float, list[str]]:
    """The accord's own solvents as far as there is room, the carrier still to add [g], and what is to be
    said about it."""
    room = max(0.0, grams - sum(need.mass() for need in needs))
    listed = sum(own.values())
    planned = max(0.0, room - listed)
    share = min(1.0, room / listed) if listed else 0.0
    shown = {id: to_step(mass * share, step) for id, mass in own.items()}
    left = to_step(grams, step) - sum(line.grams for line in lines) - sum(shown.values())
    solvent_g = 0.0
    if planned >= step / 2:
        solvent_g = to_step(max(0.0, left), step)
    elif own:  # the largest solvent takes up what rounding left
        largest = max(own, key=lambda id: own[id])
        shown[largest] = to_step(max(0.0, shown[largest] + left), step)
    found: list[WeighedLine] = []
    said: list[str] = []
    for id, mass in own.items():
        target = mass * share
        warn = (
            ""
            if share > 1 - 1e-9
            else f"{mass:.4g} g in the accord, the rest comes along as carrier of the solutions"
        )
        error = 100.0 * (shown[id] / target - 1.0) if target >= step / 2 else 0.0
        found.append(
            WeighedLine(
                id,
                _material(id, tables).name,
                _material(id, tables).main_cas,
                100.0,
                shown[id],
                error,
                shown[id],
                warn,
            )
        )
    if found and share <= 1 - 1e-9:
        said.append("Solutions bring carrier along: the accord's own solvent gives way by that much.")
    return found, solvent_g, said


def _shelf_cautions(
    accord: Accord,
    needs: Sequence[Need],
    own: Mapping[str, float],
    carrier_lines: Sequence[WeighedLine],
    used: Mapping[tuple[str, float], float],
    shelf: Shelf | None,
    tables: Tables,
) -> list[str]:
    said = []
    idle = [
        _material(id, tables).name
        for id in dict.fromkeys(line.material for line in accord.lines)
        if not accord.active()[id] > 0
    ]
    if idle:
        said.append(f"Not weighed, 0 parts: {'; '.join(idle)}.")
    if shelf is None:
        return said
    absent = [need.material.name for need in needs if need.absent]
    absent += [_material(id, tables).name for id in own if id != CARRIER and id not in shelf.materials()]
    if absent:
        said.append(f"Not on the shelf: {'; '.join(absent)}.")
    drawn = {**used, **{(line.id, 100.0): line.grams for line in carrier_lines}}
    for (id, strength), wanted in drawn.items():
        stock = [item.grams for item in shelf.stock if item.material == id and item.strength == strength]
        held = sum(grams for grams in stock if grams is not None)
        if stock and None not in stock and held < wanted * (1 - 1e-9):
            said.append(
                f"{_material(id, tables).name} at {strength:g} %: {wanted:.4g} g are wanted, the "
                f"shelf holds {held:g} g."
            )
    return said


def _batch_caution(needs: list[Need], grams: float, step: float) -> list[str]:
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
