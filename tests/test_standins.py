"""Stand-ins: filters, amounts, words, blends as they are offered, and facts of the trade (common
practice, no source).
"""

import itertools
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import substitute
from substitute.errors import InputError
from substitute.figures import in_grams
from substitute.records import Accord, Line, Shelf, Stock, Swap
from substitute.standins.amounts import by_tables, odour_part, supply
from substitute.standins.ask import Ask
from substitute.standins.bases import base_cautions, profile_cautions
from substitute.standins.blended import fits_every_stage
from substitute.standins.card import smell_first
from substitute.standins.company import headroom
from substitute.standins.evidence import Evidence, Ground, siblings
from substitute.standins.features import FEATURES
from substitute.standins.pair import make_pair
from substitute.standins.ranking import NEAREST_ON_SHELF, evidence_alone, learned_weights, score
from substitute.standins.swap import _documented_only
from substitute.standins.words import strength_reason

sys.path.insert(0, str(Path(__file__).parent / "evaluation"))
import naturals


def first(library, missing, n=3, **options):
    return [answer.members[0].id for answer in library.swap(missing, top=n, **options).stand_ins[:n]]


# Common practice, no source.
TRADE = [
    ("oakmoss-absolute", {"methyl-atrarate"}),
    ("piperonal", {"3-4-dimethoxybenzaldehyde", "anisaldehyde", "piperonyl-acetate", "piperonyl-acetone"}),
    ("eugenol", {"clove-bud-oil", "clove-leaf-oil", "clove-stem-oil"}),
    ("clove-bud-oil", {"eugenol"}),
    (
        "methyl-anthranilate",
        {
            "methyl-anthranilate-hydroxycitronellal-schiff-base",
            "ethyl-anthranilate",
            "methyl-n-methylanthranilate",
        },
    ),
    ("methyl-anthranilate-hydroxycitronellal-schiff-base", {"methyl-anthranilate", "hydroxycitronellal"}),
    ("alpha-ionone", {"beta-ionone", "alpha-isomethyl-ionone", "methyl-ionone-mixed"}),
    ("gamma-undecalactone", {"gamma-decalactone", "delta-decalactone", "gamma-dodecalactone"}),
]


@pytest.mark.parametrize(("missing", "usual"), TRADE)
def test_the_usual_answer_is_among_the_first_three(library, missing, usual):
    assert set(first(library, missing)) & usual


def test_mirror_image_carvones_do_not_stand_in_for_each_other(library):
    assert "d-carvone" not in first(library, "l-carvone")
    assert "l-carvone" not in first(library, "d-carvone")


def test_because_limit_the_same_molecule_in_an_oil_is_no_answer(library):
    found = first(library, "eugenol", 20, because="limit")
    assert not {
        "clove-bud-oil",
        "clove-leaf-oil",
        "clove-stem-oil",
        "pimento-berry-oil",
        "bay-oil",
        "cinnamon-leaf-oil",
    } & set(found)


def test_because_limit_no_member_of_the_same_group_answers(library):
    found = first(library, "beta-damascone", 20, because="limit")
    assert not set(library.tables.groups["rose-ketones"]) & set(found)


def test_because_law_nothing_that_law_holds_answers(library):
    status = library.status()
    for answer in library.swap(
        "hydroxyisohexyl-3-cyclohexene-carboxaldehyde", because="law", top=20
    ).stand_ins:
        assert status(answer.members[0].id) == ()


def test_what_is_forbidden_is_never_offered_and_is_counted(library):
    """Not even from the shelf; the answer says how many a rule keeps out, and names the rule."""
    answer = library.swap("cyclamen-aldehyde", top=30)
    assert "butylphenyl-methylpropional" not in [s.members[0].id for s in answer.stand_ins]
    assert sum(answer.left_out.values()) >= 1
    assert any("left out: prohibited" in note for note in answer.notes)
    shelf = Shelf((Stock("butylphenyl-methylpropional"), Stock("linalool")))
    answer = library.swap("cyclamen-aldehyde", shelf=shelf)
    assert "butylphenyl-methylpropional" not in [s.members[0].id for s in answer.stand_ins]
    assert sum(answer.left_out.values()) == 1


@pytest.mark.parametrize("missing", ["eugenol", "safranal", "alpha-damascone", "citral"])
def test_because_limit_every_answer_is_a_way_out_or_says_that_it_is_not_known(library, missing):
    situation = library.situate(because="limit")
    answer = library.swap(missing, because="limit", top=30)
    for one in answer.stand_ins:
        amount = one.members[0].amount
        relief = situation.relieves(missing, 1.0, one.members[0].id, amount.grams if amount else 1.0)
        assert relief is not False
        assert relief is True or any("not known" in text and "way out" in text for text in one.cautions)
    assert sum(answer.left_out.values()) > 0


def test_because_price_nothing_dearer_answers_and_the_saving_is_told(library):
    """No answer has a dearer word; each says what it saves: in words, or in money where the shelf has
    both prices.
    """
    tables = library.tables
    for missing in ("vanillin", "rose-oil", "sandalwood-oil-east-indian", "orris-butter", "linalool"):
        answer = library.swap(missing, because="price", top=20)
        for one in answer.stand_ins:
            assert tables.prices[one.members[0].id].step <= tables.prices[missing].step
            assert one.to_dict(tables)["saves"]["money"] is None
    shelf = Shelf(
        (Stock("rose-oil", price=8.0), Stock("geranium-oil", price=0.5), Stock("rose-absolute", price=9.0))
    )
    answer = library.swap("rose-oil", because="price", shelf=shelf)
    (one,) = answer.stand_ins
    assert one.members[0].id == "geranium-oil"
    assert one.saves["money"] == pytest.approx(8.0 - 0.5 * one.members[0].amount.grams)
    assert "by your own prices" in one.reasons[0]
    assert answer.left_out["no cheaper"] == 1


def test_what_nobody_weighs_never_stands_in(library):
    for missing in ("oakmoss-absolute", "sandalwood-oil-east-indian", "sassafras-oil", "musk-ketone"):
        for name in first(library, missing, 50):
            assert library.tables.materials[name].stocked


def test_a_shelf_with_nothing_near_says_how_near_the_nearest_is(library):
    answer = library.swap("oakmoss-absolute", shelf=Shelf((Stock("gamma-undecalactone"), Stock("l-carvone"))))
    assert answer.stand_ins == ()
    assert answer.nearest[1] < 0.4
    assert "nothing is near" in answer.notes[-1]


def test_a_shelf_that_holds_the_missing_material_itself_is_noticed(library):
    answer = library.swap("linalool", shelf=Shelf((Stock("linalool", 10.0), Stock("linalyl-acetate"))))
    assert "stands on the shelf itself (10 %)" in answer.notes[0]
    assert "linalool" not in [m.id for s in answer.stand_ins for m in s.members]


def test_a_carrier_is_answered_with_carriers(library):
    answer = library.swap("dipropylene-glycol")
    assert {library.tables.materials[s.members[0].id].kind for s in answer.stand_ins} == {"solvent"}


def test_a_material_without_profile_has_a_clear_answer(library):
    with pytest.raises(substitute.InputError, match="has no odour profile on file"):
        library.swap("atranol")


def test_bad_options_are_named(library):
    with pytest.raises(
        substitute.InputError,
        match="because 'limits' is not allowed: one of unavailable, limit, law, price; nearest is 'limit'",
    ):
        library.swap("linalool", because="limits")
    with pytest.raises(substitute.InputError, match="`blend` 0 is out of range"):
        library.swap("linalool", blend=0)
    with pytest.raises(substitute.InputError, match="a dose needs a product or category too"):
        library.swap("linalool", dose=3)
    with pytest.raises(substitute.NotFound, match="the CAS number on the bottle works too"):
        library.swap("zzyx quark")


# -- amounts ---


def test_a_constituent_that_holds_most_of_the_odour_rules_by_its_share(library):
    """Clove bud oil for eugenol: 1 / share; eugenol for the oil: its share."""
    row = next(r for r in library.tables.constituents["clove-bud-oil"] if r.id == "eugenol")
    assert odour_part(library.tables, "clove-bud-oil", "eugenol") >= 0.7
    oil = by_tables(library.tables, "eugenol", "clove-bud-oil")
    assert oil.ground == "share"
    assert oil.grams == pytest.approx(100 / row.typical)
    assert oil.low == pytest.approx(100 / row.high)
    back = by_tables(library.tables, "clove-bud-oil", "eugenol")
    assert back.grams == pytest.approx(row.typical / 100)


def test_else_strength_rules(library):
    found = by_tables(library.tables, "vanillin", "ethyl-vanillin")
    assert found.ground == "potency"
    assert 1 / found.grams == pytest.approx(
        library.tables.value("ethyl-vanillin", "potency") / library.tables.value("vanillin", "potency")
    )
    assert found.low < found.grams < found.high


def test_strength_ratios_of_the_trade(library):
    """Ethyl vanillin is 2 to 4 times vanillin, ethyl maltol 4 to 6 times maltol (common practice, no source)."""
    strength = lambda name: library.tables.value(name, "potency")  # noqa: E731
    assert 2 <= strength("ethyl-vanillin") / strength("vanillin") <= 4
    assert 4 <= strength("ethyl-maltol") / strength("maltol") <= 6


# Grams that take the place of one gram, low and high; common practice, no source.
RATIOS = [
    ("vanillin", "ethyl-vanillin", 0.25, 0.5),
    ("maltol", "ethyl-maltol", 0.15, 0.25),
    ("coumarin", "tonka-bean-absolute", 1.5, 3.0),
    ("eugenol", "clove-bud-oil", 1.1, 1.4),
    ("eugenol", "clove-leaf-oil", 1.1, 1.4),
    ("citral", "lemongrass-oil", 1.2, 1.5),
    ("citral", "litsea-cubeba-oil", 1.2, 1.5),
    ("linalool", "ho-wood-oil", 1.0, 1.15),
    ("linalool", "ho-leaf-oil", 1.0, 1.3),
    ("methyl-salicylate", "wintergreen-oil", 1.0, 1.1),
    ("anethole", "star-anise-oil", 1.05, 1.25),
    ("estragole", "tarragon-oil", 1.1, 1.5),
    ("geraniol", "palmarosa-oil", 1.15, 1.4),
    ("1-8-cineole", "eucalyptus-oil", 1.1, 1.4),
    ("benzaldehyde", "bitter-almond-oil", 0.95, 1.1),
    ("limonene", "sweet-orange-oil", 0.95, 1.15),
    ("cinnamal", "cassia-oil", 1.1, 1.4),
    ("thymol", "thyme-oil", 1.6, 2.7),
    ("carvacrol", "oregano-oil", 1.2, 1.7),
    ("l-carvone", "spearmint-oil", 1.3, 1.8),
    ("d-carvone", "caraway-oil", 1.5, 2.1),
    ("safrole", "sassafras-oil", 1.1, 1.3),
    ("massoia-lactone", "massoia-bark-oil", 1.2, 1.6),
    ("ambroxide", "ambroxide-racemic", 1.3, 2.0),
    ("methyl-dihydrojasmonate", "methyl-dihydrojasmonate-high-cis", 0.3, 0.6),
    (
        "tetramethyl-acetyloctahydronaphthalenes",
        "tetramethyl-acetyloctahydronaphthalenes-gamma-rich",
        0.4,
        0.7,
    ),
    ("citronellol", "l-citronellol", 0.8, 1.25),
    ("alpha-damascone", "beta-damascone", 0.7, 1.4),
    ("indole", "skatole", 0.2, 0.5),
    ("vanillin", "vanilla-absolute", 3.0, 8.0),
    ("rose-oil", "rose-absolute", 1.0, 2.0),
]


@pytest.mark.parametrize(("missing", "stand_in", "low", "high"), RATIOS)
def test_ratios_of_the_trade_each_way_round(library, missing, stand_in, low, high):
    grams = one_amount(library, missing, stand_in)
    back = one_amount(library, stand_in, missing)
    assert low <= grams <= high
    assert 1 / high <= back <= 1 / low
    assert grams * back == pytest.approx(1.0, abs=0.15)


def test_the_two_ways_of_every_documented_pair_agree(library):
    """What takes the place of what takes the place of one gram is about one gram again."""
    apart = [
        (row.missing, row.stand_in)
        for row in library.tables.swaps
        if (grams := one_amount(library, row.missing, row.stand_in))
        and (back := one_amount(library, row.stand_in, row.missing))
        and not 1 / 1.45 <= grams * back <= 1.45
    ]
    assert apart == []


def one_amount(library, missing, stand_in):
    ground = library.bench.known.around(missing, "unavailable").get(stand_in)
    amount = make_pair(library.tables, missing, stand_in, ground).amount
    return amount.grams if amount else None


def test_far_apart_strengths_give_a_trial_series(library):
    found = by_tables(library.tables, "1-p-menthene-8-thiol", "grapefruit-oil")
    assert found.is_order_of_magnitude
    series = found.trial_series()
    assert series[2] == found.grams
    assert all(1 < b / a < 4 for a, b in itertools.pairwise(series))


def test_one_pair_has_one_amount_and_its_sentence_says_the_same(library):
    """The documented amount rules; what the tables say of strength is told beside it where the two lie apart."""
    tables = library.tables
    plain = make_pair(tables, "vanillin", "ethyl-vanillin", None)
    assert plain.amount == plain.on_file
    near = Ground(
        0.8, "documented", (swap_row("vanillin", "ethyl-vanillin", grams=1.5 * plain.amount.grams),)
    )
    pair = make_pair(tables, "vanillin", "ethyl-vanillin", near)
    assert pair.amount.grams == pytest.approx(1.5 * plain.amount.grams)
    assert pair.amount.low <= plain.amount.grams <= pair.amount.high
    assert not pair.apart
    assert f"1 g is about as loud as {in_grams(1 / pair.amount.grams)} g of vanillin" in strength_reason(
        tables, pair
    )
    far = Ground(0.8, "documented", (swap_row("vanillin", "ethyl-vanillin", grams=5 * plain.amount.grams),))
    pair = make_pair(tables, "vanillin", "ethyl-vanillin", far)
    assert pair.apart
    assert "the sources lie apart" in strength_reason(tables, pair)
    assert pair.trial_series()[0] == pytest.approx(plain.amount.grams)
    assert pair.trial_series()[-1] == pytest.approx(pair.amount.grams)
    back = Ground(0.5, "reverse", (swap_row("ethyl-vanillin", "vanillin", grams=1 / plain.amount.grams),))
    assert make_pair(tables, "vanillin", "ethyl-vanillin", back).amount.grams == pytest.approx(
        plain.on_file.grams
    )


def test_documented_amounts_agree_with_the_tables_and_with_their_reverse(library):
    """No amount lies more than three times from what shares and strengths say: a share by mass is no
    share of the odour.
    """
    tables = library.tables
    amounts = {}
    for row in tables.swaps:
        if row.grams_per_gram:
            amounts.setdefault((row.missing, row.stand_in), row.grams_per_gram)
            on_file = by_tables(tables, row.missing, row.stand_in)
            assert on_file is None or 1 / 3.001 <= row.grams_per_gram / on_file.grams <= 3.001, row
    for (missing, stand_in), grams_ in amounts.items():
        back = amounts.get((stand_in, missing))
        assert back is None or 1 / 3 <= grams_ * back <= 3, (missing, stand_in)
    assert len(amounts) > 200


def test_every_sentence_about_strength_agrees_with_the_amount(library):
    """Over all pairs that are documented: 'about as loud as' is said of the very amount that is offered."""
    tables = library.tables
    for row in tables.swaps[::7]:
        ground = library.bench.known.around(row.missing, "unavailable").get(row.stand_in)
        pair = make_pair(tables, row.missing, row.stand_in, ground)
        if pair.amount is None:
            continue
        told = strength_reason(tables, pair)
        assert not pair.apart
        figure = pair.amount.grams if pair.amount.grams > 1 else 1 / pair.amount.grams
        near = 0.8 <= pair.amount.grams <= 1.25
        assert ("gram for gram" in told) if near else (f" {in_grams(figure)} g " in told), (told, pair.amount)
        assert pair.amount.low <= pair.amount.grams <= pair.amount.high


def test_a_stand_in_that_is_in_the_accord_is_raised_and_a_new_facet_is_told(library):
    held = "rose-on-the-dust-jacket"
    accord = library.read_accord(library.demo / "accords" / f"{held}.csv")
    inside = set(accord.active())
    for line in accord.lines:
        for answer in library.swap(line.material, accord=accord, top=20).stand_ins:
            name = answer.members[0].id
            assert answer.raises == (name in inside)
            assert any("raise it" in reason for reason in answer.reasons) == (name in inside)
            adds = [reason for reason in answer.reasons if reason.startswith("adds ")]
            assert not (adds and name in inside)


def test_the_best_of_a_shelf_is_worded_as_that(library):
    shelf = Shelf((Stock("geraniol"), Stock("l-carvone")))
    answer = library.swap("beta-damascone", shelf=shelf).stand_ins[0]
    assert answer.members[0].id == "geraniol"
    assert answer.score < 0.3
    assert answer.in_words == NEAREST_ON_SHELF


def test_a_natural_as_a_source_tells_what_comes_along(library):
    answer = next(
        s for s in library.swap("phenethyl-alcohol", top=40).stand_ins if s.members[0].id == "rose-absolute"
    )
    inside = next(r for r in library.tables.constituents["rose-absolute"] if r.id == "phenethyl-alcohol")
    assert answer.supply.grams.grams == pytest.approx(supply(inside).grams)
    assert answer.supply.along


# -- strengths of naturals ---


def test_naturals_agree_with_their_lists_or_say_why_not(library):
    """A natural over three times as strong as what is listed in it holds something that is not listed; each
    has its reason, and no reason is left over.
    """
    over = naturals.unexplained(library.tables)
    assert set(over) == set(naturals.reasons())
    assert len(over) < 40
    assert all(len(reason.split()) >= 4 for reason in naturals.reasons().values())


def test_naturals_judged_twice_agree(library):
    """Every natural was judged a second time by somebody who saw name and process only; what was made of
    the two is what the table says.
    """
    tables = library.tables
    opinions = naturals.second_opinions()
    stocked = {m.id for m in tables.materials.values() if m.kind == "natural" and m.stocked}
    assert set(opinions) <= stocked and len(opinions) >= 240
    assert naturals.within([second / before for _, before, second, _ in opinions.values()], 2) >= 0.9
    for name, (_, before, _, resolved) in opinions.items():
        assert resolved != "kept" or tables.value(name, "potency") == before, name


def test_a_tincture_is_weaker_than_what_it_is_made_of(library):
    tables = library.tables
    for name in tables.materials:
        whole = name.replace("tincture", "absolute")
        if name.endswith("-tincture") and whole in tables.materials:
            assert tables.value(name, "potency") < 0.2 * tables.value(whole, "potency"), name


# -- ranking ---


def test_more_of_every_feature_never_lowers_the_score():
    base = np.zeros((1, len(FEATURES)))
    for column in range(len(FEATURES)):
        better = base.copy()
        better[0, column] = 0.5
        assert score(better)[0] >= score(base)[0] - 1e-12


def test_evidence_lifts_and_its_absence_takes_nothing_away():
    for value in (0.0, 0.3, 0.9):
        scores = [evidence_alone(weight, value) for weight in (0.0, 0.2, 0.5, 0.9)]
        assert scores[0] == pytest.approx(value, abs=1e-6)
        assert scores == sorted(set(scores))
    assert "evidence" not in learned_weights().features


def test_what_is_documented_near_a_pair_counts_for_less_than_the_pair(library):
    """In order: this reason, another reason, the reverse, a sibling's, a shared parent's; a row's place
    counts.
    """
    rows = {
        "a": (swap_row("a", "b"), swap_row("a", "c"), swap_row("a", "d", "price")),
        "e": (swap_row("e", "a"), swap_row("e", "f")),
    }
    around = Evidence(library.tables, library.space, rows).around("a", "unavailable")
    weights = [around[name].weight for name in "bcdef"]
    assert around["e"].kind == "reverse"
    assert around["f"].kind == "shared parent"
    assert around["f"].via == "e"
    assert weights == sorted(weights, reverse=True)
    kin = siblings(library.tables, library.space)
    one, other = next((name, kin[name][0]) for name in sorted(kin))
    found = Evidence(library.tables, library.space, {one: (swap_row(one, "b"),)}).around(other, "unavailable")
    assert found["b"].kind == "sibling"
    assert 0 < found["b"].weight < around["b"].weight
    assert found[one].kind == "same thing"


def swap_row(missing, stand_in, because="unavailable", grams=None, basis="practice"):
    return Swap(missing, stand_in, because, grams, "", basis, "practice")


def test_scores_fall_and_lie_between_0_and_1(plain):
    answers = plain.swap("rose-oil", top=30).stand_ins
    scores = [answer.score for answer in answers]
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= value <= 1 for value in scores)
    assert all(answer.evidence in ("constituent", "profile") for answer in answers)


def test_the_company_of_the_accord_counts(library):
    accord = library.read_accord(library.demo / "accords" / "rose-on-the-dust-jacket.csv")
    missing = accord.lines[0].material
    alone = library.swap(missing, top=30).stand_ins
    within = library.swap(missing, top=30, accord=accord).stand_ins
    assert [s.members[0].id for s in alone] != [s.members[0].id for s in within] or any(
        a.score != b.score for a, b in zip(alone, within)
    )


# -- blends ---


@pytest.mark.parametrize(
    "missing", ["oud-synthetic-base", "osmanthus-absolute", "tobacco-absolute", "neroli-oil"]
)
def test_an_offered_blend_is_clearly_better_and_stands_on_something(library, missing):
    answer = library.swap(missing, blend=3, top=5)
    mixed = [s for s in answer.stand_ins if len(s.members) > 1]
    if not mixed:
        assert any("no blend" in note for note in answer.notes)
        return
    best = mixed[0]
    assert best.evidence in ("documented", "constituent")
    assert len(best.members) == 3
    assert all(member.amount.grams > 0 for member in best.members)


def test_blend_amounts_are_as_strong_as_what_is_missing(library):
    from substitute.odour.mixing import mix_p_norm
    from substitute.standins.blended import blend_amounts

    bench = library.bench
    ids, weights = ["rose-oil", "geraniol", "phenethyl-alcohol"], [0.5, 0.3, 0.2]
    amounts = blend_amounts(library.tables, bench.hearing, "rose-absolute", ids, weights)
    single = np.array(
        [
            (library.tables.value(name, "potency") * amount.grams) ** bench.hearing.exponent
            for name, amount in zip(ids, amounts)
        ]
    )
    assert mix_p_norm(single) == pytest.approx(
        library.tables.value("rose-absolute", "potency") ** bench.hearing.exponent
    )
    shares = single**bench.hearing.share
    assert shares / shares.sum() == pytest.approx(weights)


def test_because_of_a_limit_the_dose_may_be_answer_enough(library):
    """2.5 % of eugenol by the fine fragrance figure (IFRA 51, category 4), a tenth of the accord: 25 % of it."""
    toy = Accord("toy", (Line("eugenol", 10.0), Line("linalool", 90.0)))
    ask = lambda dose, accord: library.swap(  # noqa: E731
        "eugenol", because="limit", accord=accord, top=1, product="fine-fragrance", dose=dose
    ).notes[0]
    assert ask(5.0, toy) == "as far as eugenol goes, toy stands as it is at this dose (up to 25 %)"
    assert ask(30.0, toy) == "as far as eugenol goes, toy stands as it is at a dose of 25 %"
    assert ask(30.0, None).startswith(
        "at most 2.5 % of eugenol itself in this product by the figures on file"
    )


def test_an_offered_blend_is_among_the_answers_however_few_are_asked_for(library):
    (only,) = library.swap("rose-oil", blend=2, top=1).stand_ins
    assert (len(only.members), only.rank) == (2, 1)


def test_carriers_are_answered_from_the_shelf(library):
    shelf = Shelf((Stock("dipropylene-glycol"), Stock("linalool"), Stock("ethanol")), "mine")
    assert [one.members[0].id for one in library.swap("ethanol", shelf=shelf).stand_ins] == [
        "dipropylene-glycol"
    ]
    assert len(library.swap("ethanol", top=9).stand_ins) > 3


@pytest.mark.parametrize(
    ("material", "company", "told"),
    [
        (
            "decanal",
            ["methyl-anthranilate"],
            "an aldehyde beside an anthranilate: they form a coloured Schiff base",
        ),
        (
            "methyl-anthranilate",
            ["decanal"],
            "an anthranilate beside aldehydes: they form a coloured Schiff base",
        ),
        ("vanillin", ["methyl-anthranilate"], "vanillic: discolours to brown"),
        ("decanal", [], "oxidises: keep it cool, full and fresh"),
    ],
)
def test_what_happens_in_bases_and_beside_others_is_told(library, material, company, told):
    """Common practice, no source."""
    found = base_cautions(library.tables, material, company)
    assert any(one.startswith(told) for one in found)
    assert any("Schiff" in one for one in found) is bool(company and material != "vanillin")


def test_a_material_without_a_profile_is_answered_by_what_is_documented(library):
    """Walked as such here, though it has one: rows as they stand, best first, and nothing else."""
    ask, notes = Ask("oakmoss-absolute", library.situate()), ["first"]
    weights = library.bench.known.direct("oakmoss-absolute", "unavailable")
    best = sorted(weights, key=lambda name: -weights[name])[:2]
    found = _documented_only(library.bench, ask, sorted(weights), 2, notes)
    assert [answer.members[0].id for answer in found.stand_ins] == best
    assert {answer.evidence for answer in found.stand_ins} == {"documented"}
    assert found.notes == ("first", "it has no odour profile on file: only documented swaps are shown")
    with pytest.raises(InputError, match="has no odour profile on file and no documented stand-in"):
        _documented_only(library.bench, ask, ["linalool"], 2, notes)


def test_nothing_lies_near_what_has_no_words_and_is_in_nothing(library):
    """A trace lies near the natural that holds it, whatever it smells of; a carrier near nothing."""
    with pytest.raises(
        InputError, match="dipropylene-glycol: has no odour profile on file, so nothing lies near it"
    ):
        library.neighbours("dipropylene-glycol")
    assert "atranol" not in library.space.row
    near = library.neighbours("atranol", top=1).near[0]
    held = next(row for row in library.tables.constituents[near.id] if row.id == "atranol")
    assert near.shared == (f"holds {held.typical:g} %",)


def test_headroom_of_what_has_no_profile_is_passed_over(library):
    features = library.bench.features
    plain = features.matrix("coumarin")
    assert (features.matrix("coumarin", {"no-such": -1.0}) == plain).all()
    far = features.matrix("coumarin", {"vanillin": -1.0}) - plain
    assert [features.ids[row] for row in np.flatnonzero(far.any(axis=1))] == ["vanillin"]


# -- what is told of an answer -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("material", "company", "said", "not_said"),
    [
        ("vanillin", (), ["vanillic: discolours"], ["oxidises", "discolours with time", "Schiff"]),
        ("eugenol", (), ["discolours with time"], ["vanillic", "oxidises", "alkaline"]),
        ("citral", (), ["does not last in alkaline"], ["oxidises", "Schiff"]),
        ("octanal", (), ["oxidises: keep it cool"], ["does not last", "Schiff"]),
        (
            "octanal",
            ("methyl-anthranilate",),
            ["an aldehyde beside an anthranilate"],
            ["an anthranilate beside"],
        ),
        ("vanillin", ("methyl-anthranilate",), ["vanillic"], ["Schiff"]),
        ("methyl-anthranilate", ("octanal",), ["an anthranilate beside aldehydes"], ["oxidises"]),
        ("methyl-anthranilate", ("linalool",), ["discolours with time"], ["Schiff"]),
        (
            "linalool",
            ("methyl-anthranilate", "octanal"),
            [],
            ["discolours", "Schiff", "oxidises", "alkaline"],
        ),
    ],
)
def test_what_a_material_does_in_a_base_is_told(library, material, company, said, not_said):
    """Common practice of the bench, no source."""
    found = "\n".join(base_cautions(library.tables, material, company))
    assert [one for one in said if one not in found] == []
    assert [one for one in not_said if one in found] == []


def test_a_blend_must_hold_at_every_stage_that_is_noticed():
    target = np.array([1.0, 0.0, 0.6, 0.8])  # two stages of two words, both loud
    assert fits_every_stage(target, 3.0 * target, 2)
    assert not fits_every_stage(target, np.array([1.0, 0.0, 0.0, 0.0]), 2)  # nothing is left of it later
    assert not fits_every_stage(target, np.array([1.0, 0.0, 0.8, -0.6]), 2)  # later it is something else
    faint = np.array([1.0, 0.0, 0.03, 0.04])  # at its second stage the target is hardly noticed
    assert fits_every_stage(faint, np.array([1.0, 0.0, 0.0, 0.0]), 2)


def test_the_nearest_of_what_does_not_stand_in_is_told_with_its_likeness(library):
    found = replace(library.swap("vanillin", top=1), nearest=("coumarin", 0.31)).to_dict()["nearest"]
    assert (found["id"], found["similarity"]) == ("coumarin", 0.31)


def test_a_card_tells_the_most_first(library):
    card = library.show("bergamot-oil").to_dict()
    typical = [row["typical_pct"] for row in card["constituents"]]
    weights = [row["weight"] for row in card["profile"]]
    assert len(set(typical)) > 3 and typical == sorted(typical, reverse=True)
    assert len(set(weights)) > 3 and weights == sorted(weights, reverse=True)


def test_headroom_is_lost_by_what_oversteps_its_limit_and_by_that_alone(library):
    situation = library.situate(product="fine-fragrance", dose=20.0)
    grams = by_tables(library.tables, "vanillin", "coumarin").grams
    most = situation.most_pct("coumarin")
    accord = Accord("an accord", (Line("vanillin", 1.0), Line("linalool", 3.0)))

    def of(accord: Accord | None) -> dict[str, float]:
        return headroom(
            library.bench, Ask("vanillin", situation, accord=accord), ["coumarin", "ethyl-vanillin"]
        )

    assert of(None)["coumarin"] == pytest.approx(-math.log10(20.0 * grams / most))
    assert of(accord)["coumarin"] == pytest.approx(min(0.0, -math.log10(20.0 * 0.25 * grams / most)))
    assert of(None).get("ethyl-vanillin", 0.0) == 0.0  # nothing on file limits it
    low = library.situate(product="fine-fragrance", dose=0.01)
    assert headroom(library.bench, Ask("vanillin", low), ["coumarin"])["coumarin"] == 0.0
    assert headroom(library.bench, Ask("vanillin", library.situate()), ["coumarin"]) == {}


def test_figures_of_a_material_ask_for_care(library):
    tables = library.tables
    for name in ("vanillin", "linalool", "alpha-ionone", "oakmoss-absolute", "geosmin"):
        if name not in tables.materials:
            continue
        potency = tables.properties[name]["potency"]
        told = "\n".join(profile_cautions(tables, name))
        assert ("its strength is an estimate" in told) is (potency.basis == "estimate"), name
        assert ("very strong" in told) is (potency.value >= 10), name
        assert ("many people cannot smell" in told) is bool(tables.value(name, "anosmia")), name
    assert profile_cautions(tables, "ethanol") == []  # no strength is on file
    assert smell_first(None) == ""
