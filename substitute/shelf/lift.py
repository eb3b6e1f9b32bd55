"""Which clean, radiant material would help an accord carry, and how little of it.

A lift, by figures: not strong (potency from 0.1 to 1.5, coumarin = 1), still there at the heart (tenacity of 6 h or more), and clean:
at least half of its profile lies in words of fresh, airy, soft, citrus, musky or light floral notes, and under 8 % in words that are heavy,
animal, burnt or pungent. Materials that air and soften (airy, soft, fresh) are the ones a perfumer calls radiant; how much of the
profile they are is its radiance.

The core's strength at a stage is the accord's total strength times the part of its smell that speaks in the words of the core lines
(their own mixture at that stage, overlap of shares). Of each candidate the amount is the least by which it is 6 % of the smell at
the stage that most needs it: loud or not, little carried by the core. Candidates rank by

    radiance + 2 x relative gain of the core's strength (over the stages, by need) - (1 - match)

so a material that smells of something else pays for it twice, and one whose words go along with the core's gains.

Not modelled: how far a material spreads in a room, which is what a lift is for. So no large gain of strength is promised: radiance
says who is asked, and the model says how little is enough and that the character stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from ..errors import InputError
from ..odour.perception import Impression, impression, match
from ..odour.staging import tenacity
from ..records import STAGES, Accord, Shelf, Tables
from ..rules.cautions import of_accord
from ..rules.situation import Situation
from ..shown import Shown
from ..standins.bench import Bench
from ..standins.candidates import smellable
from ..standins.words import hours, listed
from .coverage import judged_lines

POTENCY = (0.1, 1.5)
LEAST_HOURS = 6.0
RADIANT = ("airy", "soft", "fresh", "clean-musk", "watery")
CLEAN_FAMILIES = ("airy", "citrus", "musky", "floral")
CLEAN = {*RADIANT, "tea", "cucumber", "cyclamen", "cool", "powdery", "creamy"}
NOT_CLEAN = {
    "animalic",
    "pungent",
    "leathery",
    "heavy",
    "indolic",
    "narcissus",
    "metallic",
    "fatty",
    "sulphurous",
    "burnt",
    "oily",
    "animal-musk",
    "waxy",
    "dusty",
    "bitter",
}
LEAST_CLEAN, MOST_UNCLEAN, LEAST_RADIANT = 0.5, 0.08, 0.25
NOTICED_SHARE = 0.06  # the part of the smell that a lift becomes at the stage that needs it
MOST_PCT = 20.0  # of the accord's mass
LEAST_MATCH = 0.90  # a lift that takes more than this from the character is no lift
GAIN_WEIGHT = 2.0


@dataclass(frozen=True)
class Lift:
    """A suggestion: parts to add, the match with the accord as it was, and the core's strength per stage (after / before)."""

    material: str
    parts: float
    match: float
    stages: tuple[float | None, ...]
    core: tuple[float | None, ...]
    total: tuple[float | None, ...]
    radiance: float
    why: str
    law: tuple[str, ...]

    def to_dict(self, tables: Tables) -> dict:
        return {
            **tables.materials[self.material].brief(),
            "parts": self.parts,
            "match": self.match,
            "match_by_stage": dict(zip(STAGES, self.stages)),
            "core_strength": dict(zip(STAGES, self.core)),
            "total_strength": dict(zip(STAGES, self.total)),
            "why": self.why,
            "law": list(self.law),
        }


@dataclass(frozen=True)
class LiftAnswer(Shown):
    """All that ``lift`` answers; ``core_share`` is the part of the smell that the core lines are at each stage."""

    asked_by: ClassVar[str] = "lift"

    accord: str
    core: tuple[str, ...]
    core_share: tuple[float | None, ...]
    suggestions: tuple[Lift, ...]
    notes: tuple[str, ...]
    tables: Tables = field(repr=False)
    cautions: tuple[str, ...] = ()

    def to_dict(self) -> dict:
        return {
            "accord": self.accord,
            "core": list(self.core),
            "core_share": dict(zip(STAGES, self.core_share)),
            "suggestions": [found.to_dict(self.tables) for found in self.suggestions],
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }


def word_parts(tables: Tables, material: str) -> tuple[float, float, float]:
    """(clean, unclean, radiant) parts of a material's own profile, 0 to 1."""
    profile = tables.profiles.get(material, {})
    whole = sum(profile.values()) or 1.0

    def family(word: str) -> str:
        while tables.descriptors[word].parent:
            word = tables.descriptors[word].parent
        return word

    unclean = sum(
        weight for word, weight in profile.items() if word in NOT_CLEAN or family(word) in NOT_CLEAN
    )
    clean = sum(
        weight
        for word, weight in profile.items()
        if word not in NOT_CLEAN and (word in CLEAN or family(word) in CLEAN_FAMILIES)
    )
    radiant = sum(weight for word, weight in profile.items() if word in RADIANT)
    return clean / whole, unclean / whole, radiant / whole


def is_lift(tables: Tables, material: str) -> bool:
    """Whether a material is clean and radiant by the rule above."""
    potency = tables.value(material, "potency") or 0.0
    clean, unclean, radiant = word_parts(tables, material)
    return (
        POTENCY[0] <= potency <= POTENCY[1]
        and tenacity(tables, material) >= LEAST_HOURS
        and clean >= LEAST_CLEAN
        and unclean <= MOST_UNCLEAN
        and radiant >= LEAST_RADIANT
    )


def lift(
    bench: Bench,
    accord: Accord,
    *,
    shelf: Shelf | None = None,
    top: int = 3,
    situation: Situation,
) -> LiftAnswer:
    """Up to ``top`` lifts for ``accord``, best first; from the ``shelf`` only, if one is given, and nothing that is forbidden.

    Raises :class:`~substitute.errors.InputError` for an accord in which nothing smells.
    """
    tables = bench.tables
    held = judged_lines(tables, accord)
    if not held:
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to lift"
        )
    core, notes = _core(accord, held)
    ids = list(held)
    before = _heard(bench, ids, [held[name] for name in ids])
    own = _heard(bench, core, [held[name] for name in core])
    voiced = _core_strength(before, own)
    judged = before.strength >= 0.01 * before.strength.max()
    share = _core_share(bench, ids, held, core)
    on_shelf = set(shelf.materials()) if shelf else None
    asked = [
        name
        for name in smellable(tables)
        if name not in core
        and is_lift(tables, name)
        and not situation.forbidden(name)
        and (name in on_shelf if on_shelf is not None else not situation.status(name))
    ]
    found = [
        one
        for one in (
            _best_amount(
                bench, accord, held, name, before, own, voiced, judged, share, situation.status(name)
            )
            for name in asked
        )
        if one
    ]
    found.sort(key=lambda item: (-item[0], item[1].material))
    if not found:
        notes.append(
            f"nothing clean and radiant {'on the shelf ' if shelf else ''}goes along with the core of this accord"
        )
    return LiftAnswer(
        accord.name,
        tuple(core),
        tuple(float(s) if yes else None for s, yes in zip(share, judged)),
        tuple(one for _, one in found[:top]),
        tuple(notes),
        tables,
        of_accord(situation, [*held, *(one.material for _, one in found[:top])]),
    )


def _core(accord: Accord, held) -> tuple[list[str], list[str]]:
    """Lines whose role is core; without any, the three largest."""
    core = [
        name for name in held if any(line.material == name and line.role == "core" for line in accord.lines)
    ]
    if core:
        return core, []
    return sorted(held, key=lambda name: (-held[name], name))[:3], [
        "no line has the role core: the three largest lines are taken for it"
    ]


def _heard(bench: Bench, ids: Sequence[str], grams: Sequence[float]) -> Impression:
    rows = bench.staged.rows(ids)
    return impression(
        np.array(grams, dtype=float), bench.staged.potency[rows], bench.staged.profile[rows], bench.hearing
    )


def _core_strength(whole: Impression, own: Impression) -> np.ndarray:
    """Strength (T) of the accord in the words of its core."""
    return whole.strength * np.minimum(whole.shares, own.shares).sum(axis=1)


def _core_share(bench: Bench, ids, held, core) -> np.ndarray:
    """Perceived share (T) of the core lines."""
    odour = (
        bench.staged.potency[bench.staged.rows(ids)] * np.array([held[name] for name in ids])[:, None]
    ) ** bench.hearing.power
    return np.divide(
        odour[[name in core for name in ids]].sum(axis=0),
        odour.sum(axis=0),
        out=np.zeros(odour.shape[1]),
        where=odour.sum(axis=0) > 0,
    )


def _best_amount(bench: Bench, accord: Accord, held, name, before, own, voiced, judged, share, law):
    """(worth, lift) of ``name`` at its best amount, or ``None`` where it helps nowhere."""
    tables = bench.tables
    need = np.where(judged, before.strength * (1.0 - share), 0.0)
    need = need / need.sum() if need.sum() > 0 else judged / judged.sum()
    grams = _amount(bench, held, name, int(np.argmax(need)), accord.total * MOST_PCT / 100.0)
    parts = float(f"{grams:.2g}")
    amounts = {**held, name: held.get(name, 0.0) + parts}
    after = _heard(bench, list(amounts), list(amounts.values()))
    alike = match(after, before)
    gain = np.divide(_core_strength(after, own), voiced, out=np.ones_like(voiced), where=voiced > 0) - 1.0
    if parts <= 0 or alike.overall < LEAST_MATCH:
        return None
    radiance = word_parts(tables, name)[2]
    worth = radiance + GAIN_WEIGHT * float(need @ gain) - (1.0 - alike.overall)
    total = after.strength / np.maximum(before.strength, 1e-300)
    why = _why(tables, name, parts, accord, gain, judged, name in held)
    return worth, Lift(
        name,
        parts,
        alike.overall,
        alike.stages,
        _or_none(1.0 + gain, judged),
        _or_none(total, judged),
        radiance,
        why,
        law,
    )


def _amount(bench: Bench, held, name: str, stage: int, most: float) -> float:
    """Grams to add of ``name`` so that it is 6 % of the smell at ``stage``, at most ``most``."""
    power = bench.hearing.power
    rest = [other for other in held if other != name]
    odour = (
        bench.staged.potency[bench.staged.rows(rest), stage] * np.array([held[other] for other in rest])
    ) ** power
    potency = bench.staged.potency[bench.staged.rows([name])[0], stage]
    if potency <= 0:
        return 0.0
    grams = (NOTICED_SHARE / (1.0 - NOTICED_SHARE) * odour.sum()) ** (1.0 / power) / potency
    return float(min(max(grams - held.get(name, 0.0), 0.0), most))


def _or_none(values, judged) -> tuple[float | None, ...]:
    return tuple(float(v) if yes else None for v, yes in zip(values, judged))


def _why(tables: Tables, name: str, parts: float, accord: Accord, gain, judged, there: bool) -> str:
    words = sorted(tables.profiles[name].items(), key=lambda item: (-item[1], item[0]))[:3]
    described = listed([tables.descriptors[word].name for word, _ in words])
    stages = [i for i in range(len(STAGES)) if judged[i]]
    best, worst = max(stages, key=lambda i: gain[i]), min(stages, key=lambda i: gain[i])
    change = f"the core's notes stand at {gain[best] * 100:+.0f} % at the {STAGES[best]}"
    if worst != best and round(gain[worst] * 100) != round(gain[best] * 100):
        change += f" and {gain[worst] * 100:+.0f} % at the {STAGES[worst]}"
    share = 100 * parts / (accord.total + parts)
    return (
        f"{'more of what is in it already: ' if there else ''}{described}; noticed for {hours(tenacity(tables, name))}; "
        f"{parts:g} parts ({share:.2g} %) are enough to be {NOTICED_SHARE * 100:g} % of the smell; {change}"
    )
