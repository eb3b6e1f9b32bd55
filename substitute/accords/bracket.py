"""Between an amount too weak and one too strong: what is to be tried next.

An amount judged for the first time moves by perceived steps, in a model where intensity is a power of the
amount (see :mod:`substitute.odour.power_law`): slightly is half a step of :data:`STEP` in intensity, about
x/÷ 1.4 in amount, clearly one step, about 1.9, far two, about 3.6 (the sizes are common practice, no source).
Between an amount judged too strong and one judged too weak the next stands between them on a log scale,
nearer to the one that was less off; so brackets shrink with every verdict. An amount once judged right is
gone back to.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..frozen import frozen
from ..odour.power_law import EXPONENT

STEP = 1.25  # ratio of intensities taken for one perceived step
STEPS = {"slightly": 0.5, "": 1.0, "clearly": 1.0, "far": 2.0}  # perceived steps
SAME = 1e-9  # amounts closer than this, relative, are one


@frozen
class Bracket:
    """Amounts between which a line's right amount lies, ``None`` where that side is not known, each with
    the steps it was off; ``right`` is one judged right inside it."""

    low: float | None = None
    high: float | None = None
    right: float | None = None
    low_steps: float = 1.0
    high_steps: float = 1.0


def bracket(judged: Iterable[tuple[float, str, str]]) -> Bracket:
    """The bracket that (amount, verdict, degree) leave, newest first; an older verdict that contradicts a
    newer one is passed over."""
    low = high = right = None
    low_steps = high_steps = 1.0
    for amount, verdict, degree in judged:
        if verdict == "too_weak" and (high is None or amount < high * (1 - SAME)):
            if low is None or amount > low:
                low, low_steps = amount, STEPS[degree]
        elif verdict == "too_strong" and (low is None or amount > low * (1 + SAME)):
            if high is None or amount < high:
                high, high_steps = amount, STEPS[degree]
        elif verdict == "right" and right is None:
            right = amount
    inside = (
        right is not None
        and (low is None or right > low * (1 + SAME))
        and (high is None or right < high * (1 - SAME))
    )
    return Bracket(low, high, right if inside else None, low_steps, high_steps)


def next_amount(found: Bracket) -> float:
    """The amount to try next: the one judged right, between both sides, or some perceived steps past the
    side that is known."""
    if found.right is not None:
        return found.right
    if found.low and found.high:
        part = found.low_steps / (found.low_steps + found.high_steps)
        return float(found.low ** (1.0 - part) * found.high**part)
    if found.high is not None:
        return float(found.high / STEP ** (found.high_steps / EXPONENT))
    assert found.low is not None
    return float(found.low * STEP ** (found.low_steps / EXPONENT))
