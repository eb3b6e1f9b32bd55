"""How good the answers are: metrics over the exam questions, and the baselines they have to beat.

``questions.csv``: what is missing and why, accepted and rejected answers, written by someone who never saw ``data/swaps.csv``; the
split is by a SHA-256 of the missing material's id (held-out if the first byte is under 102, about 40 %), so that no material is in
both. ``pairs.csv``: likeness of pairs of materials, 0 to 10. Both are judgements from memory of the trade, no source.
"""

from __future__ import annotations

import csv
import hashlib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from substitute.library import Library
from substitute.standins.ask import Ask
from substitute.standins.candidates import candidates
from substitute.standins.ranking import Weights
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
    """Per question: place of the first accepted answer (0 = not among the answers), rejected answers among the first three."""

    places: np.ndarray
    rejected: np.ndarray

    def row(self, seed: int = 1, draws: int = 1000) -> dict[str, tuple[float, float, float]]:
        """Metric -> (value, low, high) with a 95 % bootstrap interval over questions."""
        values = {f"hit@{k}": ((self.places >= 1) & (self.places <= k)).astype(float) for k in KS}
        values["MRR"] = np.divide(1.0, self.places, out=np.zeros(len(self.places)), where=self.places > 0)
        values["rejected in 3"] = self.rejected.astype(float)
        rng = np.random.default_rng(seed)
        picks = rng.integers(0, len(self.places), (draws, len(self.places)))
        return {
            name: (float(v.mean()), *(float(x) for x in np.quantile(v[picks].mean(axis=1), [0.025, 0.975])))
            for name, v in values.items()
        }


def ask(questions: Sequence[Question], answer: Answerer) -> Scores:
    places, rejected = [], []
    for question in questions:
        found = list(answer(question))
        places.append(next((place for place, name in enumerate(found, 1) if name in question.accepted), 0))
        rejected.append(sum(name in question.rejected for name in found[:3]))
    return Scores(np.array(places, dtype=float), np.array(rejected))


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


def by_similarity(library, similarity: np.ndarray, ids: Sequence[str]) -> Answerer:
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


def raw_cosine(library) -> Answerer:
    """Cosine of the plain profiles: no tree, no smoothing, no constituents."""
    from substitute.standins.features import plain_profiles

    ids = library.space.ids
    plain = plain_profiles(library.tables, ids)
    return by_similarity(library, plain @ plain.T, ids)


def fingerprints(library) -> Answerer | None:
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


def most_popular(library) -> Answerer:
    """The stand-ins documented most often, whatever is missing; rows of the missing material itself left out."""

    def answer(question: Question) -> list[str]:
        count = Counter(
            row.stand_in
            for row in library.tables.swaps
            if question.missing not in (row.missing, row.stand_in)
        )
        return sorted(allowed(library, question), key=lambda name: (-count[name], name))

    return answer


def chance(library, questions: Sequence[Question]) -> dict[str, float]:
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
