"""The rules on small tables whose right answers are known, on published figures, and under generated accords."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from effort import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from substitute.errors import InputError, NotFound
from substitute.records import Constituent, Control, Limit, LimitSet, Material, Product, Release, Tables
from substitute.rules.changes import Since, pair_up
from substitute.rules.compiled import compiled_for
from substitute.rules.context import check_dose, resolve_context
from substitute.rules.controls import controls
from substitute.rules.declare import declare
from substitute.rules.exposure import Exposure
from substitute.rules.judge import judge
from substitute.rules.kinds import KINDS
from substitute.rules.rule import CHECK, Part, Rule
from substitute.rules.situation import situate

REFERENCE = Path(__file__).parent / "reference"
DAY = dt.date(2026, 11, 25)
TIGHT = 1e-12


def reference(name: str) -> list[dict]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def limit(substance, max_pct, rule="max", category="all", limit_set="world", basis="published", note=""):
    return Limit(limit_set, substance, category, max_pct, rule, note, basis, "s")


def constituent(name, typical, high, own=False):
    return Constituent(name, 0.0, typical, high, "published", "s", own)


WORLD = LimitSet("world", "World Standards", "worldwide", dt.date(2020, 1, 1), "", "s")
WORLD_NEW = LimitSet("world-new", "World Standards, next", "worldwide", dt.date(2026, 6, 1), "world", "s")
LAW = LimitSet("law", "Home law", "EU", dt.date(2013, 1, 1), "", "s")
OTHER = LimitSet("abroad", "Law abroad", "UK", dt.date(2013, 1, 1), "", "s")
MOLECULES = ("aldehyde", "ketone-a", "ketone-b", "spice", "psoralen", "toxin", "banned", "acetal", "solvent")


def toy(limits=(), groups=None, own=False, controls=(), sets=(WORLD, LAW, OTHER)) -> Tables:
    """Molecules, three naturals (one looked through, one listed, one not), two products on skin and a candle."""
    materials = {name: Material(name, name.replace("-", " "), "molecule") for name in MOLECULES}
    materials["oil"] = Material("oil", "oil", "natural", assessed=frozenset({"all"}))
    materials["listed-oil"] = Material("listed-oil", "listed oil", "natural", assessed=frozenset({"spice"}))
    materials["unknown-oil"] = Material("unknown-oil", "unknown oil", "natural")
    constituents = {
        "oil": (
            constituent("ketone-a", 40, 70, own),
            constituent("ketone-b", 30, 60, own),
            constituent("psoralen", 0.1, 0.3, own),
            constituent("toxin", 0.5, 1.0, own),
        ),
        "listed-oil": (constituent("psoralen", 0.2, 0.4),),
    }
    products = [Product("perfume", "perfume, alcoholic", one, "4", True, True) for one in ("world",)]
    products += [
        Product("perfume", "perfume, alcoholic", one, "leave_on", True, True) for one in ("law", "abroad")
    ]
    products += [
        Product("soap", "bar soap", "world", "9", False, True),
        Product("soap", "bar soap", "law", "rinse_off", False, True),
    ]
    products += [
        Product("wipe", "wipe", "world", "9", True, True),
        Product("wipe", "wipe", "law", "leave_on", True, True),
    ]
    products += [Product("candle", "candle", "world", "12", False, False)]
    return Tables(
        materials=materials,
        properties={},
        descriptors={},
        profiles={},
        constituents=constituents,
        releases={"acetal": (Release("aldehyde", 80.0, "estimate", "s"),)},
        limit_sets={one.id: one for one in sets},
        products=tuple(products),
        groups=groups or {},
        limits=tuple(limits),
        controls=tuple(controls),
        swaps=(),
        sources={},
    )


def judged(tables, active, dose=10.0, total=100.0, **where):
    exposure = Exposure(tables)
    context = resolve_context(tables, **({"product": "perfume", "on": DAY} | where))
    return judge(compiled_for(exposure, context), active, total, dose)


def only(verdict, **wanted):
    found = [row for row in verdict.rows if all(getattr(row, key) == value for key, value in wanted.items())]
    assert len(found) == 1, [(row.substance, row.limit_set, row.rule) for row in verdict.rows]
    return found[0]


class TestExposure:
    def test_itself_constituents_and_releases(self):
        exposure = Exposure(toy())
        assert exposure.share("oil", "oil") == exposure.shares("oil")["oil"]
        assert (
            exposure.share("oil", "oil").high,
            exposure.share("oil", "psoralen").high,
            exposure.share("oil", "psoralen").typical,
        ) == (
            1.0,
            0.003,
            0.001,
        )
        assert exposure.share("acetal", "aldehyde").high == 0.8
        assert exposure.share("acetal", "aldehyde").via == "release"
        assert exposure.share("spice", "aldehyde").high == 0.0

    def test_highs_of_a_group_are_capped_at_the_whole(self):
        tables = toy(groups={"ketones": {"ketone-a": 1.0, "ketone-b": 1.0}})
        share = Exposure(tables).share("oil", "ketones")  # highs 70 + 60
        assert (share.high, share.typical) == (1.0, pytest.approx(0.7, abs=TIGHT))

    def test_the_cap_is_on_mass_before_weights(self):
        tables = toy(groups={"ketones": {"ketone-a": 2.0, "ketone-b": 0.5}})
        assert Exposure(tables).share("oil", "ketones").high == pytest.approx(0.7 * 2 + 0.3 * 0.5, abs=TIGHT)

    def test_a_natural_counts_once_in_a_group_that_names_it(self):
        tables = toy(groups={"inner": {"oil": 1.0}, "outer": {"inner": 1.0, "ketone-a": 1.0}})
        assert Exposure(tables).share("oil", "outer").high == 1.0
        assert dict(Exposure(tables).members("outer")) == {"oil": 1.0, "ketone-a": 1.0}

    def test_nested_weights_multiply(self):
        tables = toy(groups={"inner": {"spice": 0.5}, "outer": {"inner": 0.4}})
        assert Exposure(tables).share("spice", "outer").high == pytest.approx(0.2, abs=TIGHT)

    def test_what_weighs_nothing_or_gives_nothing_back_is_not_there(self):
        tables = toy(groups={"inner": {"spice": 0.0, "ketone-a": 1.0}})
        given = {**tables.releases, "ketone-b": (Release("aldehyde", 0.0, "estimate", "s"),)}
        exposure = Exposure(replace(tables, releases=given))
        assert dict(exposure.members("inner")) == {"ketone-a": 1.0}
        assert "inner" not in exposure.shares("spice")
        assert exposure.share("ketone-b", "aldehyde").high == 0.0
        assert exposure.share("oil", "aldehyde").high == 0.0  # which holds ketone-b

    def test_a_lot_s_own_figure_counts_whatever_stands_behind_it(self):
        rows = (
            constituent("spice", 1.0, 2.0),
            constituent("spice", 5.0, 6.0, own=True),
            constituent("spice", 8.0, 9.0),
        )
        tables = replace(toy(), constituents={"oil": rows})
        assert (
            Exposure(tables).share("oil", "spice").high,
            Exposure(tables).share("oil", "spice").typical,
        ) == (0.06, 0.05)

    def test_what_names_itself_among_its_constituents_is_there_once(self):
        tables = replace(
            toy(), constituents={"oil": (constituent("oil", 50.0, 60.0), constituent("spice", 1.0, 2.0))}
        )
        assert Exposure(tables).share("oil", "oil") == Exposure(toy()).share("oil", "oil")
        assert Exposure(tables).share("oil", "spice").high == 0.02

    def test_no_kind_of_rule_brings_what_a_material_does_not_hold(self):
        tables = toy(groups={"photo": {"psoralen": 1.0}})
        exposure = Exposure(tables)
        for name, kind in KINDS.items():
            rule = Rule(
                "world", "psoralen", "all", 1.0, name, "", "published", "s", (Part("psoralen", 1.0, ""),)
            )
            assert list(kind.brings(exposure, rule, "spice")) == [], name
            assert any(one.high > 0 for one in kind.brings(exposure, rule, "oil")), name

    def test_a_group_in_a_circle_is_refused(self):
        tables = toy(groups={"a": {"b": 1.0}, "b": {"a": 1.0}})
        with pytest.raises(InputError, match="the group 'a' contains itself: a > b > a"):
            Exposure(tables).members("a")

    def test_a_lot_replaces_high_and_typical(self):
        tables = toy()
        rows = (constituent("psoralen", 0.1, 0.3), constituent("psoralen", 0.02, 0.02, own=True))
        share = Exposure(replace(tables, constituents={"oil": rows})).share("oil", "psoralen")
        assert (share.high, share.typical) == (0.0002, 0.0002)

    def test_assessed(self):
        exposure = Exposure(
            toy(groups={"both": {"spice": 1.0, "toxin": 1.0}, "oils": {"oil": 1.0, "unknown-oil": 1.0}})
        )
        assert exposure.assessed("spice", "toxin")
        assert exposure.assessed("oil", "toxin")
        assert exposure.assessed("listed-oil", "spice")
        assert exposure.assessed("listed-oil", "psoralen")
        assert not exposure.assessed("listed-oil", "toxin")
        assert not exposure.assessed("listed-oil", "both")
        assert exposure.assessed("unknown-oil", "oil")
        assert exposure.assessed("unknown-oil", "oils")
        assert not exposure.assessed("unknown-oil", "spice")

    def test_a_lot_speaks_only_for_what_it_lists(self):
        exposure = Exposure(toy(own=True))
        assert exposure.assessed("oil", "psoralen")
        assert not exposure.assessed("oil", "spice")

    def test_a_mixture_is_not_a_molecule(self):
        tables = toy()
        base = Material("base", "base", "mixture")
        exposure = Exposure(replace(tables, materials={**tables.materials, "base": base}))
        assert not exposure.assessed("base", "spice")
        assert exposure.assessed("base", "base")

    def test_matrix_agrees_with_single_shares(self, tables):
        exposure = Exposure(tables)
        substances = list(dict.fromkeys(row.substance for row in tables.limits))
        materials = list(tables.materials)
        high, typical = exposure.matrix(substances, materials)
        assert high.shape == typical.shape == (len(substances), len(materials))
        rng = np.random.default_rng(7)
        for row, column in zip(
            rng.integers(len(substances), size=500), rng.integers(len(materials), size=500)
        ):
            share = exposure.share(materials[column], substances[row])
            assert (high[row, column], typical[row, column]) == (share.high, share.typical)
        assert (typical <= high + TIGHT).all()

    def test_unknown_ids_are_named(self):
        exposure = Exposure(toy())
        with pytest.raises(NotFound, match="'spise' is not a material of the tables; nearest is 'spice'"):
            exposure.shares("spise")
        with pytest.raises(
            NotFound, match="'spise' is neither a material nor a group of the tables; nearest is 'spice'"
        ):
            exposure.matrix(["spise"], ["oil"])


class TestContext:
    def test_product_by_id_or_name(self):
        for text in ("perfume", "Perfume, alcoholic", "PERFUME"):
            context = resolve_context(toy(), product=text, on=DAY)
            assert (context.product, context.category, context.leave_on, context.skin) == (
                "perfume",
                "4",
                True,
                True,
            )
            assert [(one.limit_set.id, one.category) for one in context.sets] == [
                ("world", "4"),
                ("law", "leave_on"),
            ]

    def test_market(self):
        context = resolve_context(toy(), product="perfume", market="uk", on=DAY)
        assert [one.limit_set.id for one in context.sets] == ["world", "abroad"]
        assert [
            one.limit_set.id
            for one in resolve_context(toy(), product="perfume", market="worldwide", on=DAY).sets
        ] == ["world"]

    def test_a_set_in_force_replaces_the_older_one_and_takes_its_categories(self):
        tables = toy(sets=(WORLD, WORLD_NEW, LAW))
        before = resolve_context(tables, product="perfume", on="2026-05-31")
        after = resolve_context(tables, product="perfume", on="2026-06-01")
        assert [one.limit_set.id for one in before.sets] == ["world", "law"]
        assert [(one.limit_set.id, one.category) for one in after.sets] == [
            ("world-new", "4"),
            ("law", "leave_on"),
        ]

    def test_sets_by_name(self):
        context = resolve_context(
            toy(sets=(WORLD, WORLD_NEW, LAW)), product="perfume", limits=("world",), on=DAY
        )
        assert [one.limit_set.id for one in context.sets] == ["world"]

    def test_a_category_stands_for_its_first_product_and_says_so(self):
        tables = toy()
        more = (
            Product("cream", "scented cream", "law", "cream", True, True),
            Product("cream", "scented cream", "world", "4", True, True),
        )
        context = resolve_context(replace(tables, products=tables.products + more), category="4", on=DAY)
        assert [(one.limit_set.id, one.category) for one in context.sets] == [
            ("world", "4"),
            ("law", "leave_on"),
        ]
        assert (
            "category 4 is judged as perfume where law tells its products apart; for cream name the product"
            in context.notes
        )

    def test_no_skin_no_cosmetics_law(self):
        context = resolve_context(toy(), product="candle", on=DAY)
        assert [one.limit_set.id for one in context.sets] == ["world"]
        assert not context.skin
        assert context.notes[0].startswith("candle does not touch the skin")
        assert "classification, labelling and packaging of mixtures" in context.notes[0]

    def test_nothing_in_force_is_said_and_is_not_fine(self):
        verdict = judged(toy([limit("spice", 1.0)]), {"spice": 1.0}, on="1999-01-01")
        assert verdict.within_known is None
        assert verdict.max_dose_pct is None
        assert "nothing is judged" in " ".join(verdict.notes)

    @pytest.mark.parametrize(
        ("asked", "message"),
        [
            (
                {"product": "perfum"},
                "'perfum' is not a known product: one of candle, perfume, soap, wipe; nearest is 'perfume'",
            ),
            ({"category": "5A"}, "'5A' is not a known category: one of 4, 9, 12"),
            ({"product": "soap", "market": "EW"}, "'EW' is not a known market: one of EU, UK, worldwide"),
            (
                {"product": "soap", "limits": ("wold",)},
                "'wold' is not a known set of limits: one of world, law, abroad; nearest is 'world'",
            ),
            ({"product": "soap", "on": "2026-02-30"}, "'2026-02-30' is not a date: allowed is YYYY-MM-DD"),
            ({}, "say either a product or a category"),
            ({"product": "soap", "category": "9"}, "say either a product or a category, not both"),
        ],
    )
    def test_messages(self, asked, message):
        with pytest.raises(InputError) as error:
            resolve_context(toy(), **asked)
        assert str(error.value).startswith(message)

    @pytest.mark.parametrize("dose", [0, -1, 100.001, float("nan"), float("inf")])
    def test_dose_out_of_range(self, dose):
        with pytest.raises(
            InputError, match="is out of range: allowed is above 0 to 100 percent of the finished product"
        ):
            check_dose(dose)

    def test_dose_is_a_number(self):
        assert check_dose("12.5") == 12.5
        assert check_dose(100) == 100.0
        with pytest.raises(InputError, match="dose 'much' is not a number"):
            check_dose("much")

    def test_cautions(self):
        on_skin, candle = (
            resolve_context(toy(), product=name, on=DAY).cautions for name in ("perfume", "candle")
        )
        for found in (on_skin, candle):
            assert any("not a safety assessment" in text for text in found)
        assert any("already sensitised" in text for text in on_skin)
        assert any("flame" in text for text in candle)
        assert not any("already sensitised" in text for text in candle)


ALTERNATIVE = (
    limit("oil", 0.4),
    limit("listed-oil", 0.5),
    limit("photo", 100.0, "sum_of_fractions"),
    limit("psoralen", 0.0015, "alternative"),
)
PHOTO = {"photo": {"oil": 1.0, "listed-oil": 1.0}}


class TestJudge:
    def test_equal_is_fine_and_over_is_not(self):
        tables = toy([limit("spice", 0.3)])
        assert (
            only(judged(tables, {"spice": 3.0})).ok is True
        )  # 10 % of 3/100, although 10 * 0.03 is not 0.3 in floats
        assert only(judged(tables, {"spice": 3.0 * (1 + 1e-9)})).ok is False

    def test_unknown_figure_and_category_without_a_figure(self):
        row = only(judged(toy([limit("spice", None)]), {"spice": 1.0}))
        assert (row.ok, row.limit_pct, row.headroom_pct) == (None, None, None)
        verdict = judged(toy([limit("spice", 1.0, category="9")]), {"spice": 1.0})
        row = only(verdict)
        assert (row.ok, row.note) == (None, "no figure on file for category 4")
        assert (verdict.within_known, verdict.max_dose_pct, verdict.max_dose_known_pct) == (None, None, None)

    def test_category_beats_all(self):
        tables = toy([limit("spice", 0.01), limit("spice", 2.0, category="4")])
        assert only(judged(tables, {"spice": 1.0})).limit_pct == 2.0
        tables = toy([limit("spice", 0.0, "prohibited"), limit("spice", 2.0, category="4")])
        assert only(judged(tables, {"spice": 1.0})).ok is True

    def test_unassessed_natural_leaves_it_open(self):
        verdict = judged(toy([limit("spice", 5.0)]), {"spice": 1.0, "unknown-oil": 1.0})
        row = only(verdict)
        assert (row.ok, row.unassessed) == (None, ("unknown-oil",))
        assert verdict.within_known is None
        assert (verdict.max_dose_pct, verdict.max_dose_known_pct) == (None, None)

    def test_unknown_never_hides_a_breach(self):
        assert only(judged(toy([limit("spice", 0.05)]), {"spice": 1.0, "unknown-oil": 1.0})).ok is False

    def test_a_row_for_what_is_only_unknown(self):
        row = only(judged(toy([limit("spice", 5.0)]), {"unknown-oil": 1.0}))
        assert (row.found_pct, row.ok) == (0.0, None)
        assert not judged(
            toy([limit("spice", 5.0)]), {"oil": 1.0}
        ).rows  # looked for, none found: nothing to say

    def test_stated_absence_of_restriction_is_never_in_doubt(self):
        verdict = judged(toy([limit("spice", 100.0)]), {"spice": 1.0, "unknown-oil": 1.0})
        assert (only(verdict).ok, only(verdict).limit_words) == (True, "no restriction stated")
        assert (verdict.within_known, verdict.max_dose_pct) == (
            None,
            None,
        )  # nothing limits it: no permission

    def test_constituents_high_decides_typical_is_shown(self):
        row = only(judged(toy([limit("toxin", 0.04)]), {"oil": 50.0}))
        assert (row.found_pct, row.typical_pct, row.ok) == (pytest.approx(0.05), pytest.approx(0.025), False)

    def test_release_counts(self):
        row = only(judged(toy([limit("aldehyde", 1.0)]), {"acetal": 10.0, "aldehyde": 1.0}))
        assert row.found_pct == pytest.approx(0.9)
        assert row.sources == (
            ("acetal", pytest.approx(0.8)),
            ("aldehyde", pytest.approx(0.1)),
        )

    def test_strictest_set_governs_and_comes_first(self):
        verdict = judged(toy([limit("spice", 1.0), limit("spice", 0.5, limit_set="law")]), {"spice": 1.0})
        assert [(row.limit_set, row.governs) for row in verdict.rows] == [("law", True), ("world", False)]

    def test_prohibited_also_from_naturals(self):
        verdict = judged(toy([limit("toxin", 0.0, "prohibited")]), {"oil": 0.001})
        assert only(verdict).ok is False
        assert (verdict.max_dose_pct, verdict.wall.line) == (0.0, "oil")

    def test_prohibited_is_none_at_all_whatever_its_figure(self):
        for stated in (None, 5.0):
            row = only(judged(toy([limit("spice", stated, "prohibited")]), {"spice": 0.001}))
            assert (row.ok, row.limit_pct, row.limit_words) == (False, 0.0, "prohibited")

    def test_what_is_not_to_be_added_to_another_category_is_unknown_in_this_one(self):
        row = only(judged(toy([limit("spice", 0.0, "prohibited_as_such", category="9")]), {"spice": 1.0}))
        assert (row.ok, row.rule, row.note) == (None, "max", "no figure on file for category 4")

    def test_names_for_the_label_come_last_and_are_no_change_of_a_limit(self):
        rows = [limit("aldehyde", 0.001, "declare"), limit("toxin", 1.0, "grade")]
        tables = toy([*rows, limit("aldehyde", 0.01, "declare", limit_set="law")])
        new, old = (
            compiled_for(Exposure(tables), resolve_context(tables, product="perfume", on=DAY, limits=[name]))
            for name in ("world", "law")
        )
        assert [rule.rule for rule in new.rules] == ["grade", "declare"]
        context = resolve_context(tables, product="perfume", on=DAY)
        assert [pair.substance for pair in pair_up(new, old, Since("world", "law", context))] == ["toxin"]

    def test_prohibited_as_such(self):
        tables = toy([limit("toxin", 0.01, "prohibited_as_such")])
        row = only(judged(tables, {"oil": 5.0}))
        assert (row.ok, row.limit_pct, row.found_pct) == (True, 0.01, pytest.approx(0.005))
        assert only(judged(tables, {"oil": 15.0})).ok is False
        row = only(judged(tables, {"oil": 5.0, "toxin": 0.001}))
        assert (row.ok, row.limit_pct, row.found_pct) == (False, 0.0, pytest.approx(0.0001))
        for stated in (None, 0.0):  # no figure for what naturals may bring: tolerated
            row = only(judged(toy([limit("toxin", stated, "prohibited_as_such")]), {"oil": 90.0}))
            assert (row.ok, row.limit_pct, row.limit_words) == (
                True,
                None,
                "not to be added; natural traces tolerated",
            )

    def test_released_is_not_a_natural_trace(self):
        assert only(judged(toy([limit("aldehyde", None, "prohibited_as_such")]), {"acetal": 1.0})).ok is False

    def test_a_member_of_two_member_groups_is_added_up_once(self):
        """Member groups without a figure of their own stand for their members; one with a figure for itself."""
        groups = {
            "photo": {"one": 1.0, "two": 1.0, "three": 1.0},
            "one": {"spice": 1.0, "ketone-a": 1.0},
            "two": {"spice": 1.0, "ketone-b": 1.0},
            "three": {"toxin": 1.0},
        }
        rows = [
            *(limit(name, 1.0) for name in ("spice", "ketone-a", "ketone-b")),
            limit("three", 0.5),
            limit("photo", 100.0, "sum_of_fractions"),
        ]
        for toxin, ok in ((1.5, True), (1.51, False)):  # 0.4 + 0.2 + 0.1 and 0.15 / 0.5: the whole
            active = {"spice": 4.0, "ketone-a": 2.0, "ketone-b": 1.0, "toxin": toxin}
            assert only(judged(toy(rows, groups), active), rule="sum_of_fractions").ok is ok

    def test_sum_of_fractions(self):
        rows = [limit("oil", 1.0), limit("listed-oil", 0.5), limit("photo", 100.0, "sum_of_fractions")]
        groups = {"photo": {"oil": 1.0, "listed-oil": 1.0}}
        row = only(judged(toy(rows, groups), {"oil": 6.0, "listed-oil": 2.0}), rule="sum_of_fractions")
        assert (row.used, row.limit_pct, row.ok) == (pytest.approx(1.0), None, True)
        assert (row.limit_words, row.found_pct) == ("sum of fractions at most 1", pytest.approx(0.8))
        row = only(judged(toy(rows, groups), {"oil": 6.0, "listed-oil": 2.01}), rule="sum_of_fractions")
        assert row.ok is False
        assert row.sources[0] == ("oil", pytest.approx(0.6))
        row = only(judged(toy(rows[1:], groups), {"oil": 6.0, "listed-oil": 2.0}), rule="sum_of_fractions")
        assert row.ok is None  # a member present has no figure of its own

    def test_recalled_figures_ask_for_a_check_through_sums(self):
        rows = [limit("oil", 1.0, basis="memory"), limit("photo", 100.0, "sum_of_fractions")]
        verdict = judged(toy(rows, {"photo": {"oil": 1.0}}), {"oil": 1.0})
        assert {row.check for row in verdict.rows} == {"check against the official Standard"} == {CHECK}

    def test_alternative_governs_only_where_every_lot_is_measured(self):
        measured = judged(toy(ALTERNATIVE, PHOTO, own=True), {"oil": 5.0}, dose=9.0)
        assert only(measured, rule="alternative").ok is True  # 0.45 % of 0.3 % is 13.5 ppm
        assert only(measured, substance="oil").ok is True
        assert "alternative figure governs" in only(measured, substance="oil").note
        assert measured.max_dose_pct == 10.0
        assert measured.wall.substance == "psoralen"
        for tables, active in (
            (toy(ALTERNATIVE, PHOTO), {"oil": 5.0}),  # table figures, not the lot's
            (toy(ALTERNATIVE, PHOTO, own=True), {"oil": 5.0, "listed-oil": 0.1}),  # one oil not measured
            (
                toy(ALTERNATIVE, PHOTO, own=True),
                {"oil": 5.0, "unknown-oil": 0.1},
            ),  # something not looked through
        ):
            verdict = judged(tables, active, dose=9.0)
            row = only(verdict, rule="alternative")
            assert (row.ok, row.applies) == (None, False)
            assert "not applied" in row.note
            assert only(verdict, substance="oil").ok is False

    def test_measured_and_over_is_broken(self):
        assert judged(toy(ALTERNATIVE, PHOTO, own=True), {"oil": 6.0}).within_known is False

    def test_grades(self):
        row = only(judged(toy([limit("toxin", 0.9, "grade")]), {"oil": 0.001}))
        assert (row.ok, row.found_pct) == (False, 1.0)
        verdict = judged(toy([limit("toxin", 0.9, "grade")]), {"oil": 0.001})
        assert verdict.max_dose_pct == 0.0  # no dose mends it
        row = only(
            judged(
                toy([limit("spice", None, "grade", note="peroxide value below 20 mmol/L")]), {"spice": 1.0}
            )
        )
        assert (row.ok, row.rule) == (None, "grade")
        rows = [limit("spice", None, "grade"), limit("spice", 0.5)]
        verdict = judged(toy(rows), {"spice": 1.0})
        assert (verdict.max_dose_pct, verdict.within_known) == (50.0, None)  # a grade in words is no maximum
        row = only(judged(toy([limit("spice", 0.1, "grade")]), {"spice": 1.0, "unknown-oil": 1.0}))
        assert row.ok is None  # itself is not its own impurity

    def test_not_with(self):
        row = only(
            judged(
                toy([limit("spice", None, "not_with", note="not with nitrosating agents")]), {"spice": 1.0}
            )
        )
        assert (row.ok, row.note) == (None, "not with nitrosating agents")

    def test_a_situation_without_a_product_forbids_and_judges_nothing(self):
        """Prohibited presses without end, a limit by its strictest figure; no row and no verdict without a product."""
        rows = [limit("banned", 0.0), limit("spice", 0.5)]
        there = situate(Exposure(toy(rows)), on=DAY)
        assert there.pressure("banned") == {("banned", "world"): np.inf}
        assert there.pressure("spice") == {("spice", "world"): 2.0}
        assert there.pressure("ketone-a") == {}
        known, most, forbidden = there.rows(["spice", "banned", "ketone-a"])
        assert (known.shape, most.shape, forbidden.tolist()) == ((0, 3), (0,), [False, True, False])
        for dose in (None, 10.0):
            with pytest.raises(InputError, match="limits need a product or a category, and a dose"):
                there.judge({"spice": 1.0}, 100.0, dose)
        named = situate(Exposure(toy(rows)), on=DAY, product="perfume", dose=10.0)
        assert named.judge({"spice": 1.0}, 100.0).rows[0].found_pct == pytest.approx(0.1)
        assert named.judge({"spice": 1.0}, 100.0, 20.0).rows[0].found_pct == pytest.approx(0.2)

    def test_a_day_is_read_with_or_without_its_hour(self):
        when = dt.datetime(2026, 5, 31, 23, 59)
        before, after = (
            resolve_context(toy(sets=(WORLD, WORLD_NEW)), product="perfume", on=on)
            for on in (when, when + dt.timedelta(minutes=1))
        )
        assert [one.limit_set.id for one in before.sets] == ["world"]
        assert [one.limit_set.id for one in after.sets] == ["world-new"]
        assert before.on == dt.date(2026, 5, 31)

    def test_a_category_that_no_product_has_is_taken_as_it_is(self):
        found = resolve_context(toy([limit("spice", 0.5, category="5")]), category="5", on=DAY)
        assert [(one.limit_set.id, one.category) for one in found.sets if one.limit_set.id == "world"] == [
            ("world", "5")
        ]

    def test_of_two_thresholds_of_one_printed_name_the_lower_is_declared(self):
        for order in (1, -1):
            rows = [
                limit("spice", 0.01, "declare", limit_set="law", note="Spice", category="all"),
                limit("spice", 0.001, "declare", limit_set="law", note="Spice", category="leave_on"),
                limit("spice", 0.1, "declare", limit_set="world", note="Spice", category="all"),
            ][::order]
            there = situate(Exposure(toy(rows)), product="perfume", market="EU", dose=0.5, on=DAY)
            found = declare(there.compiled, {"spice": 1.0}, 100.0, 0.5)
            assert [(row.label, row.threshold_pct) for row in found.rows] == [("Spice", 0.001)]

    def test_highest_dose_wall_and_rounding(self):
        verdict = judged(toy([limit("spice", 0.1), limit("ketone-a", 5.0)]), {"spice": 3.0, "ketone-a": 10.0})
        assert verdict.max_dose_pct == 3.33333
        assert verdict.wall.to_dict() == {
            "substance": "spice",
            "name": "spice",
            "limit_set": "world",
            "line": "spice",
        }
        assert judged(toy([limit("spice", 0.1)]), {"spice": 0.5}).max_dose_pct == 20.0  # not 19.9999
        assert judged(toy([limit("spice", 0.1)]), {"spice": 0.0}).wall is None
        met = judged(
            toy([limit("spice", 1.4)]), {"spice": 1.4}, dose=100.0
        )  # 1.4 / 0.014 is not 100 in floats
        assert (met.max_dose_known_pct, met.wall, met.within_known) == (None, None, True)

    def test_keys_of_the_answer(self):
        answer = judged(toy([limit("spice", 0.1)]), {"spice": 3.0}).to_dict()
        assert {
            "substance",
            "limit_set",
            "limit_pct",
            "found_pct",
            "typical_pct",
            "headroom_pct",
            "ok",
            "basis",
            "from",
        } <= set(answer["limits"][0])
        assert answer["limits"][0]["from"] == [{"id": "spice", "pct": pytest.approx(0.3)}]
        assert {
            "limits",
            "max_dose_pct",
            "max_dose_known_pct",
            "within_known",
            "wall",
            "category",
            "dose_pct",
        } <= set(answer)

    @pytest.mark.parametrize(
        ("active", "total", "message"),
        [
            ({"nothing": 1.0}, 100.0, "'nothing' is not a material of the tables"),
            ({"spice": -1.0}, 100.0, "'spice' has -1 parts: allowed is 0 or more"),
            ({"spice": 1.0}, 0.0, "the accord's parts sum to 0: allowed is above 0"),
            ({"spice": 101.0}, 100.0, "the materials sum to 101 parts, more than the accord's 100"),
        ],
    )
    def test_messages(self, active, total, message):
        with pytest.raises(InputError) as error:
            judged(toy(), active, total=total)
        assert str(error.value) == message


class TestLinear:
    def test_agrees_with_judge(self, tables):
        exposure, context = Exposure(tables), resolve_context(tables, product="fine-fragrance", on=DAY)
        rng = np.random.default_rng(11)
        for _ in range(40):
            chosen = [str(name) for name in rng.choice(list(tables.materials), 9, replace=False)]
            parts = rng.uniform(0.01, 10, 9)
            compiled, total = compiled_for(exposure, context), parts.sum() + 50
            known = compiled.rows(chosen)
            verdict = judge(compiled, dict(zip(chosen, parts)), total, 12.0)
            rows = {(row.limit_set, row.substance, row.rule): row for row in verdict.rows}
            for term, amount, most in zip(known.terms, known.A @ (12.0 * parts / total), known.limit):
                row = rows[term.rule.limit_set, term.rule.substance, term.rule.rule]
                if row.used is not None:
                    assert amount / most == pytest.approx(row.used, rel=1e-9)
                if row.limit_pct == most and most:
                    assert amount == pytest.approx(row.found_pct, rel=1e-9)
            broken = {row.rule for row in verdict.broken}
            legal = (
                bool((known.A @ (12.0 * parts / total) <= known.limit * (1 + TIGHT)).all())
                and not known.forbidden.any()
            )
            assert legal == (not broken - {"alternative"})

    def test_forbidden_and_headroom(self):
        rows = [
            limit("toxin", 0.0, "prohibited"),
            limit("banned", None, "prohibited_as_such"),
            limit("spice", 0.5),
            limit("psoralen", 0.35, "grade"),
        ]
        tables = toy(rows)
        names = ["oil", "banned", "spice", "listed-oil", "aldehyde"]
        here = situate(Exposure(tables), product="perfume", dose=10, on=DAY)
        assert here.rows(names)[2].tolist() == [True, True, False, True, False]
        assert [here.most_pct(name) for name in names] == [0.0, 0.0, 0.5, 0.0, None]

    def test_no_materials(self):
        tables = toy([limit("spice", 0.5)])
        assert situate(Exposure(tables), product="perfume", dose=1, on=DAY).rows([])[0].shape == (0, 0)


KETONES = {"ketones": {"ketone-a": 1.0, "ketone-b": 1.0}}


class TestDeclare:
    ROWS = (
        limit("ketones", 0.001, "declare", "leave_on", "law", note="Ketones"),
        limit("ketones", 0.01, "declare", "rinse_off", "law", note="Ketones"),
    )

    def declared(self, active, dose=1.0, product="perfume", rows=ROWS):
        tables = toy(rows, KETONES)
        context = resolve_context(tables, product=product, on=DAY)
        return declare(compiled_for(Exposure(tables), context), active, 100.0, dose)

    def test_exceeds_is_not_equal(self):
        assert not self.declared({"ketone-a": 0.1}).rows
        row = self.declared({"ketone-a": 0.1001}).rows[0]
        assert (row.label, row.state, row.threshold_pct) == ("Ketones", "declare", 0.001)

    def test_isomers_and_naturals_are_summed(self):
        row = self.declared({"ketone-a": 0.06, "ketone-b": 0.06}).rows[0]
        assert row.found_pct == pytest.approx(0.0012)
        assert row.state == "declare"
        assert self.declared({"ketone-a": 0.05, "oil": 0.1}).rows[0].sources == (
            ("oil", pytest.approx(0.001)),
            ("ketone-a", pytest.approx(0.0005)),
        )

    def test_between_typical_and_high(self):
        assert self.declared({"oil": 0.12}).rows[0].state == "between"  # high 0.0012, typical 0.00084

    def test_rinse_off_threshold(self):
        assert not self.declared({"ketone-a": 0.5}, product="soap").rows

    def test_unassessed_is_listed(self):
        answer = self.declared({"unknown-oil": 1.0}).to_dict()
        assert answer["declare"] == []
        assert answer["declare_unknown"][0]["unassessed"] == ["unknown-oil"]

    def test_label_falls_back_to_the_name(self):
        rows = [limit("ketone-a", 0.001, "declare", "leave_on", "law")]
        assert self.declared({"ketone-a": 1.0}, rows=rows).rows[0].label == "ketone a"


class TestControls:
    ROWS = (
        Control("oil", "CITES", "worldwide", "Appendix II", dt.date(2010, 6, 23), "published", "s"),
        Control("spice", "precursor", "EU", "category 1", None, "memory", "s"),
        Control("spice", "ban", "UK", "banned abroad", None, "published", "s"),
        Control("toxin", "supply", "worldwide", "scarce", None, "practice", "s"),
        Control("toxin", "ban", "EU", "later", dt.date(2030, 1, 1), "published", "s"),
    )

    def test_rows_for_market_and_day(self):
        tables = toy(controls=self.ROWS)
        context = resolve_context(tables, product="perfume", on=DAY)
        found = controls(tables, context, ["spice", "oil", "toxin", "aldehyde"])
        assert [(row.material, row.control.control) for row in found] == [
            ("spice", "precursor"),
            ("oil", "CITES"),
            ("toxin", "supply"),
        ]
        assert found[0].to_dict()["check"] == CHECK
        assert found[1].to_dict()["in_force"] == "2010-06-23"

    def test_words(self):
        limits = [
            limit("bad", 0.0, "max"),
            limit("toxin", None, "prohibited_as_such", limit_set="law"),
            limit("spice", 0.0, category="9"),
        ]
        tables = toy(limits, {"bad": {"banned": 1.0}}, controls=self.ROWS)
        status = situate(Exposure(tables), product="perfume", dose=10, on=DAY).status
        assert status("banned") == ("prohibited (world)",)
        assert status("toxin") == ("prohibited as such (law)",)
        assert status("oil") == ("protected (CITES)",)
        assert status("spice") == ("precursor",)
        assert status("aldehyde") == ()


@pytest.fixture(scope="module")
def shipped(tables):
    return tables, Exposure(tables)


class TestPublished:
    @pytest.mark.parametrize("row", reference("rules_worked_examples.csv"), ids=lambda row: row["example"])
    def test_extract_at_half_a_percent_with_100_ppm(self, row):
        """An extract at 0.5 % that carries 100 ppm (0.01 %) of a constituent brings 0.5 ppm, under the label
        threshold.
        """
        share, threshold = float(row["constituent_ppm"]) / 1e4, float(row["label_threshold_pct"])
        tables = toy(
            [limit("toxin", threshold), limit("toxin", threshold, "declare", "leave_on", "law", note="Toxin")]
        )
        tables = replace(tables, constituents={"oil": (constituent("toxin", share, share),)})
        active = {"oil": float(row["extract_pct"]) * 10}  # of 100 parts at a dose of 10 %
        assert only(judged(tables, active)).found_pct * 1e4 == pytest.approx(
            float(row["found_ppm"]), abs=TIGHT
        )
        context = resolve_context(tables, product="perfume", on=DAY)
        assert bool(declare(compiled_for(Exposure(tables), context), active, 100.0, 10.0).rows) == (
            row["declared"] == "yes"
        )

    @staticmethod
    def maximum(shipped, row, active, dose, **where):
        """The row of a verdict on ``active`` of 100 parts that holds the substance to its maximum."""
        tables, exposure = shipped
        compiled = compiled_for(exposure, resolve_context(tables, on=DAY, **where))
        return only(judge(compiled, active, 100.0, dose), substance=row["substance"], rule="max")

    @pytest.mark.parametrize(
        "row", reference("ifra_49_standards.csv"), ids=lambda row: f"{row['substance']}-{row['category']}"
    )
    def test_three_standards_in_every_category(self, shipped, row):
        """IFRA Standards of the 49th Amendment whose every category was read; the citation stands in the
        reference table.
        """
        where = {"category": row["category"], "limits": ("ifra-49",)}
        most = float(row["max_pct"])
        assert self.maximum(shipped, row, {row["substance"]: 100.0}, 100.0, **where).limit_pct == most
        assert self.maximum(shipped, row, {row["substance"]: most}, 100.0, **where).ok is True

    @pytest.mark.parametrize(
        "row", reference("eu_annex_iii_2016.csv"), ids=lambda row: f"{row['entry']}-{row['product']}"
    )
    def test_annex_iii(self, shipped, row):
        """Figures of Annex III to Regulation (EC) No 1223/2009, state of February 2016; citation in the
        reference table.
        """
        member = next(iter(shipped[1].members(row["substance"])))
        where = {"product": row["product"], "limits": ("eu-annex-iii",)}
        found = self.maximum(shipped, row, {member: 1.0}, 0.01, **where)
        assert found.limit_pct == float(row["max_pct"])

    def test_eighty_label_names(self, shipped):
        """Regulation (EU) 2023/1545: 24 names kept, 11 entries newly labelled, 45 new entries."""
        names = reference("eu_2023_1545_labels.csv")
        counts = [
            sum(row["status"] == status_ for row in names)
            for status_ in ("kept", "existing entry, newly labelled", "new entry")
        ]
        assert counts == [24, 11, 45]
        assert sum(counts) == len({row["label"] for row in names}) == 80
        tables, _ = shipped
        for category, column in (("leave_on", "leave_on_pct"), ("rinse_off", "rinse_off_pct")):
            on_file = {
                row.note: row.max_pct
                for row in tables.limits
                if row.limit_set == "eu-2023-1545" and row.category == category
            }
            assert on_file == {row["label"]: float(row[column]) for row in names}

    def test_label_names_by_the_day(self, shipped):
        """New products from 31 July 2026, Regulation (EU) 2023/1545."""
        tables, exposure = shipped
        active = {"menthol": 1.0, "linalool": 1.0}
        before, after = (
            {
                row.label
                for row in declare(
                    compiled_for(exposure, resolve_context(tables, product="fine-fragrance", on=day)),
                    active,
                    100.0,
                    10.0,
                ).rows
            }
            for day in ("2026-07-30", "2026-07-31")
        )
        assert (before, after) == ({"Linalool"}, {"Linalool", "Menthol"})

    def test_recalled_figures_always_ask_for_a_check(self, shipped):
        tables, exposure = shipped
        context = resolve_context(tables, product="hand-lotion", on=DAY)
        verdict = judge(
            compiled_for(exposure, context),
            dict.fromkeys(tables.materials, 1.0),
            float(len(tables.materials)),
            10.0,
        )
        assert sum(row.basis == "memory" for row in verdict.rows) > 100
        assert all(row.check == CHECK for row in verdict.rows if row.basis == "memory")


TABLES = toy(
    [
        limit("spice", 0.2),
        limit("toxin", 0.004, limit_set="law"),
        limit("ketones", 1.0),
        limit("oil", 0.6),
        limit("photo", 100.0, "sum_of_fractions"),
        limit("listed-oil", 0.5),
        limit("aldehyde", None),
        limit("psoralen", 0.0015, "alternative"),
        limit("banned", 0.001, "prohibited_as_such"),
    ],
    {"ketones": {"ketone-a": 1.0, "ketone-b": 0.5}, "photo": {"oil": 1.0, "listed-oil": 1.0}},
)
COMPILED = compiled_for(Exposure(TABLES), resolve_context(TABLES, product="perfume", on=DAY))
PARTS = st.floats(0.0, 50.0).map(lambda x: round(x, 4))
ACCORDS = st.dictionaries(
    st.sampled_from(sorted(set(TABLES.materials) - {"banned"})), PARTS, min_size=1, max_size=6
)
QUIET = settings(
    max_examples=examples(150), deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


def of(accord, dose, more=0.0):
    return judge(COMPILED, accord, 400.0 + more, dose)


@QUIET
@given(ACCORDS, st.floats(0.01, 50.0))
def test_twice_the_dose_is_twice_the_amount(accord, dose):
    one, two = of(accord, dose), of(accord, 2 * dose)
    amounts = {(row.limit_set, row.substance, row.rule): row.found_pct for row in two.rows}
    for row in one.rows:
        assert amounts[row.limit_set, row.substance, row.rule] == pytest.approx(2 * row.found_pct, rel=1e-12)


@QUIET
@given(ACCORDS, st.floats(0.01, 100.0))
def test_the_highest_dose_is_legal_and_a_bit_more_is_not(accord, dose):
    verdict = of(accord, dose)
    most = verdict.max_dose_known_pct or 100.0
    assert 0.0 < most <= 100.0
    assert not of(accord, most).broken
    if verdict.wall is not None:
        assert of(accord, most * (1 + 2e-5)).broken or most > 99.99
        assert verdict.wall.line in accord
    assert bool(verdict.broken) == (dose > most) or dose == pytest.approx(most, rel=2e-5)
    assert verdict.max_dose_pct in (None, verdict.max_dose_known_pct)


@QUIET
@given(ACCORDS, st.floats(0.01, 100.0))
def test_unknown_is_never_fine(accord, dose):
    verdict = of(accord, dose)
    for row in verdict.rows:
        if (row.limit_pct is None and row.used is None) or (row.unassessed and row.ok is not False):
            assert row.ok is None
    if verdict.unknown:
        assert verdict.within_known is not True
        assert verdict.max_dose_pct is None


@QUIET
@given(ACCORDS, st.floats(0.01, 100.0), st.floats(0.1, 50.0))
def test_adding_an_unassessed_natural_never_clears_anything(accord, dose, parts):
    before = {(row.limit_set, row.substance, row.rule): row for row in of(accord, dose).rows}
    after = {
        (row.limit_set, row.substance, row.rule): row
        for row in of({**accord, "unknown-oil": parts + accord.get("unknown-oil", 0.0)}, dose, parts).rows
    }
    for key, row in before.items():
        assert row.ok is not None or after[key].ok is not True
    assert all(row.ok is not True or not row.unassessed for row in after.values())


def test_no_set_is_no_clearance():
    """Where no set puts the product into a category, nothing was judged: unknown, not fine."""
    import substitute
    from substitute.records import Accord, Line

    found = (
        substitute.load()
        .limits(Accord("one", (Line("linalool", 1.0),)), dose=5.0, product="bath-bomb", limits=("ifra-49",))
        .to_dict()
    )
    assert found["within_known"] is None
    assert (found["max_dose_pct"], found["max_dose_known_pct"]) == (None, None)
    assert found["verdict"].startswith("not judged")
    assert found["notes"]


@pytest.mark.parametrize(
    ("pairs", "most"),
    [
        ([], 0.0),
        ([(1.0, 0.25)], 0.25),
        ([(1.0, 0.7), (2.0, 0.8)], 2.0 * 0.8 + 1.0 * 0.2),  # the heavier first, then what room is left
        ([(2.0, 0.8), (1.0, 0.7)], 1.8),
        ([(1.0, 0.9), (1.0, 0.9)], 1.0),  # no gram holds more than a gram
        ([(3.0, 0.5), (2.0, 0.5), (1.0, 0.5)], 2.5),
    ],
)
def test_shares_of_one_gram_fill_it_once(pairs, most):
    from substitute.rules.exposure import _at_most_whole

    assert _at_most_whole(pairs) == pytest.approx(most)
