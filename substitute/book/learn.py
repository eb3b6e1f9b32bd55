"""What a person's own amounts say about how loud materials are to them: one linear Gaussian model, solved
at once.

Let f be the log of how much louder a material is to this person than on file. Before anything was tried f
is Gaussian around 0; its standard deviation joins how far the figure on file may be off
(:data:`~substitute.standins.amounts.SPREAD`, by its basis) and how much people differ (:data:`PEOPLE`). A
natural is as its constituents are, each by its part of the natural's odour, and a rest of its own. A
verdict about an amount says

    log(grams that were right) = log(grams on file) + f(missing) - f(stand-in) + d + noise

with d what is peculiar to the pair (they smell of different things, the grams on file are off). d has heavy
tails (Student's t, one degree of freedom, its mode found by reweighting): what no common cause explains,
such as a smell that the person is blind to, stays with the pair and does not spill over other answers. All
verdicts are solved together, so that their order does not matter and one taken back is as if it had never
been given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..odour.power_law import EXPONENT
from ..odour.staging import natural_mix
from ..records import Swap, Tables
from ..standins.amounts import SPREAD, USE_SPREAD, Amount
from ..standins.evidence import Ground
from ..standins.pair import make_pair
from .records import Verdict

PEOPLE = (
    1.6  # how far two noses lie apart about one material, as a factor at one standard deviation (estimate)
)
STEP = 1.25  # ratio of intensities taken for one perceived step, as in rebalancing
STEPS = {"slightly": 0.5, "clearly": 1.0, "far": 2.0}  # perceived steps
NOISE = {
    "": 1.5,
    "slightly": 1.3,
    "clearly": 1.5,
    "far": 2.0,
    "stated": 1.2,
    "right": 1.25,
}  # factors, one sd
PECULIAR = 1.15  # what is peculiar to a pair, as a factor at one standard deviation
TAIL = 1.0  # degrees of freedom of Student's t: the heaviest tail, Cauchy's
OPEN = 1e-3  # weight of the pairs' own causes in the second start: nearly free
ROUNDS = 50
LIMIT = 1.645  # standard deviations on either side: nine in ten
UNMOVED = 0.02  # a log factor nearer to 0 than this is as on file


@dataclass(frozen=True)
class Told:
    """A figure learned: its factor over what is on file, with nine-in-ten limits, and the verdicts it comes
    from."""

    factor: float
    low: float
    high: float
    verdicts: tuple[int, ...]


@dataclass(frozen=True)
class PairAmount:
    """Grams for one gram of a pair that was tried: on file (``None`` if none) and learned, nine-in-ten
    limits, verdicts."""

    before: float | None
    grams: float
    low: float
    high: float
    verdicts: tuple[int, ...]


@dataclass(frozen=True)
class Learned:
    """``loudness``: id -> how loud a material is beside the tables; ``pairs``: (missing, stand-in) ->
    amount."""

    loudness: Mapping[str, Told]
    pairs: Mapping[tuple[str, str], PairAmount]


@dataclass(frozen=True)
class Observation:
    """One verdict as a log amount with its standard deviation."""

    verdict: int
    pair: tuple[str, str]
    log_right: float
    sd: float


def step_factor(degree: str) -> float:
    """How much an amount is off that was called too strong or too weak in this degree ('' is clearly)."""
    return float(STEP ** (STEPS[degree or "clearly"] / EXPONENT))


def observed(verdicts: Iterable[Verdict]) -> tuple[Observation, ...]:
    """What the verdicts on swaps say about amounts; those taken back say nothing."""
    found = []
    for one in verdicts:
        if one.kind != "swap" or not one.holds or one.nearness == "not_smelled":
            continue  # who hardly smells a thing cannot say how loud it is
        if one.grams_right is not None:
            found.append(Observation(one.id, one.pair, math.log(one.grams_right), math.log(NOISE["stated"])))
        elif one.grams_used is not None and one.amount:
            log_used = math.log(one.grams_used)
            if one.amount == "right":
                found.append(Observation(one.id, one.pair, log_used, math.log(NOISE["right"])))
                continue
            away = math.log(step_factor(one.degree)) * (-1.0 if one.amount == "too_strong" else 1.0)
            found.append(Observation(one.id, one.pair, log_used + away, math.log(NOISE[one.degree])))
    return tuple(found)


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


def learn(tables: Tables, verdicts: Sequence[Verdict]) -> Learned:
    """Everything that the verdicts teach, given the tables as on file."""
    seen = observed(verdicts)
    if not seen:
        return Learned({}, {})
    file = on_file(tables)
    pairs = list(dict.fromkeys(one.pair for one in seen))
    amounts = {pair: file(*pair) for pair in pairs}
    alone = {pair: _alone(pair, seen) for pair in pairs if amounts[pair] is None}
    tied = [one for one in seen if amounts[one.pair] is not None]
    if not tied:
        return Learned({}, alone)
    return _solve(tables, tied, amounts, alone)


def _alone(pair: tuple[str, str], seen: Iterable[Observation]) -> PairAmount:
    """The amount of a pair of which nothing is on file: the weighted mean of what was said."""
    mine = [one for one in seen if one.pair == pair]
    weight = sum(one.sd**-2 for one in mine)
    mean = sum(one.log_right * one.sd**-2 for one in mine) / weight
    sd = weight**-0.5
    ids = tuple(one.verdict for one in mine)
    return PairAmount(None, math.exp(mean), math.exp(mean - LIMIT * sd), math.exp(mean + LIMIT * sd), ids)


class Causes:
    """The unknowns: a log factor for every material concerned, and how a material's own f is made up of
    them."""

    def __init__(self, tables: Tables):
        self.tables = tables
        self.place: dict[str, int] = {}
        self.sd: list[float] = []

    def add(self, name: str, sd: float) -> int:
        if name not in self.place:
            self.place[name] = len(self.sd)
            self.sd.append(sd)
        return self.place[name]

    def spread(self, material: str) -> float:
        """Standard deviation of f before anything was tried."""
        figure = self.tables.properties.get(material, {}).get("potency")
        off = SPREAD[figure.basis] if figure else USE_SPREAD
        return math.hypot(math.log(off), math.log(PEOPLE))

    def parts(self, material: str) -> dict[str, float]:
        """Part of each constituent in a natural's odour; nothing for a molecule."""
        if material not in self.tables.constituents:
            return {}
        return natural_mix(self.tables, material).odour_shares()

    def row(self, material: str) -> dict[int, float]:
        """f of a material as a sum over the unknowns; its standard deviation is :meth:`spread`."""
        parts = self.parts(material)
        if not parts:
            return {self.add(material, self.spread(material)): 1.0}
        found = {self.add(part, self.spread(part)): share for part, share in parts.items()}
        whole = self.spread(material)
        shared = sum((share * self.spread(part)) ** 2 for part, share in parts.items())
        found[self.add(material, math.sqrt(max(whole**2 - shared, (0.25 * whole) ** 2)))] = 1.0
        return found


def _solve(
    tables: Tables,
    seen: Sequence[Observation],
    amounts: Mapping[tuple[str, str], Amount | None],
    alone: Mapping[tuple[str, str], PairAmount],
) -> Learned:
    import numpy as np

    causes = Causes(tables)
    pairs = list(dict.fromkeys(one.pair for one in seen))
    rows = {pair: _difference(causes.row(pair[0]), causes.row(pair[1])) for pair in pairs}
    own = np.array([_peculiar(amounts[pair]) for pair in pairs])
    n = len(causes.sd)
    design = np.zeros((len(seen), n + len(pairs)))
    for place, one in enumerate(seen):
        for column, value in rows[one.pair].items():
            design[place, column] = value
        design[place, n + pairs.index(one.pair)] = 1.0
    grams = [_grams(amounts[one.pair]) for one in seen]
    target = np.array([one.log_right for one in seen]) - np.log(grams)
    noise = np.array([one.sd for one in seen])
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
    mean, spread = best[0], best[1]
    loudness = _loudness(causes, mean, spread, seen)
    found = {
        pair: _pair(pair, _grams(amounts[pair]), (rows[pair], n + place), (mean, spread), seen)
        for place, pair in enumerate(pairs)
    }
    return Learned(loudness, {**alone, **found})


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


def _grams(amount: Amount | None) -> float:
    assert amount is not None
    return amount.grams


def _peculiar(amount: Amount | None) -> float:
    """Standard deviation of what is peculiar to a pair: the grams on file may be off by more than strengths
    explain."""
    off = {"evidence": SPREAD["practice"], "use": USE_SPREAD}.get(amount.ground if amount else "", 1.0)
    return math.hypot(math.log(PECULIAR), math.log(off))


def _difference(one: Mapping[int, float], other: Mapping[int, float]) -> dict[int, float]:
    return {column: one.get(column, 0.0) - other.get(column, 0.0) for column in {*one, *other}}


def _along(row: Mapping[int, float], mean: Any, spread: Any) -> tuple[float, float]:
    """Mean and standard deviation of a sum over the unknowns."""
    columns, values = list(row), list(row.values())
    middle = sum(value * float(mean[column]) for column, value in row.items())
    variance = sum(
        a * b * float(spread[i, j]) for i, a in zip(columns, values) for j, b in zip(columns, values)
    )
    return middle, math.sqrt(max(variance, 0.0))


def _pair(
    pair: tuple[str, str],
    before: float,
    row: tuple[Mapping[int, float], int],
    solved: tuple[Any, Any],
    seen: Sequence[Observation],
) -> PairAmount:
    middle, sd = _along({**row[0], row[1]: 1.0}, *solved)
    ids = tuple(one.verdict for one in seen if one.pair == pair)
    low, grams, high = (before * math.exp(middle + side * LIMIT * sd) for side in (-1.0, 0.0, 1.0))
    return PairAmount(before, grams, low, high, ids)


def _loudness(causes: Causes, mean: Any, spread: Any, seen: Sequence[Observation]) -> dict[str, Told]:
    """f of every material that moved: those tried, their constituents, and the naturals that hold these."""
    tables = causes.tables
    touched = set(causes.place)
    concerned = dict.fromkeys(name for one in seen for name in one.pair)
    concerned |= dict.fromkeys(causes.place)
    concerned |= dict.fromkeys(
        natural for natural, parts in tables.constituents.items() if any(part.id in touched for part in parts)
    )
    found: dict[str, Told] = {}
    for name in concerned:
        parts = causes.parts(name)
        row = {causes.place[part]: share for part, share in parts.items() if part in touched}
        if name in causes.place:
            row[causes.place[name]] = 1.0
        middle, sd = _along(row, mean, spread)
        outside = causes.spread(name) ** 2 - sum((causes.sd[c] * share) ** 2 for c, share in row.items())
        sd = math.hypot(
            sd, math.sqrt(max(outside, 0.0))
        )  # what nothing was said about is as unsure as before
        if abs(middle) >= UNMOVED:
            ids = tuple(one.verdict for one in seen if _near(name, one.pair, causes))
            factor, low, high = (math.exp(middle + side * LIMIT * sd) for side in (0.0, -1.0, 1.0))
            found[name] = Told(factor, low, high, ids)
    return found


def _near(name: str, pair: tuple[str, str], causes: Causes) -> bool:
    """Whether a pair speaks of a material: it is one of the two, or shares a constituent with one."""
    mine = {name, *causes.parts(name)}
    return any(mine & {one, *causes.parts(one)} for one in pair)
