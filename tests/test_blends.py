"""The blend search against exhaustive search, and the bounds that prune it."""

from itertools import combinations

import numpy as np
import pytest
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from substitute.standins.blended import stage_vectors
from substitute.standins.blends import best_blend, greedy
from substitute.standins.cone import fit, pair_values, single_values, triple_values
from substitute.standins.triples import best_triple, held_by_the_pair


def problem(seed: int, n: int, d: int, density: float = 0.3):
    rng = np.random.default_rng(seed)
    matrix = rng.random((n, d)) * (rng.random((n, d)) < density) + 1e-3
    target = rng.random(d) * (rng.random(d) < density) + 1e-3
    target /= np.linalg.norm(target)
    return matrix @ matrix.T, matrix @ target


def exhaustive(gram, toward, k, anchors):
    tries = [rows for rows in combinations(range(len(toward)), k) if anchors[list(rows)].any()]
    return max(fit(gram, toward, rows).cosine for rows in tries)


@settings(max_examples=examples(40), deadline=None)
@given(
    st.integers(0, 10_000),
    st.integers(4, 14),
    st.integers(3, 20),
    st.sampled_from([2, 3]),
    st.floats(0.1, 1.0),
)
def test_exact_blend_equals_exhaustive_search(seed, n, d, k, anchored):
    gram, toward = problem(seed, n, d)
    anchors = np.random.default_rng(seed + 1).random(n) < anchored
    anchors[0] = True
    found = best_blend(gram, toward, k, anchors)
    assert found.cosine == pytest.approx(exhaustive(gram, toward, k, anchors), abs=1e-6)
    assert anchors[list(found.rows)].any()
    assert min(found.weights) >= 0


@settings(max_examples=examples(40), deadline=None)
@given(st.integers(0, 10_000))
def test_values_of_non_negative_vectors_are_subadditive(seed):
    """V(ijk) <= V(ij) + V(k) and V(ijk) <= (V(ij) + V(ik) + V(jk)) / 2: the bounds that the search prunes
    with.
    """
    gram, toward = problem(seed, 7, 9)
    single, pairs = single_values(gram, toward), pair_values(gram, toward)
    for i, j, k in combinations(range(7), 3):
        value = fit(gram, toward, (i, j, k)).cosine ** 2
        assert value <= pairs[i, j] + single[k] + 1e-9
        assert value <= (pairs[i, j] + pairs[i, k] + pairs[j, k]) / 2 + 1e-9


@settings(max_examples=examples(40), deadline=None)
@given(st.integers(0, 10_000))
def test_two_hold_what_the_third_leaves(seed):
    """V(ij) >= V(ijk) 4 s / (3 s + 1) where k gives least and s is its own part: the bound that thirds are
    chosen with.
    """
    gram, toward = problem(seed, 7, 9)
    single, pairs = single_values(gram, toward), pair_values(gram, toward)
    for rows in combinations(range(7), 3):
        found = fit(gram, toward, rows)
        parts = np.array(found.weights) * toward[list(rows)]
        if min(parts) <= 0:
            continue
        least = int(parts.argmin())
        i, j = (row for place, row in enumerate(rows) if place != least)
        value = found.cosine**2
        held = held_by_the_pair(np.array([single[rows[least]] / value]))[0]
        assert pairs[i, j] >= value * held - 1e-9


@pytest.mark.parametrize("target", ["rose-oil", "geranium-oil-bourbon", "vanillin", "oakmoss-absolute"])
def test_the_best_triple_of_a_reduced_table_equals_exhaustive_search(library, target):
    """Real odours crowd together, where bounds are put to the test: every triple of some seventy materials, near
    ones and others, is looked at by the closed forms.
    """
    bench = library.bench
    row = bench.space.similarity[bench.space.row[target]]
    ranked = sorted(
        (name for name in bench.smellable if name != target), key=lambda name: -row[bench.space.row[name]]
    )
    for pool, anchored in ((ranked[:70], 1), (ranked[::12], 1), (ranked[:70], 7)):
        vectors = stage_vectors(bench, [target, *pool])
        toward = vectors[1:] @ (vectors[0] / np.linalg.norm(vectors[0]))
        gram = vectors[1:] @ vectors[1:].T
        anchors = np.arange(len(pool)) % anchored == 0
        triples = np.array(list(combinations(range(len(pool)), 3)))
        triples = triples[anchors[triples].any(axis=1)]
        best = max(triple_values(gram, toward, triples).max(), pair_values(gram, toward).max())
        found = best_blend(gram, toward, 3, anchors)
        assert found.cosine**2 == pytest.approx(best, abs=1e-9)
        assert anchors[list(found.rows)].any()


def test_closed_forms_equal_least_squares():
    gram, toward = problem(3, 9, 12)
    pairs = pair_values(gram, toward)
    triples = np.array(list(combinations(range(9), 3)))
    values = triple_values(gram, toward, triples)
    for rows, value in zip(triples, values):
        best = fit(gram, toward, rows).cosine ** 2
        assert value <= best + 1e-9
        if value > 0:  # the optimum lies inside the cone
            assert value == pytest.approx(best, abs=1e-8)
    for i, j in combinations(range(9), 2):
        assert pairs[i, j] == pytest.approx(fit(gram, toward, (i, j)).cosine ** 2, abs=1e-8)


@settings(max_examples=examples(20), deadline=None)
@given(st.integers(0, 10_000), st.integers(4, 5))
def test_greedy_with_exchanges_is_no_worse_than_its_best_single(seed, k):
    gram, toward = problem(seed, 20, 30)
    anchors = np.ones(20, dtype=bool)
    found = greedy(gram, toward, k, anchors)
    assert found.cosine >= np.sqrt(single_values(gram, toward).max()) - 1e-9


@pytest.mark.parametrize("k", [4, 5, 6])
def test_a_blend_of_more_than_three_finds_what_something_was_mixed_of(k):
    """Rows at right angles, a target mixed of ``k`` of them: these and no others, in their shares."""
    weights = np.zeros(9)
    weights[[1, 2, 4, 5, 7, 8][:k]] = np.arange(1.0, k + 1) / np.linalg.norm(np.arange(1.0, k + 1))
    found = best_blend(np.eye(9), weights, k, np.ones(9, dtype=bool))
    assert found.cosine == pytest.approx(1.0)
    assert {row: pytest.approx(weight) for row, weight in zip(found.rows, found.weights)} == {
        row: weights[row] for row in np.flatnonzero(weights)
    }


@settings(max_examples=examples(20), deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([4, 5]), st.integers(1, 3))
def test_no_single_exchange_makes_a_greedy_blend_better_and_it_keeps_an_anchor(seed, k, anchored):
    """Of nine rows every exchange is tried (eight at a time), so none may be left that helps."""
    gram, toward = problem(seed, 9, 7, density=0.6)
    anchors = np.arange(9) < anchored
    found = best_blend(gram, toward, k, anchors)
    assert len(set(found.rows)) == k
    assert anchors[list(found.rows)].any()
    for leaving in range(k):
        rest = found.rows[:leaving] + found.rows[leaving + 1 :]
        for row in set(range(9)) - set(found.rows):
            if anchors[[*rest, row]].any():
                assert fit(gram, toward, (*rest, row)).cosine <= found.cosine + 1e-8


def test_a_greedy_blend_of_one_or_of_all_rows():
    gram, toward = problem(3, 4, 9)
    alone = greedy(gram, toward, 1, np.ones(4, dtype=bool))
    assert alone.rows == (int(np.argmax(single_values(gram, toward))),)
    assert sorted(greedy(gram, toward, 6, np.ones(4, dtype=bool)).rows) == [0, 1, 2, 3]
    assert greedy(gram, toward, 3, np.zeros(4, dtype=bool)) is None
    assert best_blend(gram, np.zeros(4), 3, np.ones(4, dtype=bool)) is None


def test_no_blend_without_an_anchor():
    gram, toward = problem(1, 6, 6)
    assert best_blend(gram, toward, 3, np.zeros(6, dtype=bool)) is None


def test_a_triple_of_rows_of_which_one_alone_points_there_is_that_one():
    found = best_triple(np.eye(4), np.array([0.0, 0.8, 0.0, 0.0]), np.ones(4, dtype=bool))
    assert found.rows[0] == 1
    assert found.cosine == pytest.approx(0.8)
    assert sum(found.weights[1:]) == 0.0
    assert best_triple(np.eye(4), np.zeros(4), np.ones(4, dtype=bool)) is None
