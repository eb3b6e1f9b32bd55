"""Who may be asked at all: the hard filters before any ranking (stock, law, the reason why a material is gone)."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from ..records import Shelf, Tables
from ..rules.context import Context
from ..rules.exposure import Exposure

SAME_BURDEN = (
    0.3  # a candidate that presses on the same limit this much of what the missing one does is no way out
)
GUESSED_LIMIT_PCT = 1.0  # where a Standard exists and its figure is not on file
ITSELF_SHARE, BULK_PCT = (
    0.08,
    50.0,
)  # a natural with this much of a molecule is that molecule again, and a natural is its bulk
LEAST_LIMIT_PCT = 1e-4  # stands for zero where burdens are compared
MAIN_SHARE, TRACE_SHARE = (
    0.05,
    0.002,
)  # what law takes away in a natural, and what may be left of it in another
LIMITING = ("max", "prohibited", "prohibited_as_such")


def smellable(tables: Tables) -> list[str]:
    """Materials that can stand in for anything: weighed, with profile and potency, no solvent."""
    return [
        name
        for name, material in tables.materials.items()
        if material.stocked
        and material.kind != "solvent"
        and name in tables.profiles
        and (tables.value(name, "potency") or 0) > 0
    ]


def candidates(
    tables: Tables,
    exposure: Exposure,
    missing: str,
    because: str,
    shelf: Shelf | None,
    status: Callable[[str], tuple[str, ...]],
    context: Context,
    without: Iterable[str] = (),
) -> list[str]:
    """Ids that pass the filters; ``status`` tells what law says of a material (its words are empty for most).

    On a shelf, what is prohibited or protected stays in (it is there, and is named as what it is); nobody is told to buy it. When
    a material is gone ``because`` of law, nothing that law holds in any way is an answer, nor what holds the same substance; when
    because of a limit, neither the same molecule inside an oil nor a member of the same limited group is.
    """
    out = {missing, *without}
    held = set(shelf.materials()) if shelf else None
    found = [name for name in smellable(tables) if name not in out and (held is None or name in held)]
    if because == "law":
        found = [name for name in found if not status(name)]
        found = _without_same_substance(exposure, missing, found, status)
    elif held is None:
        found = [name for name in found if not any(word.startswith("prohibited") for word in status(name))]
    if because == "limit":
        found = _off_the_limit(
            tables, exposure, context, missing, _without_itself(tables, exposure, missing, found)
        )
    return found


def _without_itself(tables: Tables, exposure: Exposure, missing: str, found: list[str]) -> list[str]:
    """``found`` without what is the missing thing again, figure or no figure: naturals that hold it, or the bulk of a natural."""
    bulk = [row.id for row in tables.constituents.get(missing, ()) if row.typical >= BULK_PCT]
    _, typical = exposure.matrix([missing], found)
    return [
        name
        for name, share in zip(found, np.asarray(typical)[0])
        if share < ITSELF_SHARE and name not in bulk
    ]


def _without_same_substance(exposure: Exposure, missing: str, found: list[str], status) -> list[str]:
    """``found`` without naturals that hold what law takes away in the missing material."""
    taken = [
        s
        for s, share in exposure.shares(missing).items()
        if share.typical >= MAIN_SHARE and s in exposure.tables.materials and status(s)
    ]
    if not taken or not found:
        return found
    _, typical = exposure.matrix(taken, found)
    return [name for name, share in zip(found, np.asarray(typical).max(axis=0)) if share < TRACE_SHARE]


def _ceilings(tables: Tables, exposure: Exposure, context: Context) -> dict[str, float]:
    """Substance -> the strictest known figure of the context's sets, 1 % where a rule has no figure on file."""
    applied = {s.limit_set.id: s.category for s in context.sets}
    specific: dict[tuple[str, str], float | None] = {}
    for limit in tables.limits:
        if (
            limit.rule not in LIMITING
            or applied.get(limit.limit_set) is None
            or limit.category not in ("all", applied[limit.limit_set])
        ):
            continue
        key = (limit.limit_set, limit.substance)
        if key not in specific or limit.category != "all":
            specific[key] = limit.max_pct
    found: dict[str, float] = {}
    for (_, substance), figure in specific.items():
        most = GUESSED_LIMIT_PCT if figure is None else max(figure, LEAST_LIMIT_PCT)
        if most < 100:
            found[substance] = min(found.get(substance, most), most)
    return found


def _off_the_limit(
    tables: Tables, exposure: Exposure, context: Context, missing: str, found: list[str]
) -> list[str]:
    """``found`` without what presses, at the amount it would need, on the limits that bind the missing material (typical shares)."""
    ceilings = _ceilings(tables, exposure, context)
    if not ceilings or not found:
        return found
    substances = sorted(ceilings)
    _, shares = exposure.matrix(substances, [missing, *found])
    burden = np.asarray(shares) / np.array([ceilings[s] for s in substances])[:, None]
    own = burden[:, 0]
    binding = own >= SAME_BURDEN * own.max() if own.max() > 0 else np.zeros(len(own), dtype=bool)
    old = tables.value(missing, "potency") or 1.0
    grams = np.array([old / (tables.value(name, "potency") or old) for name in found])
    pressed = (burden[:, 1:] * np.minimum(grams, 1.0) >= SAME_BURDEN * own[:, None]) & binding[:, None]
    return [name for name, still in zip(found, pressed.any(axis=0)) if not still]
