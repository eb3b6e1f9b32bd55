"""Shelves and labels: a person's own files, in and out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from ..errors import Complaint, TableError, complain
from ..records import Shelf, Stock
from .bottle import CAS, CAS_PREFIX, HYPHENS, cas_is_valid
from .files import read_rows
from .lines import EMPTY_NAME, MOST_PARTS, Found, Reader, amounts, read_material, strength_of
from .names import label_faults
from .readings import note
from .rows import Row, shorten
from .writing import to_csv

SHELF_COLUMNS = ("material", "strength_pct", "grams", "price_per_gram")
LABEL_COLUMNS = ("label", "cas")
ID = re.compile(r"(?=[a-z0-9-]*[a-z])[a-z0-9]+(-[a-z0-9]+)*")


def read_shelf(source: object, names: Reader, *, name: str | None = None) -> Shelf:
    """A shelf; only ``material`` is required.

    Raises with every fault.
    """
    label = name or str(source)
    rows = read_rows(source, ("material",), SHELF_COLUMNS, name=label)
    try:
        found = shelf_from_rows(rows, names, Path(label).stem, label)
    except TableError as error:
        raise rows.blamed(error) from None
    for told in rows.told:
        note(f"{label}: {told}")
    return replace(found, read_as=(*rows.told, *found.read_as))


def shelf_from_rows(rows: Iterable[Row], names: Reader, name: str, file: str) -> Shelf:
    """All stock, or a :class:`~substitute.errors.TableError` with all faults."""
    stock: list[Stock] = []
    all_ = Found()
    rows = list(rows)
    for row, grams in zip(rows, amounts(rows, "grams", all_.faults)):
        before = len(all_.faults)
        reading = None
        strength, price = 100.0, None
        try:
            if not row.text("material"):
                raise row.fault("material", EMPTY_NAME)
            reading, _ = read_material(row, row.text("material"), names, None)
        except TableError as error:
            all_.faults.extend(error.complaints)
        try:
            strength = strength_of(row, reading)
            price = row.figure("price_per_gram", low=0.0, high=MOST_PARTS)
        except TableError as error:
            all_.faults.extend(error.complaints)
        if reading and len(all_.faults) == before:
            all_.note(row, reading)
            stock.append(Stock(reading.material.id, strength, grams, price))
    if all_.faults:
        raise TableError(sorted(all_.faults, key=lambda fault: fault.row or 0))
    if not stock:
        raise complain(file, None, "material", "has a header but no lines; the shelf is empty")
    return Shelf(tuple(stock), name, tuple(all_.read_as))


def write_shelf(shelf: Shelf) -> str:
    """A shelf as CSV text."""
    return to_csv(
        SHELF_COLUMNS, [(item.material, item.strength, item.grams, item.price) for item in shelf.stock]
    )


def read_labels(source: object, *, name: str | None = None) -> dict[str, str]:
    """Label -> CAS number or id.

    Raises with every fault; two labels that fall together are one.
    """
    label = name or str(source)
    rows = read_rows(source, LABEL_COLUMNS, name=label)
    faults: list[Complaint] = []
    found: list[tuple[Row, str, str]] = []
    for row in rows:
        target = CAS_PREFIX.sub("", row.text("cas")).translate(HYPHENS)
        if CAS.fullmatch(target):
            if not cas_is_valid(target):
                faults.append(
                    row.complaint("cas", f"{target} fails its check digit; read it on the bottle once more")
                )
        elif not ID.fullmatch(target):
            shown = shorten(row.text("cas"))
            faults.append(
                row.complaint(
                    "cas", f"'{shown}' is neither a CAS number (digits-dd-d, as on the bottle) nor an id"
                )
            )
        if not row.text("label"):
            faults.append(row.complaint("label", "is empty; the name on the bottle is wanted"))
        found.append((row, row.text("label"), target))
    for place, message in label_faults((text, target) for _, text, target in found if text):
        faults.append([one for one in found if one[1]][place][0].complaint("label", message))
    if faults:
        raise TableError(sorted(faults, key=lambda fault: fault.row or 0))
    return {text: target for _, text, target in found}
