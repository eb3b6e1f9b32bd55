"""What was learned, laid over the tables: the person's own potencies, profiles and tried pairs; ours is
never changed."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..records import Figure, Source, Tables, Tried
from .learn import Learned, learn
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


@dataclass(frozen=True)
class Lessons:
    """All that a book teaches, worked out on the tables as on file."""

    learned: Learned
    shifts: tuple[Shift, ...]
    tried: dict[tuple[str, str], Tried]


def lessons(tables: Tables, verdicts: Sequence[Verdict]) -> Lessons:
    """What the verdicts that hold teach."""
    held = [one for one in verdicts if one.holds and one.kind == "swap"]
    known = [one for one in held if one.about in tables.materials and one.line in tables.materials]
    learned = learn(tables, known)
    pairs: dict[tuple[str, str], list[Verdict]] = {}
    for one in known:
        pairs.setdefault(one.pair, []).append(one)
    tried = {pair: _tried(pair, said, learned) for pair, said in pairs.items()}
    return Lessons(learned, learn_profiles(tables, known), tried)


def _tried(pair: tuple[str, str], said: Sequence[Verdict], learned: Learned) -> Tried:
    nearness = next((one.nearness for one in reversed(said) if one.nearness), "")
    amount = learned.pairs.get(pair)
    words = "; ".join(dict.fromkeys(one.words for one in said if one.words))
    told = [NEARNESS[nearness]] if nearness else []
    if amount:
        told.append(f"about {amount.grams:.2g} g for 1 g right")
    if words:
        told.append(f"“{words}”")
    numbers = ", ".join(str(one.id) for one in said)
    text = f"{', '.join(told) or 'tried'} (verdict{'s' if len(said) > 1 else ''} {numbers})"
    ids = tuple(one.id for one in said)
    if amount is None:
        return Tried(*pair, nearness, None, None, None, text, ids)
    return Tried(*pair, nearness, amount.grams, amount.low, amount.high, text, ids)


def lay_over(tables: Tables, found: Lessons) -> Tables:
    """The tables as this person's nose has them."""
    if not found.tried:
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
        sources={**tables.sources, SOURCE: source},
        digest=digest if nose or shifted else tables.digest,
    )
