"""Real answers held to their typed JSON, drawn everywhere, and shown in a notebook and as a frame."""

from __future__ import annotations

import csv
import io
import json
import re

import jsonschema
import pytest

import substitute
from substitute.answers import LAYOUTS, lay_out
from substitute.answers.csv import answer_csv
from substitute.answers.markdown import answer_markdown
from substitute.answers.page import answer_page
from substitute.answers.schema import schema
from substitute.answers.shapes import SHAPES
from substitute.answers.terminal import Terminal, width_of
from substitute.answers.xlsx import answer_xlsx
from substitute.errors import InputError
from substitute.figures import as_known, cut, figure, in_grams, known, percent, share

PRODUCT = {"dose": 15, "product": "fine-fragrance"}


@pytest.fixture(scope="module")
def answers(library, tmp_path_factory):
    """One record of every kind, the richest that the demo gives quickly."""
    accords, shelf = library.demo / "accords", library.demo / "shelf.csv"
    accord = accords / "waiting-room-stove.csv"
    few = [accords / f"{name}.csv" for name in ("returns-box", "sealing-wax", "spice-atlas")]
    folder = tmp_path_factory.mktemp("few")
    for path in few:
        (folder / path.name).write_bytes(path.read_bytes())
    bad = folder / "bad.csv"
    bad.write_text("material,parts\nlinaloool,-2\n")
    check = library.check(shelf, bad)
    return {
        "swap": [
            library.swap("oakmoss-absolute", blend=2, shelf=shelf),
            library.swap("coumarin", because="limit", accord=few[0], **PRODUCT),
        ],
        "neighbours": [library.neighbours("mossy", to="coumarin")],
        "show": [library.show("oakmoss-absolute"), library.show("ethanol"), library.show("vanillin")],
        "adjust": [
            library.adjust(accord, without=["guaiacwood-oil"], shelf=shelf, **PRODUCT),
            library.adjust(few[0], **PRODUCT),
        ],
        "limits": [library.limits(few[0], **PRODUCT), library.limits(few[1], dose=1, category="9")],
        "several": [library.limits(few[0], dose=5, product=["fine-fragrance", "hand-lotion"])],
        "ask": [library.ask([few[0]], product="fine-fragrance")],
        "screen": [library.screen(folder, **PRODUCT, mend=tmp_path_factory.mktemp("out") / "mended")],
        "weigh": [library.weigh(accord, grams=10, shelf=shelf)],
        "rebalance": [library.rebalance(accord, too_strong=["vanillin"])],
        "history": [library.history(accord)],
        "compare": [library.compare_trials(accord, "1", "1")],
        **of_a_book(tmp_path_factory.mktemp("bench") / "book", library),
        "label": [
            library.label(few[0], base={"Aqua": 50}, **PRODUCT),
            library.label(few[1], dose=6, product="candle"),
        ],
        "reach": [library.reach(few[0])],
        "lift": [library.lift(accord)],
        "lesson": [library.lesson(few[1]), library.lesson(few[1], places=5, shelf=shelf, budget=3)],
        "plan": [library.plan(few, shelf=shelf, buy=2), library.plan(few[:2], from_nothing=4)],
        "shelf": [library.shelf_list(shelf)],
        "check": [check],
    }


def of_a_book(folder, bare) -> dict[str, list]:
    """The answers about a bench book in which something happened."""
    bare.book_new(folder, shelf=bare.demo / "shelf.csv", accords=bare.demo / "accords")
    library = substitute.load(book=folder)
    words = "near; 1 g was too much, half was right; sweet"
    tried = library.tried("linalool", instead_of="rosewood-oil", words=words)
    trial = library.tried("depot-cat", too_strong=["skatole:far"], words="like a wet dog")
    accord = library.accord_of([{"material": "linalool", "parts": "1"}], "plain")
    library.weigh(accord, grams=5, take=True)
    return {
        "tried": [tried, trial],
        "book": [library.book_show()],
        "taken": [library.book_undo()],
        "found": [library.book_find("wet dog")],
        "cost": [library.cost("depot-cat", accord)],
    }


def as_json(record) -> dict:
    return json.loads(json.dumps(as_known(record if isinstance(record, dict) else record.to_dict())))


def test_every_kind_has_a_layout_and_a_schema(answers):
    assert set(LAYOUTS) == set(SHAPES) == set(answers)


@pytest.mark.parametrize("kind", SHAPES)
def test_real_answers_hold_to_their_schema(answers, kind):
    found = schema(kind)
    jsonschema.Draft202012Validator.check_schema(found)
    for record in answers[kind]:
        jsonschema.Draft202012Validator(found).validate(as_json(record))


@pytest.mark.parametrize("kind", SHAPES)
def test_a_key_too_many_or_too_few_is_a_fault(answers, kind):
    check = jsonschema.Draft202012Validator(schema(kind))
    answer = as_json(answers[kind][0])
    assert not check.is_valid(answer | {"surprise": 1})
    answer.pop(next(iter(answer)))
    assert not check.is_valid(answer)


def test_a_schema_is_asked_for_by_a_command_name(library):
    assert library.schema("swap") == schema("swap")
    with pytest.raises(InputError, match="'swop' is no answer"):
        library.schema("swop")


@pytest.mark.parametrize("kind", SHAPES)
def test_every_answer_is_drawn_everywhere_with_its_cautions(answers, kind):
    for record in answers[kind]:
        laid = lay_out(kind, as_json(record))
        assert laid.headline
        cautions = as_json(record).get("cautions", ())
        drawn = [answer_page(laid), answer_markdown(laid), Terminal(100).draw(laid)]
        assert answer_xlsx(laid)[:2] == b"PK"
        assert len(set(map(len, (row.split("\0") for row in answer_csv(laid).splitlines())))) <= 1
        for text in drawn:
            flat = re.sub(r"\W+", "", text.replace("&#x27;", "'").replace("&amp;", "&"))
            assert all(re.sub(r"\W+", "", one) in flat for one in cautions)


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("kind", SHAPES)
def test_every_answer_fits_the_terminal(answers, kind, width):
    for record in answers[kind]:
        drawn = Terminal(width).draw(lay_out(kind, as_json(record)))
        widest = max(drawn.splitlines(), key=width_of)
        assert width_of(widest) <= width, widest


@pytest.mark.parametrize("kind", SHAPES)
def test_an_answer_shows_itself(answers, kind):
    record = answers[kind][0]
    assert record.asked_by == kind
    page = record._repr_html_()
    assert page.startswith("<div>")
    assert "<script" not in page
    frame = record.to_frame()
    assert list(frame.columns) == answer_csv(lay_out(kind, record.to_dict())).splitlines()[0].split(",")
    assert len(frame) == len(lay_out(kind, record.to_dict()).main.rows)


@pytest.mark.parametrize("name", ["oakmoss-absolute", "ethanol", "thujopsene", "rosewood-oil", "linalool"])
def test_the_csv_of_a_card_is_one_table_that_holds_all_it_says(library, name):
    answer = as_json(library.show(name))
    laid = lay_out("show", answer)
    head, *rows = csv.reader(io.StringIO(answer_csv(laid)))
    assert all(len(row) == len(head) for row in rows)
    found: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        found.setdefault(row[0], []).append(dict(zip(head, row)))
    for part, key in (
        *(("in it", "constituents"), ("held by", "held_by"), ("gives back", "releases")),
        *(("rule", "limits"), ("control", "controls"), ("figure", "figures"), ("smells of", "profile")),
        *(("replaced by", "replaced_by"), ("stands in for", "replaces"), ("source", "sources")),
    ):
        assert len(found.get(part, ())) == len(answer[key]), part
    assert [row["note"] for row in found["caution"]] == list(laid.cautions)
    for part, key in (("in it", "constituents"), ("held by", "held_by")):
        told = [(row["id"], float(row["low"]), float(row["value"])) for row in found.get(part, ())]
        assert told == [(one["id"], one["low_pct"], one["typical_pct"]) for one in answer[key]]
    for part in laid.on("paper"):
        if part.of and part.of > len(part.rows):
            assert part.more().endswith("CSV and JSON hold them all.")


def test_a_card_names_what_it_speaks_of(library):
    """No id stands in what people read: neither of a material, nor of a group, nor of a set."""
    for name in ("rosewood-oil", "bergamot-oil", "birch-tar-oil"):
        laid = lay_out("show", as_json(library.show(name)))
        told = answer_page(laid)
        tables = library.tables
        ids = {*tables.limit_sets, *tables.materials, *tables.groups, *tables.sources}
        spoken = {id for id in ids if "-" in id and re.search(rf"(?<![\w-]){re.escape(id)}(?![\w-])", told)}
        assert not spoken - {one.name for one in tables.materials.values()}
        assert "leave_on" not in told


def test_no_answer_clears_anything(answers):
    for kind, records in answers.items():
        for record in records:
            text = Terminal(120, why=True).draw(lay_out(kind, as_json(record))).lower()
            assert not re.search(r"\b(is|are) (safe|legal|compliant|fine)\b", text), kind


def test_numbers_are_rounded_in_one_way():
    assert [figure(value) for value in (0.00001234, 1234.5, 12345.6, 2.5, 0, None)] == [
        *("0.0000123", "1234", "12,346", "2.5", "0", "-"),
    ]
    assert not re.search(r"\de", figure(1e-12) + figure(1e12) + figure(1e-7))
    assert percent(None) == "unknown"
    assert in_grams(0.0333) == "0.033"
    assert share(0.0234) == "0.023 %"
    assert cut(2.30666) == 2.306
    assert known("max_dose_known_pct", 2.99999) == 2.999
    assert known("found_pct", 0.123456) == 0.1235
    assert known("match", 0.95449) == 0.954
    assert as_known({"a": [float("nan"), True, "x"]}) == {"a": [None, True, "x"]}
