"""One weak line in its accord, and what each material does for it: amounts from a trace up, the least that
reaches most of what any does.

Amounts are in steps of 1, 2 and 5, from a trace (1 in 10,000 of the accord) to part for part with the line,
never above what practice gives or the situation lets through. The worth of one is

    2 x gain of the line's own words at the stages that need it
    - (1 - match) + 0.1 x radiance + 0.5 where practice names it

so a material that smells of something else pays for it twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..accords.solutions import VERY_STRONG
from ..figures import significant
from ..odour.perception import Impression, match
from ..records import Accord, Lifting
from ..rules.situation import Situation
from ..standins.bench import Bench
from .lift_asked import LEAST_RADIANT, MOST_ROUGH, practice_for, radiance, rough
from .lift_words import LEAST_GAIN, reason
from .lifted import Amount, Lift
from .voices import Array, Voice, heard

LEAST_LIKE, LIKE_AND_AIRY = (
    0.50,
    0.15,
)  # of the line's own smell that is shared then; of what airs besides, less will do
LEAST_MATCH = 0.90  # a lift that takes more than this from the character is no lift
TRACE, STEPS, FEW_STEPS = 1e-4, (1.0, 2.0, 5.0), (1.0, 5.0)  # of the accord's mass
MOST_OF = 0.8  # of what any amount does: the least amount that reaches it is told
GAIN_WEIGHT, RADIANCE_WEIGHT, PRACTICE = 2.0, 0.1, 0.5


class LiftTrial:
    """One weak line in its accord, and what each material does for it."""

    def __init__(
        self, bench: Bench, accord: Accord, held: Mapping[str, float], weak: Voice, situation: Situation
    ) -> None:
        self.bench, self.accord, self.held, self.weak = bench, accord, held, weak
        self.situation, self.tables = situation, bench.tables
        self.before = heard(bench, held)
        self.own = heard(bench, {weak.material: held[weak.material]})
        self.judged = np.array([share is not None for share in weak.shares])
        lacks = np.array([0.0 if share is None else 1.0 - share for share in weak.shares])
        need = lacks * self.before.strength / max(float(self.before.strength.max()), 1e-300)
        need[weak.needs] += 1.0
        self.need: Array = need / need.sum()
        self.practice = practice_for(self.tables, weak.material)
        self.voiced = self._line_strength(self.before)

    def _line_strength(self, whole: Impression) -> Array:
        """Strength (T) of the accord in the line's own words."""
        found: Array = whole.strength * np.minimum(whole.shares, self.own.shares).sum(axis=1)
        return found

    def best(self, name: str) -> tuple[float, Lift] | None:
        """(worth, suggestion) of ``name`` at its best amount; ``None`` where it is no lift for this
        line."""
        row, airy = self.practice.get(name), radiance(self.tables, name)
        if row is None and not self._is_asked(name, airy):
            return None
        tries = []
        for parts in self._amounts(name, row):
            worth, amount, after = self._tried(name, parts)
            if amount.match < LEAST_MATCH:
                break  # more of it takes more away
            if row is not None or (worth > 0 and amount.gain >= 1.0 + LEAST_GAIN):
                tries.append((worth, amount, after))
        if not tries:
            return None
        most = max(worth for worth, _, _ in tries)
        enough = MOST_OF * most if most > 0 else most
        worth, amount, after = next(one for one in tries if one[0] >= enough)
        series = tuple(one for _, one, _ in tries)
        bonus = RADIANCE_WEIGHT * airy + (PRACTICE if row else 0.0)
        return worth + bonus, self._lift(name, amount, after, _few(series, amount), row)

    def _is_asked(self, name: str, airy: float) -> bool:
        """Whether it smells of the line at the stage that needs it, or airs, and is still there then;
        nothing rough."""
        staged, place, needs = self.bench.staged, self.bench.staged.rows([name])[0], self.weak.needs
        if staged.potency[place, needs] <= 0 or rough(self.tables, name) > MOST_ROUGH:
            return False
        like = float(np.minimum(staged.profile[place, needs], self.own.shares[needs]).sum())
        return like >= LEAST_LIKE or (airy >= LEAST_RADIANT and like >= LIKE_AND_AIRY)

    def _amounts(self, name: str, row: Lifting | None) -> list[float]:
        """Parts to try: 1, 2, 5 of each power of ten, from a trace to part for part with the line."""
        total = self.accord.total
        low, high = total * TRACE, self.held[self.weak.material]
        if row is not None:
            there = self.held.get(name, 0.0)
            low, high = row.low_pct * total / 100.0, row.high_pct * total / 100.0 - there
        usual = self.tables.value(name, "use_high_pct")
        if usual is not None:
            high = min(high, usual * total / 100.0)
        most = self.situation.most_pct(name) if self.situation.judged else None
        if most is not None and self.situation.dose:
            high = min(high, most * total / self.situation.dose - self.held.get(name, 0.0))
        if high <= 0 or low > high:
            return []
        places = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
        steps = [
            significant(step * 10.0**place, 3) for place in places for step in (STEPS if row else FEW_STEPS)
        ]
        return [parts for parts in steps if low * 0.999 <= parts <= high * 1.001] or [significant(high, 2)]

    def _tried(self, name: str, parts: float) -> tuple[float, Amount, Impression]:
        after = heard(self.bench, {**self.held, name: self.held.get(name, 0.0) + parts})
        alike, gain = match(after, self.before), self._gain(after)
        worth = GAIN_WEIGHT * float(self.need @ gain) - (1.0 - alike.overall)
        return worth, Amount(parts, alike.overall, float(1.0 + gain[self.weak.needs])), after

    def _gain(self, after: Impression) -> Array:
        now, was = self._line_strength(after), self.voiced
        return np.divide(now, was, out=np.ones_like(was), where=was > 0) - 1.0

    def _lift(
        self, name: str, amount: Amount, after: Impression, series: tuple[Amount, ...], row: Lifting | None
    ) -> Lift:
        potency = self.tables.value(name, "potency") or 0.0
        trace = amount.parts < 0.005 * self.accord.total
        return Lift(
            name,
            self.weak.material,
            amount.parts,
            amount.match,
            match(after, self.before).stages,
            self._or_none(1.0 + self._gain(after)),
            self._or_none(after.strength / np.maximum(self.before.strength, 1e-300)),
            series,
            row,
            1.0 if potency > VERY_STRONG or trace else 10.0,
            reason(self.tables, self.accord, self.weak, name, amount, row),
            self.situation.status(name),
        )

    def _or_none(self, values: Array) -> tuple[float | None, ...]:
        return tuple(float(v) if yes else None for v, yes in zip(values, self.judged))


def _few(series: Sequence[Amount], best: Amount) -> tuple[Amount, ...]:
    """The least, the best and the most worth a strip."""
    return tuple(dict.fromkeys((series[0], best, series[-1])))
