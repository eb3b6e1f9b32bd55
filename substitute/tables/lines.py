"""What a line of a person's accord or shelf says: its material, how much of it, in what strength."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Protocol

from ..errors import Complaint, InputError, NotFound, Several, TableError
from ..figures import given
from ..frozen import frozen
from ..records import Accord, ToFill
from .figures import split_unit
from .files import NO_MASS
from .readings import Reading, noted
from .rows import Row, shorten

MOST_PARTS = 1e9
EMPTY_NAME = "is empty; an id, name, synonym, label or CAS number is wanted"
NEAT = ("neat", "pure", "pur", "puro", "rein", "undiluted", "unverdünnt")
GRAMS = {"g": 1.0, "mg": 0.001, "kg": 1000.0}

Bases = Callable[[str], "Accord | None"]


class Reader(Protocol):
    """Whatever reads names: :class:`~substitute.tables.names.Names`, or one that remembers."""

    def read(self, text: str) -> Reading: ...


@frozen
class Filling:
    """A line to fill, and the file it stands in."""

    file: str
    line: ToFill

    def __str__(self) -> str:
        return f"{self.file}: {self.line}"

    def to_dict(self) -> dict[str, object]:
        """``{file, row, text, parts, suggestions}``."""
        return {"file": self.file, **asdict(self.line), "suggestions": list(self.line.suggestions)}


def told_of_names() -> dict[str, list[dict[str, object]]]:
    """What answers carry of how names were read: ``read_as`` and ``to_fill``, each only where there is
    something to say."""
    things = noted()
    found = {
        "read_as": [one.to_dict() for one in things if isinstance(one, Reading)],
        "to_fill": [one.to_dict() for one in things if isinstance(one, Filling)],
    }
    return {name: some for name, some in found.items() if some}


@dataclass
class Found:
    """What comes of the rows of a file: lines or stock, what is wrong, what was read how, and what is left
    to fill."""

    faults: list[Complaint] = field(default_factory=list)
    read_as: list[str] = field(default_factory=list)
    to_fill: list[ToFill] = field(default_factory=list)

    def note(self, row: Row, reading: Reading | None) -> None:
        if reading is not None and not reading.plain:
            self.read_as.append(f"row {row.number}: {reading}")


def amounts(rows: Sequence[Row], column: str, faults: list[Complaint]) -> list[float | None]:
    """A column of amounts in one unit: plain parts, grams and their kin, or percent, not a mixture of
    these."""
    found: list[float | None] = []
    units: dict[str, Row] = {}
    for row in rows:
        text, unit = split_unit(row.text(column))
        reason = NO_MASS.get(unit)
        try:
            if reason:
                raise row.fault(column, f"'{shorten(row.text(column))}' is no mass: {reason}")
            value = row.value(column, text, low=0.0, high=MOST_PARTS)
        except TableError as error:
            faults.extend(error.complaints)
            found.append(None)
            continue
        if value is not None:
            kind = "g" if unit in GRAMS else unit
            if units and kind not in units and value > 0:
                other = next(iter(units))
                faults.append(
                    Complaint(
                        row.file,
                        row.number,
                        column,
                        f"is in {kind or 'plain parts'}, row {units[other].number} "
                        f"in {other or 'plain parts'}; one unit for all",
                    )
                )
            elif value > 0:
                units.setdefault(kind, row)
            value *= GRAMS.get(unit, 1.0)
        found.append(value)
    return found


def read_material(
    row: Row, text: str, names: Reader, bases: Bases | None
) -> tuple[Reading | None, Accord | None]:
    """What a line names: a material, or an accord of the folder, which beats a short name but not a
    material's own."""
    reading: Reading | None = None
    fault: NotFound | Several | None = None
    try:
        reading = names.read(text)
        if reading.sure:
            return reading, None
    except (NotFound, Several) as error:
        fault = error
    except InputError as error:
        raise row.fault("material", str(error)) from None
    try:
        base = bases(text) if bases else None
    except TableError:
        raise
    except InputError as error:
        raise row.fault("material", str(error)) from None
    if base is None and fault is not None:
        raise row.fault("material", str(fault), fault.suggestions) from None
    return reading, base


def strength_of(row: Row, reading: Reading | None = None) -> float:
    """The strength of a row in percent by mass, above 0 and up to 100: its own cell, else what the name
    says, else 100."""
    named = reading.strength if reading else None
    text, unit = split_unit(row.text("strength_pct"))
    if text.casefold() in NEAT:
        text, unit = "100", ""
    if unit not in ("", "%"):
        raise row.fault(
            "strength_pct", f"'{row.text('strength_pct')}' is not a percentage: allowed is above 0 to 100"
        )
    strength = row.value("strength_pct", text)
    if strength is None:
        return named or 100.0
    if not 0 < strength <= 100:
        raise row.fault(
            "strength_pct", f"{row.text('strength_pct')} is out of range: allowed is above 0 to 100"
        )
    if named is not None and strength != named:
        raise row.fault(
            "strength_pct", f"{strength:g} is not the {given(named)} that the name says; which is it?"
        )
    return strength
