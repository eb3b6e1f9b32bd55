"""The shipped tables as one package: schema, keys, counts, and an answer to "how is this known?" on every
figure.
"""

from __future__ import annotations

import json
import shutil
from collections import Counter, defaultdict

import chemicals
import pytest
from frictionless import Package

from substitute.records import HAZARDS, PRICES
from substitute.tables.load import data_folder
from substitute.tables.schema import read_package
from substitute.tables.typed import read_all

WITH_SOURCE = (
    "materials",
    "properties",
    "constituents",
    "releases",
    "limits",
    "controls",
    "prices",
    "hazards",
    "lifts",
    "swaps",
)
UNDOCUMENTED = ("memory", "practice")  # kinds of source that are nobody's document


@pytest.fixture(scope="module")
def rows():
    """Typed rows of every table, and complaints."""
    typed, _, _, complaints = read_all(None)
    return {name: list(found.values()) for name, found in typed.items()}, complaints


def with_odour(tables):
    return [m for m in tables.materials.values() if m.stocked and m.kind != "solvent"]


# -- the package ---------------------------------------------------------------------------------------------


def test_frictionless_finds_the_package_valid():
    report = Package(str(data_folder() / "datapackage.json")).validate()
    assert report.valid, report.to_summary()
    looked_at = {task.place for task in report.tasks}
    assert looked_at == {path.name for path in data_folder().glob("*.csv")}


def test_our_own_check_finds_nothing(rows):
    assert [str(complaint) for complaint in rows[1]] == []


def test_every_csv_beside_the_description_is_described():
    described = {resource.path for resource in read_package(data_folder()).values()}
    assert {path.name for path in data_folder().glob("*.csv")} == described


def test_every_column_of_numbers_says_what_it_counts():
    for resource in read_package(data_folder()).values():
        assert resource.primary_key, f"{resource.name} has no key"
        silent = [field.name for field in resource.fields if field.type == "number" and not field.description]
        assert not silent, f"{resource.name}: {silent}"


# What is wrong -> file, a row to add to it, and what a complaint must name. References are looked at only where
# every cell can be read and no key stands twice, so the two kinds are read apart.
REFERENCES = {
    "an unknown material": ("profiles.csv", "no-such-material,mossy,5,practice", "no-such-material"),
    "an unknown descriptor": ("profiles.csv", "linalool,no-such-word,5,practice", "no-such-word"),
    "an unknown source": (
        "properties.csv",
        "linalool,density_g_ml,0.9,,memory,no-such-source",
        "no-such-source",
    ),
}
CELLS = {
    "a value out of range": ("profiles.csv", "linalool,leathery,11,practice", "11"),
    "a basis not on the list": ("profiles.csv", "linalool,tarry,5,hearsay", "hearsay"),
    "a key that stands twice": (
        "properties.csv",
        'linalool,potency,1,"strip, use level",practice,practice',
        "linalool, potency",
    ),
}


def broken(folder, cases):
    """A copy of the shipped tables with the rows of ``cases`` at their ends."""
    shutil.copytree(data_folder(), folder, ignore=shutil.ignore_patterns("demo"))
    for file, row, _ in cases:
        with (folder / file).open("a", encoding="utf-8") as table:
            table.write(row + "\n")
    return folder


@pytest.mark.parametrize("faults", [REFERENCES, CELLS], ids=["references", "cells"])
def test_our_check_notices(faults, tmp_path):
    complaints = read_all(None, shipped=broken(tmp_path / "data", faults.values()))[3]
    assert len(complaints) == len(faults)
    for what, (file, _, word) in faults.items():
        assert any(
            complaint.file.endswith(file) and complaint.row and word in complaint.message
            for complaint in complaints
        ), what


def test_frictionless_notices_the_same(tmp_path):
    """Of the files with faults and of those they refer to."""
    folder = broken(tmp_path / "data", [*REFERENCES.values(), *CELLS.values()])
    description = folder / "datapackage.json"
    package = json.loads(description.read_text(encoding="utf-8"))
    wanted = {"profiles", "properties", "materials", "descriptors", "sources"}
    package["resources"] = [one for one in package["resources"] if one["name"] in wanted]
    description.write_text(json.dumps(package), encoding="utf-8")
    report = Package(str(description)).validate()
    found = Counter((task.name, error.type) for task in report.tasks for error in task.errors)
    assert found["profiles", "foreign-key"] == 2
    assert found["profiles", "constraint-error"] == 2
    assert found["properties", "foreign-key"] == 1
    assert found["properties", "primary-key"] == 1
    assert found.total() == len(REFERENCES) + len(CELLS)


# -- how much there is ---------------------------------------------------------------------------------------


def test_counts(tables):
    kinds = Counter(material.kind for material in tables.materials.values() if material.stocked)
    assert sum(kinds.values()) >= 550
    assert kinds["natural"] >= 170
    assert kinds["molecule"] + kinds["mixture"] >= 360
    assert {
        "ethanol",
        "dipropylene-glycol",
        "isopropyl-myristate",
        "triethyl-citrate",
        "diethyl-phthalate",
        "water",
    } <= set(tables.materials)
    assert kinds["solvent"] >= 5


def test_descriptors_are_a_tree_of_few_families(tables):
    assert 100 <= len(tables.descriptors) <= 190
    families = [word for word in tables.descriptors.values() if not word.parent]
    assert 8 <= len(families) <= 18
    assert all(len(word.definition) >= 10 for word in tables.descriptors.values())
    assert len({word.definition for word in tables.descriptors.values()}) == len(tables.descriptors)


def test_every_descriptor_is_used(tables):
    used = {word for profile in tables.profiles.values() for word in profile}
    parents = {word.parent for word in tables.descriptors.values()}
    assert sorted(set(tables.descriptors) - used - parents) == []


def test_constituents(tables):
    assert sum(len(found) for found in tables.constituents.values()) >= 1000
    naturals = [name for name in tables.constituents if tables.materials[name].kind == "natural"]
    assert len(naturals) >= 130


def test_what_was_found_was_looked_for(tables):
    """A constituent with a share is among the ``assessed``, or those are ``all``."""
    missed = [
        (natural, part.id)
        for natural, found in tables.constituents.items()
        for part in found
        if tables.materials[natural].assessed and not tables.materials[natural].assessed & {"all", part.id}
    ]
    assert missed == []


def test_low_and_high_enclose_typical(tables):
    for natural, found in tables.constituents.items():
        assert sum(part.typical for part in found) <= 100 + 1e-9, natural
        for part in found:
            assert 0 <= part.low <= part.typical <= part.high <= 100, (natural, part.id)


# -- profiles ------------------------------------------------------------------------------------------------


def test_profiles_have_five_to_nine_words(tables):
    odd = {
        m.id: len(tables.profiles.get(m.id, {}))
        for m in with_odour(tables)
        if not 5 <= len(tables.profiles.get(m.id, {})) <= 9
    }
    assert odd == {}


def test_profiles_use_their_scale(tables):
    """What tells a material apart weighs more than what it shares: at least three different weights, one of
    them well up the scale.
    """
    stocked = {
        name: set(profile.values())
        for name, profile in tables.profiles.items()
        if tables.materials[name].stocked
    }
    flat = [name for name, weights in stocked.items() if max(weights) < 4 or len(weights) < 3]
    assert flat == []


def test_no_profile_is_identical_to_another(tables):
    same = defaultdict(list)
    for name, profile in tables.profiles.items():
        same[frozenset(profile.items())].append(name)
    assert [names for names in same.values() if len(names) > 1] == []


def test_what_smells_has_potency_and_tenacity(tables):
    assert [name for name in tables.profiles if not tables.value(name, "potency")] == []
    assert [name for name in tables.profiles if not tables.value(name, "tenacity_h")] == []


def test_lasting_has_no_cap(tables):
    """No heap of materials stands at the longest figure, and the longest last for months."""
    found = sorted(
        figures["tenacity_h"].value for figures in tables.properties.values() if "tenacity_h" in figures
    )
    assert found[-1] >= 60 * 24
    assert found.count(found[-1]) <= 2
    assert sum(value >= 400 for value in found) >= 100
    assert max(Counter(value for value in found if value >= 400).values()) <= 10


# Common practice, no source: the left stays on a strip longer than the right.
LONGER = [
    ("musk-ketone", "hexamethylindanopyran"),
    ("ethyl-vanillin", "vanillin"),
    ("vanillin", "coumarin"),
    ("dioxane-woody-amber", "ambroxide"),
    ("labdanum-absolute", "patchouli-oil"),
    ("oakmoss-absolute", "sandalwood-oil-east-indian"),
    ("benzyl-salicylate", "hexyl-salicylate"),
    ("ethylene-brassylate", "pentadecanolide"),
]


@pytest.mark.parametrize(("longer", "shorter"), LONGER)
def test_what_stays_longer_is_said_to(longer, shorter, tables):
    assert tables.value(longer, "tenacity_h") > tables.value(shorter, "tenacity_h")


def test_potency_is_a_ratio_scale_around_coumarin(tables):
    assert tables.value("coumarin", "potency") == 1.0
    found = [tables.value(m.id, "potency") for m in with_odour(tables)]
    assert min(found) > 0
    assert max(found) / min(found) >= 1e4  # from a weak fixative to a sulphur trace


def test_vapour_pressure_for_most_molecules(tables):
    molecules = [m.id for m in tables.materials.values() if m.kind == "molecule"]
    known = [name for name in molecules if tables.value(name, "vapour_pressure_pa") is not None]
    assert len(known) / len(molecules) >= 0.85


def test_stocked_materials_are_described(tables):
    assert [m.id for m in with_odour(tables) if len(m.description) < 15] == []
    texts = Counter(m.description for m in with_odour(tables))
    assert [text for text, times in texts.items() if times > 1] == []


def test_naturals_say_from_what_and_how(tables):
    bare = [
        m.id
        for m in tables.materials.values()
        if m.kind == "natural" and m.stocked and not (m.botanical and m.part and m.process)
    ]
    assert bare == []


# -- prices and hazards --------------------------------------------------------------------------------------


def test_every_stocked_material_has_a_price_in_words(tables):
    assert [m.id for m in tables.materials.values() if m.stocked and m.id not in tables.prices] == []
    assert {price.word for price in tables.prices.values()} == set(PRICES)


# Common practice, no source: the left costs more per gram than the right.
DEARER = [
    ("vanilla-absolute", "vanillin"),
    ("rose-absolute", "geranium-oil"),
    ("neroli-oil", "petitgrain-oil"),
    ("sandalwood-oil-east-indian", "isobornyl-cyclohexanol"),
    ("agarwood-oil", "oud-synthetic-base"),
    ("orris-butter", "alpha-irone"),
    ("alpha-irone", "alpha-isomethyl-ionone"),
    ("lavender-oil", "lavandin-oil"),
    ("bergamot-oil", "sweet-orange-oil"),
    ("melissa-oil", "lemongrass-oil"),
    ("tuberose-absolute", "ylang-ylang-oil-extra"),
    ("cinnamon-bark-oil", "cinnamon-leaf-oil"),
    ("tonka-bean-absolute", "coumarin"),
    ("jasmine-absolute", "methyl-dihydrojasmonate"),
    ("muscone", "ethylene-brassylate"),
    ("sandalwood-oil-east-indian", "sandalwood-oil-australian"),
]


@pytest.mark.parametrize(("dear", "cheaper"), DEARER)
def test_what_costs_more_is_said_to(dear, cheaper, tables):
    assert tables.prices[dear].step > tables.prices[cheaper].step


def test_no_evidence_for_a_price_names_a_dearer_word(tables):
    """Another curator's rows for swaps by price, held against the words for prices."""
    pairs = [(swap.missing, swap.stand_in) for swap in tables.swaps if swap.because == "price"]
    assert len(pairs) >= 100
    wrong = [pair for pair in pairs if tables.prices[pair[1]].step > tables.prices[pair[0]].step]
    assert wrong == []
    assert sum(tables.prices[a].step > tables.prices[b].step for a, b in pairs) >= 0.7 * len(pairs)


def test_hazards_are_short_lines_of_ours(tables):
    assert {one.hazard for found in tables.hazards.values() for one in found} == set(HAZARDS)
    long = [(m, one.words) for m, found in tables.hazards.items() for one in found if len(one.words) > 130]
    assert long == []
    for found in tables.hazards.values():
        assert not any(word in one.words for one in found for word in (" safe", "legal", "compliant", "fine"))


def members(tables, name):
    """The materials that a substance of the limits stands for."""
    if name in tables.materials:
        return {name}
    return {found for one in tables.groups[name] for found in members(tables, one)}


def test_what_labels_name_sensitises(tables):
    """Every material of Regulation (EU) 2023/1545's list that can be weighed carries the word."""

    named = {
        material
        for limit in tables.limits
        if limit.limit_set == "eu-2023-1545" and limit.rule == "declare"
        for material in members(tables, limit.substance)
        if tables.materials[material].stocked
    }
    assert len(named) > 80
    assert sorted(named - {m for m, found in tables.hazards.items() if "sensitises" in kinds(found)}) == []


def kinds(found):
    return {one.hazard for one in found}


def test_whatever_is_prohibited_says_why(tables):
    forbidden = {
        material
        for limit in tables.limits
        if limit.rule in ("prohibited", "prohibited_as_such")
        for material in members(tables, limit.substance)
    }
    assert sorted(m for m in forbidden if "prohibited_because" not in kinds(tables.hazards.get(m, ()))) == []


def test_what_catches_fire_is_said_to_burn(tables):
    """Flash points of IEC 60079-20-1, NFPA 497 and DIPPR as compiled in chemicals: 60 °C and under burns (the
    GHS threshold).
    """
    wrong, seen = [], 0
    for m in tables.materials.values():
        if not (m.stocked and m.kind in ("molecule", "solvent") and m.owns_cas and m.cas):
            continue
        flash = next((t for t in (chemicals.T_flash(m.main_cas, method=one) for one in FLASH) if t), None)
        if flash is None:
            continue
        seen += 1
        if (flash - 273.15 <= 60) != ("burns" in kinds(tables.hazards.get(m.id, ()))):
            wrong.append((m.id, flash - 273.15))
    assert seen >= 60
    assert wrong == []


FLASH = ("IEC 60079-20-1 (2010)", "NFPA 497 (2008)", "Serat DIPPR (2017)")


def test_what_may_cause_cancer_is_said_to(tables):
    """IARC Monographs, classes 1, 2A and 2B, as compiled in chemicals."""
    agency = "International Agency for Research on Cancer"
    listed = {
        m.id
        for m in tables.materials.values()
        if m.kind in ("molecule", "solvent")
        and m.owns_cas
        and m.cas
        and chemicals.Carcinogen(m.main_cas)[agency].endswith(("(1)", "(2A)", "(2B)"))
    }
    assert len(listed) >= 10
    assert sorted(m for m in listed if "long_term" not in kinds(tables.hazards.get(m, ()))) == []


# Common practice, no source: bottles whose label carries the warning everywhere.
WARNED = {
    "bergamot-oil": {"light", "burns", "sensitises"},
    "lime-oil-expressed": {"light", "pets"},
    "methyl-salicylate": {"children", "unborn_child", "pets"},
    "pennyroyal-oil": {"children", "unborn_child", "pets"},
    "eucalyptus-oil": {"children", "breathing", "burns"},
    "thyme-oil": {"eyes", "pets"},
    "cinnamal": {"eyes", "sensitises"},
    "ethanol": {"burns", "eyes", "children"},
    "vanilla-tincture": {"burns"},
    "tea-tree-oil": {"pets", "children"},
    "savin-oil": {"unborn_child", "prohibited_because"},
}


@pytest.mark.parametrize("material", WARNED)
def test_known_bottles_carry_their_warnings(material, tables):
    assert kinds(tables.hazards[material]) >= WARNED[material]


# -- how it is known -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("table", WITH_SOURCE)
def test_every_row_has_basis_and_a_known_source(table, rows, tables):
    for row in rows[0][table]:
        assert row["basis"] in ("published", "practice", "memory", "estimate"), row["_row"]
        assert row["source"] in tables.sources, row["_row"]


@pytest.mark.parametrize("table", WITH_SOURCE)
def test_published_rows_cite_a_document(table, rows, tables):
    wrong = [
        (row["_row"].number, row["source"])
        for row in rows[0][table]
        if row["basis"] == "published" and tables.sources[row["source"]].kind in UNDOCUMENTED
    ]
    assert wrong == []


@pytest.mark.parametrize("table", WITH_SOURCE)
def test_recalled_rows_cite_no_document_as_if_read(table, rows, tables):
    wrong = [
        (row["_row"].number, row["source"])
        for row in rows[0][table]
        if row["basis"] == "memory" and tables.sources[row["source"]].kind in ("standard", "paper", "dataset")
    ]
    assert wrong == []


def test_every_source_is_cited(rows, tables):
    cited = {row["source"] for table in (*WITH_SOURCE, "limit_sets") for row in rows[0][table]}
    cited |= {row["panel"] for row in rows[0]["impressions"]}  # a panel is the source of its words
    assert sorted(set(tables.sources) - cited) == []


def test_no_marks_of_trade():
    """Registered marks have signs; names without them are the curators' care."""
    for path in data_folder().rglob("*.csv"):
        text = path.read_text(encoding="utf-8")
        assert not set(text) & set("®™©"), path.name
