"""Learns the ranking's weights from the documented swaps: ``python -m substitute.standins.train`` writes ``weights.json``.

Pairwise logistic regression on feature differences (documented stand-in minus another candidate), no intercept, every missing
material with the same total weight, its first-named stand-ins weighing most (rows stand in order of preference). Negatives: half the nearest by similarity, half drawn at random (seeded). The reverse of a
documented row and materials two steps away over documented rows are neither positive nor negative. Whether a row exists is the label and
never a feature. The offset that turns log-odds into a chance of being accepted is fitted on the open evaluation questions
(``--questions``), where there are any.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np

from .candidates import smellable
from .features import FEATURES, LEARNED, Features
from .ranking import Weights

NEGATIVES = 40
SEED = 7
STRENGTH = 0.003  # inverse regularisation, per missing material
NON_NEGATIVE = True  # every feature is built so that more is better; a negative weight would be noise


def positives(tables) -> dict[str, dict[str, int]]:
    """Missing -> documented stand-ins with a profile and their place in the order of preference (1 first)."""
    known = set(smellable(tables))
    found: dict[str, dict[str, int]] = {}
    for row in tables.swaps:
        if row.missing in tables.profiles and row.stand_in in known:
            places = found.setdefault(row.missing, {})
            places.setdefault(row.stand_in, len(places) + 1)
    return found


def neither(swaps: Mapping[str, Mapping[str, int]], missing: str) -> set[str]:
    """Materials that are neither right nor wrong for ``missing``: reverse rows and two steps away."""
    direct = set(swaps.get(missing, ()))
    reverse = {name for name, answers in swaps.items() if missing in answers}
    two = {far for near in direct | reverse for far in swaps.get(near, ())} | {
        name for name, answers in swaps.items() if answers.keys() & (direct | reverse)
    }
    return (reverse | two | {missing}) - direct


def differences(
    features: Features,
    tables,
    swaps: Mapping[str, Mapping[str, int]],
    held_out: Iterable[str] = (),
    columns: Sequence[str] = LEARNED,
):
    """(X, weight): feature differences positive minus negative; rows that touch ``held_out`` in either role are left out."""
    rng = np.random.default_rng(SEED)
    held = set(held_out)
    pool = [features.ids.index(name) for name in smellable(tables)]
    pick = [FEATURES.index(name) for name in columns]
    rows, weights = [], []
    for missing, answers in sorted(swaps.items()):
        places = {name: place for name, place in answers.items() if name not in held}
        answers = sorted(places, key=places.get)
        if missing in held or not answers:
            continue
        matrix = features.matrix(missing)
        out = {
            features.ids.index(name)
            for name in neither(swaps, missing) | set(answers)
            if name in features.ids
        }
        others = np.array([row for row in pool if row not in out and features.ids[row] not in held])
        order = others[np.argsort(-matrix[others, 0])]
        near, rest = order[: NEGATIVES // 2], order[NEGATIVES // 2 :]
        drawn = rng.choice(rest, size=min(NEGATIVES // 2, len(rest)), replace=False)
        wrong = matrix[np.concatenate([near, drawn])][:, pick]
        whole = sum(1.0 / places[name] for name in answers)
        for name in answers:
            rows.append(matrix[features.ids.index(name), pick] - wrong)
            weights.append(np.full(len(wrong), 1.0 / (places[name] * whole * len(wrong))))
    return np.vstack(rows), np.concatenate(weights)


def fit(
    features: Features,
    tables,
    swaps,
    held_out: Iterable[str] = (),
    columns: Sequence[str] = LEARNED,
    offset: float = 0.0,
) -> Weights:
    """Weights from the swaps that touch no ``held_out`` material."""
    from sklearn.linear_model import LogisticRegression

    x, weight = differences(features, tables, swaps, held_out, columns)
    scale = np.sqrt(np.average(x**2, axis=0, weights=weight))
    scale[scale == 0] = 1.0
    live = np.ones(len(columns), dtype=bool)
    while True:  # drop what turns negative, one at a time
        model = LogisticRegression(fit_intercept=False, C=STRENGTH * len(swaps), max_iter=1000)
        both = np.vstack([x[:, live] / scale[live], -x[:, live] / scale[live]])
        model.fit(
            both,
            np.concatenate([np.ones(len(x)), np.zeros(len(x))]),
            sample_weight=np.concatenate([weight, weight]),
        )
        found = model.coef_[0]
        if not NON_NEGATIVE or found.min() >= 0:
            break
        live[np.flatnonzero(live)[found.argmin()]] = False
    values = np.zeros(len(columns))
    values[live] = found / scale[live]
    return Weights(tuple(columns), tuple(float(v) for v in values), offset)


def calibrate(weights: Weights, features: Features, tables, questions: Sequence[Mapping[str, str]]) -> float:
    """The offset at which the mean score of the best five candidates equals the part of them that is accepted."""
    pool = [features.ids.index(name) for name in smellable(tables)]
    pick = [FEATURES.index(name) for name in weights.features]
    odds, accepted = [], []
    for question in questions:
        missing = question["missing"]
        if missing not in features.ids:
            continue
        value = features.matrix(missing)[:, pick] @ np.array(weights.values)
        rows = [row for row in pool if features.ids[row] != missing]
        best = sorted(rows, key=lambda row: -value[row])[:5]
        answers = set(question["accepted"].split(";"))
        odds += [value[row] for row in best]
        accepted += [features.ids[row] in answers for row in best]
    low, high = -60.0, 60.0
    odds, goal = np.array(odds), float(np.mean(accepted))
    for _ in range(80):
        middle = (low + high) / 2
        if float(np.mean(1 / (1 + np.exp(-(odds + middle))))) < goal:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def write(weights: Weights, path: Path | None = None) -> None:
    """Keep the weights beside the package."""
    path = path or Path(__file__).with_name("weights.json")
    kept = {
        "features": list(weights.features),
        "values": [round(v, 4) for v in weights.values],
        "offset": round(weights.offset, 4),
    }
    path.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


def main() -> None:
    """Fit on all documented swaps, calibrate on the open questions given, write, and say what was learned."""
    import argparse

    from ..odour.space import load_space
    from ..tables.load import load_tables

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--questions", type=Path, help="open evaluation questions (missing, accepted)")
    options = parser.parse_args()
    tables = load_tables()
    features = Features(tables, load_space(tables))
    weights = fit(features, tables, positives(tables))
    offset = weights.offset
    if options.questions:
        with options.questions.open(encoding="utf-8") as file:
            offset = calibrate(
                weights, features, tables, [row for row in csv.DictReader(file) if row["split"] == "open"]
            )
    weights = Weights(weights.features, weights.values, offset)
    write(weights)
    for name, value in zip(weights.features, weights.values):
        print(f"{name:22} {value:8.3f}")
    print(f"{'offset':22} {offset:8.3f}")


if __name__ == "__main__":
    main()
