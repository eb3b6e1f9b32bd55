"""A person's own tables of rules in the app, and the sets that count."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers.words import count
from ..errors import SubstituteError
from . import asked, common, fields, work

if TYPE_CHECKING:
    from ..library import Library


def sets_and_day(lib: Library, options: dict[str, Any]) -> str | None:
    """Day, sets and comparison, folded to a line that says them."""
    sets = lib.tables.limit_sets
    older = asked.replaced(lib, options["market"])
    if work.setting("since") not in ("", *older):
        work.put(since="")
    known = [id for id, one in sets.items() if one.market in ("worldwide", options["market"])]
    chosen = [id for id in work.setting("sets").split() if id in known]
    if st.session_state.get("fresh_screen") or st.session_state.get("rules_sets") != chosen:
        st.session_state["rules_sets"] = chosen
    said = [
        count(len(chosen), "chosen set") if chosen else "all sets in force",
        f"on {work.setting('on')}" if work.setting("on") else "",
        (
            f"compared with {sets[work.setting('since')].title.split('(')[0].strip()}"
            if work.setting("since")
            else ""
        ),
    ]
    with st.popover(", ".join(filter(None, said))):
        chosen = st.multiselect(
            "Sets of limits that count",
            known,
            key="rules_sets",
            placeholder="all in force",
            format_func=lambda id: sets[id].title,
            on_change=_sets_chosen,
            help="Empty: all sets of this market in force on the day, the strictest governs.",
        )
        on = fields.field(
            st.text_input,
            "On the day [YYYY-MM-DD, empty is today]",
            "on",
            help="Sets count from the day they are in force.",
            max_chars=10,
        )
        since = fields.field(
            st.selectbox,
            "Show what changed since",
            "since",
            options=["", *older],
            format_func=lambda id: (
                f"{sets[id].title} (now {sets[older[id]].title.split('(')[0].strip()})"
                if id
                else "– no comparison –"
            ),
            help="Only sets that a set in force took the place of.",
        )
        _own()
    options["on"] = on or None
    if chosen:
        options["limits"] = tuple(chosen)
    return since or None


def _sets_chosen() -> None:
    work.change(asked.SETTINGS["sets"].told, sets=" ".join(st.session_state["rules_sets"]))


def _own() -> None:
    """A person's own limits, laid over ours row by row in this window."""
    mine = work.state()["tables"]
    number = st.session_state.get("own_files", 0)
    st.file_uploader(
        "Your own limits: limits.csv, and limit_sets.csv, products.csv or groups.csv with it",
        type=["csv"],
        accept_multiple_files=True,
        key=f"own_files_{number}",
        on_change=_opened_own,
        help="Official figures as you have them, in the columns of our tables; they count in your work"
        " alone and stay with it.",
    )
    if mine:
        st.caption(f"Over ours count: {common.md(', '.join(name for name, _ in mine))}.")
        st.button("Only ours again", key="own_away", on_click=_only_ours)
    error = st.session_state.pop("own_error", None)
    if error:
        common.fault(error)


def _only_ours() -> None:
    work.remember("your own limits were put away")
    work.state()["tables"] = []


def _opened_own() -> None:
    from ..tables.texts import decode

    number = st.session_state.get("own_files", 0)
    files = st.session_state.get(f"own_files_{number}") or ()
    if not files:
        return
    try:
        tables = {file.name: decode(file.getvalue(), file.name)[0] for file in files}
        common.with_tables(tables)
    except SubstituteError as error:
        st.session_state["own_error"] = error
        return
    work.remember("your own limits were opened")
    work.state()["tables"] = [list(one) for one in sorted(tables.items())]
    st.session_state["own_files"] = number + 1
