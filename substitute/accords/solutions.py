"""Which strength a material is weighed at, the solutions to make for that, and the ones to dip strips in.

Solutions are made by mass, 10 % from neat, 1 % from 10 %, 0.1 % from 1 % (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from ..figures import given
from ..records import Material, Tables
from .weighing import Dilution, Strip

GOOD_STEPS, HOPELESS_STEPS = 50, 5  # steps of the balance: rounding costs at most 1 %, 10 %
TENFOLD = 10.0 * (1 + 1e-9)  # the most a solution is thinned in one go
SMALLEST_SOLUTION = 10.0  # grams made at a time
LARGEST_SOLUTION = 100.0  # grams, unless more is needed
VERY_STRONG = 10.0  # potency, coumarin = 1: dipped at 1 %
TRACE_SHARE = 0.005  # of the active mass: dipped at 1 %


@dataclass
class Need:
    """A material, the grams of itself that are wanted, and the strengths it could be weighed at."""

    material: Material
    active: float
    trace: bool
    have: tuple[float, ...]
    ladder: tuple[float, ...]
    absent: bool = False
    at: float = 100.0
    options: tuple[float, ...] = field(init=False)  # to be had today, strongest first
    stronger: tuple[float, ...] = field(init=False)  # only in a bottle that is not on the shelf

    def __post_init__(self) -> None:
        top = max(self.have, default=100.0)
        self.options = tuple(
            sorted(
                {
                    *self.have,
                    *(made for made in self.ladder if made <= top and (made < 100.0 or not self.have)),
                },
                reverse=True,
            )
        )
        self.stronger = tuple(made for made in self.ladder if made > top)

    def mass(self, strength: float | None = None) -> float:
        """Grams on the balance at ``strength`` [%], by default the chosen one."""
        return self.active / ((self.at if strength is None else strength) / 100.0)

    def first_choice(self, step: float) -> float:
        """The strongest good weighing, the shelf's own strengths before one to make; else the weakest."""
        made = [strength for strength in self.options if strength not in self.have]
        good = (strength for strength in (*self.have, *made) if is_good(self.mass(strength), step))
        return next(good, self.options[-1])


def steps_of(grams: float, step: float) -> int:
    """How many whole steps of the balance the nearest weighing has."""
    return math.floor(grams / step + 0.5)


def to_step(grams: float, step: float) -> float:
    """``grams`` as the balance can show it."""
    return float(f"{steps_of(grams, step) * step:.12g}")


def is_good(grams: float, step: float) -> bool:
    """Whether a weighing has at least 50 steps of the balance."""
    return steps_of(grams, step) >= GOOD_STEPS


def source_strength(need: Need, strength: float) -> float:
    """The next stronger strength [%] to make a solution from: the shelf's nearest, or a made one if that is
    over ten times stronger."""
    nearest = min((have for have in need.have if have > strength), default=100.0)
    if nearest / strength <= TENFOLD:
        return nearest
    between = [made for made in need.ladder if strength < made < nearest]
    return next((made for made in between if made / strength <= TENFOLD), min(between, default=nearest))


def dilutions_for(
    needs: list[Need], carrier: dict[str, str], step: float
) -> tuple[tuple[Dilution, ...], dict[tuple[str, float], float]]:
    """Solutions to make, strongest first for each material, and the grams drawn from every bottle."""
    found: list[Dilution] = []
    used: dict[tuple[str, float], float] = {}
    for need in needs:
        made: list[Dilution] = []
        pending = {need.at: need.mass()}
        while pending:
            strength = min(pending)
            wanted = pending.pop(strength)
            if strength in need.have or strength >= 100.0:
                used[need.material.id, strength] = wanted
                continue
            dilution = dilution_from(
                need.material, strength, source_strength(need, strength), wanted, carrier, step
            )
            made.append(dilution)
            pending[dilution.from_pct] = pending.get(dilution.from_pct, 0.0) + dilution.from_grams
        found.extend(reversed(made))
    return tuple(found), used


def dilution_from(
    material: Material, strength: float, source: float, wanted: float, carrier: dict[str, str], step: float
) -> Dilution:
    ratio = source / strength
    amount = max(SMALLEST_SOLUTION, math.ceil(1.05 * wanted))  # 5 % stays in the bottle and the pipette
    amount = max(amount, min(GOOD_STEPS * step * ratio, LARGEST_SOLUTION))
    take = max(step, to_step(amount / ratio, step))
    if take * ratio < wanted:
        take = to_step(take + step, step)
    add = to_step(take * (ratio - 1.0), step)
    total = float(f"{take + add:.12g}")
    text = (
        f"{total:g} g of {given(strength)}: {take:g} g of {material.name} ({given(source)}) and "
        f"{add:g} g of {carrier['name']}"
    )
    error = 100.0 * (take * ratio / total - 1.0)
    return Dilution(
        material.id, material.name, strength, total, source, take, carrier["id"], add, error, text
    )


def strips_for(needs: list[Need], tables: Tables, dilutions: Sequence[Dilution]) -> tuple[Strip, ...]:
    total = sum(need.active for need in needs)
    made = {(dilution.id, dilution.strength_pct) for dilution in dilutions}
    strips = []
    for need in needs:
        potency = tables.value(need.material.id, "potency")
        dip, why = 10.0, "the usual strength on a strip"
        if potency is not None and potency > VERY_STRONG:
            dip, why = 1.0, "very strong"
        elif need.trace or need.active / total < TRACE_SHARE:
            dip, why = 1.0, "only a trace here"
        if need.have and max(need.have) < dip:
            dip, why = max(need.have), "the strongest on the shelf"
        have = dip in need.have or (need.material.id, dip) in made
        strips.append(Strip(**need.material.brief(), dip_pct=dip, have=have, why=why))
    return tuple(strips)
