"""The accord, swapped: what is in question replaced, everything else left as it is unless moving it pays.

A pipeline of records: gaps (which lines are in question) → problem (arrays) → setting (all of a question) →
trials (what may take their place) → formulas as written → the answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..errors import InputError
from ..figures import percent
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
    tables, shelf, written = situation.tables, situation.shelf, chosen.written
    grown = written.total / accord.total
    held = (
        setting.wanted.hold_dose and situation.dose is not None
    )  # at the old dose, however little it weighs
    doses = situation.dose, _dose_after(situation.dose, chosen, 1.0 if held else grown)
    match = problem.match(written.grams / max(grown if held else 1.0, 1e-300))
    told = () if chosen.dose is not None else setting.gaps  # the old formula at a lower dose leaves no gap
    lines = reasons(tables, written.lines, told, setting.ranked, chosen.scaled)
    state = judged(situation, accord, written.lines, doses[1])
    bottle, bought = bottle_of(setting, chosen, staged, wider)
    smells = bool(problem.ear.sums(written.grams).total.max() > 0)
    costs = (
        cost(accord.active().items(), accord.total, shelf),
        cost([(line.material, line.active) for line in written.lines], accord.total, shelf),
    )
    return Adjusted(
        accord=accord.name,
        lines=lines,
        match=match,
        match_range=match_range(problem, written.grams, restage),
        options=tuple(option for option, _ in options),
        rivals=tuple(rivals_of(setting, chosen, formulas, bought))[: setting.wanted.rivals],
        limits=state.changes,
        lost=lost_words(tables, problem, written.grams),
        notes=tuple(_notes(setting, chosen, match.overall, doses)),
        cautions=cautions(tables, situation, lines, state.unknown),
        cost=costs,
        dose=doses,
        wall=state.wall,
        dose_within_known=state.dose_within_known,
        within_known=state.within and smells,
        bottle=bottle,
        tables=tables,
        product=situation.context.product if situation.judged else "",
        category=situation.context.category if situation.judged else "",
    )


def _dose_after(dose: float | None, chosen: Formula, grown: float) -> float | None:
    """The dose at which the new formula carries what the old one did at ``dose``: the formula's own, if it is
    the old one at another dose."""
    if chosen.dose is not None:
        return chosen.dose
    return None if dose is None else dose * grown


def _notes(
    setting: Setting, chosen: Formula, match: float, doses: tuple[float | None, float | None]
) -> Iterator[str]:
    """What is to be said of the formula as a whole, the worst first."""
    situation, written = setting.situation, chosen.written
    if match < POOR and setting.gaps:
        yield "nothing here takes its place; what is shown comes nearest"
    if chosen.dose is not None:
        yield (
            "nothing that changes the formula comes nearer than using it as it is "
            f"at {percent(chosen.dose)} of the product"
        )
    elif not setting.wanted.hold_dose:
        totals = setting.accord.total, written.total
        yield from solvent_notes(situation.tables, situation, written, totals, doses)
    if more := raised_words(setting, chosen):
        yield more
