"""Parts of the screens drawn alone, with the answers and the work that a whole page seldom has before it."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from substitute import Library
from substitute.book.book import Book
from substitute.errors import InputError
from substitute.screens import accord as accords
from substitute.screens import (
    adjust,
    adjusted,
    asked,
    bars,
    bench_rows,
    book,
    common,
    dropped,
    effects,
    fields,
    keep,
    neighbours,
    own_rules,
    plan,
    portfolio,
    rebalance,
    rivals,
    rules,
    saved,
    shelf,
    side,
    slow,
    stand_in,
    swap,
    tried,
    work,
)
from tests.test_app import SLOW, opened, text

Draw = Callable[[], Any]
BENCH = [{"material": name, "parts": parts} for name, parts in (("vanillin", 2.0), ("coumarin", 1.0))]


def page(draw):  # its source is run as a script, which knows no name of this file
    draw()


def drawn(draw: Draw, **kept: Any) -> AppTest:
    """A page of its own with what ``draw`` puts on it; ``kept`` stands in the window's memory before."""

    at = AppTest.from_function(page, kwargs={"draw": draw}, default_timeout=SLOW)
    for name, value in kept.items():
        at.session_state[name] = value
    at.run()
    assert not at.exception, [one.message for one in at.exception]
    return at


def told(draw: Draw, **kept: Any) -> str:
    return text(drawn(draw, **kept))


def left_by(draw: Draw, *, settings: Mapping[str, Any] | None = None, kept: Any = None, **parts: Any) -> Any:
    """The window's memory after ``draw`` (a callback), begun with work of these ``parts``."""

    def begun() -> None:
        work.state().update(parts)
        work.put(**(settings or {}))
        draw()

    return drawn(begun, **(kept or {})).session_state


def rows_of(at: AppTest) -> str:
    return "\n".join(one.proto.body for one in at.get("html"))


# -- swap ----------------------------------------------------------------------------------------------------


def test_the_example_leaves_an_accord_on_the_bench(library):
    after = left_by(lambda: swap._take_example(library), name="mine", rows=BENCH)
    assert after["work"]["name"] == "mine"
    assert after["work"]["settings"]["material"] == accords.FIRST_MISSING


@pytest.mark.parametrize(
    ("rows", "said"),
    [([], "No accord is on the bench yet"), ([{"material": "unobtainium", "parts": 2.0}], "row 1, material")],
)
def test_an_accord_that_cannot_stand_beside_is_told(library, rows, said):
    found: dict[str, Any] = {}

    def draw() -> None:
        work.state()["rows"] = rows
        work.put(use_accord=True)
        found.update(swap._options(library))

    assert said in told(draw)
    assert found["accord"] is None


def test_nothing_that_stands_in_says_what_is_nearest(library):
    def draw() -> None:
        work.state()["shelf"] = [{"material": "ethanol", "strength_pct": 100.0}]
        work.put(use_shelf=True)
        swap._answer(library, "vanillin", "unavailable")

    assert "Nothing is near enough to stand in for vanillin" in told(draw)
    found = {"missing": {"name": "vanillin"}, "nearest": {"name": "coumarin"}, "notes": ["a note", "another"]}
    said = told(lambda: swap._nothing(library, found))
    assert "The nearest is coumarin. Take the shelf away" in said
    assert "a note\nanother" in said


def test_the_accord_on_the_bench_is_the_one_that_holds_it(library):
    found = []

    def draw() -> None:
        work.state().update(name="my-accord", rows=[{"material": "no such thing"}, *BENCH])
        found.extend(swap._held(library, id) for id in ("coumarin", "linalool"))

    drawn(draw)
    assert found == ["my accord", ""]


def test_an_amount_that_nobody_knows_is_told():
    member = {"grams_per_gram": None, "low": None, "high": None}
    assert stand_in.amount(member) == "amount unknown: work up from a trace"
    assert stand_in._short(member) == "amount unknown"


def detail(library, missing: str, **changed: Any) -> str:
    answer = library.swap(missing, top=1).to_dict()
    entry = {**answer["stand_ins"][0], **changed}
    names = entry["materials"][0]["name"]
    return told(lambda: stand_in._detail(library, {**answer["missing"], **changed}, entry, None, names))


def test_a_series_and_a_source_of_the_molecule_are_told(library):
    said = detail(library, "sinensal")
    assert "Trial series, g for 1 g: " in said
    said = detail(library, "limonene")
    assert "As a source of the molecule: 1.05 g bring 1 g of it, and with it" in said
    assert "0.02 g myrcene" in said


def test_what_is_neither_gained_nor_lost_is_left_out(library):
    said = detail(library, "vanillin", gains=[], losses=[], listen="", id="ethanol")
    assert "Gained" not in said
    assert "Lost" not in said
    assert "No profile on file, so there is nothing to draw." in said


# -- names, fields and work ----------------------------------------------------------------------------------


def test_nothing_typed_is_nothing_found(library):
    assert fields.best(library, "  ") == ("", [])


def test_what_was_typed_is_told_with_what_else_it_may_have_meant():
    def draw(chosen: str, others: list[str]) -> str:
        def page() -> None:
            work.put(material=chosen or "linalol")
            st_said = ("linalol", chosen, others)
            work.st.session_state["meant_material"] = st_said
            fields.meant("material")

        at = drawn(page)
        return text(at) + "|" + ",".join(button.label for button in at.button)

    assert draw("linalool", []) == "“linalol” was taken for **linalool**.|"
    assert draw("linalool", ["linalyl acetate"]).endswith("for **linalool**. Or:|linalyl acetate")
    assert draw("", ["linalool"]) == "|linalool"


def test_a_market_that_no_set_knows_gives_way_to_the_first(library):
    after = left_by(lambda: fields.product_fields(library), settings={"market": "nowhere"})
    assert after["work"]["settings"]["market"] == asked.markets(library)[0]


def test_no_product_asks_for_no_limits():
    found = []
    left_by(lambda: found.append(fields.product_options()), settings={"product": ""})
    left_by(lambda: found.append(fields.product_options()), settings={"product": "candle", "dose": 3.0})
    assert found == [{}, {"product": "candle", "dose": 3.0, "market": "EU"}]


@pytest.mark.parametrize(
    ("rows", "said"),
    [([], "Your shelf is empty, so everything"), ([{"material": "unobtainium"}], "The shelf has faults")],
)
def test_a_shelf_that_cannot_count_is_told(library, rows, said):
    def draw() -> None:
        work.state()["shelf"] = rows
        work.put(use_shelf=True)
        assert fields.shelf_of(library) is None

    assert said in told(draw)


def test_yes_and_no_of_a_link():
    assert [asked.read("same_total", one) for one in ("yes", "no", True, "0")] == [
        True,
        False,
        True,
        False,
    ]
    with pytest.raises(InputError, match="'perhaps' is neither yes nor no"):
        asked.read("same_total", "perhaps")


def test_rows_as_they_would_be_pasted():
    rows = [{"material": "linalool", "parts": 2.0, "optional": True}, {"material": "vanillin", "parts": None}]
    assert bench_rows.as_text(rows, ("material", "parts", "optional")) == (
        "material\tparts\toptional\nlinalool\t2.0\tyes\nvanillin\t\t"
    )
    assert bench_rows.as_text([], ("material",)) == "material"


def test_an_edit_of_a_row_that_is_gone_changes_nothing():
    delta = {"edited_rows": {"7": {"parts": 9.0}, "1": {"parts": 5.0}}}
    rows = bench_rows.apply_edits(BENCH, delta, bench_rows.ACCORD_COLUMNS, {})
    assert [row["parts"] for row in rows] == [2.0, 5.0]


def test_the_same_work_is_remembered_once_and_undo_stops_at_the_first():
    def draw() -> None:
        work.remember("one")
        work.remember("the same")
        work.put(because="price")
        work.undo()
        assert work.setting("because") == asked.SETTINGS["because"].plain
        work.undo()

    after = left_by(draw)
    assert after["undone"] == []


# -- what is opened ------------------------------------------------------------------------------------------


def file(name: str, data: bytes) -> Any:
    return SimpleNamespace(name=name, getvalue=lambda: data)


def test_an_emptied_field_changes_nothing(library):
    """The file taken out of its field, and the demo's accord unpicked again, are no wish."""

    def draw() -> None:
        files = accords.FROM_OUTSIDE._uploaded, shelf.FROM_OUTSIDE._uploaded
        for empty in (*files, accords._picked, accords._added, shelf._added):
            empty(library)
        own_rules._opened_own()
        side._opened()

    after = left_by(
        draw, kept={"pick_demo": None, "pick_line": None, "pick_bottle": ""}, name="mine", rows=BENCH
    )
    assert (after["work"]["name"], after["work"]["rows"], after["undone"]) == ("mine", BENCH, [])


def test_a_shelf_is_opened_from_a_file_and_a_line_of_another(library):
    data = b"material,strength_pct\nvanillin,10\n"
    after = left_by(
        lambda: shelf.FROM_OUTSIDE._uploaded(library), kept={"shelf_file_0": file("mine.csv", data)}
    )
    assert [(row["material"], row["strength_pct"]) for row in after["work"]["shelf"]] == [("vanillin", 10.0)]
    assert after["shelf_files"] == 1
    after = left_by(lambda: shelf._take(library, b"material\n", "empty.csv"))
    assert "empty.csv" in str(after["shelf_error"])
    after = left_by(lambda: shelf.FROM_OUTSIDE._pasted(library), kept={"pasted_shelf": " \n"})
    assert "nothing was pasted" in after["shelf_error"]


def test_a_work_file_is_opened_and_a_wrong_one_is_named(library, monkeypatch):
    monkeypatch.setattr(side.common, "library", lambda: library)
    good: list[bytes] = []
    left_by(lambda: good.append(saved.to_file().encode()), name="mine", rows=BENCH)
    after = left_by(side._opened, kept={"work_file_0": file("mine.json", good[0])})
    assert (after["work"]["name"], after["work_files"]) == ("mine", 1)
    after = left_by(side._opened, kept={"work_file_0": file("bad.json", b"{")})
    assert "bad.json: is not a work file" in str(after["work_error"])
    assert "work_files" not in after


def test_starting_afresh_with_nothing_of_ones_own_asks_nothing():
    after = left_by(side._ask_afresh, name="pull-down-desk", demo="pull-down-desk", rows=BENCH)
    assert "asked" not in after
    assert after["work"]["rows"] == []
    after = left_by(side._ask_afresh, name="mine", rows=BENCH)
    assert "puts away the accord mine" in after["asked"][0]


@pytest.mark.parametrize(
    ("part", "value", "said"),
    [
        ("accord", {"name": "x", "rows": [{"parts": 2}]}, "accord, row 1: is damaged"),
        ("shelf", ["vanillin"], "shelf, row 1: is damaged"),
        ("trials", ["one"], "trial 1: is damaged"),
        ("trials", [{"rows": [], "verdicts": {"vanillin": "loud"}}], "trial 1: a verdict is one of"),
        ("trials", [{"rows": [], "verdicts": []}], "trial 1: a verdict is one of"),
        ("trials", [{"rows": [], "degrees": {"vanillin": "awfully"}}], "trial 1: a degree is one of"),
        ("trials", [{"rows": [], "degrees": 3}], "trial 1: a degree is one of"),
    ],
)
def test_a_damaged_part_of_saved_work_is_named_and_changes_nothing(library, part, value, said):
    def draw() -> None:
        work.state().update(name="mine", rows=BENCH)
        kept = {**saved.json.loads(saved.to_file()), part: value}
        with pytest.raises(InputError, match=said):
            saved.from_file(saved.json.dumps(kept).encode(), "mine.json", library)

    assert left_by(draw)["work"]["name"] == "mine"


def test_saved_work_of_a_later_version_brings_what_is_known(library):
    def draw() -> None:
        work.state().update(name="mine", rows=BENCH)
        kept = saved.json.loads(saved.to_file())
        kept["settings"].update(because="price", brightness=11)
        kept["trials"] = [
            {
                "name": "t",
                "rows": BENCH,
                "verdicts": {"vanillin": "too_strong"},
                "degrees": {"vanillin": "far"},
            }
        ]
        saved.from_file(saved.json.dumps(kept).encode(), "mine.json", library)

    after = left_by(draw)["work"]
    assert after["settings"]["because"] == "price"
    assert "brightness" not in after["settings"]
    assert after["trials"][0]["degrees"] == {"vanillin": "far"}


def test_the_browser_is_asked_before_anything_is_shown(library, monkeypatch):
    store = keep.Browser(lambda: library)
    waiting: list[bool] = []
    left_by(lambda: waiting.append(store.waits()), kept={"kept_asked": True, "kept_waits": True})
    left_by(lambda: waiting.append(store.waits()))
    assert waiting == [True, False]
    monkeypatch.setattr(keep, "store", lambda made: SimpleNamespace(waits=lambda: True))
    at = opened()
    assert "Fetching your work from this browser" in rows_of(at)
    assert not at.selectbox


def test_what_the_browser_kept_is_fetched(library):
    store = keep.Browser(lambda: library)
    good: list[str] = []
    left_by(lambda: good.append(saved.to_file()), name="mine", rows=BENCH)

    def found(kept: str) -> Any:
        return left_by(store._found, kept={"keep": SimpleNamespace(found=kept), "kept_waits": True})

    after = found(good[0])
    assert (after["work"]["name"], after["kept_waits"]) == ("mine", False)
    after = found("-")
    assert after["work"]["rows"] == []
    assert "work_error" not in after
    assert "the work this browser kept: is not a work file" in str(found("{nonsense")["work_error"])


def test_tables_of_ones_own_have_plain_names_and_a_size(library, monkeypatch, tmp_path):
    with pytest.raises(InputError, match=r"'../limits.csv' is no name of a table"):
        common.with_tables({"../limits.csv": ""})
    with pytest.raises(InputError, match=r"limits.csv has [0-9,]+ characters; up to"):
        common.with_tables({"limits.csv": "x" * (common.MOST_TABLE + 1)})
    (tmp_path / "aliases.csv").write_text("alias,material,rank,use\nmy first,vanillin,1,plain\n")
    monkeypatch.setenv("SUBSTITUTE_TABLES", str(tmp_path))
    asked: list[Any] = []

    def loaded(folder: Any = None, **options: Any) -> Any:
        asked.append(sorted(path.name for path in keep_path(folder)))
        return library

    def keep_path(folder: Any) -> Any:
        from pathlib import Path

        return Path(folder).iterdir()

    monkeypatch.setattr("substitute.library.load", loaded)
    common._load.clear()
    try:
        assert common._load((("limits.csv", "a"),), "") is library
    finally:
        common._load.clear()
    assert asked == [["aliases.csv", "limits.csv"]]  # those of the command and those opened here


def test_a_name_is_told_as_people_read_it(library):
    names = [common.name_of(library, id) for id in ("vanillin", "mossy", "some-group")]
    assert names == [
        library.tables.materials["vanillin"].name,
        library.tables.descriptors["mossy"].name,
        "some group",
    ]


def test_taken_over_from_an_empty_bench_has_no_old_version_to_show():
    taken = {"told": "Taken.", "old": [], "old_name": "", "age": 0}
    at = drawn(common.taken, taken=taken)
    assert "**nothing**" in text(at)
    assert "The accord as it was" not in rows_of(at)
    at = drawn(common.taken, taken={**taken, "old": BENCH, "old_name": "mine"})
    assert "The accord as it was" in rows_of(at)


# -- adjust --------------------------------------------------------------------------------------------------


def test_another_missing_line_puts_the_chosen_stand_in_away():
    kept = {"in_missing": ["coumarin"], "in_keep": ["vanillin"]}
    after = left_by(
        lambda: adjust._choose("missing"), kept=kept, missing=["vanillin"], use=["ethyl vanillin"]
    )
    assert (after["work"]["missing"], after["work"]["use"]) == (["coumarin"], [])
    after = left_by(
        lambda: adjust._choose("keep"), kept=kept, missing=["coumarin"], use=["tonka bean absolute"]
    )
    assert (after["work"]["keep"], after["work"]["use"]) == (["vanillin"], ["tonka bean absolute"])


def test_a_material_that_no_demo_accord_holds(library):
    def draw() -> None:
        work.state()["missing"] = ["thujone"]
        assert adjust._lacking(library, library.read_accord(library.demo / "accords" / "pull-down-desk.csv"))

    at = drawn(draw, demo_holds={"one": {"vanillin"}})
    assert "None of the demo's accords holds it." in text(at)
    assert "Leave thujone aside" in [button.label for button in at.button]


ADJUSTED = {
    "limits": [],
    "match": {"overall": 0.8},
    "match_range": (0.8, 0.8),
    "verdict": "near",
    "bottle": None,
    "wall": None,
    "within_known": None,
    "dose_within_known_pct": None,
}


def head(**changed: Any) -> str:
    lines = changed.pop("lines", [{"name": "orris", "cause": "new"}])
    verdict = next(iter(rivals.VERDICTS))
    return told(
        lambda: adjusted._head({**ADJUSTED, "verdict": verdict, **changed}, lines, {"product": "soap"})
    )


def test_the_head_of_an_adjusted_accord_says_what_is_in_the_way():
    said = head(within_known=False, wall={"name": "oakmoss extract"}, dose_within_known_pct=0.25)
    assert "In the way: oakmoss extract. As it was, it obeys the known limits up to 0.25 %" in said
    assert "lower the dose, or let other lines go." in said
    assert "As it was" not in head(within_known=False, wall={"name": "oakmoss extract"})
    said = head(bottle={"name": "orris butter", "match": 0.912})
    assert "One bottle would help most: orris butter, match 0.91." in said
    assert "In the way" not in said


def test_nothing_to_change_within_limits_offers_the_balance():
    row = {"ok_before": True, "ok_after": True}
    at = drawn(lambda: adjusted._head({**ADJUSTED, "limits": [row]}, [], {"product": "soap"}))
    assert "Nothing on file asks for a change" in rows_of(at)
    assert [button.label for button in at.button] == ["weigh this"]
    assert not drawn(lambda: adjusted._head(ADJUSTED, [], {})).button


def test_an_accord_of_which_nothing_is_left_has_neither_smell_nor_files(library):
    nothing: Any = SimpleNamespace(formula=lambda: SimpleNamespace(lines=(), name="x"))
    accord = library.read_accord(library.demo / "accords" / "pull-down-desk.csv")
    assert told(lambda: effects.smell(library, accord, nothing)) == "Nothing is left to smell."
    assert not drawn(lambda: adjusted._downloads(nothing, {})).get("download_button")


def test_what_is_forbidden_is_no_broken_figure():
    row = {"what": "x", "limit": 0, "found": 0.2, "ok": False, "set": "the set"}
    assert "✕ forbidden" in bars._limit(row, False)
    assert "none allowed" in bars._limit(row, False)
    assert "✕ broken" in bars._limit({**row, "limit": 0.1}, False)


def test_a_taken_rival_brings_its_dose():
    after = left_by(
        lambda: rivals.take("mine.1", BENCH, "weigh", dose=12.5),
        settings={"dose": 10.0},
        name="mine",
        rows=BENCH,
    )
    assert (after["work"]["settings"]["dose"], after["go"]) == (12.5, "weigh")
    assert "Its dose goes from 10 to 12.5 %, which carries the same." in after["taken"]["told"]
    after = left_by(
        lambda: rivals.take("mine.1", BENCH, ""), settings={"dose": 10.0}, name="mine", rows=BENCH
    )
    assert after["work"]["settings"]["dose"] == 10.0
    assert "go" not in after


def test_what_is_lost_for_good_and_what_it_costs_are_told():
    answer = {
        "options": [{"name": "nothing", "match": 0.5, "within_known": True}],
        "match": {"overall": 0.9},
        "lost_for_good": ["orris", "iris"],
        "cost_per_gram": {"before": 2.0, "after": None},
    }
    said = told(lambda: rivals.ways(answer, True))
    assert "Lost for good: orris, iris." in said
    assert "for one gram: 2 before" in said
    cheap = {**answer, "lost_for_good": [], "cost_per_gram": {"before": None, "after": None}}
    assert told(lambda: rivals.ways(cheap, True)).strip() == rows_text(cheap)


def rows_text(answer: Any) -> str:
    return told(lambda: rivals.ways(answer, True)).strip()


# -- neighbours ----------------------------------------------------------------------------------------------


def test_nothing_asked_of_the_neighbours_asks(library, monkeypatch):
    monkeypatch.setattr(common, "library", lambda: library)

    def draw() -> None:
        work.st.query_params["top"] = "many"
        neighbours.show()

    at = drawn(draw)
    assert "Near what?" in rows_of(at)
    assert "top: 'many' is not a number" in text(at)


def test_what_lies_near_nothing_is_told(library):
    of = {"kind": "material", "id": "ethanol", "name": "ethanol"}
    said = rows_of(drawn(lambda: neighbours._answer(library, {"of": of, "neighbours": [], "path": []})))
    assert "Nothing near ethanol is on file" in said


def test_stops_beyond_the_drawing_are_listed_and_no_lines_are_no_legend(library):
    found = library.neighbours("vanillin", top=neighbours.MOST_STOPS + 3).to_dict()
    at = drawn(lambda: neighbours._answer(library, found))
    assert "3 more stops" in [one.label for one in at.expander]
    assert found["neighbours"][-1]["name"] in rows_of(at)
    assert "line 1" in rows_of(at)
    bare = {"kind": "material", "id": "no-such", "name": "no such"}
    at = drawn(lambda: (neighbours._route(bare, [], []), neighbours._ties(library, bare)))
    assert "line 1" not in rows_of(at)
    assert not at.expander


def test_a_stop_twice_in_a_row_is_one_stop_of_the_trail():
    def draw() -> None:
        neighbours.travel("coumarin")
        work.put(of="vanillin")
        neighbours.travel("linalool")

    assert left_by(draw, settings={"of": "vanillin"})["trail"] == ["vanillin"]


# -- plan ----------------------------------------------------------------------------------------------------


def made(name: str, match: float | None, **more: Any) -> dict[str, Any]:
    return {"accord": name, "match": match, "lacks": [], "stand_ins": [], **more}


def test_a_wrong_link_to_plan_and_an_accord_with_faults(library, monkeypatch):
    monkeypatch.setattr(common, "library", lambda: library)

    def draw() -> None:
        work.st.query_params["buy"] = "99"
        work.state().update(name="mine", rows=[{"material": "unobtainium", "parts": 1.0}])
        plan.show()

    at = drawn(draw, plan_wish=plan.ONE)
    assert "buy: 99 is out of range: allowed is 1 to 20" in text(at)
    assert "help it carry" not in rows_of(at)


def test_what_the_shelf_makes_counts_what_is_near_and_folds_the_rest(library):
    many = [
        made(f"accord-{number:02}", 0.9 if number < 3 else None, lacks=["vanillin"]) for number in range(16)
    ]
    many[0].update(lacks=[])
    many[1].update(stand_ins=["ethyl-vanillin"])
    answer = {
        "makes": many,
        "buy": [],
        "curve": [],
        "notes": [],
        "cautions": [],
        "proved": None,
        "gap": None,
        "leans_on": [],
        "rejected": [],
        "coverage": {"verified_before": 0.42, "verified_after": 0.42},
    }
    found: Any = SimpleNamespace(to_dict=lambda: answer)
    at = drawn(lambda: plan._answer(library, found, plan.MAKES))
    assert "The shelf makes 3 of 16 accords at 0.85 or nearer" in rows_of(at)
    assert "The other 2 accords" in [one.label for one in at.expander]
    assert plan._lacks(library, many[0]) == "nothing"
    assert plan._lacks(library, many[1]) == "vanillin; by ethyl vanillin"
    after = [made(f"accord-{number:02}", 0.5, match_after=0.6 + number / 100) for number in range(16)]
    at = drawn(lambda: plan._makes(library, {"makes": after}, plan.BUY))
    assert "The other 2 accords" in [one.label for one in at.expander]


@pytest.mark.parametrize(
    ("proved", "gap", "said"),
    [
        (True, 0.0123, "Proved to be the best choice of this size by the model, 0.0123 better than picking"),
        (False, None, "Not proved."),
        (None, None, ""),
    ],
)
def test_whether_a_choice_is_proved_is_told(proved, gap, said):
    one = {"name": "orris", "gain": 0.1, "why": "iris", "helps": ["a"], "law": []}
    captions = [
        c.value for c in drawn(lambda: plan._buy({"buy": [one], "proved": proved, "gap": gap})).caption
    ]
    assert [text[: len(said)] for text in captions] == ([said] if said else [])


def test_a_plan_of_nothing_readable_and_one_that_was_stopped(library, monkeypatch):
    pile = dropped.Pile(("x",), "1 file", library.demo)
    monkeypatch.setattr(dropped, "read", lambda *_: ([], [("bad.csv", "row 2: no such material")]))
    at = drawn(lambda: plan._shelf(library, pile, plan.NOTHING))
    assert "Could not be read (1)" in [one.label for one in at.expander]
    assert not at.button
    accord = library.read_accord(library.demo / "accords" / "pull-down-desk.csv")
    monkeypatch.setattr(dropped, "read", lambda *_: ([accord], []))
    job = done_job(
        (pile.key, None, plan.NOTHING, asked.SETTINGS["buy"].plain), error=slow.Stopped(), done=1, of=3
    )
    at = drawn(lambda: plan._shelf(library, pile, plan.NOTHING), job_plan=job)
    assert "Stopped after 1 of 3." in text(at)
    assert [one.label for one in at.button] == ["Work it out again"]
    job.running = True
    at = drawn(lambda: plan._shelf(library, pile, plan.NOTHING), job_plan=job)
    assert [one.label for one in at.button] == ["Stop"]


def test_a_lift_that_finds_nothing_and_one_that_the_law_watches(library, monkeypatch):
    accord = library.read_accord(library.demo / "accords" / "pull-down-desk.csv")
    one = {
        "id": "vanillin",
        "name": "vanillin",
        "parts": 1.5,
        "match": 0.97,
        "why": "sweet",
        "law": ["watch it"],
    }
    answers = [{"suggestions": [], "notes": []}, {"suggestions": [one], "notes": []}]
    monkeypatch.setattr(common, "remembered", lambda *_: answers.pop(0))
    assert "Nothing on file would help it carry" in rows_of(drawn(lambda: plan._lift(library, accord, None)))
    at = drawn(lambda: plan._lift(library, accord, None))
    assert "1.5 parts of vanillin would help it carry" in rows_of(at)
    assert "⚠ watch it" in text(at)


# -- slow work -----------------------------------------------------------------------------------------------


def done_job(made_of: Any = "q", **about: Any) -> Any:
    """A piece of slow work that is over."""
    known = {
        "running": False,
        "stopping": False,
        "error": None,
        "result": None,
        "done": 0,
        "of": 0,
        "what": "steps",
    }
    return SimpleNamespace(made_of=made_of, stop=lambda: None, **{**known, **about})


def test_slow_work_that_is_over_says_how_it_ended():
    assert "Stopped after 1,200." in told(lambda: slow.shown(done_job(error=slow.Stopped(), done=1200), "q"))
    assert "row 3" in told(lambda: slow.shown(done_job(error=InputError("row 3: too much")), "q"))
    with pytest.raises(ZeroDivisionError):
        slow.shown(done_job(error=ZeroDivisionError()), "q")
    assert slow.shown(done_job(result=7), "q") == 7


def test_a_bar_whose_work_has_ended_draws_the_page_anew():
    job, seen = done_job(done=2, of=4), []

    def draw() -> None:
        seen.append(job.running)
        if len(seen) == 1:
            slow._watch(job, "q")
        work.st.caption("the answer")

    assert told(draw) == "the answer"
    assert len(seen) == 2


# -- many accords --------------------------------------------------------------------------------------------


def test_files_that_begin_with_a_dot_are_left_out_and_the_last_ones_kept(library, monkeypatch):
    uploads = [SimpleNamespace(name=name, file_id=name) for name in ("one.csv", ".hidden.csv")]
    found: list[Any] = []
    monkeypatch.setattr(dropped.st, "file_uploader", lambda *_, **__: uploads)
    at = drawn(lambda: found.append(dropped.pick(library, "k")), k_from=dropped.SOURCES[1])
    assert [one.name for one in found[0].files] == ["one.csv"]
    uploads.clear()
    at = drawn(lambda: dropped.pick(library, "k"), k_from=dropped.SOURCES[1], k_pile_False=found[0])
    assert "2 files from before are kept; drop others to take their place." in text(at)


def breach(substance: str, limit_set: str, times: float | None = 2.0) -> dict[str, Any]:
    return {
        "substance": substance,
        "limit_set": limit_set,
        "limit_pct": 0.1,
        "found_pct": 0.2,
        "times": times,
    }


def test_a_substance_that_two_sets_limit_keeps_its_name_in_both(library):
    broken = {
        "mine": [breach("coumarin", "ifra-51"), breach("coumarin", "ifra-50"), breach("citral", "ifra-51")]
    }
    pile = dropped.Pile(("x",), "1 file", library.demo)
    at = drawn(lambda: portfolio._rows(library, pile, broken), **{"broken-1": True})
    names = [row.partition("</th>")[0] for row in rows_of(at).split('<th scope="row">')[1:]]
    assert names == ["coumarin", "coumarin", "citral (geranial and neral)"]
    assert "coumarin and citral" in at.expander[0].label


def test_a_portfolio_in_which_nothing_breaks(library):
    answer = {
        "broken": 0,
        "accords": 2,
        "breaches": [],
        "rejected": [],
        "limit_sets": ["ifra-51"],
        "notes": [],
        "unknown": {"accords": 0, "by_substance": []},
        "cautions": ["check with an assessor"],
        "bases": [],
    }
    pile = dropped.Pile(("x",), "1 file", library.demo)
    at = drawn(lambda: portfolio._answer(library, answer, pile, {}, ()))
    assert "0 of 2 accords break a limit on file" in rows_of(at)
    assert "Next:" not in rows_of(at)
    assert not at.button


def test_an_accord_of_a_pile_is_found_by_its_name(library):
    pile = dropped.Pile(("x",), "the demo", library.demo / "accords")
    assert portfolio._accord(library, pile, "pull-down-desk").name == "pull-down-desk"
    assert portfolio._accord(library, pile, "nowhere") is None
    rows = b"material,parts\nvanillin,3\n"
    own = dropped.Pile(("y",), "1 file", library.demo, (file("mine.csv", rows), file("two.csv", rows)))
    found: list[Any] = []
    drawn(lambda: found.extend(portfolio._accord(library, own, name) for name in ("two", "three")))
    assert (found[0].name, found[1]) == ("two", None)
    after = left_by(lambda: portfolio._mend_one(library, own, "three"))
    assert "three is not a file of its own" in after["accord_error"]
    assert "go" not in after
    after = left_by(lambda: portfolio._mend_one(library, own, "two"))
    assert (after["work"]["name"], after["work"]["demo"], after["go"]) == ("two", "", "adjust")


def test_mending_says_how_far_it_is_what_went_wrong_and_what_could_not_be(library):
    pile = dropped.Pile(("x",), "the demo", library.demo / "accords")
    ask = lambda: portfolio._mend_all(library, pile, {}, ("q",), ["one", "two"])  # noqa: E731
    assert [one.label for one in drawn(ask, job_mend=done_job(("q",), running=True, of=2)).button] == ["Stop"]
    at = drawn(ask, job_mend=done_job(("q",), error=InputError("too much")))
    assert "too much" in text(at)
    assert [one.label for one in at.button] == ["Mend them all"]
    stuck = {"formula": None, "answer": None, "message": "nothing within the known limits"}
    at = drawn(ask, mended={("q",): {"one": stuck}})
    assert "Mended 0 of 2" in [one.label for one in at.expander]
    assert "✕ one: nothing within the known limits" in text(at)
    assert not at.get("download_button")
    assert [one.label for one in at.button] == ["Go on: 1 accord left"]


def test_what_could_not_be_mended_is_told(library, monkeypatch):
    accord = library.read_accord(library.demo / "accords" / "pull-down-desk.csv")
    assert portfolio._outcome(library, None, {})["message"] == "not a file of its own"

    class Wrong:
        def __init__(self, **answer: Any) -> None:
            self.answer = answer

        def adjust(self, accord: Any, **options: Any) -> Any:
            if not self.answer:
                raise InputError("too much")
            return SimpleNamespace(to_dict=lambda: self.answer, formula=lambda: accord)

    def outcome(**answer: Any) -> dict[str, Any]:
        lib: Any = Wrong(**answer)
        return portfolio._outcome(lib, accord, {})

    assert outcome()["message"] == "too much"
    assert outcome(within_known=False, wall={"name": "coumarin"})["message"].endswith("in the way: coumarin")
    assert outcome(within_known=False, wall=None)["message"].endswith("in the way: a limit")
    good = outcome(within_known=None)
    assert (good["message"], good["formula"]) == ("", accord)
    with zipfile.ZipFile(io.BytesIO(portfolio._archive({"pull-down-desk": good}))) as pack:
        assert pack.namelist() == ["pull-down-desk.csv"]
        assert library.read_accord(pack.read("pull-down-desk.csv"), name="x.csv").lines == accord.lines


# -- rules, rebalance, weigh ---------------------------------------------------------------------------------


def limit_row(name: str, ok: bool | None) -> dict[str, Any]:
    known = {"limit_set": "ifra-51", "limit_pct": 0.1, "limit_words": "", "state": "broken", "governs": True}
    return {"name": name, "ok": ok, "found_pct": 0.2, "used": 2.0, "sources": [], **known}


def test_limits_beyond_the_first_are_folded_and_none_draw_nothing(library, monkeypatch):
    monkeypatch.setattr(rules, "_line", lambda lib, row: (row["name"],) * 7)
    rows = [limit_row(f"substance {number:02}", False) for number in range(rules.FIRST_BARS + 2)]
    at = drawn(lambda: rules._rows(library, {"limits": rows, "unknown": []}))
    assert "The other 2 limits" in [one.label for one in at.expander]
    at = drawn(lambda: rules._rows(library, {"limits": [], "unknown": []}))
    assert not at.expander
    assert not rows_of(at)


def test_trade_controls_are_told_and_nothing_changed_is_said(library, monkeypatch):
    control = {"id": "piperonal", "control": "drug precursor", "market": "EU", "detail": "category 1"}
    at = drawn(lambda: rules._declare(library, {"declare": [], "controls": [control]}))
    assert "- piperonal: drug precursor (EU): category 1" in text(at)
    assert "Trade and supply (1)" in [one.label for one in at.expander]
    assert not drawn(lambda: rules._declare(library, {"declare": [], "controls": []})).expander
    accord = library.accord_of([{"material": "ethanol", "parts": "2"}], "mine")
    options = {"product": "fine-fragrance", "dose": 10.0, "market": "EU"}
    assert "Nothing changes for this accord." in told(
        lambda: rules._change(library, accord, options, "ifra-49")
    )
    changed = {"accord": "mine", "substance": "coumarin", "change": "tighter"}
    changed |= {"old_limit_pct": 1.6, "limit_pct": 1.5, "found_pct": 1.0}
    answer = {"since": "ifra-49", "changed_limits": [], "changes": [changed]}
    monkeypatch.setattr(common, "remembered", lambda *_: answer)
    said = told(lambda: rules._change(library, accord, options, "ifra-49"))
    assert "▼ tighter" in said
    assert "Nothing changes" not in said


def test_a_set_of_another_market_is_no_longer_compared_with(library):
    after = left_by(
        lambda: own_rules.sets_and_day(library, {"market": "EU"}), settings={"since": "no-such-set"}
    )
    assert after["work"]["settings"]["since"] == ""


def test_an_accord_with_faults_has_no_answer_and_says_which(library, monkeypatch):
    """On every screen that works on the bench; a link beside it is still read."""
    monkeypatch.setattr(common, "library", lambda: library)
    from substitute.screens import weigh

    for screen in (rules, weigh, rebalance, adjust):

        def draw(screen: Any = screen) -> None:
            work.st.query_params["dose"] = "much"
            work.st.query_params["grams"] = "much"
            work.state().update(name="mine", rows=[{"material": "unobtainium", "parts": 1.0}])
            screen.show()

        at = drawn(draw)
        assert "unobtainium" in text(at), screen
        assert ("is not a number" in text(at)) == (screen is not rebalance), screen
        assert not at.get("download_button"), screen


def test_a_logged_trial_may_go_on_to_the_balance_and_warns(library):
    accord = library.accord_of(
        [{"material": "vanillin", "parts": "2"}, {"material": "coumarin", "parts": "1"}], "mine"
    )
    said = {"vanillin": ("too_strong", "far")}
    next_one = library.rebalance(accord, too_strong=["vanillin:far"])
    after = left_by(lambda: rebalance._log_it(library, accord, next_one, said, "weigh"))
    assert after["go"] == "weigh"
    assert after["work"]["trials"][0]["degrees"] == {"vanillin": "far"}
    assert after["work"]["name"] == "mine.trial-2"

    def draw() -> None:
        work.put(product="fine-fragrance", dose=20.0)
        rebalance._next(library, accord, {"coumarin": ("too_weak", "")})

    assert "coumarin: the limit of 0.225 parts is reached" in told(draw)


# -- the bench book ------------------------------------------------------------------------------------------


@pytest.fixture
def booked(library, tmp_path):
    """A library with a bench book in which nothing stands yet."""
    names = {id: one.name for id, one in library.tables.materials.items()}
    Book.begin(tmp_path / "book", shelf=None, names=names)
    return Library(library.on_file, True, Book(tmp_path / "book"))


def test_an_empty_book_says_how_it_is_filled(booked):
    at = drawn(lambda: book._found(booked, "orris"))
    assert "orris" in rows_of(at)
    found: Any = SimpleNamespace(
        book_find=lambda _: SimpleNamespace(
            to_dict=lambda: {"text": "x", "found": [], "notes": ["not read: y"]}
        )
    )
    assert "not read: y" in told(lambda: book._found(found, "x"))
    answer = booked.book_show().to_dict()
    assert "No bottle is entered" in told(lambda: book._bottles(booked, answer))
    at = drawn(lambda: book._head({**answer, "notes": ["a note about it"]}))
    assert "a note about it" in text(at)
    after = left_by(lambda: book._onto_the_shelf(booked), shelf=BENCH)
    assert after["work"]["shelf"] == BENCH


def test_a_verdict_without_a_word_is_none(booked):
    accord = booked.accord_of([{"material": "vanillin", "parts": "2"}], "mine")
    with pytest.raises(InputError, match="nothing was said"):
        tried.put_down(booked, accord, {}, words=" ")


def test_a_blend_that_was_smelled_stands_in_the_book_as_one(booked, monkeypatch):
    monkeypatch.setattr(Book, "has_had", lambda *_: False)
    members = [("ethyl-vanillin", "ethyl vanillin", 0.2), ("coumarin", "coumarin", 0.1)]
    subject = {"members": members, "missing": ("vanillin", "vanillin"), "turn": 1}
    at = drawn(lambda: tried._ask_swap(booked, subject))
    assert at.number_input(key="say_used_1").value == 0.3
    assert "Smelled away from my own bottles" in [one.label for one in at.toggle]
    kept = {"say_near_1": "near", "say_elsewhere_1": True}
    left_by(lambda: tried._swap_said(booked, subject), kept=kept)
    assert [(one.kind, one.nearness) for one in booked.book.verdicts()] == [("blend", "near")]


def test_the_last_degree_said_of_a_line_holds(library):
    accord = library.accord_of([{"material": "vanillin", "parts": "2"}], "mine")
    found: list[Any] = []
    far, slightly = (f"vanillin{tried.BETWEEN}{tried.DEGREES[one]}" for one in ("far", "slightly"))
    kept = {"said_too_strong_1": [slightly, far]}
    at = drawn(lambda: found.append(tried.lines_said(library, accord, "said", 1)), **kept)
    assert found == [{"vanillin": ("too_strong", "far")}]
    assert at.session_state["said_too_strong_1"] == [far]


def test_a_question_answered_draws_the_page_behind_it_anew(library):
    """A dialog runs by itself: once what it asks is answered, the page must follow."""

    def draw(module: Any, memory: str, *about: Any) -> str:
        turns: list[int] = []

        def page() -> None:
            turns.append(1)
            if len(turns) == 1:
                with pytest.MonkeyPatch.context() as patch:
                    patch.setattr(module.st, "dialog", lambda *_, **__: closed)
                    module.asked(*about)
            work.st.caption("the page")

        def closed(put: Draw) -> Draw:
            def answered() -> None:
                del work.st.session_state[memory]
                put()

            return answered

        memories = {"asked": ("Sure?", "Yes", print, ()), "saying": {"turn": 1}}
        at = drawn(page, **{memory: memories[memory]})
        assert len(turns) == 2
        return text(at)

    assert draw(side, "asked") == "the page"
    assert draw(tried, "saying", library) == "the page"
