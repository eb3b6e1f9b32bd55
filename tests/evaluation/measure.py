"""How good the answers are: metrics over the exam questions, and the baselines they have to beat.

``questions.csv``: what is missing and why, accepted and rejected answers, written by someone who never
saw ``data/swaps.csv``. The split is by a SHA-256 of the missing material's id (held-out if the first byte
is under 102, about 40 %), so that no material is asked for in both. What is asked for openly and mirrors
a held-out question (each is accepted in the place of the other) is set aside as ``mirrored`` and used for
nothing, so that no pair stands on both sides. ``pairs.csv``: likeness of pairs of materials, 0 to 10.
Both are judgements from memory of the trade, no source.
"""

from __future__ import annotations

import csv
import hashlib
import random
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from substitute.library import Library
from substitute.records import Shelf, Stock
from substitute.standins.ask import Ask
from substitute.standins.candidates import candidates
from substitute.standins.features import FEATURES, LEARNED
from substitute.standins.ranking import Weights, learned_weights
from substitute.standins.singles import rank

HERE = Path(__file__).parent
KS = (1, 3, 5)


@dataclass(frozen=True)
class Question:
    id: str
    missing: str
    because: str
    accepted: tuple[str, ...]
    rejected: tuple[str, ...]
    split: str


def split_of(missing: str) -> str:
    """Held-out or open, by a hash of the missing material's id."""
    return "held-out" if hashlib.sha256(missing.encode()).digest()[0] < 102 else "open"


def mirrored(accepted: Mapping[str, set[str]]) -> set[str]:
    """Open materials that mirror a held-out one: each is accepted in the place of the other."""
    return {
        name
        for name, answers in accepted.items()
        if split_of(name) == "open"
        and any(split_of(o) == "held-out" and name in accepted.get(o, ()) for o in answers)
    }


def read_questions(split: str | None = None) -> list[Question]:
    with (HERE / "questions.csv").open(encoding="utf-8") as file:
        rows = [
            Question(
                r["id"],
                r["missing"],
                r["because"],
                tuple(r["accepted"].split(";")),
                tuple(filter(None, r["rejected"].split(";"))),
                r["split"],
            )
            for r in csv.DictReader(file)
        ]
    return [row for row in rows if split is None or row.split == split]


def read_pairs() -> list[tuple[str, str, float]]:
    with (HERE / "pairs.csv").open(encoding="utf-8") as file:
        return [(r["a"], r["b"], float(r["likeness"])) for r in csv.DictReader(file)]


Answerer = Callable[[Question], Sequence[str]]


@dataclass(frozen=True)
class Scores:
    """Per question: place of the first accepted answer (0 = not among the answers), rejected answers
    among the first three, material.
    """

    places: np.ndarray
    rejected: np.ndarray
    missing: tuple[str, ...]

    def row(self, seed: int = 1, draws: int = 1000) -> dict[str, tuple[float, float, float]]:
        """Metric -> (value, low, high), 95 %: bootstrap over materials, whose questions stay together;
        exact where a rate is 0 or 1.
        """
        values = {f"hit@{k}": ((self.places >= 1) & (self.places <= k)).astype(float) for k in KS}
        values["MRR"] = np.divide(1.0, self.places, out=np.zeros(len(self.places)), where=self.places > 0)
        values["rejected in 3"] = self.rejected.astype(float)
        names = sorted(set(self.missing))
        cluster = np.array([names.index(name) for name in self.missing])
        times = np.random.default_rng(seed).multinomial(
            len(names), np.full(len(names), 1 / len(names)), draws
        )
        weight = times[:, cluster].astype(float)
        found = {}
        for name, v in values.items():
            mean = float(v.mean())
            low, high = np.quantile(weight @ v / weight.sum(axis=1), [0.025, 0.975])
            if name.startswith("hit") and mean in (0.0, 1.0):
                low, high = clopper_pearson(int(mean * len(names)), len(names))
            found[name] = (mean, float(low), float(high))
        return found


def clopper_pearson(hits: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """Exact interval of a rate (Clopper and Pearson 1934, Biometrika 26:404)."""
    from scipy.stats import beta

    tail = (1.0 - level) / 2.0
    low = 0.0 if hits == 0 else float(beta.ppf(tail, hits, of - hits + 1))
    high = 1.0 if hits == of else float(beta.ppf(1.0 - tail, hits + 1, of - hits))
    return low, high


def ask(questions: Sequence[Question], answer: Answerer) -> Scores:
    places, rejected = [], []
    for question in questions:
        found = list(answer(question))
        places.append(next((place for place, name in enumerate(found, 1) if name in question.accepted), 0))
        rejected.append(sum(name in question.rejected for name in found[:3]))
    return Scores(
        np.array(places, dtype=float), np.array(rejected), tuple(question.missing for question in questions)
    )


def without_rows(library: Library, materials: Collection[str]) -> Library:
    """The library without the documented swaps that touch any of ``materials``, in either role."""
    kept = tuple(
        row for row in library.tables.swaps if row.missing not in materials and row.stand_in not in materials
    )
    other = Library(replace(library.tables, swaps=kept))
    other.__dict__["space"] = library.space
    return other


def look_up(library: Library) -> Answerer:
    """The rows of ``swaps.csv`` as they stand: those for the reason first, then the others; nothing where
    there is none.
    """

    def answer(question: Question) -> list[str]:
        rows = sorted(
            (row for row in library.tables.swaps if row.missing == question.missing),
            key=lambda row: row.because != question.because,
        )
        pool = set(allowed(library, question))
        return [name for name in dict.fromkeys(row.stand_in for row in rows) if name in pool]

    return answer


def unit_weights(library: Library) -> Weights:
    """The same for every learned feature, each divided by its spread over all pairs: nothing is learned."""
    features = library.bench.features
    some = np.vstack([features.matrix(name) for name in features.ids[::7]])
    spread = some[:, [FEATURES.index(name) for name in LEARNED]].std(axis=0)
    return Weights(LEARNED, tuple(float(1.0 / s) for s in spread), learned_weights().offset)


@dataclass(frozen=True)
class ShelfAnswer:
    """What a shelf of thirty with one accepted answer among them brings."""

    right: bool
    in_words: str
    score: float


def from_shelves(
    library: Library, questions: Sequence[Question], seed: int = 3, size: int = 30
) -> list[ShelfAnswer]:
    """Each question asked of a shelf drawn at random that holds exactly one of its accepted answers."""
    rng = random.Random(seed)
    found = []
    for question in questions:
        good = [name for name in question.accepted if name in library.bench.smellable]
        if question.because != "unavailable" or not good:
            continue
        one = rng.choice(good)
        rest = [n for n in library.bench.smellable if n not in question.accepted and n != question.missing]
        shelf = Shelf(tuple(Stock(name) for name in (one, *rng.sample(rest, size - 1))))
        answers = library.swap(question.missing, shelf=shelf, top=1).stand_ins
        first = answers[0] if answers else None
        found.append(
            ShelfAnswer(
                first is not None and first.members[0].id == one,
                first.in_words if first else "",
                first.score if first else 0.0,
            )
        )
    return found


def asked(library: Library, question: Question) -> Ask:
    """A question as the library asks it where no product is named."""
    return Ask(question.missing, library.situate(because=question.because), question.because)


def allowed(library: Library, question: Question) -> list[str]:
    """The same hard filters for every method, so that only ranking is compared."""
    return list(candidates(library.bench, asked(library, question)).found)


def ranked(library: Library, weights: Weights | None = None) -> Answerer:
    """The library's own ranking of single stand-ins."""

    def answer(question: Question) -> list[str]:
        if question.missing not in library.bench.space.row:
            return []
        matrix = library.bench.features.matrix(question.missing)
        ask = asked(library, question)
        return [one.id for one in rank(library.bench, ask, allowed(library, question), matrix, weights)]

    return answer


def by_similarity(library: Library, similarity: np.ndarray, ids: Sequence[str]) -> Answerer:
    """Ranking by a plain similarity matrix (N, N) over ``ids``."""
    place = {name: i for i, name in enumerate(ids)}

    def answer(question: Question) -> list[str]:
        if question.missing not in place:
            return []
        row = similarity[place[question.missing]]
        return sorted(
            (name for name in allowed(library, question) if name in place), key=lambda name: -row[place[name]]
        )

    return answer


def raw_cosine(library: Library) -> Answerer:
    """Cosine of the plain profiles: no tree, no smoothing, no constituents."""
    from substitute.standins.features import plain_profiles

    ids = library.space.ids
    plain = plain_profiles(library.tables, ids)
    return by_similarity(library, plain @ plain.T, ids)


def fingerprints(library: Library) -> Answerer | None:
    """Tanimoto similarity of Morgan fingerprints (rdkit), molecules only; ``None`` without rdkit."""
    try:
        from rdkit import Chem, DataStructs
        from rdkit.Chem import rdFingerprintGenerator
    except ImportError:
        return None
    generator = rdFingerprintGenerator.GetMorganGenerator(radius=2, fpSize=2048)
    kept = {name: Chem.MolFromSmiles(m.smiles) for name, m in library.tables.materials.items() if m.smiles}
    prints = {name: generator.GetFingerprint(mol) for name, mol in kept.items() if mol is not None}
    ids = list(prints)
    return by_similarity(
        library,
        np.array(
            [
                DataStructs.BulkTanimotoSimilarity(prints[name], [prints[other] for other in ids])
                for name in ids
            ]
        ),
        ids,
    )


def most_popular(library: Library) -> Answerer:
    """The stand-ins documented most often, whatever is missing; rows of the missing material itself left out."""

    def answer(question: Question) -> list[str]:
        count = Counter(
            row.stand_in
            for row in library.tables.swaps
            if question.missing not in (row.missing, row.stand_in)
        )
        return sorted(allowed(library, question), key=lambda name: (-count[name], name))

    return answer


def chance(library: Library, questions: Sequence[Question]) -> dict[str, float]:
    """Expected hit rates of a random order."""
    found: dict[str, list[float]] = {f"hit@{k}": [] for k in KS}
    for question in questions:
        pool = allowed(library, question)
        good, n = len(set(question.accepted) & set(pool)), len(pool)
        for k in KS:
            miss = 1.0
            for draw in range(min(k, n)):
                miss *= max(n - good - draw, 0) / (n - draw)
            found[f"hit@{k}"].append(1.0 - miss)
    return {name: float(np.mean(values)) for name, values in found.items()}
