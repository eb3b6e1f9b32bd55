"""What helps an accord carry: the weak line, the rows of practice, bench amounts, three flowers that get three answers."""

from __future__ import annotations

import itertools
import json

import pytest
from click.testing import CliRunner
from effort import thorough

from substitute.errors import InputError
from substitute.odour.perception import impression, match
from substitute.records import STAGES, Accord, Line, Shelf, Stock
from substitute.shelf.lift_asked import practice_for
from substitute.shelf.lift_trial import LEAST_MATCH

FLOWERS = (
    "rose-on-the-dust-jacket",
    "night-school-jasmine",
    "lily-without-the-old-names",
    "hyacinth-on-the-counter",
    "purple-ribbon-marker",
    "wedding-chapter",
    "conductors-buttonhole",
    "windowsill-pelargonium",
)


@pytest.fixture(scope="module")
def flowers(library):
    return {name: library.read_accord(library.demo / "accords" / f"{name}.csv") for name in FLOWERS}


@pytest.fixture(scope="module")
def lifts(library, flowers):
    return {name: library.lift(accord) for name, accord in flowers.items()}


@pytest.fixture(scope="module")
def rose(flowers):
    return flowers["rose-on-the-dust-jacket"]


def heard(library, amounts):
    rows = library.staged.rows(list(amounts))
    return impression(list(amounts.values()), library.staged.potency[rows], library.staged.profile[rows])


def test_flowers_are_told_apart(lifts):
    sets = {name: frozenset(one.material for one in found.suggestions) for name, found in lifts.items()}
    assert all(sets.values())
    for one, other in itertools.combinations(FLOWERS, 2):
        assert sets[one] != sets[other], (one, other)
        assert len(sets[one] & sets[other]) <= 2


def test_the_weak_line(library):
    """Limonene is gone from a strip within hours and vanillin stays for weeks (handbook tenacities, common practice): at the drydown the
    peel is what is not heard."""
    found = library.lift(
        Accord(
            "a",
            (Line("limonene", 8.0, role="core"), Line("vanillin", 2.0, role="core"), Line("linalool", 2.0)),
        )
    )
    assert found.weak.material == "limonene"
    assert STAGES[found.weak.needs] == "drydown"
    assert "goes first" in found.weak.why
    assert [one.voice for one in found.lines] == sorted(one.voice for one in found.lines)


def test_suggestions(library, flowers, lifts):
    for name, found in lifts.items():
        accord = flowers[name]
        held = {m: g for m, g in accord.active().items() if m in library.tables.profiles}
        before = heard(library, held)
        core = {line.material for line in accord.lines if line.role == "core"}
        assert found.weak.material in core
        assert 1 <= len(found.suggestions) <= 3
        for one in found.suggestions:
            assert one.material not in core
            assert not one.law
            assert LEAST_MATCH <= one.match <= 1
            assert one.parts in [amount.parts for amount in one.amounts]
            after = heard(library, {**held, one.material: held.get(one.material, 0.0) + one.parts})
            assert one.match == pytest.approx(match(after, before).overall)
            usual = library.tables.value(one.material, "use_high_pct")
            assert usual is None or one.parts <= usual / 100 * accord.total * 1.01
            if one.practice:
                share = 100 * one.parts / accord.total
                assert one.practice.low_pct * 0.99 <= share <= one.practice.high_pct * 1.01
            else:
                assert one.parts <= held[found.weak.material] * 1.01
                assert one.amounts[-1].gain > 1
        assert found.strips


def test_practice_comes_first(library, lifts):
    """Methyl dihydrojasmonate for jasmine, violet leaf or orris for violet, a trace of galbanum for hyacinth: common practice, no source."""
    told = {name: {one.material for one in found.suggestions} for name, found in lifts.items()}
    assert "methyl-dihydrojasmonate" in told["night-school-jasmine"]
    assert {"violet-leaf-absolute", "orris-butter"} & told["purple-ribbon-marker"]
    assert "galbanum-oil" in told["hyacinth-on-the-counter"]
    assert "rose-absolute" in told["rose-on-the-dust-jacket"]
    assert "methyl-dihydrojasmonate" not in practice_for(library.tables, "methyl-dihydrojasmonate")
    for rows in library.tables.lifts.values():
        for row in rows:
            assert 0 < row.low_pct <= row.high_pct <= 100
            assert library.tables.materials[row.material].stocked
            assert row.note
            assert row.basis in {"practice", "memory"}


def test_nothing_forbidden_and_no_more_than_allowed(library, flowers):
    """In a baby lotion nothing that may not be there; what is limited stays under its limit beside what is there already."""
    where = {"product": "baby-lotion", "dose": 0.2}
    situation = library.situate(**where)
    for accord in list(flowers.values())[:: 1 if thorough() else 3]:
        for one in library.lift(accord, top=6, **where).suggestions:
            assert not situation.forbidden(one.material)
            most = situation.most_pct(one.material)
            there = accord.active().get(one.material, 0.0)
            assert most is None or (there + one.parts) / accord.total * 0.2 <= most * 1.01


def test_a_forbidden_line_is_not_lifted(library):
    accord = library.read_accord(library.demo / "accords" / "may-day-loan.csv")
    found = library.lift(accord)
    assert not library.situate().forbidden(found.weak.material)


def test_only_what_is_on_the_shelf(library, rose):
    shelf = Shelf((Stock("rose-absolute"), Stock("vetiver-oil")))
    assert {one.material for one in library.lift(rose, shelf=shelf).suggestions} == {"rose-absolute"}
    assert "on the shelf" in library.lift(rose, shelf=Shelf((Stock("vetiver-oil"),))).notes[-1]


def test_an_accord_without_roles(library):
    found = library.lift(Accord("a", (Line("eugenol", 3.0), Line("vanillin", 5.0))))
    assert {one.material for one in found.lines} == {"vanillin", "eugenol"}
    assert "no line has the role core" in found.notes[0]


def test_a_single_line(library):
    assert library.lift(Accord("a", (Line("geraniol", 3.0),))).weak.material == "geraniol"


def test_bad_input(library):
    with pytest.raises(InputError, match="nothing to lift"):
        library.lift(Accord("a", (Line("ethanol", 1.0),)))
    with pytest.raises(InputError, match="`top` 0 is out of range"):
        library.lift(Accord("a", (Line("linalool", 1.0),)), top=0)
    with pytest.raises(InputError, match="dose"):
        library.lift(Accord("a", (Line("linalool", 1.0),)), product="candle")


def test_command(library, tmp_path):
    from substitute.cli import cli

    path, out = str(library.demo / "accords" / "rose-on-the-dust-jacket.csv"), str(tmp_path / "lift.html")
    run = CliRunner().invoke(cli, ["lift", path, "--out", out, "--format", "json"])
    assert run.exit_code == 0, run.output
    answer = json.loads(run.stdout)
    assert {"id", "parts", "match", "why", "lifts", "amounts"} <= set(answer["suggestions"][0])
    assert set(answer["suggestions"][0]["line_strength"]) == set(STAGES)
    assert "carries most weakly" in " ".join(CliRunner().invoke(cli, ["lift", path]).output.split())
    assert "Strips to try first" in (tmp_path / "lift.html").read_text()
