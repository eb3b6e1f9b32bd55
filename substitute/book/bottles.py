"""The bottles of a book: read, written, and seen as the shelf."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..errors import InputError, NotFound, Several
from ..figures import given
from ..records import Shelf, Stock
from ..tables.lines import MOST_PARTS, Reader, read_material, strength_of
from ..tables.names import plain as alike
from ..tables.rows import Row, shorten
from .records import Bottle


def read_bottles(rows: Iterable[Row], names: Reader) -> tuple[Bottle, ...]:
    """The bottles; a material is known by its own cell, else by its CAS number, else by what the label says.

    Raises :class:`~substitute.errors.TableError` for an empty label, two labels that read alike, and what
    no material answers to.
    """
    found: list[Bottle] = []
    held: dict[str, str] = {}
    for row in rows:
        label = row.text("label").strip()
        if not label:
            raise row.fault("label", "is empty; the name on the bottle is wanted, each its own")
        if alike(label) in held:
            raise row.fault(
                "label",
                (
                    f"'{shorten(label)}' reads like '{shorten(held[alike(label)])}'; each bottle wants "
                    "its own label"
                ),
            )
        held[alike(label)] = label
        found.append(_bottle(row, label, names))
    return tuple(found)


def _bottle(row: Row, label: str, names: Reader) -> Bottle:
    column = next((name for name in ("material", "cas") if row.text(name).strip()), "label")
    cell = row if column == "material" else Row(row.file, row.number, {"material": row.text(column)})
    try:
        reading, _ = read_material(cell, row.text(column), names, None)
    except InputError as error:
        told = getattr(error, "complaints", ())
        raise row.fault(column, told[0].message if told else str(error)) from None
    assert reading is not None
    if column == "material" and not row.text("strength_pct"):
        reading = _with_label(reading, label, names)
    return Bottle(
        label,
        reading.material.id,
        strength_of(row, reading),
        row.figure("grams", low=0.0, high=MOST_PARTS),
        row.figure("price_per_gram", low=0.0, high=MOST_PARTS),
        row.text("cas"),
        row.text("lot"),
        row.text("date"),
        row.text("note"),
    )


def _with_label(reading: Any, label: str, names: Reader) -> Any:
    """The reading with the strength that the label states, where the row itself states none."""
    try:
        told = names.read(label)
    except (NotFound, Several, InputError):
        return reading
    return told if told.material.id == reading.material.id and told.strength else reading


def bottle_cells(bottle: Bottle) -> dict[str, Any]:
    """A bottle as cells of ``bottles.csv``."""
    return {
        "label": bottle.label,
        "material": bottle.material,
        "cas": bottle.cas,
        "lot": bottle.lot,
        "strength_pct": bottle.strength,
        "grams": bottle.grams,
        "price_per_gram": bottle.price,
        "date": bottle.date,
        "note": bottle.note,
    }


def shelf_of(bottles: Iterable[Bottle], name: str) -> Shelf | None:
    """The bottles that are not empty, as a shelf; ``None`` if there is no bottle at all."""
    bottles = list(bottles)
    stock = tuple(Stock(b.material, b.strength, b.grams, b.price) for b in bottles if b.grams != 0)
    return Shelf(stock, name) if bottles else None


def bottles_of(shelf: Shelf, names: Mapping[str, str], date: str) -> tuple[Bottle, ...]:
    """A shelf as bottles to begin a book with; labels are the materials' names, with the strength of a
    solution."""
    found: list[Bottle] = []
    seen: set[str] = set()
    for item in shelf.stock:
        label = names[item.material] + (f" {given(item.strength)}" if item.strength < 100 else "")
        plain_label, number = label, 2
        while alike(label) in seen:
            label, number = f"{plain_label}, bottle {number}", number + 1
        seen.add(alike(label))
        found.append(Bottle(label, item.material, item.strength, item.grams, item.price, date=date))
    return tuple(found)
