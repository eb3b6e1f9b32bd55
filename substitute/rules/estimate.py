"""A guess at a limit that is not on file, from the category that is: a warning, never a clearance.

Standards set by skin sensitisation allow per category what keeps the dose on the skin under one no-effect
level, so that their figures
stand in nearly the same ratio for every such substance (Api et al., Dermal sensitization quantitative risk
assessment, recalled). The
ratios below are recalled from published safety assessments of sensitisers, relative to category 4. Systemic
toxicity, babies and
light can only lower a figure: what stands here is an upper guess. DEVELOPERS.md says how far the rows on
file bear the ratios out.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..figures import significant
from ..records import Limit
from .context import WORLDWIDE, AppliedSet
from .exposure import Exposure
from .kinds import kind_of

FROM = "4"
RATIOS = {
    "1": 0.18,
    "2": 0.05,
    "3": 1.1,
    "5A": 0.25,
    "5B": 0.25,
    "5C": 0.25,
    "5D": 0.25,
    "6": 0.57,
    "7A": 2.0,
    "7B": 2.0,
    "8": 0.10,
    "9": 1.9,
    "10A": 6.9,
    "10B": 6.9,
    "11A": 3.8,
    "11B": 3.8,
}
WITHHELD = (
    "3",
    "5D",
    "7A",
    "7B",
    "11A",
    "11B",
)  # every full Standard on file lies under a third of the ratio there


def estimated(exposure: Exposure, applied: AppliedSet, substance: str, rows: Sequence[Limit]) -> float | None:
    """About what the set allows of ``substance``, percent of the product; ``None`` where no guess is worth
    making.

    ``rows`` are the set's own figures for it, other categories included.
    """
    ratio = RATIOS.get(applied.category)
    if ratio is None or applied.category in WITHHELD or applied.limit_set.market != WORLDWIDE:
        return None
    known = [row.max_pct for row in rows if row.category == FROM and kind_of(row).maximum and row.max_pct]
    if not known or min(known) >= 100 or not _sensitises(exposure, substance):
        return None
    return significant(ratio * min(known), 2)


def _sensitises(exposure: Exposure, substance: str) -> bool:
    hazards = exposure.tables.hazards
    words = [{one.hazard for one in hazards.get(name, ())} for name in exposure.members(substance)]
    return any("sensitises" in one and "light" not in one for one in words)
