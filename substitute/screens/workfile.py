"""The sidebar: save all work as one plain file, open it again, or start afresh."""

from __future__ import annotations

import streamlit as st

from ..errors import SubstituteError
from . import common, work


def sidebar() -> None:
    """Draw it."""
    with st.sidebar:
        st.markdown("**Your work**")
        now = work.state()
        name = common.md(now["name"]) or "no accord yet"
        lines = f", {len(now['rows'])} lines" if now["rows"] else ""
        st.caption(
            f"{name}{lines}  \nbottles on the shelf: {len(now['shelf'])}  \ntrials logged: {len(now['trials'])}"
        )
        st.download_button(
            "Save work",
            work.to_file(),
            "work.json",
            "application/json",
            key="save_work",
            on_click="ignore",
            width="stretch",
            help="One plain file with the accord, the shelf, the trials and the settings. Nothing is kept anywhere else: save before you close or reload the page.",
        )
        with st.popover("Open work", width="stretch"):
            st.file_uploader(
                "A work file saved here (JSON)",
                type=["json"],
                key=f"work_file_{st.session_state.get('work_files', 0)}",
                on_change=_opened,
            )
        st.button(
            "Start afresh",
            key="afresh",
            on_click=_afresh,
            width="stretch",
            help="Empties accord, shelf and trials. Save first if you want to keep them.",
        )
        error = st.session_state.pop("work_error", None)
        if error:
            common.fault(error)


def _opened() -> None:
    file = st.session_state.get(f"work_file_{st.session_state.get('work_files', 0)}")
    if file is None:
        return
    try:
        work.from_file(file.getvalue(), file.name, common.library())
    except SubstituteError as error:
        st.session_state["work_error"] = error
        return
    st.session_state["work_files"] = st.session_state.get("work_files", 0) + 1


def _afresh() -> None:
    for key in [key for key in st.session_state if key not in ("pages", "accord_version", "shelf_version")]:
        del st.session_state[key]
    work.renew("accord")
    work.renew("shelf")
