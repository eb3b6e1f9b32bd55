"""Rebalance: the trial log; what the nose said of every line, and the next trial."""

from __future__ import annotations

import streamlit as st

from . import accord as accords
from . import common, work

SAYS = {"": "–", "too_strong": "too strong", "right": "right", "too_weak": "too weak"}


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Rebalance",
        "Weigh, smell, say what is too strong or too weak: the next trial, bracketed by all before it.",
    )
    lib = common.library()
    accord = accords.accord_editor(lib, open_table=False)
    if accord is not None:
        with common.guarded():
            _verdicts(lib, accord)
    _log(lib)


def _verdicts(lib, accord) -> None:
    st.subheader("What the nose says of this trial", anchor=False)
    st.caption(
        "Leave a line at – where you cannot tell. Lines without a verdict give way so that the total stays."
    )
    with st.form("verdicts"):
        said = {}
        columns = st.columns(2)
        for number, id in enumerate(accord.active()):
            with columns[number % 2]:
                name = lib.tables.materials[id].name
                said[id] = st.segmented_control(
                    name,
                    list(SAYS),
                    format_func=SAYS.get,
                    default="",
                    required=True,
                    key=f"verdict_{accord.name}_{id}",
                )
        product = (
            common.product_names(lib).get(work.setting("product"), "") if work.setting("product") else ""
        )
        if product:
            st.caption(
                f"Held to the limits of {common.md(product)} at {work.setting('dose'):g} % (as set on Adjust or Rules)."
            )
        go = st.form_submit_button("Work out the next trial", type="primary")
    if go:
        st.session_state["next_trial"] = _next(lib, accord, said)
    found = st.session_state.get("next_trial")
    if found and found[0] == accord:
        _shown(lib, accord, *found[1:])


def _next(lib, accord, said: dict):
    from ..accords.trials import Trial

    verdicts = {id: verdict for id, verdict in said.items() if verdict}
    now = work.state()
    history = [
        Trial(
            trial["name"],
            lib.accord_of([work.cells_of(row) for row in trial["rows"]], trial["name"]),
            _ids(lib, trial["verdicts"]),
        )
        for trial in now["trials"]
    ]
    limits = (
        {"product": work.setting("product"), "dose": work.setting("dose"), "market": work.setting("market")}
        if work.setting("product")
        else {}
    )
    by = {verdict: [id for id, one in verdicts.items() if one == verdict] for verdict in work.VERDICTS}
    made = lib.rebalance(
        accord, **by, history=history, grams=work.setting("grams"), balance=work.setting("balance"), **limits
    )
    return accord, made, verdicts


def _ids(lib, verdicts: dict) -> dict:
    return {lib.find(name).id: verdict for name, verdict in verdicts.items()}


def _shown(lib, accord, made, verdicts: dict) -> None:
    answer = made.to_dict()
    st.subheader("The next trial", anchor=False)
    rows = [
        (
            line["name"],
            SAYS[line["verdict"]],
            common.figure(line["parts_before"], 4),
            common.figure(line["parts_after"], 4),
            common.figure(line["strength_pct"]),
            line["why"],
        )
        for line in answer["lines"]
    ]
    common.table(
        ("material", "verdict", "before [parts]", "after [parts]", "strength [%]", "why"),
        rows,
        "The next trial, line by line",
    )
    for text in answer["warnings"]:
        st.warning(common.md(text))
    st.button(
        "Log this verdict and go on with the next trial",
        key="log_trial",
        type="primary",
        on_click=_log_it,
        args=(lib, accord, made, verdicts),
    )
    common.cautions(
        [
            "Masking by the other lines is not modelled: smell the whole again.",
            "A step of one perceived degree is about 1.9 times the amount (common practice, no source).",
        ]
    )


def _log_it(lib, accord, made, verdicts: dict) -> None:
    now = work.state()
    names = lib.tables.materials
    now["trials"].append(
        {
            "name": accord.name,
            "rows": work.rows_of(accord, names),
            "verdicts": {names[id].name: verdict for id, verdict in verdicts.items()},
            "note": "",
        }
    )
    base = accord.name.split(".trial-")[0]
    work.set_accord(f"{base}.trial-{len(now['trials']) + 1}", work.rows_of(made.accord, names))
    st.session_state.pop("next_trial", None)


def _log(lib) -> None:
    from ..accords.sheets import Sheet

    trials = work.state()["trials"]
    st.subheader("Trial log", anchor=False)
    if not trials:
        st.info(
            "No trial is logged yet. Next: weigh the accord, smell it, give a verdict on at least one line, and work out the next trial."
        )
        return
    materials = list(dict.fromkeys(row["material"] for trial in trials for row in trial["rows"]))
    columns, rows = ["material"], [[name] for name in materials]
    for number, trial in enumerate(trials, 1):
        columns += [f"{number}. {trial['name']} [parts]", f"verdict {number}"]
        for row in rows:
            parts = [line["parts"] for line in trial["rows"] if line["material"] == row[0]]
            row += [common.figure(sum(parts), 4) if parts else "–", SAYS[trial["verdicts"].get(row[0], "")]]
    common.table(columns, rows, "Parts and verdicts over the trials, oldest first")
    common.downloads("trials", "Trial log", lambda: [Sheet("Trial log", columns, rows)])
    with st.container(horizontal=True):
        st.button("Back to the last logged trial", key="back_trial", on_click=_back)
        st.button("Empty the log", key="empty_log", on_click=lambda: work.state()["trials"].clear())


def _back() -> None:
    trial = work.state()["trials"].pop()
    work.set_accord(trial["name"], trial["rows"])
