"""The whole answer about one accord in one product: limits, highest dose, declarations, controls, and what is not known.

Limits are listed for what the accord is found to hold. What a natural was not looked into for is listed by natural, so that it is
seen without burying the figures; a synthetic that no natural on file is known to hold is not asked of naturals.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..records import Accord, Tables
from .context import Context
from .controls import ControlRow, controls
from .declare import Declarations, declare
from .exposure import Exposure
from .judge import Row, Verdict, judge

SHOWN = 8


def found_rows(rows: Iterable[Row]) -> tuple[Row, ...]:
    """The rows of substances that the accord holds (or that speak of one of its materials)."""
    return tuple(row for row in rows if row.sources or row.found_pct > 0)


def not_looked_for(rows: Iterable[Row]) -> dict[str, tuple[str, ...]]:
    """Natural -> substances under a rule that it was not assessed for, leaving out what no natural is known to hold."""
    found: dict[str, dict[str, None]] = {}
    for row in rows:
        if row.ok is None and not row.remote:
            for natural in row.unassessed:
                found.setdefault(natural, {})[row.substance] = None
    return {natural: tuple(substances) for natural, substances in found.items()}


@dataclass(frozen=True)
class Report:
    """All that ``limits`` answers."""

    accord: str
    verdict: Verdict
    declarations: Declarations
    controls: tuple[ControlRow, ...]
    judged: bool = True  # false where no set of limits applies: nothing was looked at

    @property
    def rows(self) -> tuple[Row, ...]:
        return found_rows(self.verdict.rows)

    @property
    def ok(self) -> bool | None:
        """``False`` if a known limit is broken, ``None`` if anything is not known, ``True`` only where neither is so."""
        if self.verdict.broken:
            return False
        if not self.judged:
            return None
        unknown = any(row.ok is None for row in self.rows) or not_looked_for(self.verdict.rows)
        return None if unknown else True

    def in_words(self) -> str:
        """One line: broken, unknown or within what is on file - never 'fine' while something is unknown."""
        if not self.judged:
            return "not judged: no set of limits on file applies, which is not a clearance"
        broken = {row.substance for row in self.verdict.broken}
        unknown = {row.substance for row in self.rows if row.ok is None} - broken
        naturals = not_looked_for(self.verdict.rows)
        parts = [f"{len(broken)} broken" if broken else "none broken by the figures on file"]
        if unknown:
            parts.append(f"{len(unknown)} unknown")
        if naturals:
            parts.append(
                f"{len(naturals)} natural{'s' if len(naturals) != 1 else ''} not looked into for everything"
            )
        if len(parts) == 1 and not broken:
            return "within every limit on file"
        return ", ".join(parts) + ("" if broken else ": this is not a clearance")

    def unknown_lines(self) -> tuple[str, ...]:
        """What is not known, a line each: a limit's figure, or what a natural holds."""
        found = []
        for row in self.rows:
            if row.ok is None and row.limit_pct is None:
                found.append(
                    f"{row.name}: {row.limit_set} has a rule for it and no figure on file ({row.note or row.rule})"
                )
            elif row.ok is None and not row.unassessed:
                found.append(f"{row.name}: {row.note or row.rule} ({row.limit_set})")
        for natural, substances in not_looked_for(self.verdict.rows).items():
            more = f" and {len(substances) - SHOWN} more" if len(substances) > SHOWN else ""
            found.append(
                f"{natural} was not looked into for {', '.join(substances[:SHOWN])}{more}: ask the supplier for an analysis"
            )
        return tuple(dict.fromkeys(found))

    def to_dict(self) -> dict:
        verdict = self.verdict.to_dict()
        return {
            "accord": self.accord,
            "dose_pct": verdict["dose_pct"],
            "category": verdict["category"],
            "verdict": self.in_words(),
            "ok": self.ok,
            "limits": [row.to_dict() for row in self.rows],
            "max_dose_pct": verdict["max_dose_pct"] if self.judged else None,
            "max_dose_certain": self.ok is not None and verdict["max_dose_certain"],
            "wall": verdict["wall"],
            **self.declarations.to_dict(),
            "controls": [{"id": row.material, **row.to_dict()} for row in self.controls],
            "unknown": list(self.unknown_lines()),
            "not_looked_for": [
                {"natural": natural, "substances": list(names)}
                for natural, names in not_looked_for(self.verdict.rows).items()
            ],
            "notes": verdict["notes"],
            "cautions": verdict["cautions"],
        }


def report(tables: Tables, exposure: Exposure, context: Context, accord: Accord, dose: float) -> Report:
    """Everything the rules say of ``accord`` at ``dose`` percent of the product."""
    active = accord.active()
    return Report(
        accord.name,
        judge(tables, exposure, context, active, accord.total, dose),
        declare(tables, exposure, context, active, accord.total, dose),
        controls(tables, context, [name for name, parts in active.items() if parts > 0]),
        bool(context.sets),
    )
