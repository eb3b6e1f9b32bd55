"""The records of a judgement: a row per limit, the wall, the whole."""

from __future__ import annotations

from ..frozen import frozen


@frozen
class Row:
    """One limit and where the accord stands; percent by mass of the finished product, of a ``grade`` of a
    single material.

    ``limit_words`` say the limit where it is no percentage (prohibited, not to be added, a sum of
    fractions, unknown); ``used`` is the
    part of the limit that is taken up, ``None`` without one. ``estimate_pct`` is a guess where no figure is
    on file, and
    ``probably_broken`` says that it is exceeded; it clears nothing. ``applies`` is false where another rule
    stands in for this one;
    ``remote`` marks a substance that no natural on file is known to hold; ``of_dose`` that a lower dose
    would matter.
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
    used: float | None = None
    limit_words: str = ""
    estimate_pct: float | None = None
    probably_broken: bool = False
    of_dose: bool = True

    @property
    def headroom_pct(self) -> float | None:
        """Limit minus found, ``None`` where the limit is unknown or is none."""
        if self.limit_pct is None or (self.limit_pct > 0 and self.used is None):
            return None
        return self.limit_pct - self.found_pct

    @property
    def state(self) -> str:
        """Where it stands, in a word or two."""
        if self.ok is False:
            return "broken"
        if self.ok is True:
            return "within" if self.used is not None else "no maximum"
        return "probably broken" if self.probably_broken else "unknown"

    def to_dict(self) -> dict[str, object]:
        return {
            "substance": self.substance,
            "name": self.name,
            "limit_set": self.limit_set,
            "category": self.category,
            "limit_pct": self.limit_pct,
            "limit_words": self.limit_words,
            "found_pct": self.found_pct,
            "typical_pct": self.typical_pct,
            "headroom_pct": self.headroom_pct,
            "used": self.used,
            "ok": self.ok,
            "state": self.state,
            "estimate_pct": self.estimate_pct,
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


@frozen
class Wall:
    """The limit that stops the dose, and the material (``line``) that brings most of the substance."""

    substance: str
    name: str
    limit_set: str
    line: str

    def to_dict(self) -> dict[str, str]:
        return {
            "substance": self.substance,
            "name": self.name,
            "limit_set": self.limit_set,
            "line": self.line,
        }


@frozen
class Verdict:
    """All rows, strictest first.

    ``max_dose_known_pct`` is the highest dose by the limits that are known, percent of the product;
    ``None`` where none of them stops
    it, which is no permission.
    """

    dose_pct: float
    category: str
    rows: tuple[Row, ...]
    max_dose_known_pct: float | None
    wall: Wall | None
    judged: bool = True  # false where no set of limits applies
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def broken(self) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.ok is False)

    @property
    def probably_broken(self) -> tuple[Row, ...]:
        """Rows over an estimate; a warning that breaks nothing."""
        return tuple(row for row in self.rows if row.ok is None and row.probably_broken)

    @property
    def unknown(self) -> tuple[Row, ...]:
        """Rows that nobody can call kept or broken; what is merely mentioned beside another rule is not
        among them.
        """
        return tuple(row for row in self.rows if row.ok is None and row.applies)

    @property
    def governed(self) -> bool:
        """Whether any limit with a figure bears on the accord."""
        return any((row.applies and row.used is not None) or row.ok is False for row in self.rows)

    @property
    def within_known(self) -> bool | None:
        """``False`` if a known limit is broken; ``True`` only where one governs and nothing is unknown;
        else ``None``.
        """
        if self.broken:
            return False
        return True if self.judged and self.governed and not self.unknown else None

    @property
    def max_dose_pct(self) -> float | None:
        """The highest dose; ``None`` unless a limit governs it and every limit that a dose could break is
        known.
        """
        return None if any(row.of_dose for row in self.unknown) else self.max_dose_known_pct

    def to_dict(self) -> dict[str, object]:
        return {
            "dose_pct": self.dose_pct,
            "category": self.category,
            "limits": [row.to_dict() for row in self.rows],
            "within_known": self.within_known,
            "max_dose_pct": self.max_dose_pct,
            "max_dose_known_pct": self.max_dose_known_pct,
            "wall": self.wall.to_dict() if self.wall else None,
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }
