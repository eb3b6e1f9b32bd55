"""The bench book: kept whole, undone with one word, and what a nose teaches."""

from __future__ import annotations

import csv
import math
import os
import random
import re
import shutil
import statistics
from dataclasses import replace
from pathlib import Path

import effort
import pytest

import substitute
from substitute.accords.rebalance import Heard, rebalance
from substitute.accords.trials import Trial
from substitute.book.book import Book
from substitute.book.check import check_book
from substitute.book.desk import Spoken
from substitute.book.formulas import keep_formula
from substitute.book.heard import observed, step_factor
from substitute.book.learn import learn, on_file
from substitute.book.overlay import lay_over, lessons
from substitute.book.profile import words_said
from substitute.book.records import Verdict
from substitute.book.said import Said, read_said
from substitute.book.stood_in import swap_verdict
from substitute.book.store import FORMAT, harmless, plain
from substitute.book.tongues import in_english
from substitute.errors import InputError
from substitute.library import Library
from substitute.tables import folders
from substitute.tables.formulas import read_accord

DEMO = Path(__file__).parents[1] / "data" / "demo"
ACCORDS = ("depot-cat.csv", "choir-book.csv", "flask-on-the-night-run.csv")


@pytest.fixture(scope="module")
def bare():
    return substitute.load(book=False)


@pytest.fixture(scope="module")
def begun(tmp_path_factory, bare):
    """A book with the demo's bottles and three of its accords, to be copied."""
    there = tmp_path_factory.mktemp("begun") / "book"
    bare.book_new(there, shelf=DEMO / "shelf.csv")
    opened(there, bare).book_add(*(DEMO / "accords" / name for name in ACCORDS))
    return there


def opened(folder, bare):
    """A library with a book and the tables that are read already."""
    library = Library(bare.on_file, book=Book(folder))
    library.__dict__["space"] = bare.space
    return library


@pytest.fixture
def folder(tmp_path, begun):
    return Path(shutil.copytree(begun, tmp_path / "book"))


@pytest.fixture
def library(folder, bare):
    return opened(folder, bare)


def rows(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# -- the folder ---------------------------------------------------------------------------------------------


def test_a_new_book_is_plain_files_and_never_begun_twice(folder, bare):
    assert {path.name for path in folder.iterdir()} == {
        *("book.csv", "bottles.csv", "labels.csv", "verdicts.csv", "moves.csv", "accords", "tables")
    }
    with pytest.raises(InputError, match="is a bench book already"):
        bare.book_new(folder)
    (folder.parent / "full").mkdir()
    (folder.parent / "full" / "x").write_text("x")
    with pytest.raises(InputError, match="is not an empty folder"):
        bare.book_new(folder.parent / "full")
    with pytest.raises(InputError, match="is no bench book"):
        substitute.load(book=folder.parent / "full")


def test_the_book_is_the_shelf_where_none_is_given(library, bare):
    held = set(library.read_shelf(DEMO / "shelf.csv").materials())
    answer = library.swap("rosewood-oil", top=5)
    assert answer.stand_ins
    assert {one.members[0].id for one in answer.stand_ins} <= held
    everything = library.swap("rosewood-oil", top=5, shelf="-")
    assert [one.members[0].id for one in everything.stand_ins] == [
        one.members[0].id for one in bare.swap("rosewood-oil", top=5).stand_ins
    ]


def test_the_environment_names_it(folder, monkeypatch):
    monkeypatch.setenv("SUBSTITUTE_BOOK", str(folder))
    assert substitute.load().book.folder == folder
    assert substitute.load(book=False).book is None


def test_own_tables_of_the_book_are_laid_over_and_two_sets_are_refused(folder, tmp_path):
    own = "natural,constituent,low_pct,typical_pct,high_pct\nrosewood-oil,linalool,88,89,90\n"
    (folder / "tables" / "constituents.csv").write_text(own)
    library = substitute.load(book=folder)
    assert next(r for r in library.tables.constituents["rosewood-oil"] if r.id == "linalool").typical == 89
    other = tmp_path / "other"
    other.mkdir()
    (other / "constituents.csv").write_text(own)
    with pytest.raises(InputError, match="two sets of own tables would be two truths"):
        substitute.load(tables=other, book=folder)


def test_a_label_names_the_solution_in_its_bottle(folder, tmp_path, bare):
    path = folder / "bottles.csv"
    path.write_text(path.read_text() + "blue tin seven,vanillin,,L7,10,50,,2026-01-02,\n")
    library = opened(folder, bare)
    accord = tmp_path / "a.csv"
    accord.write_text("material,parts\nblue tin seven,5\nlinalool,5\n")
    line = read_accord(accord, library.names).lines[0]
    assert (line.material, line.strength) == ("vanillin", 10.0)


def test_a_persons_own_columns_and_semicolons_survive(folder, bare):
    path = folder / "bottles.csv"
    text = "label;material;strength_pct;grams;where\nroseship;phenethyl-alcohol;100;2,5;top shelf\n"
    path.write_text(text)
    library = opened(folder, bare)
    library.weigh(library.accord_of([{"material": "phenethyl-alcohol", "parts": "1"}]), grams=1, take=True)
    assert rows(path)[0]["where"] == "top shelf"
    assert float(rows(path)[0]["grams"]) == 1.5


def test_words_that_look_like_a_formula_are_kept_harmless(library, folder):
    library.tried("linalool", instead_of="rosewood-oil", nearness="near", words="=sweet+fresh")
    assert rows(folder / "verdicts.csv")[0]["words"] == "'=sweet+fresh"
    assert library.book.verdicts()[0].words == "=sweet+fresh"
    for text in ("=a", "-1", "'=a", "+x", "plain", "''", "@"):
        assert (plain(harmless(text)) == text) is (text != "'=a"), text


# -- nothing lost -------------------------------------------------------------------------------------------


def test_a_newer_book_is_read_and_not_written(folder, bare):
    path = folder / "book.csv"
    path.write_text(path.read_text().replace(f"format,{FORMAT}", f"format,{FORMAT + 1}"))
    before = {one: one.read_bytes() for one in folder.rglob("*.csv")}
    library = opened(folder, bare)
    assert library.swap("rosewood-oil").stand_ins
    assert "later version" in library.book_show().notes[0]
    with pytest.raises(InputError, match=r"format 2, written by a later version.*Nothing was changed"):
        library.tried("linalool", instead_of="rosewood-oil", nearness="near")
    with pytest.raises(InputError, match="later version"):
        library.weigh("depot-cat", grams=1, take=True)
    assert before == {one: one.read_bytes() for one in folder.rglob("*.csv")}


def test_a_second_writer_waits_and_is_told(folder, library, monkeypatch):
    monkeypatch.setattr(folders, "PATIENCE", 0.1)
    monkeypatch.setattr(folders.one_writer.__wrapped__, "__defaults__", (0.1,))
    (folder / ".lock").write_text(f"1 {folders.socket.gethostname()} 2026-01-01 10:00")
    with pytest.raises(
        InputError, match=r"someone else is writing here \(process 1 .*since 2026-01-01 10:00\)"
    ):
        library.tried("linalool", instead_of="rosewood-oil", nearness="near")
    assert library.book.verdicts() == ()
    (folder / ".lock").write_text(f"999999999 {folders.socket.gethostname()} 2026-01-01 10:00")  # gone
    library.tried("linalool", instead_of="rosewood-oil", nearness="near")
    assert len(library.book.verdicts()) == 1
    assert not (folder / ".lock").exists()


def test_two_who_wrote_in_turn_lose_nothing(folder, bare):
    one, other = opened(folder, bare), opened(folder, bare)
    one.tried("linalool", instead_of="rosewood-oil", nearness="near")
    other.tried("linalyl-acetate", instead_of="lavender-oil", nearness="far")
    one.tried("linalool", instead_of="ho-wood-oil", nearness="fair")
    assert [verdict.id for verdict in Book(folder).verdicts()] == [1, 2, 3]


def fails_after(monkeypatch, allowed: int):
    """A disk that is full after ``allowed`` files."""
    real, count = os.fsync, [0]

    def fsync(handle):
        count[0] += 1
        if count[0] > allowed:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(folders.os, "fsync", fsync)


@pytest.mark.parametrize("allowed", [0, 1, 2])
def test_a_full_disk_in_the_middle_changes_nothing(folder, library, monkeypatch, allowed):
    before = {one: one.read_bytes() for one in folder.rglob("*.csv")}
    fails_after(monkeypatch, allowed)
    accord = library.accord_of([{"material": "linalool", "parts": "1"}])
    with pytest.raises(InputError, match=r"No space left on device.*nothing was changed"):
        library.weigh(accord, grams=5, take=True)  # writes bottles.csv and moves.csv
    monkeypatch.undo()
    assert before == {one: one.read_bytes() for one in folder.rglob("*.csv")}
    assert {one.name for one in folder.iterdir() if one.name.startswith(".")} == set()
    library.weigh(accord, grams=5, take=True)


def test_a_move_cut_short_is_finished_by_the_next_to_open(folder, library, monkeypatch, bare):
    accord = library.accord_of([{"material": "linalool", "parts": "1"}])
    real, count = os.replace, [0]

    def move(source, target):
        count[0] += 1
        if count[0] == 3:  # the list is down, one file moved, the other not
            raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr(folders.os, "replace", move)
    with pytest.raises(KeyboardInterrupt):
        library.weigh(accord, grams=5, take=True)
    monkeypatch.undo()
    again = opened(folder, bare)
    left = next(b.grams for b in again.book.bottles(again.names) if b.material == "linalool")
    assert left == 195.0
    assert [move.grams for move in again.book.moves()] == [5.0]
    assert not (folder / folders.PENDING).exists()


def test_check_covers_the_whole_book(folder, library):
    assert library.check(folder).lines == (f"{folder}: a bench book, nothing wrong",)
    trial = library.keep_trial(library.rebalance("depot-cat", too_strong=["skatole"]), "depot-cat")
    library.keep_trial(library.rebalance(trial, too_weak=["skatole"]), trial)
    library.tried("choir-book", words="too cold")
    trial.unlink()
    (folder / "accords" / "choir-book.csv").unlink()
    (folder / "accords" / "flask-on-the-night-run.csv").write_text("material,parts\nlinaloool,-2\n")
    found = [str(one) for one in library.check(folder).complaints]
    assert any(
        "depot-cat.trial-3.csv, column parent: 'depot-cat.trial-2.csv' is gone" in one for one in found
    )
    assert any("verdict 3: the accord 'choir-book' is not in the book any more" in one for one in found)
    assert any("flask-on-the-night-run.csv, row 2" in one for one in found)
    text = (folder / "bottles.csv").read_text()
    (folder / "bottles.csv").write_text(text + "linalool,linalool,,,100,1,,,\n")
    found = [str(one) for one in library.check(folder).complaints]
    assert any("column label: 'linalool' reads like 'linalool'" in one for one in found)
    (folder / "book.csv").write_text("key,value\nformat,soon\n")
    assert "the format 'soon' is no version" in str(library.check(folder).complaints[0])


def test_a_trial_whose_parent_is_gone_is_told_and_gone_on_from(library):
    first = library.keep_trial(library.rebalance("depot-cat", too_strong=["skatole"]), "depot-cat")
    second = library.keep_trial(library.rebalance(first, too_weak=["skatole"]), first)
    first.unlink()
    found = library.rebalance(second, too_weak=["skatole"])
    assert "the file it came from is gone" in found.warnings[0]
    assert "is gone from the folder" in library.history(second).to_dict()["notes"][0]


# -- verdicts -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "given", "message"),
    [
        ("linalool", {"instead_of": "linalool", "nearness": "near"}, "in its own place"),
        ("linalool", {"instead_of": "rosewood-oil"}, "nothing was said"),
        (
            "linalool",
            {"instead_of": "rosewood-oil", "nearness": "nearly"},
            "`nearness` 'nearly' is not allowed",
        ),
        ("linalool", {"instead_of": "rosewood-oil", "used": -1}, "`used` -1 is out of range"),
        ("linalool", {"instead_of": "rosewood-oil", "needs": float("nan")}, "`needs` nan is out of range"),
        ("linalool", {"instead_of": "rosewood-oil", "nearness": "near", "on": "2999-01-01"}, "still to come"),
        ("orris-butter", {"instead_of": "linalool", "nearness": "near"}, "cannot have been tried"),
        ("no such accord", {"words": "flat"}, "'no such accord' is no accord of this book"),
        (
            "depot-cat",
            {"trial": 7, "words": "flat"},
            "there is no trial 7, so it was not smelled; there are 1",
        ),
        ("depot-cat", {"too_strong": ["linalool"]}, "'linalool' is not a line of depot-cat, trial 1"),
        ("depot-cat", {"too_strong": ["skatole:loudly"]}, "'loudly' is no degree"),
        (str(DEMO / "accords" / "spice-atlas.csv"), {"words": "flat"}, "not among the accords of this book"),
    ],
)
def test_a_verdict_on_what_was_never_tried_is_refused(library, folder, what, given, message):
    with pytest.raises(InputError, match=message):
        library.tried(what, **given)
    assert rows(folder / "verdicts.csv") == []


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("1 g was too much, half was right", Said("", "too_strong", "", 1.0, 0.5)),
        ("near; 2 g far too strong, half was right", Said("near", "too_strong", "far", 2.0, 1.0)),
        ("0,4 g is right", Said(right=0.4)),
        ("not near at all", Said("far")),
        ("fairly near, a little too weak", Said("fair", "too_weak", "slightly")),
        ("sweet, wanting freshness", Said()),
        ("I can't smell it", Said("not_smelled")),
    ],
)
def test_a_persons_own_words_are_read_where_they_are_plain(text, read):
    assert read_said(text) == read


@pytest.mark.parametrize(
    ("text", "read", "smells"),
    [
        (
            "nah; 1 g war zu viel, die Hälfte war richtig; süß, es fehlt Frische",
            Said("near", "too_strong", "", 1.0, 0.5),
            {"sweet": 1, "fresh": -1},
        ),
        ("viel zu laut; ganz anders", Said("far", "too_strong", "far"), {}),
        (
            "assez proche, un peu trop faible, manque de fraîcheur",
            Said("fair", "too_weak", "slightly"),
            {"fresh": -1},
        ),
        ("2 g trop fort mais la moitié était juste bien", Said("", "too_strong", "", 2.0, 1.0), {}),
        (
            "muy parecido; un poco demasiado fuerte; dulce, sin frescura",
            Said("near", "too_strong", "slightly"),
            {"sweet": 1, "fresh": -1},
        ),
        (
            "abbastanza vicino, troppo debole; manca di freschezza, un po' amaro",
            Said("fair", "too_weak"),
            {"fresh": -1, "bitter": 1},
        ),
        ("tutt’altro, lontano", Said("far"), {}),
        ("I smell nothing but the sweet vermouth", Said("not_smelled"), {"sweet": 1}),
    ],
)
def test_words_of_other_languages_are_read_by_the_table(bare, text, read, smells):
    assert read_said(in_english(bare.tables, text)) == read
    assert words_said(bare.tables, text) == smells


def test_words_kept_are_the_persons_own_and_what_was_not_read_is_told(library, folder):
    library.tried("geraniol", instead_of="rosewood-oil", words="nah, etwas süßer", elsewhere=True)
    assert rows(folder / "verdicts.csv")[0]["words"] == "nah, etwas süßer"
    assert rows(folder / "verdicts.csv")[0]["nearness"] == "near"
    assert library.book_find("süßer").to_dict()["found"]
    told = library.tried("geraniol", instead_of="rosewood-oil", words="qwertz", elsewhere=True).notes
    assert "English, French, German, Italian, Spanish" in told[0]


def test_a_near_swap_goes_before_ours_and_says_so(library):
    before = [one.members[0].id for one in library.swap("rosewood-oil").stand_ins]
    chosen = before[3]
    library.tried(chosen, instead_of="rosewood-oil", words="near; 1 g was too much, 0.4 was right; sweet")
    first = library.swap("rosewood-oil").stand_ins[0]
    assert first.members[0].id == chosen
    assert first.reasons[0].startswith("you found: near, about 0.4")
    assert first.members[0].amount.ground == "tried"
    assert not any("documented" in reason for reason in first.reasons[:1])
    library.tried(before[0], instead_of="rosewood-oil", nearness="far")
    assert library.swap("rosewood-oil").stand_ins[1].members[0].id != before[0]


def test_a_verdict_taken_back_leaves_no_trace_in_the_answers(library, folder):
    before = library.swap("rosewood-oil").to_dict()
    answer = library.tried(
        "linalool", instead_of="rosewood-oil", words="near; 1 g was too much, half was right; sweet"
    )
    assert answer.learned
    assert library.swap("rosewood-oil").to_dict() != before
    back = library.book_forget(answer.verdicts[0].id)
    assert {change.what for change in back.learned} >= {"amount", "rank"}
    assert library.swap("rosewood-oil").to_dict() == before
    assert rows(folder / "verdicts.csv")[0]["taken_back"]
    with pytest.raises(InputError, match="was taken back on"):
        library.book_forget(1)
    with pytest.raises(InputError, match="holds no verdict 5; its verdicts are 1 to 1"):
        library.book_forget(5)


def test_no_table_of_ours_is_changed(library):
    held = library.on_file
    potency = held.properties["linalool"]["potency"].value
    profile = dict(held.profiles["linalool"])
    library.tried("linalool", instead_of="rosewood-oil", needs=5.0, words="sweet, sweet, wanting freshness")
    assert library.on_file is held
    assert held.properties["linalool"]["potency"].value == potency
    assert held.profiles["linalool"] == profile
    assert library.tables.properties["linalool"]["potency"].value < potency
    assert library.tables.profiles["linalool"]["sweet"] > profile.get("sweet", 0.0)
    assert library.tables.profiles["linalool"].get("fresh", 0.0) < profile["fresh"]


def test_what_is_shown_says_before_after_how_sure_and_from_what(library):
    library.tried("linalool", instead_of="rosewood-oil", words="near; 1 g was too much, half was right")
    shown = library.book_show().to_dict()
    amount = next(change for change in shown["learned"] if change["what"] == "amount")
    assert amount["low"] < amount["after"] < amount["before"]
    assert amount["from"] == [1]
    assert shown["verdicts"][0]["words"] == "near; 1 g was too much, half was right"


def test_lines_of_an_accord_in_own_words(library):
    answer = library.tried(
        "depot-cat", words="the skatole shouted, coumarin a little too weak; like a wet dog"
    )
    assert [(one.line, one.amount, one.degree) for one in answer.verdicts] == [
        ("skatole", "too_strong", ""),
        ("coumarin", "too_weak", "slightly"),
        ("", "", ""),
    ]
    trial = library.rebalance("depot-cat")
    moved = {
        line.id: line.parts_after / line.parts_before
        for line in trial.lines
        if line.parts_after != line.parts_before
    }
    assert set(moved) == {"skatole", "coumarin"}
    assert moved["skatole"] < 1 < moved["coumarin"]
    kept = library.keep_trial(trial, "depot-cat")
    assert kept.name == "depot-cat.trial-2.csv"
    assert "too_strong" not in kept.read_text()  # said once, in verdicts.csv
    library.tried("depot cat", trial=2, too_weak=["skatole:far"], words="tame now")
    again = {line.id: line.parts_after for line in library.rebalance("depot cat trial 2").lines}
    first = {line.id: line.parts_after for line in trial.lines}
    before = {line.id: line.parts_before for line in trial.lines}
    assert first["skatole"] < again["skatole"] < before["skatole"]
    assert [one["accord"] for one in library.book_find("wet dog").to_dict()["found"]] == ["depot-cat"]
    assert library.book_find("wet dog").to_dict()["found"][0]["trial"] == 1
    history = library.history("depot-cat.trial-2").to_dict()
    assert [trial["words"] for trial in history["trials"]] == [
        ["the skatole shouted, coumarin a little too weak; like a wet dog"],
        ["tame now"],
    ]


def test_a_blend_found_near_goes_before_ours_and_can_be_taken_back(library, folder):
    before = library.swap("rosewood-oil").to_dict()
    answer = library.tried(
        "linalool:0.6 + geraniol:0.2", instead_of="rosewood-oil", words="near; too much; rosy", elsewhere=True
    )
    assert answer.verdicts[0].kind == "blend"
    assert rows(folder / "verdicts.csv")[0]["line"] == "linalool:0.6 + geraniol:0.2"
    first = library.swap("rosewood-oil").stand_ins[0]
    assert {member.id for member in first.members} == {"linalool", "geraniol"}
    grams = {member.id: member.amount.grams for member in first.members}
    assert grams["linalool"] / grams["geraniol"] == pytest.approx(3.0)
    assert sum(grams.values()) < 0.8
    assert first.reasons[0].startswith("you found: near, about")
    library.tried({"geraniol": 0.25, "linalool": 0.75}, instead_of="rosewood-oil", needs=0.5)
    again = library.swap("rosewood-oil").stand_ins[0]
    assert abs(sum(m.amount.grams for m in again.members) - 0.5) < abs(sum(grams.values()) - 0.5)
    assert "verdicts 1, 2" in again.reasons[0]
    library.book_forget(1), library.book_forget(2)
    assert library.swap("rosewood-oil").to_dict() == before


def test_a_blend_found_far_is_not_offered(library):
    offered = library.swap("rosewood-oil", blend=2).stand_ins
    mixed = next(one for one in offered if len(one.members) == 2)
    what = {member.id: member.amount.grams for member in mixed.members}
    library.tried(what, instead_of="rosewood-oil", nearness="far", elsewhere=True)
    after = library.swap("rosewood-oil", blend=2)
    ids = {member.id for member in mixed.members}
    assert all({member.id for member in one.members} != ids for one in after.stand_ins)
    assert any("far from it" in note for note in after.notes)


@pytest.mark.parametrize(
    ("what", "wrong"),
    [
        ("linalool + geraniol:0.2", "how much of it is wanted as well"),
        ("linalool:0 + geraniol:0.2", "its grams are wanted, above 0"),
        ("linalool:0.2 + linalool:0.2", "a blend is of two to 3 materials; 1 are named"),
        ("linalool:0.2 + rosewood-oil:0.2", "cannot have been tried in its own place"),
        ("linalool:0.2 + borneol:0.2", "stands on none of the bottles"),
    ],
)
def test_a_blend_that_cannot_be_meant_is_refused(library, folder, what, wrong):
    with pytest.raises(InputError, match=wrong):
        library.tried(what, instead_of="rosewood-oil", nearness="near")
    assert not rows(folder / "verdicts.csv")


def test_a_line_teaches_its_material_but_less_than_a_pair_does(library, bare):
    said = library.tried("depot-cat", too_strong=["skatole:far"]).learned
    line = next(one for one in said if one.material == "skatole")
    assert line.what == "loudness"
    assert line.after > 1
    assert "not sure" in line.told
    used = library._usual("indole", "skatole")
    pair = learn(
        bare.on_file,
        [Verdict(9, "", "swap", "indole", "skatole", amount="too_strong", degree="far", grams_used=used)],
    ).loudness["skatole"]
    assert pair.factor > line.after
    assert pair.high / pair.low < line.high / line.low
    library.book_forget(1)
    assert not library.book_show().learned


def test_a_line_found_right_at_half_says_more_than_one_called_too_strong(library):
    library.tried("depot-cat", too_strong=["skatole"])
    first = library.book_show().learned[0].after
    library.keep_trial(library.rebalance("depot-cat"), "depot-cat")
    library.tried("depot-cat trial 2", right=["skatole"])
    both = library.book_show().learned[0]
    assert both.verdicts == (1, 2)
    assert both.after > first
    (library.book.accords / "depot-cat.trial-2.csv").unlink()
    library.refresh()
    assert library.book_show().learned[0].verdicts == (1,)  # what it was said of is gone


def test_kinds_of_one_plant_are_loud_alike(bare):
    said = [Verdict(1, "", "swap", "bergamot-oil", "linalool", grams_right=0.3)]
    found = learn(bare.on_file, said).loudness
    assert found["bergamot-oil-bergapten-free"].factor == pytest.approx(found["bergamot-oil"].factor, rel=0.3)


def test_another_process_s_verdict_is_seen_by_a_library_already_open(library, folder, bare):
    turn = library.turn
    library.swap("rosewood-oil")
    assert library.turn == turn
    opened(folder, bare).tried("geraniol", instead_of="rosewood-oil", nearness="near", elsewhere=True)
    assert library.swap("rosewood-oil").stand_ins[0].members[0].id == "geraniol"
    assert library.turn == turn + 1


def test_a_fault_in_one_file_stops_only_what_stands_on_it(library, folder):
    bottles = folder / "bottles.csv"
    bottles.write_text(bottles.read_text().replace(",100,", ",a lot,", 1))
    assert library.neighbours("vanillin").to_dict()["neighbours"]
    assert any("bottles.csv" in told for told in library.troubles)
    assert library.swap("rosewood-oil", shelf=False).stand_ins
    with pytest.raises(InputError, match="a lot"):
        library.swap("rosewood-oil")
    assert library.check(folder).complaints
    bottles.write_text(bottles.read_text().replace(",a lot,", ",100,", 1))
    library.swap("rosewood-oil")
    assert not library.troubles
    library.tried("geraniol", instead_of="rosewood-oil", nearness="near", elsewhere=True)
    verdicts = folder / "verdicts.csv"
    verdicts.write_text(verdicts.read_text().replace(",near,", ",next door,"))
    assert not library.swap("rosewood-oil").stand_ins[0].reasons[0].startswith("you found")
    assert any("not counted" in told for told in library.troubles)
    with pytest.raises(InputError, match="next door"):
        library.book_show()


# -- what a nose teaches ------------------------------------------------------------------------------------


def a_nose(bare, seed: int, blind: int):
    """Own potencies x/÷ 3 on everything, some of the shelf hardly smelled at all (a fiftieth)."""
    draw = random.Random(seed)
    shelf = [
        id for id in bare.read_shelf(DEMO / "shelf.csv").materials() if bare.on_file.value(id, "potency")
    ]
    shelf = [id for id in shelf if bare.on_file.materials[id].kind != "solvent"]
    louder = {id: draw.uniform(-1, 1) * math.log(3) for id in bare.on_file.materials}
    for id in draw.sample(shelf, blind):
        louder[id] = math.log(0.02)
    return draw, louder, shelf


def taught(bare, seed: int, blind: int, stated: bool):
    """Errors (log) before and after ten verdicts: of the pairs tried, and of others that the nose can
    judge."""
    draw, louder, shelf = a_nose(bare, seed, blind)
    file = on_file(bare.on_file)
    pairs: list[tuple[str, str]] = []
    while len(pairs) < 10:
        pair = tuple(draw.sample(shelf, 2))
        if pair not in pairs and file(*pair):
            pairs.append(pair)

    def right(pair):
        return file(*pair).grams * math.exp(louder[pair[0]] - louder[pair[1]])

    said = []
    for id, pair in enumerate(pairs, 1):
        used, wanted = file(*pair).grams, right(pair) * math.exp(draw.gauss(0, math.log(1.15)))
        off = math.log(used / wanted)
        steps = abs(off) / math.log(step_factor("clearly"))
        amount = "right" if abs(off) < math.log(1.2) else "too_strong" if off > 0 else "too_weak"
        degree = (
            "" if amount == "right" else "slightly" if steps < 0.7 else "clearly" if steps < 1.5 else "far"
        )
        given = {"grams_right": wanted} if stated else {"amount": amount, "degree": degree}
        said.append(Verdict(id, "", "swap", *pair, grams_used=used, **given))
    after = on_file(lay_over(bare.on_file, lessons(bare.on_file, said)))
    seen = [id for id in shelf if abs(louder[id]) < 1.2]
    others = [
        pair
        for pair in (tuple(draw.sample(seen, 2)) for _ in range(200))
        if pair not in pairs and file(*pair)
    ]

    def errors(amount, chosen):
        return [abs(math.log(amount(*pair).grams / right(pair))) for pair in chosen]

    return (errors(file, pairs), errors(after, pairs)), (errors(file, others), errors(after, others))


@pytest.mark.parametrize("blind", [0, pytest.param(3, marks=pytest.mark.slow)])
@pytest.mark.parametrize("stated", [True, False])
def test_after_ten_verdicts_amounts_are_at_most_half_as_wrong(bare, blind, stated):
    tried, others = zip(*(taught(bare, seed, blind, stated) for seed in range(effort.examples(25))))
    ratios = [statistics.median(after) / statistics.median(before) for before, after in tried]
    assert statistics.median(ratios) < 0.5
    assert sum(ratio < 0.5 for ratio in ratios) >= 0.75 * len(ratios)
    before = statistics.mean(statistics.median(one) for one, _ in others)
    after = statistics.mean(statistics.median(one) for _, one in others)
    assert after < before  # what was never tried gets better on the whole


def test_a_single_verdict_moves_others_by_less_than_what_it_was_off(bare):
    """Whatever one verdict says, up to a hundred times off, no other answer moves by more than x/÷ 5."""
    file = on_file(bare.on_file)
    shelf = ["linalool", "linalyl-acetate", "phenethyl-alcohol", "coumarin", "vanillin", "citronellol"]
    for off in (0.01, 0.1, 0.3, 3.0, 10.0, 100.0):
        said = [
            Verdict(
                1, "", "swap", "linalool", "coumarin", grams_right=file("linalool", "coumarin").grams * off
            )
        ]
        after = on_file(lay_over(bare.on_file, lessons(bare.on_file, said)))
        for missing in shelf:
            for other in shelf:
                if missing != other and {missing, other} != {"linalool", "coumarin"} and file(missing, other):
                    moved = abs(math.log(after(missing, other).grams / file(missing, other).grams))
                    assert moved < min(math.log(5.0), 0.75 * abs(math.log(off)))


def test_order_does_not_matter_and_agreement_makes_surer(bare):
    said = [
        Verdict(1, "", "swap", "linalool", "coumarin", grams_right=0.2),
        Verdict(2, "", "swap", "coumarin", "vanillin", grams_right=2.0),
        Verdict(3, "", "swap", "linalool", "vanillin", grams_right=0.5),
    ]
    one, other = learn(bare.on_file, said), learn(bare.on_file, said[::-1])
    for id, told in one.loudness.items():
        assert told.factor == pytest.approx(other.loudness[id].factor, rel=1e-6)
    few, many = learn(bare.on_file, said[:1]), learn(bare.on_file, [said[0]] * 4)
    pair = ("linalool", "coumarin")
    assert many.pairs[pair].high / many.pairs[pair].low < few.pairs[pair].high / few.pairs[pair].low
    assert abs(math.log(many.pairs[pair].grams / 0.2)) < abs(math.log(few.pairs[pair].grams / 0.2))


def test_against_the_plain_normal_formulas_for_one_pair(bare):
    """One molecule for another, one verdict: the textbook posterior of a difference of two normals
    (conjugate update)."""
    file = on_file(bare.on_file)
    from substitute.book.causes import PEOPLE
    from substitute.book.heard import NOISE
    from substitute.book.learn import PECULIAR
    from substitute.standins.amounts import SPREAD

    missing, other = "phenethyl-alcohol", "linalool"
    assert file(missing, other).ground == "potency"
    basis = [bare.on_file.properties[id]["potency"].basis for id in (missing, other)]
    prior = sum(math.log(SPREAD[one]) ** 2 + math.log(PEOPLE) ** 2 for one in basis)
    off = 0.4
    found = learn(
        bare.on_file,
        [Verdict(1, "", "swap", missing, other, grams_right=file(missing, other).grams * math.exp(off))],
    )
    got = math.log(found.pairs[missing, other].grams / file(missing, other).grams)
    noise = math.log(NOISE["stated"]) ** 2
    low = off * prior / (prior + noise)  # nothing peculiar to the pair
    high = off * (prior + math.log(PECULIAR) ** 2 * 3) / (prior + math.log(PECULIAR) ** 2 * 3 + noise)
    assert low * 0.999 <= got <= high * 1.001


@pytest.mark.parametrize("name", ACCORDS)
@pytest.mark.parametrize("seed", range(8))
def test_an_accord_is_rebalanced_to_a_hidden_target(bare, name, seed):
    """Five lines of a real accord off by up to x/÷ 4; a nose that hears amounts x/÷ 1.25 off and names two
    lines at a time."""
    draw = random.Random(f"{name} {seed}")
    target = bare.read_accord(DEMO / "accords" / name)
    smelled = [
        line.material for line in target.lines if bare.on_file.materials[line.material].kind != "solvent"
    ]
    off = {id: 4 ** draw.uniform(-1, 1) for id in draw.sample(sorted(set(smelled)), 5)}
    lines = [replace(line, parts=line.parts * off.get(line.material, 1.0)) for line in target.lines]
    toy, history, wanted = replace(target, lines=tuple(lines)), [], target.active()
    for _ in range(12):
        wrong = {id: math.log(grams / wanted[id]) for id, grams in toy.active().items() if wanted[id]}
        loud = sorted(
            (id for id in wrong if abs(wrong[id]) > math.log(1.25)), key=lambda id: -abs(wrong[id])
        )[:2]
        if not loud:
            break
        said = {}
        for id in loud:
            steps = abs(wrong[id]) / math.log(step_factor("clearly"))
            degree = "slightly" if steps < 0.7 else "clearly" if steps < 1.5 else "far"
            said[id] = ("too_strong" if wrong[id] > 0 else "too_weak", degree)
        trial = rebalance(toy, Heard(said), history=history)
        verdicts = {id: verdict for id, (verdict, _) in said.items()}
        history.append(
            Trial(f"trial {len(history)}", toy, verdicts, "", {id: d for id, (_, d) in said.items()})
        )
        toy = trial.accord
    else:
        pytest.fail("not right after twelve trials")
    assert len(history) <= 8
    untouched = [line.parts for line in toy.lines if line.material not in off]
    assert untouched == [line.parts for line in target.lines if line.material not in off]


# -- stock and cost -----------------------------------------------------------------------------------------


def test_weighing_takes_from_the_bottles_and_undo_puts_back(library, folder):
    before = (folder / "bottles.csv").read_text()
    accord = library.accord_of(
        [
            {"material": "linalool", "parts": "97"},
            {"material": "vanillin", "parts": "3", "strength_pct": "10"},
        ],
        "toy",
    )
    found = library.weigh(accord, grams=10, balance=0.01, take=True)
    left = {bottle.label: bottle.grams for bottle in library.book.bottles(library.names)}
    assert left["linalool"] == pytest.approx(200 - 9.7)
    assert any("out of linalool" in text for text in found.taken)
    back = library.book_undo().to_dict()
    assert {move["label"] for move in back["moves"]} >= {"linalool"}
    now = {row["label"]: row["grams"] for row in rows(folder / "bottles.csv")}
    assert {label: now[label] for label in (row["label"] for row in csv.DictReader(before.splitlines()))} == {
        row["label"]: row["grams"] for row in csv.DictReader(before.splitlines())
    }
    with pytest.raises(InputError, match="nothing was taken"):
        library.book_undo()


def test_a_batch_stretches_so_that_the_solutions_at_hand_fit(library):
    cells = [("linalool", "50"), ("phenethyl-alcohol", "40"), ("indole", "0.2"), ("cis-3-hexenol", "1")]
    accord = library.accord_of([{"material": id, "parts": parts} for id, parts in cells], "tight")
    with pytest.raises(InputError, match=r"your bottle is at 1 %: `stretch` makes room for it"):
        library.weigh(accord, grams=10, take=True)
    found = library.weigh(accord, grams=10, stretch=True, take=True)
    held = {(item.material, item.strength) for item in library.shelf_for(None).stock}
    assert {(line.id, line.strength_pct) for line in found.lines if line.grams} <= held
    assert found.total_g > 10
    wanted = {id: float(parts) / 91.2 * 10 for id, parts in cells}
    for line in found.lines:
        if line.id in wanted:
            assert line.active_g == pytest.approx(wanted[line.id], rel=0.02)


def test_what_names_no_line_is_kept_in_words_and_told(library):
    found = library.tried("depot-cat", words="the skatole shouted; the civets of the north are too loud")
    assert [one.line for one in found.verdicts] == ["skatole", ""]
    assert any("no line is named in it" in note for note in found.notes)


def test_lift_asks_the_bottles_unless_told_otherwise(library):
    held = {bottle.material for bottle in library.book.bottles(library.names)}
    own = library.lift("depot-cat")
    assert {one.material for one in own.suggestions} <= held
    assert any("from the bottles of your book" in note for note in own.notes)
    assert not {one.material for one in library.lift("depot-cat", shelf="-", top=9).suggestions} <= held


def test_a_name_that_is_nearly_an_accord_of_the_book_is_told(library):
    with pytest.raises(InputError, match="'depot kat' is no accord of this book.*depot-cat"):
        library.rebalance("depot kat", too_strong=["skatole"])


def test_of_a_folder_the_accords_are_planned_and_not_their_trials(library):
    library.tried("depot-cat", too_strong=["skatole"])
    library.keep_trial(library.rebalance("depot-cat"), "depot-cat")
    made = library.plan(library.book.accords, exact=False).to_dict()["makes"]
    assert sorted(one["accord"] for one in made) == sorted(name.removesuffix(".csv") for name in ACCORDS)


def test_a_trial_that_stands_is_no_fault_when_its_accord_is_gone(library, folder):
    library.tried("depot-cat", too_strong=["skatole"])
    library.keep_trial(library.rebalance("depot-cat"), "depot-cat")
    library.tried("depot-cat trial 2", right=["skatole"])
    (folder / "accords" / "depot-cat.csv").unlink()
    told = [str(one) for one in library.check(folder).complaints]
    assert any("verdict 1" in one for one in told)
    assert not any("verdict 2" in one for one in told)


def test_what_was_said_before_of_a_trial_counts_with_what_is_said_now(library):
    library.tried("depot-cat", too_strong=["skatole:far"])
    trial = library.rebalance("depot-cat", too_weak=["coumarin"])
    moved = {line.id for line in trial.lines if line.parts_after != line.parts_before}
    assert moved == {"skatole", "coumarin"}


def test_more_than_a_bottle_holds_is_warned_of_and_not_taken(library, folder):
    before = (folder / "bottles.csv").read_bytes()
    accord = library.accord_of([{"material": "linalool", "parts": "1"}], "much")
    sheet = library.weigh(accord, grams=500)
    assert any("500 g are wanted, the shelf holds 200 g" in text for text in sheet.cautions)
    with pytest.raises(InputError, match=r"linalool at 100 %: 500 g wanted, 200 g left. Nothing was taken"):
        library.weigh(accord, grams=500, take=True)
    assert (folder / "bottles.csv").read_bytes() == before


def test_a_batch_is_priced_and_a_missing_price_makes_a_range(library, folder, bare):
    accord = library.accord_of(
        [{"material": "linalool", "parts": "50"}, {"material": "phenethyl-alcohol", "parts": "50"}], "cheap"
    )
    cost = library.weigh(accord, grams=10).cost
    assert cost.known == pytest.approx(5 * 0.06 + 5 * 0.05)
    assert cost.high == cost.low == cost.known
    dear = library.accord_of(
        [{"material": "linalool", "parts": "50"}, {"material": "orris-butter", "parts": "50"}], "dear"
    )
    cost = library.weigh(dear, grams=10).cost
    assert cost.low < cost.high
    assert cost.low > 5 * 0.06
    assert [one.id for one in cost.unpriced] == ["orris-butter"]
    text = (folder / "bottles.csv").read_text().splitlines()
    (folder / "bottles.csv").write_text(
        "\n".join([text[0], "linalool,linalool,,,100,200,,2026-01-01,"]) + "\n"
    )
    cost = opened(folder, bare).weigh(accord, grams=10).cost
    assert cost.high is None  # no price of the person's own: no scale for the rough words
    assert cost.told.startswith("not known")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("skatole:coumarin=2", "2 figures above 0 are wanted"),
        ("skatole:coumarin=2:x", "2 figures above 0 are wanted"),
        ("skatole:coumarin=0:1", "2 figures above 0 are wanted"),
        ("skatole=2:1", "two lines of depot-cat are wanted"),
    ],
)
def test_a_ratio_that_cannot_be_meant_is_refused(library, text, wrong):
    with pytest.raises(InputError, match=wrong):
        library.rebalance("depot-cat", ratio=[text])


def test_a_ratio_is_set_by_name(library):
    trial = library.rebalance("depot-cat", ratio=["coumarin:skatole=40:1"])
    now = trial.accord.active()
    assert now["coumarin"] / now["skatole"] == pytest.approx(40)


# -- what stands in the files, and is wrong -----------------------------------------------------------------

HEADS = {
    "bottles.csv": "label,material,strength_pct,grams",
    "verdicts.csv": "id,date,kind,about,line,trial,grams_used",
    "moves.csv": "id,label,grams",
}


@pytest.mark.parametrize(
    ("file", "line", "message"),
    [
        ("bottles.csv", ",linalool,100,5", "column label: is empty; the name on the bottle is wanted"),
        ("bottles.csv", "jar,linalool,1000,5", "column strength_pct: 1000 is out of range"),
        ("verdicts.csv", "1,,swap,a,b,,\n1,,swap,a,b,,", "row 3, column id: 1 stands twice"),
        ("verdicts.csv", "1.5,,swap,a,b,,", "column id: '1.5' is no whole number from 1 on"),
        ("verdicts.csv", ",,swap,a,b,,", "column id: '' is no whole number from 1 on"),
        ("verdicts.csv", "1,,swap,,b,,", "column about: is empty and must not be"),
        ("verdicts.csv", "1,,,a,b,,", "column kind: is empty and must not be"),
        ("verdicts.csv", "1,,line,a,,2,", "column line: is empty; the material that was judged is wanted"),
        ("verdicts.csv", "1,,blend,a,b:1 + c:x,,", "column line: 'c:x' is no member of a blend"),
        ("verdicts.csv", "1,,blend,a,b,,", "column line: 'b' is no member of a blend"),
        ("verdicts.csv", "1,,swap,a,b,,0", "column grams_used: 0 is out of range: allowed is above 0 to"),
        ("moves.csv", ",jar,1", "column id: is empty; a number is wanted"),
        ("moves.csv", "1,jar,", "column grams: is empty; a number is wanted"),
        ("moves.csv", "1,,5", "column label: is empty; the bottle's label is wanted"),
    ],
)
def test_a_faulty_row_of_the_book_is_named(folder, bare, file, line, message):
    (folder / file).write_text(f"{HEADS[file]}\n{line}\n")
    book = Book(folder)
    read = {
        "bottles.csv": lambda: book.bottles(bare.names),
        "verdicts.csv": book.verdicts,
        "moves.csv": book.moves,
    }
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        read[file]()
    assert str(folder / file) in str(caught.value)


def test_files_that_are_gone_leave_an_empty_book(folder, bare):
    for file in ("bottles.csv", "verdicts.csv", "moves.csv", "labels.csv"):
        (folder / file).unlink()
    shutil.rmtree(folder / "accords")
    library = opened(folder, bare)
    shown = library.book_show().to_dict()
    assert (shown["bottles"], shown["verdicts"], shown["accords"]) == ([], [], [])
    with pytest.raises(InputError, match="'depot-cat' is no accord of this book"):
        library.tried("depot-cat", words="flat")
    assert library.swap("rosewood-oil", top=1).stand_ins  # no bottle at all: the whole table


def test_own_tables_of_a_book_are_checked_with_it(folder, bare):
    own = folder / "tables" / "materials.csv"
    own.write_text("id,name,kind,stocked\nglue-note,glue note,mixture,yes\n")
    (folder / "bottles.csv").write_text(f"{HEADS['bottles.csv']}\ntin 1,glue-note,100,5\n")
    assert check_book(folder, bare.names).complaints == ()
    own.write_text("id,name,kind,stocked\nglue-note,glue note,soup,yes\n")
    (complaint,) = check_book(folder, bare.names).complaints
    assert "'soup' is not allowed: one of molecule" in str(complaint)


def test_what_the_book_speaks_of_and_does_not_hold_any_more_is_told(folder, library, bare):
    library.weigh(library.accord_of([{"material": "linalool", "parts": "1"}], "toy"), grams=1, take=True)
    library.tried("depot-cat", words="flat")
    (folder / "verdicts.csv").write_text(
        (folder / "verdicts.csv").read_text() + "2,2026-01-02,swap,linalool,gone-note,,near,,,,,,\n"
    )
    (folder / "bottles.csv").write_text("label,material,strength_pct,grams\njar,vanillin,100,0\n")
    (folder / "accords" / "depot-cat.csv").unlink()
    late = opened(folder, bare)
    assert list(late.book_show().notes) == [
        "Empty: jar.",
        "Verdicts speak of accords that are not in the book any more: depot-cat.",
        "Not counted, a material in them is not on file any more: verdicts 2.",
    ]
    told = [str(one) for one in late.check(folder).complaints]
    assert any("'linalool' is not a bottle of bottles.csv any more" in one for one in told)
    before = (folder / "moves.csv").read_bytes()
    with pytest.raises(
        InputError, match="the bottle 'linalool' is not in bottles.csv any more; put its row back"
    ):
        late.book_undo()
    assert (folder / "moves.csv").read_bytes() == before


SOLUTION = [
    {"material": "linalool", "parts": "95", "strength_pct": ""},
    {"material": "vanillin", "parts": "5", "strength_pct": "1"},
]
TINS = "vanillin,vanillin,100,20\nold tin,linalool,100,2\nnew tin,linalool,100,\n"


def test_a_solution_made_for_a_weighing_goes_among_the_bottles(folder, bare):
    """What is left over of a solution is a bottle of its own, from which the next batch takes; the way back goes
    through the batches one by one. A label that would read like another one is counted on."""
    path = folder / "bottles.csv"
    path.write_text(f"{HEADS['bottles.csv']}\nVanillin - 10%,coumarin,100,5\n{TINS}")
    library = opened(folder, bare)
    accord = library.accord_of(SOLUTION, "toy")
    first = library.weigh(accord, grams=10, balance=0.01, take=True)
    held = {row["label"]: row["grams"] for row in rows(path)}
    assert held == {
        "Vanillin - 10%": "5",
        "vanillin": "19",  # 1 g for 10 g of 10 %, of which 1 g for 10 g of 1 %, of which 0.5 g is in the batch
        "old tin": "0",  # what has the least left goes first
        "new tin": "",  # never known, so never counted down
        "vanillin 1 %": "9.5",
        "vanillin 10 %, bottle 2": "9",
    }
    assert "9.5 g made and left over into vanillin 1 %" in first.taken
    late = opened(folder, bare)
    assert late.check(folder).complaints == ()
    late.weigh(accord, grams=10, balance=0.01, take=True)
    now = {row["label"]: row["grams"] for row in rows(path)}
    assert now == {**held, "vanillin 1 %": "9"}
    late.book_undo()
    assert {row["label"]: row["grams"] for row in rows(path)} == held
    late.book_undo()
    empty = {"vanillin": "20", "old tin": "2", "vanillin 1 %": "0", "vanillin 10 %, bottle 2": "0"}
    assert {row["label"]: row["grams"] for row in rows(path)} == {**held, **empty}
    late.weigh(accord, grams=10, balance=0.01, take=True)  # into the empty bottles, not into new ones
    assert {row["label"]: row["grams"] for row in rows(path)} == held


def test_a_solution_that_was_used_since_is_not_unmade(folder, bare):
    path = folder / "bottles.csv"
    path.write_text(f"{HEADS['bottles.csv']}\n{TINS}")
    library = opened(folder, bare)
    library.weigh(library.accord_of(SOLUTION, "toy"), grams=10, balance=0.01, take=True)
    assert "vanillin 1 %,vanillin,,,1,9.5" in path.read_text()
    path.write_text(path.read_text().replace("vanillin,,,1,9.5", "vanillin,,,1,3"))
    before = {one: one.read_bytes() for one in folder.rglob("*.csv")}
    with pytest.raises(
        InputError, match="the solution 'vanillin 1 %' that this weighing made was used since"
    ):
        opened(folder, bare).book_undo()
    assert before == {one: one.read_bytes() for one in folder.rglob("*.csv")}


def test_labels_of_a_shelf_that_fall_together_are_counted(bare, tmp_path):
    (tmp_path / "shelf.csv").write_text(
        "material,strength_pct,grams\nlinalool,,5\nlinalool,,7\nlinalool,10,1\nlinalool,,\n"
    )
    bare.book_new(tmp_path / "book", shelf=tmp_path / "shelf.csv")
    labels = [row["label"] for row in rows(tmp_path / "book" / "bottles.csv")]
    assert labels == ["linalool", "linalool, bottle 2", "linalool 10 %", "linalool, bottle 3"]


# -- words said, and what they may mean ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "nothing was said: name a line that is too strong, too weak or right, or give words"),
        ({"words": "x" * 5001}, "`words` has 5,001 letters: at most"),
        ({"too_strong": ["zzzz"]}, "'zzzz' is not in the tables"),
        ({"too_strong": ["oil"]}, "'oil' may be several lines: lavender-oil, lemon-oil"),
        ({"too_strong": ["ionone"]}, "'ionone' may be several lines: alpha-ionone, beta-ionone"),
        ({"too_strong": ["lemon"], "too_weak": ["lemon-oil"]}, "lemon-oil: two verdicts on one line"),
    ],
)
def test_a_line_that_is_not_named_for_certain_is_asked_for(folder, library, given, message):
    lines = ("alpha-ionone", "beta-ionone", "lavender-oil", "lemon-oil")
    text = "material,parts\n" + "".join(f"{id},1\n" for id in lines)
    (folder / "accords" / "reading-lamp.csv").write_text(text)
    with pytest.raises(InputError, match=re.escape(message)):
        library.tried("reading-lamp", **given)
    assert rows(folder / "verdicts.csv") == []


def test_words_that_may_mean_two_lines_teach_neither(folder, library):
    (folder / "accords" / "reading-lamp.csv").write_text(
        "material,parts\nalpha-ionone,1\nbeta-ionone,1\nlemon-oil,1\n"
    )
    found = library.tried("reading-lamp", words="the ionone shouted; lemon was too weak; that was right")
    assert [(one.line, one.amount) for one in found.verdicts] == [("lemon-oil", "too_weak"), ("", "")]
    assert [note for note in found.notes if "words only" in note] == [
        "“the ionone shouted”: kept in words only, it may mean alpha-ionone or beta-ionone; name the line."
    ]


def test_how_much_was_tried_is_asked_for_where_no_answer_named_it(library):
    """Too strong, but at which amount? Of a blend it is what its members are together."""
    ask = lambda what: swap_verdict(  # noqa: E731
        library.book,
        library.names,
        library.tables,
        ("rosewood-oil", what),
        Spoken(amount="too_strong"),
        elsewhere=True,
    )
    with pytest.raises(InputError, match="how much was tried is not known: give `used`, in grams for 1 g"):
        ask("linalool")
    verdict, _ = ask("linalool:0.5 + geraniol:0.25")
    assert (verdict.kind, verdict.amount, verdict.grams_used) == ("blend", "too_strong", 0.75)


def test_a_search_needs_a_word_and_says_what_it_could_not_read(folder, library):
    with pytest.raises(InputError, match="`text` is empty: a word that was said of the accord is wanted"):
        library.book_find("   ")
    (folder / "accords" / "choir-book.csv").write_text("material,parts\nlinaloool,-2\n")
    found = library.book_find("skatole").to_dict()
    assert [(one["accord"], one["where"]) for one in found["found"]] == [("depot-cat", "line")]
    (note,) = found["notes"]
    assert note.startswith("not read: ") and "choir-book.csv, row 2" in note
    assert library.book_find("choir").to_dict()["found"][0]["where"] == "name"


def test_a_formula_is_kept_beside_another_of_its_name(library):
    """The same formula is found again, another gets a number, and a trial the next free one."""

    def toy(parts, name="toy"):
        return library.accord_of([{"material": "linalool", "parts": parts}], name)

    keep = lambda accord: keep_formula(library.book, library.names, accord)  # noqa: E731
    assert [keep(toy(parts)) for parts in ("1", "2", "1", "3", "2")] == [
        "toy",
        "toy-2",
        "toy",
        "toy-3",
        "toy-2",
    ]
    assert [keep(toy(parts, "toy.trial-2")) for parts in ("4", "5", "4")] == [
        "toy.trial-2",
        "toy.trial-3",
        "toy.trial-2",
    ]
    held = {path.name: rows(path)[0]["parent"] for path in sorted(library.book.accords.glob("toy*"))}
    assert held == {
        "toy.csv": "",
        "toy-2.csv": "",
        "toy-3.csv": "",
        "toy.trial-2.csv": "toy.csv",
        "toy.trial-3.csv": "toy.trial-2.csv",
    }
    with pytest.raises(InputError, match="holds toy.csv already; nothing was taken in"):
        library.book.add_accords({"fresh.csv": "material,parts\nlinalool,1\n", "toy.csv": "x"})
    assert "fresh" not in library.book.accord_names()


def test_a_line_is_measured_from_where_it_was_first_written():
    """What it should be beside the amount first written: log(now / first), one step less where it was too strong.
    Nobody who hardly smells a thing, nor a verdict without an amount, says anything of it."""
    amounts = {1: {"b": 5.0}, 2: {"a": 2.0, "b": 5.0}, 3: {"a": 4.0, "b": 0.0}}
    parts = lambda about, trial: amounts.get(trial, {}) if about == "toy" else {}  # noqa: E731
    said = lambda id, line, trial, amount="right", **more: Verdict(  # noqa: E731
        id,
        "2026-01-01",
        "line",
        more.pop("about", "toy"),
        line,
        trial,
        more.pop("nearness", ""),
        amount,
        **more,
    )
    verdicts = [
        said(1, "a", 3),
        said(2, "a", 2),
        said(3, "a", 3, "too_strong", degree="far"),
        said(4, "b", None),
        said(5, "b", 3),  # nothing of it is left
        said(6, "a", 1),  # not there yet
        said(7, "a", 3, about="gone"),
        said(8, "a", 3, nearness="not_smelled"),
        said(9, "a", 3, amount=""),
        replace(said(10, "a", 3), taken_back="2026-01-02"),
    ]
    found = {one.verdict: one.log_right for one in observed(verdicts, parts)}
    assert found == {
        1: pytest.approx(math.log(2.0)),
        2: 0.0,
        3: pytest.approx(math.log(2.0) - math.log(step_factor("far"))),
        4: 0.0,
    }
    assert observed(verdicts) == ()


def test_a_line_stands_in_one_ratio(library):
    with pytest.raises(
        InputError, match="`ratio`: coumarin stands in two ratios; name them as one, as a:b:c"
    ):
        library.rebalance("depot-cat", ratio=["coumarin:skatole=2:1", "skatole:coumarin"])


def test_a_folder_that_is_not_there_is_no_book(tmp_path):
    with pytest.raises(InputError, match="there is no such folder; `substitute book new` begins a book"):
        Book(tmp_path / "none")


def test_of_what_nothing_is_on_file_what_was_said_is_all_there_is(bare):
    """A pair and a blend without potencies: the amount is the mean of what was said, and no other loudness moves."""
    nothing = replace(bare.on_file, properties={}, swaps=())
    pair = Verdict(1, "2026-01-01", "swap", "vanillin", "coumarin", None, "near", "right", "", 2.0)
    again = replace(pair, id=2, grams_used=8.0)
    mixed = Verdict(
        3, "2026-01-01", "blend", "vanillin", "coumarin:0.5 + linalool:0.5", None, "near", "right", "", 1.0
    )
    found = learn(nothing, [pair, again, mixed])
    assert found.loudness == {}
    assert found.tried == {"vanillin", "coumarin", "linalool"}
    amount = found.pairs["vanillin", "coumarin"]
    assert (amount.before, amount.grams, amount.verdicts) == (None, pytest.approx(4.0), (1, 2))
    assert amount.low < 4.0 < amount.high
    assert sorted(len(matter.parts) for matter in found.amounts) == [1, 2]
