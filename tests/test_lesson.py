"""The lesson sheet of an accord and the printable shelf list."""

from __future__ import annotations

import io
import json
from collections import Counter
from itertools import pairwise

import openpyxl
import pytest
from click.testing import CliRunner

from substitute.answers import lay_out
from substitute.answers.files import ENDINGS
from substitute.answers.markdown import answer_markdown
from substitute.answers.page import answer_page
from substitute.cli import cli
from substitute.errors import InputError
from substitute.records import Accord, Line, Shelf, Stock
from substitute.shelf.classroom import _swap_to_show, _timetable, classroom
from substitute.shelf.shopping import LEAST_MATCH, _left, _spared
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


# -- a class --------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def rose(library):
    return library.read_accord(library.demo / "accords" / "rose-on-the-dust-jacket.csv")


@pytest.fixture(scope="module")
def taught(library, rose):
    shelf = library.demo / "shelf.csv"
    cost = library.lesson(rose, shelf=shelf, places=12, budget=5.0).to_dict()["class"]["cost"]
    middle = round((cost["low"] + cost["high"]) / 2, 2)  # so that the range straddles it
    return library.lesson(rose, shelf=shelf, places=12, budget=middle)


def test_a_class_of_twelve(library, rose, taught):
    room = taught.to_dict()["class"]
    assert [seat["place"] for seat in room["seats"]] == list(range(1, 13))
    assert Counter(seat["bench"] for seat in room["seats"]) == {1: 4, 2: 4, 3: 4}
    for bench in (1, 2, 3):
        assert len({seat["role"] for seat in room["seats"] if seat["bench"] == bench}) == 4
    assert [row["minute"] for row in room["timetable"]] == sorted(row["minute"] for row in room["timetable"])
    assert room["place_strips"][0]["strips"] == len(rose.active())
    codes = [one["code"] for one in room["key"]]
    assert len(set(codes)) == len(codes)
    assert all(len(code) == 3 for code in codes)
    assert (
        library.lesson(rose, shelf=library.demo / "shelf.csv", places=12).to_dict()["class"]["key"]
        == room["key"]
    )
    assert {one["id"] for one in room["key"]} >= {"phenethyl-alcohol", "citronellol", "geraniol"}


@pytest.mark.parametrize("places", [1, 5, 7, 10, 13])
def test_orders_are_balanced(library, rose, places):
    """Williams (1949): in a full square every sample stands in every position, and follows every other, equally often."""
    room = library.lesson(rose, places=places).to_dict()["class"]
    codes, orders = {one["code"] for one in room["key"]}, room["orders"]
    assert len(orders) == places
    assert all(set(order) == codes for order in orders)
    rows = len(codes) * (1 + len(codes) % 2)
    if places >= rows:
        square = orders[:rows]
        for position in range(len(codes)):
            assert set(Counter(order[position] for order in square).values()) == {rows // len(codes)}
        pairs = Counter(pair for order in square for pair in pairwise(order))
        assert len(pairs) == len(codes) * (len(codes) - 1)
        assert len(set(pairs.values())) == 1


def test_the_swap_to_show_is_heard_and_the_accord_still_known():
    """The lowest match from 0.7 on; below that the best there is; none where none can be judged."""
    one = lambda name, match: {"missing_id": name, "match": match}  # noqa: E731
    assert _swap_to_show([one("a", 0.95), one("b", 0.72), one("c", 0.6)])["missing_id"] == "b"
    assert _swap_to_show([one("a", 0.3), one("b", 0.69), one("c", None)])["missing_id"] == "b"
    assert _swap_to_show([one("a", None)]) is None
    assert _swap_to_show([]) is None


def test_a_class_without_a_swap_smells_the_accord_alone(library):
    strips = [{"id": "linalool", "name": "linalool", "dip_pct": 10.0, "role": "support"}]
    accord = Accord("one", (Line("linalool", 1.0), Line("ethanol", 0.0)))
    room = classroom(library.tables, accord, 3, strips=strips, swaps=[]).to_dict()
    assert [one["what"] for one in room["key"]] == ["linalool at 10 %", "the accord at 10 %"]
    assert {row["batch"] for row in room["batch"]} == {"one"}
    assert not any("swapped" in row["do"] for row in room["timetable"])
    assert [row["id"] for row in room["buy"] if row["buy_g"] > 0] == ["linalool"]
    assert len(room["timetable"]) == len(_timetable(None)) == len(_timetable({"missing": "x"})) - 1


def test_an_amount_that_is_not_written_down_is_taken_to_be_there(library):
    shelf = Shelf((Stock("linalool"), Stock("coumarin", 50.0, 4.0), Stock("coumarin", 100.0, 1.0)), "mine")
    assert _left(shelf, "linalool") == ("yes", None)
    assert _left(shelf, "coumarin") == ("grams", 3.0)
    assert _left(shelf, "vanillin") == _left(None, "vanillin") == ("no", 0.0)


def test_what_can_be_spared_keeps_the_accord():
    """Swapped where the swap is no worse than leaving it out; never what would lose the accord."""
    buy = [{"id": name, "name": name, "low": 2.0, "high": 5.0} for name in "abcd"]
    way = lambda name, match, left_out, stand_in="s": {  # noqa: E731
        "missing_id": name, "stand_in_id": stand_in, "stand_in": stand_in, "match": match,
        "match_left_out": left_out, "grams_per_gram": 1.5,
    }  # fmt: skip
    ways = [way("a", 0.95, 0.5), way("b", 0.5, 0.92), way("c", LEAST_MATCH - 0.01, 0.1), way("x", 1.0, 1.0)]
    found = _spared(buy, ways, 100.0)
    assert [(one["id"], one["take"], one["match"]) for one in found] == [("a", "s", 0.95), ("b", None, 0.92)]
    assert [one["id"] for one in _spared(buy, ways, 5.0)] == ["a"]
    assert _spared(buy, ways, 0.0) == []


def test_solutions_are_enough_and_can_be_made(library, rose, taught):
    """By hand: 12 places, one strip each and one more in the blind set, 0.05 g a dip and a fifth to spare are 1.44 g of citronellol 10 %."""
    shelf = library.read_shelf(library.demo / "shelf.csv")
    room = taught.to_dict()["class"]
    strips = {one["id"]: one["dip_pct"] for one in taught.strips}
    blind = Counter(one["id"] for one in room["key"])
    ready: dict[tuple[str, float], float] = {}
    for row in room["prepare"]:
        if not row["id"]:
            continue
        if row["from_pct"] is None:
            assert row["strength_pct"] in shelf.strengths(row["id"])
        else:
            assert row["from_grams"] + row["carrier_grams"] == pytest.approx(row["grams"])
            made = row["from_grams"] * row["from_pct"] / row["grams"]
            assert made == pytest.approx(row["strength_pct"], rel=0.01)
            assert row["from_pct"] / row["strength_pct"] <= 10.01
            below = ready.get((row["id"], row["from_pct"]))
            assert row["from_pct"] == 100 or below is None or below >= row["from_grams"] * 0.99
        ready[row["id"], row["strength_pct"]] = row["grams"]
    for name, dip in strips.items():
        assert ready[name, dip] >= 12 * (1 + blind[name]) * 0.05 * 0.99


def test_what_to_buy(library, rose, taught):
    room = taught.to_dict()["class"]
    by_id = {row["id"]: row for row in room["buy"]}
    assert by_id["citronellol"]["buy_g"] == 0.0
    assert by_id["nerol"]["buy_g"] == by_id["nerol"]["grams"] > 0
    assert by_id["nerol"]["low"] <= by_id["nerol"]["high"]
    cost = room["cost"]
    assert cost["low"] == pytest.approx(sum(row["low"] or 0 for row in room["buy"]))
    assert cost["low"] < cost["budget"] < cost["high"]
    assert cost["holds"] is None
    saved = sum(row["high"] for row in cost["spare"])
    assert saved >= cost["high"] - cost["budget"] or len(cost["spare"]) == len(
        [r for r in room["buy"] if r["high"]]
    )
    assert all(row["match"] >= 0.85 for row in cost["spare"])
    assert cost["from_bottles"] > 0
    bare = library.lesson(rose, places=3, budget=9.0).to_dict()["class"]
    assert bare["cost"]["unpriced"]
    assert bare["cost"]["holds"] is None
    assert all(row["price_word"] or row["low"] is None for row in bare["buy"])
    dear = Shelf((Stock("ethanol"), Stock("nerol", price=500.0, grams=0.0)))
    assert library.lesson(rose, places=3, budget=9.0, shelf=dear).to_dict()["class"]["cost"]["holds"] is False


def test_the_teacher_has_pages_of_their_own(taught):
    laid = lay_out("lesson", taught.to_dict())
    seen = [part.title for part in laid.sections]
    first = next(place for place, title in enumerate(seen) if title.startswith("Teacher"))
    assert laid.sections[first].own_page
    assert all(title.startswith("Teacher") for title in seen[first:])
    code = taught.to_dict()["class"]["key"][0]["code"]
    page = answer_page(lay_out("lesson", taught.to_dict()))
    assert code not in page[: page.index("Teacher: key")]
    assert 'class="own-page"' in page


@pytest.mark.parametrize("kind", ["weigh", "lesson"])
def test_cautions_stand_before_the_first_weighing(library, rose, taught, kind):
    answer = library.weigh(rose, grams=10).to_dict() if kind == "weigh" else taught.to_dict()
    laid, caution = lay_out(kind, answer), answer["cautions"][0][:40]
    for ending in (".html", ".md", ".csv"):
        text = ENDINGS[ending](laid)
        assert text.index(caution) < text.index("78-70-6" if kind == "weigh" else "fill up"), ending
    book = openpyxl.load_workbook(io.BytesIO(ENDINGS[".xlsx"](laid)))
    first = [row[1] for row in book.worksheets[0].iter_rows(values_only=True)]
    assert any(str(cell).startswith(caution) for cell in first)
    assert any("Ethanol burns" in one for one in answer["cautions"])


@pytest.mark.parametrize(
    ("wish", "message"),
    [
        ({"places": 0}, "`class` 0 is out of range"),
        ({"places": 61}, "`class` 61 is out of range"),
        ({"places": 3, "budget": -1.0}, "`budget` -1 is out of range"),
    ],
)
def test_bad_classes(library, rose, wish, message):
    with pytest.raises(InputError, match=message):
        library.lesson(rose, **wish)


def test_lesson_command(library, tmp_path):
    path = str(library.demo / "accords" / "returns-box.csv")
    out = tmp_path / "lesson.xlsx"
    run = CliRunner().invoke(cli, ["lesson", path, "--class", "12", "--out", str(out), "--format", "json"])
    assert run.exit_code == 0, run.output
    assert json.loads(run.stdout)["class"]["places"] == 12
    assert "Teacher" in " ".join(openpyxl.load_workbook(out).sheetnames)
    run = CliRunner().invoke(cli, ["lesson", path, "--intent", "moss in a box"])
    assert run.exit_code == 0
    assert run.output.startswith("moss in a box")
    assert json.loads(CliRunner().invoke(cli, ["lesson", path, "--format", "json"]).stdout)["class"] is None


def test_sheets_of_a_folder(library, tmp_path):
    folder, out = tmp_path / "accords", tmp_path / "sheets"
    folder.mkdir()
    for name in ("returns-box", "sealing-wax"):
        (folder / f"{name}.csv").write_bytes((library.demo / "accords" / f"{name}.csv").read_bytes())
    arguments = ["sheets", str(folder), "--out", str(out), "--grams", "20"]
    run = CliRunner().invoke(cli, arguments)
    assert run.exit_code == 0, run.output
    assert sorted(path.name for path in out.iterdir()) == ["returns-box.html", "sealing-wax.html"]
    for path in out.iterdir():
        page = path.read_text()
        assert page.index("Cautions") < page.index("<table")
    again = CliRunner().invoke(cli, arguments)
    assert again.exit_code != 0
    (folder / "bad.csv").write_text("material,parts\nlinaloool,-2\n")
    with pytest.raises(InputError, match="exists already"):
        library.sheets(folder, out, grams=20)
    written, rejected = library.sheets(folder, out, grams=20, kind="md", force=True)
    assert len(written) == 2
    assert [name for name, _ in rejected] == ["bad"]
    with pytest.raises(InputError, match="kind of sheet"):
        library.sheets(folder, out, grams=20, kind="pdf")
