"""How much of a set of accords a shelf covers: a sum that can be optimised exactly, worked out once from
real matches.

For every accord, every line and every material that could stand in, the accord is really judged with that
one line swapped at matched strength. Two figures follow for a line l:

- its weight w, in proportion to what the match loses when the line is left out (half of that on an
  optional line, which may be left out); the weights of an accord sum to 1;
- the factor v of a material c: the part of that loss which c makes good, (match with c - match without) /
  (1 - match without), times how far the stand-in is believed. The line's own material has 1, leaving the
  line out 0.

    value(accord, shelf) = sum over lines of w x (the largest v among the materials held)

This is a facility-location function: it never falls when a material is added, and every further material
adds less (monotone and submodular; Nemhauser, Wolsey and Fisher 1978). It is a yardstick for choosing, not
a forecast: a real adjustment also blends and moves other lines, and reaches more (on the demo about
value ** 0.3). So whatever is chosen is adjusted for real afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..frozen import frozen
from ..odour.perception import FAINT, Hearing, impression
from ..odour.staging import Staged
from ..records import Accord, Tables
from ..standins.bench import Bench
from ..standins.features import FEATURES
from ..standins.singles import NOT_NEAR

Array = NDArray[np.float64]
STRENGTHS = (
    0.5,
    1.0,
    2.0,
    4.0,
)  # tries around equal potency x grams; the best counts, as a person would smell their way to it
OPTIONAL = 0.5  # how much of its loss an optional line weighs
SHARED_ODOUR = (
    0.3  # a constituent that gives this part of the smell makes a stand-in without further likeness
)
TRUST = {
    "documented": 1.0,
    "constituent": 0.95,
    "profile": 0.75,
}  # a likeness read from profiles alone is believed less than a written one


@frozen
class CoverLine:
    """A line as the model sees it: its accord's place, its weight in it and what leaving it out keeps of
    the match, 0 to 1."""

    accord: int
    material: str
    weight: float
    without: float
    optional: bool


@frozen
class Coverage:
    """The model over A accords, L lines and M materials.

    ``factor`` (L, M): v of each material for each line; ``weight`` (L) sums to 1 per accord; ``owner``
    (L) the accord's place.
    """

    accords: tuple[str, ...]
    lines: tuple[CoverLine, ...]
    materials: tuple[str, ...]
    factor: Array
    weight: Array
    owner: Array

    @property
    def column(self) -> dict[str, int]:
        """Material -> its column."""
        return {name: i for i, name in enumerate(self.materials)}

    def reached(self, held: Iterable[str]) -> Array:
        """V of every line (L) with the materials ``held``; names the model does not know add nothing."""
        column = self.column
        places = [column[name] for name in held if name in column]
        return self.factor[:, places].max(axis=1) if places else np.zeros(len(self.lines))

    def by_accord(self, held: Iterable[str]) -> Array:
        """Value of every accord (A), 0 to 1."""
        return np.asarray(
            np.bincount(self.owner, self.weight * self.reached(held), minlength=len(self.accords)),
            dtype=np.float64,
        )

    def value(self, held: Iterable[str]) -> float:
        """Mean value over the accords, 0 to 1."""
        return float(self.weight @ self.reached(held)) / max(len(self.accords), 1)

    def assigned(self, held: Iterable[str]) -> list[tuple[CoverLine, str | None, float]]:
        """For every line the held material that serves it best (its own first) and v; ``None`` where
        leaving it out does no worse."""
        column = self.column
        names = [name for name in held if name in column]
        places = [column[name] for name in names]
        found: list[tuple[CoverLine, str | None, float]] = []
        for row, line in enumerate(self.lines):
            if line.material in names:
                found.append((line, line.material, float(self.factor[row, column[line.material]])))
                continue
            best = max(range(len(names)), key=lambda i: self.factor[row, places[i]], default=None)
            value = float(self.factor[row, places[best]]) if best is not None else 0.0
            found.append((line, names[best], value) if best is not None and value > 0 else (line, None, 0.0))
        return found


def cover(
    bench: Bench,
    accords: Sequence[Accord],
    materials: Sequence[str],
    progress: Callable[[int, int, str], None] | None = None,
    most_pct: Callable[[str], float | None] | None = None,
) -> Coverage:
    """The model of ``accords`` over the ``materials`` that may be held or bought (those that smell).

    ``progress(done, of, what)`` is called after each accord. ``most_pct(material)`` is the highest
    percent of an accord that the rules let through (``None``: no figure); no factor counts more of it
    than that. Lines without profile or potency cannot be judged and have no line in it.
    """
    most = np.array(
        [np.inf if (p := most_pct(name) if most_pct else None) is None else p for name in materials]
    )
    lines: list[CoverLine] = []
    factors: list[Array] = []
    rows = np.array(bench.staged.rows(materials), dtype=int)
    near: dict[str, Array] = {}
    for place, accord in enumerate(accords):
        for name, without, factor, optional in _accord(
            bench, accord, materials, rows, near, most * accord.total / 100.0
        ):
            lines.append(
                CoverLine(place, name, (1.0 - without) * (OPTIONAL if optional else 1.0), without, optional)
            )
            factors.append(factor)
        if progress:
            progress(place + 1, len(accords), "judging swaps")
    owner = np.array([line.accord for line in lines], dtype=int)
    loss = np.array([max(line.weight, 1e-9) for line in lines])
    weight = loss / np.bincount(owner, loss, minlength=len(accords))[owner] if len(lines) else loss
    lines = [
        CoverLine(line.accord, line.material, float(w), line.without, line.optional)
        for line, w in zip(lines, weight)
    ]
    factor = np.array(factors).reshape(len(lines), len(materials))
    return Coverage(tuple(a.name for a in accords), tuple(lines), tuple(materials), factor, weight, owner)


def judged_lines(tables: Tables, accord: Accord) -> dict[str, float]:
    """Active parts of the lines that smell, by material."""
    return {
        name: grams
        for name, grams in accord.active().items()
        if grams > 0 and name in tables.profiles and tables.value(name, "potency")
    }


def trust(bench: Bench, missing: str, materials: Sequence[str]) -> Array:
    """How far each material is believed as a stand-in for ``missing`` (M): by its ground, 0 where nothing
    speaks for it."""
    space = bench.space
    documented = {row.stand_in for row in bench.evidence.get(missing, ())}
    features = bench.features.matrix(missing)
    shared = features[:, [FEATURES.index("contains"), FEATURES.index("contained_in")]].max(axis=1)
    like = space.like(missing)
    by_row = np.where(
        shared >= SHARED_ODOUR, TRUST["constituent"], np.where(like >= NOT_NEAR, TRUST["profile"], 0.0)
    )
    found = np.array([by_row[space.row[name]] if name in space.row else 0.0 for name in materials])
    for i, name in enumerate(materials):
        if name in documented:
            found[i] = TRUST["documented"]
        elif name == missing:
            found[i] = 0.0
    return found


def _accord(
    bench: Bench,
    accord: Accord,
    materials: Sequence[str],
    rows: Array,
    near: dict[str, Array],
    most: Array,
) -> Iterator[tuple[str, float, Array, bool]]:
    """(material, match without, factor (M), optional) of every line that can be judged; at most ``most``
    (M) active parts of each."""
    tables, staged, hearing = bench.tables, bench.staged, bench.hearing
    held = judged_lines(tables, accord)
    ids = list(held)
    if not ids:
        return
    optional = {name: all(line.optional for line in accord.lines if line.material == name) for name in ids}
    mixture = _Mixture(staged, hearing, ids, np.array([held[name] for name in ids]))
    own = np.array([held.get(name, 0.0) for name in materials])
    potency = np.array([tables.value(name, "potency") or 0.0 for name in materials])
    for i, name in enumerate(ids):
        if name not in near:
            near[name] = trust(bench, name, materials)
        asked = np.flatnonzero((near[name] > 0) & (potency > 0))
        equal = held[name] * (tables.value(name, "potency") or 0.0) / potency[asked]
        without, swapped = mixture.swapped(
            i, rows[asked], own[asked], equal, np.maximum(most[asked] - own[asked], 0.0)
        )
        factor = np.zeros(len(materials))
        factor[asked] = near[name][asked] * np.clip((swapped - without) / max(1.0 - without, 1e-9), 0.0, 1.0)
        if name in materials:
            itself = materials.index(name)
            factor[itself] = 1.0
            if most[itself] < held[name]:  # the rules let through less of the line than it is
                cut, none = np.array([most[itself]]), np.zeros(1)
                _, lowered = mixture.swapped(i, rows[[itself]], none, cut, cut)
                factor[itself] = np.clip((lowered[0] - without) / max(1.0 - without, 1e-9), 0.0, 1.0)
        yield name, without, factor, optional[name]


class _Mixture:
    """An accord's sums at each stage, so that one line can be taken out and many others put in at
    once."""

    def __init__(self, staged: Staged, hearing: Hearing, ids: Sequence[str], grams: Array):
        rows = staged.rows(ids)
        self._staged, self._hearing = staged, hearing
        self._profile = staged.profile[rows]
        odour = staged.potency[rows] * grams[:, None]
        self._part = odour**hearing.power  # (N, T), in proportion to perceived shares
        self._loud = odour ** (hearing.exponent * hearing.p)  # (N, T), summed under the p-th root
        self._before = impression(grams, staged.potency[rows], self._profile, hearing)
        strength = self._before.strength
        weight = np.where(strength >= FAINT * strength.max(), strength, 0.0)
        self._weight = weight / weight.sum()

    def swapped(self, i: int, rows: Array, own: Array, grams: Array, most: Array) -> tuple[float, Array]:
        """Match without line ``i``, and with each of the materials ``rows`` (C) in its place at the best
        of the strengths tried.

        ``own`` (C) is what the accord holds of each already, ``grams`` (C) what equals the line's potency
        x grams, ``most`` (C) the most that may be added.
        """
        hearing = self._hearing
        keep = np.arange(len(self._part)) != i
        rest = np.einsum("nt,ntd->td", self._part[keep], self._profile[keep])
        part, loud = self._part[keep].sum(axis=0), self._loud[keep].sum(axis=0)
        without = float(self._match(rest, part, loud))
        best = np.zeros(len(rows))
        potency, profile = self._staged.potency[rows], self._staged.profile[rows]
        for times in STRENGTHS:
            odour, had = potency * (own + np.minimum(times * grams, most))[:, None], potency * own[:, None]
            more = odour**hearing.power - had**hearing.power
            louder = odour ** (hearing.exponent * hearing.p) - had ** (hearing.exponent * hearing.p)
            best = np.maximum(
                best, self._match(rest + more[:, :, None] * profile, part + more, loud + louder)
            )
        return without, best

    def _match(self, words: Array, part: Array, loud: Array) -> Array:
        """:func:`substitute.odour.perception.match` (overall) of sums (..., T, D), (..., T), (..., T)
        with the old accord."""
        shares = words / np.where(part > 0, part, 1.0)[..., None]
        overlap = np.where(part > 0, 1.0 - 0.5 * np.abs(shares - self._before.shares).sum(axis=-1), 0.0)
        strength = np.maximum(loud, 0.0) ** (1.0 / self._hearing.p)
        high = np.maximum(strength, self._before.strength)
        ratio = np.divide(
            np.minimum(strength, self._before.strength), high, out=np.zeros_like(high), where=high > 0
        )
        heard: Array = (self._weight * overlap * ratio).sum(axis=-1)
        return heard
