"""Two mixtures side by side in words: what each smells of, by share, and how strong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..frozen import frozen
from ..odour.perception import Hearing, Impression, impression
from ..odour.staging import Staged
from ..records import Tables
from ..standins.words import profile_shares


@frozen
class Comparison:
    """``rows``: (descriptor's name, share before, share after), largest first, shares of the whole smell (0
    to 1).

    ``strength`` is the total strength after over before, ``None`` where nothing was smelled before.
    """

    rows: tuple[tuple[str, float, float], ...]
    strength: float | None

    def to_dict(self) -> dict[str, object]:
        rows = [{"descriptor": name, "before": before, "after": after} for name, before, after in self.rows]
        return {"rows": rows, "strength": self.strength}


def compare_words(
    tables: Tables, staged: Staged, before: Mapping[str, float], after: Mapping[str, float], top: int = 8
) -> Comparison:
    """Grams against grams in the materials' own words, each weighted by its part in what is perceived at the
    opening.
    """
    shares, heard = [], []
    for mixture in (before, after):
        names = [
            name for name in mixture if name in tables.profiles and (tables.value(name, "potency") or 0.0) > 0
        ]
        rows = staged.rows(names)
        grams = [mixture[name] for name in names]
        heard.append(impression(grams, staged.potency[rows], staged.profile[rows]))
        weights = (np.array(grams) * staged.potency[rows, 0]) ** Hearing().power
        shares.append(profile_shares(tables, zip(names, weights.tolist())) if names else {})
    return _comparison(tables, shares, heard, top)


def compare_at(
    tables: Tables, staged: Staged, before: Mapping[str, float], after: Mapping[str, float], top: int = 10
) -> Comparison:
    """Grams against grams as the model hears them at the one time of ``staged``, in smoothed descriptors."""
    words = list(tables.descriptors)
    heard = []
    for mixture in (before, after):
        rows = staged.rows(list(mixture))
        heard.append(impression(list(mixture.values()), staged.potency[rows], staged.profile[rows]))
    return _comparison(tables, [dict(zip(words, sound.shares[0].tolist())) for sound in heard], heard, top)


def _comparison(
    tables: Tables, shares: Sequence[Mapping[str, float]], heard: Sequence[Impression], top: int
) -> Comparison:
    old, new = shares
    order = sorted({*old, *new}, key=lambda word: (-max(old.get(word, 0.0), new.get(word, 0.0)), word))[:top]
    rows = tuple((tables.descriptors[word].name, old.get(word, 0.0), new.get(word, 0.0)) for word in order)
    first, then = float(heard[0].strength[0]), float(heard[1].strength[0])
    return Comparison(rows, then / first if first > 0 else None)
