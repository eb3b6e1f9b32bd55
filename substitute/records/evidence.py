"""What people found: documented swaps and lifts, and what a person's own nose said."""

from __future__ import annotations

from collections.abc import Mapping

from ..frozen import frozen


@frozen
class Swap:
    """Evidence that ``stand_in`` takes the place of ``missing``; the row has a direction."""

    missing: str
    stand_in: str
    because: str
    grams_per_gram: float | None
    note: str
    basis: str
    source: str


@frozen
class Tried:
    """What a person's own nose found of ``stand_in`` in the place of ``missing``.

    ``nearness`` is near, fair, far, not_smelled or '' (nothing said); ``grams`` for one gram with its limits,
    ``None`` where no amount was judged; ``told`` in words, with the verdicts it comes from.
    """

    missing: str
    stand_in: str
    nearness: str
    grams: float | None
    low: float | None
    high: float | None
    told: str
    verdicts: tuple[int, ...] = ()


@frozen
class TriedBlend:
    """What a person's own nose found of a blend in the place of ``missing``: ``parts`` (id -> share by mass,
    to a sum of 1), and as in :class:`Tried`, the grams of all together."""

    missing: str
    parts: Mapping[str, float]
    nearness: str
    grams: float
    low: float | None
    high: float | None
    told: str
    verdicts: tuple[int, ...] = ()


@frozen
class Lifting:
    """Practice: ``material`` at ``low_pct`` to ``high_pct`` of an accord helps the smell ``descriptor``
    carry.
    """

    descriptor: str
    material: str
    low_pct: float
    high_pct: float
    note: str
    basis: str
    source: str


@frozen
class VerdictWord:
    """Words in which people say what they smelled, and the English that is understood of them."""

    words: str
    means: str
    language: str
