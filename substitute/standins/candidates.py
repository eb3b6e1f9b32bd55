"""Who may be asked at all: the hard filters before any ranking (stock, law, the reason why a material is gone)."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from ..records import Shelf, Tables
from ..rules.exposure import Exposure

REASONS = ("unavailable", "limit", "law", "price")
SAME_BURDEN = 0.3  # a candidate that presses on the same limit this much of what the missing one does is no way out
GUESSED_LIMIT_PCT = 1.0  # where a Standard exists and its figure is not on file
LIMITING = ("max", "prohibited", "prohibited_as_such")


def smellable(tables: Tables) -> list[str]:
    """Materials that can stand in for anything: weighed, with profile and potency, no solvent."""
    return [
        name
        for name, material in tables.materials.items()
        if material.stocked and material.kind != "solvent" and name in tables.profiles and (tables.value(name, "potency") or 0) > 0
    ]


def candidates(
    tables: Tables,
    exposure: Exposure,
    missing: str,
    because: str,
    shelf: Shelf | None,
    status: Callable[[str], tuple[str, ...]],
    without: Iterable[str] = (),
) -> list[str]:
    """Ids that pass the filters; ``status`` tells what law says of a material (its words are empty for most).

    On a shelf, what is prohibited or protected stays in (it is there, and is named as what it is); nobody is told to buy it. When
    a material is gone ``because`` of law, nothing that law holds in any way is an answer; when because of a limit, neither the
    same molecule inside an oil nor a member of the same limited group is.
    """
    out = {missing, *without}
    held = set(shelf.materials()) if shelf else None
    found = [name for name in smellable(tables) if name not in out and (held is None or name in held)]
    if because == "law":
        found = [name for name in found if not status(name)]
    elif held is None:
        found = [name for name in found if not any(word.startswith("prohibited") for word in status(name))]
    if because == "limit":
        found = _off_the_limit(tables, exposure, missing, found)
    return found


def _off_the_limit(tables: Tables, exposure: Exposure, missing: str, found: list[str]) -> list[str]:
    """``found`` without what presses on the limits that bind the missing material."""
    figures: dict[str, list[float]] = {}
    for limit in tables.limits:
        if limit.rule in LIMITING:
            figures.setdefault(limit.substance, []).extend([] if limit.max_pct is None else [limit.max_pct])
    substances = sorted(figures)
    if not substances or not found:
        return found
    ceiling = np.array([max(min((f for f in figures[s] if f < 100), default=GUESSED_LIMIT_PCT), 1e-4) for s in substances])
    shares, _ = exposure.matrix(substances, [missing, *found])
    burden = np.asarray(shares) / ceiling[:, None]
    own = burden[:, 0]
    binding = own >= SAME_BURDEN * own.max() if own.max() > 0 else np.zeros(len(own), dtype=bool)
    old = tables.value(missing, "potency") or 1.0
    grams = np.array([old / (tables.value(name, "potency") or old) for name in found])
    pressed = (burden[:, 1:] * np.minimum(grams, 1.0) >= SAME_BURDEN * own[:, None]) & binding[:, None]
    return [name for name, still in zip(found, pressed.any(axis=0)) if not still]
