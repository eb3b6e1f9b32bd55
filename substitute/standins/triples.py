"""The exact best blend of three.

Every triple is met through its pair without the member that gives least. At the optimum x = sum of w v the
members' parts a = w b sum to V, and leaving out k with part a(k) = alpha V and single value s = sigma V keeps

    V(ij) >= (V - a(k))^2 / (V - 2 a(k) + a(k)^2 / s) = V / (1 + (alpha / (1 - alpha))^2 (1 / sigma - 1)),

which falls with alpha, and alpha <= 1/3 for the least of three: V(ij) >= V 4 sigma / (3 sigma + 1). V is also
subadditive for non-negative vectors: V(ij) >= V (1 - sigma). So a third goes only with pairs that hold the
larger of the two, never less than two thirds, of the best triple so far; of those, the value of the triple
inside its cone is the pair's least squares value and (b(k) - w.G(k))^2 over the squared length that k has
outside the pair's plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .cone import SLACK, Blend, fit, triple_values

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

CELLS = 1 << 15  # pairs x thirds that are looked at together: the block stays in the processor's cache
LEAST_PAIR = 2.0 / 3.0  # part of a triple that its best pair holds at least


def best_triple(gram: Array, toward: Array, anchors: NDArray[np.bool_]) -> Blend | None:
    """The exact best triple of rows with one of ``anchors`` (boolean, N) among them; ``gram`` (N, N) and
    ``toward`` (N) of non-negative vectors. ``None`` where there is none.
    """
    if len(toward) < 3 or not anchors.any():
        return None
    rows = np.argsort(-toward / np.sqrt(np.diag(gram)), kind="stable")
    rows = rows[toward[rows] > 0]
    if len(rows) == 0:
        return None
    search = Search(gram, toward, rows, anchors)
    search.run()
    chosen = [int(rows[place]) for place in search.chosen]
    if not anchors[chosen].any():  # a pair without an anchor: any anchor makes the three
        chosen = [*chosen[:2], int(np.flatnonzero(anchors)[0])]
    others = (row for row in range(len(toward)) if row not in chosen)
    while len(chosen) < 3:
        chosen.append(next(others))
    return fit(gram, toward, chosen)


@dataclass
class Pairs:
    """Pairs in falling value: places ``i``, ``j``, the pair's ``value`` inside its cone, and of its least
    squares fit the cosine between the two, the weights and the value.
    """

    i: Rows
    j: Rows
    value: Array
    cosine: Array
    weight_i: Array
    weight_j: Array
    plain: Array

    def part(self, where: slice | Rows) -> Pairs:
        """Some of them."""
        return Pairs(*(getattr(self, name)[where] for name in self.__dataclass_fields__))


class Search:
    """Vectors at length 1, in falling product with the target; ``best`` value so far and who gives it."""

    def __init__(self, gram: Array, toward: Array, rows: Rows, anchors: NDArray[np.bool_]) -> None:
        size = 1.0 / np.sqrt(np.diag(gram)[rows])
        self.toward = toward[rows] * size
        self.gram = gram[np.ix_(rows, rows)]
        self.gram *= size
        self.gram *= size[:, None]
        self.anchors = anchors[rows]
        self.single = self.toward**2
        self.best = float(self.single[0])
        self.chosen: tuple[int, ...] = (0,)

    def run(self) -> None:
        """Look at every pair with every third that could still be better."""
        pairs = self.pairs()
        if not len(pairs.value):
            return
        self.best, self.chosen = float(pairs.value[0]), (int(pairs.i[0]), int(pairs.j[0]))
        everyone = np.arange(len(self.single))
        self.look(pairs.part(slice(0, 8)), self.gram, everyone)
        self.exchange(everyone)
        needed = self.best * held_by_the_pair(self.single / self.best)
        thirds = np.argsort(needed, kind="stable")
        needed = needed[thirds]
        count = int(np.searchsorted(-pairs.value, -needed[0], side="right"))
        pairs = pairs.part(slice(0, count))
        gram = self.gram[: int(max(pairs.i.max(), pairs.j.max())) + 1, thirds] if count else self.gram
        begin = 0
        while begin < count and pairs.value[begin] >= LEAST_PAIR * self.best:
            many = int(np.searchsorted(needed, pairs.value[begin], side="right"))
            end = begin + max(1, CELLS // max(many, 1))
            self.look(pairs.part(slice(begin, end)), gram[:, :many], thirds[:many])
            begin = end

    def pairs(self) -> Pairs:
        """Pairs that hold enough of the best single (and so of the best triple), best first."""
        least = LEAST_PAIR * self.best
        high = int(np.searchsorted(-self.single, -least / 2.0, side="right"))
        low = int(np.searchsorted(-self.single, -(least - self.single[0]), side="right"))
        cosine, first = self.gram[:high, :low], self.toward[:high, None]
        beyond = cosine * first
        np.subtract(self.toward[:low], beyond, out=beyond)
        np.maximum(beyond, 0.0, out=beyond)
        beyond *= beyond
        outside = cosine * cosine
        np.subtract(1.0, outside, out=outside)
        np.maximum(outside, SLACK, out=outside)
        beyond /= outside
        beyond += self.single[:high, None]
        i, j = np.nonzero(np.triu(beyond >= least, 1))
        value = beyond[i, j]
        order = np.argsort(-value, kind="stable")
        i, j = i[order], j[order]
        return self.fitted(i, j, value[order])

    def fitted(self, i: Rows, j: Rows, value: Array) -> Pairs:
        """Pairs with their least squares fit; those that lie in one direction are left out."""
        cosine = self.gram[i, j]
        outside = 1.0 - cosine**2
        good = outside > SLACK
        i, j, value, cosine, outside = i[good], j[good], value[good], cosine[good], outside[good]
        weight_i = (self.toward[i] - cosine * self.toward[j]) / outside
        weight_j = (self.toward[j] - cosine * self.toward[i]) / outside
        plain = weight_i * self.toward[i] + weight_j * self.toward[j]
        return Pairs(i, j, value, cosine, weight_i, weight_j, plain)

    def exchange(self, everyone: Rows) -> None:
        """Give each two of the best three the best third, while that helps."""
        before = 0.0
        while self.best > before and len(self.chosen) == 3:
            before = self.best
            first, second, third = self.chosen
            i, j = np.array([first, first, second]), np.array([second, third, third])
            self.look(self.fitted(i, j, np.zeros(3)), self.gram, everyone)

    def look(self, pairs: Pairs, gram: Array, thirds: Rows) -> None:
        """Try each of the ``pairs`` with each of the ``thirds`` (the columns of ``gram``)."""
        left, right = gram[pairs.i], gram[pairs.j]
        gain = self.toward[thirds] - pairs.weight_i[:, None] * left
        gain -= pairs.weight_j[:, None] * right
        np.maximum(gain, 0.0, out=gain)
        gain *= gain
        both = left * right
        both *= 2.0 * pairs.cosine[:, None]
        left *= left
        right *= right
        left += right
        left -= both
        left /= -(1.0 - pairs.cosine[:, None] ** 2)
        left += 1.0  # squared length of the third outside the pair's plane
        left *= np.maximum(self.best - pairs.plain, 0.0)[:, None]
        here, column = np.nonzero(gain > left)
        if len(here):
            self.keep_best(pairs.i[here], pairs.j[here], thirds[column])

    def keep_best(self, i: Rows, j: Rows, k: Rows) -> None:
        """The best of some triples, where it beats the best so far."""
        good = (k != i) & (k != j) & (self.anchors[i] | self.anchors[j] | self.anchors[k])
        i, j, k = i[good], j[good], k[good]
        if not len(i):
            return
        value = triple_values(self.gram, self.toward, np.column_stack([i, j, k]))
        top = int(value.argmax())
        if value[top] > self.best:
            self.best, self.chosen = float(value[top]), (int(i[top]), int(j[top]), int(k[top]))


def held_by_the_pair(single: Array) -> Array:
    """The least part of a triple's value that two of it hold together, by the third's own part of it."""
    part = np.minimum(single, 1.0)
    found: Array = np.maximum(4.0 * part / (3.0 * part + 1.0), 1.0 - part)
    return found
