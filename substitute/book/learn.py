"""What a person's own amounts say about how loud materials are to them: one linear Gaussian model, solved
at once.

Let f be the log of how much louder a material is to this person than on file. Before anything was tried f
is Gaussian around 0; its standard deviation joins how far the figure on file may be off
(:data:`~substitute.standins.amounts.SPREAD`, by its basis) and how much people differ
(:data:`~.causes.PEOPLE`). A
natural is as its constituents are, each by its part of the natural's odour, and a rest of its own. A
verdict about an amount (:mod:`.heard`) says

    log(grams that were right) = log(grams on file) + f(missing) - f(stand-in) + d + noise

with d what is peculiar to the pair (they smell of different things, the grams on file are off). In a blend
f(stand-in) is the mean over its members, each by its part in the blend's strength. Of a line of an accord
f(missing) is not there, the grams on file are those first written, and d is wide: nobody knows what the
writer was after. d has heavy tails (Student's t, one degree of freedom, its mode found by reweighting):
what no common cause explains, such as a smell that the person is blind to, stays with the pair and does not
spill over other answers. All verdicts are solved together, so that their order does not matter and one
taken back is as if it had never been given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field
from typing import Any

from ..frozen import frozen
from ..odour.perception import HEARING
from ..records import Swap, Tables
from ..standins.amounts import SPREAD, USE_SPREAD, Amount
from ..standins.evidence import Ground
from ..standins.pair import make_pair
from .causes import Causes
from .heard import INTENT, Matter, Observation, Parts, observed
from .records import Verdict

PECULIAR = 1.15  # what is peculiar to a pair, as a factor at one standard deviation
TAIL = 1.0  # degrees of freedom of Student's t: the heaviest tail, Cauchy's
OPEN = 1e-3  # weight of the pairs' own causes in the second start: nearly free
ROUNDS = 50
LIMIT = 1.645  # standard deviations on either side: nine in ten
UNMOVED = 0.02  # a log factor nearer to 0 than this is as on file


@frozen
class Told:
    """A figure learned: its factor over what is on file, with nine-in-ten limits, and the verdicts it comes
    from; ``lines`` where these are all of lines of accords."""

    factor: float
    low: float
    high: float
    verdicts: tuple[int, ...]
    lines: bool = False


@frozen
class MatterAmount:
    """Grams for one gram of what was tried: on file (``None`` if none) and learned, nine-in-ten limits,
    verdicts."""

    before: float | None
    grams: float
    low: float
    high: float
    verdicts: tuple[int, ...]


@frozen
class Learned:
    """``loudness``: id -> how loud a material is beside the tables; ``amounts``: pair or blend -> amount;
    ``tried``: every material that a verdict speaks of."""

    loudness: Mapping[str, Told]
    amounts: Mapping[Matter, MatterAmount]
    tried: frozenset[str] = field(default_factory=frozenset)

    @property
    def pairs(self) -> dict[tuple[str, str], MatterAmount]:
        """Amounts of single materials, by (missing, stand-in)."""
        return {one.pair: amount for one, amount in self.amounts.items() if len(one.parts) == 1}


def on_file(tables: Tables) -> Callable[[str, str], Amount | None]:
    """A function of a pair: the amount that the tables know, without anything learned."""
    by_pair: dict[tuple[str, str], list[Swap]] = {}
    for row in tables.swaps:
        by_pair.setdefault((row.missing, row.stand_in), []).append(row)

    def amount(missing: str, stand_in: str) -> Amount | None:
        ground = None
        if (missing, stand_in) in by_pair:
            ground = Ground(1.0, "documented", tuple(by_pair[missing, stand_in]))
        elif (stand_in, missing) in by_pair:
            ground = Ground(1.0, "reverse", tuple(by_pair[stand_in, missing]))
        return make_pair(tables, missing, stand_in, ground).amount

    return amount


def mix_on_file(tables: Tables, matter: Matter) -> tuple[float, tuple[float, ...]] | None:
    """Grams of a blend, at its ratio, that are as strong as one gram of what it stands for, and each
    member's part in the blend's strength; ``None`` without potencies."""
    loud = [(tables.value(id, "potency") or 0.0) * grams / matter.total for id, grams in matter.parts]
    missing, power = tables.value(matter.place, "potency") or 0.0, HEARING.exponent * HEARING.p
    powered = [value**power for value in loud]
    if not missing or min(powered) <= 0.0:
        return None
    whole = sum(powered)
    return missing / whole ** (1.0 / power), tuple(value / whole for value in powered)


def learn(tables: Tables, verdicts: Sequence[Verdict], parts: Parts | None = None) -> Learned:
    """Everything that the verdicts teach, given the tables as on file; ``parts`` knows the amounts in the
    trials of accords."""
    seen = observed(verdicts, parts)
    if not seen:
        return Learned({}, {})
    file = on_file(tables)
    causes = Causes(tables)
    matters = {one.matter: _known(causes, one.matter, file) for one in dict.fromkeys(seen)}
    alone = {one: _alone(one, seen) for one, known in matters.items() if known is None}
    tied = [one for one in seen if matters[one.matter] is not None]
    tried = frozenset(id for one in seen for id in one.matter.ids)
    if not tied:
        return Learned({}, alone, tried)
    loudness, amounts = _solve(causes, tied, {one: known for one, known in matters.items() if known})
    return Learned(loudness, {**alone, **amounts}, tried)


@frozen
class Known:
    """What is known of a matter before: grams on file, how it is made up of the unknowns, and the standard
    deviation of what is peculiar to it."""

    grams: float
    row: Mapping[int, float]
    own: float


def _known(causes: Causes, matter: Matter, file: Callable[[str, str], Amount | None]) -> Known | None:
    """``None`` where nothing is on file of the pair."""
    if matter.line:
        return Known(1.0, _less({}, causes.row(matter.parts[0][0]), 1.0), math.log(INTENT))
    if len(matter.parts) > 1:
        mix = mix_on_file(causes.tables, matter)
        if mix is None:
            return None
        row = causes.row(matter.place)
        for (id, _), share in zip(matter.parts, mix[1]):
            row = _less(row, causes.row(id), share)
        return Known(mix[0], row, math.log(PECULIAR))
    amount = file(*matter.pair)
    if amount is None:
        return None
    row = _less(causes.row(matter.place), causes.row(matter.parts[0][0]), 1.0)
    return Known(amount.grams, row, _peculiar(amount))


def _less(row: Mapping[int, float], other: Mapping[int, float], share: float) -> dict[int, float]:
    return {
        column: row.get(column, 0.0) - share * other.get(column, 0.0)
        for column in dict.fromkeys([*row, *other])
    }


def _alone(matter: Matter, seen: Iterable[Observation]) -> MatterAmount:
    """The amount of a pair of which nothing is on file: the weighted mean of what was said."""
    mine = [one for one in seen if one.matter == matter]
    weight = sum(one.sd**-2 for one in mine)
    mean = sum(one.log_right * one.sd**-2 for one in mine) / weight
    sd = weight**-0.5
    ids = tuple(one.verdict for one in mine)
    return MatterAmount(None, math.exp(mean), math.exp(mean - LIMIT * sd), math.exp(mean + LIMIT * sd), ids)


def _solve(
    causes: Causes, seen: Sequence[Observation], known: Mapping[Matter, Known]
) -> tuple[dict[str, Told], dict[Matter, MatterAmount]]:
    import numpy as np

    place = {matter: number for number, matter in enumerate(known)}
    n = len(causes.sd)
    design = np.zeros((len(seen), n + len(place)))
    for number, one in enumerate(seen):
        for column, value in known[one.matter].row.items():
            design[number, column] = value
        design[number, n + place[one.matter]] = 1.0
    target = np.array([one.log_right - math.log(known[one.matter].grams) for one in seen])
    noise = np.array([one.sd for one in seen])
    own = np.array([one.own for one in known.values()])
    prior = np.concatenate([np.array(causes.sd), own]), n
    best = None
    for start in (
        1.0,
        OPEN,
    ):  # two starts, since heavy tails can have two modes: all by common causes, or all by the pairs
        found_here = _mode(design, target, noise, prior, start)
        if best is None or found_here[2] < best[2]:
            best = found_here
    assert best is not None
    solved = best[0], best[1]
    amounts = {
        matter: _amount(one, {**one.row, n + place[matter]: 1.0}, solved, ids_of(matter, seen))
        for matter, one in known.items()
        if not matter.line
    }
    return _loudness(causes, *solved, seen), amounts


def ids_of(matter: Matter, seen: Iterable[Observation]) -> tuple[int, ...]:
    """The verdicts that speak of a matter."""
    return tuple(one.verdict for one in seen if one.matter == matter)


def _mode(
    design: Any, target: Any, noise: Any, prior: tuple[Any, int], start: float
) -> tuple[Any, Any, float]:
    """Mode, covariance around it and height (minus log density) of the posterior; ``prior`` are standard
    deviations, and how many of the unknowns are materials: the rest are pairs."""
    import numpy as np

    sd, n = prior
    weight = np.full(len(sd) - n, start)
    mean = np.zeros(len(sd))
    for _ in range(ROUNDS):  # the mode of Student's t by reweighting
        precision = sd**-2.0
        precision[n:] *= weight
        normal = (design / noise[:, None] ** 2).T @ design + np.diag(precision)
        new = np.linalg.solve(normal, design.T @ (target / noise**2))
        done = bool(np.max(np.abs(new - mean)) < 1e-9)
        mean = new
        weight = (TAIL + 1.0) / (TAIL + (mean[n:] / sd[n:]) ** 2)
        if done:
            break
    off = (target - design @ mean) / noise
    common = float(off @ off + np.sum((mean[:n] / sd[:n]) ** 2)) / 2.0
    peculiar = float(np.sum(np.log1p((mean[n:] / sd[n:]) ** 2 / TAIL))) * (TAIL + 1.0) / 2.0
    return mean, np.linalg.inv(normal), common + peculiar


def _peculiar(amount: Amount) -> float:
    """Standard deviation of what is peculiar to a pair: the grams on file may be off by more than strengths
    explain."""
    off = {"evidence": SPREAD["practice"], "use": USE_SPREAD}.get(amount.ground, 1.0)
    return math.hypot(math.log(PECULIAR), math.log(off))


def _along(row: Mapping[int, float], mean: Any, spread: Any) -> tuple[float, float]:
    """Mean and standard deviation of a sum over the unknowns."""
    columns, values = list(row), list(row.values())
    middle = sum(value * float(mean[column]) for column, value in row.items())
    variance = sum(
        a * b * float(spread[i, j]) for i, a in zip(columns, values) for j, b in zip(columns, values)
    )
    return middle, math.sqrt(max(variance, 0.0))


def _amount(
    known: Known, row: Mapping[int, float], solved: tuple[Any, Any], ids: tuple[int, ...]
) -> MatterAmount:
    middle, sd = _along(row, *solved)
    low, grams, high = (known.grams * math.exp(middle + side * LIMIT * sd) for side in (-1.0, 0.0, 1.0))
    return MatterAmount(known.grams, grams, low, high, ids)


def _loudness(causes: Causes, mean: Any, spread: Any, seen: Sequence[Observation]) -> dict[str, Told]:
    """f of every material that moved: those tried, their constituents, and the naturals that hold these."""
    tables = causes.tables
    touched = set(causes.place)
    concerned = dict.fromkeys(name for one in seen for name in one.matter.ids)
    concerned |= dict.fromkeys(
        name for name in tables.materials if touched & {cause for cause, _, _ in causes.made_of(name)}
    )
    found: dict[str, Told] = {}
    for name in concerned:
        row, outside = causes.known_row(name)
        middle, sd = _along(row, mean, spread)
        sd = math.hypot(sd, outside)  # what nothing was said about is as unsure as before
        if abs(middle) >= UNMOVED:
            near = [one for one in seen if _near(name, one.matter, causes)]
            factor, low, high = (math.exp(middle + side * LIMIT * sd) for side in (0.0, -1.0, 1.0))
            ids = tuple(one.verdict for one in near)
            found[name] = Told(factor, low, high, ids, all(one.matter.line for one in near))
    return found


def _near(name: str, matter: Matter, causes: Causes) -> bool:
    """Whether a matter speaks of a material: it is one of them, or shares a constituent with one."""
    mine = {cause for cause, _, _ in causes.made_of(name)}
    return any(mine & {cause for cause, _, _ in causes.made_of(one)} for one in matter.ids)
