"""The lesson sheet of an accord and the printable shelf list."""

from __future__ import annotations

import pytest

import substitute
from substitute.accords.sheets import to_html, to_markdown
from substitute.errors import InputError
from substitute.records import Accord, Line, Shelf, Stock
from substitute.tables.formulas import read_intents


@pytest.fixture(scope="module")
def library():
    return substitute.load()


def test_lesson(library):
    accord = library.read_accord(library.demo / "accords" / "rose-on-the-dust-jacket.csv")
    intent = read_intents(library.demo / "intents.csv")[accord.name]
    cautions, lines, strips, listen, swaps = library.lesson(accord, intent)
    assert len(lines.rows) == len(accord.lines)
    assert lines.rows[0][0] == "core"
    assert lines.notes[0] == intent
    assert [row[0] for row in listen.rows] == ["10 min", "2 h", "24 h"]
    assert "rose" in listen.rows[0][2]
    assert len(strips.rows) == len(accord.active()) == len(swaps.rows)
    for instead, take, grams, _, _, kept, left_out in swaps.rows:
        assert take != instead
        assert 0 <= left_out <= 1
        assert kept is None or (0 <= kept <= 1 and grams > 0)
    shares = [column for column in lines.columns if column.endswith("of the smell]")]
    for column in shares:
        place = lines.columns.index(column)
        assert sum(row[place] for row in lines.rows if row[place]) == pytest.approx(100.0)
    assert intent in to_markdown([lines])
    assert "<table>" in to_html("lesson", [lines, strips, listen, swaps])


def test_every_demo_accord_has_a_lesson(library):
    accords, rejected = library.read_accords(library.demo / "accords")
    assert not rejected
    for accord in accords[::8]:
        assert len(library.lesson(accord)) == 5


def test_a_single_line_and_a_carrier(library):
    sheets = library.lesson(Accord("one", (Line("linalool", 1.0), Line("ethanol", 9.0))))
    assert sheets[4].rows[0][-1] == 0.0
    assert any("carries the rest" in row[-1] for row in sheets[0].rows)
    with pytest.raises(InputError, match="nothing to teach"):
        library.lesson(Accord("none", (Line("ethanol", 1.0),)))


def test_shelf_sheet(library):
    shelf = Shelf(
        (Stock("geosmin", 100.0, 1.0), Stock("linalool", 10.0), Stock("piperonal"), Stock("ethanol")), "bench"
    )
    listed, make = library.shelf_sheet(shelf)
    caution = {row[0]: row[-1] for row in listed.rows}
    assert "very strong" in caution["geosmin"]
    assert "precursor" in caution[library.find("piperonal").name]
    assert len(listed.rows) == 4
    assert [(row[0], row[1], row[3], row[4]) for row in make.rows if row[0] == "geosmin"] == [
        ("geosmin", 10.0, 100.0, 1.0),
        ("geosmin", 1.0, 10.0, 1.0),
    ]
    assert not any(row[0] == "linalool" for row in make.rows)  # stands there at 10 % already


def test_demo_shelves_print(library):
    for name in ("shelf.csv", "shelf-starter.csv"):
        assert library.shelf_sheet(library.demo / name)[0].rows
