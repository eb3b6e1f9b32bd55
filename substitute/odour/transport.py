"""The best transport of one set of shares onto another, by successive shortest paths.

A transportation problem is a network flow: what a source still holds is sent along the cheapest path that
has room, which may lead back over what was sent before; after each step the flow is the best one of its size,
so the last one is the best of all (Ahuja, Magnanti and Orlin 1993, Network Flows, chapter 9). Prices on the
nodes keep every reduced cost at 0 or more, so a path is found by Dijkstra's method, here on a dense matrix. A
linear program answers the same, but its import alone costs more than a whole answer; the tests hold the two
together.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CRUMB = 1e-12  # a share under this is nothing: what rounding leaves


def transport(pairs: Array, share: Array, weight: Array) -> float:
    """The most similarity (0 to 1) that moving ``share`` (M, sums to 1) onto ``weight`` (N, sums to 1) over
    ``pairs`` (M, N; 0 to 1) keeps.
    """
    if min(pairs.shape) == 1:
        return float(share @ pairs @ weight)
    return float((plan(1.0 - pairs, share, weight) * pairs).sum())


def plan(cost: Array, share: Array, weight: Array) -> Array:
    """How much (M, N) of each part of ``share`` (M) goes to each part of ``weight`` (N), of equal sums, so
    that the ``cost`` (M, N; 0 or more) of all is least.
    """
    flow = np.zeros_like(cost)
    left, room = share.astype(float), weight.astype(float)
    price_row, price_column = np.zeros(len(left)), np.zeros(len(room))
    while left.max() > CRUMB and room.max() > CRUMB:
        column, far_row, far_column, from_row, from_column = _path(
            np.maximum(
                cost + price_row[:, None] - price_column, 0.0
            ),  # rounding may leave a hair under nothing
            flow > CRUMB,
            left > CRUMB,
            room > CRUMB,
        )
        price_row += np.minimum(far_row, far_column[column])
        price_column += np.minimum(far_column, far_column[column])
        steps, amount, last = [], room[column], column
        while True:  # back along the path to the row it came from
            row = from_column[column]
            steps.append((row, column, 1.0))
            if from_row[row] < 0:
                break
            column = from_row[row]
            steps.append((row, column, -1.0))
            amount = min(amount, flow[row, column])
        amount = min(amount, left[row])
        left[row] -= amount
        room[last] -= amount
        for at_row, at_column, sign in steps:
            flow[at_row, at_column] += sign * amount
    return flow


def _path(
    reduced: Array, used: NDArray[np.bool_], holds: NDArray[np.bool_], takes: NDArray[np.bool_]
) -> tuple[int, Array, Array, NDArray[np.int_], NDArray[np.int_]]:
    """The column nearest to the rows that hold something, among those that take something; the distance of
    every row and column (those further away: at least as far as it); and from which column (-1: none) and row
    each is reached. Forth over ``reduced`` costs, back over ``used`` pairs, whose reduced cost is nothing.
    """
    far_row = np.where(holds, 0.0, np.inf)
    first = np.flatnonzero(holds)
    from_row = np.full(len(holds), -1)
    from_column = first[np.argmin(reduced[first], axis=0)]  # from all that hold something at once
    far_column = reduced[from_column, np.arange(len(takes))]
    waiting = far_column.copy()
    while True:
        column = int(np.argmin(waiting))
        if takes[column]:
            return column, far_row, far_column, from_row, from_column
        near, waiting[column] = waiting[column], np.inf
        for row in np.flatnonzero(used[:, column] & (near < far_row)):  # they lie as near: look on from them
            far_row[row], from_row[row] = near, column
            way = near + reduced[row]
            better = way < far_column
            far_column[better], from_column[better] = way[better], row
            waiting[better] = way[better]
