"""What verdicts say about amounts: each as one log amount with its doubt, about one *matter*.

A matter is a stand-in in the place of a material (a pair), a blend in its place at one ratio, or one line of
an accord over all its trials. For a line the amount is told beside what was first written: that it turned
out to be half of that is known of the accord, and only in part of the nose, since nobody knows what the
writer was after. So a line says far less of how loud its material is than a pair does
(:data:`INTENT`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

from ..figures import significant
from ..frozen import frozen
from ..odour.power_law import EXPONENT
from .records import Verdict

STEP = 1.25  # ratio of intensities taken for one perceived step, as in rebalancing
# perceived steps; far is open, two and more, so what is right lies further than the next trial goes: chosen
# on simulated noses (seed 11 of tests/evaluation/noses.py) and measured on others
STEPS = {"slightly": 0.5, "clearly": 1.0, "far": 2.5}
NOISE = {
    "": 1.5,
    "slightly": 1.3,
    "clearly": 1.5,
    "far": 2.3,
    "stated": 1.2,
    "right": 1.25,
}  # factors, one sd
INTENT = (
    3.0  # how far the amount first written of a line lies from the one meant, as a factor, one sd (estimate)
)

Parts = Callable[[str, int], Mapping[str, float]]
"""(accord, trial) -> active parts of its lines by id; nothing where the file is gone."""


@frozen
class Matter:
    """What an amount was said of. ``place`` is what is missing, or the accord of a ``line``; ``parts`` are
    what stands there, by share of its mass (1 for a single material and for a line)."""

    place: str
    parts: tuple[tuple[str, float], ...]
    line: bool = False

    @property
    def ids(self) -> tuple[str, ...]:
        """The materials of which it says something."""
        mine = tuple(id for id, _ in self.parts)
        return mine if self.line else (self.place, *mine)

    @property
    def pair(self) -> tuple[str, str]:
        """(missing, stand-in) of a single material in the place of another."""
        return self.place, self.parts[0][0]

    @property
    def total(self) -> float:
        """The shares' sum: 1, but for rounding."""
        return sum(grams for _, grams in self.parts)


@frozen
class Observation:
    """One verdict as a log amount with its standard deviation: grams for one gram, all of a blend together;
    of a line, the right amount over the one first written."""

    verdict: int
    matter: Matter
    log_right: float
    sd: float


def step_factor(degree: str) -> float:
    """How much an amount is off that was called too strong or too weak in this degree ('' is clearly)."""
    return float(STEP ** (STEPS[degree or "clearly"] / EXPONENT))


def observed(verdicts: Iterable[Verdict], parts: Parts | None = None) -> tuple[Observation, ...]:
    """What verdicts say about amounts; those taken back say nothing, nor do lines of an accord of which
    ``parts`` knows no amounts."""
    found = []
    for one in verdicts:
        if not one.holds or one.nearness == "not_smelled":
            continue  # who hardly smells a thing cannot say how loud it is
        seen = _line(one, parts) if one.kind == "line" else _stand_in(one)
        if seen is not None:
            found.append(seen)
    return tuple(found)


def _stand_in(one: Verdict) -> Observation | None:
    if one.kind not in ("swap", "blend"):
        return None
    matter = matter_of(one)
    if one.grams_right is not None:
        return Observation(one.id, matter, math.log(one.grams_right), math.log(NOISE["stated"]))
    if one.grams_used is None or not one.amount:
        return None
    return Observation(one.id, matter, *_judged(math.log(one.grams_used), one))


def matter_of(one: Verdict) -> Matter:
    """What a verdict on a stand-in is of: of a blend the ratio counts, at two figures, and not the order."""
    mixed = one.mixed
    whole = sum(mixed.values())
    shares = {id: significant(grams / whole, 2) for id, grams in sorted(mixed.items())}
    return Matter(one.about, tuple(shares.items()))


def _line(one: Verdict, parts: Parts | None) -> Observation | None:
    if parts is None or not one.amount:
        return None
    now, first = parts(one.about, one.trial or 1).get(one.line), _first(one, parts)
    if not now or not first:
        return None
    matter = Matter(one.about, ((one.line, 1.0),), line=True)
    return Observation(one.id, matter, *_judged(math.log(now / first), one))


def _first(one: Verdict, parts: Parts) -> float | None:
    """The amount of a line where it was first written."""
    for trial in range(1, (one.trial or 1) + 1):
        found = parts(one.about, trial).get(one.line)
        if found:
            return found
    return None


def _judged(log_used: float, one: Verdict) -> tuple[float, float]:
    """(log of the right amount, its standard deviation) of an amount that was judged in words."""
    if one.amount == "right":
        return log_used, math.log(NOISE["right"])
    away = math.log(step_factor(one.degree)) * (-1.0 if one.amount == "too_strong" else 1.0)
    return log_used + away, math.log(NOISE[one.degree])
