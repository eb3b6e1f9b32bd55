"""Blends that the person tried themselves: before all that is worked out where they found them near, and out
of the way where they found them far."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from ..odour.perception import HEARING
from ..records import TriedBlend
from . import words
from .amounts import Amount
from .answer import Member, StandIn
from .ask import Ask
from .bench import Bench
from .blended import stage_vectors
from .pair import make_pair
from .ranking import LEAST_OWN, in_words
from .singles import cautions

OFFERED = ("near", "fair")


def own_blends(bench: Bench, ask: Ask, allowed: Collection[str]) -> list[StandIn]:
    """The blends found near or fairly near in the missing one's place, all members ``allowed``, the surest
    first."""
    tried = bench.tables.blends.get(ask.missing, ())
    found = [
        _answer(bench, ask, one)
        for one in tried
        if one.nearness in OFFERED and set(one.parts) <= set(allowed) and ask.missing in bench.space.row
    ]
    return sorted(found, key=lambda one: -one.score)


def found_far(bench: Bench, ask: Ask, answer: StandIn) -> bool:
    """Whether the person tried these very materials together and found them far from it."""
    mine = {member.id for member in answer.members}
    tried = [one for one in bench.tables.blends.get(ask.missing, ()) if set(one.parts) == mine]
    return bool(tried) and all(one.nearness in ("far", "not_smelled") for one in tried)


def with_own(answers: Iterable[StandIn], own: Iterable[StandIn], top: int) -> list[StandIn]:
    """The person's own blends among ``answers`` where their scores belong, in the place of the same
    materials worked out; the best ``top``."""
    own = list(own)
    mine = [{member.id for member in one.members} for one in own]
    others = [one for one in answers if {member.id for member in one.members} not in mine]
    return sorted([*own, *others], key=lambda one: -one.score)[:top]


def _answer(bench: Bench, ask: Ask, tried: TriedBlend) -> StandIn:
    tables = bench.tables
    loud = {
        id: ((tables.value(id, "potency") or 0.0) * share) ** HEARING.power
        for id, share in tried.parts.items()
    }
    ids = sorted(loud, key=lambda id: (-loud[id], id))
    before = words.profile_shares(tables, [(ask.missing, 1.0)])
    after = words.profile_shares(tables, [(id, loud[id]) for id in ids])
    gains, losses = words.differences(tables, before, after)
    vectors = stage_vectors(bench, [ask.missing, *ids])
    mixed = np.array([loud[id] for id in ids]) @ vectors[1:]
    size = float(np.linalg.norm(vectors[0]) * np.linalg.norm(mixed))
    value = LEAST_OWN[tried.nearness]
    pairs = {id: make_pair(tables, ask.missing, id, None) for id in ids}
    return StandIn(
        0,
        tuple(Member(id, _amount(tried, tried.parts[id])) for id in ids),
        value,
        in_words(value),
        float(vectors[0] @ mixed) / size if size else float("nan"),
        "documented",
        (f"you found: {tried.told}", words.odour_reason(tables, before, after, gains, losses)),
        tuple(dict.fromkeys(note for id in ids for note in cautions(bench, ask, pairs[id], None))),
        gains,
        losses,
    )


def _amount(tried: TriedBlend, share: float) -> Amount:
    grams = tried.grams * share
    low = grams if tried.low is None else tried.low * share
    high = grams if tried.high is None else tried.high * share
    return Amount(grams, low, high, "tried")
