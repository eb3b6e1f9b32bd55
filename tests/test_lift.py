"""A clean note that helps an accord carry: who is asked, how little, what it does."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from substitute.errors import InputError
from substitute.odour.perception import impression, match
from substitute.records import STAGES, Accord, Line, Shelf, Stock
from substitute.shelf.lift import LEAST_MATCH, MOST_PCT, is_lift


@pytest.fixture(scope="module")
def rose(library):
    return library.read_accord(library.demo / "accords" / "rose-on-the-dust-jacket.csv")


@pytest.mark.parametrize(
    ("material", "expected"),
    [
        ("methyl-dihydrojasmonate", True),
        ("hexamethylindanopyran", True),
        ("indole", False),
        ("patchouli-oil", False),
        ("limonene", False),
        ("vanillin", False),
        ("dodecanal", False),
    ],
)
def test_who_is_a_lift(library, material, expected):
    assert is_lift(library.tables, material) is expected


def test_suggestions(library, rose):
    found = library.lift(rose)
    assert 1 <= len(found.suggestions) <= 3
    assert found.core == ("phenethyl-alcohol", "citronellol", "geraniol")
    for one in found.suggestions:
        assert is_lift(library.tables, one.material)
        assert not one.law
        assert 0 < one.parts <= MOST_PCT / 100 * rose.total * 1.05
        assert LEAST_MATCH <= one.match <= 1
        held = rose.active()
        rows = library.staged.rows(list(held))
        before = impression(list(held.values()), library.staged.potency[rows], library.staged.profile[rows])
        held[one.material] = held.get(one.material, 0.0) + one.parts
        rows = library.staged.rows(list(held))
        assert one.match == pytest.approx(
            match(
                impression(list(held.values()), library.staged.potency[rows], library.staged.profile[rows]),
                before,
            ).overall
        )
        assert all(core is None or core > 0.5 for core in one.core)
    assert found.to_dict() == library.lift(rose).to_dict()


def test_only_what_is_on_the_shelf(library, rose):
    shelf = Shelf((Stock("ethylene-brassylate"), Stock("vanillin")))
    assert {one.material for one in library.lift(rose, shelf=shelf).suggestions} <= {"ethylene-brassylate"}
    assert "on the shelf" in library.lift(rose, shelf=Shelf((Stock("vanillin"),))).notes[-1]


def test_an_accord_without_roles(library):
    found = library.lift(Accord("a", (Line("eugenol", 3.0), Line("vanillin", 5.0))))
    assert set(found.core) == {"vanillin", "eugenol"}
    assert "no line has the role core" in found.notes[0]


def test_bad_input(library):
    with pytest.raises(InputError, match="nothing to lift"):
        library.lift(Accord("a", (Line("ethanol", 1.0),)))
    with pytest.raises(InputError, match="--top 0 is out of range"):
        library.lift(Accord("a", (Line("linalool", 1.0),)), top=0)


def test_command(library):
    from substitute.cli import cli

    path = str(library.demo / "accords" / "rose-on-the-dust-jacket.csv")
    answer = json.loads(CliRunner().invoke(cli, ["lift", path, "--format", "json"]).output)
    assert {"id", "parts", "match", "why"} <= set(answer["suggestions"][0])
    assert set(answer["suggestions"][0]["core_strength"]) == set(STAGES)
    assert "core's strength" in CliRunner().invoke(cli, ["lift", path]).output
