"""What was learned, laid over the tables: the person's own potencies, profiles and tried pairs; ours is
never changed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from ..figures import figure
from ..frozen import frozen
from ..records import Figure, Source, Tables, Tried, TriedBlend
from .heard import Matter, Parts, matter_of
from .learn import Learned, MatterAmount, learn
from .profile import Shift, learn_profiles
from .records import Verdict

SOURCE = "bench-book"
LEAST_WEIGHT = 0.05  # a word under this is not in the profile any more
NEARNESS = {
    "near": "near",
    "fair": "fairly near",
    "far": "far from it",
    "not_smelled": "that you hardly smell it",
}


@frozen
class Lessons:
    """All that a book teaches, worked out on the tables as on file."""

    learned: Learned
    shifts: tuple[Shift, ...]
    tried: Mapping[tuple[str, str], Tried]
    blends: Mapping[str, tuple[TriedBlend, ...]]


def lessons(tables: Tables, verdicts: Sequence[Verdict], parts: Parts | None = None) -> Lessons:
    """What the verdicts that hold teach; ``parts`` knows the amounts in the trials of accords, without it
    what was said of lines teaches nothing."""
    known = [one for one in verdicts if one.holds and set(one.materials) <= set(tables.materials)]
    learned = learn(tables, known, parts)
    swaps: dict[tuple[str, str], list[Verdict]] = {}
    mixed: dict[Matter, list[Verdict]] = {}
    for one in known:
        if one.kind == "swap":
            swaps.setdefault(one.pair, []).append(one)
        elif one.kind == "blend":
            mixed.setdefault(matter_of(one), []).append(one)
    blends: dict[str, tuple[TriedBlend, ...]] = {}
    for matter, said in mixed.items():
        found = _blend(matter, said, learned)
        blends[matter.place] = (*blends.get(matter.place, ()), found)
    tried = {pair: _tried(pair, said, learned) for pair, said in swaps.items()}
    return Lessons(learned, learn_profiles(tables, known), tried, blends)


def _tried(pair: tuple[str, str], said: Sequence[Verdict], learned: Learned) -> Tried:
    amount = learned.pairs.get(pair)
    told = _told(said, amount)
    ids = tuple(one.id for one in said)
    if amount is None:
        return Tried(*pair, _nearness(said), None, None, None, told, ids)
    return Tried(*pair, _nearness(said), amount.grams, amount.low, amount.high, told, ids)


def _blend(matter: Matter, said: Sequence[Verdict], learned: Learned) -> TriedBlend:
    """A blend as tried; without a verdict on its amount it stays what was tried last."""
    amount = learned.amounts.get(matter)
    parts = {id: grams / matter.total for id, grams in matter.parts}
    grams = amount.grams if amount else sum(said[-1].mixed.values())
    low, high = (amount.low, amount.high) if amount else (None, None)
    ids = tuple(one.id for one in said)
    return TriedBlend(matter.place, parts, _nearness(said), grams, low, high, _told(said, amount), ids)


def _nearness(said: Sequence[Verdict]) -> str:
    return next((one.nearness for one in reversed(said) if one.nearness), "")


def _told(said: Sequence[Verdict], amount: MatterAmount | None) -> str:
    nearness = _nearness(said)
    words = "; ".join(dict.fromkeys(one.words for one in said if one.words))
    told = [NEARNESS[nearness]] if nearness else []
    if amount:
        together = " together" if said[0].kind == "blend" else ""
        told.append(f"about {figure(amount.grams, 2)} g{together} for 1 g right")
    if words:
        told.append(f"“{words}”")
    numbers = ", ".join(str(one.id) for one in said)
    return f"{', '.join(told) or 'tried'} (verdict{'s' if len(said) > 1 else ''} {numbers})"


def lay_over(tables: Tables, found: Lessons) -> Tables:
    """The tables as this person's nose has them."""
    if not (found.tried or found.blends or found.learned.tried):
        return tables
    properties = {name: dict(figures) for name, figures in tables.properties.items()}
    nose: dict[str, float] = {}
    for name, told in found.learned.loudness.items():
        nose[name] = told.factor
        figure = properties.get(name, {}).get("potency")
        if figure is not None:
            value = figure.value * told.factor
            properties[name]["potency"] = Figure(value, figure.at, figure.basis, SOURCE)
    profiles = {name: dict(words) for name, words in tables.profiles.items()}
    for shift in found.shifts:
        profiles[shift.material].pop(shift.word, None)
        if shift.after >= LEAST_WEIGHT:
            profiles[shift.material][shift.word] = shift.after
    source = Source(SOURCE, "The person's own nose, from the verdicts in their bench book", "practice")
    figures = sorted((name, factor) for name, factor in nose.items())
    shifted = sorted((s.material, s.word, s.after) for s in found.shifts)
    digest = hashlib.sha256(f"{tables.digest}{figures}{shifted}".encode()).hexdigest()
    return replace(
        tables,
        properties=properties,
        profiles=profiles,
        nose=nose,
        tried=found.tried,
        blends=found.blends,
        sources={**tables.sources, SOURCE: source},
        digest=digest if nose or shifted else tables.digest,
    )
