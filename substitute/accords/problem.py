"""An accord to be adjusted as arrays: what it has to smell of, what may be in it, and which limits it must
obey.

Amounts are active grams in the accord's own scale: its total is free, the active mass in the product is not,
so a percent of the
product is dose x active / total before, whatever the formula comes to weigh.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from ..frozen import frozen
from ..odour.perception import HEARING, Array, Ear, Hearing, Match, make_ear
from ..odour.staging import Staged
from ..records import Accord
from ..rules.situation import Situation
from .gaps import is_mute

NONE: Mapping[str, float] = {}
FULL = 1.0 + 1e-9  # parts of a limit that still keep it: rounding of sums and products, nothing more


@frozen(eq=False)
class Problem:
    """Arrays over N materials (lines first, then candidates), T stages, R limits.

    ``old`` (N): active grams of the old accord; ``potency`` (N, T) and ``profile`` (N, T, D) as heard, zero
    where a material is mute;
    ``rows`` (R, N): what one active gram takes of a limit, as a part of it: the known limits and the whole of
    the product first, ``known`` of
    them, then what is not to be raised because its limit is not known; ``banned`` (N): what no amount may be
    used of;
    ``most`` (N): the most of a candidate that stands for what went, in active grams, infinite where nothing
    is known.
    """

    ids: tuple[str, ...]
    n_lines: int
    hearing: Hearing
    potency: Array
    profile: Array
    old: Array
    rows: Array
    known: int
    banned: Array
    most: Array
    total: float

    @cached_property
    def index(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.ids)}

    @cached_property
    def ear(self) -> Ear:
        return make_ear(self.potency, self.profile, self.old, self.hearing)

    @cached_property
    def is_line(self) -> Array:
        return np.arange(len(self.ids)) < self.n_lines

    @cached_property
    def unit(self) -> Array:
        """Active grams (N) at which a material is, alone, as much of the smell as the whole old accord;
        infinite if it is never heard.
        """
        ear = self.ear
        total = ear.sums(self.old).total
        share = np.divide(ear.loud, total, out=np.zeros_like(ear.loud), where=total > 0) @ ear.weight
        with np.errstate(divide="ignore"):
            return np.asarray((1.0 / share) ** (1.0 / self.hearing.power))

    def shares(self, grams: Array) -> Array:
        """Part of the smell (…, N) that each material is, the mean over the stages by their weight."""
        y = np.maximum(grams, 0.0) ** self.hearing.power
        part = y[..., None] * self.ear.loud
        total = part.sum(axis=-2, keepdims=True)
        each = np.divide(part, total, out=np.zeros_like(part), where=total > 0)
        return np.asarray(each @ self.ear.weight)

    def fresh_shares(self, grams: Array) -> Array:
        """Part of the smell (N) at the opening."""
        part = np.maximum(grams, 0.0) ** self.hearing.power * self.ear.loud[:, 0]
        return part / part.sum() if part.sum() > 0 else part

    def used(self, grams: Array) -> Array:
        """How much of each row (…, R) is taken up; 1 is the limit."""
        return grams @ self.rows.T

    def obeys(self, grams: Array) -> Array:
        """Whether ``grams`` (…, N) hold every row and hold nothing banned: (…)."""
        within = (self.used(grams) <= FULL).all(axis=-1)
        return np.asarray(within & ~(np.asarray(grams)[..., self.banned] > 0).any(axis=-1))

    def room(self, grams: Array, i: int) -> float:
        """The most grams of ``i`` that the limits and its own ``most`` leave beside ``grams`` (N, its own
        left out of count).
        """
        if self.banned[i]:
            return 0.0
        pressed, mine = self._pressed(i)
        if not len(mine):
            return float(self.most[i])
        others = grams.copy()
        others[i] = 0.0
        left = np.maximum(1.0 - pressed @ others, 0.0) / mine
        return float(min(left.min(), self.most[i]))

    def _pressed(self, i: int) -> tuple[Array, Array]:
        """The rows (R', N) that ``i`` presses, and how hard one gram of it does (R')."""
        if i not in self._rows_of:
            touched = self.rows[:, i] > 0
            self._rows_of[i] = self.rows[touched], self.rows[touched, i]
        return self._rows_of[i]

    @cached_property
    def _rows_of(self) -> dict[int, tuple[Array, Array]]:
        return {}

    def match(self, grams: Array) -> Match:
        return self.ear.match(grams)


def build_problem(
    staged: Staged,
    situation: Situation,
    accord: Accord,
    candidates: Mapping[str, float] = NONE,
    hearing: Hearing = HEARING,
    tight: float = 1.0,
) -> Problem:
    """The problem of ``accord``, its lines in the order written, with ``candidates`` that may be brought in,
    each with its most grams.

    ``tight`` makes every limit so many times stricter.
    """
    tables, active = situation.tables, accord.active()
    lines = tuple(active)
    ids = (*lines, *(name for name in candidates if name not in active))
    places = staged.rows(ids)
    heard = np.array([not is_mute(tables, name) for name in ids])
    potency = staged.potency[places] * heard[:, None]
    old = np.array([active.get(name, 0.0) for name in ids])
    rows, known, banned = _rows(situation, ids, old, accord, tight)
    most = np.array([np.inf if name in active else candidates[name] for name in ids])
    return Problem(
        ids,
        len(lines),
        hearing,
        potency,
        staged.profile[places],
        old,
        rows,
        known,
        banned,
        most,
        accord.total,
    )


def _rows(
    situation: Situation, ids: Sequence[str], old: Array, accord: Accord, tight: float
) -> tuple[Array, int, Array]:
    """(rows, how many of them are known limits, banned) over ``ids``."""
    if not situation.judged or situation.dose is None:
        banned = np.array([bool(situation.forbidden(name)) for name in ids])
        banned[old > 0] = False  # what stands in the accord is asked of a product only
        return np.zeros((0, len(ids))), 0, banned
    share, limit, banned = situation.rows(ids)
    real = limit > 0
    banned = banned | (share[~real] > 0).any(axis=0)
    rows = share[real] * (tight * situation.dose / accord.total / limit[real])[:, None]
    whole = _parts_per_gram(situation, ids, accord) * (situation.dose / accord.total / 100.0)
    rows = np.vstack([rows, whole])
    names = list(dict.fromkeys(one for name in ids for one in situation.unknown(name)))
    if not names:
        return rows, len(rows), banned
    high, _ = situation.exposure.matrix(names, ids)
    before = high @ old
    banned = banned | ((high[before <= 0] > 0).any(axis=0) & (old <= 0))
    unknown = high[before > 0] / before[before > 0][:, None]
    return np.vstack([rows, unknown]), len(rows), banned


def _parts_per_gram(situation: Situation, ids: Sequence[str], accord: Accord) -> Array:
    """Parts on the balance per active gram (N): the formula may not come to weigh more than the product
    holds.
    """
    shelf, active = situation.shelf, accord.active()
    found = []
    for name in ids:
        strengths = (shelf.strengths(name) if shelf is not None else ()) or (100.0,)
        parts = sum(line.parts for line in accord.lines if line.material == name)
        held = active.get(name, 0.0)
        found.append(parts / held if held > 0 else 100.0 / strengths[0])
    return np.array(found)
