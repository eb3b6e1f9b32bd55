"""What stands in: candidates, features, ranking, blends, amounts and words put together into one answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..errors import InputError
from ..odour.perception import HEARING, Hearing
from ..odour.space import Space
from ..odour.staging import Staged
from ..records import Accord, Shelf, Swap, Tables
from ..rules.context import Context
from ..rules.exposure import Exposure
from . import words
from .amounts import Amount, amount_for, odour_part
from .bases import base_cautions, profile_cautions
from .blends import best_blend
from .candidates import candidates
from .features import Features
from .ranking import Weights, in_words, score, with_evidence

NOT_NEAR = 0.40  # a candidate less similar than this, without evidence, is not offered
SAME_THING = 0.1  # nor does a candidate need to be similar if one is most of the other (cubed odour part)
CLEARLY_BETTER = 0.03  # a blend is offered only if its similarity beats its best member's by this
STAGE_NOTICED, STAGE_FLOOR = 0.1, 0.8  # a stage this strong must fit at least this part as well as the whole
LEAST_PART = 0.05  # a member under this share of a blend's smell is not worth a weighing
PROTECTED_FACTOR = 0.75  # what trade law holds ranks behind what is free


@dataclass(frozen=True)
class Member:
    """One material of a stand-in and how much of it, neat for neat."""

    id: str
    amount: Amount | None

    def to_dict(self, tables: Tables) -> dict:
        amount = self.amount
        return {
            **tables.materials[self.id].brief(),
            "grams_per_gram": amount.grams if amount else None,
            "low": amount.low if amount else None,
            "high": amount.high if amount else None,
        }


@dataclass(frozen=True)
class StandIn:
    """A ranked answer."""

    rank: int
    members: tuple[Member, ...]
    score: float
    similarity: float
    evidence: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    gains: tuple[words.Difference, ...]
    losses: tuple[words.Difference, ...]
    sources: tuple[str, ...]
    listen: str = ""
    supply: words.Supply | None = None
    features: Mapping[str, float] = field(default_factory=dict)
    path: tuple[tuple[str, str], ...] = ()

    def to_dict(self, tables: Tables) -> dict:
        lead = self.members[0].amount
        return {
            "rank": self.rank,
            "materials": [member.to_dict(tables) for member in self.members],
            "score": self.score,
            "similarity": self.similarity,
            "in_words": in_words(self.score),
            "evidence": self.evidence,
            "reasons": list(self.reasons),
            "cautions": list(self.cautions),
            "gains": [d.to_dict() for d in self.gains],
            "losses": [d.to_dict() for d in self.losses],
            "sources": list(self.sources),
            "listen": self.listen,
            "amount_from": lead.ground if lead else None,
            "trial_series": list(lead.trial_series())
            if lead and lead.is_order_of_magnitude and len(self.members) == 1
            else [],
            "supply": self.supply.to_dict(tables) if self.supply else None,
            "features": dict(self.features),
            "path": [{"id": node, "shared": relation} for node, relation in self.path],
        }


@dataclass(frozen=True)
class SwapAnswer:
    """All that ``swap`` answers."""

    missing: str
    because: str
    stand_ins: tuple[StandIn, ...]
    nearest: tuple[str, float] | None
    notes: tuple[str, ...]
    tables: Tables = field(repr=False)

    def to_dict(self) -> dict:
        near = self.nearest
        return {
            "missing": self.tables.materials[self.missing].brief(),
            "because": self.because,
            "stand_ins": [answer.to_dict(self.tables) for answer in self.stand_ins],
            "nearest": {**self.tables.materials[near[0]].brief(), "similarity": near[1]} if near else None,
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Bench:
    """What the answers are worked out on: built once by the library, passed along."""

    tables: Tables
    space: Space
    features: Features
    exposure: Exposure
    staged: Staged
    evidence: Mapping[str, tuple[Swap, ...]]
    hearing: Hearing = HEARING

    def rows_for(self, missing: str, stand_in: str, because: str) -> list[Swap]:
        """Evidence rows of a pair, the ones for this reason first."""
        rows = [row for row in self.evidence.get(missing, ()) if row.stand_in == stand_in]
        return sorted(rows, key=lambda row: row.because != because)


def swap(
    bench: Bench,
    missing: str,
    *,
    context: Context,
    because: str = "unavailable",
    shelf: Shelf | None = None,
    accord: Accord | None = None,
    blend: int = 1,
    top: int = 5,
    status: Callable[[str], tuple[str, ...]] = lambda _: (),
    ceiling: Mapping[str, float] | None = None,
    dose: float | None = None,
    without: Iterable[str] = (),
) -> SwapAnswer:
    """Ranked stand-ins for ``missing`` under the limit sets of ``context``.

    ``ceiling`` (id -> highest percent in the product, absent if unlimited or unknown) and ``dose`` [%] bring limits in;
    ``accord`` gives the company. Raises :class:`~substitute.errors.InputError` for a material without profile and evidence.
    """
    tables, space = bench.tables, bench.space
    notes = []
    if shelf and missing in shelf.materials():
        strengths = ", ".join(f"{s:g} %" for s in shelf.strengths(missing))
        notes.append(f"{tables.materials[missing].name} stands on the shelf itself ({strengths})")
    if tables.materials[missing].kind == "solvent":
        return _carrier_answer(bench, missing, because, shelf, top, notes)
    found = candidates(tables, bench.exposure, missing, because, shelf, status, context, without)
    if missing not in space.row:
        return _documented_only(bench, missing, because, found, top, status, notes)
    if not found:
        return SwapAnswer(
            missing,
            because,
            (),
            None,
            (
                *notes,
                "nothing passes: the shelf holds no other material that smells, or law and limits take away what it holds",
            ),
            tables,
        )

    matrix = bench.features.matrix(
        missing, _headroom(bench, missing, found, accord, ceiling, dose), _company(bench, missing, accord)
    )
    ranked = rank(bench, missing, because, found, matrix, status)
    similarity = space.similarity[space.row[missing]]
    nearest = max(found, key=lambda name: similarity[space.row[name]])
    singles = [
        _single(
            bench,
            missing,
            name,
            value,
            rows,
            accord,
            status(name),
            ceiling,
            dose,
            dict(zip(_names(), matrix[space.row[name]].tolist())),
        )
        for value, name, rows in ranked
        if rows
        or similarity[space.row[name]] >= NOT_NEAR
        or matrix[space.row[name], 2] + matrix[space.row[name], 3] >= SAME_THING
    ][:top]
    answers = list(singles)
    if blend > 1:
        mixed = _blend(bench, missing, found, ranked, blend, status)
        if mixed:
            answers = sorted([mixed, *singles], key=lambda answer: -answer.score)[:top]
            if mixed not in answers:
                answers[-1] = mixed
        else:
            notes.append(
                f"no blend of {blend} is clearly better than its best member and stands on evidence or a shared constituent"
            )
    near = float(similarity[space.row[nearest]])
    if not answers:
        notes.append(
            f"nothing is near: the nearest is {tables.materials[nearest].name} at a similarity of {near:.2f}, too far to stand in"
        )
    ordered = tuple(_with_rank(answer, rank) for rank, answer in enumerate(answers, 1))
    return SwapAnswer(missing, because, ordered, (nearest, near), tuple(notes), tables)


def rank(
    bench: Bench,
    missing: str,
    because: str,
    found: Iterable[str],
    matrix: np.ndarray,
    status=lambda _: (),
    weights: Weights | None = None,
) -> list[tuple[float, str, list[Swap]]]:
    """(score, id, evidence rows) of the candidates ``found``, best first, from the feature ``matrix`` (N, 10) of the space's materials."""
    base = score(matrix, weights)
    similarity = bench.space.similarity[bench.space.row[missing]]
    ranked = []
    for name in found:
        row = bench.space.row[name]
        rows = bench.rows_for(missing, name, because)
        value = with_evidence(float(base[row]), rows, because, missing in bench.evidence) * (
            PROTECTED_FACTOR if status(name) else 1.0
        )
        ranked.append((value, name, rows))
    ranked.sort(key=lambda item: (-item[0], -similarity[bench.space.row[item[1]]], item[1]))
    return ranked


def _names() -> Sequence[str]:
    from .features import FEATURES

    return FEATURES


def _with_rank(answer: StandIn, rank: int) -> StandIn:
    return StandIn(**{**answer.__dict__, "rank": rank})


def _headroom(
    bench: Bench, missing: str, found: list[str], accord: Accord | None, ceiling, dose
) -> dict[str, float]:
    """Minus the decades by which each candidate, at the amount it would need, oversteps its ceiling in the product."""
    if not ceiling or not dose:
        return {}
    part = 1.0
    if accord and missing in accord.active():
        part = accord.active()[missing] / accord.total
    over = {}
    for name in found:
        amount = amount_for(bench.tables, missing, name)
        if amount and name in ceiling:
            needed = dose * part * amount.grams
            over[name] = -float(np.log10(max(needed / max(ceiling[name], 1e-6), 1.0)))
    return over


def _company(bench: Bench, missing: str, accord: Accord | None) -> np.ndarray | None:
    """Minus the part of each profile that neither the missing material nor the rest of the accord has (N)."""
    if accord is None:
        return None
    space = bench.space
    allowed = space.shares[space.row[missing]].copy()
    for name in accord.active():
        if name in space.row:
            allowed = np.maximum(allowed, space.shares[space.row[name]])
    return -np.maximum(space.shares - allowed, 0.0).sum(axis=1)


def _evidence_kind(tables: Tables, missing: str, name: str, rows: Sequence[Swap]) -> str:
    if rows:
        return "documented"
    shared = max(odour_part(tables, name, missing), odour_part(tables, missing, name))
    return "constituent" if shared >= 0.2 else "profile"


def _single(bench: Bench, missing, name, value, rows, accord, state, ceiling, dose, features) -> StandIn:
    tables = bench.tables
    amount = amount_for(tables, missing, name, next((row for row in rows if row.grams_per_gram), None))
    before, after = (
        words.profile_shares(tables, [(missing, 1.0)]),
        words.profile_shares(tables, [(name, 1.0)]),
    )
    gains, losses = words.differences(tables, before, after)
    reasons = [
        words.odour_reason(tables, before, after, gains, losses),
        *words.constituent_reasons(tables, missing, name),
        words.strength_reason(amount, tables.value(missing, "potency"), tables.value(name, "potency")),
        words.tenacity_reason(tables, missing, name),
    ]
    if rows:
        reasons.append(words.evidence_reason(rows))
    cautions = [*(f"{word}: check before you buy or use it" for word in state)]
    if dose:
        limit = (ceiling or {}).get(name)
        if limit is None:
            cautions.append(
                "no limit figure on file for it in this product: unknown is not the same as free; ask the supplier"
            )
        else:
            cautions.append(f"at most {words.percent(limit)} of it in this product by the figures on file")
    if amount and amount.is_order_of_magnitude:
        cautions.append(
            "strengths lie so far apart that the amount is an order of magnitude: smell a trial series"
        )
    cautions += [
        *profile_cautions(tables, name),
        *base_cautions(tables, name, accord.active() if accord else ()),
    ]
    supply = words.source_of(tables, missing, name)
    if supply and supply.minor_carries and supply.grams.grams < 200:
        cautions.append(
            "as a source its share is the wrong guide: other, smaller constituents carry much of its smell"
        )
    sources = tuple(
        dict.fromkeys(
            [row.source for row in rows]
            + (
                []
                if amount is None or amount.ground != "potency"
                else [tables.properties[name]["potency"].source]
            )
        )
    )
    similarity = float(bench.space.similarity[bench.space.row[missing], bench.space.row[name]])
    return StandIn(
        0,
        (Member(name, amount),),
        float(value),
        similarity,
        _evidence_kind(tables, missing, name, rows),
        tuple(reasons),
        tuple(cautions),
        gains,
        losses,
        sources,
        words.listening(tables, missing, name, gains, losses),
        supply,
        features,
        words.tie(tables, missing, name),
    )


def stage_vectors(bench: Bench, ids: Sequence[str]) -> np.ndarray:
    """(N, T x D) odour of one perceived unit of each material over the stages, so that a blend must fit all of them."""
    rows = [bench.staged.ids.index(name) for name in ids]
    potency, profile = bench.staged.potency[rows], bench.staged.profile[rows]
    fade = (
        np.divide(potency, potency[:, :1], out=np.zeros_like(potency), where=potency[:, :1] > 0)
        ** bench.hearing.power
    )
    return (fade[:, :, None] * profile).reshape(len(rows), -1)


def _blend(bench: Bench, missing: str, found: list[str], ranked, k: int, status) -> StandIn | None:
    """The best blend of ``k`` that is worth offering, or ``None``."""
    tables = bench.tables
    pool = [name for name in found if not status(name)]
    if len(pool) < k:
        return None
    vectors = stage_vectors(bench, [missing, *pool])
    target = vectors[0] / np.linalg.norm(vectors[0])
    matrix = vectors[1:]
    gram, toward = matrix @ matrix.T, matrix @ target
    value_of = {name: (value, rows) for value, name, rows in ranked}
    anchors = np.array(
        [_evidence_kind(tables, missing, name, value_of[name][1]) != "profile" for name in pool]
    )
    if not anchors.any():
        return None
    best = best_blend(gram, toward, k, anchors)
    if best is None or len(best.rows) < k or min(best.weights) < LEAST_PART * sum(best.weights):
        return None
    alone = np.sqrt(toward[list(best.rows)] ** 2 / np.diag(gram)[list(best.rows)])
    if best.cosine - float(alone.max()) < CLEARLY_BETTER:
        return None
    if not _fits_every_stage(
        vectors[0], np.array(best.weights) @ matrix[list(best.rows)], len(bench.staged.hours)
    ):
        return None
    order = np.argsort(-np.array(best.weights))
    ids = [pool[best.rows[i]] for i in order]
    weights = [best.weights[i] for i in order]
    amounts = blend_amounts(tables, bench.hearing, missing, ids, weights)
    before, after = (
        words.profile_shares(tables, [(missing, 1.0)]),
        words.profile_shares(tables, list(zip(ids, weights))),
    )
    gains, losses = words.differences(tables, before, after)
    rows = [row for name in ids for row in value_of[name][1]]
    members = [tables.materials[name].name for name in ids]
    lead = max(value_of[name][0] for name in ids)
    better = best.cosine - float(alone.max())
    reasons = [
        f"together they come {better:.2f} nearer over all stages than the best of them alone ({best.cosine:.2f} against {alone.max():.2f})",
        words.odour_reason(tables, before, after, gains, losses),
        f"{members[0]} carries it, {words.listed(members[1:])} {'fills' if k == 2 else 'fill'} what it lacks",
    ]
    if rows:
        reasons.append(words.evidence_reason(rows))
    cautions = [note for name in ids for note in profile_cautions(tables, name)] + [
        "mix the blend first and smell it beside the missing material before it goes into the accord"
    ]
    kind = "documented" if rows else "constituent"
    return StandIn(
        0,
        tuple(Member(name, amount) for name, amount in zip(ids, amounts)),
        float(1 - (1 - lead) * (1 - better)),
        best.cosine,
        kind,
        tuple(reasons),
        tuple(dict.fromkeys(cautions)),
        gains,
        losses,
        tuple(dict.fromkeys(row.source for row in rows)),
        "",
        None,
        {},
    )


def _fits_every_stage(target: np.ndarray, blend: np.ndarray, stages: int) -> bool:
    """Whether no stage that the target is still noticed at falls far behind: word-matching blends that smell of nothing later do."""
    wanted, found = target.reshape(stages, -1), blend.reshape(stages, -1)
    size = np.linalg.norm(wanted, axis=1) * np.linalg.norm(found, axis=1)
    noticed = np.linalg.norm(wanted, axis=1) >= STAGE_NOTICED * np.linalg.norm(wanted, axis=1).max()
    cosine = np.divide((wanted * found).sum(axis=1), size, out=np.zeros(stages), where=size > 0)
    overall = float(target @ blend / (np.linalg.norm(target) * np.linalg.norm(blend)))
    return bool((cosine[noticed] >= STAGE_FLOOR * overall).all())


def blend_amounts(
    tables: Tables, hearing: Hearing, missing: str, ids: Sequence[str], weights: Sequence[float]
) -> list[Amount]:
    """Grams of each member for one gram of the missing material, so that the blend is as strong and the shares are ``weights``."""
    shares = np.array(weights) / sum(weights)
    odour = shares ** (1.0 / hearing.power)  # potency x grams of each member, to a common factor
    single = odour**hearing.exponent
    total = (single**hearing.p).sum() ** (1.0 / hearing.p)
    old = tables.value(missing, "potency")
    odour *= old / total ** (1.0 / hearing.exponent)
    found = []
    for name, mass in zip(ids, odour):
        grams = float(mass / tables.value(name, "potency"))
        found.append(Amount(grams, grams / 1.5, grams * 1.5, "potency"))
    return found


def _carrier_answer(bench: Bench, missing, because, shelf, top, notes) -> SwapAnswer:
    tables = bench.tables
    held = set(shelf.materials()) if shelf else None
    found = []
    for name, material in tables.materials.items():
        if (
            material.kind != "solvent"
            or name == missing
            or not material.stocked
            or (held is not None and name not in held)
        ):
            continue
        rows = bench.rows_for(missing, name, because)
        found.append((with_evidence(0.4, rows, because), name, rows))
    found.sort(key=lambda item: (-item[0], item[1]))
    answers = tuple(
        StandIn(
            rank,
            (Member(name, Amount(1.0, 1.0, 1.0, "share")),),
            value,
            1.0,
            "documented" if rows else "profile",
            (
                "a carrier has no smell to match: weigh it gram for gram",
                *([words.evidence_reason(rows)] if rows else []),
            ),
            ("check that everything dissolves, the flash point, and that the product may hold it",),
            (),
            (),
            tuple(row.source for row in rows),
        )
        for rank, (value, name, rows) in enumerate(found[:top], 1)
    )
    return SwapAnswer(
        missing,
        because,
        answers,
        None,
        (*notes, f"{tables.materials[missing].name} is a carrier: other carriers are listed"),
        tables,
    )


def _documented_only(bench: Bench, missing, because, found, top, status, notes) -> SwapAnswer:
    tables = bench.tables
    allowed = set(found)
    documented = [row for row in bench.evidence.get(missing, ()) if row.stand_in in allowed]
    if not documented:
        raise InputError(
            f"{missing}: has no odour profile on file and no documented stand-in, so nothing can be compared; give it rows in your own profiles.csv and properties.csv"
        )
    answers = []
    for rank, row in enumerate(documented[:top], 1):
        answers.append(
            StandIn(
                rank,
                (Member(row.stand_in, amount_for(tables, missing, row.stand_in, row)),),
                with_evidence(0.0, [row], because),
                float("nan"),
                "documented",
                (words.evidence_reason([row]),),
                tuple(f"{word}: check before you buy or use it" for word in status(row.stand_in)),
                (),
                (),
                (row.source,),
            )
        )
    return SwapAnswer(
        missing,
        because,
        tuple(answers),
        None,
        (*notes, "it has no odour profile on file: only documented swaps are shown"),
        tables,
    )
