"""The accord, swapped: what is in question replaced, everything else left as it is unless moving it pays.

A pipeline of records: gaps (which lines are in question) → problem (arrays) → setting (all of a question) →
trials (what may take their place) → formulas as written → the answer.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import InputError
from ..odour.staging import Staged
from ..records import Accord
from ..rules.situation import Situation
from .adjusted import POOR, Adjusted, Option
from .explain import Restage, cautions, cost, judged, lost_words, match_range, reasons, solvent_notes
from .formulas import Formula, chosen_of, doubted, finished, options_of
from .gaps import Wanted, check_wanted, is_mute
from .rivals import bottle_of, raised_words, rivals_of
from .setting import Candidates, Setting, prepare

NOTHING = Wanted()
HOLDS = 6  # rounds in which a lighter formula is cut for the old dose
HARDLY = 0.002  # by how much more than needed


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
        options = options_of(setting)
        formulas = doubted(setting, finished(setting), options)
        answer = chosen_of(setting, formulas, options)
        shrunk = accord.total / max(answer.written.total, 1e-300)
        if not wanted.hold_dose or not situation.judged or shrunk <= tight or not answer.written.total:
            break
        tight = shrunk * (1 + HARDLY)
    return _answer(setting, answer, formulas, options, staged, wider, restage)


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
    bottle, bought = bottle_of(setting, chosen, staged, wider)
    if more := raised_words(setting, chosen):
        notes.append(more)
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
        tuple(rivals_of(setting, chosen, formulas, bought))[: setting.wanted.rivals],
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
