"""What must be named on the label: substances found above a threshold, isomers and naturals summed under
one printed name.
"""

from __future__ import annotations

from collections.abc import Mapping

from ..frozen import frozen
from .compiled import Compiled
from .context import check_dose
from .judge import find, fractions_of
from .kinds import over
from .rule import substance_name

DECLARE, BETWEEN = "declare", "between"


@frozen
class Declaration:
    """A label name and what calls for it, percent by mass of the finished product.

    ``state`` is ``declare``, or ``between`` where the high constituents exceed the threshold and the
    typical ones do not.
    """

    label: str
    substance: str
    limit_set: str
    found_pct: float
    typical_pct: float
    threshold_pct: float
    state: str
    basis: str
    check: str
    sources: tuple[tuple[str, float], ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "label": self.label,
            "substance": self.substance,
            "limit_set": self.limit_set,
            "found_pct": self.found_pct,
            "typical_pct": self.typical_pct,
            "threshold_pct": self.threshold_pct,
            "state": self.state,
            "basis": self.basis,
            "check": self.check,
            "from": [{"id": name, "pct": pct} for name, pct in self.sources],
        }


@frozen
class UnknownLabel:
    """A label name that may or may not be called for: naturals present that were not assessed for it."""

    label: str
    substance: str
    limit_set: str
    unassessed: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "label": self.label,
            "substance": self.substance,
            "limit_set": self.limit_set,
            "unassessed": list(self.unassessed),
        }


@frozen
class Declarations:
    """Rows by amount, largest first, and what cannot be said."""

    rows: tuple[Declaration, ...]
    unknown: tuple[UnknownLabel, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "declare": [row.to_dict() for row in self.rows],
            "declare_unknown": [row.to_dict() for row in self.unknown],
        }


def declare(compiled: Compiled, active: Mapping[str, float], total_parts: float, dose: float) -> Declarations:
    """Label names that ``dose`` percent of the accord calls for; the parameters are those of
    :func:`~substitute.rules.judge.judge`.

    A threshold must be exceeded; equal does not call for the name. Raises as
    :func:`~substitute.rules.judge.judge` does.
    """
    dose = check_dose(dose)
    tables = compiled.exposure.tables
    found = find(compiled, fractions_of(tables, active, total_parts))
    rows, unknown = [], []
    for number in _strictest(compiled):
        entry = found.get(number)
        if entry is None:
            continue
        rule, threshold = entry.term.rule, entry.term.limit or 0.0
        label = rule.note or substance_name(tables, rule.substance)
        amount, usual = dose * entry.high, dose * entry.typical
        if over(amount, threshold):
            state = DECLARE if over(usual, threshold) else BETWEEN
            parts = sorted(((name, dose * high) for name, high, _ in entry.adds), key=lambda pair: -pair[1])
            rows.append(
                Declaration(
                    label,
                    rule.substance,
                    rule.limit_set,
                    amount,
                    usual,
                    threshold,
                    state,
                    rule.basis,
                    rule.check,
                    tuple(parts),
                )
            )
        elif entry.unassessed:
            unknown.append(UnknownLabel(label, rule.substance, rule.limit_set, entry.unassessed))
    rows.sort(key=lambda row: (-row.found_pct, row.label))
    return Declarations(tuple(rows), tuple(unknown))


def _strictest(compiled: Compiled) -> list[int]:
    """One term per printed name and substance: the lowest threshold."""
    kept: dict[tuple[str, str], int] = {}
    for number in compiled.labels:
        term = compiled.terms[number]
        key = term.rule.note, term.rule.substance
        if term.limit is not None and (
            key not in kept or term.limit < (compiled.terms[kept[key]].limit or 0.0)
        ):
            kept[key] = number
    return list(kept.values())
