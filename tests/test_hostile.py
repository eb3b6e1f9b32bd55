"""Clumsy and hostile input, over four hundred files and names: each is answered, or refused in a clear
line, and none is a fault.

A fault is any other exception, a message of several lines or with codes for a terminal, or an answer that
is known to be wrong.
"""

from __future__ import annotations

import io
import os
import random
import re
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from effort import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

import substitute
from substitute.tables import workbooks
from substitute.tables.files import read_bytes
from substitute.tables.formulas import read_accord, read_accords
from substitute.tables.portfolios import Portfolio
from substitute.tables.readings import noting
from substitute.tables.shelves import read_labels, read_shelf
from substitute.tables.writing import write_whole

RIGHT = {"linalool": 350.5, "coumarin": 1200.0}
SCRIPTS = ["мох", "βρύο", "طحلب", "苔", "こけ", "טחב", "이끼", "काई", "моx", "★", "💐"]


def verdict(question) -> str:
    """answered, refused, or what went wrong."""
    try:
        question()
    except substitute.InputError as error:
        text = str(error)
        clear = bool(text) and "\n" not in text and text.isprintable() and len(text) < 1500
        return "refused" if clear else f"unclear: {text!r}"
    except Exception as error:  # a fault, whatever it is
        return f"{type(error).__name__}: {error}"
    return "answered"


# -- cells
#
# ------------------------------------------------------------------------------------------------------------------

NUMBERS = """1 0 -1 +2 1.5 1,5 1.200 1,200 1,200.5 1.200,5 1'200 1 200 1e3 1e999 -0 .5 5. 0,125 00 NaN inf -inf 1_000 ١٢ ½ 1/2 0x10
5% 5 % 10g 10 g 200 mg 1 kg 5 drops 5ml 3 Tropfen 2 parts =1+1 =HYPERLINK("http://x","y") @SUM(1) '5 "5 5; TRUE #REF! - — − −3 １２
1.2.3 1,2,3 1..2 1,,2 , . ,5 5, 1e 1e+ e5 1e1.5 999999999999 1000000001 0.0000000001 a lot trace qs n/a ? ~5 <1 >2 5-6 5±1 (5) $5 5€""".split()
NAMES = (
    """linalool linnalool LINALOOL lin\u200balool lina\u00adlool ﬂ \u202elinalool lin\x1b[31malool [a](http://x) <b>x</b> =cmd|' ../../etc/passwd
con nul C:\\x a/b \\\\host\\x 64-17-4 78-70-6 78-70-6\u2028x rose pineapple bergamot vаnillin ionone aldehyde-c12 %s {0} ${x} `x` null None
0 -1 id material parts x"y x'y x;y very-""".split()
    + ["x" * 5000, "a b " * 500, *SCRIPTS, "linalool (", "linalool)", "()", "[[]]", "10%", "CAS", "in DPG"]
)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_numbers_in_cells(library, tmp_path, delimiter):
    classed = Counter()
    for number, cell in enumerate(NUMBERS):
        path = tmp_path / f"{number}.csv"
        quoted = '"' + cell.replace('"', '""') + '"'
        path.write_text(
            f"material{delimiter}parts\nlinalool{delimiter}{quoted}\ncoumarin{delimiter}1\n", encoding="utf-8"
        )
        found = verdict(lambda path=path: read_accord(path, library.names))
        assert found in ("answered", "refused"), (cell, found)
        classed[found] += 1
    assert classed["answered"] >= 20
    assert classed["refused"] >= 40


def test_names_in_cells(library, tmp_path):
    classed = Counter()
    for number, name in enumerate(NAMES):
        path = tmp_path / f"{number}.csv"
        quoted = '"' + name.replace('"', '""') + '"'
        path.write_text(f"material,parts\n{quoted},1\ncoumarin,1\n", encoding="utf-8")
        for reader in (read_accord, read_shelf):
            found = verdict(lambda path=path, reader=reader: reader(path, library.names))
            assert found in ("answered", "refused"), (name, found)
            classed[found] += 1
        assert verdict(lambda name=name: library.find(name)) in ("answered", "refused"), name
    assert classed["answered"] >= 8
    assert classed["refused"] >= 60


@settings(
    max_examples=examples(120), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace")))
def test_any_bytes(library, data):
    for name in ("x.csv", "x.xlsx", "x.ods"):
        found = verdict(lambda name=name: read_accord(data, library.names, name=name))
        assert found in ("answered", "refused"), found


@settings(
    max_examples=examples(120), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.text(max_size=40), st.text("0123456789., '%g\u00a0-e", max_size=8))
def test_any_cells(library, name, parts):
    data = f'material,parts\n"{name.replace(chr(34), "")}","{parts}"\n'.encode("utf-8", "replace")
    found = verdict(lambda: read_accord(data, library.names, name="x.csv"))
    assert found in ("answered", "refused"), found


# -- numbers that were once misread in silence
# ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        'material,parts\nlinalool,350.5\ncoumarin,"1,200"\n',
        "material;parts\nlinalool;350,5\ncoumarin;1.200\n",
        "material;parts\nlinalool;350,5\ncoumarin;1200\n",
        "material\tparts\nlinalool\t350.5\ncoumarin\t1 200\n",
        "material,parts\nlinalool,350.5\ncoumarin,1'200\n",
        "Formula No 3;;\n;;\nIngredient;Amount (g);\nlinalool;350,5;\ncoumarin;1200;\n",
        "Rohstoff;Menge in g\nlinalool;350,5 g\nCumarin;1200 g\n",
        "matière première;quantité\nlinalol;350,5\ncoumarine;1200\n",
        "ингредиент;части\nлиналоол;350,5\nкумарин;1200\n",
        'sep=;\nmaterial;parts\nlinalool;350,5\ncoumarin;"1.200,0"\n',
        "原料,重量\nlinalool,350.5\nクマリン,1200\n",
    ],
)
def test_the_same_accord_in_many_hands(library, text):
    assert read_accord(text.encode(), library.names, name="x.csv").active() == RIGHT


def book(rows, *, percent=(), other=None, hidden_first=False, dimension=None) -> bytes:
    """A workbook with rows; cells at ``percent`` (row, column) are formatted as percents, ``dimension`` is
    a stale size."""
    made = Workbook()
    sheet = made.active
    if hidden_first:
        sheet.title, sheet.sheet_state = "old", "hidden"
        sheet.append(["material", "parts"])
        sheet.append(["vanillin", 1])
        sheet = made.create_sheet("new")
    for row in rows:
        sheet.append(row)
    for row, column in percent:
        sheet.cell(row, column).number_format = "0%"
    if other:
        for row in other:
            (made["other"] if "other" in made.sheetnames else made.create_sheet("other")).append(row)
    out = io.BytesIO()
    made.save(out)
    if dimension is None:
        return out.getvalue()
    changed = io.BytesIO()
    with zipfile.ZipFile(out) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                start = data.index(b'<dimension ref="') + len(b'<dimension ref="')
                data = data[:start] + dimension.encode() + data[data.index(b'"', start) :]
            new.writestr(name, data)
    return changed.getvalue()


ROWS = [["material", "parts", "strength_pct"], ["linalool", 350.5, None], ["coumarin", 1200, None]]


def test_a_stale_size_loses_no_line(library):
    assert read_accord(book(ROWS, dimension="A1:C2"), library.names, name="x.xlsx").active() == RIGHT


def test_percent_formats_are_percents(library):
    rows = [["material", "parts", "strength_pct"], ["indole", 5, 0.1], ["linalool", 5, 1]]
    found = read_accord(book(rows, percent=[(2, 3), (3, 3)]), library.names, name="x.xlsx")
    assert [line.strength for line in found.lines] == [10.0, 100.0]


def test_other_sheets_are_told(library):
    with noting() as notes:
        found = read_accord(book(ROWS, other=ROWS), library.names, name="x.xlsx")
    assert any("sheet 'other' holds 3 lines and was not read" in told for told in found.read_as)
    assert any("was not read" in str(one) for one in notes)
    found = read_accord(book(ROWS, hidden_first=True), library.names, name="x.xlsx")
    assert found.active() == RIGHT
    assert any("the first one, 'old', is hidden" in told for told in found.read_as)


def test_a_formula_without_its_value_is_no_empty_cell(library):
    rows = [["material", "parts", "strength_pct"], ["indole", 5, "=1/10"]]
    assert verdict(lambda: read_accord(book(rows), library.names, name="x.xlsx")) == "refused"


def test_ods_is_read(library):
    import pandas as pd

    out = io.BytesIO()
    pd.DataFrame({"material": ["linalool", "coumarin"], "parts": [350.5, 1200]}).to_excel(
        out, engine="odf", index=False
    )
    assert read_accord(out.getvalue(), library.names, name="x.ods").active() == RIGHT


def zipped(**files: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in files.items():
            archive.writestr(name.replace("__", "/") + ".xml", text)
    return out.getvalue()


def ods(*sheets) -> bytes:
    """An ODS of sheets (title, hidden, rows); a row is (repeats, cells), a cell is a text, a truth, or (cell, repeats)."""
    from odf import element, opendocument, style, table
    from odf import text as words

    made = opendocument.OpenDocumentSpreadsheet()
    away = style.Style(name="away", family="table")
    away.addElement(style.TableProperties(display="false"))
    made.automaticstyles.addElement(away)
    for title, hidden, rows in sheets:
        sheet = table.Table(name=title, **({"stylename": "away"} if hidden else {}))
        for again, cells in rows:
            row = table.TableRow(numberrowsrepeated=again)
            for one in cells:
                value, repeats = one if isinstance(one, tuple) else (one, 1)
                more = {"numbercolumnsrepeated": repeats}
                if isinstance(value, bool):
                    more |= {"valuetype": "boolean", "booleanvalue": str(value).lower()}
                cell = table.TableCell(**more)
                if isinstance(value, str) and value:
                    cell.addElement(words.P(text=value))
                row.addElement(cell)
            row.appendChild(element.Text(" "))  # white space between elements
            sheet.addElement(row)
        made.spreadsheet.addElement(sheet)
    out = io.BytesIO()
    made.write(out)
    return out.getvalue()


TEXTS = [["linalool", "350.5", True], ["coumarin", "1200", False]]


def test_empty_lines_cells_and_truths_of_workbooks(library):
    """Blank lines keep their number, blank cells at the end are none, and a truth reads as yes or no."""
    rows = [
        ["material", "parts", "optional", None],
        [None, ""],
        ["linalool", 350.5, True],
        ["coumarin", 1200, False],
    ]
    cells = [(1, ["material", "parts", "optional", ("", 900)]), (2, [""]), *((1, row) for row in TEXTS)]
    for data, kind, numbers in (
        (book(rows), "xlsx", [1, 3, 4]),
        (ods(("one", False, cells)), "ods", [1, 4, 5]),
    ):
        found = workbooks.read_workbook(data, f"x.{kind}", kind)
        assert [number for number, _ in found.lines] == numbers
        assert [line for _, line in found.lines] == [
            ["material", "parts", "optional"],
            ["linalool", "350.5", "yes"],
            ["coumarin", "1200", "no"],
        ]
        accord = read_accord(data, library.names, name=f"x.{kind}")
        assert accord.active() == RIGHT
        assert [line.optional for line in accord.lines] == [True, False]


def test_numbers_of_a_workbook_tell_no_habit_of_writing(library):
    """A number cell has no comma: beside it a text cell with one is no second habit, and none is guessed from it."""
    rows = [["material", "parts"], ["linalool", 350.5], ["coumarin", "1200,0"]]
    assert read_accord(book(rows), library.names, name="x.xlsx").active() == RIGHT
    rows = [["material", "parts"], ["linalool", 1.234], ["coumarin", "0,5"]]  # not 1234
    assert read_accord(book(rows), library.names, name="x.xlsx").active() == {
        "linalool": 1.234,
        "coumarin": 0.5,
    }
    rows = [["material", "parts"], ["linalool", 1.234], ["coumarin", "1.200,5"], ["indole", "0.75 g"]]
    with pytest.raises(substitute.InputError, match="column parts"):  # two habits in text cells are still two
        read_accord(book(rows), library.names, name="x.xlsx")


def test_a_repeated_line_or_cell_is_there_as_often(library):
    cells = [(1, ["material", "parts", ("remark", 1)]), (3, [("linalool", 1), "2"])]
    found = read_accord(ods(("one", False, cells)), library.names, name="x.ods")
    assert found.active() == {"linalool": 6.0}
    found = workbooks.read_workbook(
        ods(("one", False, [(1, [("a", 3), ("", 2), "b", ("", 9)])])), "x.ods", "ods"
    )
    assert found.lines == [(1, ["a", "a", "a", "", "", "b"])]


def test_a_workbook_of_nothing_or_of_hidden_sheets_says_so(library):
    with pytest.raises(substitute.InputError, match="is empty; a header with material, parts is wanted"):
        read_accord(book([]), library.names, name="x.xlsx")
    head = [(1, ["material", "parts"]), (1, ["linalool", "350.5"]), (1, ["coumarin", "1200"])]
    found = read_accord(ods(("old", True, head)), library.names, name="x.ods")
    assert found.active() == RIGHT
    assert "sheet 'old' is hidden, but no other holds anything" in found.read_as
    found = read_accord(
        ods(("old", True, head), ("none", False, []), ("new", False, head)), library.names, name="x.ods"
    )
    assert "sheet 'new' was read; the first one, 'old', is hidden" in found.read_as
    assert "sheet 'old' (hidden) holds 3 lines and was not read" in found.read_as
    found = read_accord(ods(("none", False, []), ("new", False, head)), library.names, name="x.ods")
    assert "sheet 'new' was read; the first one, 'none', is empty" in found.read_as


def test_workbooks_that_unpack_to_too_much_are_refused(library, monkeypatch):
    data, own = book(ROWS), ods(("one", False, [(3, ["linalool", "5"])]))
    with pytest.raises(
        substitute.InputError, match="x.csv: is a text document; copy its table into a spreadsheet"
    ):
        read_accord(zipped(word__document=""), library.names, name="x.csv")
    with pytest.raises(substitute.InputError, match="sheet 'one' is too large: one line 99,999 times"):
        workbooks.read_workbook(ods(("one", False, [(99_999, ["linalool"])])), "x.ods", "ods")
    monkeypatch.setattr(workbooks, "MOST_CELLS", 5)
    with pytest.raises(substitute.InputError, match="sheet 'Sheet' is too large: over 5 cells"):
        workbooks.read_workbook(data, "x.xlsx", "xlsx")
    with pytest.raises(substitute.InputError, match="sheet 'one' is too large"):
        workbooks.read_workbook(own, "x.ods", "ods")
    monkeypatch.setattr(workbooks, "MOST_UNPACKED", 100)
    with pytest.raises(substitute.InputError, match=r"x.xlsx: unpacks to [\d,]+ bytes; at most 100 are read"):
        read_accord(data, library.names, name="x.xlsx")


# -- files that are none, and places that are none
# ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"%PDF-1.7\n", "a PDF"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"\xff\xd8\xff\xe0", "a picture"),
        (b"GIF89a", "a picture"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "an old binary office file"),
        (b"{\\rtf1}", "a text document"),
        (b"<!DOCTYPE html>", "a web page"),
        (b"\x1f\x8b\x08", "a compressed file"),
    ],
)
def test_what_is_no_table_gets_a_friendly_no(library, data, told):
    with pytest.raises(substitute.InputError, match=told):
        read_accord(data, library.names, name="x.csv")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes")
def test_pipes_devices_and_links_to_themselves_end(library, tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")
    for path in (tmp_path / "pipe.csv", tmp_path / "loop.csv", Path("/dev/zero"), Path("/dev/null")):
        assert verdict(lambda path=path: read_accord(path, library.names)) == "refused", path
        assert verdict(lambda path=path: read_bytes(path)) == "refused", path
    for path in (tmp_path / "pipe.csv", Path("/dev/null")):
        assert verdict(lambda path=path: write_whole(path, "x", force=True)) == "refused"
    assert Path("/dev/null").is_char_device()


def test_bases_that_double_stay_small(library, tmp_path):
    (tmp_path / "b0.csv").write_text("material,parts\nlinalool,1\ncoumarin,1\n")
    for level in range(1, 30):
        below = f"b{level - 1}"
        (tmp_path / f"b{level}.csv").write_text(f"material,parts\n{below},1\n{below},1\n")
    found = read_accord(tmp_path / "b29.csv", library.names)
    assert len(found.lines) <= 4
    assert found.active() == {"linalool": 1.0, "coumarin": 1.0}


def test_bases_without_end_are_refused(library, tmp_path):
    for level in range(200):
        (tmp_path / f"d{level}.csv").write_text(f"material,parts\nd{level + 1},1\n")
    assert verdict(lambda: read_accord(tmp_path / "d0.csv", library.names)) == "refused"


def test_a_folder_without_a_name_is_refused(library):
    for read in (
        lambda: read_accords("", library.names),
        lambda: Portfolio("", library.names, library.tables.materials),
    ):
        with pytest.raises(substitute.InputError, match="is empty"):
            read()


def test_lines_end_as_csv_says(library, tmp_path):
    """U+2028 and U+0085 inside a cell are no ends of lines."""
    text = "accord,material,parts,note\na,linalool,1,x\u2028y\na,coumarin,2,x\x85y\n"
    (tmp_path / "long.csv").write_text(text, encoding="utf-8", newline="")
    source = Portfolio(tmp_path / "long.csv", library.names, library.tables.materials)
    chunks = list(source.chunks())
    assert source.rejected == []
    assert [list(chunk.names) for chunk in chunks] == [["a"]]
    assert sorted(chunks[0].active.tolist()) == [1.0, 2.0]


def test_a_long_file_reads_thousands_as_a_single_one_does(library, tmp_path):
    text = 'accord,material,parts\na,linalool,350.5\na,coumarin,"1,200"\n'
    (tmp_path / "long.csv").write_text(text)
    (chunk,) = Portfolio(tmp_path / "long.csv", library.names, library.tables.materials).chunks()
    assert sorted(chunk.active.tolist()) == [350.5, 1200.0]


LONG = [
    ["accord", "material", "parts"],
    ["a", "linalool", 350.5],
    [None, None, None],
    ["b", "coumarin", 1200],
]


def many(library, path: Path) -> tuple[dict[str, float], dict[str, str], list[str]]:
    """Totals of the accords in ``path``, the message of each refused one, and what was noted."""
    with noting() as notes:
        source = Portfolio(path, library.names, library.tables.materials)
        totals = {
            name: float(chunk.active[chunk.indptr[at] : chunk.indptr[at + 1]].sum())
            for chunk in source.chunks()
            for at, name in enumerate(chunk.names)
        }
    return totals, dict(source.rejected), [str(one) for one in notes]


def test_a_long_file_may_be_a_workbook(library, tmp_path):
    (tmp_path / "long.xlsx").write_bytes(book(LONG))
    (tmp_path / "long.csv").write_bytes(book(LONG))  # whatever it is called
    assert many(library, tmp_path / "long.xlsx")[0] == {"a": 350.5, "b": 1200.0}
    assert many(library, tmp_path / "long.csv")[0] == {"a": 350.5, "b": 1200.0}
    typed = [LONG[0], ["a", "linalool", 1.234], ["a", "coumarin", "0,5"]]  # a number cell has no comma
    (tmp_path / "long.xlsx").write_bytes(book(typed))
    assert many(library, tmp_path / "long.xlsx")[0] == {"a": pytest.approx(1.734)}
    (tmp_path / "long.xlsx").write_bytes(book(LONG[:1]))
    with pytest.raises(
        substitute.InputError, match="has a header but no lines; at least one accord is wanted"
    ):
        many(library, tmp_path / "long.xlsx")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("accord,material,prats\na,linalool,1\n", "lacks the column parts; nearest is 'prats'"),
        ("accord,stuff\na,linalool\n", "lacks the columns material, parts (found: accord, stuff"),
        ("accord,material,parts,parts\na,linalool,1,2\n", "column parts: stands twice in the header"),
        ("accord,material,parts\n,,\n\n", "has a header but no lines; at least one accord is wanted"),
        ("\n\n", "is empty; a header with accord, material, parts is wanted"),
    ],
)
def test_a_long_file_without_a_header_or_lines_is_named(library, tmp_path, text, message):
    (tmp_path / "long.csv").write_text(text)
    with pytest.raises(substitute.InputError, match=re.escape(message)):
        many(library, tmp_path / "long.csv")


def test_odd_figures_of_a_long_file_are_refused_one_by_one(library, tmp_path):
    """What a program would read as a number and no person writes so; blank lines and lines too short are no fault."""
    text = "\naccord,material,parts,strength_pct,\na,linalool,1_000,\nb,linalool,١٢,\nc,linalool,12,50\n,,,\nc,coumarin,3\n"
    (tmp_path / "long.csv").write_text(text, encoding="utf-8")
    totals, refused, _ = many(library, tmp_path / "long.csv")
    assert totals == {"c": 9.0}
    assert "row 3, column parts: '1_000' is not a number" in refused["a"]
    assert "row 4, column parts: '١٢' is not a number" in refused["b"]


def test_a_folder_of_accords_says_what_it_refused_and_passed_over(library, tmp_path):
    (tmp_path / "sub").mkdir()
    for name in ("notes.md", "a.png", "b.png", "c.png", "d.png", "e.png", "f.png", "g.png", "h.png", "i.png"):
        (tmp_path / name).write_text("x")
    (tmp_path / ".hidden").write_text("x")
    (tmp_path / "good.csv").write_text("material,parts\nlinalool,2\n")
    (tmp_path / "twice.csv").write_text("material,parts\nlinalool,2\n")
    (tmp_path / "twice.txt").write_text("material,parts\nlinalool,2\n")
    (tmp_path / "many.csv").write_text("accord,material,parts\na,linalool,2\n")
    (tmp_path / "none.csv").write_text("material,parts\n")
    totals, refused, notes = many(library, tmp_path)
    assert totals == {"good": 2.0}
    assert {name: told.split(": ", 1)[1] for name, told in refused.items()} == {
        "many": "this file holds many accords: screen it by itself, not with its folder",
        "none": "has a header but no lines; at least one material is wanted",
        "twice": "another file of the folder has the same name; give each its own",
    }
    shown = ", ".join(f"{letter}.png" for letter in "abcdefghi")
    told = f"{tmp_path}: 11 not looked at: {shown}, notes.md and 1 more"
    assert notes == [told]


def test_labels_that_fall_together_are_refused(tmp_path):
    (tmp_path / "labels.csv").write_text("label,cas\nмох,90028-68-5\nМох!,121-33-5\n", encoding="utf-8")
    with pytest.raises(substitute.TableError, match="read alike"):
        read_labels(tmp_path / "labels.csv")


def test_labels_of_every_script_stay_apart(library):
    names = type(library.names)(library.tables)
    ids = list(library.tables.materials)[: len(SCRIPTS)]
    names.add_labels(dict(zip(SCRIPTS, ids)))
    assert [names.find(label).id for label in SCRIPTS] == ids


def test_every_fault_is_told_at_once(library, tmp_path):
    text = "material,parts,role\nlinalulool,1,core\nlinalool,x,core\ncoumarin,1,hero\n,2,\nrose,1,\n"
    (tmp_path / "a.csv").write_text(text)
    with pytest.raises(substitute.TableError) as caught:
        read_accord(tmp_path / "a.csv", library.names)
    assert [one.row for one in caught.value.complaints] == [2, 3, 4, 5, 6]
    assert caught.value.complaints[-1].suggestions[0] == "rose-oil"


def test_a_note_becomes_a_line_to_fill(library, tmp_path):
    (tmp_path / "a.csv").write_text("material,parts\nlinalool,1\npineapple,2\n")
    found = read_accord(tmp_path / "a.csv", library.names, fill=True)
    assert found.active() == {"linalool": 1.0}
    assert (found.to_fill[0].text, found.to_fill[0].parts, found.to_fill[0].suggestions[0]) == (
        "pineapple",
        2.0,
        "allyl-hexanoate",
    )
    assert verdict(lambda: read_accord(tmp_path / "a.csv", library.names)) == "refused"


def test_a_corrected_copy_is_read_back(library, tmp_path):
    source, out = tmp_path / "a.csv", tmp_path / "b.csv"
    source.write_text(
        "Rohstoff;Menge (g);Verdünnung\nBergamotte;1,5;\nindole 10% DPG;0,5;\nrose;2;\n", encoding="utf-8"
    )
    found = library.check(source, fix=str(out))
    assert [one.row for one in found.complaints] == [4]
    assert out.read_text().splitlines() == [
        "material,parts,strength_pct",
        "bergamot-oil,1.5,",
        "indole,0.5,10",
        "rose,2,",
    ]
    assert verdict(lambda: library.check(source, fix=str(source), force=True)) == "refused"


def test_names_of_other_compounds_are_never_taken(library):
    """Names and numbers from the open tables of the package `chemicals` (its PubChem extract): what is not on file is no material."""
    identifiers = pytest.importorskip("chemicals.identifiers")
    identifiers.pubchem_db.autoload_main_db()
    ours = {cas for material in library.tables.materials.values() for cas in material.cas}
    others = [one for one in identifiers.pubchem_db.CAS_index.values() if one.CASs not in ours]
    taken, asked = [], 0
    for compound in random.Random(7).sample(others, 500):
        for name in dict.fromkeys((compound.common_name, compound.iupac_name)):
            try:
                found = library.names.read(name, hints=False).material
            except substitute.InputError:
                asked += 1
                continue
            if found.cas:
                taken.append((name, compound.CASs, found.id))
    assert taken == []
    assert asked > 500
