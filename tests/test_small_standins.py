"""Amounts and pairs in the small: tables of our own, invented figures, every amount worked out beside it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from substitute.records import (
    Constituent,
    Descriptor,
    Figure,
    Material,
    Price,
    Shelf,
    Stock,
    Swap,
    Tables,
    Tried,
)
from substitute.standins.amounts import (
    Amount,
    by_potency,
    by_share,
    by_tables,
    by_use,
    constituent_of,
    odour_part,
    odour_parts,
    rules_by_share,
    supply,
)
from substitute.standins.evidence import Ground
from substitute.standins.kinship import MIRRORED, OTHER_PART, Kinship
from substitute.standins.pair import make_pair, tried_amount
from substitute.standins.price import STEP, saving, saving_reason
from substitute.standins.words import found_reason, tie


def part(name: str, typical: float, low: float | None = None, high: float | None = None) -> Constituent:
    return Constituent(
        name, typical / 2 if low is None else low, typical, typical * 1.5 if high is None else high, "", ""
    )


def tables(potency=(), use=(), constituents=None, basis=(), tried=(), nose=None) -> Tables:
    """Tables with nothing but what amounts ask for."""
    basis = dict(basis)
    properties: dict[str, dict[str, Figure]] = {}
    for name, value in dict(potency).items():
        properties.setdefault(name, {})["potency"] = Figure(value, "", basis.get(name, "published"), "")
    for name, (low, high) in dict(use).items():
        properties.setdefault(name, {}).update(
            use_low_pct=Figure(low, "", "practice", ""), use_high_pct=Figure(high, "", "practice", "")
        )
    empty = {
        "materials": {},
        "descriptors": {},
        "profiles": {},
        "releases": {},
        "limit_sets": {},
        "groups": {},
        "sources": {},
    }
    return Tables(
        properties=properties,
        constituents=constituents or {},
        products=(),
        limits=(),
        controls=(),
        swaps=(),
        tried={(one.missing, one.stand_in): one for one in tried},
        nose=nose or {},
        **empty,
    )


def is_amount(amount: Amount | None, grams: float, low: float, high: float, ground: str) -> bool:
    return amount is not None and (amount.grams, amount.low, amount.high, amount.ground) == (
        pytest.approx(grams),
        pytest.approx(low),
        pytest.approx(high),
        ground,
    )


# -- strengths and use levels -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bases", "spread"),
    [
        (("published", "published"), 1.25),
        (("published", "practice"), 1.5),
        (("memory", "published"), 1.5),
        (("estimate", "memory"), 2.0),
    ],
)
def test_strength_is_the_ratio_and_its_spread_the_wider_of_two(bases, spread):
    known = tables({"old": 6.0, "new": 2.0}, basis=zip(("old", "new"), bases))
    assert is_amount(by_potency(known, "old", "new"), 3.0, 3.0 / spread, 3.0 * spread, "potency")
    assert is_amount(by_potency(known, "new", "old"), 1 / 3, 1 / 3 / spread, spread / 3, "potency")
    weak = tables({"old": 0.6, "new": 0.2}, basis=zip(("old", "new"), bases))
    assert is_amount(by_potency(weak, "old", "new"), 3.0, 3.0 / spread, 3.0 * spread, "potency")


@pytest.mark.parametrize(
    "potency",
    [
        {"old": 6.0},
        {"new": 6.0},
        {"old": 0.0, "new": 1.0},
        {"old": 1.0, "new": 0.0},
        {"old": -1.0, "new": -1.0},
    ],
)
def test_no_strength_no_ratio(potency):
    assert by_potency(tables(potency), "old", "new") is None


def test_use_levels_by_their_middles_on_a_ratio_scale():
    known = tables(use={"old": (0.1, 0.4), "new": (1.0, 9.0)})  # middles 0.2 and 3
    assert is_amount(by_use(known, "old", "new"), 15.0, 15.0 / 4, 60.0, "use")
    heard = tables(use={"old": (0.1, 0.4), "new": (1.0, 9.0)}, nose={"old": 3.0, "new": 2.0})
    assert is_amount(by_use(heard, "old", "new"), 22.5, 22.5 / 4, 90.0, "use")
    for lacking in ({"old": (0.1, 0.4)}, {"new": (1.0, 9.0)}, {"old": (0.0, 0.4), "new": (1.0, 9.0)}):
        assert by_use(tables(use=lacking), "old", "new") is None


def test_half_a_range_is_no_use_level():
    known = tables(use={"old": (0.1, 0.4), "new": (1.0, 9.0)})
    half = {name: figure for name, figure in known.properties["old"].items() if name == "use_high_pct"}
    lacking = replace(known, properties={**known.properties, "old": half})
    assert by_use(lacking, "old", "new") is None


def test_shares_before_strengths_before_use_levels():
    use = {"old": (0.1, 0.4), "oil": (1.0, 9.0)}
    oil = {"oil": (part("old", 80.0),)}
    assert by_tables(tables({"old": 10.0, "oil": 9.0}, use, oil), "old", "oil").ground == "share"
    assert by_tables(tables({"old": 10.0, "oil": 9.0}, use), "old", "oil").ground == "potency"
    assert by_tables(tables({"old": 10.0}, use), "old", "oil").ground == "use"
    assert by_tables(tables({"old": 10.0}), "old", "oil") is None


# -- shares -----------------------------------------------------------------------------------------------------


def test_a_natural_brings_its_constituent_by_the_share():
    assert is_amount(supply(part("x", 50.0, 40.0, 80.0)), 2.0, 1.25, 2.5, "share")
    assert is_amount(supply(part("x", 50.0, 0.0, 0.0)), 2.0, 2.0, 8.0, "share"), "an unknown low is a quarter"
    assert is_amount(supply(part("x", 50.0, 12.5, 60.0)), 2.0, 100 / 60, 8.0, "share")
    assert is_amount(supply(part("x", 50.0, 10.0, 60.0)), 2.0, 100 / 60, 8.0, "share")


def test_the_share_turned_round():
    oil = tables({"eugenol": 4.0, "oil": 4.0}, constituents={"oil": (part("eugenol", 80.0, 8.0, 70.0),)})
    assert is_amount(by_share(oil, "eugenol", "oil"), 1.25, 1.25, 100 / 20, "share")
    assert is_amount(by_share(oil, "oil", "eugenol"), 0.8, 0.2, 0.8, "share")
    assert by_share(oil, "oil", "vanillin") is None


def test_parts_of_the_odour_by_hand():
    """Shares times potencies: 0.6 x 5 and 0.4 x 2 are 3 and 0.8 of 3.8."""
    oil = tables({"a": 5.0, "b": 2.0, "oil": 4.0}, constituents={"oil": (part("a", 60.0), part("b", 40.0))})
    assert odour_parts(oil, "oil") == {"a": pytest.approx(3 / 3.8), "b": pytest.approx(0.8 / 3.8)}
    assert odour_part(oil, "oil", "c") == 0.0
    assert odour_parts(tables(), "oil") == {}
    assert constituent_of(oil, "oil", "b").typical == 40.0
    none_of_it = tables(constituents={"oil": (part("a", 0.0), part("b", 1.0))})
    assert constituent_of(none_of_it, "oil", "a") is None
    trace = tables(constituents={"oil": (part("a", 0.1),)})
    assert constituent_of(trace, "oil", "a").typical == 0.1
    assert constituent_of(none_of_it, "other", "a") is None


@pytest.mark.parametrize(
    ("a", "b", "whole", "rules"),
    [
        (7.0, 3.0, 5.0, True),  # exactly 70 % of what is listed
        (6.9, 3.1, 5.0, False),
        (7.0, 3.0, 10.0, True),  # the list explains exactly half of the oil
        (7.0, 3.0, 10.1, False),
    ],
)
def test_a_share_rules_from_70_percent_of_a_list_that_explains_half(a, b, whole, rules):
    """Two constituents at 50 %, so that the listed mass is (a + b) / 2."""
    oil = tables({"a": a, "b": b, "oil": whole}, constituents={"oil": (part("a", 50.0), part("b", 50.0))})
    assert rules_by_share(oil, "oil", "a") is rules
    assert (by_share(oil, "a", "oil") is not None) is rules
    assert (by_share(oil, "oil", "a") is not None) is rules
    assert not rules_by_share(oil, "oil", "b")


# -- orders of magnitude ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grams", "far"), [(30.0, False), (30.1, True), (1 / 30.0, False), (1 / 30.1, True), (1.0, False)]
)
def test_beyond_thirty_times_it_is_a_start_for_trials(grams, far):
    assert Amount(grams, grams, grams, "potency").is_order_of_magnitude is far
    assert not Amount(grams, grams, grams, "share").is_order_of_magnitude
    assert Amount(grams, grams, grams, "use").trial_series() == pytest.approx(
        [0.1 * grams, 0.3 * grams, grams, 3 * grams, 10 * grams]
    )


# -- pairs ------------------------------------------------------------------------------------------------------


def row(missing: str, stand_in: str, grams: float | None, basis: str = "practice") -> Swap:
    return Swap(missing, stand_in, "unavailable", grams, "", basis, basis)


PLAIN = tables({"old": 6.0, "new": 2.0})  # 3 g for one, 2.4 to 3.75


def test_without_evidence_the_pair_has_the_tables_amount():
    pair = make_pair(PLAIN, "old", "new", None)
    assert pair.amount == pair.on_file == by_tables(PLAIN, "old", "new")
    assert (pair.documented, pair.evidence, pair.apart, pair.trial_series()) == (False, "profile", False, ())
    near = make_pair(PLAIN, "old", "new", Ground(0.5, "sibling", (row("old", "new", 9.0),)))
    assert near.amount == near.on_file, "what is documented of a relative gives no amount"
    assert make_pair(tables(), "old", "new", None).trial_series() == ()


def test_documented_amounts_span_both():
    ground = Ground(
        0.8, "documented", (row("old", "new", None), row("old", "new", 4.0), row("old", "new", 9.0))
    )
    pair = make_pair(PLAIN, "old", "new", ground)
    assert is_amount(pair.amount, 4.0, 4 / 1.5, 6.0, "evidence")
    assert (pair.documented, pair.evidence, pair.apart) == (True, "documented", False)
    wide = make_pair(PLAIN, "old", "new", Ground(0.8, "documented", (row("old", "new", 4.0, "estimate"),)))
    assert is_amount(wide.amount, 4.0, 2.0, 8.0, "evidence")
    less = make_pair(PLAIN, "old", "new", Ground(0.8, "documented", (row("old", "new", 1.5),)))
    assert is_amount(less.amount, 1.5, 1.0, 3.0, "evidence"), (
        "the tables' three grams are within what is told"
    )
    lone = make_pair(tables(), "old", "new", Ground(0.8, "documented", (row("old", "new", 2.0),)))
    assert is_amount(lone.amount, 2.0, 2 / 1.5, 3.0, "evidence")
    untold = make_pair(PLAIN, "old", "new", Ground(0.8, "documented", (row("old", "new", None),)))
    assert untold.amount == untold.on_file


def test_a_reverse_row_is_turned_round():
    def reverse(grams):
        return make_pair(PLAIN, "old", "new", Ground(0.5, "reverse", (row("new", "old", grams),)))

    assert is_amount(reverse(0.5).amount, 2.0, 2 / 1.5, 3.0, "evidence")
    assert not reverse(1 / 9.0).apart
    far = reverse(0.1)
    assert is_amount(far.amount, 10.0, 3.0, 15.0, "evidence")
    assert far.apart
    assert not far.documented
    alone = make_pair(tables(), "old", "new", Ground(0.5, "reverse", (row("new", "old", 0.1),)))
    assert is_amount(alone.amount, 10.0, 10 / 1.5, 15.0, "evidence")


def test_a_documented_swap_without_an_amount_takes_it_from_the_way_back():
    rows, back = (row("old", "new", None),), (row("new", "old", None), row("new", "old", 0.25))
    pair = make_pair(PLAIN, "old", "new", Ground(0.8, "documented", rows, back=back))
    assert is_amount(pair.amount, 4.0, 4 / 1.5, 6.0, "evidence")
    own = make_pair(PLAIN, "old", "new", Ground(0.8, "documented", (row("old", "new", 5.0),), back=back))
    assert own.amount.grams == 5.0
    kin = make_pair(PLAIN, "old", "new", Ground(0.5, "sibling", rows, back=back))
    assert kin.amount == kin.on_file


def test_kinship_is_of_structures_and_of_plants():
    def molecule(name, smiles):
        return Material(name, name, "molecule", smiles=smiles)

    def natural(name, botanical, part):
        return Material(name, name, "natural", botanical=botanical, part=part)

    found = {
        m.id: m
        for m in (
            molecule("left", "CC(=C)[C@H]1CC=C(C)C(=O)C1"),
            molecule("right", "CC(=C)[C@@H]1CC=C(C)C(=O)C1"),
            molecule("both", "CC(=C)C1CC=C(C)C(=O)C1"),
            molecule("near", "CC(=C)C1CC=C(C)C(O)C1"),
            molecule("far", "CCCCCCCCCC"),
            natural("peel", "Citrus alba", "peel"),
            natural("other-peel", "Citrus nigra", "dried peel"),
            natural("flower", "Citrus alba", "flower"),
            natural("wood", "Santalum album", "wood"),
            natural("heartwood", "Santalum nigrum", "heartwood"),
            natural("unknown", "", ""),
        )
    }
    ids = tuple(found)
    kinship = Kinship(found, ids)

    def kin(a, b):
        return kinship.row(ids.index(a))[ids.index(b)]

    assert kin("left", "left") == 1.0
    assert kin("left", "right") == kin("right", "left") == MIRRORED
    assert kin("left", "both") == 1.0, "a mixture of both hands is no mirror image"
    assert 0.3 < kin("left", "near") == kin("near", "left") < 1.0
    assert kin("left", "far") < 0.1
    assert kin("peel", "other-peel") == kin("wood", "heartwood") == 1.0
    assert kin("peel", "flower") == OTHER_PART
    assert (
        kin("peel", "wood") == kin("unknown", "unknown") == kin("left", "peel") == kin("peel", "left") == 0.0
    )


def test_this_person_s_nose_turns_the_documented_amount():
    own = tables({"old": 6.0, "new": 2.0}, nose={"old": 3.0, "new": 2.0})
    pair = make_pair(own, "old", "new", Ground(0.8, "documented", (row("old", "new", 4.0),)))
    assert pair.amount.grams == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("grams", "apart"), [(8.9, False), (9.0, False), (9.1, True), (1.0, False), (0.99, True)]
)
def test_more_than_three_times_apart_is_told_with_a_series(grams, apart):
    pair = make_pair(PLAIN, "old", "new", Ground(0.8, "documented", (row("old", "new", grams),)))
    assert pair.apart is apart
    series = pair.trial_series()
    assert bool(series) is apart
    if apart:
        low, high = sorted((3.0, grams))
        assert series == pytest.approx(
            [low, low**0.75 * high**0.25, math.sqrt(low * high), low**0.25 * high**0.75, high]
        )


def test_a_far_ratio_alone_has_the_usual_series():
    pair = make_pair(tables({"old": 100.0, "new": 2.0}), "old", "new", None)
    assert pair.trial_series() == pytest.approx([5.0, 15.0, 50.0, 150.0, 500.0])


def test_a_constituent_ties_a_pair_from_a_fifth_of_the_odour():
    def made(a: float, missing: str, stand_in: str):
        oil = tables(
            {"a": a, "b": 10.0 - a, "oil": 5.0}, constituents={"oil": (part("a", 50.0), part("b", 50.0))}
        )
        return make_pair(oil, missing, stand_in, None)

    held, holder = made(2.0, "oil", "a"), made(2.0, "a", "oil")
    assert (held.held.id, held.holds, held.held_part, held.holds_part) == ("a", None, pytest.approx(0.2), 0.0)
    assert (holder.holds.id, holder.held, holder.holds_part) == ("a", None, pytest.approx(0.2))
    assert held.evidence == holder.evidence == "constituent"
    assert made(1.99, "oil", "a").evidence == made(1.99, "a", "oil").evidence == "profile"


def tried(missing: str, stand_in: str, *figures: float | None) -> Tried:
    return Tried(missing, stand_in, "near", *figures, "")


def test_what_the_person_tried_comes_before_all():
    known = {"old": 6.0, "new": 2.0}
    ground = Ground(0.8, "documented", (row("old", "new", 4.0),))
    own = tables(known, tried=[tried("old", "new", 20.0, 15.0, 30.0), tried("new", "old", 1.0, 0.5, 2.0)])
    pair = make_pair(own, "old", "new", ground)
    assert is_amount(pair.amount, 20.0, 15.0, 30.0, "tried")
    assert not pair.apart, "their own nose decides, no series"
    other = tables(known, tried=[tried("new", "old", 0.5, 0.25, 0.8)])
    assert is_amount(make_pair(other, "old", "new", ground).amount, 2.0, 1.25, 4.0, "tried")
    for lacking in ((None, 1.0, 2.0), (1.0, None, 2.0), (1.0, 1.0, None)):
        for names in (("old", "new"), ("new", "old")):
            assert tried_amount(tables(known, tried=[tried(*names, *lacking)]), "old", "new") is None
    assert tried_amount(PLAIN, "old", "new") is None


# -- what a stand-in saves, and what holds a pair together ------------------------------------------------------


def test_a_saving_by_own_prices_by_words_and_by_none():
    known = tables()
    known = replace(
        known,
        materials={name: Material(name, name, "molecule") for name in "abc"},
        prices={"a": Price("dear", "practice", "s"), "b": Price("cheap", "practice", "s")},
    )
    own = Shelf((Stock("a", price=4.0), Stock("b", strength=50.0, price=0.5)), "mine")
    found = saving(known, own, "a", "b", 2.0)
    assert (found.before, found.after, found.words) == (4.0, 2.0, None)  # 1 a gram of it, two grams
    assert found.to_dict() == {"money": 2.0, "before": 4.0, "after": 2.0}
    assert (
        saving_reason(known, found, "a", 2.0) == "saves 2 for one gram of a by your own prices (4 against 2)"
    )
    assert not saving(known, own, "a", "b", 5.0).cheaper(documented=True)
    rough = saving(
        known, Shelf((Stock("a", price=4.0),), "mine"), "a", "b", 2.0
    )  # one price alone says nothing
    assert rough.words == ("dear", "cheap")
    assert rough.after == pytest.approx(2.0 / STEP**2)
    assert saving(known, None, "a", "c", 1.0) is None
    assert saving_reason(known, None, "a", 1.0).startswith("what it saves is not known: a price is missing")


def test_two_materials_are_tied_by_a_word_a_family_or_nothing():
    word = lambda id, parent="": Descriptor(id, id, parent, "")  # noqa: E731
    known = replace(
        tables(),
        descriptors={
            one.id: one
            for one in (
                word("wood"),
                word("cedar", "wood"),
                word("pine", "wood"),
                word("fruit"),
                word("plum", "fruit"),
            )
        },
        profiles={
            "a": {"cedar": 9.0},
            "b": {"pine": 8.0, "plum": 2.0},
            "c": {"plum": 9.0},
            "d": {"cedar": 2.0, "plum": 9.0},
        },
    )
    assert tie(known, "a", "d") == (("a", "smells of"), ("cedar", "is smelled in"), ("d", ""))
    assert [node for node, _ in tie(known, "a", "b")] == ["a", "cedar", "wood", "pine", "b"]
    assert tie(known, "a", "c") == ()


def test_what_was_found_the_other_way_round_is_told_as_that():
    about = Tried("b", "a", "near", 2.0, 1.0, 4.0, "near, about 2 g for 1 g right (verdict 1)", (1,))
    known = replace(
        tables(tried=(about,)), materials={name: Material(name, name, "molecule") for name in "ab"}
    )
    assert found_reason(known, "b", "a") == ["you found: near, about 2 g for 1 g right (verdict 1)"]
    assert found_reason(known, "a", "b") == [
        "you found the other way round: near, about 2 g for 1 g right (verdict 1)"
    ]
    assert found_reason(replace(known, tried={("b", "a"): replace(about, grams=None)}), "a", "b") == []
