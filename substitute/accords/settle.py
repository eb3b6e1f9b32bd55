"""At which strength each material is weighed: the balance can follow, and the batch holds its carrier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..figures import figure, given, percent
from ..records import Accord, Shelf, Tables
from .carriers import is_carrier, named
from .solutions import GOOD_STEPS, HOPELESS_STEPS, Need, is_good, steps_of, to_step
from .weighing import WeighedLine


def needs_of(
    accord: Accord, tables: Tables, grams: float, shelf: Shelf | None, ladder: tuple[float, ...]
) -> list[Need]:
    """What must be weighed of each material itself for ``grams`` of the accord, at none of its strengths yet;
    ``ladder`` are the strengths that may be made."""
    traces = {line.material for line in accord.lines if line.role == "trace"}
    needs = []
    for id, active in accord.active().items():
        if active > 0 and not is_carrier(id, tables):
            have = shelf.strengths(id) if shelf else ()
            absent = shelf is not None and not have
            needs.append(
                Need(named(id, tables), active / accord.total * grams, id in traces, have, ladder, absent)
            )
    return needs


def settle(needs: list[Need], grams: float, step: float) -> list[str]:
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
        f"{need.material.name} at {given(need.at)} instead of {given(strength)}"
        for need, strength in moved
        if need.at in need.options
    ]
    beyond = [
        f"{need.material.name} at {given(need.at)} (it holds {given(need.have[0])})"
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


def weighed(need: Need, step: float) -> WeighedLine:
    """A need at its strength on a balance of this ``step`` [g], with what is to be said of the rounding."""
    mass = need.mass()
    shown = to_step(mass, step)
    error = 100.0 * (shown / mass - 1.0)
    warn = ""
    if shown == 0:
        warn = f"under half a step of the balance ({figure(mass, 2)} g): cannot be weighed in this batch"
    elif not is_good(mass, step):
        count = steps_of(mass, step)
        warn = f"only {count} steps (good: {GOOD_STEPS}), up to {percent(50 / count, 2)} off"
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


def solvent_lines(
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
            else f"{figure(mass, 4)} g in the accord, the rest comes along as carrier of the solutions"
        )
        error = 100.0 * (shown[id] / target - 1.0) if target >= step / 2 else 0.0
        found.append(
            WeighedLine(
                id,
                named(id, tables).name,
                named(id, tables).main_cas,
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
