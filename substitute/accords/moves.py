"""How far lines move by what was said of them, with reasons: brackets, ratios that stay, ceilings."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from ..errors import InputError
from ..figures import figure, significant
from ..records import Accord
from .bracket import SAME, Bracket, bracket, next_amount

FIRST_SHARE = 0.005  # of the total parts: where a line of 0 parts starts that is too weak
FIGURES = (3, 4, 6)  # to which an amount is rounded: the first that still tells it from its neighbours
Said = tuple[str, str]  # (verdict, degree or '')


@dataclass
class Move:
    """Amounts of every material itself while the next trial is made up, with reasons and warnings."""

    before: dict[str, float]
    after: dict[str, float]
    why: dict[str, str] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def judge(
    work: Move, accord: Accord, id: str, judged: list[tuple[float, str, str]], name: Callable[[str], str]
) -> None:
    """Move a judged line to its next amount."""
    amount, verdict, degree = judged[0]
    words = f"{degree} {verdict.replace('_', ' ')}".strip()
    found = bracket(judged)
    strength = next(line.strength for line in accord.lines if line.material == id) / 100.0
    if amount == 0:
        if verdict == "too_strong":
            work.why[id] = "too strong, but it has 0 parts already"
            work.warnings.append(
                f"{name(id)}: has 0 parts and cannot have less; something else smells of it."
            )
            return
        if found.high is None and found.right is None:
            work.after[id] = FIRST_SHARE * accord.total * strength
            work.why[id] = f"{words}: a first amount, half a percent"
            return
    target = next_amount(found)
    work.after[id] = _rounded(target, found, amount, strength)
    work.why[id] = f"{words}: {_how(found, strength, work.after[id] / amount if amount else None)}"


def _rounded(target: float, found: Bracket, before: float, strength: float) -> float:
    """An amount whose parts are as few figures as keep it inside its bracket, and on its side of where it
    was."""
    for digits in FIGURES:
        value = significant(target / strength, digits) * strength
        inside = (found.low is None or value > found.low) and (found.high is None or value < found.high)
        if found.right is None and inside and value != before and abs(value / target - 1.0) < 0.02:
            return value
    return target


def _how(found: Bracket, strength: float, times: float | None) -> str:
    if found.right is not None:
        return f"back to {figure(found.right / strength, 4)} parts, judged right before"
    if found.low is not None and found.high is not None:
        low, high = figure(found.low / strength, 4), figure(found.high / strength, 4)
        return f"between {low} (too weak) and {high} (too strong)"
    return (
        f"\N{MULTIPLICATION SIGN} {figure(times, 2)}"
        if times is not None and times >= 1
        else f"÷ {figure(1 / times, 2)}"
        if times
        else "a first amount"
    )


def keep_ratio(work: Move, group: tuple[str, ...], said: Mapping[str, Said]) -> None:
    """Let the rest of a group follow the ones that were judged."""
    moved = [id for id in group if work.after[id] != work.before[id]]
    held = [id for id in group if id in said and said[id][0] == "right"]
    if not moved:
        return
    if held:
        raise InputError(
            f"{held[0]}: is right, and {moved[0]} is not; their ratio cannot stay. Leave one of "
            "the two verdicts or the ratio out"
        )
    factors = [work.after[id] / work.before[id] for id in moved]
    if min(factors) < 1.0 < max(factors):
        raise InputError(
            f"{moved[0]} and {moved[1]}: one is to have more, one less; their ratio cannot stay. "
            "Leave a verdict or the ratio out"
        )
    factor = math.exp(sum(map(math.log, factors)) / len(factors))
    if len(moved) > 1:
        work.notes.append(f"{', '.join(moved)}: moved together, by the middle of what each asked for.")
    for id in group:
        if len(moved) > 1 or id not in moved:
            work.after[id] = work.before[id] * factor
            work.why[id] = work.why.get(
                id, f"keeps its ratio to {', '.join(one for one in group if one != id)}"
            )


def set_ratio(
    work: Move, group: tuple[str, ...], figures: tuple[float, ...], said: Mapping[str, Said]
) -> None:
    """Bring a group to a ratio: what is right stays and what was judged moves as it was judged, the others
    follow; where nothing was said of any, their mass together stays."""
    right = [id for id in group if id in said and said[id][0] == "right"]
    judged = right or [id for id in group if work.after[id] != work.before[id]]
    share = dict(zip(group, figures))
    wanted = [work.after[id] / share[id] for id in judged]
    if right and max(wanted) > min(wanted) * (1 + SAME):
        raise InputError(
            f"{' and '.join(right)}: are right as they are, so their ratio cannot be set anew. Leave one of "
            "the verdicts or the ratio out"
        )
    if wanted:
        unit = math.exp(sum(map(math.log, wanted)) / len(wanted))
    else:
        unit = sum(work.before[id] for id in group) / sum(figures)
    if not unit:
        raise InputError(f"{', '.join(group)}: have 0 parts, so no ratio of theirs can be set")
    told = ":".join(f"{figure:g}" for figure in figures)
    if len(judged) > 1 and not right:
        work.notes.append(f"{', '.join(judged)}: moved together, by the middle of what each asked for.")
    for id in group:
        if id not in judged or len(judged) > 1:
            work.after[id] = unit * share[id]
            others = ", ".join(one for one in group if one != id)
            work.why[id] = work.why.get(id) or f"in the ratio {told} asked for with {others}, neat for neat"


def hold_ceilings(
    work: Move,
    most: Callable[[str], float | None],
    ratios: Sequence[tuple[str, ...]],
    name: Callable[[str], str],
) -> None:
    """Stop what grows at its limit, a group as one; tell of lines over theirs that nobody named."""
    for id in list(work.after):
        limit = most(id)
        if limit is None or work.after[id] <= limit * (1 + SAME):
            continue
        if work.after[id] <= work.before[id]:
            work.warnings.append(
                f"{name(id)}: {figure(work.after[id], 4)} parts are over its limit of {figure(limit, 4)}; "
                "the verdict is kept, the limit is not."
            )
            continue
        stop = max(limit, min(work.before[id], work.after[id])) if work.before[id] > limit else limit
        factor = stop / work.after[id]
        together = next((group for group in ratios if id in group), (id,))
        for one in together:
            work.after[one] *= factor
        work.why[id] = f"{work.why.get(id, '').partition(':')[0]}, to its limit of {figure(limit, 4)} parts"
        work.warnings.append(
            f"{name(id)}: the limit of {figure(limit, 4)} parts is reached; more is not within it."
        )
