"""Answers timed beside plainer ways in the same run; ``pytest tests/benchmarks --benchmark-only -s`` prints the ratios."""

from __future__ import annotations

from itertools import combinations
from statistics import median
from time import process_time

import numpy as np
import pytest

import substitute
from substitute.standins.blended import stage_vectors
from substitute.standins.blends import best_pair, greedy
from substitute.standins.cone import fit, triple_values
from substitute.standins.triples import best_triple


@pytest.fixture(scope="module")
def library():
    return substitute.load()


@pytest.fixture(scope="module")
def problem(library):
    """The blend search's real problem: every smellable material against rose absolute."""
    from substitute.standins.candidates import smellable

    pool = [name for name in smellable(library.tables) if name != "rose-absolute"]
    vectors = stage_vectors(library.bench, ["rose-absolute", *pool])
    target = vectors[0] / np.linalg.norm(vectors[0])
    return vectors[1:], target


def seconds(work, rounds: int = 3) -> float:
    """Median time of ``work()``."""
    times = []
    for _ in range(rounds):
        begin = process_time()
        work()
        times.append(process_time() - begin)
    return median(times)


def told(benchmark, **ratios: float) -> None:
    benchmark.extra_info.update(ratios)
    print("\n" + ", ".join(f"{name} {value:.3g}" for name, value in ratios.items()))


def exhaustive_triples(gram, toward) -> float:
    """Every triple in closed form, a first row at a time."""
    n, best = len(toward), 0.0
    for i in range(n - 2):
        j, k = np.triu_indices(n - i - 1, 1)
        triples = np.column_stack([np.full(len(j), i), j + i + 1, k + i + 1])
        best = max(best, float(triple_values(gram, toward, triples).max()))
    return best


def test_exact_triple_beside_exhaustive_search(benchmark, problem):
    matrix, target = problem
    gram, toward = matrix @ matrix.T, matrix @ target
    anchors = np.ones(len(toward), dtype=bool)
    found = benchmark(best_triple, gram, toward, anchors)
    begin = process_time()
    value = exhaustive_triples(gram, toward)
    slow = process_time() - begin
    fast = seconds(lambda: best_triple(gram, toward, anchors))
    assert found.cosine**2 >= value - 1e-9
    told(benchmark, materials=len(toward), exhaustive_over_pruned=slow / fast)
    assert fast <= slow / 20


def test_pairs_beside_nnls_and_pursuit(benchmark, problem):
    from sklearn.linear_model import OrthogonalMatchingPursuit

    matrix, target = problem
    gram, toward = matrix @ matrix.T, matrix @ target
    anchors = np.ones(len(toward), dtype=bool)
    best = benchmark(best_pair, gram, toward, anchors)
    some = list(combinations(range(60), 2))
    nnls = (
        seconds(lambda: [fit(gram, toward, rows) for rows in some], 1)
        / len(some)
        * len(toward)
        * (len(toward) - 1)
        / 2
    )
    pursuit = OrthogonalMatchingPursuit(n_nonzero_coefs=3)
    ours = seconds(lambda: greedy(gram, toward, 3, anchors))
    theirs = seconds(lambda: pursuit.fit(matrix.T, target))
    told(
        benchmark,
        nnls_loop_over_pairs=nnls / seconds(lambda: best_pair(gram, toward, anchors)),
        pursuit_over_greedy=theirs / ours,
    )
    assert best.cosine > 0


def test_swap_query(benchmark, library):
    """A query over the whole table, beside one look over the similarity matrix by plain sorting."""
    library.swap("rose-absolute")
    answer = benchmark(library.swap, "rose-absolute")
    row = library.space.row["rose-absolute"]
    plain = seconds(lambda: np.argsort(-(library.space.unit @ library.space.unit[row])), 20)
    told(benchmark, swap_over_bare_similarity_sort=seconds(lambda: library.swap("rose-absolute"), 10) / plain)
    assert answer.stand_ins


def test_adjust_beside_a_cold_solver_on_grams(benchmark, library):
    """Twelve lines and a shelf of thirty, beside scipy's SLSQP on grams with numerical slopes from an even start."""
    from scipy.optimize import minimize

    from substitute.odour.perception import impression, match

    accord = library.read_accord(library.demo / "accords" / "amber-reading-lamp.csv")
    shelf = library.read_shelf(library.demo / "shelf.csv")
    core = next(line.material for line in accord.lines if line.role == "core")
    found = benchmark(lambda: library.adjust(accord, without=[core], shelf=shelf))
    ids = list(dict.fromkeys([*accord.active(), *shelf.materials()]))
    rows = library.staged.rows(ids)
    potency, profile = library.staged.potency[rows], library.staged.profile[rows]
    old = np.array([accord.active().get(name, 0.0) for name in ids])
    before = impression(old, potency, profile)
    allowed = [
        (0.0, 0.0) if name == core or (name not in shelf.materials()) else (0.0, accord.total) for name in ids
    ]

    def cold():
        start = np.array([high / len(ids) for _, high in allowed])
        return minimize(
            lambda g: -match(impression(np.maximum(g, 0), potency, profile), before).overall,
            start,
            method="SLSQP",
            bounds=allowed,
            options={"maxiter": 60},
        )

    slow = seconds(cold, 1)
    fast = seconds(lambda: library.adjust(accord, without=[core], shelf=shelf))
    told(
        benchmark,
        cold_solver_over_adjust=slow / fast,
        match=found.match.overall,
        match_of_cold_solver=-cold().fun,
    )
    assert found.match.overall >= -cold().fun - 0.05
