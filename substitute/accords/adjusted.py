"""What an adjustment answers: lines before and after, options, limits, and the formula that comes out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..odour.perception import Match
from ..records import STAGES, Accord, Line, Tables

DIGITS = 6  # parts are written at this many figures, rounded down so that rounding never breaks a limit


@dataclass(frozen=True)
class AdjustedLine:
    """A line before and after, and why it moved."""

    material: str
    strength: float
    before: float
    after: float
    why: str
    role: str = "support"
    optional: bool = False
    is_new: bool = False


@dataclass(frozen=True)
class Option:
    """A plain way out computed beside: its match, whether it obeys every known limit, and its active parts by id."""

    name: str
    match: float
    legal: bool
    active: Mapping[str, float] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class LimitChange:
    """A limit before and after."""

    substance: str
    limit_set: str
    limit_pct: float | None
    before_pct: float
    after_pct: float
    ok_before: bool | None
    ok_after: bool | None
    basis: str

    def to_dict(self) -> dict:
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


@dataclass(frozen=True)
class Adjusted:
    """All that ``adjust`` answers; ``carrier`` is what is left of the old total."""

    accord: str
    lines: tuple[AdjustedLine, ...]
    carrier: float
    carrier_name: str
    match: Match
    match_range: tuple[float, float]
    options: tuple[Option, ...]
    limits: tuple[LimitChange, ...]
    lost: tuple[str, ...]
    cautions: tuple[str, ...]
    cost: tuple[float | None, float | None]
    wall: dict | None
    legal_dose_pct: float | None
    legal: bool
    tables: Tables = field(repr=False)

    def formula(self) -> Accord:
        """The new accord with its carrier, ready to be written or weighed."""
        lines = [
            Line(line.material, line.after, line.strength, line.role, line.optional)
            for line in self.lines
            if line.after > 0
        ]
        if self.carrier > 0:
            lines.append(Line(self.carrier_name, self.carrier, 100.0, "support", True))
        return Accord(f"{self.accord}-adjusted", tuple(lines))

    def to_dict(self) -> dict:
        lines = [
            {
                **self.tables.materials[line.material].brief(),
                "strength_pct": line.strength,
                "parts_before": line.before,
                "parts_after": line.after,
                "why": line.why,
                "role": line.role,
                "optional": line.optional,
            }
            for line in self.lines
        ]
        if self.carrier > 0:
            lines.append(
                {
                    "id": "carrier",
                    "name": "carrier",
                    "cas": "",
                    "strength_pct": 100.0,
                    "parts_before": 0.0,
                    "parts_after": self.carrier,
                    "why": f"makes up the old total; {self.tables.materials[self.carrier_name].name} unless the product wants another",
                    "role": "support",
                    "optional": True,
                }
            )
        return {
            "accord": self.accord,
            "lines": lines,
            "match": self.match.to_dict(STAGES),
            "match_range": list(self.match_range),
            "options": [{"name": o.name, "match": o.match, "legal": o.legal} for o in self.options],
            "limits": [change.to_dict() for change in self.limits],
            "lost_for_good": list(self.lost),
            "cost_per_gram": {"before": self.cost[0], "after": self.cost[1]},
            "cautions": list(self.cautions),
            "legal": self.legal,
            "wall": self.wall,
            "legal_dose_pct": self.legal_dose_pct,
        }


@dataclass(frozen=True)
class Rulebook:
    """Limits as the optimiser needs them: ``rows(ids)`` gives (per percent of active in the product (R, N), limit (R), forbidden (N));
    ``judge(active, total)`` the verdict rows; ``dose`` percent of the product. Empty without a dose."""

    dose: float | None = None
    rows: Callable[[Sequence[str]], tuple[np.ndarray, np.ndarray, np.ndarray]] | None = None
    judge: Callable[[Mapping[str, float], float], object] | None = None


def floor_digits(value: float, digits: int = DIGITS) -> float:
    """``value`` cut after ``digits`` figures."""
    if value <= 0 or not math.isfinite(value):
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    return float(f"{math.floor(value / step * (1 + 1e-12)) * step:.{digits}g}")
