"""The whole answer about one accord in one product: limits, highest dose, declarations, controls, and what
is not known.

Limits are listed for what the accord is found to hold. What a natural was not looked into for is listed by
natural, so that it is
seen without burying the figures; a synthetic that no natural on file is known to hold is not asked of
naturals.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from ..figures import cut, given, percent
from ..frozen import frozen
from ..records import Accord
from ..shown import Shown
from .cautions import of_accord
from .controls import ControlRow, controls
from .declare import Declarations, declare
from .situation import Situation
from .verdict import Row, Verdict

SHOWN = 8
WITHIN = "within the limits on file"
NONE_BROKEN = "none broken by the figures on file"


def found_rows(rows: Iterable[Row]) -> tuple[Row, ...]:
    """The rows of substances that the accord holds (or that speak of one of its materials)."""
    return tuple(row for row in rows if row.sources or row.found_pct > 0)


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def not_looked_for(rows: Iterable[Row]) -> dict[str, tuple[str, ...]]:
    """Natural -> substances under a rule that it was not assessed for, leaving out what no natural is known
    to hold.
    """
    found: dict[str, dict[str, None]] = {}
    for row in rows:
        if row.ok is None and not row.remote:
            for natural in row.unassessed:
                found.setdefault(natural, {})[row.substance] = None
    return {natural: tuple(substances) for natural, substances in found.items()}


@frozen
class Report(Shown):
    """All that ``limits`` answers."""

    asked_by: ClassVar[str] = "limits"

    accord: str
    verdict: Verdict
    declarations: Declarations
    controls: tuple[ControlRow, ...]
    cautions: tuple[str, ...] = ()
    product: str = ""

    @property
    def rows(self) -> tuple[Row, ...]:
        return found_rows(self.verdict.rows)

    @property
    def all_cautions(self) -> tuple[str, ...]:
        """Of the accord, then of the product and of all arithmetic."""
        return tuple(dict.fromkeys((*self.cautions, *self.verdict.cautions)))

    @property
    def within_known(self) -> bool | None:
        """``False`` if a known limit is broken; ``True`` only where one governs and nothing is unknown;
        else ``None``.
        """
        return self.verdict.within_known

    def in_words(self) -> str:
        """One line; at best "within the limits on file", and only where one governs and no doubt is left."""
        verdict = self.verdict
        if not verdict.judged:
            return "not judged: no set of limits on file applies, which is no permission"
        broken = {row.substance for row in verdict.broken}
        probable = {row.substance for row in verdict.probably_broken} - broken
        unknown = {row.substance for row in self.rows if row.ok is None and row.applies} - broken - probable
        naturals = not_looked_for(verdict.rows)
        doubts = []
        if probable:
            doubts.append(f"{len(probable)} probably broken, by estimate")
        if unknown:
            doubts.append(f"{len(unknown)} unknown")
        if naturals:
            doubts.append(f"{_counted(len(naturals), 'material')} not looked into for everything")
        if broken:
            return ", ".join([f"{len(broken)} broken", *doubts])
        if not verdict.governed:
            if doubts:
                return f"no figure on file bears on it, {', '.join(doubts)}: this is not a clearance"
            return "nothing on file limits this; that is no permission"
        if not doubts:
            return WITHIN if verdict.within_known else f"{NONE_BROKEN}: this is not a clearance"
        return f"{NONE_BROKEN}, {', '.join(doubts)}: this is not a clearance"

    def highest_in_words(self) -> str:
        """The highest dose, or what stands in the way of a number."""
        verdict, known = self.verdict, self.verdict.max_dose_known_pct
        if not verdict.judged:
            return "not known: nothing was judged"
        if known == 0.0:
            return "none: no dose mends it"
        if verdict.max_dose_pct is not None:
            return percent(cut(verdict.max_dose_pct, 3))
        doubtful = [row for row in verdict.unknown if row.of_dose]
        names = list(dict.fromkeys(row.name for row in doubtful if row.sources))
        names += [f"what {name} may hold besides" for name in not_looked_for(doubtful)]
        if not names:
            return "no figure: nothing on file limits it, which is no permission"
        more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
        told = [f"not known: {', '.join(names[:SHOWN])}{more}"]
        if over := list(dict.fromkeys(row.name for row in doubtful if row.probably_broken)):
            told.append(f"by estimate probably broken at this dose: {', '.join(over[:SHOWN])}")
        told.append(
            "no figure on file gives a highest dose, and unknown is not harmless"
            if known is None
            else f"by what is known at most {percent(cut(known, 3))}"
        )
        return "; ".join(told)

    def unknown_lines(self) -> tuple[str, ...]:
        """What is not known, a line each: a limit's figure, or what a natural holds."""
        found = []
        for row in self.rows:
            if row.ok is None and row.estimate_pct is not None:
                where = (
                    "over it, probably broken" if row.probably_broken else "under it, which clears nothing"
                )
                found.append(
                    f"{row.name}: no figure on file in {row.limit_set} for category {row.category}; about "
                    f"{given(row.estimate_pct)} by estimate (an upper guess), {percent(row.found_pct)} "
                    f"found: {where}"
                )
            elif row.ok is None and row.limit_pct is None:
                found.append(
                    f"{row.name}: {row.limit_set} has a rule for it and no figure on file "
                    f"({row.note or row.rule})"
                )
            elif row.ok is None and not row.unassessed:
                found.append(f"{row.name}: {row.note or row.rule} ({row.limit_set})")
        for natural, substances in not_looked_for(self.verdict.rows).items():
            more = f" and {len(substances) - SHOWN} more" if len(substances) > SHOWN else ""
            found.append(
                f"{natural} was not looked into for {', '.join(substances[:SHOWN])}{more}: ask the "
                f"supplier for an analysis"
            )
        return tuple(dict.fromkeys(found))

    def to_dict(self) -> dict[str, object]:
        verdict = self.verdict.to_dict()
        return {
            "accord": self.accord,
            "dose_pct": verdict["dose_pct"],
            "category": verdict["category"],
            "product": self.product or None,
            "verdict": self.in_words(),
            "within_known": self.within_known,
            "limits": [row.to_dict() for row in self.rows],
            "max_dose_pct": verdict["max_dose_pct"],
            "max_dose_known_pct": verdict["max_dose_known_pct"],
            "max_dose_words": self.highest_in_words(),
            "wall": verdict["wall"],
            **self.declarations.to_dict(),
            "controls": [{"id": row.material, **row.to_dict()} for row in self.controls],
            "unknown": list(self.unknown_lines()),
            "not_looked_for": [
                {"natural": natural, "substances": list(names)}
                for natural, names in not_looked_for(self.verdict.rows).items()
            ],
            "notes": verdict["notes"],
            "cautions": list(self.all_cautions),
        }


def report(situation: Situation, accord: Accord) -> Report:
    """Everything the rules say of ``accord`` at the situation's dose.

    Raises :class:`~substitute.errors.InputError` where no product or no dose is named.
    """
    active = accord.active()
    verdict = situation.judge(active, accord.total)
    return Report(
        accord.name,
        verdict,
        declare(situation.compiled, active, accord.total, verdict.dose_pct),
        controls(situation.tables, situation.context, [name for name, parts in active.items() if parts > 0]),
        of_accord(situation, active),
        situation.context.product,
    )
