"""What carries: the solvents of an accord, and the one that solutions are made with."""

from __future__ import annotations

from ..records import Accord, Material, Shelf, Tables

CARRIER = "carrier"  # the line that stands for any solvent
CARRIERS = ("ethanol", "dipropylene-glycol")  # preferred for solutions, in this order
NOT_FOR_SOLUTIONS = frozenset({"water", "glycerin", CARRIER})  # most materials do not dissolve in them


def is_carrier(id: str, tables: Tables | None) -> bool:
    """Whether a line is a solvent, or the line ``carrier`` that stands for any."""
    material = tables.materials.get(id) if tables else None
    return id == CARRIER or (material is not None and material.kind == "solvent")


def named(id: str, tables: Tables) -> Material:
    """The material of a line; one made up for the line ``carrier``, and for what is not on file."""
    return tables.materials.get(id) or Material(
        id, id.replace("-", " "), "solvent" if id == CARRIER else "mixture"
    )


def own_carriers(accord: Accord, tables: Tables, grams: float) -> dict[str, float]:
    """Grams of each solvent that the accord itself lists."""
    own: dict[str, float] = {}
    for line in accord.lines:
        if is_carrier(line.material, tables):
            own[line.material] = own.get(line.material, 0.0) + line.parts / accord.total * grams
    return own


def carrier_for_solutions(tables: Tables, own: dict[str, float], shelf: Shelf | None) -> dict[str, str]:
    """The solvent for solutions: the accord's own, then the usual two, then any on the shelf; with a shelf,
    one that stands there."""
    on_shelf = [id for id in shelf.materials() if is_carrier(id, tables)] if shelf else []
    wanted = [*sorted(own, key=lambda id: -own[id]), *CARRIERS, *on_shelf]
    usable = [id for id in wanted if id not in NOT_FOR_SOLUTIONS]
    return named(next((id for id in usable if id in on_shelf), usable[0]), tables).brief()
