"""Other formulas for the same question, that differ in kind: less changed, nearer, with one bottle bought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..odour.staging import Staged
from .adjusted import GOOD, POOR, Bottle, Rival
from .explain import cost
from .fill import NEW_PRICE, Trial, fill, pruned
from .formulas import BETTER, Formula, as_written, order
from .problem import build_problem
from .setting import Candidates, Setting, at_most, usual

WORTH_SHOWING = 0.05  # match under the answer down to which a poor rival is still shown


def rivals_of(
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
        ("least_changed", sorted(fewer, key=lambda f: (f.changes, *order(f)))),
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


def bottle_of(
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
    formula = as_written(wide, best)
    if formula.value < chosen.value + NEW_PRICE or not problem.obeys(formula.written.grams):
        return None, None
    name = next(name for name in formula.new if name in bought)
    note = f"with one bottle bought: {setting.situation.tables.materials[name].name}"
    return Bottle(name, formula.value), _rival(wide, "one_bottle", formula, note)
