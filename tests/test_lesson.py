"""The lesson sheet of an accord and the printable shelf list."""

from __future__ import annotations

import pytest

from substitute.answers import lay_out
from substitute.answers.markdown import answer_markdown
from substitute.answers.page import answer_page
from substitute.errors import InputError
from substitute.records import Accord, Line, Shelf, Stock
from substitute.tables.formulas import read_intents


def test_lesson(library):
    accord = library.read_accord(library.demo / "accords" / "rose-on-the-dust-jacket.csv")
    intent = read_intents(library.demo / "intents.csv")[accord.name]
    found = library.lesson(accord, intent)
    assert len(found.lines) == len(accord.lines)
    assert found.lines[0]["role"] == "core"
    assert [row["after"] for row in found.listen] == ["10 min", "2 h", "24 h"]
    assert "rose" in found.listen[0]["listen_for"]
    assert len(found.strips) == len(accord.active()) == len(found.swaps)
    for row in found.swaps:
        assert row["missing"] != row["stand_in"]
        assert 0 <= row["match_left_out"] <= 1
        assert row["match"] is None or (0 <= row["match"] <= 1 and row["grams_per_gram"] > 0)
    for stage in ("opening", "heart", "drydown"):
        assert sum(row[stage] for row in found.lines if row[stage]) == pytest.approx(100.0)
    laid = lay_out("lesson", found.to_dict())
    assert laid.headline == intent
    assert laid.cautions
    assert "<table>" in answer_page(laid)
    assert all(part.title in answer_markdown(laid) for part in laid.sections)


def test_every_demo_accord_has_a_lesson(library):
    accords, rejected = library.read_accords(library.demo / "accords")
    assert not rejected
    for accord in accords[::8]:
        found = library.lesson(accord)
        assert found.lines
        assert found.strips
        assert found.swaps


def test_a_single_line_and_a_carrier(library):
    found = library.lesson(Accord("one", (Line("linalool", 1.0), Line("ethanol", 9.0))))
    assert found.swaps[0]["match_left_out"] == 0.0
    assert any("carries the rest" in row["does"] for row in found.lines)
    with pytest.raises(InputError, match="nothing to teach"):
        library.lesson(Accord("none", (Line("ethanol", 1.0),)))


def test_shelf_sheet(library):
    shelf = Shelf(
        (Stock("geosmin", 100.0, 1.0), Stock("linalool", 10.0), Stock("piperonal"), Stock("ethanol")), "bench"
    )
    found = library.shelf_list(shelf)
    caution = {row["name"]: row["caution"] for row in found.materials}
    assert "very strong" in caution["geosmin"]
    assert "precursor" in caution[library.find("piperonal").name]
    assert len(found.materials) == 4
    keys = ("strength_pct", "from_pct", "from_grams")
    made = [tuple(row[key] for key in keys) for row in found.solutions if row["id"] == "geosmin"]
    assert made == [(10.0, 100.0, 1.0), (1.0, 10.0, 1.0)]
    assert not any(row["id"] == "linalool" for row in found.solutions)  # stands there at 10 % already
    laid = lay_out("shelf", found.to_dict())
    assert [len(part.rows) for part in laid.on("paper")] == [4, len(found.solutions)]
    assert laid.cautions


def test_demo_shelves_print(library):
    for name in ("shelf.csv", "shelf-starter.csv"):
        assert library.shelf_list(library.demo / name).materials
