"""Weighing: masses, solutions, rounding, and what is said when the balance or the batch does not allow it."""

from __future__ import annotations

import json
import math

import pytest
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from substitute.accords.solutions import GOOD_STEPS, dilution_from, steps_of
from substitute.accords.weigh import LADDER, weigh
from substitute.errors import InputError
from substitute.records import Accord, Figure, Line, Material, Shelf, Stock, Tables

IDS = tuple("abcdefgh")


def toy_tables() -> Tables:
    materials = {
        id: Material(id, f"material {id}", "molecule", (f"{n + 10}-00-0",)) for n, id in enumerate(IDS)
    }
    for id in ("ethanol", "dipropylene-glycol", "water"):
        materials[id] = Material(id, id.replace("-", " "), "solvent")
    properties = {
        "a": {"potency": Figure(50.0, "", "estimate", "x")},
        "b": {"potency": Figure(1.0, "", "estimate", "x")},
    }
    return Tables(materials, properties, {}, {}, {}, {}, {}, (), {}, (), (), (), {})


TABLES = toy_tables()


def accord(*lines) -> Accord:
    return Accord("toy", tuple(Line(*line) for line in lines))


def by_id(found) -> dict:
    return {line.id: line for line in found.lines}


def test_neat_lines_stay_neat_and_small_ones_become_solutions():
    found = weigh(accord(("a", 90.0), ("b", 1.0), ("ethanol", 9.0)), TABLES, grams=10)
    lines = by_id(found)
    assert (lines["a"].strength_pct, lines["a"].grams) == (100.0, 9.0)
    assert (lines["b"].strength_pct, lines["b"].grams) == (10.0, 1.0)  # 0.1 g neat is 10 steps only
    assert lines["ethanol"].grams == 0.0  # 0.9 g of it came along
    assert "carrier" in lines["ethanol"].warn
    assert found.solvent_g == 0.0
    assert found.total_g == 10.0
    assert found.concentrate_pct == pytest.approx(91.0)


def test_own_carrier_gives_way_by_what_comes_along():
    found = weigh(accord(("a", 50.0), ("b", 1.0), ("ethanol", 49.0)), TABLES, grams=10)
    assert by_id(found)["ethanol"].grams == pytest.approx(4.0)
    assert any("gives way" in text for text in found.cautions)


def test_parts_at_a_strength_count_their_carrier():
    found = weigh(accord(("a", 50.0, 10.0), ("b", 50.0)), TABLES, grams=100)
    lines = by_id(found)
    assert (lines["a"].strength_pct, lines["a"].grams, lines["a"].active_g) == (100.0, 5.0, 5.0)
    assert found.solvent_g == 45.0
    assert found.concentrate_pct == pytest.approx(55.0)


def test_lines_of_one_material_are_added_up():
    found = weigh(accord(("a", 10.0, 10.0), ("b", 80.0), ("a", 9.0)), TABLES, grams=99)
    assert [line.id for line in found.lines] == ["a", "b"]
    assert by_id(found)["a"].active_g == pytest.approx(10.0)


def test_shelf_strengths_come_before_solutions_to_make():
    shelf = Shelf((Stock("a", 100.0), Stock("b", 100.0), Stock("b", 5.0), Stock("dipropylene-glycol")))
    found = weigh(accord(("a", 60.0), ("b", 0.5), ("ethanol", 39.5)), TABLES, grams=10, shelf=shelf)
    assert by_id(found)["b"].strength_pct == 5.0  # 1 g of the shelf's own, although 10 % could be made
    assert found.dilutions == ()
    assert found.solvent["id"] == "dipropylene-glycol"
    assert any(text == "Not on the shelf: ethanol." for text in found.cautions)


def test_solution_chain_is_written_out_with_its_carrier():
    shelf = Shelf((Stock("a", 100.0), Stock("b", 100.0), Stock("ethanol")))
    found = weigh(accord(("a", 60.0), ("b", 0.1), ("ethanol", 39.9)), TABLES, grams=10, shelf=shelf)
    assert [dilution.text for dilution in found.dilutions] == [
        "10 g of 10 %: 1 g of material b (100 %) and 9 g of ethanol",
        "10 g of 1 %: 1 g of material b (10 %) and 9 g of ethanol",
    ]
    assert by_id(found)["b"].grams == 1.0


def test_solution_is_made_from_the_nearest_stronger_on_the_shelf():
    shelf = Shelf((Stock("a"), Stock("b", 100.0), Stock("b", 20.0)))
    found = weigh(
        accord(("a", 50.0), ("b", 0.1), ("ethanol", 49.9)), TABLES, grams=10, shelf=shelf, make_at=(10, 1)
    )
    assert [(dilution.from_pct, dilution.strength_pct) for dilution in found.dilutions] == [
        (20.0, 10.0),
        (10.0, 1.0),
    ]


def test_large_need_makes_a_large_solution():
    found = weigh(accord(("a", 1.0), ("ethanol", 99.0)), TABLES, grams=1000, balance=1.0)
    (dilution,) = found.dilutions
    assert by_id(found)["a"].grams == 100.0
    assert dilution.grams >= 100.0
    assert dilution.from_grams == pytest.approx(dilution.grams / 10.0, rel=0.1)


def test_too_much_carrier_moves_the_largest_weighing_to_a_stronger_solution():
    shelf = Shelf((Stock("a", 100.0), Stock("a", 10.0), Stock("b", 10.0), Stock("b", 100.0)))
    found = weigh(accord(("a", 96.0), ("b", 4.0)), TABLES, grams=10, shelf=shelf)
    lines = by_id(found)  # b neat has 40 steps, at 10 % it has 4 g and no room
    assert (lines["b"].strength_pct, lines["b"].grams) == (100.0, 0.4)
    assert "40 steps" in lines["b"].warn
    assert (
        "Too much carrier for the batch, so weighed stronger: material b at 100 % instead of 10 %."
        in found.cautions
    )


def test_a_shelf_of_weak_solutions_asks_for_a_stronger_bottle():
    shelf = Shelf((Stock("a", 10.0), Stock("b", 10.0)))
    found = weigh(accord(("a", 60.0), ("b", 40.0)), TABLES, grams=10, shelf=shelf)
    assert {line.strength_pct for line in found.lines} == {100.0}
    wanted = (
        "stronger than on the shelf are wanted: material a at 100 % (it holds 10 %); "
        "material b at 100 % (it holds 10 %)."
    )
    assert f"Too much carrier for the batch, {wanted}" in found.cautions
    assert found.dilutions == ()


def test_as_few_stronger_bottles_as_will_do():
    shelf = Shelf((Stock("a", 50.0), Stock("b", 100.0), Stock("c", 1.0)))
    found = weigh(
        accord(("a", 8.0), ("b", 91.0), ("c", 0.001), ("ethanol", 0.999)), TABLES, grams=10, shelf=shelf
    )
    lines = by_id(found)
    assert [lines[id].strength_pct for id in "abc"] == [100.0, 100.0, 0.1]
    assert sum("it holds" in text for text in found.cautions) == 1


def test_a_trace_in_an_accord_without_carrier_says_what_would_do():
    found = weigh(accord(("a", 99.0), ("b", 1.0)), TABLES, grams=10)
    assert by_id(found)["b"].grams == 0.1
    assert (
        "With the same materials in 10.9 g instead of 10 g, the rest carrier, every weighing would be good."
        in found.cautions
    )


def test_short_stock_is_said():
    shelf = Shelf((Stock("a", 100.0, 2.0), Stock("b", 100.0, 50.0)))
    found = weigh(accord(("a", 60.0), ("b", 40.0)), TABLES, grams=10, shelf=shelf)
    assert "material a at 100 %: 6 g are wanted, the shelf holds 2 g." in found.cautions


def test_a_line_below_the_balance_is_reported_as_lost():
    found = weigh(accord(("a", 1e9), ("b", 0.001)), TABLES, grams=1)
    line = by_id(found)["b"]
    assert (line.grams, line.error_pct) == (0.0, -100.0)
    assert "cannot be weighed" in line.warn
    assert any(text.startswith("Poor weighings") for text in found.cautions)


def test_zero_lines_are_legal_and_said():
    found = weigh(accord(("a", 1.0), ("b", 0.0), ("ethanol", 0.0)), TABLES, grams=10)
    assert [line.id for line in found.lines] == ["a"]
    assert "Not weighed, 0 parts: material b; ethanol." in found.cautions


def test_strips_dip_weaker_what_is_very_strong_or_only_a_trace():
    found = weigh(
        accord(("a", 10.0), ("b", 50.0), ("c", 10.0, 100.0, "trace"), ("d", 0.1), ("ethanol", 10.0)),
        TABLES,
        grams=10,
    )
    assert {strip.id: strip.dip_pct for strip in found.strips} == {"a": 1.0, "b": 10.0, "c": 1.0, "d": 1.0}
    assert {strip.id: strip.why for strip in found.strips}["a"] == "very strong"


def test_check_sheet_has_six_triangles_and_three_days():
    check = weigh(accord(("a", 1.0)), TABLES, grams=10).check
    assert [step.day for step in check] == [0] * 6 + [1, 7, 28]
    assert len({step.lay_out for step in check[:6]}) == 6
    by_guess = sum(math.comb(6, right) * 2 ** (6 - right) for right in (5, 6))
    assert (by_guess, 3**6) == (13, 729)  # the figure in the docstring


def test_json_has_the_contract_keys():
    out = json.loads(json.dumps(weigh(accord(("a", 1.0), ("b", 0.01)), TABLES, grams=10).to_dict()))
    assert {
        "lines",
        "solvent_g",
        "total_g",
        "concentrate_pct",
        "strips",
        "dilutions",
        "check",
        "cautions",
    } <= set(out)
    keys = {"id", "name", "cas", "strength_pct", "grams", "error_pct", "active_g", "warn", "order"}
    assert all(set(line) == keys for line in out["lines"])
    assert any("burns" in text for text in out["cautions"])


@pytest.mark.parametrize("grams", [0, -1, 100_001, math.nan, math.inf, "much", None])
def test_grams_out_of_range(grams):
    with pytest.raises(InputError, match=r"grams: .*allowed is above 0 up to 100,000"):
        weigh(accord(("a", 1.0)), TABLES, grams=grams)


@pytest.mark.parametrize("balance", [0, -0.01, 1.01, math.nan, math.inf])
def test_balance_out_of_range(balance):
    with pytest.raises(InputError, match=r"balance: .*allowed is above 0 up to 1$"):
        weigh(accord(("a", 1.0)), TABLES, grams=10, balance=balance)


def test_strength_to_make_out_of_range():
    with pytest.raises(InputError, match=r"make_at: 101 is out of range: allowed is above 0 up to 100"):
        weigh(accord(("a", 1.0)), TABLES, grams=10, make_at=(101,))


def test_solvents_only():
    with pytest.raises(InputError, match="toy: holds only solvents"):
        weigh(accord(("ethanol", 1.0), ("a", 0.0)), TABLES, grams=10)


LINES = st.lists(
    st.tuples(
        st.sampled_from((*IDS, "ethanol", "water")),
        st.floats(1e-3, 1e5),
        st.sampled_from((100.0, 50.0, 10.0, 1.0, 0.1)),
    ),
    min_size=1,
    max_size=12,
).filter(lambda lines: any(id in IDS for id, _, _ in lines))
SHELVES = st.none() | st.lists(
    st.tuples(st.sampled_from((*IDS, "ethanol")), st.sampled_from((100.0, 20.0, 10.0, 1.0))), max_size=12
).map(lambda items: Shelf(tuple(Stock(*item) for item in items)))


@settings(max_examples=examples(300), deadline=None)
@given(LINES, SHELVES, st.floats(0.5, 2000.0), st.sampled_from((0.001, 0.01, 0.05)))
def test_masses_add_up_and_errors_are_honest(lines, shelf, grams, step):
    toy = accord(*lines)
    found = weigh(toy, TABLES, grams=grams, balance=step, shelf=shelf)
    weighed = [line.grams for line in found.lines]
    assert sum(weighed) + found.solvent_g == pytest.approx(found.total_g, abs=1e-6)
    assert abs(found.total_g - grams) <= step * (len(weighed) + 2) / 2 + 1e-6
    assert all(
        value >= 0 and abs(value / step - round(value / step)) < 1e-4 for value in (*weighed, found.solvent_g)
    )
    active = toy.active()
    for line in found.lines:
        if line.id in IDS:
            wanted = active[line.id] / toy.total * grams
            assert line.active_g == pytest.approx(line.grams * line.strength_pct / 100.0)
            assert line.active_g == pytest.approx(wanted * (1 + line.error_pct / 100.0), rel=1e-6, abs=1e-12)
            assert abs(line.grams - wanted * 100.0 / line.strength_pct) <= step / 2 * (1 + 1e-6)
            assert bool(line.warn) == (steps_of(wanted * 100.0 / line.strength_pct, step) < GOOD_STEPS)
    assert sorted(line.order for line in found.lines) == list(range(1, len(weighed) + 1))
    material_g = sum(line.active_g for line in found.lines if line.id in IDS)
    assert found.concentrate_pct == pytest.approx(
        100.0 * material_g / found.total_g if found.total_g else 0.0
    )


@settings(max_examples=examples(300), deadline=None)
@given(LINES, SHELVES, st.floats(0.5, 2000.0), st.sampled_from((0.001, 0.01, 0.05)))
def test_no_poor_weighing_that_a_weaker_solution_would_mend(lines, shelf, grams, step):
    toy = accord(*lines)
    found = weigh(toy, TABLES, grams=grams, balance=step, shelf=shelf)
    active = {id: parts / toy.total * grams for id, parts in toy.active().items() if id in IDS}
    exact = {line.id: active[line.id] * 100.0 / line.strength_pct for line in found.lines if line.id in IDS}
    for line in found.lines:
        if line.id in IDS and steps_of(exact[line.id], step) < GOOD_STEPS:
            have = shelf.strengths(line.id) if shelf else ()
            for weaker in {*LADDER, *have}:
                mass = active[line.id] * 100.0 / weaker
                if (
                    weaker < line.strength_pct
                    and (weaker < max(have, default=100.0) or weaker in have)
                    and steps_of(mass, step) >= GOOD_STEPS
                ):
                    assert sum(exact.values()) - exact[line.id] + mass > grams


@settings(max_examples=examples(200), deadline=None)
@given(LINES, SHELVES, st.floats(1.0, 500.0), st.sampled_from((0.001, 0.01, 0.05)))
def test_every_solution_is_enough_and_made_from_something_at_hand(lines, shelf, grams, step):
    found = weigh(accord(*lines), TABLES, grams=grams, balance=step, shelf=shelf)
    drawn = {(line.id, line.strength_pct): line.grams for line in found.lines}
    for dilution in reversed(found.dilutions):
        key = dilution.id, dilution.strength_pct
        assert (
            dilution.grams
            >= max(10.0, drawn.get(key, 0.0)) - 2 * step * dilution.from_pct / dilution.strength_pct
        )
        assert dilution.grams >= drawn.get(key, 0.0) - step
        assert dilution.from_grams + dilution.carrier_grams == pytest.approx(dilution.grams)
        made = dilution.from_grams * dilution.from_pct / dilution.grams
        assert made == pytest.approx(dilution.strength_pct * (1 + dilution.error_pct / 100.0))
        source = dilution.id, dilution.from_pct
        drawn[source] = drawn.get(source, 0.0) + dilution.from_grams


@pytest.mark.parametrize("step", [0.001, 0.01, 0.1, 1.0])
def test_a_solution_is_never_less_than_is_wanted(step):
    """However the balance rounds: enough is made, at the strength it says within what a step is worth."""
    material = Material("m", "m", "molecule")
    for ratio in (2.0, 10.0, 100.0):
        for wanted in (0.5, 9.9, 95.3, 96.0, 901.0, 904.0, 2000.0):
            made = dilution_from(material, 100.0 / ratio, 100.0, wanted, {"id": "c", "name": "c"}, step)
            assert made.from_grams * ratio >= wanted
            assert made.grams == pytest.approx(made.from_grams + made.carrier_grams)
            assert abs(made.error_pct) <= 100.0 * step / made.grams + 1e-9
