"""Sheets: the same table as CSV, workbook, Markdown and page; text stays text."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from test_weigh import TABLES, accord

from substitute.accords.sheets import Sheet, to_csv, to_html, to_markdown, to_xlsx, weighing_sheets
from substitute.accords.weigh import weigh
from substitute.tables.files import read_rows

NASTY = ("=1+1", "+1", "-beta", "@sum", '=HYPERLINK("x")', "a|b", "<b>&\"'", "two\nlines", "\x00\x07bell")
TEXT = st.text(max_size=30)


def sheet(*cells, **more) -> Sheet:
    return Sheet("toy", ("name", "mass [g]"), [(cell, 1.5) for cell in cells], **more)


def pages(data: bytes):
    return load_workbook(io.BytesIO(data))


@pytest.mark.parametrize("text", NASTY)
def test_text_is_never_a_formula(text):
    page = pages(to_xlsx([sheet(text)])).worksheets[0]
    assert page["A2"].data_type == "s"
    assert page["A2"].value == re.sub("[\x00-\x08]", "", text)
    assert page["A2"].quotePrefix == (text[0] in "=+-@")
    assert page["B2"].value == 1.5


@settings(max_examples=100, deadline=None)
@given(st.lists(TEXT, min_size=1, max_size=5), TEXT)
def test_any_text_survives_in_every_form(texts, title):
    toy = Sheet(title, ("name",), [(text,) for text in texts], [title])
    book = pages(to_xlsx([toy, toy]))
    assert all(cell.data_type != "f" for page in book for row in page.iter_rows() for cell in row)
    assert to_html(title, [toy], [title]).count("<tr>") == len(texts) + 1
    assert to_markdown([toy]).endswith("\n")


def test_workbook_has_header_tabs_and_notes():
    long = Sheet("a/b: [a title that is far too long for a tab]", ("x",), [(1,)], ["mind"])
    book = pages(to_xlsx([long, long, sheet("a")], ["careful"]))
    assert len({name.casefold() for name in book.sheetnames}) == 4
    assert all(len(name) <= 31 for name in book.sheetnames)
    assert [[cell.value for cell in row] for row in book["notes"].iter_rows()][1:] == [
        [long.title, "mind"],
        [long.title, "mind"],
        ["caution", "careful"],
    ]


def test_workbook_is_read_back_by_the_tables():
    rows = read_rows(to_xlsx([sheet("=a", "b")]), ("name", "mass [g]"), name="toy.xlsx")
    assert [row.text("name") for row in rows] == ["=a", "b"]
    assert rows[0].figure("mass [g]") == 1.5


def test_csv_keeps_precision_and_empties():
    toy = Sheet(
        "toy", ("a", "b", "c"), [(1 / 3, None, True), (float("nan"), "x,y", False)], decimals={"a": 1}
    )
    assert to_csv(toy) == 'a,b,c\n0.333333333333,,yes\n,"x,y",no\n'


def test_markdown_table():
    text = to_markdown([sheet("a|b", "<c>", decimals={"mass [g]": 2}, notes=["mind"])])
    assert (
        text == "## toy\n\n| name | mass [g] |\n|---|---:|\n| a\\|b | 1.50 |\n| &lt;c> | 1.50 |\n\n- mind\n"
    )


def test_rows_must_fit_the_header():
    with pytest.raises(ValueError, match="toy: a row of 1 cells under 2 columns"):
        Sheet("toy", ("a", "b"), [(1,)])


def test_workbook_needs_a_sheet():
    with pytest.raises(ValueError, match="at least one sheet"):
        to_xlsx([])


class Balanced(HTMLParser):
    """Counts tags, and fails on one that is closed out of turn."""

    def __init__(self):
        super().__init__()
        self.open, self.seen = [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in ("meta", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_page_is_accessible_and_self_contained():
    found = weigh(accord(("a", 90.0), ("b", 0.1), ("ethanol", 9.9)), TABLES, grams=10)
    page = to_html("Weighing <toy>", weighing_sheets(found), found.cautions)
    parser = Balanced()
    parser.feed(page)
    assert parser.open == []
    tags = [tag for tag, _ in parser.seen]
    assert ("html", {"lang": "en"}) in parser.seen
    assert tags.count("caption") == tags.count("table") == 4
    assert all(attrs.get("scope") in ("col", "row") for tag, attrs in parser.seen if tag == "th")
    boxes = [attrs for tag, attrs in parser.seen if tag == "input"]
    assert boxes
    assert all(box["type"] == "checkbox" and box["aria-label"] for box in boxes)
    assert not {"script", "link", "img", "iframe"} & set(tags)
    assert not re.search(r"https?:|url\(|@import|src=", page)
    assert "@media print" in page
    assert "Weighing &lt;toy&gt;" in page


def test_weighing_sheets_show_grams_as_the_balance_does():
    found = weigh(accord(("a", 90.0), ("b", 0.1), ("ethanol", 9.9)), TABLES, grams=10, balance=0.025)
    sheets = weighing_sheets(found)
    assert [one.title for one in sheets] == ["Weigh: toy", "Make first", "Strips", "Check old against new"]
    assert sheets[0].decimals["weigh [g]"] == 3
    assert [row[0] for row in sheets[0].rows] == list(range(1, len(sheets[0].rows) + 1))


def test_carrier_to_fill_up_is_the_last_weighing():
    sheets = weighing_sheets(weigh(accord(("a", 50.0, 10.0), ("b", 50.0)), TABLES, grams=100))
    assert [one.title for one in sheets] == ["Weigh: toy", "Strips", "Check old against new"]
    assert sheets[0].rows[-1][1:5] == ("ethanol to fill up", "", 100.0, 45.0)
