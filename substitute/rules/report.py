"""The whole answer about one accord in one product: limits, highest dose, declarations, controls, and what is not known."""

from __future__ import annotations

from dataclasses import dataclass

from ..records import Accord, Tables
from .context import Context
from .controls import ControlRow, controls
from .declare import Declarations, declare
from .exposure import Exposure
from .judge import Verdict, judge

SHOWN_UNKNOWN = 12


@dataclass(frozen=True)
class Report:
    """All that ``limits`` answers."""

    accord: str
    verdict: Verdict
    declarations: Declarations
    controls: tuple[ControlRow, ...]

    def in_words(self) -> str:
        """One line: broken, unknown or within what is on file - never 'fine' while something is unknown."""
        broken = {row.substance for row in self.verdict.broken}
        unknown = {row.substance for row in self.verdict.unknown} - broken
        if broken:
            return f"{len(broken)} broken{f', {len(unknown)} unknown' if unknown else ''}"
        if unknown:
            return f"none broken by the figures on file, {len(unknown)} unknown: this is not a clearance"
        return "within every limit on file"

    def unknown_lines(self) -> tuple[str, ...]:
        """What is not known, a line each: the limit's figure, or what a natural holds."""
        found = []
        for row in self.verdict.unknown:
            if row.limit_pct is None:
                found.append(f"{row.name}: {row.limit_set} has a rule for it and no figure on file ({row.note or row.rule})")
            elif row.unassessed:
                found.append(f"{row.name}: not looked for in {', '.join(row.unassessed[:4])}{' …' if len(row.unassessed) > 4 else ''} ({row.limit_set})")
            else:
                found.append(f"{row.name}: {row.note or row.rule} ({row.limit_set})")
        return tuple(dict.fromkeys(found))

    def to_dict(self) -> dict:
        verdict = self.verdict.to_dict()
        return {
            "accord": self.accord,
            "dose_pct": verdict["dose_pct"],
            "category": verdict["category"],
            "verdict": self.in_words(),
            "ok": verdict["ok"],
            "limits": verdict["limits"],
            "max_dose_pct": verdict["max_dose_pct"],
            "max_dose_certain": verdict["max_dose_certain"],
            "wall": verdict["wall"],
            **self.declarations.to_dict(),
            "controls": [{"id": row.material, **row.to_dict()} for row in self.controls],
            "unknown": list(self.unknown_lines()),
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
    )
