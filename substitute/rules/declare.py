"""What must be named on the label: substances found above a threshold, isomers and naturals summed under one printed name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..records import Tables
from .book import Rule, book_of, substance_name
from .context import Context, check_dose
from .exposure import Exposure
from .found import Finder, fractions_of, over

DECLARE, BETWEEN = "declare", "between"


@dataclass(frozen=True)
class Declaration:
    """A label name and what calls for it, percent by mass of the finished product.

    ``state`` is ``declare``, or ``between`` where the high constituents exceed the threshold and the typical ones do not.
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

    def to_dict(self) -> dict:
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


@dataclass(frozen=True)
class UnknownLabel:
    """A label name that may or may not be called for: naturals present that were not assessed for it."""

    label: str
    substance: str
    limit_set: str
    unassessed: tuple[str, ...]

    def to_dict(self) -> dict:
        return {
            "label": self.label,
            "substance": self.substance,
            "limit_set": self.limit_set,
            "unassessed": list(self.unassessed),
        }


@dataclass(frozen=True)
class Declarations:
    """Rows by amount, largest first, and what cannot be said."""

    rows: tuple[Declaration, ...]
    unknown: tuple[UnknownLabel, ...]

    def to_dict(self) -> dict:
        return {
            "declare": [row.to_dict() for row in self.rows],
            "declare_unknown": [row.to_dict() for row in self.unknown],
        }


def declare(
    tables: Tables,
    exposure: Exposure,
    context: Context,
    active: Mapping[str, float],
    total_parts: float,
    dose: float,
) -> Declarations:
    """Label names that ``dose`` percent of the accord calls for; the parameters are those of :func:`~substitute.rules.judge.judge`.

    A threshold must be exceeded; equal does not call for the name. Raises as :func:`~substitute.rules.judge.judge` does.
    """
    dose = check_dose(dose)
    found = Finder(exposure, fractions_of(tables, active, total_parts))
    rows, unknown = [], []
    for rule in _strictest(book_of(exposure, context).labels):
        if rule.max_pct is None:
            continue
        label = rule.note or substance_name(tables, rule.substance)
        high, typical = found.amounts(rule.substance)
        amount, usual = dose * sum(part for _, part in high), dose * sum(part for _, part in typical)
        if over(amount, rule.max_pct):
            state = DECLARE if over(usual, rule.max_pct) else BETWEEN
            sources = tuple(sorted(((name, dose * part) for name, part in high), key=lambda pair: -pair[1]))
            rows.append(
                Declaration(
                    label,
                    rule.substance,
                    rule.limit_set,
                    amount,
                    usual,
                    rule.max_pct,
                    state,
                    rule.basis,
                    rule.check,
                    sources,
                )
            )
        else:
            unassessed = exposure.unassessed(found.fractions, rule.substance)
            if unassessed:
                unknown.append(UnknownLabel(label, rule.substance, rule.limit_set, unassessed))
    rows.sort(key=lambda row: (-row.found_pct, row.label))
    return Declarations(tuple(rows), tuple(unknown))


def _strictest(rules: tuple[Rule, ...]) -> list[Rule]:
    """One rule per printed name and substance: the lowest threshold."""
    kept: dict[tuple[str, str], Rule] = {}
    for rule in rules:
        key = rule.note, rule.substance
        if rule.max_pct is not None and (key not in kept or rule.max_pct < kept[key].max_pct):
            kept[key] = rule
    return list(kept.values())
