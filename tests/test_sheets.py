"""Answers as sections, drawn: nothing becomes a formula or mark-up, no word is broken, cautions travel."""

from __future__ import annotations

import csv
import io
import re
from html.parser import HTMLParser

import pytest
from openpyxl import load_workbook
from test_weigh import TABLES, accord

from substitute.accords.weigh import weigh
from substitute.answers import lay_out
from substitute.answers.csv import answer_csv, section_csv, sheets_csv
from substitute.answers.files import ENDINGS, write_answer
from substitute.answers.markdown import answer_markdown
from substitute.answers.page import answer_page
from substitute.answers.sections import Answer, Column, Said, Section, listing, table, text
from substitute.answers.terminal import Terminal, width_of
from substitute.answers.xlsx import answer_xlsx
from substitute.errors import InputError
from substitute.tables.files import read_rows
from substitute.tables.writing import harmless

HOSTILE = [
    '=HYPERLINK("http://x","y")',
    "-1+2",
    "+a",
    "@sum",
    "\tx",
    "<script>alert(1)</script>",
    "a|b",
    "![x](y)",
]


def one(*cells, columns=None, **more) -> Answer:
    columns = columns or [Column(f"c{number}") for number in range(len(cells))]
    return Answer(
        "check", "Title", "Headline.", (table("Table", columns, [cells], **more),), (), ("Mind this.",)
    )


def book(answer: Answer):
    return load_workbook(io.BytesIO(answer_xlsx(answer)))


@pytest.mark.parametrize("cell", HOSTILE)
def test_text_is_never_a_formula_nor_mark_up(cell):
    answer = one(cell)
    found = book(answer).worksheets[0].cell(2, 1)
    assert found.data_type == "s"
    assert found.value == cell
    assert list(csv.reader(io.StringIO(answer_csv(answer, raw=True))))[1] == [cell]
    shown = list(csv.reader(io.StringIO(answer_csv(answer))))[1][0]
    assert not shown.startswith(("=", "+", "-", "@", "\t"))
    assert shown.removeprefix("'") == cell
    assert "<script" not in answer_page(answer)
    page = answer_markdown(answer)
    assert "<script" not in page
    assert "![x]" not in page
    row = next(line for line in page.splitlines() if line.startswith("| ") and "c0" not in line)
    assert len(re.findall(r"(?<!\\)\|", row)) == 2


def test_a_sheet_to_weigh_by_has_room_for_a_pen():
    """Date, lot and who weighed at the head; cautions before the first table; beside each weighing an empty cell
    for what the balance said and for the bottle's lot. The screen, the CSV and a notebook have none of it."""
    answer = lay_out("weigh", weigh(accord(("a", 60.0), ("b", 40.0)), TABLES, grams=20).to_dict())
    page = answer_page(answer)
    for blank in ("date", "lot", "weighed by"):
        assert f"<span>{blank}</span>" in page
    assert page.index("Cautions") < page.index("<table")
    assert page.count('<th scope="col" class="blank">') >= 2
    assert "<form" not in page
    sheets = {sheet.title: sheet for sheet in book(answer)}
    head = [cell.value for cell in sheets["Weigh"][1]]
    assert head.index("weighed [g]") == head.index("weigh [g]") + 1
    assert sheets["Weigh"].cell(2, head.index("weighed [g]") + 1).value is None
    assert ("date", "____________") in [tuple(c.value for c in row[:2]) for row in sheets["read first"].rows]
    assert "weighed" not in answer_csv(answer)
    main = next(section for section in answer.sections if section.main).on("paper")
    assert "weighed" not in [column.key for column in main.filled().columns]


def test_numbers_are_no_text_and_stay_unmarked():
    assert harmless("-1") == "-1"
    columns = [Column("low_pct", form="figure"), Column("ok"), Column("none", form="figure")]
    assert section_csv(one(-0.1234567, True, None, columns=columns).main).splitlines()[1] == "-0.1235,true,"
    assert section_csv(one(float("nan"), False, None, columns=columns).main).splitlines()[1] == ",false,"


def test_what_is_written_is_read_back(tmp_path):
    answer = one("moss, dark", 1.5, columns=[Column("material"), Column("mass", form="figure")])
    for ending in (".csv", ".xlsx"):
        path = write_answer(tmp_path / f"sheet{ending}", answer)
        row = read_rows(path, ("material", "mass"))[0]
        assert row.cells["material"] == "moss, dark"
        assert row.figure("mass") == 1.5


@pytest.mark.parametrize("ending", ENDINGS)
def test_cautions_travel_into_every_file(tmp_path, ending):
    path = write_answer(tmp_path / f"sheet{ending}", one("a"))
    if ending == ".xlsx":
        told = [cell.value for page in load_workbook(path) for row in page.iter_rows() for cell in row]
    else:
        told = [path.read_text(encoding="utf-8")]
    assert any("Mind this." in str(cell) for cell in told)


def test_cautions_stand_before_the_first_table_on_paper():
    for drawn in (answer_page(one("a")), answer_markdown(one("a"))):
        assert drawn.index("Mind this.") < drawn.index("c0")


def test_files_are_refused_before_anything_is_written(tmp_path):
    (tmp_path / "there.csv").write_text("mine")
    for name, told in (
        ("x.pdf", "not a kind of sheet"),
        ("there.csv", "exists already"),
        ("no/x.csv", "no such"),
    ):
        with pytest.raises(InputError, match=told):
            write_answer(tmp_path / name, one("a"))
    assert [path.name for path in tmp_path.iterdir()] == ["there.csv"]


def test_a_row_has_a_cell_for_every_column():
    with pytest.raises(ValueError, match="1 cells under 2 columns"):
        Section("table", "x", (Column("a"), Column("b")), (("a",),))


def test_sheet_names_are_as_workbooks_allow():
    titles = ["a" * 40, "a" * 40, "x/y?", "History", ""]
    sections = tuple(table(title, [Column("c")], [["v"]]) for title in titles)
    names = book(Answer("check", "T", "", sections)).sheetnames
    assert len(set(map(str.casefold, names))) == len(names)
    assert all(0 < len(name) <= 31 and not set("[]:*?/\\") & set(name) for name in names)
    assert "History" not in names


# -- the terminal --------------------------------------------------------------------------------------------


NAMES = ["hydroxyisohexyl-3-cyclohexene-carboxaldehyde", "citral (geranial and neral)", "ρόδον", "茉莉花净油"]


def wide_answer() -> Answer:
    columns = [
        Column("name", "material"),
        Column("cas", "CAS", form="word", drop=2),
        Column("limit_set", "set", form="word", drop=1),
        Column("found_pct", "found", "%", form="percent"),
        Column("state", form="word"),
        Column("why", form="note"),
    ]
    rows = [
        (
            name,
            "31906-04-4",
            "eu-2017-1410",
            1.23456,
            Said(False, "BROKEN", mood="bad"),
            f"because {name} is so; and more",
        )
        for name in NAMES
    ]
    items = [f"{name} was looked at and the 10 % solution was not" for name in NAMES]
    sections = (table("A table", columns, rows), listing("A list", items), text("A paragraph. " * 20))
    return Answer("check", "T", "The answer stands first. " * 5, sections, ("A note.",), ("Mind " * 30,))


@pytest.mark.parametrize("width", [40, 60, 80, 100, 120, 140])
@pytest.mark.parametrize("why", [False, True])
def test_nothing_is_wider_than_the_terminal_and_no_word_is_broken(width, why):
    answer = wide_answer()
    drawn = Terminal(width, why=why).draw(answer)
    assert max(map(width_of, drawn.splitlines())) <= width
    assert drawn.startswith("The answer stands first.")
    whole = set(re.split(r"[\s,;]+", " ".join(NAMES)))
    seen = set(re.split(r"[\s,;]+", drawn))
    for word in whole:
        parted = {word[: end + 1] for end in range(len(word)) if word[end] == "-"}
        assert word in seen or parted & seen, word
    assert "10 %" in drawn.replace("\n", "|")


def test_a_row_takes_two_lines_at_most_at_eighty():
    lines = Terminal(80).draw(wide_answer()).splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith("material"))
    end = next(number for number, line in enumerate(lines) if line.startswith("  a "))
    assert end - start - 1 <= 2 * len(NAMES)


def test_colour_is_only_added():
    plain, coloured = (Terminal(80, colour=colour).draw(wide_answer()) for colour in (False, True))
    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_columns_that_go_are_named():
    drawn = Terminal(40).draw(wide_answer())
    assert re.search(r"No room for: .*CAS", drawn.replace("\n", " "))
    assert "31906" not in drawn


# -- the page ------------------------------------------------------------------------------------------------


class Balanced(HTMLParser):
    """Tags in order; complains of one that is closed without being open."""

    VOID = {"meta", "input", "br"}  # noqa: RUF012

    def __init__(self):
        super().__init__()
        self.open, self.seen = [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def weighing(*lines, **more) -> Answer:
    return lay_out("weigh", weigh(accord(*lines), TABLES, **more).to_dict())


def test_page_is_accessible_and_self_contained():
    answer = weighing(("a", 90.0), ("b", 0.1), ("ethanol", 9.9), grams=10)
    page = answer_page(answer).replace("Weighing: toy", "Weighing &lt;toy&gt;")
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


def test_weighing_shows_grams_as_the_balance_does():
    answer = weighing(("a", 90.0), ("b", 0.1), ("ethanol", 9.9), grams=10, balance=0.025)
    assert [part.title for part in answer.on("paper")] == [
        "Make first",
        "Weigh",
        "Strips",
        "Check old against new",
    ]
    grams = next(column for column in answer.main.columns if column.key == "grams")
    assert grams.decimals == 3
    assert [row[0] for row in answer.main.rows] == list(range(1, len(answer.main.rows) + 1))


def test_carrier_to_fill_up_is_the_last_weighing():
    answer = weighing(("a", 50.0, 10.0), ("b", 50.0), grams=100)
    assert [part.title for part in answer.on("paper")] == ["Weigh", "Strips", "Check old against new"]
    assert answer.main.rows[-1][2:6] == ("ethanol to fill up", "", 100.0, 45.0)


def test_csv_of_a_weighing_holds_every_table_and_the_cautions():
    answer = weighing(("a", 50.0, 10.0), ("b", 50.0), grams=100)
    blocks = sheets_csv(answer.on("data"), answer.cautions).split("\n\n")
    blocks = [list(csv.reader(io.StringIO(block))) for block in blocks]
    assert [block[0][0] for block in blocks] == ["order", "name", "test", "caution"]
    assert [row[0] for row in blocks[-1][1:]] == list(answer.cautions)
