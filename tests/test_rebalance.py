"""Rebalancing: brackets, kept totals, limits, and trials as plain files that are never written over."""

from __future__ import annotations

import json
import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_weigh import IDS, TABLES, accord

from substitute.accords import trials
from substitute.accords.rebalance import Bracket, bracket, next_amount, rebalance
from substitute.accords.trials import (
    Trial,
    history_record,
    next_trial_path,
    read_history,
    save_trial,
    trial_number,
    write_trial,
)
from substitute.errors import InputError
from substitute.tables.formulas import read_accord
from substitute.tables.names import Names

NAMES = Names(TABLES)
STEP = 1.25 ** (1 / 0.35)


def after(found) -> dict[str, float]:
    out: dict[str, float] = {}
    for line in found.lines:
        out[line.id] = out.get(line.id, 0.0) + line.parts_after
    return out


def test_one_side_known_moves_one_perceived_step_and_carrier_takes_up():
    found = rebalance(accord(("a", 20.0), ("b", 30.0), ("ethanol", 50.0)), too_strong=["a"], tables=TABLES)
    parts = after(found)
    assert parts["a"] == pytest.approx(20.0 / STEP)
    assert parts["b"] == 30.0
    assert parts["ethanol"] == pytest.approx(50.0 + 20.0 - 20.0 / STEP)
    assert "one perceived step down" in found.lines[0].why


def test_half_way_in_intensity_between_both_sides():
    history = [Trial("t", accord(("a", 10.0), ("ethanol", 90.0)), {"a": "too_weak"})]
    found = rebalance(
        accord(("a", 20.0), ("ethanol", 80.0)), too_strong=["a"], history=history, tables=TABLES
    )
    assert after(found)["a"] ** 0.35 == pytest.approx((10.0**0.35 + 20.0**0.35) / 2)
    assert "half-way in intensity between 10 (too weak) and 20 (too strong)" in found.lines[0].why


def test_brackets_compare_shares_of_the_total_and_strengths():
    history = [
        Trial("t", accord(("a", 1000.0, 1.0), ("ethanol", 0.0), ("b", 0.0)), {"a": "too_weak"})
    ]  # 1 % active
    found = rebalance(
        accord(("a", 20.0, 10.0), ("ethanol", 80.0)), too_strong=["a"], history=history, tables=TABLES
    )  # 2 % active
    assert 10.0 < after(found)["a"] < 20.0


def test_an_amount_judged_right_before_is_gone_back_to():
    history = [Trial("t", accord(("a", 12.0), ("ethanol", 88.0)), {"a": "right"})]
    found = rebalance(
        accord(("a", 20.0), ("ethanol", 80.0)), too_strong=["a"], history=history, tables=TABLES
    )
    assert after(found)["a"] == pytest.approx(12.0)


def test_newest_verdict_beats_an_older_one_against_it():
    assert bracket([(4.0, "too_strong"), (5.0, "too_weak"), (2.0, "too_weak")]) == Bracket(2.0, 4.0, None)
    assert bracket([(4.0, "too_strong"), (9.0, "right"), (3.0, "too_strong")]) == Bracket(None, 3.0, None)


def test_right_lines_keep_their_parts_and_the_others_share():
    found = rebalance(accord(("a", 20.0), ("b", 30.0), ("c", 20.0), ("d", 30.0)), too_weak=["a"], right=["b"])
    parts = after(found)
    assert parts["b"] == 30.0
    assert parts["c"] / parts["d"] == pytest.approx(20.0 / 30.0)
    assert sum(parts.values()) == pytest.approx(100.0)


def test_nothing_left_to_take_up_becomes_carrier():
    toy = accord(("a", 60.0), ("b", 40.0))
    found = rebalance(toy, too_strong=["a"], right=["b"])
    assert found.lines[-1].id == "carrier"
    assert found.lines[-1].parts_after == pytest.approx(60.0 - 60.0 / STEP)
    assert found.accord.lines[-1].material == "ethanol"  # in a file it is something that can be weighed
    assert found.accord.total == pytest.approx(toy.total)


def test_a_trace_without_a_verdict_is_at_most_doubled():
    parts = after(rebalance(accord(("a", 99.0), ("b", 1.0)), too_strong=["a"]))
    assert parts["b"] == 2.0
    assert sum(parts.values()) == pytest.approx(100.0)


def test_no_room_to_grow_is_said():
    found = rebalance(accord(("a", 60.0), ("b", 40.0)), too_weak=["a"], right=["b"])
    assert after(found) == {"a": pytest.approx(60.0), "b": 40.0}
    assert any("raise the dose" in text for text in found.warnings)


def test_a_line_of_zero_parts():
    toy = accord(("a", 0.0, 10.0), ("ethanol", 200.0))
    assert after(rebalance(toy, too_weak=["a"], tables=TABLES))["a"] == pytest.approx(1.0)
    assert "cannot have less" in rebalance(toy, too_strong=["a"]).warnings[0]
    history = [Trial("t", accord(("a", 20.0, 10.0), ("ethanol", 180.0)), {"a": "too_strong"})]
    assert 0 < after(rebalance(toy, too_weak=["a"], history=history, tables=TABLES))["a"] < 20.0


def test_limits_hold_for_lines_that_grow_for_any_reason():
    toy = accord(("a", 20.0), ("b", 30.0), ("c", 50.0))
    found = rebalance(toy, too_weak=["a"], ceiling={"a": 25.0})
    assert after(found)["a"] == 25.0
    assert "limit of 25 parts is reached" in found.warnings[0]
    found = rebalance(toy, too_strong=["c"], ceiling=lambda id: {"a": 21.0}.get(id))
    parts = after(found)
    assert parts["a"] == 21.0
    assert sum(parts.values()) == pytest.approx(100.0)
    found = rebalance(toy, too_strong=["c"], ceiling={"a": 21.0, "b": 30.0})
    parts = after(found)
    assert parts["b"] == 30.0
    assert parts["carrier"] > 0
    assert sum(parts.values()) == pytest.approx(100.0)
    found = rebalance(toy, too_strong=["a"], right=["c"], ceiling={"c": 40.0})
    assert after(found)["c"] == 50.0
    assert "over its limit of 40 parts" in found.warnings[-1]


def test_finer_than_the_balance_is_said():
    history = [Trial("t", accord(("a", 0.100), ("ethanol", 99.9)), {"a": "too_weak"})]
    toy = accord(("a", 0.101), ("ethanol", 99.899))
    found = rebalance(toy, too_strong=["a"], history=history, tables=TABLES, grams=10, balance=0.01)
    assert any("finer than the balance" in text for text in found.warnings)
    assert (
        rebalance(toy, too_strong=["a"], history=history, tables=TABLES, grams=100_000, balance=0.01).warnings
        == ()
    )


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"too_strong": ["z"]}, "'z' is not a line of toy: its lines are a, b"),
        ({"too_strong": ["a"], "too_weak": ["a"]}, "a: cannot be too strong and too weak"),
        ({"too_weak": ["a"], "right": ["a"]}, "a: cannot be too weak and right"),
        ({}, "no verdict"),
        ({"too_weak": ["a"], "grams": 10}, "give both or neither"),
        (
            {"too_weak": ["a"], "grams": 10, "balance": 2},
            "balance: 2 is out of range: allowed is above 0 up to 1",
        ),
    ],
)
def test_bad_input(given, message):
    with pytest.raises(InputError, match=message):
        rebalance(accord(("a", 1.0), ("b", 1.0)), **given)


def test_json_has_the_contract_keys():
    out = json.loads(json.dumps(rebalance(accord(("a", 1.0), ("b", 1.0)), too_weak=["a"]).to_dict()))
    assert set(out) == {"trial", "parent", "lines", "warnings", "cautions"}
    assert {"id", "name", "parts_before", "parts_after", "why"} <= set(out["lines"][0])
    assert out["trial"] == 2


LINES = st.lists(
    st.tuples(st.sampled_from((*IDS, "ethanol")), st.floats(0.0, 1e5), st.sampled_from((100.0, 10.0, 1.0))),
    min_size=1,
    max_size=12,
).filter(lambda lines: sum(parts for _, parts, _ in lines) > 0.001)


@settings(max_examples=400, deadline=None)
@given(LINES, st.data())
def test_total_is_kept_and_nothing_turns_negative(lines, data):
    toy = accord(*lines)
    ids = list(toy.active())
    verdicts = {id: data.draw(st.sampled_from(("too_strong", "too_weak", "right", ""))) for id in ids}
    verdicts[ids[0]] = verdicts[ids[0]] or "too_weak"
    ceiling = data.draw(st.dictionaries(st.sampled_from(ids), st.floats(0.0, 1e5)))
    given = {verdict: [id for id in ids if verdicts[id] == verdict] for verdict in trials.VERDICTS}
    found = rebalance(toy, **given, ceiling=ceiling, tables=TABLES)
    assert sum(line.parts_after for line in found.lines) == pytest.approx(toy.total, rel=1e-9)
    assert all(line.parts_after >= 0 for line in found.lines)
    before = {line.material: 0.0 for line in toy.lines}
    for line in toy.lines:
        before[line.material] += line.parts
    for id, parts in after(found).items():
        if verdicts.get(id) == "right":
            assert parts == pytest.approx(before[id], rel=1e-12)
        elif id in ceiling:
            assert parts <= ceiling[id] * (1 + 1e-9)
        if verdicts.get(id) == "too_strong":
            assert parts <= before[id]
        if verdicts.get(id) == "too_weak" and id not in ceiling:
            assert parts >= before[id] * (1 - 1e-9)


@settings(max_examples=300, deadline=None)
@given(st.floats(1e-6, 0.9), st.floats(1e-6, 0.9))
def test_bracket_always_narrows_and_closes_on_the_target(start, target):
    judged, amount = [], start
    widths = []
    for _ in range(60):
        judged.insert(0, (amount, "too_strong" if amount > target else "too_weak"))
        found = bracket(judged)
        if found.low is not None and found.high is not None:
            assert found.low <= target <= found.high
            widths.append(found.high**0.35 - found.low**0.35)
        amount = next_amount(found)
        assert found.low is None or amount > found.low
        assert found.high is None or amount < found.high
        if amount in (found.low, found.high) or (widths and widths[-1] < 1e-9):
            break
    assert all(late == pytest.approx(early / 2, rel=1e-4, abs=1e-9) for early, late in pairwise(widths))
    assert widths
    assert widths[-1] < 1e-3


@pytest.mark.parametrize("seed", range(20))
def test_a_nose_with_a_hidden_target_is_satisfied_within_few_trials(seed):
    """Five lines off by up to x/÷ 3; the nose calls what is within 10 % in intensity (about x/÷ 1.3 in amount) right."""
    draw = random.Random(seed)
    target = {id: draw.uniform(1.0, 12.0) for id in "abcde"}
    toy = accord(*((id, parts * 3 ** draw.uniform(-1, 1)) for id, parts in target.items()))
    toy = accord(*((line.material, line.parts) for line in toy.lines), ("ethanol", 120.0 - toy.total))
    history: list[Trial] = []
    for _ in range(8):
        felt = {
            id: (parts / target[id] / toy.total * 120.0) ** 0.35
            for id, parts in toy.active().items()
            if id in target
        }
        verdicts = {
            id: "too_strong" if ratio > 1.1 else "too_weak" if ratio < 1 / 1.1 else "right"
            for id, ratio in felt.items()
        }
        if set(verdicts.values()) == {"right"}:
            break
        given = {verdict: [id for id in felt if verdicts[id] == verdict] for verdict in trials.VERDICTS}
        found = rebalance(toy, **given, history=history, tables=TABLES)
        history.append(Trial(f"trial {len(history)}", toy, verdicts))
        toy = found.accord
    else:
        pytest.fail("not right after eight trials")
    assert len(history) <= 4


def write(folder, name, text):
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_trials_are_files_whose_history_is_followed(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts,role\na,20,core\nb,30,support\nethanol,50,support\n")
    for verdict in ({"too_strong": ["a"], "right": ["b"]}, {"too_weak": ["a"]}):
        history = read_history(path, NAMES)
        number = trial_number(next_trial_path(path))
        found = rebalance(
            history[-1].accord, **verdict, history=history, tables=TABLES, trial=number, parent=path.name
        )
        path = save_trial(found, path)
    assert path.name == "toy.trial-3.csv"
    assert path.read_text().splitlines()[0] == "material,parts,strength_pct,role,optional,parent,verdict"
    history = read_history(path, NAMES)
    assert [trial.name for trial in history] == ["toy.csv", "toy.trial-2.csv", "toy.trial-3.csv"]
    assert [dict(trial.verdicts) for trial in history] == [
        {"a": "too_strong", "b": "right"},
        {"a": "too_weak"},
        {},
    ]
    assert history[2].accord.lines[0].role == "core"
    a = [trial.accord.active()["a"] for trial in history]
    assert a[1] < a[2] < a[0]
    record = history_record(history, TABLES)
    assert record["trials"] == [trial.name for trial in history]
    first = record["materials"][0]
    assert first["name"] == "material a"
    assert first["trials"][0] == {"parts": 20.0, "verdict": "too_strong"}
    assert first["trials"][1] == {"parts": pytest.approx(20.0 / STEP), "verdict": "too_weak"}
    assert found.accord.name == "toy.trial-3"


def test_branches_take_the_next_free_number_and_nothing_is_written_over(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts\na,20\nb,80\n")
    found = rebalance(read_accord(path, NAMES), too_strong=["a"])
    names = [save_trial(found, path).name for _ in range(3)]
    assert names == ["toy.trial-2.csv", "toy.trial-3.csv", "toy.trial-4.csv"]
    assert [trial.name for trial in read_history(tmp_path / names[-1], NAMES)] == [
        "toy.csv",
        "toy.trial-4.csv",
    ]
    write(tmp_path, "toy.trial-9.xlsx", "x")
    assert next_trial_path(tmp_path / "toy.trial-2.csv").name == "toy.trial-10.csv"


def test_a_carrier_that_was_added_can_be_read_back(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts\na,60\nb,40\n")
    found = rebalance(read_accord(path, NAMES), too_strong=["a"], right=["b"])
    assert read_accord(save_trial(found, path), NAMES).total == pytest.approx(100.0)
    assert write_trial(found).count("ethanol") == 1


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("a,1,gone.csv,", "column parent: 'gone.csv' is not in this folder"),
        ("a,1,../toy.csv,", "row 2, column parent: '../toy.csv' is not a plain file name"),
        (
            "a,1,toy.csv,loud",
            "row 2, column verdict: 'loud' is not allowed: one of too_strong, too_weak, right",
        ),
        (
            "a,1,toy.csv,\nb,1,other.csv,",
            "row 3, column parent: 'other.csv' beside 'toy.csv'; a trial has one parent",
        ),
        ("a,1,toy.trial-2.csv,", r"circle: toy.trial-2.csv > toy.trial-2.csv"),
    ],
)
def test_bad_histories(tmp_path, rows, message):
    write(tmp_path, "toy.csv", "material,parts\na,1\n")
    path = write(tmp_path, "toy.trial-2.csv", f"material,parts,parent,verdict\n{rows}\n")
    with pytest.raises(InputError, match=message):
        read_history(path, NAMES)
