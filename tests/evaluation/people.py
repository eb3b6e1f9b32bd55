"""How well answers agree with people who smelled: ``python tests/evaluation/people.py`` (needs rdkit).

Everything that was fitted to a panel is judged on molecules left out of the fit (ten folds over molecules).
Panels' data and licences: ``tests/reference/people``. Intervals are 95 % bootstrap intervals over molecules
(pairs of a molecule go together), or over pairs.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

import substitute
from substitute.odour.likeness import (
    SPACE_POWER,
    SPACE_WEIGHT,
    WEIGHTS,
    cosines,
    impression_inputs,
    rated,
    transport,
)
from substitute.odour.mixing import mix_u_model
from substitute.odour.perception import MIXING_METHODS, mixture_intensity
from substitute.odour.train import PANELS, fit_map, read_panel, skeletons

FOLDER = Path(__file__).parents[1] / "reference" / "people"
FOLDS, SEED, DRAWS = 10, 0, 400


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@dataclass(frozen=True)
class Pair:
    """Two mixtures as rows of the space, equally strong parts, and how alike people found them, 0 to 1."""

    one: tuple[int, ...]
    other: tuple[int, ...]
    rating: float
    same: bool

    @property
    def ratio(self) -> float:
        counts = sorted((len(self.one), len(self.other)))
        return counts[1] / counts[0]


class People:
    """The panels joined to a library."""

    def __init__(self, library: substitute.Library):
        self.library, self.space = library, library.space
        self.ours = skeletons(library.tables, self.space.ids)

    @cached_property
    def said(self) -> dict[str, dict[str, np.ndarray]]:
        """Panel -> id -> its words."""
        return {
            panel: {
                self.ours[key]: words for key, words in read_panel(FOLDER / file).items() if key in self.ours
            }
            for panel, file in PANELS.items()
        }

    @cached_property
    def folds(self) -> dict[str, int]:
        """Fold of every molecule that a panel rated; one in both panels is left out of both at once."""
        names = sorted({name for said in self.said.values() for name in said})
        order = np.random.default_rng(SEED).permutation(len(names))
        return {name: int(place) % FOLDS for name, place in zip(names, order, strict=True)}

    @cached_property
    def predicted(self) -> dict[str, np.ndarray]:
        """Panel -> (N, W) what it would have said, each rated molecule from a fit without its fold."""
        inputs, found = impression_inputs(self.space), {}
        for panel, said in self.said.items():
            table = inputs @ fit_map(self.space, said)
            for fold in range(FOLDS):
                out = [name for name, place in self.folds.items() if place == fold]
                rest = {name: words for name, words in said.items() if name not in out}
                at = [self.space.row[name] for name in out]
                table[at] = inputs[at] @ fit_map(self.space, rest)
            found[panel] = table
        return found

    @cached_property
    def similarity(self) -> np.ndarray:
        """(N, N) as :attr:`Likeness.similarity`, from the fits without the molecule."""
        both = sum(weight * cosines(self.predicted[panel]) for panel, weight in WEIGHTS.items())
        both = np.clip(both + SPACE_WEIGHT * self.space.similarity**SPACE_POWER, 0.0, 1.0)
        np.fill_diagonal(both, 1.0)
        return np.asarray(both)

    @cached_property
    def fingerprints(self) -> np.ndarray:
        """(N, N) Tanimoto of Morgan fingerprints, the structure-only baseline; zero without structure."""
        from rdkit import Chem, DataStructs
        from rdkit.Chem import rdFingerprintGenerator

        maker = rdFingerprintGenerator.GetMorganGenerator(radius=2, fpSize=2048)
        prints: list = []
        for name in self.space.ids:
            smiles = self.library.tables.materials[name].smiles
            molecule = Chem.MolFromSmiles(smiles) if smiles else None
            prints.append(maker.GetFingerprint(molecule) if molecule is not None else None)
        known = [i for i, one in enumerate(prints) if one is not None]
        found = np.eye(len(prints))
        for i in known:
            found[i, known] = DataStructs.BulkTanimotoSimilarity(prints[i], [prints[j] for j in known])
        return found

    @cached_property
    def pairs(self) -> list[Pair]:
        """Rated pairs whose parts are all in the table."""
        found = []
        for row in rows("mixture_similarity_2013.csv"):
            sides = [[key[:14] for key in row[side].split(";")] for side in ("a", "b")]
            if all(key in self.ours for side in sides for key in side):
                one, other = (tuple(self.space.row[self.ours[key]] for key in side) for side in sides)
                found.append(Pair(one, other, float(row["similarity"]) / 100.0, set(one) == set(other)))
        return found


def measured(said: Mapping[str, np.ndarray]) -> np.ndarray:
    """Correlation of the words of every two molecules."""
    return np.corrcoef(np.array(list(said.values())))


def agreement(
    similarity: np.ndarray, at: list[int], truth: np.ndarray, draws: int = DRAWS
) -> tuple[float, float, float]:
    """Correlation over all pairs of molecules, with a bootstrap interval over molecules."""
    ours = similarity[np.ix_(at, at)]
    upper = np.triu_indices(len(at), 1)
    value = float(np.corrcoef(ours[upper], truth[upper])[0, 1])
    rng = np.random.default_rng(SEED)
    found = []
    for _ in range(draws):
        some = rng.integers(0, len(at), len(at))
        keep = some[upper[0]] != some[upper[1]]
        i, j = some[upper[0]][keep], some[upper[1]][keep]
        found.append(float(np.corrcoef(ours[i, j], truth[i, j])[0, 1]))
    return value, *np.percentile(found, [2.5, 97.5]).tolist()


def nearest_measured(similarity: np.ndarray, at: list[int], truth: np.ndarray) -> float:
    """Mean measured likeness of each molecule's nearest other one."""
    ours = similarity[np.ix_(at, at)].copy()
    np.fill_diagonal(ours, -np.inf)
    return float(truth[np.arange(len(at)), ours.argmax(axis=1)].mean())


def of_pairs(similarity: np.ndarray, pairs: list[Pair], sized: bool = True) -> np.ndarray:
    """Likeness of rated pairs from similarities of single molecules."""
    found = []
    for pair in pairs:
        share, weight = (np.full(len(side), 1.0 / len(side)) for side in (pair.one, pair.other))
        s = transport(similarity[np.ix_(pair.one, pair.other)], share, weight)
        found.append(float(rated(s, pair.ratio)) if sized else s)
    return np.array(found)


def correlation(ours: np.ndarray, truth: np.ndarray, draws: int = DRAWS) -> tuple[float, float, float]:
    rng = np.random.default_rng(SEED)
    some = [rng.integers(0, len(ours), len(ours)) for _ in range(draws)]
    found = [float(np.corrcoef(ours[at], truth[at])[0, 1]) for at in some]
    return float(np.corrcoef(ours, truth)[0, 1]), *np.percentile(found, [2.5, 97.5]).tolist()


def dose_response(people: People) -> tuple[int, float, list[tuple[str, float, float]]]:
    """(materials, rank correlation, furthest) of potency against measured intensity in saturated vapour (25
    C, ideal, 10 % by mole).
    """
    from scipy.stats import rankdata

    tables = people.library.tables
    found = []
    for row in rows("dose_response_2019.csv"):
        name = people.ours.get(row["inchikey"][:14])
        potency, pressure, mass = (
            tables.value(name, what) if name else None
            for what in ("potency", "vapour_pressure_pa", "molar_mass_g_mol")
        )
        if name and potency and pressure and mass:
            at = 0.1 * pressure * mass / (8.314 * 298.15) * 1000.0  # ug per litre
            intensity = float(row["i_max"]) / (
                1 + np.exp(-(np.log10(at) - float(row["c"])) / float(row["d"]))
            )
            found.append((name, potency, float(intensity)))
    ranks = [rankdata([one[i] for one in found]) / len(found) for i in (1, 2)]
    apart = sorted(zip(ranks[0] - ranks[1], found, strict=True), key=lambda item: -abs(item[0]))
    return (
        len(found),
        float(np.corrcoef(*ranks)[0, 1]),
        [(one[0], one[1], float(gap)) for gap, one in apart[:30]],
    )


def two_parts() -> tuple[np.ndarray, np.ndarray, list[set[str]]]:
    """Intensities of both parts alone (N, 2), of the mixture (N), and which molecules each is of."""
    found = rows("mixture_intensity_2021.csv")
    parts = [[float(row["intensity_a_alone"]), float(row["intensity_b_alone"])] for row in found]
    whole = [float(row["intensity_mixture"]) for row in found]
    return np.array(parts), np.array(whole), [{row["a"], row["b"]} for row in found]


def fitted_cos_alpha(both: np.ndarray, truth: np.ndarray) -> float:
    """cos(alpha) of the U model by least squares: it enters linearly."""
    twice = 2.0 * np.sqrt(both.prod(axis=1))
    return float(twice @ (truth - both.sum(axis=1)) / (twice @ twice))


def u_model_left_out(both: np.ndarray, truth: np.ndarray, molecules: list[set[str]]) -> np.ndarray:
    """The U model's total of each mixture, its cos(alpha) from those that share no molecule with it."""
    found = []
    for parts, own in zip(both, molecules, strict=True):
        rest = np.array([not own & other for other in molecules])
        found.append(float(mix_u_model(parts, cos_alpha=fitted_cos_alpha(both[rest], truth[rest]))))
    return np.array(found)


def mixtures_of_two() -> dict[str, float]:
    """Root mean square error of the total intensity (0 to 10) by each model."""
    both, truth, molecules = two_parts()
    models: dict[str, Callable[[np.ndarray], np.ndarray]] = {
        **MIXING_METHODS,
        "p_norm, p = 10": lambda x: mixture_intensity(x, p=10.0),
        # its default was fitted to these very mixtures, so here each is judged without its molecules
        "u_model": lambda x: u_model_left_out(x, truth, molecules),
    }
    return {name: float(np.sqrt(((model(both) - truth) ** 2).mean())) for name, model in models.items()}


def report(people: People) -> str:
    lines, space = [], people.space
    shares = cosines(np.sqrt(space.shares))
    for panel, said in people.said.items():
        at, truth = [space.row[name] for name in said], measured(said)
        lines += [
            "",
            f"{panel}: {len(at)} molecules",
            "| similarity | r (95 %) | nearest one's measured likeness |",
            "|---|---|---|",
        ]
        for name, matrix in (
            ("likeness, fitted without the molecule", people.similarity),
            ("the space", space.similarity),
            ("square roots of its shares", shares),
            ("fingerprints", people.fingerprints),
        ):
            value, low, high = agreement(matrix, at, truth)
            lines.append(
                f"| {name} | {value:.2f} ({low:.2f}-{high:.2f}) | {nearest_measured(matrix, at, truth):.3f} |"
            )
    pairs = [pair for pair in people.pairs if not pair.same]
    truth = np.array([pair.rating for pair in pairs])
    lines += [
        "",
        f"mixtures 2013: {len(pairs)} pairs, same pairs left out",
        "| likeness | r (95 %) |",
        "|---|---|",
    ]
    ours = of_pairs(people.similarity, pairs)
    for name, values in (
        ("transport of likeness, sizes counted", ours),
        ("transport of likeness", of_pairs(people.similarity, pairs, sized=False)),
        ("transport of the space's similarity", of_pairs(space.similarity, pairs, sized=False)),
        ("transport of fingerprints", of_pairs(people.fingerprints, pairs, sized=False)),
        ("numbers of parts alone", -np.log([pair.ratio for pair in pairs])),
    ):
        value, low, high = correlation(values, truth)
        lines.append(f"| {name} | {value:.2f} ({low:.2f}-{high:.2f}) |")
    lines += ["", "| likeness | pairs | people said |", "|---|---|---|"]
    for some in np.array_split(np.argsort(ours), 5):
        lines.append(
            f"| {ours[some].min():.2f} to {ours[some].max():.2f}, mean {ours[some].mean():.2f} | {len(some)} | {truth[some].mean():.2f} |"
        )
    same = [pair.rating for pair in people.pairs if pair.same]
    lines.append(f"| 1 (the same thing twice) | {len(same)} | {np.mean(same):.2f} |")
    lines += ["", "two-part mixtures 2021, total intensity, root mean square error of 0 to 10:"]
    lines += [f"  {name}: {value:.3f}" for name, value in mixtures_of_two().items()]
    count, value, far = dose_response(people)
    lines += [
        "",
        f"potency against measured dose-response: rank correlation {value:.2f} over {count} materials; furthest:",
    ]
    lines += [
        f"  {name}: potency {potency:g}, {'stronger' if gap > 0 else 'weaker'} with us ({gap:+.2f} of the ranks)"
        for name, potency, gap in far
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    print(report(People(substitute.load())))
    sys.exit(0)
