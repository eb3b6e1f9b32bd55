"""The command line in process: keys of the JSON, exit codes, one-line messages, nothing written on a
fault."""

import contextlib
import csv
import io
import itertools
import json
import os

import pytest
from click.testing import CliRunner

import substitute
from substitute import cli
from substitute.library import asked

DEMO = substitute.load().demo
ACCORD = str(DEMO / "accords" / "returns-box.csv")
SHELF = str(DEMO / "shelf.csv")
IN_PRODUCT = ("--dose", "15", "--product", "fine-fragrance")


def run(*words: str) -> tuple[int, str, str]:
    """(exit code, standard output, standard error) of a command, through the entry point."""
    out = CliRunner().invoke(cli.cli, ["--version"])
    assert out.exit_code == 0
    with pytest.MonkeyPatch.context() as patch:
        stdout, stderr = io.StringIO(), io.StringIO()
        patch.setattr("sys.stdout", stdout)
        patch.setattr("sys.stderr", stderr)
        with pytest.raises(SystemExit) as ended:
            cli.main(list(words))
    return ended.value.code or 0, stdout.getvalue(), stderr.getvalue()


def answer(*words: str, code: int = 0) -> dict:
    ended, out, _ = run(*words, "--format", "json")
    assert ended == code
    return json.loads(out)


def test_every_command_is_a_method_and_in_the_help():
    text = CliRunner().invoke(cli.cli, ["--help"]).output
    for name in cli.cli.commands:
        assert name in text
        assert name in ("app", "book") or callable(getattr(substitute.Library, name))
    assert {
        "swap",
        "neighbours",
        "adjust",
        "limits",
        "screen",
        "weigh",
        "rebalance",
        "plan",
        "lift",
        "show",
        "check",
        "app",
    } <= set(cli.cli.commands)


def test_swap_keys():
    found = answer("swap", "oakmoss absolute", "--top", "2")
    assert {"missing", "stand_ins", "nearest"} <= found.keys()
    assert found["missing"] == {"id": "oakmoss-absolute", "name": "oakmoss absolute", "cas": "9000-50-4"}
    first = found["stand_ins"][0]
    assert {
        "rank",
        "materials",
        "score",
        "similarity",
        "evidence",
        "reasons",
        "cautions",
        "gains",
        "losses",
        "sources",
    } <= first.keys()
    assert first["materials"][0].keys() == {"id", "name", "cas", "grams_per_gram", "low", "high"}
    assert first["evidence"] in ("documented", "constituent", "profile")
    assert all(entry.keys() == {"descriptor", "by"} for entry in first["gains"] + first["losses"])


def test_neighbours_keys():
    found = answer("neighbours", "mossy", "--to", "coumarin", "--top", "3")
    assert found["of"] == {"id": "mossy", "name": "mossy", "kind": "descriptor"}
    assert {"id", "name", "cas", "similarity", "shared"} <= found["neighbours"][0].keys()
    assert {"id", "shared"} <= found["path"][0].keys()


def test_adjust_keys():
    found = answer("adjust", ACCORD, "--without", "oakmoss-absolute", "--shelf", SHELF, *IN_PRODUCT)
    keys = {
        "accord",
        "verdict",
        "lines",
        "match",
        "total_before",
        "total_after",
        "dose_pct",
        "dose_after_pct",
    }
    assert keys | {"options", "rivals", "limits", "cautions"} <= found.keys()
    assert {"id", "name", "cas", "strength_pct", "parts_before", "parts_after", "cause", "why"} <= found[
        "lines"
    ][0].keys()
    assert {"name", "verdict", "match", "moved", "new", "lines"} <= found["rivals"][0].keys()
    assert found["match"].keys() == {"overall", "opening", "heart", "drydown"}
    ways = [option["name"] for option in found["options"]]
    assert ways[:3] == ["leave_out", "one_to_one", "strength"]
    assert {"match", "within_known"} <= found["options"][0].keys()
    assert {
        "substance",
        "limit_set",
        "limit_pct",
        "before_pct",
        "after_pct",
        "ok_before",
        "ok_after",
        "basis",
    } <= found["limits"][0].keys()
    after = sum(line["parts_after"] for line in found["lines"])
    assert found["total_after"] == pytest.approx(after)
    assert found["dose_after_pct"] == pytest.approx(
        found["dose_pct"] * after / found["total_before"], rel=1e-3
    )


def test_limits_keys_and_exit_code():
    found = answer("limits", ACCORD, *IN_PRODUCT, code=1)
    assert {
        "accord",
        "dose_pct",
        "category",
        "limits",
        "max_dose_pct",
        "wall",
        "declare",
        "controls",
    } <= found.keys()
    row = found["limits"][0]
    assert {
        "substance",
        "limit_set",
        "limit_pct",
        "found_pct",
        "typical_pct",
        "headroom_pct",
        "ok",
        "basis",
        "from",
    } <= row.keys()
    assert row["ok"] is False
    assert (
        run("limits", ACCORD, "--dose", str(found["max_dose_known_pct"]), "--product", "fine-fragrance")[0]
        == 0
    )


def test_weigh_and_rebalance_keys(tmp_path):
    found = answer("weigh", ACCORD, "--grams", "20", "--shelf", SHELF)
    assert {"lines", "solvent_g", "total_g", "concentrate_pct", "strips"} <= found.keys()
    assert {"id", "strength_pct", "grams", "error_pct"} <= found["lines"][0].keys()
    copy = tmp_path / "mine.csv"
    copy.write_bytes((DEMO / "accords" / "returns-box.csv").read_bytes())
    found = answer("rebalance", str(copy), "--too-strong", "coumarin", "--save")
    assert {"trial", "parent", "lines"} <= found.keys()
    assert (tmp_path / "mine.trial-2.csv").is_file()
    assert copy.read_bytes() == (DEMO / "accords" / "returns-box.csv").read_bytes()


def test_screen_and_lift_keys():
    found = answer(
        "--tables",
        str(DEMO / "rules"),
        "screen",
        str(DEMO / "accords"),
        *IN_PRODUCT,
        "--limits",
        "demo-2027",
        "--since",
        "demo-2026",
        code=1,
    )
    assert {"accords", "breaches", "rejected"} <= found.keys()
    assert found["accords"] >= 40
    assert {"accord", "substance", "limit_set", "limit_pct", "found_pct"} <= found["breaches"][0].keys()
    found = answer("lift", ACCORD)
    assert {"id", "parts", "match", "why"} <= found["suggestions"][0].keys()


def test_csv_parses():
    _, out, _ = run("swap", "linalool", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert rows[0]["rank"] == "1"
    assert float(rows[0]["score"]) > 0


def test_show_and_check_keys():
    found = answer("show", "91-64-5")
    assert {
        "id",
        "name",
        "cas",
        "profile",
        "figures",
        "held_by",
        "constituents",
        "limits",
        "controls",
        "replaced_by",
        "replaces",
        "sources",
    } <= found.keys()
    assert found["id"] == "coumarin"
    assert all({"property", "value", "at", "basis", "source"} <= figure.keys() for figure in found["figures"])
    found = answer("check", ACCORD, SHELF)
    assert found["complaints"] == []
    assert len(found["lines"]) == 2


def test_what_was_read_how_is_told_though_a_limit_is_broken(tmp_path):
    """A code of 1 ends the command early: the material taken for a short name is told all the same."""
    path = tmp_path / "mine.csv"
    path.write_text("material,parts\nbergamot,9\nlinalool,1\n")
    code, _, told = run("limits", str(path), "--dose", "20", "--product", "fine-fragrance")
    assert code == 1
    assert "'bergamot' read as bergamot oil" in told


def test_several_products_are_headed_by_where_it_breaks(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("material,parts\nbergamot oil,9\nlinalool,1\n")
    products = ["--product", "fine-fragrance", "--product", "hand-lotion"]
    _, found, _ = run("limits", str(path), "--dose", "20", *products)
    assert " ".join(found.split()).startswith("mine: over a limit in fine fragrance, hand lotion.")
    path.write_text("material,parts\nlinalool,1\nethanol,9\n")
    _, found, _ = run("limits", str(path), "--dose", "1", *products)
    assert "none broken by the figures on file, which is not a clearance" in " ".join(found.split())


def test_check_ends_with_2_and_says_where(tmp_path):
    (tmp_path / "bad.csv").write_text("material,parts\nlinalool,1\nlinalulool,-2\n")
    found = answer("check", ACCORD, str(tmp_path / "bad.csv"), str(tmp_path / "none.csv"), code=2)
    places = [(entry["row"], entry["column"]) for entry in found["complaints"]]
    assert sorted(places, key=str) == [(3, "material"), (3, "parts"), (None, None)]


@pytest.mark.parametrize("name", list(cli.cli.commands))
def test_every_command_explains_itself(name):
    code, out, error = run(name, "--help")
    assert (code, error) == (0, "")
    assert out.startswith(f"Usage: substitute {name}")


@pytest.mark.parametrize(
    "words",
    [
        ("neighbours", "mossy"),
        ("adjust", ACCORD),
        ("limits", ACCORD, *IN_PRODUCT),
        ("weigh", ACCORD, "--grams", "10"),
        ("show", "linalool"),
        ("check", ACCORD),
        ("lift", ACCORD),
    ],
    ids=lambda words: words[0],
)
def test_every_answer_is_a_table_of_equal_rows_in_csv(words):
    _, out, _ = run(*words, "--format", "csv")
    rows = list(csv.reader(io.StringIO(out)))
    assert len(rows) >= 1
    assert {len(row) for row in rows} == {len(rows[0])}


READERS = [
    ("adjust", "{}"),
    ("limits", "{}", *IN_PRODUCT),
    ("weigh", "{}", "--grams", "10"),
    ("lift", "{}"),
    ("rebalance", "{}", "--too-strong", "linalool", "--save"),
    ("screen", "{}", *IN_PRODUCT),
    ("swap", "linalool", "--shelf", "{}"),
]


@pytest.mark.parametrize("words", READERS, ids=lambda words: words[0])
@pytest.mark.parametrize("data", [b"", bytes(range(256)), None], ids=["empty", "binary", "none"])
def test_hostile_files_end_with_2_and_leave_nothing_behind(tmp_path, words, data):
    path = tmp_path / "hostile.csv"
    if data is not None:
        path.write_bytes(data)
    before = sorted(tmp_path.iterdir())
    code, out, error = run(*(word.format(path) for word in words))
    assert (code, out) == (2, "")
    assert error.startswith(f"substitute: {path}")
    assert len(error.splitlines()) == 1
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize("target", ["no/such/folder.csv", ".", "taken.csv"])
@pytest.mark.parametrize(
    "words",
    [("adjust", ACCORD, "--out"), ("weigh", ACCORD, "--grams", "10", "--out")],
    ids=lambda words: words[0],
)
def test_what_cannot_be_written_ends_with_2(tmp_path, words, target):
    (tmp_path / "taken.csv").write_text("mine")
    code, out, error = run(*words, str(tmp_path / target))
    assert (code, out) == (2, "")
    assert len(error.splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["taken.csv"]
    assert (tmp_path / "taken.csv").read_text() == "mine"


def test_options_reach_the_library():
    """The names of a command's options are keywords of the method, with an underscore."""
    import inspect

    by_the_face = {
        "style",
        "why",
        "raw",
        "answers",
        "into",
        "out",
        "force",
        "save",
        "compare",  # compare_trials
        "summary",
        "sheet",
        "greedy_only",
    }  # prints, writes; the last is exact=False
    for name, command in cli.cli.commands.items():
        if name in ("app", "book"):
            continue
        method = inspect.signature(getattr(substitute.Library, name)).parameters
        known = set(method)
        for parameter in method.values():
            if parameter.kind is parameter.VAR_KEYWORD:  # written Unpack[…]: the keywords of that record
                record = parameter.annotation.removeprefix("Unpack[").removesuffix("]")
                known |= set(getattr(asked, record).__annotations__)
        missing = {parameter.name for parameter in command.params} - by_the_face - known
        assert not missing, f"{name}: {missing}"


FAULTS = [
    (("swap", "xyzzyx"), "the CAS number on the bottle works too"),
    (("swap", "linalool", "--because", "pric"), "'pric' is not one of"),
    (("swap", "linalool", "--shelf", "nowhere.csv"), "nowhere.csv: there is no such file"),
    (("adjust", ACCORD, "--without", "indole"), "does not hold indole"),
    (("adjust", ACCORD, "--dose", "15"), "a dose needs a product or category too"),
    (("adjust", ACCORD, "--product", "fine-fragrance"), "a product or category needs a dose too"),
    (("limits", ACCORD, "--dose", "0", "--category", "4"), "dose 0 is out of range"),
    (("limits", ACCORD, "--dose", "120", "--category", "4"), "dose 120 is out of range"),
    (("limits", ACCORD, "--dose", "1", "--category", "44"), "'44' is not a known category"),
    (("limits", ACCORD, "--dose", "1", "--product", "fine-fragance"), "nearest is 'fine-fragrance'"),
    (("limits", ACCORD, *IN_PRODUCT, "--limits", "ifra-52"), "'ifra-52'"),
    (("limits", ACCORD, *IN_PRODUCT, "--on", "soon"), "'soon'"),
    (("weigh", ACCORD, "--grams", "-1"), "-1 is out of range"),
    (("weigh", ACCORD, "--grams", "nan"), "nan is out of range"),
    (("rebalance", ACCORD, "--too-strong", "coumarin", "--too-weak", "coumarin"), "coumarin"),
    (("plan", "--accords", "nowhere", "--shelf", SHELF), "nowhere"),
    (("frobnicate",), "No such command"),
]


@pytest.mark.parametrize(
    ("words", "message"),
    FAULTS,
    ids=[" ".join(words[:1]) + f"-{number}" for number, (words, _) in enumerate(FAULTS)],
)
def test_faults_end_with_2_and_one_line(words, message):
    code, out, error = run(*words)
    assert (code, out) == (2, "")
    assert message in error
    assert len(error.splitlines()) == 1
    assert "Traceback" not in error


def test_out_never_writes_over_a_file_without_force(tmp_path):
    target = tmp_path / "new.csv"
    words = ("adjust", ACCORD, "--without", "oakmoss-absolute", *IN_PRODUCT, "--out", str(target))
    assert run(*words)[0] == 0
    made = target.read_bytes()
    code, _, error = run(*words)
    assert code == 2
    assert "exists already" in error
    assert target.read_bytes() == made
    assert run(*words, "--force")[0] == 0
    assert run("limits", str(target), *IN_PRODUCT)[0] == 0
    assert run("adjust", ACCORD, "--without", "indole", "--out", str(tmp_path / "none.csv"))[0] == 2
    assert not (tmp_path / "none.csv").exists()


def test_nothing_legal_ends_with_1_and_says_why(tmp_path):
    accord, shelf = tmp_path / "one.csv", tmp_path / "shelf.csv"
    accord.write_text("material,parts\nlinalool,5\n")
    shelf.write_text("material\nethanol\n")
    code, out, error = run(
        "adjust",
        str(accord),
        "--shelf",
        str(shelf),
        *IN_PRODUCT,
        "--format",
        "json",
        "--out",
        str(tmp_path / "new.csv"),
    )
    assert code == 1
    assert {"wall", "dose_within_known_pct"} <= json.loads(out).keys()
    assert "nothing within the known limits" in error
    assert not (tmp_path / "new.csv").exists()


def in_a_terminal(*words: str, **environment: str) -> str:
    """What a command prints where standard output is a terminal."""
    import pty
    import subprocess
    import sys

    main, other = pty.openpty()
    known = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "FORCE_COLOR")}
    command = [sys.executable, "-W", "ignore", "-m", "substitute.cli", *words]
    with subprocess.Popen(
        command, stdout=other, stderr=subprocess.DEVNULL, env=known | environment
    ) as running:
        os.close(other)
        found = b""
        with contextlib.suppress(OSError):  # the end of a terminal
            while piece := os.read(main, 65536):
                found += piece
        running.wait()
    os.close(main)
    return found.decode("utf-8").replace("\r\n", "\n")


@pytest.mark.skipif(os.name == "nt", reason="terminals of this kind are POSIX")
def test_colour_on_a_terminal_and_none_where_it_is_not_wanted():
    words = ("limits", ACCORD, *IN_PRODUCT)
    assert "\x1b[" in in_a_terminal(*words)
    assert "\x1b[" not in in_a_terminal(*words, NO_COLOR="1")
    assert "\x1b[" not in run(*words)[1]


def test_csv_is_for_programs_and_safe_in_spreadsheets(tmp_path):
    accord = tmp_path / "=1+1.csv"
    accord.write_text("material,parts\noakmoss absolute,50\nlinalool,50\n")
    _, out, error = run("screen", str(tmp_path), *IN_PRODUCT, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert {row["accord"] for row in rows} == {"'=1+1"}
    assert all(len(row["found_pct"].replace("0.", "").lstrip("0")) <= 5 for row in rows)
    assert "caution: " in error
    _, out, _ = run("screen", str(tmp_path), *IN_PRODUCT, "--format", "csv", "--raw")
    assert {row["accord"] for row in csv.DictReader(io.StringIO(out))} == {"=1+1"}
    _, out, _ = run("limits", ACCORD, *IN_PRODUCT, "--format", "csv")
    states = {row["ok"] for row in csv.DictReader(io.StringIO(out))}
    assert states <= {"true", "false", ""}
    assert "false" in states


def test_numbers_of_json_are_rounded_to_what_is_known():
    found = answer("limits", ACCORD, *IN_PRODUCT, code=1)
    for row in found["limits"]:
        digits = f"{row['found_pct']:.12g}".replace(".", "").lstrip("0").split("e")[0]
        assert len(digits.rstrip("0")) <= 4


def test_the_product_is_said_and_flags_are_the_face_s_own():
    assert "at 15 % in fine fragrance (category 4)" in run("limits", ACCORD, *IN_PRODUCT)[1].replace(
        "\n", " "
    )
    code, _, error = run("swap", "linalool", "--top", "0")
    assert code == 2
    assert "--top 0 is out of range" in error
    with pytest.raises(substitute.InputError, match="`top` 0 is out of range"):
        substitute.load().swap("linalool", top=0)


def test_schema_is_printed():
    code, out, _ = run("schema", "swap")
    assert code == 0
    assert json.loads(out)["title"] == "swap"
    assert run("schema", "swop")[0] == 2


@pytest.mark.parametrize("ending", [".html", ".md", ".csv", ".xlsx"])
def test_weighing_is_written_with_its_cautions(tmp_path, ending):
    path = tmp_path / f"sheet{ending}"
    assert run("weigh", ACCORD, "--grams", "10", "--out", str(path))[0] == 0
    if ending != ".xlsx":
        assert "Ethanol burns" in path.read_text(encoding="utf-8")


# -- questions to a supplier, and what cannot go on -------------------------------------------------------------


def test_a_page_of_questions_goes_out_and_its_answers_come_back(tmp_path):
    page, own = tmp_path / "ask.csv", tmp_path / "own"
    code, out, _ = run("ask", ACCORD, "--product", "hand-lotion", "--out", str(page))
    assert code == 0
    assert "questions about" in out
    with open(page, encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    assert rows
    code, _, _ = run("ask", ACCORD, "--product", "hand-lotion", "--out", str(tmp_path / "ask.html"))
    assert code == 0
    assert (tmp_path / "ask.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    place = header.index("answer_pct")
    rows[0][place] = "0"
    with open(page, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows])
    code, out, told = run("ask", "--answers", str(page), "--into", str(own))
    assert (code, told) == (0, "")
    written = [line.removeprefix("Written: ") for line in out.splitlines()]
    assert written and all(os.path.exists(path) for path in written)
    for words in (
        ("--answers", str(page)),
        ("--into", str(own)),
        (ACCORD, "--answers", str(page), "--into", str(own)),
        (),
    ):
        code, out, told = run("ask", *words)
        assert (code, out) == (2, ""), words
        assert "--answers" in told


def test_screen_ends_with_2_where_nothing_breaks_but_one_could_not_be_read(tmp_path):
    path = tmp_path / "many.csv"
    bad = "".join(f"b{number},no such material {number},1\n" for number in range(30))
    path.write_text(f"accord,material,parts\na,ethanol,9\n{bad}")
    code, out, told = run("screen", str(path), *IN_PRODUCT, "--format", "json")
    assert code == 2
    assert json.loads(out)["accords"] == 1
    assert told.count("not read:") < 30
    assert "more accords were not read" in told


@pytest.mark.parametrize(
    ("error", "code", "part"),
    [
        (RuntimeError("boom"), 3, "a fault of the program (RuntimeError: boom)"),
        (OSError(28, "No space left on device"), 3, "the machine refused"),
        (MemoryError(), 3, "the machine refused"),
        (RecursionError(), 2, "nested too deeply"),
        (KeyboardInterrupt(), 3, "stopped"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else None,
)
def test_what_cannot_go_on_ends_with_one_line(monkeypatch, error, code, part):
    def fails(*_: object, **__: object) -> None:
        raise error

    monkeypatch.delenv("SUBSTITUTE_DEBUG", raising=False)
    monkeypatch.setattr(substitute.Library, "swap", fails)
    ended, out, told = run("swap", "linalool")
    assert (ended, out) == (code, "")
    assert part in told
    assert len(told.splitlines()) <= 2


def test_a_bare_call_shows_what_there_is():
    code, out, _ = run()
    assert code == 0
    assert "swap" in out and "adjust" in out


def test_many_complaints_are_counted(tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("material,parts\n" + "".join(f"no such material {n},1\n" for n in range(200)))
    code, _, told = run("limits", str(path), *IN_PRODUCT)
    assert code == 2
    assert len(told.splitlines()) < 200
    assert told.splitlines()[-1].endswith(" more")


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_meter_is_one_line_that_is_wiped_and_nothing_away_from_a_terminal(monkeypatch):
    from substitute.commands.common import Meter

    def shown(stream: io.StringIO) -> str:
        monkeypatch.setattr("sys.stderr", stream)
        with Meter() as meter:
            meter(3, 12, "adjusting accords")
            meter(4, 0, "choosing")
            meter.share(0.5, 1200, 7)
            meter.share(None, 1300, 8)
        return stream.getvalue()

    pieces = shown(Screen()).split("\r")
    assert [one.rstrip() for one in pieces if one.strip()] == [
        "adjusting accords: 3 of 12",
        "choosing: round 4",
        "1,200 accords, 7 broken, 50%",
        "1,300 accords, 8 broken",
    ]
    assert pieces[-1] == ""
    for longer, shorter in itertools.pairwise(pieces[1:-1]):
        assert len(shorter) >= len(longer.rstrip())  # nothing of the line before is left standing
    assert shown(io.StringIO()) == ""


def test_a_book_from_the_command_line(tmp_path):
    """Accords are taken in, trials read side by side, faults in the book are told and others are answered."""
    folder = str(tmp_path / "book")
    assert run("book", "new", folder)[0] == 0
    own = tmp_path / "mine.csv"
    own.write_text("material,parts\nvanillin,2\ncoumarin,1\n")
    code, out, _ = run("--book", folder, "book", "add", str(own))
    assert (code, out.startswith("taken in as ")) == (0, True)
    kept = str(tmp_path / "book" / "accords" / "mine.csv")
    assert run("rebalance", kept, "--too-strong", "vanillin", "--save")[0] == 0
    found = answer("rebalance", kept, "--history")
    assert [one["trial"] for one in found["trials"]] == [1, 2]
    found = answer("rebalance", kept, "--compare", "1", "2")
    times = {row["id"]: row["times"] for row in found["lines"]}
    assert times["vanillin"] < 1
    assert times["coumarin"] == 1
    (tmp_path / "book" / "verdicts.csv").write_text("nonsense\n1\n")
    code, out, told = run("--book", folder, "show", "vanillin")
    assert code == 0
    assert "verdicts.csv" in told
    code, _, told = run("check", folder)  # a book that is to be checked need not be in order
    assert code == 2
    assert "verdicts.csv" in _ + told


def test_a_draft_and_its_reach_are_written(tmp_path):
    for command, more in (("label", ("--base", "Aqua=12", *IN_PRODUCT)), ("reach", ())):
        target = tmp_path / f"{command}.html"
        code, out, told = run(command, ACCORD, *more, "--out", str(target))
        assert (code, told) == (0, ""), command
        assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    code, out, told = run("label", ACCORD, *IN_PRODUCT, "--base", "Aqua=12", "--base", " Aqua = 3")
    assert (code, out) == (2, "")
    assert "'Aqua' is given twice" in told


def test_sheets_that_could_not_be_written_are_told_and_the_others_are(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "good.csv").write_text("material,parts\nvanillin,2\n")
    (tmp_path / "in" / "bad.csv").write_text("material,parts\nunobtainium,2\n")
    code, out, told = run("sheets", str(tmp_path / "in"), "--grams", "5", "--out", str(tmp_path / "out"))
    assert code == 2
    assert "good.html" in out
    assert "not read: bad" in told
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["good.html"]
