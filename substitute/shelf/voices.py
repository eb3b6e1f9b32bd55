"""Which line of an accord carries weakly, where, and why: its part of the smell by stage and its tenacity.

A line's voice is the geometric mean of its shares of the smell over the stages at which the accord is heard
(at least 1 % of its strongest), so that being silent at one of them counts, however loud it is at another.
The stage that needs it is the one at which it is heard least.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..figures import part, percent
from ..frozen import frozen
from ..odour.perception import Impression, impression
from ..odour.staging import tenacity
from ..records import STAGES, Accord, Tables
from ..standins.bench import Bench
from ..standins.words import hours

Array = NDArray[np.float64]
LEAST_HEARD = 0.01  # of the accord's strongest stage
FLOOR = 1e-3  # of the smell: silence, in the geometric mean
FADES, RISES = 0.5, 2.0  # a share that changes by this from the loudest stage to the quietest


@frozen
class Voice:
    """A core line as it is heard: ``shares`` of the smell (T, ``None`` where the accord is gone)."""

    material: str
    parts: float
    shares: tuple[float | None, ...]
    voice: float
    needs: int
    hours: float
    why: str

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        return {
            **tables.materials[self.material].brief(),
            "parts": self.parts,
            "share": dict(zip(STAGES, self.shares)),
            "voice": self.voice,
            "needs": STAGES[self.needs],
            "lasts": hours(self.hours),
            "why": self.why,
        }


def heard(bench: Bench, amounts: Mapping[str, float]) -> Impression:
    """What active ``amounts`` by id smell of."""
    rows = bench.staged.rows(list(amounts))
    grams = np.array(list(amounts.values()), dtype=float)
    return impression(grams, bench.staged.potency[rows], bench.staged.profile[rows], bench.hearing)


def shares_of(bench: Bench, amounts: Mapping[str, float]) -> dict[str, Array]:
    """Part of the smell (T, 0 to 1) that each material is at each stage."""
    rows = bench.staged.rows(list(amounts))
    grams = np.array(list(amounts.values()), dtype=float)[:, None]
    odour = (bench.staged.potency[rows] * grams) ** bench.hearing.power
    total = odour.sum(axis=0)
    part = np.divide(odour, total, out=np.zeros_like(odour), where=total > 0)
    return dict(zip(amounts, part))


def core_of(accord: Accord, held: Mapping[str, float]) -> tuple[list[str], list[str]]:
    """Lines whose role is core; without any, the three largest, and a note that says so."""
    roles = {line.material for line in accord.lines if line.role == "core"}
    core = [name for name in held if name in roles]
    if core:
        return core, []
    note = "no line has the role core: the three largest lines are taken for it"
    return sorted(held, key=lambda name: (-held[name], name))[:3], [note]


def voices(bench: Bench, held: Mapping[str, float], core: Sequence[str]) -> tuple[Voice, ...]:
    """The core lines, the weakest voice first."""
    whole = heard(bench, held)
    judged = np.asarray(whole.strength >= LEAST_HEARD * whole.strength.max())
    shares = shares_of(bench, held)
    found = [_voice(bench, held, shares, name, judged) for name in core]
    return tuple(sorted(found, key=lambda one: (one.voice, one.material)))


def _voice(
    bench: Bench, held: Mapping[str, float], shares: Mapping[str, Array], name: str, judged: Array
) -> Voice:
    share, stages = shares[name], [t for t in range(len(STAGES)) if judged[t]]
    voice = float(np.exp(np.mean([np.log(max(share[t], FLOOR)) for t in stages])))
    needs = min(stages, key=lambda t: (share[t], t))
    lasts = tenacity(bench.tables, name)
    told = tuple(float(share[t]) if judged[t] else None for t in range(len(STAGES)))
    why = _why(bench.tables, held, shares, name, stages, needs)
    return Voice(name, held[name], told, voice, needs, lasts, why)


def _why(
    tables: Tables,
    held: Mapping[str, float],
    shares: Mapping[str, Array],
    name: str,
    stages: Sequence[int],
    needs: int,
) -> str:
    """In words: what it is of the parts and of the smell, when it is least heard, and what speaks over it."""
    share, best = shares[name], max(stages, key=lambda t: (shares[name][t], -t))
    parts = 100.0 * held[name] / sum(held.values())
    said = f"{percent(parts, 2)} of what smells, {part(share[needs])} of the smell at the {STAGES[needs]}"
    lasts = hours(tenacity(tables, name))
    if share[needs] <= FADES * share[best] and needs > best:
        said += f", {part(share[best])} at the {STAGES[best]}: it goes first (noticed for {lasts})"
    elif share[best] >= RISES * share[needs]:
        said += f", {part(share[best])} at the {STAGES[best]}: it speaks late (noticed for {lasts})"
    loudest = max(
        (other for other in shares if other != name), key=lambda o: (shares[o][needs], o), default=""
    )
    if loudest and shares[loudest][needs] > share[needs]:
        said += f"; {tables.materials[loudest].name} speaks over it with {part(shares[loudest][needs])}"
    return said
