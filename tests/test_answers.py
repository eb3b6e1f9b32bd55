"""Real answers held to their typed JSON, drawn everywhere, and shown in a notebook and as a frame."""

from __future__ import annotations

import csv
import io
import json
import re

import effort
import jsonschema
import pytest

import substitute
from substitute.answers import LAYOUTS, book, lay_out, screen, words
from substitute.answers.csv import answer_csv, sheets_csv
from substitute.answers.markdown import answer_markdown, section_markdown
from substitute.answers.page import answer_page
from substitute.answers.schema import schema
from substitute.answers.sections import Column, table, text
from substitute.answers.shapes import SHAPES
from substitute.answers.terminal import Terminal, width_of
from substitute.answers.xlsx import answer_xlsx
from substitute.errors import InputError
from substitute.figures import as_known, cut, figure, in_grams, known, percent, share

PRODUCT = {"dose": 15, "product": "fine-fragrance"}


@pytest.fixture(scope="module")
def answers(library, tmp_path_factory):
    """One record of every kind, as they were worked out once in this process or in the one before it."""
    if not effort.answers:
        effort.answers.append(real_answers(library, tmp_path_factory.mktemp("answers")))
    return effort.answers[0]


def real_answers(library, place) -> dict[str, list]:
    """One record of every kind, the richest that the demo gives quickly; ``place`` is a folder to write in."""
    accords, shelf = library.demo / "accords", library.demo / "shelf.csv"
    accord = accords / "waiting-room-stove.csv"
    few = [accords / f"{name}.csv" for name in ("returns-box", "sealing-wax", "spice-atlas")]
    folder = place / "few"
    folder.mkdir()
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
        "screen": [library.screen(folder, **PRODUCT, mend=place / "mended")],
        "weigh": [library.weigh(accord, grams=10, shelf=shelf)],
        "rebalance": [library.rebalance(accord, too_strong=["vanillin"])],
        "history": [library.history(accord)],
        "compare": [library.compare_trials(accord, "1", "1")],
        **of_a_book(place / "book", library),
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
        for page in drawn:
            flat = re.sub(r"\W+", "", page.replace("&#x27;", "'").replace("&amp;", "&"))
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


# -- answers as they seldom are ------------------------------------------------------------------------------


def told(answers, kind: str, place: int = 0, **changed) -> str:
    """What a wide terminal says of a real answer with some of it changed."""
    return Terminal(600, why=True).draw(lay_out(kind, {**as_json(answers[kind][place]), **changed}))


def test_an_accord_that_could_not_be_adjusted_says_what_is_in_the_way(answers):
    about = {"within_known": False, "dose_pct": 20.0, "product": None, "category": "4"}
    wall = {"name": "oakmoss extract", "limit_set": "ifra-51", "line": "oakmoss absolute"}

    def headline(**changed) -> str:
        return lay_out("adjust", {**as_json(answers["adjust"][0]), **about, **changed}).headline

    said = headline(wall=wall, dose_within_known_pct=0.25)
    assert (
        "nothing within the known limits was found at 20 % in category 4. In the way: oakmoss extract" in said
    )
    assert "brought most by oakmoss absolute. The old accord keeps to them up to 0.25 %." in said
    assert "The old accord keeps" not in headline(wall=wall, dose_within_known_pct=None)
    assert "what is left carries none of this accord" in headline(wall=None)


def test_an_adjusted_accord_tells_its_range_its_cost_and_that_no_limit_is_broken(answers):
    first = as_json(answers["adjust"][0])
    held = {**first["limits"][0], "ok_before": True, "ok_after": True}
    cost = {"before": 1.25, "after": 0.5}
    said = told(answers, "adjust", match_range=[0.7, 0.84], cost_per_gram=cost, limits=[held], likeness=None)
    assert "Over the naturals' low and high constituents it lies between 0.70 and 0.84." in said
    assert "A gram costs 1.25 before and 0.5 after, in the shelf's currency." in said
    assert "1 limit looked at by what is on file: none broken, none unknown." in said
    assert "In people's terms" not in said
    said = told(answers, "adjust", match_range=[0.84, 0.845], cost_per_gram={"before": None, "after": 0.5})
    assert "constituents it lies between" not in said
    assert "A gram costs" not in said


@pytest.mark.parametrize(
    ("kinds", "back", "learned", "said"),
    [
        (["swap"], "", 0, "Verdict 1 put down. It changes no figure."),
        (["blend", "swap"], "", 0, "Verdicts 1, 2 put down. It changes no figure."),
        (["line"], "", 0, "Verdict 1 put down. The next rebalance counts it."),
        (["line", "accord"], "today", 0, "Verdicts 1, 2 taken back. The next rebalance counts them no more."),
        (["line"], "", 1, "It changes 1 figure, for you alone. The next rebalance counts it too."),
        (["line"], "today", 1, "Verdict 1 taken back. It changes 1 figure, for you alone."),
    ],
)
def test_what_a_verdict_changes_is_said(answers, kinds, back, learned, said):
    one = as_json(answers["tried"][0])
    verdicts = [{"id": id, "kind": kind, "taken_back": back} for id, kind in enumerate(kinds, 1)]
    answer = {**one, "verdicts": verdicts, "learned": one["learned"][:1] * learned}
    assert lay_out("tried", answer).headline.endswith(said)


def test_a_bottle_whose_weight_nobody_knows_is_no_empty_one(answers):
    bottles = [
        {**as_json(answers["book"][0])["bottles"][0], "grams": grams, "label": f"bottle {grams}"}
        for grams in (None, 0, 12.5)
    ]
    rows = [row for row in told(answers, "book", bottles=bottles).splitlines() if "bottle " in row]
    assert ["not known" in row for row in rows] == [True, False, False]
    assert ["empty" in row for row in rows] == [False, True, False]


def test_a_card_says_what_few_can_smell_and_nobody_weighs(answers):
    said = told(answers, "show", 2, stocked=False, hard_to_smell=True, replaced_by=[], replaces=[])
    assert "is never a stand-in" in said
    assert "Many people cannot smell it well." in said
    assert "Replaced by" not in said
    assert "is never a stand-in" not in told(answers, "show", 2)


def test_tables_without_cautions_end_with_the_last_table():
    section = table("", (Column("a"),), [("x",)])
    assert sheets_csv([section]) == "a\nx\n"
    assert sheets_csv([section], ["mind it"]) == "a\nx\n\ncaution\nmind it\n"
    assert sheets_csv([section], ["mind it"], warn_first=True) == "caution\nmind it\n\na\nx\n"


def test_an_empty_part_is_no_part_and_yes_is_a_word():
    assert section_markdown(text()) == ""
    assert [Column("a").show(cell) for cell in (True, False, None)] == ["yes", "no", ""]


@pytest.mark.parametrize(
    ("states", "said"),
    [
        (["none", "reached"], "4 products; no dose is let through in 2."),
        (["unknown", "reached"], "4 products; 2 are not known to the end."),
        (["reached", "reached"], ": 4 products."),
    ],
)
def test_products_that_let_nothing_through_are_counted(answers, states, said):
    one = as_json(answers["reach"][0])["products"][0]
    rows = [{**one, "state": state, "products": ["a", "b"]} for state in states]
    assert lay_out("reach", {**as_json(answers["reach"][0]), "products": rows}).headline.endswith(said)


def test_one_product_is_and_several_are():
    where = {"dose_pct": 2.0, "product": None, "category": None}
    assert words.where({**where, "dose_pct": None}) == ""
    assert words.where(where) == "at 2 %"
    assert words.where({**where, "category": "9"}) == "at 2 % in category 9"
    assert words.where({**where, "product": "hand-lotion"}) == "at 2 % in hand lotion"
    assert words.found(0.2, {"rule": "grade", "limit_pct": None}).text == ""  # it is about a lot
    assert [words.found(0.2, {"rule": rule, "limit_pct": 1.0}) for rule in ("grade", "max")] == [0.2, 0.2]
    assert words.found(0.2, {"limit_pct": None}) == 0.2
    assert words.wall(None) == "none known"
    assert words.wall({"substance": "x", "limit_set": "s"}) == "x (s)"


def test_nothing_found_is_said(answers):
    assert "nothing found that would help it carry." in told(answers, "lift", suggestions=[])
    near = {"id": "vanillin", "name": "vanillin", "cas": None, "similarity": 0.31}
    said = told(answers, "swap", stand_ins=[], nearest=near)
    assert "Nothing on offer stands in for oakmoss absolute" in said
    assert "; nearest is vanillin, similarity 0.31." in said
    assert "nearest is" not in told(answers, "swap", stand_ins=[], nearest=None)
    assert "Check old against new" in told(
        answers, "weigh", check=[{"test": 1, "day": 1, "lay_out": "a", "ask": "b"}]
    )
    assert "Check old against new" not in told(answers, "weigh", check=[])


def test_a_highest_dose_without_a_limit_in_the_way(answers):
    assert "In the way first" in told(answers, "limits", wall={"name": "coumarin", "limit_set": "x"})
    assert "In the way first" not in told(answers, "limits", wall=None)


def test_a_plan_that_buys_nothing_and_one_that_is_not_proved(answers):
    bare = told(answers, "plan", buy=[], curve=[], gap=None)
    assert "; with " not in bare
    assert "Coverage by the model" not in bare
    assert "Exact against step by step" not in bare
    said = told(answers, "plan", gap=0.0123, proved=False, bound=0.5, spent=12.5)
    assert (
        "Exact against step by step: +1.23 points of coverage; not proved: nothing can pass 50.00 %." in said
    )
    assert "; spent 12.5." in said
    assert "proved the best there is" in told(answers, "plan", gap=0.0, proved=True, bound=0.5)


def test_what_could_not_be_mended_says_what_is_in_the_way(answers):
    row = {"file": None, "message": "not mended", "wall": None, "dose_within_known_pct": None}
    wall = {"name": "coumarin", "limit_set": "ifra-51", "line": None}
    assert screen._stuck(row) == "not mended"
    assert screen._stuck({**row, "file": "mine.csv", "wall": wall}) == ""
    assert screen._stuck({**row, "wall": wall, "dose_within_known_pct": 0.5}) == (
        "not mended; in the way: coumarin (ifra-51); as it is, within the known limits up to 0.5 %"
    )
    unknown = {"accords": 0, "of_these_unbroken": 0, "by_substance": []}
    assert "which is no clearance" not in told(answers, "screen", unknown=unknown)


def test_within_is_said_of_what_is_on_file_alone(answers):
    row = as_json(answers["several"][0])["products"][0]
    clear = {**row, "broken": [], "probably_broken": [], "within_known": True}
    assert "within the limits on file" in told(answers, "several", products=[clear])
    assert "within the limits" not in told(answers, "several", products=[{**clear, "within_known": False}])


def test_a_blend_with_an_amount_that_nobody_knows(answers):
    one = as_json(answers["swap"][0])["stand_ins"][0]
    member = {"id": "a", "name": "a", "cas": None, "grams_per_gram": None, "low": None, "high": None}
    alone = {
        **one,
        "materials": [member],
        "gains": [],
        "losses": [],
        "listen": None,
        "trial_series": [0.1, 0.2],
    }
    said = told(answers, "swap", stand_ins=[alone])
    assert "In place of 1 g of oakmoss absolute" in said
    assert "a trace, amount unknown, of a" in said
    assert "smell a series before choosing: 0.1, 0.2 g for 1 g" in said
    assert "brings (of the smell)" not in said
    two = {**one, "materials": [member, {**member, "id": "b", "name": "b", "grams_per_gram": 0.25}]}
    assert "unknown + 0.25" in told(answers, "swap", stand_ins=[two])


def test_a_type_without_a_schema_is_a_fault_of_ours():
    from substitute.answers import schema as schemas

    with pytest.raises(TypeError, match="has no schema"):
        schemas._of(tuple[int, int], {})


def test_what_was_made_is_no_weighing_of_it():
    about = {"date": "2024-05-01", "accord": "mine"}
    rows = [
        {"id": 7, "grams": 2.5, "label": "vanillin", **about},
        {"id": 7, "grams": -9.0, "label": "vanillin 10 %", **about},
        {"id": 8, "grams": 1.0, "label": "coumarin", **about},
    ]
    assert book._weighings(rows) == [
        "2024-05-01, mine: 2.5 g of vanillin, made 9 g of vanillin 10 %",
        "2024-05-01, mine: 1 g of coumarin",
    ]
