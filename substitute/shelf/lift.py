"""What helps an accord carry: first which core line carries weakly and why, then what lifts that one, and
how little of it.

Who is asked: what practice names for the line's own smell (``lifts.csv``); what smells of much of it and
lasts to the stage that needs it; and materials that air and soften, the ones a perfumer calls radiant.

Amounts are bench amounts in steps of 1, 2 and 5, from a trace (1 in 10,000 of the accord) to part for part
with the line, never above what practice gives or the situation lets through. The best is the least that
reaches most of what any amount does for

    2 x gain of the line's own words at the stages that need it
    - (1 - match) + 0.1 x radiance + 0.5 where practice names it

so a material that smells of something else pays for it twice. Of near twins only the better is told.

Not modelled: how far a material spreads in a room, which is what a lift is for. So no large gain of
strength is promised.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np

from ..accords.solutions import VERY_STRONG
from ..errors import InputError
from ..odour.perception import Impression, match
from ..odour.staging import tenacity
from ..records import STAGES, Accord, Lifting, Shelf, Tables
from ..rules.cautions import of_accord
from ..rules.situation import Situation
from ..shown import Shown
from ..standins.bench import Bench
from ..standins.candidates import smellable
from ..standins.words import hours, listed
from .coverage import judged_lines
from .voices import Array, Voice, core_of, heard, voices

RADIANT = ("airy", "soft", "fresh", "clean-musk", "watery")
LEAST_RADIANT = 0.25  # of the profile
LEAST_LIKE, LIKE_AND_AIRY = (
    0.50,
    0.15,
)  # of the line's own smell that is shared then; of what airs besides, less will do
LEAST_MATCH = 0.90  # a lift that takes more than this from the character is no lift
TRACE, STEPS, FEW_STEPS = 1e-4, (1.0, 2.0, 5.0), (1.0, 5.0)  # of the accord's mass
TRACE_PCT = 2.0  # practice that stays under this percent is a trace
MOST_OF = 0.8  # of what any amount does: the least amount that reaches it is told
GAIN_WEIGHT, RADIANCE_WEIGHT, PRACTICE = 2.0, 0.1, 0.5
TWINS = 0.8  # likeness in the space from which two suggestions say the same
BATCH = 10.0  # grams of the accord that drops are told for
LEAST_GAIN = 0.005  # of the line's notes: less is no lift, unless practice says so
ROUGH = {
    "animalic",
    "pungent",
    "heavy",
    "metallic",
    "fatty",
    "sulphurous",
    "burnt",
    "bready",
    "oily",
    "bitter",
    "nutty",
    "coffee",
    "phenolic",
}
MOST_ROUGH = 0.15  # of the profile
MAIN_WORD = 0.7  # of the profile's largest weight: from here on a word is what a line smells of


@dataclass(frozen=True)
class Amount:
    """One amount to try: parts, the match with the accord as it was, and the line's words at the stage
    that needs it (after / before)."""

    parts: float
    match: float
    gain: float

    def to_dict(self) -> dict[str, float]:
        return {"parts": self.parts, "match": self.match, "line_strength": self.gain}


@dataclass(frozen=True)
class Lift:
    """A suggestion for the line ``of``; ``amounts`` from the least to the most worth a strip,
    ``practice`` the row that names it."""

    material: str
    of: str
    parts: float
    match: float
    stages: tuple[float | None, ...]
    line: tuple[float | None, ...]
    total: tuple[float | None, ...]
    amounts: tuple[Amount, ...]
    practice: Lifting | None
    strip_pct: float
    why: str
    law: tuple[str, ...]

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        return {
            **tables.materials[self.material].brief(),
            "lifts": tables.materials[self.of].brief(),
            "parts": self.parts,
            "match": self.match,
            "match_by_stage": dict(zip(STAGES, self.stages)),
            "line_strength": dict(zip(STAGES, self.line)),
            "total_strength": dict(zip(STAGES, self.total)),
            "amounts": [one.to_dict() for one in self.amounts],
            "practice": self.practice.note if self.practice else None,
            "basis": self.practice.basis if self.practice else "estimate",
            "source": self.practice.source if self.practice else "",
            "strip_pct": self.strip_pct,
            "why": self.why,
            "law": list(self.law),
        }


@dataclass(frozen=True)
class LiftAnswer(Shown):
    """All that ``lift`` answers; ``lines`` are the core lines, the weakest voice first: that one is
    lifted."""

    asked_by: ClassVar[str] = "lift"

    accord: str
    lines: tuple[Voice, ...]
    suggestions: tuple[Lift, ...]
    strips: tuple[str, ...]
    notes: tuple[str, ...]
    tables: Tables = field(repr=False)
    cautions: tuple[str, ...] = ()

    @property
    def weak(self) -> Voice:
        """The line that carries most weakly."""
        return self.lines[0]

    def to_dict(self) -> dict[str, Any]:
        return {
            "accord": self.accord,
            "lines": [one.to_dict(self.tables) for one in self.lines],
            "suggestions": [found.to_dict(self.tables) for found in self.suggestions],
            "strips": list(self.strips),
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }


def radiance(tables: Tables, material: str) -> float:
    """The part of a material's own profile that airs and softens, 0 to 1."""
    profile = tables.profiles.get(material, {})
    return sum(profile.get(word, 0.0) for word in RADIANT) / (sum(profile.values()) or 1.0)


def _rough(tables: Tables, material: str) -> float:
    """The part of a profile that no lift has, 0 to 1."""
    profile = tables.profiles.get(material, {})
    return sum(profile.get(word, 0.0) for word in ROUGH) / (sum(profile.values()) or 1.0)


def practice_for(tables: Tables, material: str) -> dict[str, Lifting]:
    """What practice names for what ``material`` mainly smells of, by the material that lifts; the line
    itself never."""
    profile = tables.profiles.get(material, {})
    top = max(profile.values(), default=0.0)
    main = sorted((w for w in profile if profile[w] >= MAIN_WORD * top), key=lambda w: (-profile[w], w))
    found: dict[str, Lifting] = {}
    for word in main:
        for row in tables.lifts.get(word, ()):
            if row.material != material:
                found.setdefault(row.material, row)
    return found


def lift(
    bench: Bench,
    accord: Accord,
    *,
    shelf: Shelf | None = None,
    top: int = 3,
    situation: Situation,
) -> LiftAnswer:
    """Up to ``top`` lifts for the weakest core line of ``accord``, best first.

    From the ``shelf`` only, if one is given; nothing that is forbidden in the situation, no more of
    anything than its known limits let through. Raises :class:`~substitute.errors.InputError` for an
    accord in which nothing smells.
    """
    tables = bench.tables
    held = judged_lines(tables, accord)
    if not held:
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to lift"
        )
    core, notes = core_of(accord, held)
    lines = voices(bench, held, core)
    lines = tuple(
        sorted(lines, key=lambda one: bool(situation.forbidden(one.material)))
    )  # what may not be there is not lifted
    trial = _Trial(bench, accord, held, lines[0], situation)
    on_shelf = set(shelf.materials()) if shelf else None
    asked = [
        name
        for name in smellable(tables)
        if name not in core
        and not situation.forbidden(name)
        and (name in on_shelf if on_shelf is not None else not situation.status(name))
    ]
    tried = sorted(filter(None, map(trial.best, asked)), key=lambda item: (-item[0], item[1].material))
    chosen = _told(bench, [one for _, one in tried], top)
    if not chosen:
        where = "on the shelf " if shelf else ""
        name = tables.materials[lines[0].material].name
        notes.append(f"nothing {where}lifts {name} and leaves the accord what it is")
    return LiftAnswer(
        accord.name,
        lines,
        chosen,
        tuple(_strips(tables, lines[0], chosen)),
        tuple(notes),
        tables,
        of_accord(situation, [*held, *(one.material for one in chosen)]),
    )


def _told(bench: Bench, found: Sequence[Lift], top: int) -> tuple[Lift, ...]:
    """The best without near twins; the last place goes to a trace of a natural, where practice names one
    that is left out."""
    row, like = bench.space.row, bench.space.like
    chosen: list[Lift] = []
    for one in found:
        if len(chosen) < top and all(like(one.material)[row[other.material]] < TWINS for other in chosen):
            chosen.append(one)
    naturals = [one for one in found if _is_trace(bench.tables, one)]
    if naturals and len(chosen) == top > 1 and not any(_is_trace(bench.tables, one) for one in chosen):
        chosen[-1] = naturals[0]
    return tuple(chosen)


def _is_trace(tables: Tables, one: Lift) -> bool:
    row = one.practice
    return row is not None and row.high_pct <= TRACE_PCT and tables.materials[one.material].kind == "natural"


def _strips(tables: Tables, weak: Voice, chosen: Sequence[Lift]) -> Iterable[str]:
    """What to smell before anything is weighed (common practice, no source)."""
    if not chosen:
        return
    name = tables.materials[weak.material].name
    yield f"the accord at 10 % on three strips; note when {name} is heard and when it is gone"
    for one in chosen:
        yield (
            f"{tables.materials[one.material].name} at {one.strip_pct:g} % on a strip of its own: "
            "hold it a hand behind the accord's, "
            f"then nearer; stop where {name} is louder and the new note not yet heard"
        )
    yield "then the first amount of each on fresh strips after 10 min, 2 h and 24 h, the old accord beside it"


class _Trial:
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
        if staged.potency[place, needs] <= 0 or _rough(self.tables, name) > MOST_ROUGH:
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
            float(f"{step * 10.0**place:.3g}") for place in places for step in (STEPS if row else FEW_STEPS)
        ]
        return [parts for parts in steps if low * 0.999 <= parts <= high * 1.001] or [float(f"{high:.2g}")]

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
            self._why(name, amount, row),
            self.situation.status(name),
        )

    def _or_none(self, values: Array) -> tuple[float | None, ...]:
        return tuple(float(v) if yes else None for v, yes in zip(values, self.judged))

    def _why(self, name: str, amount: Amount, row: Lifting | None) -> str:
        tables, stage = self.tables, STAGES[self.weak.needs]
        line = tables.materials[self.weak.material].name
        words = sorted(tables.profiles[name].items(), key=lambda item: (-item[1], item[0]))[:3]
        described = listed([tables.descriptors[word].name for word, _ in words])
        more = "more of what is in it already: " if name in self.held else ""
        known = f"for {tables.descriptors[row.descriptor].name}: {row.note}; " if row else ""
        share = 100.0 * amount.parts / (self.accord.total + amount.parts)
        amount_told = f"{amount.parts:g} parts ({share:.2g} %: {_weighed(share)})"
        does = f"bring the notes of {line} to {100 * amount.gain:.0f} % of what they were at the {stage}"
        if amount.gain < 1.0 + LEAST_GAIN:
            does = (
                "are worth a strip; the model hears no more of the line from them, it is practice that speaks"
            )
        return f"{more}{known}{described}, noticed for {hours(tenacity(tables, name))}; {amount_told} {does}"


def _weighed(share: float) -> str:
    """How much of which solution goes into 10 g of the accord."""
    grams = BATCH * share / 100.0
    for strength in (100.0, 10.0, 1.0):
        if grams * 100.0 / strength >= 0.05 or strength == 1.0:
            told = "neat" if strength == 100.0 else f"of a {strength:g} % solution"
            return f"for 10 g of the accord {grams * 100.0 / strength:.2g} g {told}"
    raise AssertionError


def _few(series: Sequence[Amount], best: Amount) -> tuple[Amount, ...]:
    """The least, the best and the most worth a strip."""
    return tuple(dict.fromkeys((series[0], best, series[-1])))
