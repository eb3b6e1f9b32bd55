"""The unknowns of a nose: how loud each material is to it, and what materials have in common.

A natural is as its constituents are, each by its part of the natural's odour, as other kinds of the same
plant and part are, and a rest of its own. So a verdict on one bergamot oil says much of the other, and a
little of limonene.
"""

from __future__ import annotations

import math

from ..odour.staging import natural_mix
from ..records import Tables
from ..standins.amounts import SPREAD, USE_SPREAD

PEOPLE = (
    1.6  # how far two noses lie apart about one material, as a factor at one standard deviation (estimate)
)
KIND = 0.8  # of the variance of a natural's rest: what other kinds of the plant and part share (estimate)


class Causes:
    """The unknowns: a log factor for every material concerned, and how a material's own f is made up of
    them."""

    def __init__(self, tables: Tables):
        self.tables = tables
        self.place: dict[str, int] = {}
        self.sd: list[float] = []

    def add(self, name: str, sd: float) -> int:
        if name not in self.place:
            self.place[name] = len(self.sd)
            self.sd.append(sd)
        return self.place[name]

    def spread(self, material: str) -> float:
        """Standard deviation of f before anything was tried."""
        figure = self.tables.properties.get(material, {}).get("potency")
        off = SPREAD[figure.basis] if figure else USE_SPREAD
        return math.hypot(math.log(off), math.log(PEOPLE))

    def parts(self, material: str) -> dict[str, float]:
        """Part of each constituent in a natural's odour; nothing for a molecule."""
        if material not in self.tables.constituents:
            return {}
        return natural_mix(self.tables, material).odour_shares()

    def made_of(self, material: str) -> list[tuple[str, float, float]]:
        """(cause, share, its standard deviation) whose sum is f of a material: its constituents, what it
        shares with other kinds of the same plant, and a rest of its own; together :meth:`spread`."""
        found = [(part, share, self.spread(part)) for part, share in self.parts(material).items()]
        whole = self.spread(material)
        shared = sum((share * sd) ** 2 for _, share, sd in found)
        rest = math.sqrt(max(whole**2 - shared, (0.25 * whole) ** 2)) if found else whole
        plant = self.plant(material)
        if plant:
            found.append((plant, 1.0, rest * math.sqrt(KIND)))
            rest *= math.sqrt(1.0 - KIND)
        return [*found, (material, 1.0, rest)]

    def plant(self, material: str) -> str:
        """What a natural has in common with other kinds of the same thing: plant and part; '' if not on
        file."""
        record = self.tables.materials[material]
        return f"{record.botanical}, {record.part}" if record.kind == "natural" and record.botanical else ""

    def row(self, material: str) -> dict[int, float]:
        """f of a material as a sum over the unknowns."""
        return {self.add(cause, sd): share for cause, share, sd in self.made_of(material)}

    def known_row(self, material: str) -> tuple[dict[int, float], float]:
        """(f of a material over the unknowns there are, standard deviation of what is outside them)."""
        row: dict[int, float] = {}
        outside = 0.0
        for cause, share, sd in self.made_of(material):
            if cause in self.place:
                row[self.place[cause]] = share
            else:
                outside += (share * sd) ** 2
        return row, math.sqrt(outside)
