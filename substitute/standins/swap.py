"""What stands in: the walk from a question to its ranked answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import islice

import numpy as np

from ..errors import InputError
from ..figures import cut, given, percent, ratio
from .answer import Member, StandIn, SwapAnswer
from .ask import Ask
from .bench import Bench
from .candidates import Pool, candidates
from .carriers import carrier_answer
from .company import company, headroom
from .evidence import Ground
from .features import FEATURES
from .pair import make_pair
from .ranking import evidence_alone, in_words
from .singles import NOT_NEAR, is_near, rank, single
from .words import evidence_reason

NOTHING_PASSES = (
    "nothing passes: the shelf holds no other material that smells, or law and limits take away what it holds"
)


def swap(bench: Bench, ask: Ask, *, blend: int = 1, top: int = 5) -> SwapAnswer:
    """Ranked stand-ins for what ``ask`` misses; raises InputError for a material without profile and
    evidence.
    """
    tables, space = bench.tables, bench.space
    notes = [*_on_the_shelf(bench, ask), *_stay(bench, ask)]
    if tables.materials[ask.missing].kind == "solvent":
        return carrier_answer(bench, ask, top, notes)
    pool = candidates(bench, ask)
    found = pool.found
    if ask.missing not in space.row:
        return _documented_only(bench, ask, found, top, notes)
    left_out = _left_out(bench, ask, pool)
    notes += [f"{count} left out: {rule}" for rule, count in left_out.items()]
    if ask.because == "limit" and not ask.situation.named and bench.scale_category:
        notes.append(
            "no product is named: limits of different substances are compared by "
            f"category {bench.scale_category}"
        )
    if not found:
        return SwapAnswer(ask.missing, ask.because, (), None, (*notes, NOTHING_PASSES), tables, left_out)
    matrix = bench.features.matrix(
        ask.missing, headroom(bench, ask, found), company(bench, ask), at_hand=ask.shelf is not None
    )
    ranked = rank(bench, ask, found, matrix)
    offered = list(islice((one for one in ranked if is_near(bench, ask, one, matrix)), top))
    answers = [
        single(bench, ask, one, dict(zip(FEATURES, matrix[one.row].tolist())), place)
        for place, one in enumerate(offered)
    ]
    if blend > 1:
        from .blended import blended
        from .own_blends import found_far

        mixed = blended(bench, ask, ranked, blend)
        if mixed is not None and found_far(bench, ask, mixed):
            notes.append(f"you found the blend of {_names(bench, mixed)} far from it, so it is not offered")
        else:
            answers = _with_blend(answers, mixed, blend, top, notes)
    answers.sort(key=lambda one: -one.score)
    if tables.blends:
        from .own_blends import own_blends, with_own

        answers = with_own(answers, own_blends(bench, ask, found), top)
    similarity = space.like(ask.missing)
    nearest = found[int(np.argmax(similarity[[space.row[name] for name in found]]))]
    near = float(similarity[space.row[nearest]])
    if not answers:
        notes.append(
            f"nothing is near: the nearest is {tables.materials[nearest].name} "
            f"at a similarity of {ratio(near)}, too far to stand in"
        )
    ordered = tuple(replace(answer, rank=place) for place, answer in enumerate(answers, 1))
    return SwapAnswer(ask.missing, ask.because, ordered, (nearest, near), tuple(notes), tables, left_out)


def _left_out(bench: Bench, ask: Ask, pool: Pool) -> dict[str, int]:
    """How many near or documented materials each rule keeps out, most first."""
    like = bench.space.like(ask.missing)
    around = bench.known.around(ask.missing, ask.because)
    count = Counter(
        rule
        for name, rule in pool.left_out.items()
        if like[bench.space.row[name]] >= NOT_NEAR or (name in around and around[name].rows)
    )
    return dict(count.most_common())


def _on_the_shelf(bench: Bench, ask: Ask) -> list[str]:
    """The note that the shelf holds what is missing."""
    if ask.shelf is None or ask.missing not in ask.shelf.materials():
        return []
    strengths = ", ".join(f"{given(s)}" for s in ask.shelf.strengths(ask.missing))
    return [f"{bench.tables.materials[ask.missing].name} stands on the shelf itself ({strengths})"]


def _stay(bench: Bench, ask: Ask) -> list[str]:
    """Because of a limit, how much of the missing material itself the figures on file let through: the
    dose may be answer enough.
    """
    most = ask.situation.most_pct(ask.missing) if ask.because == "limit" else None
    if not most or ask.situation.unknown(ask.missing):
        return []
    name = bench.tables.materials[ask.missing].name
    active = ask.accord.active().get(ask.missing, 0.0) if ask.accord else 0.0
    if ask.accord is None or not active:
        return [
            f"at most {percent(cut(most, 3))} of {name} itself in this product by the figures on file: "
            "less of it may do"
        ]
    dose = most * ask.accord.total / active
    if ask.situation.dose is not None and dose >= ask.situation.dose:
        return [
            f"as far as {name} goes, {ask.accord.name} stands as it is at this dose "
            f"(up to {percent(cut(dose, 3))})"
        ]
    return [f"as far as {name} goes, {ask.accord.name} stands as it is at a dose of {percent(cut(dose, 3))}"]


def _with_blend(
    singles: list[StandIn], mixed: StandIn | None, k: int, top: int, notes: list[str]
) -> list[StandIn]:
    """The blend put where its score belongs, always among the first ``top``."""
    if mixed is None:
        notes.append(
            f"no blend of {k} is clearly better than its best member "
            "and stands on evidence or a shared constituent"
        )
        return singles
    answers = sorted([mixed, *singles], key=lambda answer: -answer.score)[:top]
    if mixed not in answers:
        answers[-1] = mixed
    return answers


def _names(bench: Bench, answer: StandIn) -> str:
    return " and ".join(bench.tables.materials[member.id].name for member in answer.members)


def _documented_only(bench: Bench, ask: Ask, found: Sequence[str], top: int, notes: list[str]) -> SwapAnswer:
    """The documented swaps of a material that has no profile."""
    tables, allowed = bench.tables, set(found)
    weights = bench.known.direct(ask.missing, ask.because)
    documented = sorted((name for name in weights if name in allowed), key=lambda name: -weights[name])
    if not documented:
        raise InputError(
            f"{ask.missing}: has no odour profile on file and no documented stand-in, "
            "so nothing can be compared; give it rows in your own profiles.csv and properties.csv"
        )
    answers = []
    for place, name in enumerate(documented[:top]):
        rows = bench.known.rows(ask.missing, name, ask.because)
        ground = Ground(weights[name], "documented", rows)
        pair = make_pair(tables, ask.missing, name, ground)
        value = evidence_alone(weights[name])
        answers.append(
            StandIn(
                place + 1,
                (Member(name, pair.amount),),
                value,
                in_words(value, best_of_shelf=ask.shelf is not None and place == 0),
                float("nan"),
                "documented",
                (evidence_reason(tables, ground),),
                tuple(f"{word}: check before you buy or use it" for word in ask.status(name)),
                sources=tuple(dict.fromkeys(row.source for row in rows)),
                trial_series=pair.trial_series(),
            )
        )
    note = "it has no odour profile on file: only documented swaps are shown"
    return SwapAnswer(ask.missing, ask.because, tuple(answers), None, (*notes, note), tables)
