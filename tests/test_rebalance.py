"""Rebalancing: brackets, lines that stay, ratios, limits, and trials as plain files that are never written
over."""

from __future__ import annotations

import json
import math
import random
from itertools import pairwise

import pytest
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from test_weigh import IDS, TABLES, accord

from substitute.accords import trials
from substitute.accords.bracket import STEP, STEPS, Bracket, bracket, next_amount
from substitute.accords.family import compare_record, history_record
from substitute.accords.rebalance import Batch, Heard, rebalance
from substitute.accords.trial_files import next_trial_path, read_family, read_history, save_trial, write_trial
from substitute.accords.trials import Trial, find_trial, trial_number
from substitute.errors import InputError
from substitute.odour.power_law import EXPONENT
from substitute.tables.formulas import read_accord
from substitute.tables.names import Names

NAMES = Names(TABLES)
CLEARLY = STEP ** (1 / EXPONENT)
STRONG, WEAK, RIGHT = ("too_strong", ""), ("too_weak", ""), ("right", "")


def after(found) -> dict[str, float]:
    out: dict[str, float] = {}
    for line in found.lines:
        out[line.id] = out.get(line.id, 0.0) + line.parts_after
    return out


def heard(ratios=(), same_total=False, **said):
    return Heard(said, ratios, same_total)


def test_only_the_named_line_moves_by_its_degree_and_the_total_is_free():
    toy = accord(("a", 20.0), ("b", 30.0), ("ethanol", 50.0))
    for degree in ("slightly", "clearly", "far"):
        found = rebalance(toy, heard(a=("too_strong", degree)), tables=TABLES)
        parts = after(found)
        assert parts["a"] == pytest.approx(20.0 / STEP ** (STEPS[degree] / EXPONENT), rel=0.01)
        assert (parts["b"], parts["ethanol"]) == (30.0, 50.0)
        assert found.lines[1].why == "stays"
        assert "every line that stays is as strong" in found.notes[0]


def test_between_both_sides_nearer_to_the_one_that_was_less_off():
    history = [Trial("t", accord(("a", 10.0), ("ethanol", 90.0)), {"a": "too_weak"})]
    toy = accord(("a", 20.0), ("ethanol", 80.0))
    middle = after(rebalance(toy, heard(a=STRONG), history=history, tables=TABLES))["a"]
    assert middle == pytest.approx(math.sqrt(200.0), rel=0.005)
    near = after(rebalance(toy, heard(a=("too_strong", "slightly")), history=history, tables=TABLES))["a"]
    assert middle < near < 20.0
    said = rebalance(toy, heard(a=STRONG), history=history, tables=TABLES).lines[0].why
    assert "between 10 (too weak) and 20 (too strong)" in said


def test_brackets_compare_strengths():
    history = [Trial("t", accord(("a", 100.0, 1.0), ("b", 10.0)), {"a": "too_weak"})]  # 1 part of itself
    found = rebalance(accord(("a", 20.0, 10.0), ("b", 10.0)), heard(a=STRONG), history=history)  # 2 parts
    assert 10.0 < after(found)["a"] < 20.0


def test_an_amount_judged_right_before_is_gone_back_to():
    history = [Trial("t", accord(("a", 12.0), ("ethanol", 88.0)), {"a": "right"})]
    found = rebalance(accord(("a", 20.0), ("ethanol", 80.0)), heard(a=STRONG), history=history, tables=TABLES)
    assert after(found)["a"] == pytest.approx(12.0)


def test_newest_verdict_beats_an_older_one_against_it():
    judged = [(4.0, "too_strong", ""), (5.0, "too_weak", ""), (2.0, "too_weak", "far")]
    assert bracket(judged) == Bracket(2.0, 4.0, None, 2.0, 1.0)
    judged = [(4.0, "too_strong", ""), (9.0, "right", ""), (3.0, "too_strong", "slightly")]
    assert bracket(judged) == Bracket(None, 3.0, None, 1.0, 0.5)


def test_several_complaints_at_once_and_no_other_line_is_touched():
    toy = accord(("a", 20.0), ("b", 30.0), ("c", 20.123456789), ("d", 30.0))
    found = rebalance(toy, heard(a=WEAK, d=("too_strong", "slightly"), b=RIGHT))
    parts = after(found)
    assert parts["a"] > 20.0
    assert parts["d"] < 30.0
    assert (parts["b"], parts["c"]) == (30.0, 20.123456789)


def test_a_ratio_asked_for_stays():
    toy = accord(("a", 20.0), ("b", 30.0), ("c", 50.0))
    found = rebalance(toy, heard(ratios=(("a", "b"),), a=STRONG))
    parts = after(found)
    assert parts["a"] < 20.0
    assert parts["a"] / parts["b"] == pytest.approx(20.0 / 30.0)
    assert parts["c"] == 50.0
    both = after(rebalance(toy, heard(ratios=(("a", "b"),), a=STRONG, b=("too_strong", "far"))))
    assert both["a"] / both["b"] == pytest.approx(20.0 / 30.0)
    with pytest.raises(InputError, match="one is to have more, one less; their ratio cannot stay"):
        rebalance(toy, heard(ratios=(("a", "b"),), a=STRONG, b=WEAK))
    with pytest.raises(InputError, match="b: is right, and a is not"):
        rebalance(toy, heard(ratios=(("a", "b"),), a=STRONG, b=RIGHT))


def test_a_ratio_is_set_anew_neat_for_neat():
    toy = accord(("a", 20.0), ("b", 40.0, 10.0), ("c", 50.0))
    before = toy.active()
    alone = rebalance(toy, Heard({}, (("a", "b"),), anew={("a", "b"): (3, 1)})).accord.active()
    assert alone["a"] / alone["b"] == pytest.approx(3)
    assert alone["a"] + alone["b"] == pytest.approx(before["a"] + before["b"])  # their mass together stays
    assert alone["c"] == before["c"]
    judged = rebalance(toy, Heard({"a": STRONG}, (("a", "b"),), anew={("a", "b"): (3, 1)})).accord.active()
    plain = rebalance(toy, Heard({"a": STRONG})).accord.active()
    assert judged["a"] == plain["a"]  # what was judged moves as it was judged, the other follows
    assert judged["b"] == pytest.approx(plain["a"] / 3)
    right = rebalance(toy, Heard({"b": RIGHT}, (("a", "b"),), anew={("a", "b"): (2, 1)}))
    assert right.accord.active()["b"] == before["b"]
    assert right.accord.active()["a"] == pytest.approx(2 * before["b"])
    assert right.ratios == (("a", "b"),)  # and stays from then on
    with pytest.raises(InputError, match="are right as they are"):
        rebalance(toy, Heard({"a": RIGHT, "b": RIGHT}, (("a", "b"),), anew={("a", "b"): (2, 1)}))


def test_a_ratio_stays_under_a_limit():
    toy = accord(("a", 20.0), ("b", 30.0))
    found = rebalance(toy, heard(ratios=(("a", "b"),), a=WEAK), ceiling={"b": 36.0})
    parts = after(found)
    assert parts["b"] == pytest.approx(36.0)
    assert parts["a"] == pytest.approx(24.0)
    assert "limit of 36 parts is reached" in found.warnings[0]


def test_same_total_asks_the_carrier_alone():
    toy = accord(("a", 60.0), ("b", 40.0))
    found = rebalance(toy, heard(same_total=True, a=STRONG))
    assert found.lines[-1].id == "carrier"
    assert found.accord.lines[-1].material == "ethanol"  # in a file it is something that can be weighed
    assert found.accord.total == pytest.approx(toy.total)
    toy = accord(("a", 20.0), ("b", 30.0), ("ethanol", 50.0))
    parts = after(rebalance(toy, heard(same_total=True, a=WEAK), tables=TABLES))
    assert sum(parts.values()) == pytest.approx(100.0)
    assert parts["b"] == 30.0
    found = rebalance(accord(("a", 60.0), ("b", 40.0)), heard(same_total=True, a=WEAK))
    assert after(found)["b"] == 40.0
    assert "cannot be kept" in found.warnings[0]


def test_a_line_of_zero_parts():
    toy = accord(("a", 0.0, 10.0), ("ethanol", 200.0))
    assert after(rebalance(toy, heard(a=WEAK), tables=TABLES))["a"] == pytest.approx(1.0)
    assert "cannot have less" in rebalance(toy, heard(a=STRONG)).warnings[0]
    history = [Trial("t", accord(("a", 20.0, 10.0), ("ethanol", 180.0)), {"a": "too_strong"})]
    assert 0 < after(rebalance(toy, heard(a=WEAK), history=history, tables=TABLES))["a"] < 20.0


def test_limits_hold_what_grows_and_tell_of_what_stays():
    toy = accord(("a", 20.0), ("b", 30.0), ("c", 50.0))
    found = rebalance(toy, heard(a=WEAK), ceiling={"a": 25.0})
    assert after(found)["a"] == 25.0
    assert "limit of 25 parts is reached" in found.warnings[0]
    found = rebalance(toy, heard(a=STRONG, c=RIGHT), ceiling=lambda id: {"c": 40.0}.get(id))
    assert after(found)["c"] == 50.0
    assert "over its limit of 40" in found.warnings[-1]


def test_finer_than_the_balance_is_said():
    history = [Trial("t", accord(("a", 0.100), ("ethanol", 99.9)), {"a": "too_weak"})]
    toy = accord(("a", 0.101), ("ethanol", 99.899))
    found = rebalance(toy, heard(a=STRONG), history=history, tables=TABLES, batch=Batch(10, 0.01))
    assert any("finer than the balance" in text for text in found.warnings)
    found = rebalance(toy, heard(a=STRONG), history=history, tables=TABLES, batch=Batch(100_000, 0.01))
    assert found.warnings == ()


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (heard(z=STRONG), "'z' is not a line of toy: its lines are a, b"),
        (heard(a=("loud", "")), "'loud ' is no verdict"),
        (heard(ratios=(("a", "z"),), a=STRONG), "'z' is not a line of toy, so it has no ratio"),
        (heard(ratios=(("a", "c"),), a=STRONG), "c: has 0 parts, so it has no ratio to keep"),
        (heard(), "no verdict"),
    ],
)
def test_bad_input(asked, message):
    with pytest.raises(InputError, match=message):
        rebalance(accord(("a", 1.0), ("b", 1.0), ("c", 0.0)), asked)


def test_a_ratio_of_lines_that_nobody_moves_changes_nothing():
    toy = accord(("a", 20.0), ("b", 30.0), ("c", 50.0))
    found = after(rebalance(toy, heard(ratios=(("a", "b"),), a=RIGHT, c=STRONG)))
    assert (found["a"], found["b"]) == (20.0, 30.0)
    assert found["c"] < 50.0


def test_a_ratio_set_anew_of_two_that_were_judged_goes_by_their_middle():
    toy = accord(("a", 20.0), ("b", 20.0), ("c", 50.0))
    anew = (("a", "b"),)
    found = rebalance(toy, Heard({"a": STRONG, "b": ("too_strong", "far")}, anew, anew={anew[0]: (1, 1)}))
    parts = found.accord.active()
    each = rebalance(toy, Heard({"a": STRONG, "b": ("too_strong", "far")})).accord.active()
    assert parts["a"] == pytest.approx(parts["b"])
    assert parts["a"] == pytest.approx(math.sqrt(each["a"] * each["b"]), rel=1e-3)
    assert "a, b: moved together, by the middle of what each asked for." in found.notes
    assert "a, b: moved" not in " ".join(
        rebalance(toy, Heard({"a": STRONG}, anew, anew={anew[0]: (1, 1)})).notes
    )
    with pytest.raises(InputError, match="d, e: have 0 parts, so no ratio of theirs can be set"):
        rebalance(
            accord(("a", 1.0), ("d", 0.0), ("e", 0.0)), Heard({}, (("d", "e"),), anew={("d", "e"): (2, 1)})
        )


def test_the_same_total_of_what_did_not_change_needs_no_carrier():
    toy = accord(("a", 60.0), ("b", 40.0))
    found = rebalance(toy, heard(same_total=True, a=RIGHT))
    assert [line.id for line in found.lines] == ["a", "b"]
    assert found.accord.total == 100.0


def test_a_balance_out_of_range_is_refused():
    with pytest.raises(InputError, match="balance: 2 is out of range: allowed is above 0 up to 1"):
        rebalance(accord(("a", 1.0), ("b", 1.0)), heard(a=WEAK), batch=Batch(10, 2))


def test_json_has_the_contract_keys():
    out = json.loads(json.dumps(rebalance(accord(("a", 1.0), ("b", 1.0)), heard(a=WEAK)).to_dict()))
    assert {"trial", "parent", "lines", "warnings", "total_before", "total_after"} <= set(out)
    assert {"id", "name", "parts_before", "parts_after", "why", "degree"} <= set(out["lines"][0])
    assert out["trial"] == 2


PARTS = st.just(0.0) | st.floats(1e-9, 1e5)  # what nobody could weigh has no digits to keep
LINES = st.lists(
    st.tuples(st.sampled_from((*IDS, "ethanol")), PARTS, st.sampled_from((100.0, 10.0, 1.0))),
    min_size=1,
    max_size=12,
).filter(lambda lines: sum(parts for _, parts, _ in lines) > 0.001)
VERDICT = st.tuples(st.sampled_from(trials.VERDICTS), st.sampled_from(("", *trials.DEGREES)))


@settings(max_examples=examples(400), deadline=None)
@given(LINES, st.data())
def test_unnamed_lines_stay_to_the_digit_and_nothing_turns_negative(lines, data):
    toy = accord(*lines)
    ids = list(toy.active())
    said = {id: data.draw(VERDICT) for id in ids[: data.draw(st.integers(1, len(ids)))]}
    ceiling = data.draw(st.dictionaries(st.sampled_from(ids), st.floats(0.0, 1e5)))
    found = rebalance(toy, Heard(said), ceiling=ceiling, tables=TABLES)
    for before, line in zip(toy.lines, found.lines):
        assert line.parts_after >= 0
        if line.id not in said or said[line.id][0] == "right":
            assert line.parts_after == before.parts  # to the digit
        elif said[line.id][0] == "too_strong":
            assert line.parts_after <= before.parts
        elif line.id not in ceiling:
            assert line.parts_after >= before.parts


@settings(max_examples=examples(300), deadline=None)
@given(st.floats(1e-6, 0.9), st.floats(1e-6, 0.9))
def test_bracket_always_narrows_and_closes_on_the_target(start, target):
    judged, amount = [], start
    widths = []
    for _ in range(80):
        judged.insert(0, (amount, "too_strong" if amount > target else "too_weak", ""))
        found = bracket(judged)
        if found.low is not None and found.high is not None:
            assert found.low <= target <= found.high
            widths.append(math.log(found.high / found.low))
        amount = next_amount(found)
        assert found.low is None or amount > found.low
        assert found.high is None or amount < found.high
        if amount in (found.low, found.high) or (widths and widths[-1] < 1e-7):
            break
    assert all(late == pytest.approx(early / 2, rel=1e-4, abs=1e-8) for early, late in pairwise(widths))
    assert widths
    assert widths[-1] < 1e-3


def nose(toy, target, *, by_share: bool, just: float = 1.25):
    """What a nose with a hidden target says of every line: amounts within x/÷ ``just`` are right, the rest
    in three degrees."""
    said = {}
    scale = toy.total / sum(target.values()) if by_share else 1.0
    for id, parts in toy.active().items():
        off = math.log(parts / (target[id] * scale)) if id in target else 0.0
        if abs(off) > math.log(just) and id in target:
            steps = abs(off) / math.log(CLEARLY)
            degree = "slightly" if steps < 0.7 else "clearly" if steps < 1.5 else "far"
            said[id] = ("too_strong" if off > 0 else "too_weak", degree)
    return said


def trials_needed(seed: int, *, by_share: bool) -> int:
    """Three to eight lines off by up to x/÷ 5; how many trials until the nose complains of nothing."""
    draw = random.Random(seed)
    target = {id: draw.uniform(1.0, 12.0) for id in "abcde"[: draw.randint(3, 5)]}
    toy = accord(*((id, parts * 5 ** draw.uniform(-1, 1)) for id, parts in target.items()))
    history: list[Trial] = []
    for number in range(1, 13):
        said = nose(toy, target, by_share=by_share)
        if not said:
            return number
        found = rebalance(toy, Heard(said), history=history, tables=TABLES)
        verdicts = {id: verdict for id, (verdict, _) in said.items()}
        history.append(Trial(f"trial {number}", toy, verdicts, "", {id: d for id, (_, d) in said.items()}))
        toy = found.accord
    return 99


def test_a_hidden_target_is_reached_within_few_trials():
    needed = [trials_needed(seed, by_share=False) for seed in range(200)]
    assert max(needed) <= 5  # the first trial counted
    assert sum(needed) / len(needed) < 3.5


def test_a_nose_that_judges_shares_of_the_whole_is_satisfied_too():
    needed = [trials_needed(seed, by_share=True) for seed in range(200)]
    assert sorted(needed)[int(0.95 * len(needed))] <= 7
    assert max(needed) <= 12


def write(folder, name, text):
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_trials_are_files_whose_history_is_followed(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts,role\na,20,core\nb,30,support\nethanol,50,support\n")
    for said in ({"a": ("too_strong", "far"), "b": RIGHT}, {"a": WEAK}):
        history = read_history(path, NAMES)
        number = trial_number(next_trial_path(path))
        found = rebalance(
            history[-1].accord,
            Heard(said),
            history=history[:-1],
            tables=TABLES,
            trial=number,
            parent=path.name,
        )
        path = save_trial(found, path)
    assert path.name == "toy.trial-3.csv"
    assert (
        path.read_text().splitlines()[0] == "material,parts,strength_pct,role,optional,parent,verdict,ratio"
    )
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
    assert history[0].degrees == {"a": "far"}
    table = history_record(read_family(tmp_path / "toy.csv", NAMES), TABLES)
    assert [trial["trial"] for trial in table["trials"]] == [1, 2, 3]
    assert table["materials"][0]["trials"][0] == {"parts": 20.0, "verdict": "too_strong", "degree": "far"}
    assert found.accord.name == "toy.trial-3"


def test_branches_take_the_next_free_number_and_nothing_is_written_over(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts\na,20\nb,80\n")
    found = rebalance(read_accord(path, NAMES), heard(a=STRONG))
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
    found = rebalance(read_accord(path, NAMES), heard(same_total=True, a=STRONG, b=RIGHT))
    assert read_accord(save_trial(found, path), NAMES).total == pytest.approx(100.0)
    assert write_trial(found).count("ethanol") == 1


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (
            "a,1,toy.csv,too_strong:loudly",
            "row 2, column verdict: 'loudly' is no degree: one of slightly, clearly, far",
        ),
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


def test_the_whole_family_is_seen_from_any_trial(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts\na,20\nb,80\n")
    first = save_trial(rebalance(read_accord(path, NAMES), heard(a=STRONG)), path)
    branch = save_trial(rebalance(read_accord(path, NAMES), heard(b=("too_weak", "slightly"))), path)
    last = save_trial(rebalance(read_accord(first, NAMES), heard(a=WEAK)), first)
    families = [read_family(one, NAMES) for one in (path, first, branch, last)]
    assert all(family == families[0] for family in families)
    assert [(one.name, one.parent) for one in families[0].trials] == [
        ("toy.csv", ""),
        ("toy.trial-2.csv", "toy.csv"),
        ("toy.trial-3.csv", "toy.csv"),
        ("toy.trial-4.csv", "toy.trial-2.csv"),
    ]
    assert dict(families[0].trials[0].verdicts) == {"a": "too_strong", "b": "too_weak"}
    assert [one.name for one in families[0].evidence(last.name)][-3:] == ["toy.csv", first.name, last.name]
    compared = compare_record(find_trial(families[0], "trial 2"), find_trial(families[0], "4"), TABLES)
    assert [line["changed"] for line in compared["lines"]] == [True, False]
    assert compared["lines"][0]["times"] > 1
    with pytest.raises(InputError, match="there is no trial '9'; there are 1, 2, 3, 4"):
        find_trial(families[0], "9")


def test_a_trial_whose_parent_is_gone_is_told_and_still_read(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts\na,20\nb,80\n")
    first = save_trial(rebalance(read_accord(path, NAMES), heard(a=STRONG)), path)
    last = save_trial(rebalance(read_accord(first, NAMES), heard(a=WEAK)), first)
    first.unlink()
    family = read_family(last, NAMES)
    assert [one.orphan for one in family.trials] == [False, True]
    assert "toy.trial-2.csv is gone from the folder" in history_record(family, TABLES)["notes"][0]


def test_a_ratio_is_kept_in_the_file(tmp_path):
    path = write(tmp_path, "toy.csv", "material,parts\na,20\nb,30\nc,50\n")
    found = rebalance(read_accord(path, NAMES), heard(ratios=(("a", "b"),), a=STRONG))
    assert read_history(save_trial(found, path), NAMES)[-1].ratios == (("a", "b"),)
