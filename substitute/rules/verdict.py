"""The records of a judgement: a row per limit, the wall, the whole."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One limit and where the accord stands; percent by mass of the finished product unless ``rule`` says otherwise.

    ``sum_of_fractions`` counts in percent of each member's own limit, ``grade`` in percent of a single material. ``applies`` is
    false where another rule stands in for this one; ``remote`` marks a substance that no natural on file is known to hold.
    """

    substance: str
    name: str
    limit_set: str
    category: str
    limit_pct: float | None
    found_pct: float
    typical_pct: float
    ok: bool | None
    basis: str
    rule: str
    note: str
    check: str
    source: str
    sources: tuple[tuple[str, float], ...] = ()
    unassessed: tuple[str, ...] = ()
    governs: bool = False
    applies: bool = True
    remote: bool = False

    @property
    def headroom_pct(self) -> float | None:
        """Limit minus found, ``None`` where the limit is unknown."""
        return None if self.limit_pct is None else self.limit_pct - self.found_pct

    def to_dict(self) -> dict:
        return {
            "substance": self.substance,
            "name": self.name,
            "limit_set": self.limit_set,
            "category": self.category,
            "limit_pct": self.limit_pct,
            "found_pct": self.found_pct,
            "typical_pct": self.typical_pct,
            "headroom_pct": self.headroom_pct,
            "ok": self.ok,
            "basis": self.basis,
            "from": [{"id": name, "pct": pct} for name, pct in self.sources],
            "rule": self.rule,
            "note": self.note,
            "check": self.check,
            "source": self.source,
            "unassessed": list(self.unassessed),
            "governs": self.governs,
            "applies": self.applies,
            "remote": self.remote,
        }


@dataclass(frozen=True)
class Wall:
    """The limit that stops the dose, and the material (``line``) that brings most of the substance."""

    substance: str
    name: str
    limit_set: str
    line: str

    def to_dict(self) -> dict:
        return {
            "substance": self.substance,
            "name": self.name,
            "limit_set": self.limit_set,
            "line": self.line,
        }


@dataclass(frozen=True)
class Verdict:
    """All rows, strictest first, and the highest dose that the known ones allow (percent of the product)."""

    dose_pct: float
    category: str
    rows: tuple[Row, ...]
    max_dose_pct: float
    max_dose_certain: bool
    wall: Wall | None
    ok: bool | None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def broken(self) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.ok is False)

    @property
    def unknown(self) -> tuple[Row, ...]:
        """Rows that nobody can call fine or broken; what is merely mentioned beside another rule is not among them."""
        return tuple(row for row in self.rows if row.ok is None and row.applies)

    def to_dict(self) -> dict:
        return {
            "dose_pct": self.dose_pct,
            "category": self.category,
            "limits": [row.to_dict() for row in self.rows],
            "max_dose_pct": self.max_dose_pct,
            "max_dose_certain": self.max_dose_certain,
            "wall": self.wall.to_dict() if self.wall else None,
            "ok": self.ok,
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }
