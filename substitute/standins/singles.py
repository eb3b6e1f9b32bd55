"""Single stand-ins: ranked, and each with its amount, its reasons and its cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from ..figures import cut, percent
from ..records import Tables
from ..rules.cautions import hazard_lines
from . import words
from .answer import Member, StandIn
from .ask import Ask
from .bases import base_cautions, profile_cautions
from .bench import Bench
from .evidence import Ground
from .features import FEATURES
from .pair import Pair, make_pair
from .price import saving, saving_reason
from .ranking import Weights, in_words, score, with_effort, with_evidence, with_own

NOT_NEAR = 0.40  # a candidate less similar than this, without evidence, is not offered
SAME_THING = 0.1  # nor does a candidate need to be similar if one is most of the other (cubed odour part)
PROTECTED_FACTOR = 0.75  # what trade law holds ranks behind what is free
NEW_FACET = (
    0.06  # a part of the stand-in's smell that nobody else in the accord has is worth a word from here on
)


class Ranked(NamedTuple):
    """A candidate's place: its score, its row in the space, and what is documented around it."""

    score: float
    id: str
    row: int
    ground: Ground | None


def rank(
    bench: Bench, ask: Ask, found: Sequence[str], matrix: np.ndarray, weights: Weights | None = None
) -> list[Ranked]:
    """The candidates ``found``, best first, from the feature ``matrix`` (N, 12) of the space's materials."""
    place = bench.space.row
    around = bench.known.around(ask.missing, ask.because)
    lift = np.zeros(len(bench.space.ids))
    for name, ground in around.items():
        if name in place:
            lift[place[name]] = ground.weight
    rows = np.array([place[name] for name in found], dtype=int)
    law = bench.law(ask.situation)
    factor = np.array([PROTECTED_FACTOR if law.holds(name) else 1.0 for name in found])
    value = with_effort(with_evidence(score(matrix[rows], weights), lift[rows]), matrix[rows])
    said = [own.nearness if (own := bench.tables.tried.get((ask.missing, name))) else "" for name in found]
    value = with_own(value, said) * factor
    order = np.lexsort((found, -bench.space.like(ask.missing)[rows], -value))
    return [Ranked(float(value[i]), found[i], int(rows[i]), around.get(found[i])) for i in order]


def is_near(bench: Bench, ask: Ask, one: Ranked, matrix: np.ndarray) -> bool:
    """Whether a candidate is worth offering: documented, similar, or carried by a shared constituent."""
    own = bench.tables.tried.get((ask.missing, one.id))
    if (one.ground and one.ground.rows) or (own and own.nearness in ("near", "fair")):
        return True
    shared = matrix[one.row, FEATURES.index("contains")] + matrix[one.row, FEATURES.index("contained_in")]
    near = bench.space.like(ask.missing)[one.row] >= NOT_NEAR
    return bool(near or shared >= SAME_THING)


def single(bench: Bench, ask: Ask, one: Ranked, features: Mapping[str, float], place: int) -> StandIn:
    """The answer that offers ``one`` at ``place`` (0 first)."""
    tables = bench.tables
    pair = make_pair(tables, ask.missing, one.id, one.ground)
    before = words.profile_shares(tables, [(ask.missing, 1.0)])
    after = words.profile_shares(tables, [(one.id, 1.0)])
    gains, losses = words.differences(tables, before, after)
    supply = words.source_of(tables, ask.missing, one.id)
    reasons = [
        *words.found_reason(tables, ask.missing, one.id),
        *raise_it(ask, one.id),
        words.odour_reason(tables, before, after, gains, losses),
        *new_facets(tables, ask, after),
        *words.constituent_reasons(pair),
        words.strength_reason(tables, pair),
        words.tenacity_reason(tables, ask.missing, one.id),
    ]
    per_gram = pair.amount.grams if pair.amount else 1.0
    saved = saving(tables, ask.shelf, ask.missing, one.id, per_gram) if ask.because == "price" else None
    if ask.because == "price":
        reasons.insert(0, saving_reason(tables, saved, ask.missing, per_gram))
    if one.ground:
        reasons.append(words.evidence_reason(tables, one.ground))
    return StandIn(
        0,
        (Member(one.id, pair.amount),),
        one.score,
        in_words(one.score, best_of_shelf=ask.shelf is not None and place == 0),
        float(bench.space.like(ask.missing)[one.row]),
        pair.evidence,
        tuple(reasons),
        tuple(cautions(bench, ask, pair, supply)),
        gains,
        losses,
        sources(tables, pair),
        words.listening(tables, ask.missing, one.id, gains, losses),
        supply,
        pair.trial_series(),
        saved.to_dict() if saved else None,
        one.id in ask.held(),
        features,
        words.tie(tables, ask.missing, one.id),
    )


def raise_it(ask: Ask, name: str) -> list[str]:
    """The word for a stand-in that already stands in the accord."""
    return ["it stands in the accord already: raise it"] if name in ask.held() else []


def new_facets(tables: Tables, ask: Ask, after: Mapping[str, float]) -> list[str]:
    """What the stand-in smells of that nobody else in the accord does, the missing material included."""
    if ask.accord is None:
        return []
    known = {word for name in (ask.missing, *ask.held()) for word in tables.profiles.get(name, {})}
    new = sorted(
        (word for word, share in after.items() if word not in known and share >= NEW_FACET),
        key=lambda word: (-after[word], word),
    )[:2]
    if not new:
        return []
    named = words.listed([tables.descriptors[word].name for word in new])
    return [f"adds {named}, which nothing else in the accord has"]


def cautions(bench: Bench, ask: Ask, pair: Pair, supply: words.Supply | None) -> list[str]:
    """What to weigh before using it."""
    tables, name = bench.tables, pair.stand_in
    found = [f"{word}: check before you buy or use it" for word in ask.status(name)]
    found += [
        *relief_unknown(bench, ask, pair),
        *rule_cautions(tables, ask, name),
        *hazard_lines(tables, name),
    ]
    found += [
        *profile_cautions(tables, name),
        *base_cautions(tables, name, ask.accord.active() if ask.accord else ()),
    ]
    if supply and supply.minor_carries and supply.grams.grams < 200:
        found.append(
            "as a source its share is the wrong guide: other, smaller constituents carry much of its smell"
        )
    return found


def rule_cautions(tables: Tables, ask: Ask, name: str) -> list[str]:
    """How much of it the known limits let through, and what is not known."""
    unknown = [tables.materials[s].name if s in tables.materials else s for s in ask.situation.unknown(name)]
    found = []
    if unknown:
        found.append(
            f"the limit of {words.listed(unknown[:3])} is not on file: ask the supplier before you use it"
        )
    if not ask.situation.judged:
        return found
    most = ask.situation.most_pct(name)
    if most is None and not unknown:
        found.append("nothing on file limits it in this product; that is no permission: ask the supplier")
    elif most is not None and not unknown:
        found.append(f"at most {percent(cut(most, 3))} of it in this product by the figures on file")
    return found


def relief_unknown(bench: Bench, ask: Ask, pair: Pair) -> list[str]:
    """Where it is not known whether the stand-in is a way out of the limit."""
    if ask.because != "limit" or pair.amount is None:
        return []
    known = bench.relieves(ask.situation, ask.missing, pair.stand_in, pair.amount.grams)
    return [] if known else ["whether it is a way out of the limit is not known: a figure is missing on file"]


def sources(tables: Tables, pair: Pair) -> tuple[str, ...]:
    """Keys of the sources that the swap and its amount rest on."""
    found = [row.source for row in pair.ground.rows] if pair.ground else []
    if pair.amount and pair.amount.ground == "potency":
        found.append(tables.properties[pair.stand_in]["potency"].source)
    elif pair.amount and pair.amount.ground == "share":
        found += [row.source for row in (pair.holds, pair.held) if row]
    return tuple(dict.fromkeys(found))
