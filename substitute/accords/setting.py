"""A question made ready: what is in question, what is cut to its limit, what may come in, all as arrays."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from ..errors import InputError
from ..frozen import frozen
from ..odour.perception import Array
from ..odour.staging import Staged
from ..records import Accord, Tables
from ..rules.situation import Situation
from .cut import cut
from .gaps import Gap, Wanted, find_gaps, is_mute, limit_gaps
from .plain import Ranked, heaviest
from .problem import Problem, build_problem
from .written import UNMOVED, WEIGHABLE

Candidates = Callable[[str, str], Sequence[tuple[str, float | None]]]
MOST_NEW = 6
STRONG = 3.0  # times the usual highest percent that a line of an accord may be
LOUDER = 1.5  # times the amount of its pairs that a new material may reach


@frozen(eq=False)
class Setting:
    """A question made ready: the accord's ``gaps``, the ``problem``, and ``base`` (N), the accord without
    what goes.
    """

    accord: Accord
    situation: Situation
    wanted: Wanted
    gaps: tuple[Gap, ...]
    ranked: Ranked
    problem: Problem
    base: Array

    @property
    def most_new(self) -> int:
        wanted = self.wanted
        if wanted.max_new is not None:
            return wanted.max_new
        loud = sum(not is_mute(self.situation.tables, gap.material) for gap in self.gaps)
        return len(wanted.use) if wanted.use and len(wanted.use) >= loud else min(max(2, loud), MOST_NEW)

    @property
    def free(self) -> list[int]:
        """Lines that may move where that pays: heard, not in question, not pinned."""
        out = {gap.material for gap in self.gaps} | set(self.wanted.keep) | set(self.wanted.use)
        tables, problem = self.situation.tables, self.problem
        return [
            i
            for i in range(problem.n_lines)
            if problem.ids[i] not in out and problem.old[i] > 0 and not is_mute(tables, problem.ids[i])
        ]

    @property
    def lowered(self) -> tuple[str, ...]:
        return tuple(gap.material for gap in self.gaps if gap.cause == "limit")


def prepare(
    staged: Staged,
    accord: Accord,
    situation: Situation,
    candidates: Candidates,
    wanted: Wanted,
    tight: float = 1.0,
) -> Setting:
    """Gaps found, limits cut to, candidates ranked, all as arrays."""
    tables = situation.tables
    gaps = find_gaps(accord, situation, wanted)
    bare = build_problem(staged, situation, accord, tight=tight)
    start = bare.old.copy()
    start[[bare.index[gap.material] for gap in gaps]] = 0.0
    base = weighable(bare, cut(bare, start, np.array([name in wanted.keep for name in bare.ids])), accord)
    lowered = [bare.ids[i] for i in np.flatnonzero(base < start * (1 - UNMOVED))]
    gaps += limit_gaps(accord, situation, lowered)
    if wanted.use and not gaps:
        raise InputError(f"use {', '.join(wanted.use)}: no line of {accord.name} is in question")
    ranked = {
        gap.material: tuple(candidates(gap.material, gap.because))
        for gap in gaps
        if accord.active()[gap.material] > 0 and not is_mute(tables, gap.material)
    }
    lost = {name: float(bare.old[bare.index[name]] - base[bare.index[name]]) for name in ranked}
    most = usual(tables, at_most(ranked, lost), ranked, lost, accord)
    most |= dict.fromkeys((name for name in wanted.use), np.inf)
    problem = build_problem(
        staged, situation, accord, {name: most[name] for name in sorted(most)}, tight=tight
    )
    held = np.zeros(len(problem.ids))
    held[: len(base)] = base
    heard = tuple(gap for gap in gaps if gap.material in ranked)
    rest = tuple(gap for gap in gaps if gap.material not in ranked)
    return Setting(accord, situation, wanted, heard + rest, ranked, problem, held)


def weighable(problem: Problem, base: Array, accord: Accord) -> Array:
    """``base`` (N) without lines that were cut down to what no balance weighs beside the rest."""
    parts = np.zeros(len(problem.ids))
    for line in accord.lines:
        parts[problem.index[line.material]] += line.parts
    least = WEIGHABLE * accord.total
    left = np.divide(base * parts, problem.old, out=np.zeros_like(base), where=problem.old > 0)
    cut_off = (base < problem.old * (1 - UNMOVED)) & (parts >= least) & (left < least)
    return np.where(cut_off, 0.0, base)


def at_most(ranked: Ranked, lost: Mapping[str, float]) -> dict[str, float]:
    """Candidates by id with the most grams of each: half as much again as its pairs ask for the ``lost``
    grams."""
    found: dict[str, float] = {}
    for gap, some in ranked.items():
        for name, ratio in some:
            found[name] = found.get(name, 0.0) + (LOUDER * ratio * lost[gap] if ratio else np.inf)
    return {name: found[name] for name in sorted(found)}


def usual(
    tables: Tables, most: Mapping[str, float], ranked: Ranked, lost: Mapping[str, float], accord: Accord
) -> dict[str, float]:
    """``most``, but no more of a material than people use of it: three times its usual highest percent of a
    compound, or as many times as the one that went; and never more than half of the accord, unless more
    than that, or all but all, went."""
    found = dict(most)
    whole = sum(accord.active().values())
    for name, grams in most.items():
        gaps = [gap for gap, some in ranked.items() if any(one == name for one, _ in some)]
        if not gaps:
            continue
        found[name] = min(grams, heaviest(whole, sum(lost[gap] for gap in gaps), sum(lost.values())))
        if high := tables.value(name, "use_high_pct"):
            theirs = [(lost[gap] / accord.total * 100.0, tables.value(gap, "use_high_pct")) for gap in gaps]
            times = max([STRONG, *(part / usage for part, usage in theirs if usage)])
            found[name] = min(found[name], times * high * accord.total / 100.0)
    return found
