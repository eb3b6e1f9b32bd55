"""The app without a browser: every screen, what it does with rubbish, and that work in progress is neither lost nor leaked."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from substitute.screens import FAILED, SCREENS
from substitute.screens.settings import SETTINGS, app_file, flags

ROOT = Path(__file__).resolve().parents[1]
SECRET = "material\tparts\nvetiver oil\t61\ncoumarin\t17\nethanol\t22"


def opened(screen: str = "swap", **link) -> AppTest:
    """The app on a screen, with what a link says."""
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    for name, value in link.items():
        at.query_params[name] = value
    at.run()
    return at if screen == "swap" else go(at, screen, **link)


def go(at: AppTest, screen: str, **link) -> AppTest:
    """To another screen, as its entry in the sidebar does."""
    at._page_hash = at.session_state["pages"][screen]._script_hash
    for name, value in link.items():
        at.query_params[name] = value
    return fine(at.run())


def fine(at: AppTest) -> AppTest:
    assert not at.exception, [e.message for e in at.exception]
    assert not [e.value for e in at.error if FAILED in e.value]
    return at


def text(at: AppTest) -> str:
    """All that the page says in words."""
    kinds = ("title", "subheader", "markdown", "caption", "info", "warning", "error", "success")
    said = [element.value for kind in kinds for element in getattr(at, kind)]
    return "\n".join([*said, *(element.proto.body for element in at.get("html"))]).replace("\\", "")


def errors(at: AppTest) -> str:
    return "\n".join(element.value for element in fine(at).error).replace("\\", "")


def pasted(at: AppTest, rows: str) -> AppTest:
    at.text_area(key="pasted").set_value(rows)
    return at.button(key="paste").click().run()


def editor(at: AppTest, table: str) -> str:
    return f"{table}_table_{at.session_state[f'{table}_version']}"


@pytest.fixture
def adjust() -> AppTest:
    return opened("adjust")


# -- opening -------------------------------------------------------------------------------------------------------------


def test_app_is_thin_and_its_settings_are_the_file_s():
    assert len((ROOT / "app.py").read_text(encoding="utf-8").splitlines()) <= 40
    assert app_file() == ROOT / "app.py"
    kept = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    flat = {}
    for section, values in kept.items():
        flat[section] = {name: value for name, value in values.items() if not isinstance(value, dict)}
        flat |= {f"{section}.{name}": value for name, value in values.items() if isinstance(value, dict)}
    assert flat == SETTINGS
    assert "--browser.gatherUsageStats=false" in flags()
    assert "--server.address=127.0.0.1" in flags()


def test_opens_with_one_sentence_and_one_example():
    at = fine(opened())
    assert at.title[0].value == "Swap"
    assert "what stands in for it" in text(at)
    at.button(key="example").click().run()
    assert "Stand-ins for rosewood oil" in text(fine(at))
    assert str(at.query_params).count("rosewood oil") == 1
    assert "law" in str(at.query_params)


def test_scikit_learn_stays_away_until_it_is_needed(tmp_path):
    script = f"import sys; from streamlit.testing.v1 import AppTest; at = AppTest.from_file({str(ROOT / 'app.py')!r}, default_timeout=30).run(); print(at.title[0].value, 'sklearn' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, timeout=60
    )
    assert done.stdout.split() == ["Swap", "False"], done.stderr[-500:]


@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_opens_and_says_what_it_is_for(screen):
    at = fine(opened(screen))
    assert at.title[0].value.lower() == screen
    assert not at.error or screen == "rules"


# -- swap ----------------------------------------------------------------------------------------------------------------


def test_swap_shows_amount_reasons_evidence_and_bars():
    at = fine(opened(material="oakmoss absolute", because="limit"))
    said = text(at)
    assert "g for 1 g" in said
    assert "evidence:" in said
    assert "Gained:" in said
    assert "similarity" in said
    chart = at.get("vega_lite_chart")[0].proto
    assert "oakmoss" in chart.spec
    assert "hollow bars oakmoss" in chart.alt


@pytest.mark.parametrize(("typed", "wanted"), [("linalol", "linalool"), ("78-70-6", "linalool")])
def test_swap_takes_synonyms_and_cas(typed, wanted):
    assert f"Stand-ins for {wanted}" in text(fine(opened(material=typed)))


@pytest.mark.parametrize(
    "typed", ["linaloool", "<script>alert(1)</script>", "$x$ **bold** [a](b)", "=1+1", "\u202e", "x" * 500]
)
def test_swap_says_what_is_wrong_with_a_name(typed):
    at = opened(material=typed)
    assert errors(at)
    assert at.title[0].value == "Swap"


def test_swap_of_an_odourless_material_or_a_carrier_does_not_fail():
    for name in ("ethanol", "water"):
        fine(opened(material=name))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("because", "spite"),
        ("product", "sandwich"),
        ("dose", "-3"),
        ("dose", "nan"),
        ("blend", "ninety"),
        ("market", "Mars"),
        ("top", "1e99"),
    ],
)
def test_a_wrong_link_is_named_and_left_out(name, value):
    at = opened(material="linalool", **{name: value})
    assert "The link is wrong here" in errors(at)
    assert "Stand-ins for linalool" in text(at)


def test_swap_beside_the_accord_and_from_the_shelf():
    at = opened("shelf")
    at.button(key="take_shelf").click().run()
    go(at, "swap")
    at.toggle(key="in_use_shelf").set_value(True)
    at.toggle(key="in_use_accord").set_value(True)
    at.slider(key="in_blend").set_value(2)
    at.selectbox(key="in_material").set_value("rosewood oil").run()
    assert "Stand-ins for rosewood oil" in text(fine(at))


# -- neighbours ----------------------------------------------------------------------------------------------------------


def test_neighbours_and_the_path_between_two():
    at = fine(opened("neighbours", of="vanillin", to="eugenol"))
    said = text(at)
    assert "From vanillin to eugenol" in said
    assert "Near vanillin" in said
    assert len(at.get("vega_lite_chart")) == 2


@pytest.mark.parametrize("of", ["mossy", "p-cymene", "linalool"])
def test_neighbours_of_a_word_a_constituent_and_a_material(of):
    assert f"Near {of}" in text(fine(opened("neighbours", of=of)))


def test_neighbours_of_nothing_and_of_rubbish():
    at = opened("neighbours", of="zzzz")
    assert "zzzz" in errors(at)
    at.selectbox(key="in_of").set_value("").run()
    assert "Pick or type" in text(fine(at))


# -- adjust --------------------------------------------------------------------------------------------------------------


def test_adjust_opens_on_the_demo_with_a_reason_for_every_line(adjust):
    said = text(adjust)
    assert "may-day-loan" in said
    assert "Match with the old accord" in said
    assert "missing: taken out" in said
    assert "leave it out" in said


def test_adjust_by_a_product_shows_limits_and_mends_them(adjust):
    adjust.selectbox(key="in_product").set_value("fine-fragrance").run()
    said = text(fine(adjust))
    assert "Limits." in said
    assert "broken" in said


def test_adjust_takes_time_on_the_strip(adjust):
    before = adjust.get("vega_lite_chart")[-1].proto.SerializeToString()
    adjust.select_slider(key="in_hours").set_value(24.0).run()
    assert "After 24 h" in text(fine(adjust))
    assert adjust.get("vega_lite_chart")[-1].proto.SerializeToString() != before


def test_adjust_pastes_with_and_without_header_and_undoes(adjust):
    pasted(adjust, SECRET)
    assert [row["material"] for row in adjust.session_state["work"]["rows"]] == [
        "vetiver oil",
        "coumarin",
        "ethanol",
    ]
    pasted(adjust, "vanillin\t3,5\t10\nbenzaldehyde\t2\t1")
    assert adjust.session_state["work"]["rows"][0] == {
        "material": "vanillin",
        "parts": 3.5,
        "strength_pct": 10.0,
        "role": "support",
        "optional": False,
    }
    adjust.button(key="undo_accord").click().run()
    assert adjust.session_state["work"]["rows"][0]["material"] == "vetiver oil"
    adjust.button(key="undo_accord").click().run()
    assert adjust.session_state["work"]["name"] == "may-day-loan"


@pytest.mark.parametrize(("rows", "said"), [
    ("material\tparts\nunobtainium\t4", "unobtainium"),
    ("material\tparts\nvanillin\tlots", "'lots' is not a number"),
    ("material\tparts\nvanillin\t-3", "out of range"),
    ("material\tparts\nvanillin\t0", "sum to 0"),
    ("material\tparts\tstrength_pct\nvanillin\t1\t0", "strength_pct"),
    ("{'a': 1}\n\x00\x01 ;;;,,,\t\t", "pasted rows"),
    ("   \n  ", "nothing was pasted"),
    ("**bold**\n<img src=x onerror=alert(1)>", "pasted rows"),
])  # fmt: skip
def test_pasted_rubbish_is_named_by_row_and_changes_nothing(adjust, rows, said):
    pasted(adjust, rows)
    assert said in errors(adjust)
    assert adjust.session_state["work"]["name"] == "may-day-loan"


@pytest.mark.parametrize(("name", "data", "said"), [
    ("odd.csv", b"material,parts\nvanillin,1\nunobtainium,2\n", "row 3, column material"),
    ("odd.csv", b"\x00\xff\xfe binary", "odd.csv"),
    ("odd.xlsx", b"PK not a workbook", "odd.xlsx"),
    ("empty.csv", b"", "empty"),
    ("<b>odd</b>.csv", b"stuff;parts\n1;2\n", "header lacks"),
])  # fmt: skip
def test_a_bad_upload_is_named_by_row_and_changes_nothing(adjust, name, data, said):
    adjust.get("file_uploader")[0].upload(name, data, "text/csv").run()
    assert said in errors(adjust)
    assert adjust.session_state["work"]["name"] == "may-day-loan"


def test_a_good_upload_is_taken(adjust):
    adjust.get("file_uploader")[0].upload(
        "mine.csv", "material;parts;strength_pct\nvanillin;3,5;10\n".encode("utf-16"), "text/csv"
    ).run()
    assert adjust.session_state["work"]["name"] == "mine"
    assert not errors(adjust)


def test_adjust_edits_in_the_table_survive_another_screen(adjust):
    adjust.session_state[editor(adjust, "accord")] = {"edited_rows": {}, "added_rows": [], "deleted_rows": []}
    rows = [dict(row) for row in adjust.session_state["work"]["rows"]]
    rows[0]["parts"] = 7.0
    adjust.session_state["work"]["rows"] = rows
    go(adjust, "weigh")
    go(adjust, "adjust")
    assert adjust.session_state["accord_base"][0]["parts"] == 7.0


def test_edits_become_rows():
    from substitute.screens.work import ACCORD_COLUMNS, apply_edits

    base = [{"material": "a", "parts": 1.0}, {"material": "b", "parts": 2.0}, {"material": "c", "parts": 3.0}]
    delta = {
        "edited_rows": {"0": {"parts": 9.0}, 2: {"material": "d"}},
        "deleted_rows": [1],
        "added_rows": [{"material": "e", "parts": 4.0}, {}],
    }
    found = apply_edits(base, delta, ACCORD_COLUMNS, {"strength_pct": 100.0})
    assert found == [
        {"material": "a", "parts": 9.0},
        {"material": "d", "parts": 3.0},
        {"strength_pct": 100.0, "material": "e", "parts": 4.0},
    ]


def test_a_faulty_table_says_which_rows(adjust):
    adjust.session_state["work"]["rows"] = [
        {"material": "nonsense", "parts": 1.0},
        {"material": "vanillin", "parts": None},
        {"material": "vanillin", "parts": 2.0},
    ]
    adjust.run()
    assert "row 1" in errors(adjust)
    assert "row 2" in errors(adjust)
    assert "row 3" not in errors(adjust)


def test_an_empty_table_says_the_next_step(adjust):
    adjust.session_state["work"]["rows"] = []
    assert "Pick a demo accord" in text(fine(adjust.run()))


def test_adjusted_accord_goes_on_to_the_balance(adjust):
    adjust.button(key="accept").click().run()
    assert adjust.session_state["work"]["name"] == "may-day-loan-adjusted"
    go(adjust, "weigh")
    assert "may-day-loan-adjusted" in text(adjust)
    assert "Total" in text(adjust)


# -- rules, weigh, shelf, rebalance --------------------------------------------------------------------------------------


def test_rules_name_what_breaks_and_mend_it():
    at = opened("rules")
    said = text(at)
    assert "broken" in said
    assert "Highest dose" in said
    assert "What breaks" in said
    at.toggle(key="mend_one").set_value(True).run()
    assert "Match with the accord as it was" in text(fine(at))


def test_rules_on_a_wrong_day_and_by_one_set():
    at = opened("rules", on="yesterday")
    assert "yesterday" in errors(at)
    assert "What the newer set changes" in text(opened("rules", since="ifra-49"))
    assert "uk-declare" in text(fine(opened("rules", since="uk-declare")))


def test_weigh_takes_batch_and_balance():
    at = opened("weigh", grams="5", balance="0.001")
    assert "Total" in text(at)
    assert "5" in text(at)
    at.number_input(key="in_grams").set_value(0.1)
    at.number_input(key="in_balance").set_value(10.0).run()
    assert "balance" in errors(at)


def test_shelf_is_taken_pasted_and_complained_about():
    at = opened("shelf")
    assert "The shelf is empty" in text(at)
    at.button(key="take_shelf-starter").click().run()
    assert "bottles of" in text(fine(at))
    at.text_area(key="pasted_shelf").set_value("material\tstrength_pct\nvanillin\t250")
    at.button(key="paste_shelf").click().run()
    assert "strength_pct" in errors(at)
    at.session_state["work"]["shelf"] = [
        {"material": "nonsense", "strength_pct": 100.0, "grams": None, "price_per_gram": None}
    ]
    assert "row 1" in errors(at.run())


def test_rebalance_logs_a_trial_and_brackets_the_next():
    at = opened("rebalance")
    assert "No trial is logged" in text(at)
    key = "verdict_may-day-loan_hydroxycitronellal"
    at.segmented_control(key=key).set_value("too_strong") if hasattr(
        at, "segmented_control"
    ) else at.button_group(key=key).set_value("too_strong")
    next(
        button for button in at.button if "next trial" in button.label and button.key != "log_trial"
    ).click().run()
    assert "too strong" in text(fine(at))
    assert "The next trial" in text(at)
    at.button(key="log_trial").click().run()
    assert at.session_state["work"]["name"] == "may-day-loan.trial-2"
    assert len(at.session_state["work"]["trials"]) == 1
    assert "Parts and verdicts over the trials" in text(fine(at)) or "trial" in text(at)


def test_rebalance_without_a_verdict_says_so():
    at = opened("rebalance")
    next(button for button in at.button if "next trial" in button.label).click().run()
    assert "no verdict" in errors(at)


# -- many accords --------------------------------------------------------------------------------------------------------

FILES = [
    ("one.csv", b"material,parts\nvanillin,3\ncoumarin,5\n", "text/csv"),
    ("two.csv", b"material;parts\nlinalool;4\none;2\n", "text/csv"),
    ("bad.csv", b"material,parts\nunobtainium,2\n", "text/csv"),
]


def dropped(at: AppTest, key: str) -> AppTest:
    at.radio(key=f"{key}_from").set_value("My files").run()
    uploader = next(field for field in at.get("file_uploader") if field.key == f"{key}_files_False")
    return fine(uploader.set_value(FILES).run())


def test_rules_judge_the_demo_and_what_a_set_changes():
    said = text(fine(opened("rules", since="ifra-49")))
    assert "break a limit on file" in said
    assert said.count("What the newer set changes") == 2
    assert "newly unknown" in said


def test_rules_judge_dropped_files_and_name_the_bad_one():
    at = dropped(opened("rules"), "rules")
    said = text(at)
    assert "of 2 accords" in said
    assert "unobtainium" in said
    assert "row 2" in said
    assert "/tmp" not in said


def test_rules_mend_dropped_files():
    at = opened("rules")
    at.radio(key="rules_from").set_value("My files").run()
    uploader = next(field for field in at.get("file_uploader") if field.key == "rules_files_False")
    fine(
        uploader.set_value(
            [
                ("heavy.csv", b"material,parts\ncoumarin,50\nvanillin,50\n", "text/csv"),
                ("dup/heavy.csv", b"x", "text/csv"),
            ]
        ).run()
    )
    assert "1 of 1 accords" in text(at)
    assert "second file of the same name" in text(at)
    at.button(key="mend_many").click().run()
    assert "mended" in text(fine(at))


def test_rules_judge_one_long_file():
    at = opened("rules")
    at.radio(key="rules_from").set_value("My files").run()
    uploader = next(field for field in at.get("file_uploader") if field.key == "rules_files_False")
    fine(
        uploader.set_value(
            [("long.csv", b"accord,material,parts\na,coumarin,50\na,vanillin,50\nb,linalool,1\n", "text/csv")]
        ).run()
    )
    assert "1 of 2 accords" in text(at)


def test_plan_asks_for_a_shelf_and_then_works_it_out():
    at = dropped(opened("plan"), "plan")
    assert "Your shelf is empty" in text(at)
    at.button(key="plan_demo_shelf").click().run()
    at.radio(key="plan_wish").set_value("buy").run()
    at.slider(key="in_buy").set_value(1).run()
    at.button(key="plan_go").click().run()
    said = text(fine(at))
    assert "What it makes" in said
    assert "What to buy" in said


def test_plan_from_nothing_draws_a_curve():
    at = dropped(opened("plan"), "plan")
    at.radio(key="plan_wish").set_value("nothing").run()
    at.button(key="plan_go").click().run()
    assert "How much each further material covers" in text(fine(at))
    assert at.get("vega_lite_chart")


def test_plan_lifts_and_teaches_one_accord():
    at = opened("plan")
    assert "What would help it carry" in text(at)
    assert "Sheets for a lesson" in text(at)
    assert "Its lines by role" in [expander.label for expander in at.expander]


# -- work in progress ----------------------------------------------------------------------------------------------------


def test_formulas_never_reach_a_link(adjust):
    pasted(adjust, SECRET)
    for screen in SCREENS:
        go(adjust, screen)
        link = str(adjust.query_params).lower()
        assert not any(word in link for word in ("vetiver", "coumarin", "61", "17", "pasted"))


def test_settings_survive_moving_between_screens(adjust):
    adjust.selectbox(key="in_product").set_value("hand-lotion").run()
    adjust.number_input(key="in_dose").set_value(0.5).run()
    for screen in ("rules", "weigh", "swap", "adjust"):
        go(adjust, screen)
    assert adjust.selectbox(key="in_product").value == "hand-lotion"
    assert adjust.number_input(key="in_dose").value == 0.5


def test_work_file_brings_everything_back(adjust):
    from substitute.screens import work

    pasted(adjust, SECRET)
    kept = dict(adjust.session_state["work"])
    saved = json.dumps(
        {
            "substitute_work": 1,
            "accord": {key: kept[key] for key in ("name", "rows", "missing")},
            "shelf": [],
            "trials": [],
            "settings": {**kept["settings"], "dose": 3},
        }
    )
    script = f"""
import streamlit as st
from substitute.screens import work, common
work.from_file({saved.encode()!r}, "work.json", common.library())
st.write(work.state()["name"], work.setting("dose"), len(work.state()["rows"]))
st.code(work.to_file())
"""
    at = AppTest.from_string(script, default_timeout=30).run()
    assert not at.exception
    again = json.loads(at.code[0].value)
    assert again["accord"]["rows"] == kept["rows"]
    assert again["settings"]["dose"] == 3
    assert again["substitute_work"] == work.VERSION


@pytest.mark.parametrize(("data", "said"), [
    (b"\xff\xfe\x00", "not text"), (b"", "not a work file"), (b"[1, 2]", "version 1"), (b'{"substitute_work": 2}', "version 1"), (b"[" * 100_000, "not a work file"),
    (b'{"substitute_work": 1, "accord": []}', "accord"), (b'{"substitute_work": 1, "accord": {"rows": [{"material": "nonsense", "parts": 1}]}}', "nonsense"),
    (b'{"substitute_work": 1, "accord": {"rows": [{"material": "vanillin", "parts": "x"}]}}', "not a number"), (b'{"substitute_work": 1, "settings": {"dose": 1e400}}', "dose"),
    (b'{"substitute_work": 1, "settings": {"because": "spite"}}', "because"), (b'{"substitute_work": 1, "trials": [{"verdicts": {"a": "b"}}]}', "verdict"),
])  # fmt: skip
def test_a_damaged_work_file_is_named_and_changes_nothing(data, said):
    script = f"""
import streamlit as st
from substitute.errors import InputError
from substitute.screens import work, common
work.put(dose=7.0)
try:
    work.from_file({data!r}, "work.json", common.library())
except InputError as error:
    st.write(str(error))
st.write(work.setting("dose"))
"""
    at = AppTest.from_string(script, default_timeout=30).run()
    assert not at.exception, at.exception[0].message
    assert said in at.markdown[0].value
    assert at.markdown[1].value == "`7.0`"


def test_start_afresh_forgets(adjust):
    pasted(adjust, SECRET)
    adjust.button(key="afresh").click().run()
    assert fine(adjust).session_state["work"]["name"] == "may-day-loan"


def test_the_command_is_there():
    done = subprocess.run(
        [sys.executable, "-m", "substitute.cli", "app", "--help"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=30,
    )
    assert done.returncode == 0
    assert "--port" in done.stdout
    done = subprocess.run(
        [sys.executable, "-m", "substitute.cli", "--tables", "no/such/folder", "app"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=30,
    )
    assert done.returncode == 2
    assert "no such folder" in done.stderr
    assert "Traceback" not in done.stderr
