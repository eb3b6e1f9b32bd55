"""What the rules tell people: no clearance, cautions, questions to a supplier, several products, a person's
own sets.
"""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

import substitute
from substitute.cli import cli
from substitute.errors import InputError, TableError
from substitute.records import Accord, Line
from substitute.rules.ask import answered
from substitute.rules.cautions import HEADS, NAMED, hazard_lines, of_accord
from substitute.rules.cautions import _few as few_names
from substitute.rules.estimate import RATIOS, WITHHELD
from substitute.rules.report import SHOWN
from substitute.rules.several import Several
from substitute.tables.load import load_tables


def accord(*lines, name="an accord"):
    return Accord(name, tuple(Line(material, parts) for material, parts in lines))


def test_a_menthol_and_salicylate_accord_in_a_baby_lotion_is_no_clearance(library):
    """EU Regulation 2022/1531 keeps methyl salicylate out of products for children under six (recalled)."""
    one = accord(("menthol", 60.0), ("methyl-salicylate", 40.0))
    found = library.limits(one, dose=100, product="baby-lotion").to_dict()
    assert found["within_known"] is False
    two = library.limits(
        accord(("menthol", 60.0), ("ethyl-salicylate", 40.0)), dose=100, product="baby-lotion"
    )
    answer = two.to_dict()
    assert answer["within_known"] is None
    assert (answer["max_dose_pct"], answer["max_dose_known_pct"]) == (None, None)
    assert any("babies" in text for text in answer["cautions"])


def test_a_set_without_figures_judges_nothing(library):
    found = library.limits(
        accord(("oakmoss-absolute", 1.0)), dose=10, product="fine-fragrance", limits=("eu-2023-1545",)
    )
    assert found.within_known is None
    assert found.in_words() == "nothing on file limits this; that is no permission"
    assert found.to_dict()["max_dose_pct"] is None


def test_no_answer_clears(library):
    for product in ("fine-fragrance", "body-lotion", "bar-soap", "candle"):
        for one in (accord(("linalool", 1.0)), accord(("lavender-oil", 5.0), ("coumarin", 1.0))):
            text = json.dumps(library.limits(one, dose=10, product=product).to_dict())
            assert not [
                word
                for word in ('"ok": true, "limit_pct": 100', "is safe", "is legal", "fine.")
                if word in text
            ]


def test_nothing_without_a_maximum_shows_one(library):
    for row in library.show("bergamot-oil").to_dict()["limits"]:
        assert "100 %" not in row["limit_words"]
    found = library.limits(
        accord(("bergamot-oil", 1.0), ("oakmoss-absolute", 1.0)), dose=10, product="fine-fragrance"
    )
    for row in found.rows:
        if row.rule in ("sum_of_fractions", "prohibited_as_such"):
            assert row.limit_pct != 100.0
            assert "100 %" not in row.limit_words


def test_an_estimate_only_warns(library):
    """A sensitiser with a figure for category 4 alone; the ratio of category 5A is recalled."""
    rows = [
        (row, found)
        for parts in (0.5, 90.0)
        for found in [
            library.limits(accord(("coumarin", parts), ("ethanol", 100 - parts)), dose=50, category="5B")
        ]
        for row in found.rows
        if row.substance == "coumarin" and row.limit_set == "ifra-51"
    ]
    for row, found in rows:
        if row.estimate_pct is None:
            continue
        assert row.ok is None and row.limit_pct is None and row.basis == "estimate"
        assert found.within_known is not True and found.verdict.max_dose_pct is None
        assert row.probably_broken == (row.found_pct > row.estimate_pct)
        assert row.state in ("probably broken", "unknown")
    assert set(WITHHELD) < set(RATIOS)


FULL = ("methyl-eugenol", "estragole", "citronellal")  # Standards of the 49th whose every category was read


def test_ratios_of_exposure_against_the_full_standards(library):
    """IFRA Standards of the 49th Amendment (tests/reference/ifra_49_standards.csv); none is set by
    sensitisation alone.

    The ratios are recalled upper guesses: used only where at least one full Standard comes to a third of
    them, withheld elsewhere.
    """
    figures = {
        (row.substance, row.category): row.max_pct
        for row in library.tables.limits
        if row.limit_set == "ifra-49" and row.rule == "max" and row.substance in FULL
    }
    for category, ratio in RATIOS.items():
        reached = [figures[name, category] / figures[name, "4"] / ratio for name in FULL]
        assert (max(reached) < 1 / 3) == (category in WITHHELD), (category, reached)


def test_one_situation_for_all(library):
    """What limits break at any dose is forbidden, and what is forbidden breaks."""
    here = library.situate(product="baby-lotion", dose=0.01)
    names = [name for name in library.tables.materials if library.tables.materials[name].stocked]
    for name in names[::7]:
        verdict = here.judge({name: 1.0}, 1.0)
        by_rule = [ban for ban in here.forbidden(name) if ban.by != "ban"]
        assert bool(by_rule) == (verdict.max_dose_known_pct == 0.0), name
        most = here.most_pct(name)
        if most and most < 100:
            assert verdict.max_dose_known_pct == pytest.approx(most, rel=1e-4)


def test_what_a_material_releases_is_forbidden_with_it(library):
    here = library.situate(product="fine-fragrance", dose=10)
    bans = here.forbidden("methyl-anthranilate-butylphenyl-methylpropional-schiff-base")
    assert [ban.through for ban in bans] == ["release"]
    assert "gives back" in bans[0].words
    assert library.situate().forbidden("butylphenyl-methylpropional")  # without a product too
    assert not library.situate(market="UK", on="2021-01-01").forbidden("butylphenyl-methylpropional")


@pytest.mark.parametrize(
    ("missing", "stand_in", "answer"),
    [
        ("eugenol", "isoeugenol", False),  # limited far more tightly
        ("alpha-damascone", "gamma-damascone", False),  # the same group
        ("eugenol", "clove-bud-oil", False),  # the same molecule in an oil
        ("eugenol", "eugenol", False),
    ],
)
def test_relief(library, missing, stand_in, answer):
    here = library.situate(product="fine-fragrance", dose=20, because="limit")
    assert here.relieves(missing, 1.0, stand_in, 1.0) is answer
    assert library.situate(because="limit").relieves(missing, 1.0, stand_in, 1.0) is answer


def test_a_relief_presses_half_and_no_other_limit(library):
    here = library.situate(product="fine-fragrance", dose=20, because="limit")
    for missing in ("eugenol", "cinnamal", "citral", "coumarin", "isoeugenol", "geraniol"):
        old = here.pressure(missing)
        for name in library.tables.materials:
            if here.relieves(missing, 1.0, name, 1.0):
                new = here.pressure(name)
                assert all(
                    new.get(key, 0.0) < 0.5 * press or press < 0.05 * max(old.values())
                    for key, press in old.items()
                )
                assert max(new.values(), default=0.0) < 0.5 * max(old.values())


@pytest.mark.parametrize("dose", ["0", "-1", "nan", "101", "inf"])
@pytest.mark.parametrize("command", ["swap", "adjust", "limits", "screen", "rebalance"])
def test_every_dose_is_checked(library, command, dose):
    path = str(library.demo / "accords" / "bedtime-story.csv")
    what = {"swap": ["vanillin"], "screen": [str(library.demo / "accords")]}.get(command, [path])
    more = ["--too-strong", "vanillin"] if command == "rebalance" else []
    run = CliRunner().invoke(cli, [command, *what, *more, "--dose", dose, "--product", "hand-lotion"])
    assert isinstance(run.exception, InputError), run.output
    assert "dose" in str(run.exception)


def test_several_products_at_once(library):
    one = library.read_accord(library.demo / "accords" / "bedtime-story.csv")
    found = library.limits(one, dose=10, product=["fine-fragrance", "body-lotion"], category=["12"]).to_dict()
    assert [row["product"] or row["category"] for row in found["products"]] == [
        "fine-fragrance",
        "body-lotion",
        "12",
    ]
    alone = library.limits(one, dose=10, product="body-lotion").to_dict()
    assert found["products"][1]["max_dose_known_pct"] == alone["max_dose_known_pct"]
    assert found["products"][1]["wall"] == alone["wall"]


def test_the_supplier_is_asked_and_the_answers_come_back(library, tmp_path):
    one = accord(("benzoin-resinoid-siam", 1.0), ("benzyl-benzoate", 1.0))
    asked = library.ask([one], product="body-lotion")
    text = asked.csv()
    assert text.splitlines()[0].split(",")[3] == "answer_pct"
    kinds = {row.table for row in asked.rows}
    assert kinds == {"constituents", "limits"}
    lines = text.splitlines()
    filled = [lines[0]]
    for line, row in zip(lines[1:], asked.rows):
        filled.append(line.replace(",,constituents", ",0,constituents").replace(",,limits", ',"0,8",limits'))
        assert row.used_in == ("an accord",)
    page = tmp_path / "back.csv"
    page.write_text("\n".join(filled) + "\n", encoding="utf-8")
    written = library.answered(page, tmp_path / "own")
    assert sorted(path.name for path in written) == ["constituents.csv", "limits.csv"]
    mine = substitute.load(tmp_path / "own")
    assert not mine.ask([one], product="body-lotion").rows
    row = next(
        row
        for row in mine.limits(one, dose=1, product="body-lotion").rows
        if row.substance == "benzyl-benzoate"
    )
    assert (row.limit_pct, row.ok) == (0.8, True)
    with pytest.raises(InputError, match="exists already"):
        library.answered(page, tmp_path / "own")
    page.write_text(filled[0] + "\n" + filled[1].replace(",0,con", ",much,con") + "\n", encoding="utf-8")
    with pytest.raises(TableError, match="'much' is no percentage"):
        library.answered(page, tmp_path / "other")
    assert not (tmp_path / "other").exists()


def test_what_a_supplier_s_page_names_must_be_on_file(library, tmp_path):
    """Every faulty line at once, each with what is wrong; of answers about naturals alone there is one table."""
    head = "answer_pct,table,about,substance,category\n"
    page = tmp_path / "back.csv"
    page.write_text(
        head
        + "1,contents,rose-oil,geraniol,\n1,constituents,rose-oyl,geraniol,\n1,limits,ifra-51,geraniole,4\n"
        + "1,limits,ifra-15,geraniol,4\n,constituents,no-such,no-such,\n"
    )
    with pytest.raises(TableError) as caught:
        answered(library.tables, page)
    assert [(one.row, one.column, one.message) for one in caught.value.complaints] == [
        (2, "table", "'contents' is not one of constituents, limits"),
        (3, "about", "'rose-oyl' is not on file"),
        (4, "substance", "'geraniole' is neither a material nor a group"),
        (5, "about", "'ifra-15' is not on file"),
    ]
    page.write_text(head + "17,constituents,rose-oil,geraniol,\n")
    assert answered(library.tables, page) == {
        "constituents.csv": "natural,constituent,low_pct,typical_pct,high_pct\nrose-oil,geraniol,,17,17\n"
    }


SETS = "id,title,market,in_force,replaces\nhouse,House rules,{market},2020-01-01,\n"
LIMITS = "limit_set,substance,category,max_pct,rule,note\nhouse,linalool,all,1,max,\n"


def test_own_sets_are_checked(tmp_path):
    (tmp_path / "limit_sets.csv").write_text(SETS.format(market="EW"))
    (tmp_path / "limits.csv").write_text(LIMITS)
    with pytest.raises(TableError, match="'EW' is not a known market"):
        substitute.load(tmp_path)
    for market in ("JP", "demo", "EU"):
        (tmp_path / "limit_sets.csv").write_text(SETS.format(market=market))
        assert substitute.load(tmp_path).tables.limit_sets["house"].market == market
    assert load_tables(tmp_path).limit_sets["house"].market == "EU"  # from what was kept
    (tmp_path / "limits.csv").unlink()
    with pytest.raises(TableError, match="no row of limits.csv names the set 'house'"):
        substitute.load(tmp_path)


def test_an_own_stricter_row_for_all_counts(tmp_path):
    (tmp_path / "limits.csv").write_text(LIMITS.replace("house,linalool,all,1", "ifra-51,coumarin,all,0.2"))
    mine = substitute.load(tmp_path).situate(product="fine-fragrance", dose=10)
    assert mine.most_pct("coumarin") == 0.2
    (tmp_path / "limits.csv").write_text(LIMITS.replace("house,linalool,all,1", "ifra-51,coumarin,all,50"))
    assert substitute.load(tmp_path).situate(product="fine-fragrance", dose=10).most_pct("coumarin") < 2


class TestCautions:
    def test_every_hazard_has_words(self, library):
        for material, rows in library.tables.hazards.items():
            assert all(row.hazard in HEADS or row.hazard == "prohibited_because" for row in rows)
            assert len(hazard_lines(library.tables, material)) == len(rows)

    def test_what_is_prohibited_comes_first_with_its_rule_and_why(self, library):
        found = of_accord(library.situate(), ["linalool", "costus-root-oil", "butylphenyl-methylpropional"])
        assert [text.startswith("NOT TO BE USED") for text in found[:3]] == [True, True, False]
        assert "eu-2021-1902" in found[1] and "harms" in found[1]

    def test_unknown_is_not_harmless(self, library):
        silent = next(
            n
            for n, m in library.tables.materials.items()
            if m.stocked and m.kind == "molecule" and n not in library.tables.hazards
        )
        assert any("unknown is not harmless" in text for text in of_accord(library.situate(), [silent]))

    @pytest.mark.parametrize(("product", "word"), [("baby-lotion", "babies"), ("toothpaste", "mouth"), ("lip-balm", "lips"),
                                                   ("candle", "flame"), ("room-spray", "sprayed"), ("fine-fragrance", "alcohol")])  # fmt: skip
    def test_products_carry_their_own(self, library, product, word):
        assert any(word in text for text in library.context(product=product).cautions)

    def test_they_travel(self, library, tmp_path):
        path = library.demo / "accords" / "bedtime-story.csv"
        for found in (library.weigh(path, grams=10).cautions, library.adjust(path, without=["piperonal"]).cautions,
                      library.rebalance(path, too_strong=["vanillin"]).cautions, library.lift(path).cautions,
                      library.lesson(path).cautions, library.limits(path, dose=1, product="candle").all_cautions):  # fmt: skip
            assert any("make allergic" in text for text in found)
        for ending in ("csv", "md", "html", "xlsx"):
            run = CliRunner().invoke(
                cli, ["weigh", str(path), "--grams", "10", "--out", str(tmp_path / f"s.{ending}")]
            )
            assert run.exit_code == 0, run.output
            if ending != "xlsx":
                text = (tmp_path / f"s.{ending}").read_text(encoding="utf-8")
                assert "make allergic" in text
                if ending == "html":
                    assert text.index("make allergic") < text.index("<table")


def test_a_highest_dose_that_nobody_knows_is_no_leave(library):
    """Farnesol and eugenol in a hand lotion: no figure on file for the category, one probably broken by estimate."""
    one = accord(("farnesol", 50.0), ("eugenol", 5.0))
    answer = library.limits(one, dose=3, product="hand-lotion").to_dict()
    assert answer["max_dose_known_pct"] is None
    words = answer["max_dose_words"]
    assert words.startswith("not known: farnesol, eugenol")
    assert "probably broken at this dose: farnesol" in words
    assert "unknown is not harmless" in words
    assert "no known limit" not in words


# -- words that count ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("each", "together"),
    [
        ((True, True), True),
        ((True, None), None),
        ((None, False), False),
        ((True, False), False),
        ((None, None), None),
    ],
)
def test_several_products_are_as_bad_as_the_worst_and_as_known_as_the_least(each, together):
    reports: Any = tuple(SimpleNamespace(within_known=one) for one in each)
    assert Several("an accord", reports).within_known is together


def test_names_beyond_the_first_are_counted():
    names = [f"m{number}" for number in range(NAMED + 2)]
    assert few_names(names) == f"{'; '.join(names[:NAMED])} and 2 more"
    assert few_names(names[:NAMED]) == "; ".join(names[:NAMED])


@pytest.mark.parametrize(("many", "more"), [(2, ""), (SHOWN, ""), (SHOWN + 3, " and 3 more")])
def test_what_keeps_a_highest_dose_unknown_is_named_and_the_rest_counted(library, many, more):
    base = library.limits(accord(("oakmoss-absolute", 1.0)), dose=1, product="fine-fragrance")
    one = next(row for row in base.verdict.rows if row.sources)
    doubts = tuple(
        replace(one, name=f"s{number}", ok=None, unassessed=(), of_dose=True, probably_broken=False)
        for number in range(many)
    )
    verdict = replace(base.verdict, rows=doubts, max_dose_known_pct=2.34567)
    told = replace(base, verdict=verdict).highest_in_words()
    assert told.startswith(
        f"not known: {', '.join(f's{number}' for number in range(min(many, SHOWN)))}{more}; "
    )
    assert told.endswith("by what is known at most 2.34 %")  # cut, not rounded


# -- keywords that several questions share ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "ask",
    [
        lambda library, **more: library.adjust(library.demo / "accords" / "sealing-wax.csv", **more),
        lambda library, **more: library.rebalance(library.demo / "accords" / "sealing-wax.csv", **more),
        lambda library, **more: library.plan([], shelf=library.demo / "shelf.csv", **more),
        lambda library, **more: library.swap("linalool", **more),
        lambda library, **more: library.situate(**more),
    ],
)
def test_a_keyword_that_no_question_knows_is_refused(library, ask):
    with pytest.raises(TypeError, match="'dosis'"):
        ask(library, dosis=3)


def test_a_question_is_resolved_once_whatever_is_left_out(library):
    named = library.situate(product="hand-soap", dose=1.0, limits=["ifra-49"])
    assert named is library.situate(product="hand-soap", dose=1.0, limits=("ifra-49",), market=None, on=None)
    assert [one.limit_set.id for one in named.context.sets] == ["ifra-49"]
    assert named is not library.situate(product="hand-soap", dose=2.0, limits=("ifra-49",))


def test_percentages_are_never_in_powers_of_ten():
    from substitute.figures import given

    assert [given(value) for value in (10.0, 12.345678, 0.0000258, 100.0)] == [
        "10 %",
        "12.3457 %",
        "0.0000258 %",
        "100 %",
    ]
    assert given(None) == "unknown"
