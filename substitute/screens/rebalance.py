"""Rebalance: what the nose said of every line, the next trial, and the trials side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..errors import SubstituteError
from ..records import Accord
from . import accord as accords
from . import bars, bench_rows, common, fields, side, tried, work

if TYPE_CHECKING:
    from ..accords.trials import Trial
    from ..library import Library

FIRST_PANELS = 6


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    with common.question():
        with st.container(horizontal=True, gap="small"):
            accords.accord_box(lib)
            st.caption(f"{count(len(work.state()['trials']), 'trial')} logged", width="content")
        accord = accords.formula(lib)
        said = _said(lib, accord) if accord is not None else {}
        side.phone_bench(lib)
    with common.answer():
        if accord is not None:
            if said:
                _next(lib, accord, said)
            else:
                common.headline("What does the nose say?", "of the accord as it was weighed")
                common.following("name what is too strong or too weak above; lines that nobody named stay.")
        _log()


def _said(lib: Library, accord: Accord) -> tried.Heard:
    """What was said of the accord's lines, in three boxes beside each other."""
    return tried.lines_said(lib, accord, "verdict", accord.name)


def _next(lib: Library, accord: Accord, said: tried.Heard) -> None:
    made = lib.rebalance(
        accord,
        **_as_named(said),
        history=_logged(lib),
        grams=work.setting("grams"),
        balance=work.setting("balance"),
        **fields.product_options(),
    )
    answer = made.to_dict()
    moved = [line for line in answer["lines"] if line["parts_before"] != line["parts_after"]]
    told = [
        f"{line['name']} {'down' if line['parts_after'] < line['parts_before'] else 'up'}"
        for line in moved
        if line["verdict"]
    ]
    common.headline(
        f"Next trial: {listed(told) or 'nothing moves'}",
        f"{count(len(moved), 'line')} of {len(answer['lines'])} move",
    )
    limits = f" Held to the limits of {fields.situation(lib)}." if work.setting("product") else ""
    common.following(f"log it and weigh it.{limits}")
    with st.container(horizontal=True):
        st.button(
            "use this",
            key="use-trial",
            type="primary",
            on_click=_log_it,
            args=(lib, accord, made, said, ""),
            help="Logs this verdict; the next trial stands on the bench.",
        )
        st.button(
            "weigh this",
            key="use-weigh",
            on_click=_log_it,
            args=(lib, accord, made, said, "weigh"),
            help="Logs this verdict and goes to the weighing sheet of the next trial.",
        )
    _lines(answer["lines"])
    for text in answer["warnings"]:
        st.warning(common.md(text))
    st.caption(
        "Masking by the other lines is not modelled: smell the whole again. A first step is about 1.9"
        " times the amount (common practice, no source)."
    )


def _as_named(said: tried.Heard) -> dict[str, Any]:
    """What was said, as the library's question takes it: verdict -> lines, each with its degree."""
    return {
        verdict: [f"{id}:{degree}" if degree else id for id, (one, degree) in said.items() if one == verdict]
        for verdict in work.VERDICTS
    }


def _logged(lib: Library) -> list[Trial]:
    """The trials of the log, oldest first."""
    from ..accords.trials import Trial

    return [
        Trial(
            trial["name"],
            lib.accord_of([bench_rows.cells_of(row) for row in trial["rows"]], trial["name"]),
            {lib.find(name).id: verdict for name, verdict in trial["verdicts"].items()},
            degrees={lib.find(name).id: degree for name, degree in trial["degrees"].items()},
        )
        for trial in work.state()["trials"]
    ]


def _lines(lines: Sequence[Mapping[str, Any]]) -> None:
    """Every line before and after; what moves is marked."""
    rows = [
        (
            line["name"],
            tried.in_words((line["verdict"], line["degree"])),
            common.figure(line["parts_before"], 4),
            common.figure(line["parts_after"], 4),
            line["why"],
        )
        for line in lines
    ]
    common.table(
        ("material", "verdict", "before [parts]", "after [parts]", "why"),
        rows,
        "The next trial, line by line",
        slim=True,
        wide=("why",),
        classes=["moved" if line["parts_before"] != line["parts_after"] else "" for line in lines],
    )


def _log_it(lib: Library, accord: Accord, made: Any, said: tried.Heard, onward: str) -> None:
    names = lib.tables.materials
    if lib.book is not None:
        try:
            tried.heard(tried.put_down(lib, accord, said))
        except SubstituteError as error:
            st.session_state["book_fault"] = error
    work.remember("a trial was logged")
    work.state()["trials"].append(
        {
            "name": accord.name,
            "rows": bench_rows.rows_of(accord, names),
            "verdicts": {names[id].name: verdict for id, (verdict, _) in said.items()},
            "degrees": {names[id].name: degree for id, (_, degree) in said.items() if degree},
            "note": "",
        }
    )
    base = accord.name.split(".trial-")[0]
    name = f"{base}.trial-{len(work.state()['trials']) + 1}"
    work.set_accord(
        name,
        bench_rows.rows_of(made.accord, names),
        told=f"Logged. {common.titled(name)} stands on the bench.",
    )
    if onward:
        work.go(onward)


def _log() -> None:
    trials = work.state()["trials"]
    if not trials:
        st.caption("No trial is logged yet.")
        return
    st.header("The trials side by side", anchor=False)
    panels = []
    for number, trial in enumerate(trials, 1):
        total = sum(row["parts"] or 0.0 for row in trial["rows"]) or 1.0
        rows = [
            (
                row["material"],
                100 * (row["parts"] or 0.0) / total,
                _told(trial, row["material"]),
            )
            for row in trial["rows"]
        ]
        said = [row for row in rows if row[2]]
        panels.append((f"{number}. {common.titled(trial['name'])} [% of what is weighed]", said or rows[:5]))
    bars.multiples(panels[-FIRST_PANELS:], "What was said of the trials, a panel each, on one scale")
    laid = lay_out("history", _history(trials))
    with st.expander("All lines of all trials"):
        common.sheet(laid.main)
    common.downloads("trials", lambda: laid)
    with st.container(horizontal=True):
        st.button("Back to the last logged trial", key="back_trial", on_click=_back)
        st.button("Empty the log", key="empty_log", type="tertiary", on_click=_ask_empty)


def _told(trial: Mapping[str, Any], material: str) -> str:
    return tried.in_words((trial["verdicts"].get(material, ""), trial["degrees"].get(material, "")))


def _history(trials: list[Any]) -> dict[str, Any]:
    """The log as the record that the trials in files have too."""
    materials = dict.fromkeys(row["material"] for trial in trials for row in trial["rows"])
    logged: list[dict[str, Any]] = [
        {
            "name": common.titled(trial["name"]),
            "trial": number,
            "parent": None,
            "parent_gone": False,
            "total": sum(row["parts"] or 0.0 for row in trial["rows"]),
            "words": [],
        }
        for number, trial in enumerate(trials, 1)
    ]

    def said(trial: Any, material: str) -> dict[str, Any]:
        parts = [row["parts"] for row in trial["rows"] if row["material"] == material and row["parts"]]
        return {
            "parts": sum(parts) if parts else None,
            "verdict": trial["verdicts"].get(material, ""),
            "degree": trial["degrees"].get(material, ""),
        }

    rows = [
        {"id": name, "name": name, "trials": [said(trial, name) for trial in trials]} for name in materials
    ]
    return {"accord": "The log", "trials": logged, "materials": rows, "notes": []}


def _back() -> None:
    work.remember("the last trial was fetched back")
    trial = work.state()["trials"].pop()
    work.set_accord(
        trial["name"], trial["rows"], told=f"{common.titled(trial['name'])} stands on the bench again."
    )


def _ask_empty() -> None:
    work.ask(
        f"Throw away {count(len(work.state()['trials']), 'logged trial')}? Undo can bring them back.",
        "Empty the log",
        _empty,
    )


def _empty() -> None:
    work.remember("the log was emptied")
    work.state()["trials"] = []
