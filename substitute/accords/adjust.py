"""The accord, swapped: what is in question replaced, everything else left as it is unless moving it pays.

A pipeline of records: gaps (which lines are in question) → problem (arrays) → trials (what may take their
place) → formulas as written →
the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError
from ..odour.perception import Array
from ..odour.staging import Staged
from ..records import Accord, Tables
from ..rules.situation import Situation
from .adjusted import GOOD, POOR, Adjusted, Bottle, Option, Rival
from .cut import cut
from .doubts import make_doubts
from .explain import Restage, cautions, cost, judged, lost_words, match_range, reasons, solvent_notes
from .fill import NEW_PRICE, Trial, fill, moved, pruned, trial
from .gaps import Gap, Wanted, check_wanted, find_gaps, is_mute, limit_gaps
from .plain import Plain, Ranked, plain_ways, within_known
from .problem import Problem, build_problem
from .same_total import at_old_total
from .written import UNMOVED, Written, write

Candidates = Callable[[str, str], Sequence[tuple[str, float | None]]]
NOTHING = Wanted()
MOST_NEW = 6
FINISHED = (
    5  # trials that are pruned, moved and written, so that they can be compared as a person would weigh them
)
LOUDEST, NEAREST = 3, 5  # gaps for which a bottle is looked for, and how many stand-ins of each
STRONG = 3.0  # times the usual highest percent that a line of an accord may be
LOUDER = 1.5  # times the amount of its pairs that a new material may reach
HOLDS, HARDLY = (
    6,
    0.002,
)  # rounds in which a lighter formula is cut for the old dose, and by how much more than needed
SCALES = (0.7, 0.84, 1.0, 1.19)  # of the new amounts, that compete in doubt
REGRET, REGRETTED = (
    0.1,
    0.02,
)  # fine for a world in which a person does better by hand, full from so much match
BETTER = 0.004  # match by which a plain way must be better than the answer to take its place
WORTH_SHOWING = 0.05  # match under the answer down to which a poor rival is still shown


@dataclass(frozen=True, eq=False)
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


@dataclass(frozen=True, eq=False)
class Formula:
    """A finished formula: as written, its match, its new materials and the lines that moved though nobody
    asked; ``dose`` if it is lower.
    """

    written: Written
    value: float
    new: tuple[str, ...]
    moved: tuple[str, ...]
    plain: str = ""
    dose: float | None = None
    scaled: float = 1.0
    doubted: float = 0.0

    @property
    def changes(self) -> int:
        return len(self.new) + len(self.moved)

    @property
    def worth(self) -> float:
        """Mean match over the worlds of :mod:`.doubts`, less what changes cost and what a person would
        regret.
        """
        return self.doubted - NEW_PRICE * self.changes


def adjust(
    staged: Staged,
    accord: Accord,
    situation: Situation,
    candidates: Candidates,
    wanted: Wanted = NOTHING,
    *,
    wider: Candidates | None = None,
    restage: Restage | None = None,
) -> Adjusted:
    """The accord with what is in question replaced, under the situation's limits and shelf.

    ``candidates(material, because)`` gives (id, grams per gram) of ranked single stand-ins; ``wider`` the
    same from everything that can be
    bought, for the one bottle that would help; ``restage(share, ids)`` the odours with the naturals at their
    low or high constituents.

    Raises
    ------
    InputError
        Where nothing can be judged by smell, or what is wanted contradicts itself, the accord, the shelf or
        the rules.
    """
    tables = situation.tables
    check_wanted(accord, situation, wanted)
    if all(is_mute(tables, name) or parts <= 0 for name, parts in accord.active().items()):
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to match"
        )
    tight = 1.0
    for _ in range(HOLDS):
        setting = prepare(staged, accord, situation, candidates, wanted, tight)
        options = _options(setting)
        formulas = doubted(setting, finished(setting), options)
        answer = _chosen(setting, formulas, options)
        shrunk = accord.total / max(answer.written.total, 1e-300)
        if not wanted.hold_dose or not situation.judged or shrunk <= tight or not answer.written.total:
            break
        tight = shrunk * (1 + HARDLY)
    return _answer(setting, answer, formulas, options, staged, wider, restage)


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
    base = cut(bare, start, np.array([name in wanted.keep for name in bare.ids]))
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
    most = usual(tables, at_most(ranked, lost), ranked, lost, accord.total)
    most |= dict.fromkeys((name for name in wanted.use), np.inf)
    problem = build_problem(
        staged, situation, accord, {name: most[name] for name in sorted(most)}, tight=tight
    )
    held = np.zeros(len(problem.ids))
    held[: len(base)] = base
    heard = tuple(gap for gap in gaps if gap.material in ranked)
    rest = tuple(gap for gap in gaps if gap.material not in ranked)
    return Setting(accord, situation, wanted, heard + rest, ranked, problem, held)


def at_most(ranked: Ranked, lost: Mapping[str, float]) -> dict[str, float]:
    """Candidates by id with the most grams of each: half as much again as its pairs ask for the ``lost``
    grams."""
    found: dict[str, float] = {}
    for gap, some in ranked.items():
        for name, ratio in some:
            found[name] = found.get(name, 0.0) + (LOUDER * ratio * lost[gap] if ratio else np.inf)
    return {name: found[name] for name in sorted(found)}


def usual(
    tables: Tables, most: Mapping[str, float], ranked: Ranked, lost: Mapping[str, float], total: float
) -> dict[str, float]:
    """``most``, but no more of a material than people use of it: three times its usual highest percent of a
    compound, or as many times as the one that went."""
    found = dict(most)
    for name, grams in most.items():
        high = tables.value(name, "use_high_pct")
        gaps = [gap for gap, some in ranked.items() if any(one == name for one, _ in some)]
        if high and gaps:
            theirs = [(lost[gap] / total * 100.0, tables.value(gap, "use_high_pct")) for gap in gaps]
            times = max([STRONG, *(part / usage for part, usage in theirs if usage)])
            found[name] = min(grams, times * high * total / 100.0)
    return found


def doubted(
    setting: Setting, formulas: Sequence[Formula], options: Sequence[tuple[Option, Formula]]
) -> list[Formula]:
    """``formulas`` and the plain ways that may be taken, best worth first: in other worlds too.

    A formula is fined for every world in which a person would do better by hand.
    """
    problem, wanted = setting.problem, setting.wanted
    by_hand = [
        f
        for option, f in options
        if option.within_known
        and f.dose is None
        and problem.obeys(f.written.grams)
        and set(wanted.use) <= set(f.new)
        and len(f.new) <= setting.most_new
    ]
    some = [*formulas, *by_hand]
    if not some or not setting.gaps:
        return some
    values = make_doubts(problem, np.array([f.written.grams for f in some])).values(
        np.array([f.written.grams for f in some])
    )
    behind = np.zeros(values.shape)
    if by_hand:
        best = values[:, len(formulas) :].max(axis=1, keepdims=True)
        behind = np.clip((best - values) / REGRETTED, 0.0, 1.0)
    worths = values.mean(axis=0) - REGRET * behind.mean(axis=0)
    return sorted((replace(f, doubted=float(w)) for f, w in zip(some, worths)), key=_order)


def finished(setting: Setting) -> list[Formula]:
    """Formulas as a person would weigh them."""
    problem, wanted = setting.problem, setting.wanted
    must = tuple(problem.index[name] for name in wanted.use)
    allowed = [i for i in range(problem.n_lines, len(problem.ids)) if not problem.banned[i]]
    allowed = [i for i in allowed if i not in must]
    if not setting.gaps and not must:
        return [_formula(setting, trial(problem, setting.base))]
    trials = fill(problem, setting.base, allowed, setting.most_new, must)
    picked = dict.fromkeys(trials[:FINISHED])
    picked |= dict.fromkeys(sorted(trials, key=lambda one: (-round(one.value, 9), one.new))[:2])
    picked |= dict.fromkeys(one for one in trials if len(one.new) == min(len(t.new) for t in trials))
    found: dict[tuple[tuple[str, ...], tuple[str, ...], float], Formula] = {}
    for one in picked:
        least = pruned(problem, one, must)
        nearest = moved(problem, least, setting.free, wanted.move / 100.0, setting.base)
        for made in (least, nearest) if nearest.value >= POOR else (least,):
            for factor in SCALES if made.new else (1.0,):
                grams = made.grams.copy()
                grams[list(made.new)] *= factor
                formula = _formula(setting, trial(problem, grams))
                if problem.obeys(formula.written.grams) or not problem.obeys(setting.base):
                    found.setdefault((formula.new, formula.moved, factor), formula)
    return list(found.values())


def _order(formula: Formula) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    return (-round(formula.worth, 9), formula.new, formula.moved)


def _formula(setting: Setting, one: Trial, plain: str = "", dose: float | None = None) -> Formula:
    problem = setting.problem
    written = write(problem, one.grams, setting.accord, setting.situation.shelf, setting.lowered)
    return _as_formula(setting, written, plain, dose)


def _as_formula(setting: Setting, written: Written, plain: str = "", dose: float | None = None) -> Formula:
    problem = setting.problem
    grams = written.grams
    shift = np.abs(grams - setting.base) > UNMOVED * np.maximum(setting.base, 1e-300)
    asked = {problem.index[gap.material] for gap in setting.gaps}
    new = tuple(problem.ids[i] for i in range(problem.n_lines, len(problem.ids)) if grams[i] > 0)
    other = tuple(problem.ids[i] for i in range(problem.n_lines) if shift[i] and i not in asked)
    scaled = 1.0
    if setting.wanted.same_total:
        written, scaled = at_old_total(setting.situation, setting.accord, problem, written)
    value = float(problem.ear.values(problem.ear.sums(written.grams)))
    return Formula(written, value, new, other, plain, dose, scaled)


def _options(setting: Setting) -> list[tuple[Option, Formula]]:
    """The plain ways, rounded like the answer."""
    problem, situation = setting.problem, setting.situation
    legal = None
    if setting.lowered and situation.dose:
        most = situation.judge(setting.accord.active(), setting.accord.total).max_dose_known_pct
        legal = None if most is None else most / situation.dose
    found = []
    gaps = [gap for gap in setting.gaps if gap.material in setting.ranked]
    for way in plain_ways(problem, setting.base, gaps, setting.ranked, setting.most_new, legal):
        dose = situation.dose * legal if way.name == "lower_dose" and legal and situation.dose else None
        formula = _plain_formula(setting, way, dose)
        grams = formula.written.grams
        active = {problem.ids[i]: float(grams[i]) for i in np.flatnonzero(grams > 0)}
        within = dose is not None or within_known(problem, grams)
        option = Option(way.name, formula.value, within, active, dose if dose is not None else situation.dose)
        found.append((option, formula))
    return found


def _plain_formula(setting: Setting, way: Plain, dose: float | None) -> Formula:
    problem = setting.problem
    if dose is None:
        return _formula(setting, trial(problem, way.grams), way.name)
    lines = write(problem, problem.old, setting.accord, setting.situation.shelf).lines
    value = float(problem.ear.values(problem.ear.sums(way.grams)))
    return Formula(Written(lines, way.grams), value, (), (), way.name, dose)


def _chosen(
    setting: Setting, formulas: Sequence[Formula], options: Sequence[tuple[Option, Formula]]
) -> Formula:
    """The best worth that no plain way within the limits is plainly nearer than; a lower dose only where it
    is.
    """
    if not formulas:
        return _formula(setting, trial(setting.problem, setting.base))
    least = max((f.value for f in formulas if f.plain), default=0.0) - BETTER
    best = next(f for f in formulas if f.value >= least)
    for _, plain in options:
        if plain.dose is not None and not setting.wanted.hold_dose and plain.value > best.value + BETTER:
            return plain
    return best


def _answer(
    setting: Setting,
    chosen: Formula,
    formulas: Sequence[Formula],
    options: Sequence[tuple[Option, Formula]],
    staged: Staged,
    wider: Candidates | None,
    restage: Restage | None,
) -> Adjusted:
    accord, situation, problem = setting.accord, setting.situation, setting.problem
    tables, shelf = situation.tables, situation.shelf
    written = chosen.written
    dose = situation.dose
    growth = 1.0 if setting.wanted.hold_dose and dose is not None else written.total / accord.total
    dose_after = None if dose is None else dose * growth
    notes: list[str] = []
    if chosen.dose is not None:
        dose_after = chosen.dose
        notes.append(
            "nothing that changes the formula comes nearer than using it as it is "
            f"at {chosen.dose:.3g} % of the product"
        )
    held = written.total / accord.total if setting.wanted.hold_dose and dose is not None else 1.0
    match = problem.match(written.grams / max(held, 1e-300))
    told = () if chosen.dose is not None else setting.gaps
    lines = reasons(tables, written.lines, told, setting.ranked, chosen.scaled)
    state = judged(situation, accord, written.lines, dose_after)
    if chosen.dose is None and not setting.wanted.hold_dose:
        notes += solvent_notes(tables, situation, written, (accord.total, written.total), (dose, dose_after))
    bottle, bought = _bottle(setting, chosen, staged, wider)
    if match.overall < POOR and setting.gaps:
        notes.insert(0, "nothing here takes its place; what is shown comes nearest")
    smells = bool(problem.ear.sums(written.grams).total.max() > 0)
    active = [(line.material, line.active) for line in written.lines]
    before = cost(accord.active().items(), accord.total, shelf)
    return Adjusted(
        accord.name,
        lines,
        match,
        match_range(problem, written.grams, restage),
        tuple(option for option, _ in options),
        tuple(_rivals(setting, chosen, formulas, bought))[: setting.wanted.rivals],
        state.changes,
        lost_words(tables, problem, written.grams),
        tuple(notes),
        cautions(tables, situation, lines, state.unknown),
        (before, cost(active, accord.total, shelf)),
        (dose, dose_after),
        state.wall,
        state.dose_within_known,
        state.within and smells,
        bottle,
        tables,
        situation.context.product if situation.judged else "",
        situation.context.category if situation.judged else "",
    )


def _rivals(
    setting: Setting,
    chosen: Formula,
    formulas: Sequence[Formula],
    bought: Rival | None,
) -> list[Rival]:
    """Formulas that differ in kind from the answer: less changed, nearer, with one bottle bought."""
    if not setting.gaps:
        return []
    seen = {(chosen.new, chosen.moved, chosen.dose)}
    others = list(formulas)
    found = []
    least = min(POOR, chosen.value - WORTH_SHOWING)
    fewer = [f for f in others if f.changes < chosen.changes and f.value >= least]
    nearer = [f for f in others if f.value > chosen.value + BETTER]
    for name, some in (
        ("least_changed", sorted(fewer, key=lambda f: (f.changes, *_order(f)))),
        ("nearest", sorted(nearer, key=lambda f: -f.value)),
    ):
        for formula in some[:1]:
            key = (formula.new, formula.moved, formula.dose)
            if key not in seen:
                seen.add(key)
                found.append(_rival(setting, name, formula))
    return [*found, bought] if bought else found


def _rival(setting: Setting, name: str, formula: Formula, note: str = "") -> Rival:
    lines = formula.written.lines
    price = cost(
        [(line.material, line.active) for line in lines], setting.accord.total, setting.situation.shelf
    )
    return Rival(
        name, setting.problem.match(formula.written.grams), formula.moved, formula.new, lines, price, note
    )


def _loudness(setting: Setting, name: str) -> float:
    """How much of the old smell went with ``name``."""
    problem = setting.problem
    i = problem.index[name]
    return float((problem.old[i] - setting.base[i]) / problem.unit[i])


def _bottle(
    setting: Setting, chosen: Formula, staged: Staged, wider: Candidates | None
) -> tuple[Bottle | None, Rival | None]:
    """The one bottle, not on the shelf, that would help most, and the formula with it."""
    shelf = setting.situation.shelf
    if shelf is None or wider is None or not setting.ranked or setting.wanted.use or chosen.value >= GOOD:
        return None, None
    open_ = replace(setting.situation, shelf=None)
    ranked = {
        gap.material: tuple(wider(gap.material, gap.because))
        for gap in setting.gaps
        if gap.material in setting.ranked
    }
    held = set(shelf.materials())
    bought = {name for found in ranked.values() for name, _ in found} - held - set(setting.accord.active())
    if not bought or setting.most_new < 1:
        return None, None
    both = {
        gap: (*found, *(one for one in ranked.get(gap, ()) if one[0] in bought))
        for gap, found in setting.ranked.items()
    }
    old, now = setting.problem.old, setting.base
    lost = {gap: float(old[setting.problem.index[gap]] - now[setting.problem.index[gap]]) for gap in both}
    total, tables = setting.accord.total, setting.situation.tables
    problem = build_problem(
        staged, open_, setting.accord, usual(tables, at_most(both, lost), both, lost, total)
    )
    base = np.zeros(len(problem.ids))
    base[: problem.n_lines] = setting.base[: problem.n_lines]
    wide = replace(setting, problem=problem, base=base, ranked=both)
    own = [problem.index[name] for name in chosen.new if name in problem.index]
    best: Trial | None = None
    singles = fill(problem, base, [problem.index[name] for name in sorted(bought)], 1)
    for single in [one for one in singles if one.new][:2]:
        for one in fill(problem, single.grams, own, setting.most_new - 1)[:2]:
            one = pruned(problem, one)
            if set(one.new) & set(single.new) and (best is None or one.worth > best.worth):
                best = one
    if best is None:
        return None, None
    formula = _formula(wide, best)
    if formula.value < chosen.value + NEW_PRICE or not problem.obeys(formula.written.grams):
        return None, None
    name = next(name for name in formula.new if name in bought)
    note = f"with one bottle bought: {setting.situation.tables.materials[name].name}"
    return Bottle(name, formula.value), _rival(wide, "one_bottle", formula, note)
