"""A shelf to print: what stands there, dilutions to prepare, cautions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from ..accords.solutions import TENFOLD, VERY_STRONG
from ..frozen import frozen
from ..odour.staging import tenacity
from ..records import Shelf, Tables
from ..rules.cautions import hazard_lines
from ..shown import Shown
from ..standins.words import hours, listed
from .lesson import main_words

SOLUTION_GRAMS = 10.0  # of each solution to prepare
SHELF_CAUTIONS = (
    "Ethanol burns and so does its vapour: no flame, spark or hot plate near it.",
    (
        "Wear gloves and eye protection with neat materials; smell from strips, "
        "never from the bottle or from skin."
    ),
    "Label each bottle with name, strength, carrier and date.",
    (
        "This sheet is arithmetic. The supplier's documents, the law where you are and a qualified assessor "
        "decide what may be done."
    ),
)


@frozen
class ShelfList(Shown):
    """A shelf to print: ``materials`` with what they smell of and cautions, and ``solutions`` to prepare;
    grams and percent by mass."""

    asked_by: ClassVar[str] = "shelf"

    shelf: str
    materials: tuple[dict[str, Any], ...]
    solutions: tuple[dict[str, Any], ...]
    cautions: tuple[str, ...] = SHELF_CAUTIONS

    def to_dict(self) -> dict[str, Any]:
        """The JSON."""
        return {
            "shelf": self.shelf,
            "materials": list(self.materials),
            "solutions": list(self.solutions),
            "cautions": list(self.cautions),
        }


def shelf_list(
    tables: Tables, shelf: Shelf, status: Callable[[str], tuple[str, ...]] = lambda _: ()
) -> ShelfList:
    """A shelf to print, and the solutions to prepare: 10 % of everything for strips, 1 % of what is very
    strong."""
    rows: list[dict[str, Any]] = []
    make: list[dict[str, Any]] = []
    for name in shelf.materials():
        material = tables.materials[name]
        strengths = shelf.strengths(name)
        grams = [item.grams for item in shelf.stock if item.material == name]
        row: dict[str, Any] = {
            **material.brief(),
            "strengths": ", ".join(f"{strength:g}" for strength in strengths),
            "left_g": None if None in grams else sum(one for one in grams if one is not None),
        }
        if material.kind == "solvent":
            rows.append({**row, "smells_of": "", "lasts": "carrier", "caution": ""})
            continue
        said = {
            "smells_of": main_words(tables, name),
            "lasts": hours(tenacity(tables, name)),
            "caution": _caution(tables, name, status(name)),
        }
        rows.append(row | said)
        make += _solutions(tables, name, strengths)
    return ShelfList(shelf.name, tuple(rows), tuple(make))


def _solutions(tables: Tables, name: str, strengths: Sequence[float]) -> list[dict[str, Any]]:
    """Rows of the solutions that are not there yet; each at most tenfold thinner than its source."""
    wanted = [10.0, 1.0] if (tables.value(name, "potency") or 0.0) > VERY_STRONG else [10.0]
    have, rows = set(strengths), []
    for strength in wanted:
        source = min((s for s in have if s > strength), default=None)
        if strength in have or source is None or source / strength > TENFOLD:
            continue
        grams = SOLUTION_GRAMS * strength / source
        rows.append(
            {
                "id": name,
                "name": tables.materials[name].name,
                "strength_pct": strength,
                "grams": SOLUTION_GRAMS,
                "from_pct": source,
                "from_grams": grams,
                "carrier_grams": SOLUTION_GRAMS - grams,
            }
        )
        have.add(strength)
    return rows


def _caution(tables: Tables, name: str, law: Sequence[str]) -> str:
    said = [*law]
    if (tables.value(name, "potency") or 0.0) > VERY_STRONG:
        said.append("very strong: keep neat apart, dip at 1 %")
    if name not in tables.profiles:
        said.append("no odour profile on file")
    if name in tables.releases:
        said.append(f"gives back {listed([tables.materials[row.id].name for row in tables.releases[name]])}")
    said += hazard_lines(tables, name)
    return "; ".join(said)
