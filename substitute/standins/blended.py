"""Blends: where the trade would mix two or three materials, the best mix of them, as strong as what is
missing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..figures import ratio
from ..odour.perception import Hearing
from ..records import Tables
from . import words
from .amounts import Amount
from .answer import Member, StandIn
from .ask import Ask
from .bases import profile_cautions
from .bench import Bench
from .blends import best_blend
from .cone import Blend
from .ranking import in_words
from .singles import Ranked

CLEARLY_BETTER = 0.03  # a blend is offered only if its similarity beats its best member's by this
STAGE_NOTICED, STAGE_FLOOR = 0.1, 0.8  # a stage this strong must fit at least this part as well as the whole
LEAST_PART = 0.05  # a member under this share of a blend's smell is not worth a weighing
SURER = 3.0  # how much surer a blend is than its best member, for what it comes nearer
TIE = 0.05  # a constituent with this part of the odour ties the two
BLEND_SPREAD = 1.5  # how far a member's grams may be off


def stage_vectors(bench: Bench, ids: Sequence[str]) -> np.ndarray:
    """(N, T x D) odour of one perceived unit of each material over the stages, so that a blend must fit
    all of them.
    """
    rows = bench.staged.rows(ids)
    potency, profile = bench.staged.potency[rows], bench.staged.profile[rows]
    first = potency[:, :1]
    fade = np.divide(potency, first, out=np.zeros_like(potency), where=first > 0) ** bench.hearing.power
    vectors: np.ndarray = (fade[:, :, None] * profile).reshape(len(rows), -1)
    return vectors


def blended(bench: Bench, ask: Ask, ranked: Sequence[Ranked], k: int) -> StandIn | None:
    """The best blend of ``k`` that is worth offering, or ``None``.

    It is looked for among what people use in the missing one's place and what shares its constituents; only
    where that brings nothing, among everything that passes, with at least one member of that kind.
    """
    law = bench.law(ask.situation)
    free = [one for one in ranked if not law.holds(one.id)]
    tied = [is_tied(bench, ask, one) for one in free]
    known = [one for one, tie in zip(free, tied) if tie]
    return _best_of(bench, ask, known, [True] * len(known), k) or _best_of(bench, ask, free, tied, k)


def is_tied(bench: Bench, ask: Ask, one: Ranked) -> bool:
    """Whether rows or a shared constituent tie a candidate to the missing material."""
    if one.ground is not None and one.ground.rows:
        return True
    parts = bench.features.parts
    shared = max(parts.get(ask.missing, {}).get(one.id, 0.0), parts.get(one.id, {}).get(ask.missing, 0.0))
    return shared >= TIE


def _best_of(
    bench: Bench, ask: Ask, pool: Sequence[Ranked], anchors: Sequence[bool], k: int
) -> StandIn | None:
    """The best blend of ``k`` out of ``pool`` with an anchor among them, if it is worth offering."""
    if len(pool) < k or not any(anchors):
        return None
    vectors = stage_vectors(bench, [ask.missing, *(one.id for one in pool)])
    target, matrix = vectors[0] / np.linalg.norm(vectors[0]), vectors[1:]
    gram, toward = matrix @ matrix.T, matrix @ target
    best = best_blend(gram, toward, k, np.array(anchors))
    if best is None or len(best.rows) < k or min(best.weights) < LEAST_PART * sum(best.weights):
        return None
    rows = list(best.rows)
    alone = float(np.sqrt(toward[rows] ** 2 / np.diag(gram)[rows]).max())
    if best.cosine - alone < CLEARLY_BETTER:
        return None
    mixed = np.array(best.weights) @ matrix[rows]
    if not fits_every_stage(vectors[0], mixed, len(bench.staged.hours)):
        return None
    return _answer(bench, ask, pool, best, alone)


def _answer(bench: Bench, ask: Ask, pool: Sequence[Ranked], best: Blend, alone: float) -> StandIn:
    """A blend in words, its members in falling share."""
    tables = bench.tables
    order = np.argsort(-np.array(best.weights))
    members = [pool[best.rows[i]] for i in order]
    weights = [best.weights[i] for i in order]
    ids = [one.id for one in members]
    before = words.profile_shares(tables, [(ask.missing, 1.0)])
    after = words.profile_shares(tables, list(zip(ids, weights)))
    gains, losses = words.differences(tables, before, after)
    grounds = [one.ground for one in members if one.ground and one.ground.kind == "documented"]
    names = [tables.materials[name].name for name in ids]
    better = best.cosine - alone
    value = 1.0 - (1.0 - max(one.score for one in members)) * (1.0 - better) ** SURER
    reasons = [
        f"together they come {ratio(better)} nearer over all stages than the best of them alone "
        f"({ratio(best.cosine)} against {ratio(alone)})",
        words.odour_reason(tables, before, after, gains, losses),
        f"{names[0]} carries it, {words.listed(names[1:])} "
        f"{'fills' if len(ids) == 2 else 'fill'} what it lacks",
        *(words.evidence_reason(tables, ground) for ground in grounds[:1]),
    ]
    cautions = [note for name in ids for note in profile_cautions(tables, name)]
    cautions.append(
        "mix the blend first and smell it beside the missing material before it goes into the accord"
    )
    amounts = blend_amounts(tables, bench.hearing, ask.missing, ids, weights)
    return StandIn(
        0,
        tuple(Member(name, amount) for name, amount in zip(ids, amounts)),
        value,
        in_words(value),
        best.cosine,
        "documented" if grounds else "constituent",
        tuple(reasons),
        tuple(dict.fromkeys(cautions)),
        gains,
        losses,
        tuple(dict.fromkeys(row.source for ground in grounds for row in ground.rows)),
    )


def fits_every_stage(target: np.ndarray, blend: np.ndarray, stages: int) -> bool:
    """Whether no stage that the target is still noticed at falls far behind: word-matching blends that
    smell of nothing later do.
    """
    wanted, found = target.reshape(stages, -1), blend.reshape(stages, -1)
    size = np.linalg.norm(wanted, axis=1) * np.linalg.norm(found, axis=1)
    noticed = np.linalg.norm(wanted, axis=1) >= STAGE_NOTICED * np.linalg.norm(wanted, axis=1).max()
    cosine = np.divide((wanted * found).sum(axis=1), size, out=np.zeros(stages), where=size > 0)
    overall = float(target @ blend / (np.linalg.norm(target) * np.linalg.norm(blend)))
    return bool((cosine[noticed] >= STAGE_FLOOR * overall).all())


def blend_amounts(
    tables: Tables, hearing: Hearing, missing: str, ids: Sequence[str], weights: Sequence[float]
) -> list[Amount]:
    """Grams of each member for one gram of the missing material, so that the blend is as strong and the
    shares are ``weights``.
    """
    shares = np.array(weights) / sum(weights)
    odour = shares ** (1.0 / hearing.power)  # potency x grams of each member, to a common factor
    intensity = odour**hearing.exponent
    total = (intensity**hearing.p).sum() ** (1.0 / hearing.p)
    odour *= (tables.value(missing, "potency") or 0.0) / total ** (1.0 / hearing.exponent)
    found = []
    for name, mass in zip(ids, odour):
        grams = float(mass / (tables.value(name, "potency") or 1.0))
        found.append(Amount(grams, grams / BLEND_SPREAD, grams * BLEND_SPREAD, "potency"))
    return found
