"""Names that look like one that is not on file, so that a hint never leads astray."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .name_index import NameIndex
from .spelling import plain

LEAST_LIKE = 72.0  # of 100; under this, two names have no more in common than chance gives
LEAST_NUMBER = 80.0
MOST_WORDS = 10  # of a text, that are looked up together
LONGEST = 200  # characters of a text that are compared


def near_numbers(cas: str, known: Sequence[str], top: int = 3) -> list[str]:
    """CAS numbers that differ from ``cas`` by a slip."""
    from rapidfuzz import fuzz, process

    found = process.extract(
        cas, list(dict.fromkeys(known)), scorer=fuzz.ratio, score_cutoff=LEAST_NUMBER, limit=top
    )
    return [name for name, _, _ in found]


def near_names(index: NameIndex, text: str, top: int = 3) -> list[str]:
    """Ids of materials whose names hold the same words or look alike; what can be weighed goes first."""
    words = plain(text[:LONGEST]).split()
    telling = [word for word in words if index.kinds.get(word) not in ("grade", "filler")]
    key = " ".join(telling or words)
    if len(key.replace(" ", "")) < 3:
        return []
    scores: dict[str, float] = {}
    for id_, score in [*_same_words(index, key), *_look_alike(index, key)]:
        if not index.materials[id_].stocked:
            score -= 15
        scores[id_] = max(scores.get(id_, 0.0), score)
    ranked = sorted(scores, key=lambda name: (-scores[name], len(name)))
    return [name for name in ranked if scores[name] >= LEAST_LIKE][:top]


def _same_words(index: NameIndex, key: str) -> Iterable[tuple[str, float]]:
    """Materials whose whole short name stands among the words of the text: bergamot in 'bergamot,
    terpeneless'."""
    said = index.speller.words(key)
    whole = len(said)
    bare = [word for word in said if index.ours.get(word) != "form"]
    words = index.without_grades(bare)[0][:MOST_WORDS]
    for start in range(len(words)):
        for end in range(len(words), start, -1):
            part = words[start:end]
            if len("".join(part)) < 4:
                continue
            found = index.look_up(part)
            if found and end - start < whole:
                for rank, name in enumerate(found.ids):
                    yield name, 90.0 + 2 * (end - start) - rank


def _look_alike(index: NameIndex, key: str) -> Iterable[tuple[str, float]]:
    from rapidfuzz import fuzz, process

    near = process.extract(key, list(index.exact), scorer=fuzz.ratio, score_cutoff=LEAST_LIKE, limit=8)
    for name, score, _ in near:
        for rank, id_ in enumerate(index.exact[name].ids[:2]):
            yield id_, score - 3 * rank
