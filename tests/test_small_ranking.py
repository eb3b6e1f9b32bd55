"""The models behind a ranking in the small: invented figures on toy tables, every answer worked out by hand."""

from __future__ import annotations

import math
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest

from substitute.odour.perception import Hearing
from substitute.odour.space import Space
from substitute.odour.staging import Staged
from substitute.records import (
    PRICES,
    Constituent,
    Descriptor,
    Figure,
    Material,
    Price,
    Shelf,
    Stock,
    Swap,
    Tables,
)
from substitute.standins.ask import Ask
from substitute.standins.blended import blend_amounts, blended, fits_every_stage, is_tied, stage_vectors
from substitute.standins.blends import best_pair, greedy
from substitute.standins.candidates import candidates, smellable
from substitute.standins.carriers import carrier_answer
from substitute.standins.company import company, headroom
from substitute.standins.cone import fit, pair_values, single_values, triple_values
from substitute.standins.evidence import Evidence, Ground, place_weight, siblings, skeleton
from substitute.standins.features import FEATURES, Features, plain_profiles
from substitute.standins.kinship import MIRRORED, OTHER_PART, Kinship, genus, pieces, same_part
from substitute.standins.price import Saving, saving, saving_reason
from substitute.standins.ranking import (
    Weights,
    chance,
    evidence_alone,
    in_words,
    learned_weights,
    score,
    with_effort,
    with_evidence,
    with_own,
)
from substitute.standins.singles import Ranked, is_near, rank
from substitute.standins.triples import best_triple, held_by_the_pair


def near(figures):
    return pytest.approx(np.asarray(figures, dtype=float), rel=1e-9, abs=1e-12)


def sigma(log_odds: float) -> float:
    return 1.0 / (1.0 + math.exp(-log_odds))


def molecule(name: str, smiles: str = "", **more) -> Material:
    return Material(name, name, "molecule", smiles=smiles, **more)


def natural(name: str, botanical: str = "", **more) -> Material:
    return Material(name, name, "natural", botanical=botanical, **more)


def held(name: str, typical: float) -> Constituent:
    return Constituent(name, typical, typical, typical, "", "")


def tables(materials=(), potency=(), tenacity=(), profiles=None, constituents=None, prices=(), words=()):
    properties: dict[str, dict[str, Figure]] = {}
    for key, figures in (("potency", potency), ("tenacity_h", tenacity)):
        for name, value in dict(figures).items():
            properties.setdefault(name, {})[key] = Figure(value, "", "published", "")
    return Tables(
        materials={one.id: one for one in materials},
        properties=properties,
        descriptors={word: Descriptor(word, word, "", "") for word in words},
        profiles=profiles or {},
        constituents=constituents or {},
        releases={},
        limit_sets={},
        products=(),
        groups={},
        limits=(),
        controls=(),
        swaps=(),
        sources={},
        prices={name: Price(word, "", "") for name, word in dict(prices).items()},
    )


def space(units: dict, shares=None) -> Space:
    rows = np.array(list(units.values()), dtype=float)
    none = np.zeros((0, 0))
    return Space(
        tuple(units), (), rows if shares is None else np.array(shares), rows, none, np.zeros(0), none
    )


def swap(missing: str, stand_in: str, because: str = "unavailable", basis: str = "practice") -> Swap:
    return Swap(missing, stand_in, because, None, "", basis, f"{missing}-{stand_in}")


# -- from log-odds to scores ------------------------------------------------------------------------------------


def test_features_alone_make_sure_in_part():
    """Up to half a unit in full, of what lies beyond a fifth."""
    assert chance(np.array([-2.0, 0.0, 0.5, 1.5])) == near([sigma(-2.0), 0.5, sigma(0.5), sigma(0.7)])


def test_a_score_is_the_weighted_sum_of_learned_and_stated_features():
    weights = Weights(("kin", "similarity"), (3.0, 2.0), -1.0)
    features = np.zeros((4, len(FEATURES)))
    features[0, FEATURES.index("similarity")], features[0, FEATURES.index("kin")] = 0.5, 0.1
    features[1, FEATURES.index("headroom")] = -1.0  # one of log-odds a decade
    features[2, FEATURES.index("company")] = -0.5  # one and a half a unit
    features[3, FEATURES.index("effort")] = -5.0  # counted later
    assert score(features, weights) == near([sigma(0.3), sigma(-2.0), sigma(-1.75), sigma(-1.0)])
    assert score(np.zeros((1, len(FEATURES)))) == near([sigma(learned_weights().offset)])


def test_evidence_adds_three_and_leaves_a_tenth_of_what_features_say():
    value, weight = np.array([0.5, 0.8, 0.8, 0.8]), np.array([0.5, 0.0, 0.5, 1.0])
    four = math.log(4.0)
    assert with_evidence(value, weight) == near(
        [sigma(1.5), 0.8, sigma(0.55 * four + 1.5), sigma(0.1 * four + 3.0)]
    )
    least = math.log(1e-9 / (1.0 - 1e-9))  # nothing at all, and surely, are held this far from the end
    assert evidence_alone(1.0) == pytest.approx(sigma(0.1 * least + 3.0), rel=1e-6)
    assert evidence_alone(1.0, 1.0) == pytest.approx(sigma(-0.1 * least + 3.0), rel=1e-6)
    assert 1.0 - evidence_alone(0.0, 1.0) == pytest.approx(1e-9, rel=1e-3)


def test_effort_costs_six_tenths_a_step():
    features = np.zeros((4, len(FEATURES)))
    features[:, FEATURES.index("effort")] = [-2.0, 0.0, 0.0, 0.0]
    found = with_effort(np.array([0.5, 0.3, 1.0, 0.0]), features)
    assert found[:2] == near([sigma(-1.2), 0.3])
    assert 1.0 - found[2] == pytest.approx(1e-9, rel=1e-3)
    assert found[3] == pytest.approx(1e-9, rel=1e-6)


def test_the_own_nose_lifts_and_lowers():
    said = ("near", "fair", "far", "not_smelled", "")
    before = np.full(5, 0.5)
    assert with_own(before, said) == near([0.98, 0.75, 0.1, 0.15, 0.5])
    assert with_own(np.full(5, 0.99), said) == near([0.99, 0.99, 0.198, 0.297, 0.99])
    assert (before == 0.5).all()


@pytest.mark.parametrize(
    ("value", "word"),
    [
        (0.6, "likely"),
        (0.599, "try it"),
        (0.3, "try it"),
        (0.299, "only if nothing else"),
        (0.0, "only if nothing else"),
    ],
)
def test_words_of_a_score(value, word):
    assert in_words(value) == word
    makeshift = "the nearest you have; a makeshift"
    assert in_words(value, best_of_shelf=True) == (makeshift if value < 0.3 else word)


# -- what is documented -----------------------------------------------------------------------------------------


def test_a_row_weighs_by_its_place_and_its_basis():
    assert [place_weight(place) for place in range(9)] == [
        0.90,
        0.70,
        0.58,
        0.50,
        0.44,
        0.40,
        *(0.36,) * 3,
    ]
    for basis, part in {"published": 1.0, "practice": 1.0, "memory": 0.8, "estimate": 0.6}.items():
        rows = {"a": (swap("a", "b", basis=basis), swap("a", "c", "price", basis))}
        found = Evidence(tables(), space({"a": (1, 0)}), rows).direct("a", "unavailable")
        assert found == {"b": pytest.approx(0.9 * part), "c": pytest.approx(0.9 * part * 0.65)}


KIN = (
    natural("a", "Citrus alba forma x"),
    natural("a2", "citrus Alba"),
    natural("a3", "Citrus alba"),
    natural("a4", "Citrus alba", stocked=False),
    natural("a5", "Citrus alba"),  # has no place in the space
    natural("other", "Citrus nigra"),
    natural("plain"),
    natural("bare"),
    molecule("b", "C[C@H](O)/C=C/C"),
    molecule("b2", "C[CH](O)C=CC"),
    molecule("lone", "CCO"),
    molecule("unknown"),
    molecule("untold"),
    molecule("e", "CCCC"),
    molecule("e2", "CCCC"),
)
NEAR_KIN = space(
    {
        "a": (1.0, 0.0),
        "a2": (0.8, 0.6),  # alike by exactly 0.8
        "a3": (0.0, 1.0),  # and this one by 0.6
        **dict.fromkeys(
            (
                *("a4", "other", "plain", "bare", "b", "b2", "lone", "unknown", "untold"),
                *("e", "e2", "c", "d", "f", "g", "h", "x"),
            ),
            (1.0, 0.0),
        ),
    }
)


def test_kinds_of_one_thing_are_siblings_where_they_smell_alike():
    assert skeleton("F/C=C\\[C@@H](N)[CH](O)[H]") == "FC=CC(N)C(O)"
    found = siblings(tables(KIN), NEAR_KIN)
    assert found == {"a": ("a2",), "a2": ("a",), "b": ("b2",), "b2": ("b",), "e": ("e2",), "e2": ("e",)}


def test_every_way_in_which_a_pair_is_documented_has_its_weight():
    rows = {
        "a": (
            swap("a", "b"),  # first of its reason: 0.9
            swap("a", "c", "price", "memory"),  # first of the other: 0.9 x 0.8 x 0.65
            swap("a", "d", basis="estimate"),  # second: 0.7 x 0.6
            swap("a", "b", "price"),  # weaker than the first row for b
        ),
        "e": (swap("e", "x"), swap("e", "a"), swap("e", "f")),  # 0.9, 0.7 and 0.58
        "h": (swap("h", "a"), swap("h", "x")),
        "a2": (swap("a2", "g"), swap("a2", "d"), swap("a2", "f")),
    }
    found = Evidence(tables(KIN), NEAR_KIN, rows).around("a", "unavailable")
    assert {name: (one.kind, one.via) for name, one in found.items()} == {
        "b": ("documented", ""),
        "c": ("documented", ""),
        "d": ("documented", ""),  # though the sibling's row would give more
        "e": ("reverse", ""),
        "h": ("reverse", ""),
        "x": ("shared parent", "e"),  # by h it would be no stronger
        "f": ("sibling", "a2"),  # stronger than the shared parent's
        "a2": ("same thing", ""),
        "g": ("sibling", "a2"),
        "b2": ("sibling", "b"),
        "e2": ("sibling", "e"),
    }
    assert {name: one.weight for name, one in found.items()} == pytest.approx(
        {
            "b": 0.9,
            "c": 0.468,
            "d": 0.42,
            "e": 0.55 * 0.7,
            "h": 0.55 * 0.9,
            "x": 0.25 * 0.7,
            "f": 0.65 * 0.58,
            "a2": 0.45,
            "g": 0.65 * 0.9,
            "b2": 0.65 * 0.9,
            "e2": 0.65 * 0.55 * 0.7,
        }
    )
    assert [row.because for row in found["b"].rows] == ["unavailable", "price"]
    known = Evidence(tables(KIN), NEAR_KIN, rows)
    assert [row.because for row in known.rows("a", "b", "price")] == ["price", "unavailable"]
    assert found["b2"].rows == found["b"].rows
    assert found["e"].rows == (rows["e"][1],)
    back = Evidence(tables(KIN), NEAR_KIN, {"a": (swap("a", "b"),), "b": (swap("b", "a"),)})
    assert back.around("a", "law")["b"].back == (swap("b", "a"),)
    assert Evidence(tables(KIN), NEAR_KIN, {}).around("a", "law") == {}, "without rows not even kin"


# -- kinship ----------------------------------------------------------------------------------------------------


def test_pieces_are_runs_of_two_to_four_signs():
    assert pieces("CCO") == {"CC", "CO", "CCO"}
    assert pieces("C[C@H]1CCO") == {
        *("CC", "C1", "1C", "CO"),
        *("CC1", "C1C", "1CC", "CCO"),
        *("CC1C", "C1CC", "1CCO"),
    }
    assert pieces("") == pieces("C") == frozenset()


def test_kinship_is_what_both_have_over_what_either_has():
    found = {one.id: one for one in (molecule("a", "CCO"), molecule("b", "CCN"), molecule("c", "CCCO"))}
    kinship = Kinship(found, tuple(found))
    assert kinship.row(0) == near([1.0, 1 / 5, 3 / 5])
    assert kinship.row(2) == near([3 / 5, 1 / 7, 1.0])


def test_parts_of_a_plant_by_words_that_stand_in_words():
    assert same_part("wood", "heartwood")
    assert same_part("heartwood", "wood")
    assert same_part("leaf and twig", "dried leaf")
    assert not same_part("leaf and stem", "flower and bud")
    assert not same_part("dried peel", "dried root")
    assert not same_part("", "root")
    assert genus(natural("x", "Citrus alba")) == "citrus"
    found = {
        one.id: one
        for one in (
            natural("peel", "Citrus alba", part="peel"),
            natural("leaf", "Citrus nigra", part="leaf"),
            natural("root", "Iris alba", part="peel"),
        )
    }
    assert Kinship(found, tuple(found)).row(0) == near([1.0, OTHER_PART, 0.0])
    assert OTHER_PART == MIRRORED == 0.5


# -- features ---------------------------------------------------------------------------------------------------

KNOWN = tables(
    (
        molecule("a", "CCO", basis="practice"),
        molecule("b", "CCN"),  # a person's own row
        natural("oil", "Citrus alba", basis="estimate"),
        molecule("faint", basis="memory"),
        molecule("x"),
    ),
    potency={"a": 100.0, "b": 10.0, "oil": 1.0, "x": 10.0},
    tenacity={"a": 100.0, "b": 10.0, "faint": 0.01},
    profiles={"a": {"wood": 3, "moss": 4}, "b": {"wood": 8, "moss": 6}, "oil": {"moss": 5}},
    # weights 1, 1 and 2: a quarter, a quarter and half of its smell, and x has no place in the space
    constituents={
        "oil": (held("a", 1.0), held("b", 10.0), held("x", 20.0)),
        "ghost": (held("a", 50.0),),  # nor has this
    },
    prices={"a": "ordinary", "b": "very dear"},
    words=("wood", "moss"),
)
PLACES = space({"a": (1.0, 0.0), "b": (0.6, 0.8), "oil": (0.0, 1.0), "faint": (-1.0, 0.0)})
STEP = math.log10(4.0)


def test_profiles_are_laid_out_at_length_1():
    assert plain_profiles(KNOWN, ("a", "oil", "faint")) == near([(0.6, 0.8), (0.0, 1.0), (0.0, 0.0)])


def feature(matrix: np.ndarray, name: str) -> np.ndarray:
    return matrix[:, FEATURES.index(name)]


def test_every_feature_by_hand():
    features = Features(KNOWN, PLACES)
    steps = 2  # from ordinary to very dear
    brought = np.array([0.0, -0.1, -0.2, -0.3])
    found = features.matrix("a", {"b": -0.5, "x": -9.0}, brought)
    by_hand = {
        "similarity": [1.0, 0.6, 0.0, 0.0],
        "sharpness": [1.0, 0.96, 0.8, 0.0],
        "contains": [0.0, 0.0, 0.25**3, 0.0],
        "contained_in": [0.0, 0.0, 0.0, 0.0],
        "potency_ratio": [0.0, -1.0, -2.0, -6.0],  # without strength as if it had a ten-thousandth
        "tenacity_difference": [0.0, -1.0, math.log10(0.48), math.log10(0.05) - 2.0],
        "same_note": [1.0, 0.75, 1.0, 0.0],  # moss alone, wood is under 85 % of it
        "kin": [1.0, 0.36 / 5, 0.0, 0.0],
        "usual": [1.0, 1.0, 0.0, 0.0],
        "headroom": [0.0, -0.5, 0.0, 0.0],
        "company": brought,
        "effort": [0.0, -max(steps + 1 / STEP - 2.0, 0.0), -(2 / STEP - 2.0), -(6 / STEP - 2.0)],
    }
    assert list(by_hand) == list(FEATURES)
    for name, figures in by_hand.items():
        assert feature(found, name) == near(figures), name
    at_hand = features.matrix("a", at_hand=True)
    assert (feature(at_hand, "usual") == 1.0).all()
    assert feature(at_hand, "effort") == near([0.0, 0.0, -(2 / STEP - 2.0), -(6 / STEP - 2.0)])
    assert not feature(at_hand, "headroom").any()
    assert not feature(at_hand, "company").any()
    whole = features.matrix("oil")
    assert feature(whole, "contained_in") == near([0.25**3, 0.25**3, 0.0, 0.0])
    assert not feature(whole, "contains").any()
    assert feature(features.matrix("b"), "effort")[0] == 0.0, "what is cheaper and stronger costs nothing"


@pytest.mark.parametrize(("moss", "both"), [(43.0, True), (42.0, False)])
def test_the_strongest_words_are_those_within_15_percent_of_the_first(moss, both):
    known = tables(
        (molecule("one"), molecule("other")),
        profiles={"one": {"wood": 50.0, "moss": moss}, "other": {"moss": 1.0}},
        words=("wood", "moss"),
    )
    found = Features(known, space({"one": (1.0, 0.0), "other": (0.0, 1.0)})).matrix("one")
    assert feature(found, "same_note")[1] == pytest.approx(moss / (50.0 + moss) if both else 0.0)


# -- the cone ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("length", [1.0, 1e-4, 1e4])
def test_projections_on_cones_of_vectors_at_right_angles_add_up(length):
    """Lengths 2, 3 and 4, products with the target 2, 6 and 12: 1 + 4 + 9 of its squared length, however long
    all are."""
    gram, toward = length**2 * np.diag([4.0, 9.0, 16.0]), length * np.array([2.0, 6.0, 12.0])
    assert single_values(gram, toward) == near([1.0, 4.0, 9.0])
    assert single_values(gram, -toward) == near([0.0, 0.0, 0.0])
    assert pair_values(gram, toward) == near([(1, 5, 10), (5, 4, 13), (10, 13, 9)])
    assert triple_values(gram, toward, np.array([(0, 1, 2), (2, 0, 1)])) == near([14.0, 14.0])
    found = fit(gram, toward, (2, 0))
    assert found.rows == (2, 0)
    assert found.weights == pytest.approx((0.75 / length, 0.5 / length))
    assert found.cosine == pytest.approx(math.sqrt(10.0))


@pytest.mark.parametrize("weights", [(1.0, 1.0, 1.0), (0.5, 2.0, 3.0), (4.0, 0.25, 1.0)])
def test_a_target_inside_the_cone_is_its_own_projection(weights):
    vectors = np.array([(1.0, 0.0, 0.0, 0.0), (1.0, 2.0, 0.0, 0.0), (1.0, 1.0, 3.0, 0.0)])
    target = np.array(weights) @ vectors
    gram, toward = vectors @ vectors.T, vectors @ target
    for order in ((0, 1, 2), (2, 0, 1), (1, 2, 0)):
        assert triple_values(gram, toward, np.array([order])) == near([target @ target])
    pair = weights[0] * vectors[0] + weights[1] * vectors[1]
    assert pair_values(gram, vectors @ pair)[0, 1] == pytest.approx(pair @ pair)


def test_outside_the_cone_a_triple_counts_for_nothing():
    vectors = np.array([(1.0, 0.0, 0.0), (1.0, 2.0, 0.0), (1.0, 1.0, 3.0)])
    for place in range(3):
        weights = np.where(np.arange(3) == place, -0.1, 1.0)
        toward = vectors @ (weights @ vectors)
        assert triple_values(vectors @ vectors.T, toward, np.array([(0, 1, 2)])).tolist() == [0.0]
    flat = np.array([(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (1.0, 1.0, 0.0)])
    assert triple_values(flat @ flat.T, np.ones(3), np.array([(0, 1, 2)])).tolist() == [0.0]


@pytest.mark.parametrize("seed", [9, 17])
def test_no_third_is_passed_over_that_makes_the_best_of_sixty(seed):
    """Against every three of them, by the closed form."""
    rng = np.random.default_rng(seed)
    vectors = rng.random((60, 12)) * (rng.random((60, 12)) < 0.4) + 1e-3
    target = rng.random(12) + 1e-3
    target /= np.linalg.norm(target)
    gram, toward = vectors @ vectors.T, vectors @ target
    triples = np.array(list(combinations(range(60), 3)))
    found = best_triple(gram, toward, np.ones(60, dtype=bool))
    assert found.cosine == pytest.approx(math.sqrt(triple_values(gram, toward, triples).max()), abs=1e-6)


def test_the_same_vector_twice_is_that_vector():
    found = fit(np.ones((2, 2)), np.ones(2), (0, 1))
    assert (found.cosine, sum(found.weights)) == (pytest.approx(1.0), pytest.approx(1.0))


def test_what_two_of_three_hold_at_least():
    """Four sigma over three sigma and one, or all but sigma."""
    single = np.array([0.0, 0.1, 0.2, 0.5, 1.0, 2.0])
    assert held_by_the_pair(single) == near([1.0, 0.9, 0.8, 0.8, 1.0, 1.0])


def test_the_best_pair_has_an_anchor_and_smells_of_it():
    gram, toward = np.eye(3), np.array([0.1, 0.7, 0.7])
    assert best_pair(gram, toward, np.array([True, True, True])).rows == (1, 2)
    assert best_pair(gram, toward, np.array([True, False, False])).rows == (0, 1)
    assert best_pair(gram, np.zeros(3), np.array([True, True, True])) is None
    assert greedy(gram, toward, 1, np.array([True, False, False])).rows == (0,)


# -- blends -----------------------------------------------------------------------------------------------------


def test_a_blend_is_as_strong_as_what_is_missing():
    """Powers of a half: shares 0.2 and 0.8 are masses 0.04 and 0.64; their fourth roots add up to three
    times that of 0.04, so that 3.24 of strength stand together for 81."""
    known = tables(potency={"old": 81.0, "a": 2.0, "b": 4.0})
    hearing = Hearing(exponent=0.25, p=1.0, share=2.0)
    found = blend_amounts(known, hearing, "old", ("a", "b", "c"), (1.0, 4.0, 0.0))
    assert [one.grams for one in found] == pytest.approx([0.5, 4.0, 0.0])
    assert [(one.low, one.high) for one in found[:2]] == [
        (pytest.approx(0.5 / 1.5), pytest.approx(0.75)),
        (pytest.approx(4.0 / 1.5), pytest.approx(6.0)),
    ]
    assert blend_amounts(known, hearing, "old", ("c",), (3.0,))[0].grams == pytest.approx(81.0)
    assert blend_amounts(known, hearing, "unknown", ("a",), (1.0,))[0].grams == 0.0
    even = blend_amounts(known, Hearing(exponent=0.5, p=2.0, share=2.0), "old", ("a", "b"), (1.0, 3.0))
    assert [one.grams for one in even] == pytest.approx([81 / 4 / 2, 81 * 3 / 4 / 4])


def test_odours_over_the_stages_fade_by_the_power_of_what_is_left():
    staged = Staged(
        ("a", "b"),
        (0.0, 1.0),
        np.array([(4.0, 1.0), (0.0, 3.0)]),
        np.array([[(0.5, 0.5), (0.25, 0.75)], [(1.0, 0.0), (1.0, 0.0)]]),
    )
    bench = SimpleNamespace(staged=staged, hearing=Hearing(exponent=0.25, p=1.0, share=2.0))
    assert stage_vectors(bench, ("b", "a")) == near([(0.0, 0.0, 0.0, 0.0), (0.5, 0.5, 0.125, 0.375)])


@pytest.mark.parametrize(("size", "fits"), [(0.11, False), (0.09, True)])
def test_a_stage_counts_from_a_tenth_of_the_loudest(size, fits):
    target, blend = np.array([1.0, 0.0, size, 0.0]), 5.0 * np.array([1.0, 0.0, 0.0, size])
    for loud in (0.3, 1.0, 3.0):
        assert fits_every_stage(loud * target, blend, 2) is fits


@pytest.mark.parametrize(("cosine", "fits"), [(0.81, True), (0.79, False)])
def test_a_stage_must_fit_four_fifths_as_well_as_the_whole(cosine, fits):
    later = 1.5 * np.array([cosine, math.sqrt(1.0 - cosine**2)])
    assert fits_every_stage(np.array([10.0, 0.0, 1.5, 0.0]), np.array([10.0, 0.0, *later]), 2) is fits
    half = np.array([0.5, math.sqrt(0.75)])  # where the whole fits by half, a stage by half is as good
    assert fits_every_stage(np.array([1.0, 0.0, 1.0, 0.0]), 7.0 * np.array([*half, *half]), 2)


@pytest.mark.parametrize(("part", "tied"), [(0.05, True), (0.049, False)])
def test_a_constituent_of_a_twentieth_ties(part, tied):
    one = Ranked(0.5, "b", 0, None)
    for parts in ({"old": {"b": part}}, {"b": {"old": part}}):
        assert is_tied(SimpleNamespace(features=SimpleNamespace(parts=parts)), Ask("old", None), one) is tied
    bench = SimpleNamespace(features=SimpleNamespace(parts={}))
    for rows in ((), (swap("old", "b"),)):
        ground = Ground(0.5, "sibling", rows)
        assert is_tied(bench, Ask("old", None), Ranked(0.5, "b", 0, ground)) is bool(rows)


def blend_bench(target, p, q, held_by_law=()):
    words = ("wood", "moss")
    names = ("old", "p", "q", "r")
    return SimpleNamespace(
        tables=tables(
            [molecule(name) for name in names],
            potency=dict.fromkeys(names, 1.0),
            profiles={"old": {"wood": 1, "moss": 1}, "p": {"wood": 1}, "q": {"moss": 1}, "r": {"moss": 1}},
            words=words,
        ),
        hearing=Hearing(exponent=0.5, p=2.0, share=2.0),
        staged=Staged(names, (0.0,), np.ones((4, 1)), np.array([[target], [p], [q], [(0.6, 0.0)]])),
        features=SimpleNamespace(parts={"old": {"p": 0.5, "q": 0.5}}),
        law=lambda situation: SimpleNamespace(holds=lambda name: name in held_by_law),
    )


POOL = (Ranked(0.3, "p", 1, None), Ranked(0.5, "q", 2, None))


def blend_of(target, p=(1.0, 0.0), q=(0.0, 1.0), pool=POOL, held_by_law=()):
    return blended(blend_bench(target, p, q, held_by_law), Ask("old", None), pool, 2)


def test_an_offered_blend_by_hand():
    """Cosine 1 against 0.8 of its best member; weights 0.6 and 0.8 of 1.4."""
    found = blend_of((0.6, 0.8))
    assert [member.id for member in found.members] == ["q", "p"]
    assert [member.amount.grams for member in found.members] == pytest.approx([4 / 7, 3 / 7])
    assert found.similarity == pytest.approx(1.0)
    assert found.score == pytest.approx(1.0 - 0.5 * 0.8**3)
    assert (found.rank, found.evidence, found.sources) == (0, "constituent", ())
    assert found.reasons[0].endswith("(1.00 against 0.80)")
    assert found.reasons[2] == "q carries it, p fills what it lacks"
    ground = Ground(0.9, "documented", (swap("old", "p"),))
    told = blend_of((0.6, 0.8), pool=(POOL[0]._replace(ground=ground), POOL[1]))
    assert (told.evidence, told.sources) == ("documented", ("old-p",))
    assert blend_of((0.6, 0.8), pool=POOL[:1]) is None
    assert blend_of((0.6, 0.8), held_by_law=("p",)) is None


@pytest.mark.parametrize(("alone", "offered"), [(0.96, True), (0.98, False)])
def test_a_blend_is_offered_where_it_is_clearly_better(alone, offered):
    target = (alone, math.sqrt(1.0 - alone**2))
    for length in (1.0, 3.0):
        assert (blend_of(target, p=(length, 0.0)) is not None) is offered


@pytest.mark.parametrize(("length", "offered"), [(14.0, True), (15.0, False)])
def test_a_member_under_a_twentieth_is_not_worth_a_weighing(length, offered):
    """Weights 0.8 and 0.6 over the length: 5.1 % and 4.8 % of both."""
    assert (blend_of((0.8, 0.6), q=(0.0, length)) is not None) is offered


def test_the_ties_of_a_blend_come_first_and_one_is_enough():
    bench = blend_bench((0.6, 0.8), (1.0, 0.0), (0.0, 1.0))
    bench.features.parts = {"old": {"p": 0.5}}
    assert {one.id for one in blended(bench, Ask("old", None), POOL, 2).members} == {"p", "q"}
    bench.features.parts = {}
    assert blended(bench, Ask("old", None), POOL, 2) is None


# -- who is asked at all ----------------------------------------------------------------------------------------


def test_who_can_stand_in_for_anything():
    known = tables(
        (
            molecule("good"),
            molecule("gone", stocked=False),
            Material("thin", "thin", "solvent"),
            molecule("silent"),
            molecule("weak"),
            molecule("unknown"),
        ),
        potency={"good": 0.01, "gone": 1.0, "thin": 1.0, "silent": 1.0, "weak": 0.0},
        profiles={name: {"wood": 1.0} for name in ("good", "gone", "thin", "weak", "unknown")},
    )
    assert smellable(known) == ["good"]


def law(forbidden=(), status=(), shelf=None, relieves=None, same=()):
    """A situation and a bench's questions of it, as far as filters ask."""
    return SimpleNamespace(
        shelf=shelf,
        status=lambda name: ("protected: by law",) if name in status else (),
        forbids=lambda name: "prohibited" if name in forbidden else "",
        same_again=lambda missing, name: name in same,
        relieved=relieves or {},
    )


def filtered(known: Tables, situation, because: str, names, around=None, shares=None, without=()):
    shares = shares or {}
    bench = SimpleNamespace(
        tables=known,
        smellable=names,
        law=lambda one: one,
        known=SimpleNamespace(around=lambda missing, why: around or {}),
        relieves=lambda one, missing, name, grams: one.relieved.get(name, lambda _: None)(grams),
        exposure=SimpleNamespace(
            shares=lambda name: {
                substance: SimpleNamespace(typical=share) for substance, share in shares.get(name, {}).items()
            },
            matrix=lambda substances, rest: (
                None,
                [[shares.get(name, {}).get(one, 0.0) for name in rest] for one in substances],
            ),
        ),
    )
    return candidates(bench, Ask("old", situation, because, without=without))


def test_the_missing_one_the_unwanted_and_the_forbidden_are_out():
    names = ("old", "a", "b", "c")
    found = filtered(tables(), law(forbidden=("b",)), "unavailable", names, without=("c",))
    assert (found.found, found.left_out) == (("a",), {"b": "prohibited"})
    shelf = Shelf((Stock("a"), Stock("b")), "mine")
    found = filtered(tables(), law(forbidden=("b",), shelf=shelf), "unavailable", (*names, "d"))
    assert (found.found, found.left_out) == (("a",), {"b": "prohibited"})


@pytest.mark.parametrize(
    ("main", "trace", "out"), [(0.05, 0.002, True), (0.049, 0.002, False), (0.05, 0.0019, False)]
)
def test_because_of_law_what_holds_the_same_substance_is_out(main, trace, out):
    """A substance that makes a twentieth of the missing one counts down to two thousandths of another."""
    known = tables([molecule(name) for name in ("taken", "rare", "free")])
    shares = {
        "old": {"taken": main, "rare": 0.3, "free": 0.5, "a-group": 0.9},
        "a": {"taken": trace, "free": 0.9, "a-group": 0.9},
        "b": {"taken": 0.9},
    }
    situation = law(status=("taken", "rare", "a-group", "b"))
    found = filtered(known, situation, "law", ("a", "b", "c"), shares=shares)
    assert found.left_out == {"b": "protected"} | ({"a": "holds what law takes away"} if out else {})
    assert filtered(known, situation, "unavailable", ("a", "b"), shares=shares).left_out == {}


def test_because_of_a_limit_only_what_is_a_way_out_at_its_amount_is_asked():
    known = tables(potency={"old": 6.0, "a": 2.0, "b": 2.0, "c": 2.0})
    situation = law(
        same=("c",),
        relieves={"a": lambda grams: grams == 3.0, "b": lambda grams: grams != 3.0, "e": lambda g: g == 1.0},
    )
    found = filtered(known, situation, "limit", ("a", "b", "c", "d", "e"))
    assert found.found == ("a", "d", "e")
    assert found.left_out == {"b": "no way out of the limit", "c": "the same thing again"}


def test_because_of_its_price_nothing_dearer_is_asked():
    known = tables(
        potency={"old": 1.0, "like": 0.6, "told": 0.6, "strong": 2.0},
        prices={**dict.fromkeys(("old", "like", "told", "strong"), "ordinary"), "dear": "dear"},
    )
    around = {
        "told": Ground(0.9, "documented", (swap("old", "told", "price"),)),
        "like": Ground(0.9, "documented", (swap("old", "like", "law"),)),
    }
    found = filtered(known, law(), "price", ("like", "told", "strong", "dear", "unknown"), around)
    assert found.found == ("told", "strong", "unknown")
    assert found.left_out == {"like": "no cheaper", "dear": "no cheaper"}


def test_a_word_dearer_is_four_times_the_price():
    first, second, third = PRICES[:3]
    known = tables(prices={"low": first, "mid": second, "mid2": second, "high": third})

    def found(old, new, grams):
        one = saving(known, None, old, new, grams)
        return one.before, one.after, one.words

    assert found("high", "low", 2.0) == (1.0, 2.0 / 16.0, (third, first))
    assert found("high", "mid", 2.0) == (1.0, 0.5, (third, second))
    assert found("mid", "mid2", 0.5) == (1.0, 0.5, (second, second))
    assert found("low", "mid", 0.5) == (1.0, 2.0, (first, second))
    assert found("low", "mid", 0.1) == (1.0, 1.0, (first, second)), "a dearer word is never cheaper"
    assert saving(known, Shelf((), "mine"), "low", "unknown", 1.0) is None
    half = Shelf((Stock("low", price=2.0), Stock("mid", price=3.0)), "mine")
    assert saving(known, half, "low", "mid", 0.5) == Saving(2.0, 1.5, None)


@pytest.mark.parametrize(
    ("one", "alone", "told"),
    [
        (Saving(1.0, 0.99, ("dear", "dear")), True, True),
        (Saving(1.0, 1.0, ("dear", "dear")), False, True),
        (Saving(1.0, 2.0, ("dear", "dear")), False, True),
        (Saving(1.0, 2.01, ("dear", "dear")), False, False),
        (Saving(1.0, 1.0, ("cheap", "dear")), False, False),
        (Saving(1.0, 1.0), False, False),
    ],
)
def test_who_is_cheaper(one, alone, told):
    assert one.cheaper() is alone
    assert one.cheaper(documented=True) is told


def test_what_is_saved_in_words():
    known = tables((molecule("old"),))
    like = Saving(1.0, 0.5, ("dear", "dear"))
    assert saving_reason(known, like, "old", 0.5) == "dear like old, and less of it is needed (0.5 g for 1 g)"
    assert saving_reason(known, Saving(1.0, 1.0, ("dear", "dear")), "old", 1.0).startswith("documented as")
    assert saving_reason(known, Saving(1.0, 0.5, ("dear", "cheap")), "old", 2.0).startswith(
        "cheap where old is dear, at 2 g"
    )
    assert like.to_dict() == {"money": None, "before": "dear", "after": "dear"}


# -- what product and company say -------------------------------------------------------------------------------


def test_headroom_is_minus_the_decades_beyond_the_ceiling():
    ceilings = {"a": 1.0, "b": 0.0, "c": 99.9, "whole": 100.0, "roomy": 99.0, "unknown": 1.0}
    situation = SimpleNamespace(judged=True, dose=10.0, most_pct=ceilings.get, shelf=None)
    known = tables(
        potency={"old": 10.0, "a": 1.0, "b": 1.0, "c": 1.0, "whole": 1.0, "roomy": 10.0, "free": 1.0}
    )
    bench = SimpleNamespace(tables=known)
    names = (*ceilings, "free")
    found = headroom(bench, Ask("old", situation), names)
    assert found == pytest.approx({"a": -2.0, "b": -8.0, "c": -math.log10(100 / 99.9), "roomy": 0.0})
    accord = SimpleNamespace(active=lambda: {"old": 5.0, "p": 1.0}, total=20.0)
    found = headroom(bench, Ask("old", situation, accord=accord), ("a",))
    assert found == pytest.approx({"a": -math.log10(25.0)})
    other = SimpleNamespace(active=lambda: {"p": 1.0}, total=20.0)
    assert headroom(bench, Ask("old", situation, accord=other), ("a",)) == pytest.approx({"a": -2.0})
    for lacking in ({"judged": False}, {"dose": None}):
        situation = SimpleNamespace(**{"judged": True, "dose": 10.0, "most_pct": ceilings.get} | lacking)
        assert headroom(bench, Ask("old", situation), names) == {}


def test_company_is_minus_the_part_that_nothing_else_has():
    bench = SimpleNamespace(
        space=space(dict.fromkeys("abc", (1.0,)), [(0.5, 0.5, 0.0), (0.2, 0.2, 0.6), (0.0, 0.0, 1.0)])
    )

    def brought(*names):
        return company(
            bench, Ask("a", None, accord=SimpleNamespace(active=lambda: dict.fromkeys(names, 1.0)))
        )

    assert brought("a", "unknown") == near([0.0, -0.6, -1.0])
    assert brought("a", "b") == near([0.0, 0.0, -0.4])
    assert company(bench, Ask("a", None)) is None
    assert bench.space.shares[0].tolist() == [0.5, 0.5, 0.0]


# -- carriers ---------------------------------------------------------------------------------------------------


def test_carriers_gram_for_gram_documented_ones_first():
    names = ("old", "x", "z", "y", "w")
    known = tables(
        (
            *(Material(name, name, "solvent") for name in names),
            Material("gone", "gone", "solvent", stocked=False),
            molecule("smelly"),
        )
    )
    around = {
        "y": Ground(0.9, "documented", (swap("old", "y"), swap("old", "y"))),
        "z": Ground(0.45, "same thing"),
    }
    bench = SimpleNamespace(tables=known, known=SimpleNamespace(around=lambda missing, because: around))
    ask = Ask("old", SimpleNamespace(shelf=None))
    found = carrier_answer(bench, ask, 3, ["first"])
    assert [one.members[0].id for one in found.stand_ins] == ["y", "z", "w"]
    assert [one.rank for one in found.stand_ins] == [1, 2, 3]
    assert [one.score for one in found.stand_ins] == pytest.approx(
        [evidence_alone(0.9, 0.4), evidence_alone(0.45, 0.4), 0.4]
    )
    assert [one.evidence for one in found.stand_ins] == ["documented", "profile", "profile"]
    assert [one.sources for one in found.stand_ins] == [("old-y",), (), ()]
    assert [len(one.reasons) for one in found.stand_ins] == [2, 2, 1]
    for one in found.stand_ins:
        amount = one.members[0].amount
        assert (amount.grams, amount.low, amount.high, amount.ground) == (1.0, 1.0, 1.0, "share")
        assert one.similarity == 1.0
    assert found.notes == ("first", "old is a carrier: other carriers are listed")
    assert found.nearest is None
    shelf = Ask("old", SimpleNamespace(shelf=Shelf((Stock("old"), Stock("x"), Stock("smelly")), "mine")))
    assert [one.members[0].id for one in carrier_answer(bench, shelf, 3, []).stand_ins] == ["x"]


# -- the ranking of singles -------------------------------------------------------------------------------------


def rank_bench(around=None, held_by_law=(), tried=()):
    return SimpleNamespace(
        space=space({"old": (1.0, 0.0), "a": (0.4, 0.9), "b": (0.39, 0.9), "c": (0.5, 0.8), "d": (0.5, 0.8)}),
        known=SimpleNamespace(around=lambda missing, because: around or {}),
        law=lambda situation: SimpleNamespace(holds=lambda name: name in held_by_law),
        tables=SimpleNamespace(tried={("old", name): SimpleNamespace(nearness=how) for name, how in tried}),
    )


ASK = Ask("old", SimpleNamespace(shelf=None))


def test_a_ranking_by_hand():
    """Even features, so that what is documented, held by law and found by oneself decide; then likeness, then
    the name."""
    ground = Ground(0.5, "documented", (swap("old", "b"),))
    bench = rank_bench({"b": ground, "no-place": ground}, ("a",), (("d", "fair"),))
    matrix = np.zeros((5, len(FEATURES)))
    even = Weights(("similarity",), (1.0,), 0.0)
    found = rank(bench, ASK, ["a", "b", "c", "d"], matrix, even)
    assert [one.id for one in found] == ["b", "d", "c", "a"]
    assert [one.score for one in found] == pytest.approx([sigma(1.5), 0.75, 0.5, 0.375])
    assert [one.row for one in found] == [2, 4, 3, 1]
    assert found[0].ground is ground
    plain = rank(rank_bench(), ASK, ["d", "c", "a", "b"], matrix, even)
    assert [one.id for one in plain] == ["c", "d", "a", "b"]


def test_who_is_worth_offering():
    matrix = np.zeros((5, len(FEATURES)))
    bench = rank_bench(tried=(("d", "far"),))

    def offered(name, row, ground=None, bench=bench):
        return is_near(bench, ASK, Ranked(0.5, name, row, ground), matrix)

    assert offered("a", 1), "at 0.4 it is similar enough"
    assert not offered("b", 2)
    assert not offered("b", 2, Ground(0.5, "same thing"))
    assert offered("b", 2, Ground(0.5, "sibling", (swap("old", "b"),)))
    for nearness, is_offered in (("near", True), ("fair", True), ("far", False), ("", False)):
        assert offered("b", 2, bench=rank_bench(tried=(("b", nearness),))) is is_offered
    matrix[2, FEATURES.index("contains")] = 0.06
    assert not offered("b", 2)
    matrix[2, FEATURES.index("contained_in")] = 0.041
    assert offered("b", 2)
