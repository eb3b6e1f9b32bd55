"""The bench book in the app: what the nose found is said beside any answer, and the next answer says so."""

from __future__ import annotations

from pathlib import Path

import pytest

import substitute
from substitute.book.store import Store
from tests.test_app import errors, fine, go, opened, pasted, text


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book with the bottles of the demo's shelf, open for the app as for the command line."""
    library = substitute.load(book=False)
    folder = tmp_path / "book"
    library.book_new(folder, name="Reading room", shelf=library.demo / "shelf.csv")
    monkeypatch.setenv("SUBSTITUTE_BOOK", str(folder))
    return folder


def say(at, **answers):
    """Answer the open question and write it down."""
    turn = at.session_state["saying_turn"]
    for name, value in answers.items():
        at.session_state[f"say_{name}_{turn}"] = value
    return at.button(key="say_yes").click().run()


def verdicts(folder: Path) -> list[dict[str, str]]:
    return [row.cells for row in Store(folder).rows("verdicts.csv")]


def test_without_a_book_the_button_says_how_to_begin_one(monkeypatch):
    monkeypatch.delenv("SUBSTITUTE_BOOK", raising=False)
    at = opened(material="linalool")
    at.button(key="smelled-1").click().run()
    assert "substitute book new" in text(fine(at))
    at.button(key="say_no").click().run()
    assert "substitute book new" not in text(fine(at))
    assert "No bench book is open" in text(go(at, "book"))


def test_a_verdict_on_a_stand_in_is_in_the_next_answer_and_can_be_taken_back(book):
    at = opened(material="rosewood oil")
    name = next(one.label for one in at.expander if one.label.startswith("**1.")).split("**")[1][3:]
    at.button(key="smelled-1").click().run()
    say(at, near="near", used=1.0, amount="too_strong:", right=0.5, words="sweet", elsewhere=True)
    said = text(fine(at))
    assert "Verdict 1 put down" in said
    assert verdicts(book)[0]["grams_right"] == "0.5"
    at.session_state["more-1"] = True
    said = text(fine(at.run()))
    assert "you found: near" in said
    assert "“sweet”" in said
    assert name in said
    go(at, "book")
    assert "0.5" in text(at)
    at.selectbox(key="book_back").set_value(1).run()
    at.button(key="book_forget").click().run()
    assert "taken back" in text(fine(at))
    assert verdicts(book)[0]["taken_back"]


def test_what_cannot_have_been_tried_is_said_in_the_question_and_nothing_written(book):
    at = opened(material="rosewood oil")
    at.button(key="smelled-1").click().run()
    say(at, used=None)
    assert "nothing was said" in errors(at)
    say(at, near="near", elsewhere=True)
    assert "Verdict 1 put down" in text(fine(at))
    assert len(verdicts(book)) == 1


def test_a_verdict_on_an_adjusted_formula_takes_it_into_the_book(book):
    at = opened("adjust")
    name = f"{at.session_state['work']['name']}-adjusted"
    at.button(key="smelled-adjusted").click().run()
    turn = at.session_state["saying_turn"]
    line = at.multiselect(key=f"say_too_strong_{turn}").options[1]
    assert line.endswith("slightly")
    at.multiselect(key=f"say_too_strong_{turn}").set_value([line]).run()
    say(at, near="fair", words="wanting smoke")
    assert "put down" in text(fine(at))
    assert [row["kind"] for row in verdicts(book)] == ["line", "accord"]
    assert [row["degree"] for row in verdicts(book)] == ["slightly", ""]
    assert (book / "accords" / f"{name}.csv").is_file()
    go(at, "book")
    at.text_input(key="book_find").set_value("smoke").run()
    assert "wanting smoke" in text(fine(at))
    at.button(key="use-book").click().run()
    assert at.session_state["work"]["name"] == name


def test_trials_of_the_screen_rebalance_stand_in_the_book_side_by_side(book):
    at = opened("rebalance")
    name = at.session_state["work"]["name"]
    line = at.multiselect(key=f"verdict_too_strong_{name}").options[0]
    at.multiselect(key=f"verdict_too_strong_{name}").set_value([f"{line} · far"]).run()
    assert "far too strong" in text(fine(at))
    at.button(key="use-trial").click().run()
    at.multiselect(key=f"verdict_right_{name}.trial-2").set_value([line]).run()
    at.button(key="use-trial").click().run()
    id = substitute.load(book=False).find(line).id
    assert [(row["line"], row["trial"], row["amount"], row["degree"]) for row in verdicts(book)] == [
        (id, "1", "too_strong", "far"),
        (id, "2", "right", ""),
    ]
    found = substitute.load(book=book).history(f"{name} trial 2").to_dict()
    assert [one["parent"] for one in found["trials"]] == [None, f"{name}.csv"]
    said = text(fine(go(at, "book")))
    assert "far too strong" in said
    assert "What changed between two of them" in "".join(one.label for one in at.expander)


def test_weighing_takes_from_the_bottles_and_is_undone(book):
    before = (book / "bottles.csv").read_text()
    at = opened("weigh")
    pasted(at, "material\tparts\nguaiacwood oil\t6\nvanillin\t4")
    at.button(key="take_bottles").click().run()
    assert "Nothing was taken" in errors(at)  # guaiacwood stands on none of the bottles
    assert (book / "bottles.csv").read_text() == before
    (book / "work.json").unlink()  # a window that begins afresh
    at = opened("weigh")
    pasted(at, "material\tparts\nlinalool\t6\nvanillin\t4")
    at.button(key="take_bottles").click().run()
    assert "Taken from the bottles" in text(fine(at))
    assert (book / "bottles.csv").read_text() != before
    go(at, "book")
    at.button(key="book_undo").click().run()
    assert "have their grams back" in text(fine(at))


def test_a_verdict_of_another_process_is_seen(book):
    at = opened(material="rosewood oil")
    substitute.load(book=book).tried("linalool", instead_of="rosewood oil", nearness="far", elsewhere=True)
    at.session_state["more-1"] = True
    at.run()
    at.session_state["in_top"] = 50
    assert "linalool" in text(fine(go(at, "book")))


def test_a_broken_bottle_is_told_and_other_answers_go_on(book):
    path = book / "bottles.csv"
    path.write_text(path.read_text().replace("100", "ten thousand", 1))
    at = opened("neighbours", of="vanillin")
    said = text(at)
    assert "bottles.csv" in said
    assert "nearest to vanillin" in said
