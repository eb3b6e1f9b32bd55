"""Prints the evaluation's tables as Markdown: ``python tests/evaluation/evaluate.py [--split held-
out|open] [--quick]``.

Everything is computed from the tables of this checkout; seeds are fixed, so the figures repeat.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[2])]

import measure

import substitute
from substitute.odour.space import SpaceSettings, fit_space
from substitute.standins.features import LEARNED
from substitute.standins.ranking import in_words
from substitute.standins.train import fit, positives

COLUMNS = ("hit@1", "hit@3", "hit@5", "MRR", "rejected in 3")
ABLATIONS = {
    "constituents not mixed in": {"mix": 0.0},
    "no heat kernel": {"heat": 0.0},
    "no tree in the kernel": {"tree": 0.0},
    "no company in the kernel": {"company": 0.0},
    "telling words not weighted up": {"telling": 0.0},
    "weights as they stand": {"sharpen": 1.0},
}
GROUPS = {
    "sharpness and same note": ("sharpness", "same_note"),
    "shared constituents": ("contains", "contained_in"),
    "potency and tenacity": ("potency_ratio", "tenacity_difference"),
    "kinship": ("kin",),
    "usual": ("usual",),
}


def cell(value) -> str:
    return f"{value[0]:.2f} ({value[1]:.2f}-{value[2]:.2f})"


def line(name: str, scores: measure.Scores) -> str:
    row = scores.row()
    return f"| {name} | {' | '.join(cell(row[column]) for column in COLUMNS)} |"


def header(first: str) -> str:
    return f"| {first} | {' | '.join(COLUMNS)} |\n|---|{'---|' * len(COLUMNS)}"


def weights_without(library, questions, columns=LEARNED):
    """Weights learned from documented swaps that touch none of the questions' missing materials."""
    features = library.bench.features
    return fit(features, library.tables, positives(library.tables), {q.missing for q in questions}, columns)


def with_space(library, **changes):
    """A library whose space is fitted with other settings."""
    other = substitute.Library(library.tables, evidence=False)
    other.__dict__["space"] = fit_space(library.tables, replace(SpaceSettings(), **changes))
    return other


def main_table(questions) -> None:
    on, off = substitute.load(), substitute.load(evidence=False)
    missing = {q.missing for q in questions}
    bare = measure.without_rows(on, missing)
    learned = weights_without(off, questions)
    rankings = {
        "**no row of these materials**, weights learned without them": measure.ranked(bare, learned),
        "all rows": measure.ranked(on),
        "look-up alone: the rows as they stand": measure.look_up(on),
        "no rows at all, learned weights": measure.ranked(off, learned),
        "no rows at all, unit weights": measure.ranked(off, measure.unit_weights(off)),
        "similarity in the space alone": measure.by_similarity(off, off.space.similarity, off.space.ids),
        "cosine on raw profiles": measure.raw_cosine(off),
        "rdkit fingerprints (molecules only)": measure.fingerprints(off),
        "most popular stand-in": measure.most_popular(on),
    }
    print(header("ranking"))
    for name, answer in rankings.items():
        if answer is not None:
            print(line(name, measure.ask(questions, answer)))
    chance = measure.chance(off, questions)
    print(f"| chance | {chance['hit@1']:.3f} | {chance['hit@3']:.3f} | {chance['hit@5']:.3f} | | |")
    accepted = np.mean([len(q.accepted) for q in questions])
    covered = np.mean(
        [any(r.stand_in in q.accepted for r in on.swaps_by_missing.get(q.missing, ())) for q in questions]
    )
    print(
        f"\n{len(questions)} questions about {len(missing)} materials, {accepted:.1f} accepted answers each; {covered:.0%} have an "
        "accepted answer in swaps.csv, which is why the first row is the one to read. 95 % intervals: bootstrap over materials, "
        "exact at 0 and 1."
    )
    for name, library in (("no row of these materials", bare), ("all rows", on)):
        shelves = measure.from_shelves(library, questions)
        right = [one for one in shelves if one.right]
        low, high = measure.clopper_pearson(len(right), len(shelves))
        last = sum(one.score < 0.3 for one in right)
        print(
            f"A shelf of thirty with one accepted answer on it, {name}: first in {len(right)} of {len(shelves)} "
            f"({low:.2f}-{high:.2f}), {last} of these called a makeshift."
        )


def ablation_table(questions) -> None:
    off = substitute.load(evidence=False)
    print(header("left out (evidence off)"))
    print(line("nothing", measure.ask(questions, measure.ranked(off, weights_without(off, questions)))))
    for name, changes in ABLATIONS.items():
        other = with_space(off, **changes)
        print(line(name, measure.ask(questions, measure.ranked(other, weights_without(other, questions)))))
    for name, gone in GROUPS.items():
        kept = tuple(column for column in LEARNED if column not in gone)
        print(
            line(
                f"features: {name}",
                measure.ask(questions, measure.ranked(off, weights_without(off, questions, kept))),
            )
        )


def family_table(questions) -> None:
    off = substitute.load(evidence=False)
    families = defaultdict(list)
    for question in questions:
        families[off.tables.materials[question.missing].family].append(question)
    places, rejected, asked, parts = [], [], [], []
    for family, some in sorted(families.items()):
        members = {name for name, m in off.tables.materials.items() if m.family == family}
        weights = fit(off.bench.features, off.tables, positives(off.tables), members)
        scores = measure.ask(some, measure.ranked(off, weights))
        places.append(scores.places)
        rejected.append(scores.rejected)
        asked += scores.missing
        parts.append(f"{family} {np.mean((scores.places >= 1) & (scores.places <= 3)):.2f} of {len(some)}")
    print(header("leave one family out (evidence off)"))
    print(
        line(
            "all families together",
            measure.Scores(np.concatenate(places), np.concatenate(rejected), tuple(asked)),
        )
    )
    print("\nhit@3 by family: " + ", ".join(parts))


def calibration_table(questions) -> None:
    on = substitute.load()
    print("| score | in words | answers | accepted |\n|---|---|---|---|")
    found = []
    for question in questions:
        for answer in on.swap(question.missing, because=question.because, top=5).stand_ins:
            found.append((answer.score, answer.members[0].id in question.accepted))
    scores, hit = np.array([s for s, _ in found]), np.array([h for _, h in found])
    for low, high in ((0.9, 1.01), (0.6, 0.9), (0.3, 0.6), (0.1, 0.3), (0.0, 0.1)):
        inside = (scores >= low) & (scores < high)
        if inside.any():
            print(
                f"| {low:.1f} to {min(high, 1):.1f} | {in_words(low)} | {inside.sum()} | {hit[inside].mean():.2f} |"
            )


def likeness(split: str) -> None:
    from scipy.stats import spearmanr

    off = substitute.load(evidence=False)
    row, similarity = off.space.row, off.space.similarity
    pairs = [
        (a, b, like)
        for a, b, like in measure.read_pairs()
        if a in row and b in row and measure.split_of(a + b) == split
    ]
    mine = spearmanr([similarity[row[a], row[b]] for a, b, _ in pairs], [like for *_, like in pairs])[0]
    from substitute.standins.features import plain_profiles

    plain = plain_profiles(off.tables, off.space.ids)
    raw = spearmanr([plain[row[a]] @ plain[row[b]] for a, b, _ in pairs], [like for *_, like in pairs])[0]
    print(
        f"Likeness of {len(pairs)} judged pairs ({split}): rank correlation {mine:.2f} in the space, {raw:.2f} by raw profiles."
    )


def doubled() -> None:
    import csv

    with (Path(__file__).parent / "doubled.csv").open(encoding="utf-8") as file:
        rows = [
            (r["accepted_first"].split(";"), r["accepted_second"].split(";")) for r in csv.DictReader(file)
        ]
    first = np.mean([b[0] in a for a, b in rows])
    either = np.mean([bool(set(b[:3]) & set(a)) for a, b in rows])
    print(
        f"Two question writers on the same {len(rows)} questions: the second's first answer is among the first's accepted in {first:.2f}, one of its first three in {either:.2f}."
    )


def misses(questions) -> None:
    on = substitute.load()
    answer = measure.ranked(on)
    print("| missing | because | answered | accepted |\n|---|---|---|---|")
    for question in questions:
        found = list(answer(question))[:3]
        if not set(found) & set(question.accepted):
            print(
                f"| {question.missing} | {question.because} | {', '.join(found)} | {', '.join(question.accepted)} |"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--split", choices=("held-out", "open"), default="held-out")
    parser.add_argument("--quick", action="store_true", help="only the main table")
    parser.add_argument(
        "--misses", action="store_true", help="list the questions whose first three answers miss"
    )
    options = parser.parse_args()
    questions = measure.read_questions(options.split)
    print(f"## {options.split} questions\n")
    main_table(questions)
    if options.misses:
        print("\n### Misses\n")
        misses(questions)
    if options.quick:
        return
    print("\n### Ablation\n")
    ablation_table(questions)
    print("\n### Leave one family out\n")
    family_table(questions)
    print("\n### Calibration (evidence on)\n")
    calibration_table(questions)
    print("\n### Likeness\n")
    likeness(options.split)
    doubled()


if __name__ == "__main__":
    main()
