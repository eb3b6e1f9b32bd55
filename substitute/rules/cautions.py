"""What may hurt whom, and what is prohibited: one place for the cautions of a material, an accord and a
product.

Every answer, sheet and file takes them from here. No row on file means unknown, never harmless.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..records import Hazard, Tables
from .situation import Situation
from .standing import CAUTIONS, of_product

NAMED = 6  # materials told by name in one line
HEADS = {
    "sensitises": ("Can make allergic, in traces and for good", "gloves; never on skin as it is"),
    "light": ("Burns skin that meets the sun", "wash it off, and keep from the light"),
    "eyes": ("Hurts the eyes", "goggles"),
    "breathing": (
        "Can bring on asthma or hurt the airways",
        "weigh with the air moving, not near an asthmatic",
    ),
    "burns": ("Catches fire", "no flame, spark or hot plate; mind the flash point"),
    "unborn_child": ("May harm an unborn child", "not for anyone pregnant or nursing"),
    "children": ("Dangerous to children", "lock it away"),
    "pets": ("Poisons pets", "keep cats, dogs and birds away"),
    "long_term": ("May do harm in the long run", "as little as will do, gloves, moving air"),
}
BANNED = "NOT TO BE USED"
WHY = "prohibited_because"
SHORT = {
    "sensitises": "skin:",
    "light": "light on skin:",
    "eyes": "eyes:",
    "breathing": "breathing:",
    "burns": "fire:",
    "unborn_child": "unborn child:",
    "children": "children:",
    "pets": "pets:",
    "long_term": "in the long run:",
    WHY: "prohibited because it",
}
NOTHING = "No hazard is on file for {names}: unknown is not harmless; look at the safety data sheet."


def of_material(tables: Tables, material: str) -> tuple[Hazard, ...]:
    """The hazards on file of a material, most serious words first as the tables have them; empty means
    unknown.
    """
    order = {name: place for place, name in enumerate((WHY, *HEADS))}
    return tuple(sorted(tables.hazards.get(material, ()), key=lambda one: order.get(one.hazard, len(order))))


def hazard_lines(tables: Tables, material: str) -> tuple[str, ...]:
    """The hazards of a material, a line each: what it does, in the tables' words."""
    rows = of_material(tables, material)
    return tuple(f"{SHORT.get(one.hazard, one.hazard + ':')} {one.words}" for one in rows)


def prohibited_lines(situation: Situation, materials: Iterable[str]) -> tuple[str, ...]:
    """A line for each of ``materials`` that may not be used in the situation: by which rule, and why."""
    tables, found = situation.tables, []
    for material in dict.fromkeys(materials):
        bans = situation.forbidden(material)
        if bans:
            why = [one.words for one in tables.hazards.get(material, ()) if one.hazard == WHY]
            words = "; ".join(dict.fromkeys(ban.words for ban in bans))
            because = f" Why: {why[0]}." if why else ""
            found.append(f"{BANNED}: {tables.materials[material].name}: {words}.{because}")
    return tuple(found)


def once(lines: Iterable[str]) -> list[str]:
    """Cautions of several products, each once; of what may not be used one line a material, which names
    most rules."""
    kept: dict[str, str] = {}
    for line in lines:
        key = ": ".join(line.split(": ")[:2]) if line.startswith(f"{BANNED}: ") else line
        if len(line) > len(kept.get(key, "")):
            kept[key] = line
    return sorted(kept.values(), key=lambda line: not line.startswith(BANNED))


def of_accord(situation: Situation, active: Mapping[str, float] | Iterable[str]) -> tuple[str, ...]:
    """The cautions of an accord: what is prohibited, what the product asks for, what its materials can do.

    ``active`` are its materials, with parts of each or without; a line of 0 parts is left out.
    """
    tables = situation.tables
    parts = active if isinstance(active, Mapping) else dict.fromkeys(active, 1.0)
    held = [name for name, amount in parts.items() if amount > 0 and name in tables.materials]
    found = [*prohibited_lines(situation, held), *of_situation(situation)]
    by_hazard: dict[str, list[str]] = {}
    silent = []
    for material in held:
        rows = tables.hazards.get(material, ())
        for one in rows:
            by_hazard.setdefault(one.hazard, []).append(tables.materials[material].name)
        if not rows and tables.materials[material].kind != "solvent":
            silent.append(tables.materials[material].name)
    for hazard, (head, then) in HEADS.items():
        if hazard in by_hazard:
            found.append(f"{head}: {_few(by_hazard[hazard])}. {then[0].upper()}{then[1:]}.")
    if silent:
        found.append(NOTHING.format(names=_few(silent)))
    return tuple(found)


def of_situation(situation: Situation) -> tuple[str, ...]:
    """What stands for the product, if one is named."""
    where = situation.context
    if not situation.named:
        return ()
    return of_product(where.product, where.category, leave_on=where.leave_on, skin=where.skin)


def _few(names: list[str]) -> str:
    more = len(names) - NAMED
    return "; ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


__all__ = ["CAUTIONS", "hazard_lines", "of_accord", "of_material", "of_situation", "once", "prohibited_lines"]
