"""What the library's questions refuse, and answer where little is given."""

from __future__ import annotations

import os
from typing import Any

import pytest

from substitute import Library
from substitute.book.book import Book
from substitute.errors import InputError
from substitute.library.open_book import stamp_of
from substitute.rules.situation import Situation

LINES = [{"material": "vanillin", "parts": "2"}, {"material": "coumarin", "parts": "1"}]


@pytest.fixture(scope="module")
def accord(library):
    return library.accord_of(LINES, "mine")


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (
            lambda lib, one: lib.rebalance(one, too_strong=["vanillin"], grams=5),
            "`grams` and `balance`: give both",
        ),
        (lambda lib, one: lib.rebalance(one, too_strong=["vanillin"], balance=0.1), "give both or neither"),
        (lambda lib, one: lib.weigh(one, grams=5, take=True, shelf=False), "leave `shelf` out"),
        (lambda lib, one: lib.neighbours("vanillin", top=0), "`top` 0 is out of range: allowed is 1 to 1000"),
        (lambda lib, one: lib.neighbours("vanillin", top=1001), "`top` 1001 is out of range"),
        (lambda lib, one: lib.judged_in(market="EU"), "limits need a product or a category, and a dose"),
        (lambda lib, one: lib.shelf_list(None), "`shelf` is missing"),
        (lambda lib, one: lib.sheets([], "out", grams=5), "no accords were given"),
        (lambda lib, one: lib.tried("linalool", instead_of="vanillin"), "no bench book is open"),
    ],
)
def test_what_cannot_be_meant_is_refused(library, accord, ask, said):
    with pytest.raises(InputError, match=said):
        ask(library, accord)


def test_nothing_bounds_the_parts_where_nothing_is_judged(library, accord):
    assert library.most_parts(accord, library.situate(market="EU")) is None
    at = {"product": "fine-fragrance", "dose": 20.0}
    most = library.most_parts(accord, library.situate(**at))
    assert isinstance(library.situate(**at), Situation)
    # of 3 parts at 20 %, the 1.5 % that category 4 allows of coumarin (IFRA 51, recalled) are 0.225 parts
    assert most["coumarin"] == pytest.approx(0.225)


def test_a_folder_is_priced_without_its_trials(library, tmp_path):
    text = "material,parts\nvanillin,2\n"
    for name, more in (
        ("one.csv", ""),
        ("one.trial-2.csv", ""),
        ("two.csv", ""),
        ("bad.csv", "unobtainium,1\n"),
    ):
        (tmp_path / name).write_text(text + more)
    shelf = library.shelf_of([{"material": "vanillin", "price_per_gram": "0.5"}], "mine")
    found = library.cost(tmp_path, grams=10, shelf=shelf).to_dict()
    assert [row["accord"] for row in found["accords"]] == ["one", "two"]
    assert [note.partition(":")[0] for note in found["notes"]] == ["bad"]  # no range: every price is known
    assert found["total"]["low"] == found["total"]["high"] == pytest.approx(10.0)
    unpriced = library.cost(tmp_path / "one.csv", grams=10, shelf=False).to_dict()
    assert "A range where a price is missing" in unpriced["notes"][0]


def test_sheets_say_which_accord_could_not_be_weighed(library, tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "nil.csv").write_text("material,parts\nvanillin,0\n")
    with pytest.raises(InputError, match="no accord could be weighed: nil"):
        library.sheets(tmp_path / "in", tmp_path / "out", grams=5)
    assert not (tmp_path / "out").exists()


def test_a_page_without_an_answer_writes_no_table(library, tmp_path):
    page = tmp_path / "asked.csv"
    found = library.ask([library.demo / "accords" / "returns-box.csv"], product="fine-fragrance")
    page.write_text(found.csv())
    with pytest.raises(InputError, match="no line has an answer in the column answer_pct"):
        library.answered(page, tmp_path / "mine")
    assert not (tmp_path / "mine").exists()


def test_mending_says_how_far_it_is(library, tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "heavy.csv").write_text("material,parts\ncoumarin,50\nvanillin,50\n")
    told: list[Any] = []
    library.screen(
        tmp_path / "in",
        product="fine-fragrance",
        dose=20.0,
        mend=tmp_path / "mended",
        progress=lambda *about: told.append(about),
    )
    assert told[-1] == (1.0, 1, 1)


# -- an open book --------------------------------------------------------------------------------------------


@pytest.fixture
def booked(library, tmp_path):
    Book.begin(
        tmp_path / "book", shelf=None, names={id: one.name for id, one in library.tables.materials.items()}
    )
    return Library(library.on_file, True, Book(tmp_path / "book"))


def test_a_swap_and_an_accord_are_not_said_in_one(booked):
    with pytest.raises(InputError, match="are of an accord; of a swap say `amount`"):
        booked.tried("linalool", instead_of="rosewood-oil", trial=1)
    with pytest.raises(InputError, match="are of an accord"):
        booked.tried("linalool", instead_of="rosewood-oil", too_strong=["vanillin"])
    for amount in ({"amount": "right"}, {"used": 1.0}, {"needs": 0.5}):
        with pytest.raises(InputError, match="name the material it was tried `instead_of`"):
            booked.tried("mine", **amount)


def test_own_tables_of_a_book_that_change_are_read_anew(booked, monkeypatch):
    """Those that are wrong are told, and what was read before goes on to count."""
    own = booked.book.folder / "tables"
    own.mkdir(exist_ok=True)
    before = booked.on_file
    read: list[Any] = []

    def load_tables(folder: Any) -> Any:
        read.append(folder)
        if "nonsense" in (own / "limits.csv").read_text():
            raise InputError("limits.csv, row 2: no such set")
        return before

    monkeypatch.setattr("substitute.library.open_book.load_tables", load_tables)
    assert not booked.refresh()
    (own / "limits.csv").write_text("nonsense\n")
    assert booked.refresh()
    fault = "your book's own tables changed and are not taken: limits.csv, row 2: no such set"
    assert booked.troubles == (fault,)
    (booked.book.folder / "labels.csv").write_text("label,cas\n")
    assert booked.refresh()
    assert booked.troubles == (fault,)  # it stands until the tables are mended
    space = booked.space
    (own / "limits.csv").write_text("limit_set,substance,category,max_pct,rule,note,basis,source\n")
    assert booked.refresh()
    assert booked.troubles == ()
    assert booked.space is not space  # what stands on tables is built anew
    assert booked.on_file is before
    assert len(read) == 2


def test_a_book_without_an_inner_folder_has_a_stamp(tmp_path):
    (tmp_path / "book.csv").write_text("name\nmine\n")
    assert [name for name, _, _ in stamp_of(tmp_path)] == ["book.csv"]
    os.utime(tmp_path / "book.csv", ns=(1, 1))
    assert stamp_of(tmp_path)[0][1:] == (1, len("name\nmine\n"))
