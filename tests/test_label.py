"""The text for a bottle: names and thresholds against Regulation (EU) 2023/1545, the order of the list, drafts that stay drafts."""

from __future__ import annotations

import csv
import datetime as dt
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from substitute.answers import lay_out
from substitute.answers.page import answer_page
from substitute.cli import cli
from substitute.errors import InputError
from substitute.records import Accord, Line
from substitute.rules.label import label
from substitute.rules.label_list import LabelName, in_order

REFERENCE = Path(__file__).parent / "reference" / "eu_2023_1545_labels.csv"
CLAIMS = re.compile(
    r"(?<!not )\b(is|are) (safe|legal|compliant|fine|approved|certified)\b|certificate|conforms", re.I
)


@pytest.fixture(scope="module")
def rose(library):
    return library.read_accord(library.demo / "accords" / "rose-on-the-dust-jacket.csv")


def labelled(library, accord, **where):
    return library.label(accord, **where).to_dict()


def allergens(answer) -> set[str]:
    return {one["name"] for one in answer["names"] if one["role"] == "allergen"}


def test_thresholds_of_the_regulation(library):
    """Regulation (EU) 2023/1545: every name that stands for one material is called for just over 0.001 % of what stays on and 0.01 % of
    what is rinsed off, and not just under it."""
    with REFERENCE.open(encoding="utf-8") as file:
        published = {row["label"]: row for row in csv.DictReader(file)}
    own = {
        row.note: row.substance
        for row in library.tables.limits
        if row.limit_set == "eu-2023-1545"
        and row.rule == "declare"
        and row.substance in library.tables.materials
    }
    tried = 0
    for name, material in own.items():
        if library.tables.materials[material].kind != "molecule" or library.tables.releases.get(material):
            continue
        for product, key in (("body-lotion", "leave_on_pct"), ("shampoo", "rinse_off_pct")):
            limit, accord = (
                float(published[name][key]),
                Accord("one", (Line(material, 1.0), Line("ethanol", 9.0))),
            )
            for factor, called in ((0.98, False), (1.02, True)):
                answer = labelled(library, accord, product=product, dose=10 * limit * factor, on="2026-12-01")
                assert (name in allergens(answer)) is called, (name, product, factor)
        tried += 1
    assert tried > 25


def test_dates_of_the_regulation(library, rose):
    """New products from 31 July 2026; stock sold before may keep the 26 names until 31 July 2028 (Regulation (EU) 2023/1545)."""
    where = {"product": "eau-de-toilette", "dose": 8}
    before = labelled(library, rose, on="2026-07-30", **where)
    after = labelled(library, rose, on="2026-07-31", **where)
    assert allergens(before) == {"Citronellol", "Geraniol", "Linalool", "Eugenol", "Citral"}
    assert allergens(before) < allergens(after)
    assert set(after["names_before"]) == allergens(before)
    assert before["names_before"] == []
    assert labelled(library, rose, on="2028-07-31", **where)["names_before"]
    assert labelled(library, rose, on="2028-08-01", **where)["names_before"] == []


name = st.builds(
    LabelName,
    st.text("abcdef", min_size=1, max_size=4),
    st.floats(1e-5, 90),
    st.sampled_from(["allergen", "base", "composition"]),
)


@given(st.lists(name, max_size=12))
def test_order_of_the_list(names):
    """Regulation (EC) No 1223/2009, Article 19(1)(g) (recalled): by weight; what is under 1 % in any order after the rest."""
    found = in_order(names)
    assert sorted(found, key=str) == sorted(names, key=str)
    above = [one.pct for one in found if one.pct >= 1.0]
    assert above == sorted(above, reverse=True)
    assert [one.pct >= 1.0 for one in found] == [True] * len(above) + [False] * (len(found) - len(above))


def test_the_base_takes_its_place(library, rose):
    answer = labelled(
        library,
        rose,
        product="eau-de-toilette",
        dose=8,
        base={"Aqua": 12, "Alcohol  Denat.": 79.5, "Tocopherol": 0.05},
    )
    expected = "Ingredients: Alcohol Denat., Aqua, Parfum, Citronellol, Geraniol, Tocopherol, Citral"
    assert answer["text"].startswith(expected)
    assert not any("other ingredients" in one for one in answer["undecided"])
    without = labelled(library, rose, product="shampoo", dose=1)
    assert any("other ingredients" in one for one in without["undecided"])


@pytest.mark.parametrize(
    ("base", "message"),
    [
        ({"Aqua": 95.0}, "more than the whole"),
        ({"Aqua": -1.0}, "out of range"),
        ({"Aqua": float("nan")}, "out of range"),
        ({"  ": 1.0}, "needs its label name"),
    ],
)
def test_bad_base(library, rose, base, message):
    with pytest.raises(InputError, match=message):
        library.label(rose, product="eau-de-toilette", dose=8, base=base)


def test_an_accord_of_nothing_has_no_label(library):
    nothing = Accord("empty jar", (Line("linalool", 0.0),))
    with pytest.raises(
        InputError, match="empty jar: nothing in it has any parts, so there is nothing to label"
    ):
        library.label(nothing, product="hand-lotion", dose=1)
    there = library.situate(product=None)
    with pytest.raises(InputError, match="a label needs a product or a category, and a dose"):
        label(there, Accord("one", (Line("linalool", 1.0),)))


def test_what_only_a_high_lot_calls_for_is_told_as_that(library):
    """A natural alone, no carrier: names between typical and high are marked, and the lot's own analysis may drop
    them; at twenty times the dose every one is called for."""
    oil = Accord("one", (Line("rose-oil", 1.0),))
    some = labelled(library, oil, product="hand-lotion", dose=0.1)
    between = {one["name"] for one in some["names"] if one["state"] == "between"}
    assert "Eugenol" in between
    assert any("the lot's own analysis may drop them" in one for one in some["undecided"])
    all_ = labelled(library, oil, product="hand-lotion", dose=20.0)
    assert between <= {one["name"] for one in all_["names"] if one["state"] == "declare"}
    for answer in (some, all_):
        assert not any("carrier" in one for one in answer["undecided"])
    diluted = Accord("one", (Line("rose-oil", 1.0, 50.0),))
    told = labelled(library, diluted, product="hand-lotion", dose=0.1)["undecided"]
    assert any("the carrier of the composition" in one for one in told)


def test_a_product_is_wanted(library, rose):
    with pytest.raises(InputError):
        library.label(rose, dose=8)


@pytest.mark.parametrize(
    ("product", "market", "kind", "word"),
    [
        ("candle", "EU", "home", None),
        ("room-spray", "UK", "home", None),
        ("laundry-detergent", "EU", "detergent", "Perfumes"),
        ("hand-lotion", "US", "cosmetic", "Fragrance"),
        ("hand-lotion", "UK", "cosmetic", "Parfum"),
    ],
)
def test_by_product_and_market(library, rose, product, market, kind, word):
    answer = labelled(library, rose, product=product, market=market, dose=2)
    assert answer["kind"] == kind
    assert (word in [one["name"] for one in answer["names"]]) if word else answer["text"] == ""
    assert answer["words"]
    assert all(one["law"] for one in answer["words"])
    assert bool(answer["sensitisers"]) is (kind in ("home", "detergent"))
    assert any("hazardous" in one for one in answer["undecided"]) is (kind in ("home", "detergent"))


def test_a_detergent_names_what_exceeds_a_hundredth(library):
    """Regulation (EC) No 648/2004, Annex VII A (recalled): allergens over 0.01 %."""
    accord = Accord("one", (Line("linalool", 1.0), Line("ethanol", 9.0)))
    where = {"product": "fabric-softener"}
    assert allergens(labelled(library, accord, dose=0.11, **where)) == {"Linalool"}
    assert allergens(labelled(library, accord, dose=0.09, **where)) == set()


def test_it_never_looks_like_a_certificate(library, rose):
    for kind, answer in (
        ("label", labelled(library, rose, product="eau-de-toilette", dose=8)),
        ("reach", library.reach(rose).to_dict()),
    ):
        page = answer_page(lay_out(kind, answer))
        words = re.sub(r"<style.*?</style>|<[^>]+>", " ", page, flags=re.S)
        assert not CLAIMS.search(words), CLAIMS.search(words)
        assert "<img" not in page
        assert not re.search(r"signature|signed by|No\. \d|reference number", words, re.I)
    assert "certifies nothing" in " ".join(words.split())
    assert (
        "Draft, not to be printed"
        in lay_out("label", labelled(library, rose, product="candle", dose=8)).headline
    )


def test_reach_is_worst_and_unknown_first(library):
    accord = Accord("moss", (Line("oakmoss-absolute", 1.0), Line("linalool", 9.0)))
    moss = library.reach(accord).to_dict()["products"]
    order = [("none", "unknown", "limited", "nothing on file").index(one["state"]) for one in moss]
    assert order == sorted(order)
    every = [name for one in moss for name in one["products"]]
    assert sorted(every) == sorted(library.product_ids())
    banned = "hydroxyisohexyl-3-cyclohexene-carboxaldehyde"
    found = library.reach(Accord("ban", (Line(banned, 1.0), Line("linalool", 9.0))))
    assert found.rows[0].state == "none"
    assert found.on == dt.date.today()
    for row in moss:
        if row["most_known_pct"]:
            dose = min(row["most_known_pct"] * 0.999, 100.0)
            assert library.limits(accord, dose=dose, product=row["products"][0]).within_known is not False


def test_commands(library, tmp_path):
    path = str(library.demo / "accords" / "rose-on-the-dust-jacket.csv")
    out = tmp_path / "label.html"
    where = ["--product", "eau-de-toilette", "--dose", "8"]
    run = CliRunner().invoke(
        cli, ["label", path, *where, "--base", "Aqua=12", "--out", str(out), "--format", "json"]
    )
    assert run.exit_code == 0, run.output
    assert json.loads(run.stdout)["text"].startswith("Ingredients: Aqua, Parfum")
    assert "Draft, not to be printed" in out.read_text()
    for bad in ("Aqua", "Aqua=", "=3", "Aqua=x"):
        assert CliRunner().invoke(cli, ["label", path, *where, "--base", bad]).exit_code != 0
    run = CliRunner().invoke(cli, ["reach", path, "--market", "UK"])
    assert run.exit_code == 0
    assert "certifies nothing" in " ".join(run.output.split())


def test_what_else_is_in_the_product_is_asked_unless_it_is_told(library, rose):
    def asked(**where) -> bool:
        return any(
            "what else is in the product" in one for one in labelled(library, rose, **where)["undecided"]
        )

    assert asked(product="hand-lotion", dose=1.0)
    assert not asked(product="hand-lotion", dose=1.0, base={"Aqua": 90.0})
    assert not asked(product="candle", dose=6.0)
