"""The records of a weighing sheet: lines, solutions to make, strips to dip, and the check of old against
new."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar

from ..figures import significant
from ..frozen import frozen
from ..shown import Shown
from .cost import Cost

CAUTIONS = (
    "Ethanol burns and so does its vapour: no flame, spark or hot plate near it.",
    (
        "Concentrated materials irritate: keep them off skin and eyes, wear gloves and eye "
        "protection, weigh with the air moving."
    ),
    "Some materials sensitise, in traces and for good: smell from strips, never from skin.",
    (
        "Weigh solids last and warm gently until clear, with the vessel loosely covered (common "
        "practice, no source)."
    ),
    (
        "This sheet is arithmetic. The supplier's documents, the law where you are and a qualified "
        "assessor decide what may be done."
    ),
)
TRIANGLES = (
    "old, old, new",
    "new, old, new",
    "old, new, old",
    "new, new, old",
    "new, old, old",
    "old, new, new",
)
DAYS = (1, 7, 28)


@frozen
class WeighedLine:
    """One weighing; ``error_pct`` is the signed relative error of the active mass by rounding, ``order``
    its turn on the balance."""

    id: str
    name: str
    cas: str
    strength_pct: float
    grams: float
    error_pct: float
    active_g: float
    warn: str = ""
    order: int = 0


@frozen
class Dilution:
    """A solution to make before weighing: ``grams`` of it from ``from_grams`` at ``from_pct`` and
    ``carrier_grams`` of the carrier."""

    id: str
    name: str
    strength_pct: float
    grams: float
    from_pct: float
    from_grams: float
    carrier: str
    carrier_grams: float
    error_pct: float
    text: str


@frozen
class Strip:
    """Which solution of a material to dip; ``have`` says whether it is on the shelf or among the solutions
    to make."""

    id: str
    name: str
    cas: str
    dip_pct: float
    have: bool
    why: str


@frozen
class CheckStep:
    """One row of the check of old against new: the day, the test, how strips are laid out, what is asked."""

    day: int
    test: str
    lay_out: str
    ask: str


@frozen
class Weighing(Shown):
    """A weighing sheet; masses in grams, strengths in percent by mass. ``lines`` stand in the accord's
    order."""

    asked_by: ClassVar[str] = "weigh"

    accord: str
    balance: float
    lines: tuple[WeighedLine, ...]
    solvent: dict[str, str]
    solvent_g: float
    total_g: float
    concentrate_pct: float
    strips: tuple[Strip, ...]
    dilutions: tuple[Dilution, ...]
    check: tuple[CheckStep, ...]
    cautions: tuple[str, ...]
    cost: Cost | None = None
    taken: tuple[str, ...] = ()

    def draws(self) -> dict[tuple[str, float], float]:
        """(material, strength) -> grams out of the bottles for lines, solutions and carrier; negative where
        a solution is left over."""
        net: dict[tuple[str, float], float] = {}

        def add(material: str, strength: float, grams: float) -> None:
            net[material, strength] = significant(net.get((material, strength), 0.0) + grams, 9)

        for line in self.lines:
            add(line.id, line.strength_pct, line.grams)
        for one in self.dilutions:
            add(one.id, one.strength_pct, -one.grams)
            add(one.id, one.from_pct, one.from_grams)
            add(one.carrier, 100.0, one.carrier_grams)
        if self.solvent_g > 0:
            add(self.solvent["id"], 100.0, self.solvent_g)
        return {place: grams for place, grams in net.items() if abs(grams) > 1e-9}

    def to_dict(self) -> dict[str, Any]:
        """The JSON of ``substitute weigh``."""
        out = {key: value for key, value in asdict(self).items() if key != "cost"}
        listed = {key: list(value) if isinstance(value, tuple) else value for key, value in out.items()}
        return {**listed, "cost": self.cost.to_dict() if self.cost else None}


def check_sheet() -> tuple[CheckStep, ...]:
    """The check of a swap: six blind triangles of old and new, then both bottles again after 1, 7 and 28
    days.

    By guessing, five or six of six triangles come out right in 13 of 729 rounds (binomial, one in three
    each).
    """
    triangles = [
        CheckStep(0, f"triangle {number}", lay, "Which of the three differs?")
        for number, lay in enumerate(TRIANGLES, 1)
    ]
    ask = "Weaker or stronger than the old? What is gained, what is lost? Cloud, colour, crystals?"
    return (
        *triangles,
        *(
            CheckStep(day, "side by side", "old and new, fresh strips from bottles kept dark", ask)
            for day in DAYS
        ),
    )
