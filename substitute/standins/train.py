"""Learns the ranking's weights from the documented swaps: ``python -m substitute.standins.train`` writes
``weights.json``.

Pairwise logistic regression on feature differences (documented stand-in minus another candidate), no
intercept, every missing material with the same total weight, its first-named stand-ins weighing most
(rows stand in order of preference). Negatives: half the nearest by similarity, half drawn at random
(seeded). The reverse of a documented row and materials two steps away over documented rows are neither
positive nor negative. Whether a row exists is the label and never a feature.

The offset that turns log-odds into a chance is fitted on the open evaluation questions: accepted answers
count 1, rejected ones 0, and what stands among the five best without being listed, which nobody judged,
one half. It is the chance that a perfumer who is asked about this pair would use it.

The shipped bytes depend on nothing but the shipped tables and the checkout's open questions; without them
nothing is written. A person's own tables are left out of account.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..errors import InputError
from ..odour.space import fit_space
from ..records import Tables
from ..tables.load import load_tables
from .candidates import smellable
from .features import FEATURES, LEARNED, Features
from .ranking import Weights, chance

SHIPPED = Path(__file__).with_name("weights.json")
QUESTIONS = Path(__file__).parents[2] / "tests" / "evaluation" / "questions.csv"
OWN_TABLES = "SUBSTITUTE_TABLES"  # the environment's name for a person's own tables
UNJUDGED = 0.5  # chance taken for a near answer that nobody judged
OFFSETS = tuple(step / 100.0 for step in range(-1200, 1))
NEGATIVES = 40
SEED = 7
STRENGTH = 0.003  # inverse regularisation, per missing material
NON_NEGATIVE = True  # every feature is built so that more is better; a negative weight would be noise


def positives(tables: Tables) -> dict[str, dict[str, int]]:
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
    tables: Tables,
    swaps: Mapping[str, Mapping[str, int]],
    held_out: Iterable[str] = (),
    columns: Sequence[str] = LEARNED,
) -> tuple[np.ndarray, np.ndarray]:
    """(X, weight): feature differences positive minus negative; rows that touch ``held_out`` in either
    role are left out.
    """
    rng = np.random.default_rng(SEED)
    held = set(held_out)
    pool = [features.ids.index(name) for name in smellable(tables)]
    pick = [FEATURES.index(name) for name in columns]
    rows, weights = [], []
    for missing, answers in sorted(swaps.items()):
        places = {name: place for name, place in answers.items() if name not in held}
        ordered = sorted(places, key=lambda name: places[name])
        if missing in held or not ordered:
            continue
        matrix = features.matrix(missing)
        out = {
            features.ids.index(name)
            for name in neither(swaps, missing) | set(ordered)
            if name in features.ids
        }
        others = np.array([row for row in pool if row not in out and features.ids[row] not in held])
        order = others[np.argsort(-matrix[others, 0])]
        near, rest = order[: NEGATIVES // 2], order[NEGATIVES // 2 :]
        drawn = rng.choice(rest, size=min(NEGATIVES // 2, len(rest)), replace=False)
        wrong = matrix[np.concatenate([near, drawn])][:, pick]
        whole = sum(1.0 / places[name] for name in ordered)
        for name in ordered:
            rows.append(matrix[features.ids.index(name), pick] - wrong)
            weights.append(np.full(len(wrong), 1.0 / (places[name] * whole * len(wrong))))
    return np.vstack(rows), np.concatenate(weights)


def fit(
    features: Features,
    tables: Tables,
    swaps: Mapping[str, Mapping[str, int]],
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


def calibrate(
    weights: Weights, features: Features, pool: Sequence[str], questions: Sequence[Mapping[str, str]]
) -> float:
    """The offset of least log loss over the judged answers and the five best of ``pool``."""
    pick = [FEATURES.index(name) for name in weights.features]
    row = {name: place for place, name in enumerate(features.ids)}
    rows = np.array([row[name] for name in pool])
    odds: list[float] = []
    accepted: list[float] = []
    for question in questions:
        missing = question["missing"]
        if missing not in row or question["because"] != "unavailable":
            continue
        value = features.matrix(missing)[:, pick] @ np.array(weights.values)
        best = [r for r in rows[np.argsort(-value[rows])] if r != row[missing]][:5]
        judged = dict.fromkeys(best, UNJUDGED)
        for verdict, likely in (("accepted", 1.0), ("rejected", 0.0)):
            judged |= {row[name]: likely for name in question[verdict].split(";") if name in row}
        odds += [float(value[r]) for r in judged]
        accepted += judged.values()
    found, wanted = np.array(odds), np.array(accepted)

    def loss(offset: float) -> float:
        likely = chance(found + offset)
        return -float(np.mean(wanted * np.log(likely) + (1.0 - wanted) * np.log(1.0 - likely)))

    return min(OFFSETS, key=loss)


def as_text(weights: Weights) -> str:
    """The weights as they are kept beside the package; three digits, so that a library's last digit
    changes nothing.
    """
    kept = {
        "features": list(weights.features),
        "values": [round(v, 3) + 0.0 for v in weights.values],
        "offset": round(weights.offset, 3),
    }
    return json.dumps(kept, indent=1) + "\n"


def open_questions() -> list[dict[str, str]]:
    """The open evaluation questions of this checkout; raises InputError where there are none."""
    if not QUESTIONS.is_file():
        raise InputError(
            f"{QUESTIONS.name}: the open questions are not here; train from a checkout of the source"
        )
    with QUESTIONS.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["split"] == "open"]


def train() -> Weights:
    """Fit on all documented swaps of the shipped tables, calibrate on the open questions."""
    questions = open_questions()
    tables = load_shipped()
    features = Features(tables, fit_space(tables))
    weights = fit(features, tables, positives(tables))
    return replace(weights, offset=calibrate(weights, features, smellable(tables), questions))


def load_shipped() -> Tables:
    """The shipped tables alone, whatever the environment names."""
    own = os.environ.pop(OWN_TABLES, None)
    try:
        return load_tables()
    finally:
        if own is not None:
            os.environ[OWN_TABLES] = own


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the weights and say what was learned; with ``--check`` only say whether the shipped ones are
    these.
    """
    parser = argparse.ArgumentParser(description="Learn the ranking's weights from the documented swaps.")
    parser.add_argument(
        "--check", action="store_true", help="compare with the shipped weights, write nothing"
    )
    options = parser.parse_args(arguments)
    try:
        weights = train()
    except InputError as error:
        print(error, file=sys.stderr)
        return 2
    text = as_text(weights)
    for name, value in zip((*weights.features, "offset"), (*weights.values, weights.offset)):
        print(f"{name:22} {value:8.3f}")
    if options.check:
        same = SHIPPED.read_text(encoding="utf-8") == text
        print("the shipped weights are these" if same else "the shipped weights are others")
        return 0 if same else 1
    SHIPPED.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
