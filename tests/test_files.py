"""Reading and writing a person's files: every fault has one message with file, row, column and what is
allowed."""

import os
import socket

import pytest
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

import substitute
from substitute.records import ROLES, Accord, Line
from substitute.tables import files, folders, formulas, writing
from substitute.tables.check_files import check_files
from substitute.tables.files import read_rows
from substitute.tables.formulas import read_accord, write_accord
from substitute.tables.readings import noting
from substitute.tables.shelves import read_shelf
from substitute.tables.writing import write_whole

BAD = {
    "empty": (b"", "is empty; a header with material, parts is wanted"),
    "blank": (b"\n \n", "is empty; a header with material, parts is wanted"),
    "header only": (b"material,parts\n", "column material: has a header but no lines"),
    "missing column": (
        b"material,prats\nlinalool,3\n",
        "row 1, column parts: the header lacks this column; nearest is 'prats'",
    ),
    "unknown material": (
        b"material,parts\nlinalool,1\nlinalulool,3\n",
        "row 3, column material: 'linalulool' is not in the tables; nearest: linalool",
    ),
    "no material": (b"material,parts\n,3\n", "row 2, column material: is empty"),
    "no parts": (
        b"material,parts\nlinalool,\n",
        "row 2, column parts: is empty; a number from 0 to 1,000,000,000 is wanted",
    ),
    "negative": (
        b"material,parts\nlinalool,-3\n",
        "row 2, column parts: -3 is out of range: allowed is 0 to 1,000,000,000",
    ),
    "zero sum": (b"material,parts\nlinalool,0\n", "column parts: the parts sum to 0"),
    "text": (b"material,parts\nlinalool,a lot\n", "row 2, column parts: 'a lot' is not a number"),
    "nan": (b"material,parts\nlinalool,NaN\n", "row 2, column parts: 'NaN' is not a finite number"),
    "infinite": (b"material,parts\nlinalool,-inf\n", "row 2, column parts: '-inf' is not a finite number"),
    "overflow": (b"material,parts\nlinalool,1e999\n", "row 2, column parts: '1e999' is too large"),
    "too many parts": (b"material,parts\nlinalool,1e12\n", "row 2, column parts: 1e12 is out of range"),
    "thousands or decimals": (
        b'material,parts\nlinalool,"1,200"\n',
        "row 2, column parts: '1,200' may be 1.2 or 1200: write it without a comma",
    ),
    "groups of no thousands": (
        b'material,parts\nlinalool,"1,23.5"\n',
        "row 2, column parts: '1,23.5' is not a number",
    ),
    "two habits": (
        b'material,parts\nlinalool,350.5\ncoumarin,"1,5"\n',
        "row 3, column parts: '1,5' has a decimal comma, other cells of this file have a decimal point",
    ),
    "drops": (
        b"material,parts\nlinalool,5 drops\n",
        "row 2, column parts: '5 drops' is no mass: drops differ",
    ),
    "drops in the header": (b"material,parts (drops)\nlinalool,5\n", "column parts: is counted in drops"),
    "millilitres": (b"material,amount ml\nlinalool,5\n", "column parts: is counted in ml"),
    "two units": (
        b"material,parts\nlinalool,5 g\ncoumarin,20 %\n",
        "row 3, column parts: is in %, row 2 in g; one unit for all",
    ),
    "too strong": (
        b"material,parts,strength_pct\nlinalool,1,101\n",
        "row 2, column strength_pct: 101 is out of range: allowed is above 0 to 100",
    ),
    "no strength": (
        b"material,parts,strength_pct\nlinalool,1,0\n",
        "row 2, column strength_pct: 0 is out of range: allowed is above 0 to 100",
    ),
    "role": (
        b"material,parts,role\nlinalool,1,hero\n",
        "row 2, column role: 'hero' is not allowed: one of core, support, lift, trace",
    ),
    "flag": (
        b"material,parts,optional\nlinalool,1,maybe\n",
        "row 2, column optional: 'maybe' is neither yes nor no",
    ),
    "binary": (bytes(range(256)), "is not text but binary data"),
    "encoding": (
        b"material,parts\nlinalool,1\nn\x81roli,2\n",
        "row 3: is neither UTF-8 nor Windows-1252 (byte 0x81)",
    ),
    "long row": (b"material,parts\nlinalool,1,2,3\n", "row 2: has 4 cells under a header of 2"),
    "doubled header": (b"material,parts,parts\nlinalool,1,2\n", "column parts: stands twice in the header"),
    "quote": (b'material,parts\n"linalool,1\n', "row 2: cannot be split into cells"),
    "no header": (
        b"linalool,5\ncoumarin,3\n",
        "row 1, column material: the header lacks this column (found: linalool, 5; wanted: material, parts)",
    ),
    "material doubled in the header": (
        b"material,material,parts\nlinalool,coumarin,1\n",
        "row 1, column material: stands twice in the header",
    ),
    "minus infinity in words": (
        b"material,parts\nlinalool,-Infinity\n",
        "row 2, column parts: '-Infinity' is not a finite number",
    ),
    "thousands of digits": (b"material,parts\nlinalool," + b"9" * 5000 + b"\n", "row 2, column parts: '9999"),
    "formula": (b"material,parts\nlinalool,=A1\n", "row 2, column parts: '=A1' is not a number"),
    "negative strength": (
        b"material,parts,strength_pct\nlinalool,1,-1\n",
        "row 2, column strength_pct: -1 is out of range",
    ),
    "strength in words": (
        b"material,parts,strength_pct\nlinalool,1,weak\n",
        "row 2, column strength_pct: 'weak' is not a number",
    ),
    "a picture": (
        b"\x89PNG\r\n\x1a\n\x00\x00",
        "is a picture (PNG), not a table; save the formula as CSV (UTF-8), XLSX or ODS",
    ),
    "a zero byte": (b"material,parts\nlina\x00lool,5\n", "is not text but binary data"),
    "UTF-16 without its mark": (
        "material,parts\nlinalool,5\n".encode("utf-16-le"),
        "is not text but binary data",
    ),
    "a false UTF-16 mark": (
        b"\xff\xfea",
        "is not text (a UTF-16 mark, but not UTF-16); save it as CSV UTF-8",
    ),
    "a cell without end": (
        b"material,parts\n" + b"x" * 200_000 + b",1\n",
        "row 2: cannot be split into cells",
    ),
    "grams for a strength": (
        b"material,parts,strength_pct\nlinalool,1,10 g\n",
        "row 2, column strength_pct: '10 g' is not a percentage: allowed is above 0 to 100",
    ),
    "two strengths": (
        b"material,parts,strength_pct\nindole 10 % in DPG,1,5\n",
        "row 2, column strength_pct: 5 is not the 10 % that the name says; which is it?",
    ),
    "only words for notes": (
        b"material,parts\npineapple,1\nmusk,2\n",
        "row 2, column material: 'pineapple' is a word for a note, not a material",
    ),
    "a number on no bottle": (
        b"material,parts\n64-17-4,5\n",
        "row 2, column material: CAS 64-17-4 fails its check digit",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_faults_are_named(library, tmp_path, case):
    data, message = BAD[case]
    path = tmp_path / "accord.csv"
    path.write_bytes(data)
    with pytest.raises(substitute.TableError) as caught:
        read_accord(path, library.names)
    assert message in str(caught.value)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["accord.xlsx", "accord.XLSM", "accord.csv"])
@pytest.mark.parametrize("data", [b"PK\x03\x04 not a workbook", b"PK\x03\x04"])
def test_a_false_workbook_is_named_whatever_it_is_called(library, tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    with pytest.raises(substitute.TableError, match="is not a readable XLSX workbook"):
        read_accord(tmp_path / name, library.names)


def test_a_folder_in_place_of_a_file_is_named_once(library, tmp_path):
    with pytest.raises(substitute.InputError) as caught:
        read_accord(tmp_path, library.names)
    assert str(caught.value) == f"{tmp_path}: is a folder, a file is wanted"


@settings(max_examples=examples(200))
@given(
    st.one_of(
        st.binary(max_size=200),
        st.binary(max_size=80).map(lambda tail: b"material,parts\n" + tail),
        st.text(max_size=60).map(lambda tail: f"material;parts\nlinalool;{tail}\n".encode()),
    )
)
def test_any_bytes_are_an_accord_or_one_line_of_complaint(library, data):
    try:
        assert read_accord(data, library.names, name="x.csv").total > 0
    except substitute.InputError as error:
        assert "\n" not in str(error)
        assert str(error).startswith("x.csv")


def test_faults_of_the_file_itself(library, tmp_path):
    with pytest.raises(substitute.InputError, match="there is no such file"):
        read_accord(tmp_path / "none.csv", library.names)
    with pytest.raises(substitute.InputError, match="is a folder, a file is wanted"):
        read_accord(tmp_path, library.names)
    path = tmp_path / "accord.xlsx"
    path.write_bytes(b"PK\x03\x04 not a workbook")
    with pytest.raises(substitute.TableError, match="is not a readable XLSX workbook"):
        read_accord(path, library.names)


GOOD = {
    "commas": b"material,parts\nlinalool,1.5\ncoumarin,2\n",
    "semicolons and decimal commas": b"material;parts\nlinalool;1,5\ncoumarin;2\n",
    "tabs": b"material\tparts\nlinalool\t1,5\ncoumarin\t2\n",
    "a spreadsheet's own note": b"sep=;\nmaterial;parts\nlinalool;1,5\ncoumarin;2\n",
    "byte-order mark": "\ufeffmaterial,parts\nlinalool,1.5\ncoumarin,2\n".encode(),
    "UTF-16": "material\tparts\nlinalool\t1.5\ncoumarin\t2\n".encode("utf-16"),
    "case, blank lines and further columns": b"Material , PARTS,note\n\nLinalool,1.5,mine\n\ncoumarin,2,\n",
    "CAS numbers": b"material,parts\n78-70-6,1.5\n91-64-5,2\n",
    "carriage returns": b"material,parts\rlinalool,1.5\rcoumarin,2\r",
    "quoted semicolons": b'"material";"parts"\n"linalool";"1,5"\n"coumarin";"2"\n',
    "empty columns at the end": b"material,parts,,\nlinalool,1.5,,\ncoumarin,2,,\n",
    "a zero line": b"material,parts\nlinalool,1.5\ncoumarin,2\nlinalool,0\n",
    "two lines of one material": b"material,parts\nlinalool,1\ncoumarin,2\nlinalool,.5\n",
    "exponents and spaces": b"material,parts\n linalool , 15e-1 \ncoumarin,+2.\n",
    "strengths": b"material,parts,strength_pct\nlinalool,15,10\ncoumarin,2,\n",
    "quoted decimal comma": b'material,parts\nlinalool,"1,5"\ncoumarin,2\n',
    "undiluted, in words": b"material,parts,strength_pct\nlinalool,1.5,neat\ncoumarin,2,pur\n",
    "the strength said twice": b"material,parts,strength_pct\nlinalool 10 % in DPG,15,10\ncoumarin,2,\n",
    "kilograms": b"material,parts\nlinalool,0.0015 kg\ncoumarin,0.002 kg\n",
    "milligrams and grams": b"material,parts\nlinalool,1500 mg\ncoumarin,2 g\n",
    "a title above the header": b"shelf mark\n\nmaterial,parts\nlinalool,1.5\ncoumarin,2\n",
}


OLD = "material;parts\nLavendelöl;1,5\nVanillin;2\n".encode("cp1252")


def test_an_old_encoding_is_read_named_and_shown(library, tmp_path):
    """What spreadsheets of western Europe wrote for decades: bytes 0x80 to 0x9f as Windows has them."""
    found = read_accord(OLD, library.names, name="old.csv")
    assert found.active() == {"lavender-oil": 1.5, "vanillin": 2.0}
    told = found.read_as[0]
    assert "Windows-1252" in told and "row 2: 'Lavendelöl'" in told
    euro = read_rows(b"material;Preis (\x80/g)\nlinalool;1\n", ("material",), ("price_per_gram",), name="x")
    assert euro[0].text("price_per_gram") == "1"
    path = tmp_path / "long.csv"
    path.write_bytes(b"accord,material,parts\na,vanillin,1\na,\x8ccillet,1\nb,Lavendel\xf6l,2\n")
    with noting() as notes:
        screened = library.screen(path, dose=1, product="fine-fragrance").to_dict()
    assert screened["accords"] == 1
    assert "Œcillet" in screened["rejected"][0]["message"]
    assert any("read as Windows-1252 (row 3: 'Œcillet')" in str(note) for note in notes)


def test_letters_of_another_alphabet_are_not_guessed_at(library):
    """Cyrillic written as Windows-1251 is read wrongly, and the complaint says why."""
    with pytest.raises(substitute.TableError) as caught:
        read_accord("material;parts\nлиналоол;1\n".encode("cp1251"), library.names, name="old.csv")
    first, second = caught.value.complaints
    assert "not in the tables" in first.message
    assert "was read as Windows-1252 (row 2: 'ëèíàëîîë')" in second.message


@pytest.mark.parametrize("case", GOOD)
def test_what_spreadsheets_write_is_read(library, tmp_path, case):
    path = tmp_path / "accord.csv"
    path.write_bytes(GOOD[case])
    assert read_accord(path, library.names).active() == {"linalool": 1.5, "coumarin": 2.0}


def test_xlsx_two_lines_and_a_zero_line(library, tmp_path):
    book = Workbook()
    for row in (
        ["material", "parts", "strength_pct"],
        ["linalool", 1, 100],
        ["linalool", 5, 10],
        ["coumarin", 0, None],
    ):
        book.active.append(row)
    book.save(tmp_path / "accord.xlsx")
    accord = read_accord(tmp_path / "accord.xlsx", library.names)
    assert accord.active() == {"linalool": 1.5, "coumarin": 0.0}
    assert accord.total == 6


def test_labels_name_materials(tmp_path):
    (tmp_path / "labels.csv").write_text("label,cas\nblue tin 3,60-12-8\n")
    library = substitute.load(labels=tmp_path / "labels.csv")
    assert library.find("Blue Tin 3").id == "phenethyl-alcohol"
    (tmp_path / "labels.csv").write_text("label,cas\nblue tin 3,60128\n")
    with pytest.raises(substitute.TableError, match="row 2, column cas: '60128' is neither a CAS number"):
        substitute.load(labels=tmp_path / "labels.csv")


def test_accords_inside_accords(library, tmp_path):
    (tmp_path / "heart.csv").write_text("material,parts\nlinalool,3\ncoumarin,1\n")
    (tmp_path / "whole.csv").write_text("material,parts,strength_pct\nheart,8,50\nvanillin,2,\n")
    accord = read_accord(tmp_path / "whole.csv", library.names)
    assert accord.total == 10
    assert accord.active() == {"linalool": 3.0, "coumarin": 1.0, "vanillin": 2.0}
    (tmp_path / "heart.csv").write_text("material,parts\nwhole,1\n")
    with pytest.raises(substitute.InputError, match="contain each other in a circle: whole > heart > whole"):
        read_accord(tmp_path / "whole.csv", library.names)


def test_a_shelf_needs_only_materials(library, tmp_path):
    (tmp_path / "shelf.csv").write_text(
        "material,strength_pct,price_per_gram\nlinalool,,0.1\nindole,1,0.5\nindole,10,\n"
    )
    shelf = read_shelf(tmp_path / "shelf.csv", library.names)
    assert shelf.materials() == ("linalool", "indole")
    assert shelf.strengths("indole") == (10.0, 1.0)
    assert shelf.price("indole") == pytest.approx(50)


def test_files_are_written_whole_or_not_at_all(tmp_path):
    path = tmp_path / "out.csv"
    write_whole(path, "a")
    with pytest.raises(substitute.InputError, match="exists already; another name, or `force`"):
        write_whole(path, "b")
    assert path.read_text() == "a"
    write_whole(path, "b", force=True)
    assert path.read_text() == "b"
    with pytest.raises(substitute.InputError, match="cannot be written"):
        write_whole(tmp_path / "no" / "out.csv", "c")
    assert os.listdir(tmp_path) == ["out.csv"]


def test_rows_remember_where_they_stood():
    found = read_rows(b"a,b\n\n1,2\n\n3,4\n", ("a",), name="x.csv")
    assert [(row.number, row.text("b")) for row in found] == [(3, "2"), (5, "4")]


lines = st.builds(
    Line,
    st.sampled_from(["linalool", "coumarin", "rose-oil", "ethanol"]),
    st.floats(0.001, 1e6).map(lambda x: float(f"{x:.9g}")),
    st.sampled_from([100.0, 10.0, 1.0, 0.1]),
    st.sampled_from(ROLES),
    st.booleans(),
)


@settings(max_examples=examples(50), deadline=None)
@given(st.lists(lines, min_size=1, max_size=8))
def test_what_is_written_is_read_back(library, some):
    accord = Accord("x", tuple(some))
    assert read_accord(write_accord(accord).encode(), library.names, name="x.csv") == accord


def test_a_header_with_two_columns_of_amounts_is_read_by_the_one_that_has_a_name(library):
    """'amount' beside a bare 'g': the first is the amount; two that could be it are not guessed between."""
    found = read_rows(b"material;amount;g\nlinalool;3;30\n", ("material", "parts"), name="x.csv")
    assert found[0].text("parts") == "3"
    with pytest.raises(substitute.TableError, match="column parts: the header lacks this column"):
        read_rows(b"material;amount;weight\nlinalool;3;30\n", ("material", "parts"), name="x.csv")


def test_a_row_of_a_shelf_is_faulty_or_read_never_both(library):
    data = b"material,strength_pct,grams\n,10,5\nlinalool,200,5\ncoumarin,,5\n"
    with pytest.raises(substitute.TableError) as caught:
        read_shelf(data, library.names, name="mine.csv")
    assert [(one.row, one.column) for one in caught.value.complaints] == [
        (2, "material"),
        (3, "strength_pct"),
    ]
    with pytest.raises(substitute.TableError, match="has a header but no lines; the shelf is empty"):
        read_shelf(b"material,grams\n", library.names, name="mine.csv")


def test_a_file_that_is_too_large_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "LARGEST_FILE", 10)
    (tmp_path / "big.csv").write_text("material,parts\n")
    with pytest.raises(substitute.InputError, match=r"big.csv: holds 15 bytes; at most 10 are read"):
        files.read_bytes(tmp_path / "big.csv")


def test_an_accord_without_end_is_refused(library, monkeypatch):
    monkeypatch.setattr(formulas, "MOST_LINES", 3)
    read_accord(b"material,parts\n" + b"linalool,1\n" * 3, library.names, name="long.csv")
    with pytest.raises(
        substitute.TableError, match="long.csv, column material: has 4 lines; at most 3 are read"
    ):
        read_accord(b"material,parts\n" + b"linalool,1\n" * 4, library.names, name="long.csv")


def test_a_link_is_written_through_and_stays_one(tmp_path):
    (tmp_path / "real.csv").write_text("a")
    (tmp_path / "link.csv").symlink_to("real.csv")
    with pytest.raises(substitute.InputError, match="exists already"):
        write_whole(tmp_path / "link.csv", "b")
    write_whole(tmp_path / "link.csv", "b", force=True)
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "real.csv").read_text() == "b"


def test_a_full_disk_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    (tmp_path / "a.csv").write_text("old")
    monkeypatch.setattr(writing.os, "replace", full)
    with pytest.raises(substitute.InputError, match=r"a.csv: cannot be written \(No space left on device\)"):
        write_whole(tmp_path / "a.csv", "new", force=True)
    assert os.listdir(tmp_path) == ["a.csv"]
    assert (tmp_path / "a.csv").read_text() == "old"


def test_a_lock_of_a_process_that_is_gone_is_taken_away_and_no_other(tmp_path):
    here = socket.gethostname()
    gone = 4_194_304  # above the largest number a process can have
    assert folders._left_behind(f"{gone} {here} 2026-01-01 10:00")
    for held in ("", "no number", f"{gone} elsewhere 2026", f"{os.getpid()} {here} 2026", f"1 {here} 2026"):
        assert not folders._left_behind(held), held
    lock = tmp_path / folders.LOCK
    lock.write_text(f"{gone} {here} 2026-01-01 10:00")
    with folders.one_writer(tmp_path, patience=0.0):
        assert lock.read_text().startswith(f"{os.getpid()} {here}")
    assert os.listdir(tmp_path) == []
    lock.write_text("another writer has just put up its own")
    folders._clear(lock, f"{gone} {here} 2026-01-01 10:00")
    assert lock.read_text() == "another writer has just put up its own"
    assert os.listdir(tmp_path) == [lock.name]


@pytest.mark.parametrize(
    ("paths", "fix", "message"),
    [
        ([""], None, "a name is empty; a file or a folder is wanted"),
        (["a.csv", "b.csv"], "out.csv", "one file at a time is corrected; name one accord or shelf"),
        (["."], "out.csv", "one file at a time is corrected; name one accord or shelf"),
        (["labels.csv"], "out.csv", "labels are not corrected; a CAS number is read on the bottle"),
        (["a.csv"], "a.csv", "the file itself is not written over; give the copy another name"),
    ],
)
def test_a_check_that_cannot_be_made_says_why(library, tmp_path, monkeypatch, paths, fix, message):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "labels.csv").write_text("label,cas\nhay jar,91-64-5\n")
    (tmp_path / "a.csv").write_text("material,parts\nlinalool,1\n")
    with pytest.raises(substitute.InputError, match=message):
        check_files(paths, library.names, fix=fix)
    assert sorted(os.listdir(tmp_path)) == ["a.csv", "labels.csv"]


def test_a_folder_of_accords_is_checked_file_by_file(library, tmp_path):
    (tmp_path / "a.csv").write_text("material,parts\nlinalool,1\n")
    (tmp_path / "b.csv").write_text("material,parts\nlinalool,x\n")
    (tmp_path / "c.md").write_text("no formula")
    found = check_files([str(tmp_path)], library.names)
    assert [(one.file, one.row, one.column) for one in found.complaints] == [
        (str(tmp_path / "b.csv"), 2, "parts")
    ]
    (tmp_path / "b.csv").unlink()
    assert check_files([str(tmp_path)], library.names).lines[0] == (
        f"{tmp_path}: a folder of 1 file, nothing wrong"
    )
    assert [str(one) for one in check_files([str(tmp_path / "none")], library.names).complaints] == [
        f"{tmp_path / 'none'}: there is no such file"
    ]


def test_what_cannot_be_corrected_is_asked(library, tmp_path):
    path, out = tmp_path / "a.csv", tmp_path / "fixed.csv"
    path.write_text(
        "material,parts,strength_pct\n,1,\nlinalool,,\ncoumarin,5 drops,\nvanillin,x,\nindole,2,300\n"
    )
    found = check_files([str(path)], library.names, fix=str(out))
    assert [(one.row, one.column, one.message.split(";")[-1].strip()) for one in found.complaints] == [
        (2, "material", "which material is it?"),
        (3, "parts", "how much is it?"),
        (4, "parts", "weigh it"),
        (5, "parts", "'x' is not a number: allowed is 0 or more"),
        (6, "strength_pct", "300 is out of range: allowed is above 0 to 100"),
    ]
    assert found.lines[-1] == f"{out}: 5 lines written, 5 still to answer"
    assert out.read_text().splitlines()[1:4] == [",1,", "linalool,,", "coumarin,5 drops,"]


# -- what a check says of files as spreadsheets write them -----------------------------------------------------


SHELF = "Material;Menge (g);Preis (€/g);Konzentration\nLinalool;30,5;1,2;100\nLavendelöl;10,25;0,8;10\nSumme;40,75;;\n"


def test_a_shelf_with_a_price_header_and_a_total_row_is_one(library, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text(SHELF, encoding="utf-8")
    found = read_shelf(path, library.names)
    assert [(one.material, one.grams, one.price, one.strength) for one in found.stock] == [
        ("linalool", 30.5, 1.2, 100.0),
        ("lavender-oil", 10.25, 0.8, 10.0),
    ]
    assert "row 4, 'Summe', adds the others up and was left out" in found.read_as
    checked = check_files([str(path)], library.names)
    assert checked.lines[0] == f"{path}: a shelf (2 lines), nothing wrong"
    assert not checked.complaints


def test_grams_without_a_price_may_be_an_accord_or_a_shelf(library, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("Material;Menge (g)\nLinalool;30\nCoumarin;10\n", encoding="utf-8")
    assert check_files([str(path)], library.names).lines[0] == (
        f"{path}: an accord or a shelf in grams (2 lines), nothing wrong"
    )
    assert [one.grams for one in read_shelf(path, library.names).stock] == [30.0, 10.0]
    assert read_accord(path, library.names).active() == {"linalool": 30.0, "coumarin": 10.0}
    path.write_text("Material;Menge (g);optional\nLinalool;30;\n", encoding="utf-8")
    assert "an accord (1 line)" in check_files([str(path)], library.names).lines[0]


def test_decimal_commas_are_told_in_one_line(library, tmp_path):
    path, out = tmp_path / "mine.csv", tmp_path / "fixed.csv"
    path.write_text(SHELF, encoding="utf-8")
    lines = check_files([str(path)], library.names, fix=str(out)).lines
    assert [line for line in lines if "decimal comma" in line] == [
        f"{path}: decimal comma written as a point (row 2: '30,5' as 30.5; so in 4 cells)"
    ]
    assert not [line for line in lines if " written as " in line and "decimal comma" not in line]
    assert out.read_text(encoding="utf-8").splitlines() == [
        "material,grams,price_per_gram,strength_pct",
        "linalool,30.5,1.2,100",
        "lavender-oil,10.25,0.8,10",
    ]
    path.write_text("material,parts\nlinalool,500 mg\n", encoding="utf-8")
    lines = check_files([str(path)], library.names, fix=str(out), force=True).lines
    assert f"{path}, row 2: parts '500 mg' written as 0.5" in lines
