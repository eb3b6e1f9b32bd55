"""The side of every screen: the one piece of work, undo, and the file it can be saved in."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import streamlit as st

from ..answers.words import count, listed
from ..errors import SubstituteError
from . import common, fields, saved, work
from .words import BECAUSE

if TYPE_CHECKING:
    from ..library import Library


def side(lib: Library) -> None:
    """Draw it."""
    with st.sidebar:
        st.html(f'<div role="region" aria-label="On the bench">{_bench(lib)}</div>')
        now = work.state()
        if now["demo"]:
            st.button(
                "Take the demo over",
                key="own_demo",
                on_click=work.own,
                width="stretch",
                help="From then on it is your accord, kept in this browser. Any change to it does the same.",
            )
        says = work.undo_says()
        st.button(
            "Undo",
            key="undo",
            on_click=work.undo,
            disabled=not says,
            width="stretch",
            help=f"Takes back: {says}." if says else "Nothing to take back yet.",
        )
        with work.box("file", "Save, open, start afresh", width="stretch"):
            st.caption(
                "Your work stays in this browser on this machine and is sent nowhere. A file takes it"
                " elsewhere."
            )
            st.download_button(
                "Save work",
                saved.to_file(),
                "work.json",
                "application/json",
                key="save_work",
                on_click="ignore",
                width="stretch",
                help="One plain file with the accord, the shelf, the trials and the settings.",
            )
            st.file_uploader(
                "Open work saved here (JSON)",
                type=["json"],
                key=f"work_file_{st.session_state.get('work_files', 0)}",
                on_change=_opened,
            )
            st.button("Start afresh", key="afresh", on_click=_ask_afresh, width="stretch")
        error = st.session_state.pop("work_error", None)
        if error:
            common.fault(error)


def phone_bench(lib: Library) -> None:
    """On a phone, where the side is folded away: the work in one line."""
    now = work.state()
    name = common.titled(now["name"]) if now["name"] else "no accord yet"
    tag = " (demo)" if now["demo"] else ""
    shelf = count(len(now["shelf"]), "bottle") if now["shelf"] else "no shelf"
    with st.container(key="phone_bench", horizontal=True, vertical_alignment="center", gap="small"):
        st.caption(common.md(f"On the bench: {name}{tag} · {shelf} · {fields.situation(lib)}"))
        if work.undo_says():
            st.button("Undo", key="undo_phone", on_click=work.undo, type="tertiary")


def _bench(lib: Library) -> str:
    now = work.state()
    parts = ['<dl class="bench">']
    tag = ' <span class="tag">demo</span>' if now["demo"] else ""
    name = common.safe(common.titled(now["name"])) if now["name"] else "none yet"
    parts.append(f'<dt>Accord</dt><dd><span class="name">{name}</span>{tag}')
    if now["rows"]:
        held = {row["material"] for row in now["rows"]}
        missing = [name for name in now["missing"] if name in held]
        gone = f", without {common.safe(listed(missing, 2))}" if missing else ""
        parts.append(f"<br>{count(len(now['rows']), 'line')}{gone}")
    parts.append("</dd>")
    only = ", nothing else counts" if now["settings"]["use_shelf"] and now["shelf"] else ""
    shelf_tag = ' <span class="tag">demo</span>' if now["shelf_demo"] and now["shelf"] else ""
    shelf = f"{count(len(now['shelf']), 'bottle')}{shelf_tag}{only}" if now["shelf"] else "empty"
    parts.append(f"<dt>Shelf</dt><dd>{shelf}</dd>")
    parts.append(f"<dt>Goes into</dt><dd>{common.safe(fields.situation(lib))}</dd>")
    parts.append(f"<dt>Reason</dt><dd>{BECAUSE[now['settings']['because']]}</dd>")
    if now["trials"]:
        parts.append(f"<dt>Trials</dt><dd>{count(len(now['trials']), 'trial')} logged</dd>")
    return "".join([*parts, "</dl>"])


def _opened() -> None:
    file = st.session_state.get(f"work_file_{st.session_state.get('work_files', 0)}")
    if file is None:
        return
    try:
        work.remember(f"{file.name} was opened")
        saved.from_file(file.getvalue(), file.name, common.library())
    except SubstituteError as error:
        st.session_state["work_error"] = error
        return
    st.session_state["work_files"] = st.session_state.get("work_files", 0) + 1


def _ask_afresh() -> None:
    now = work.state()
    held = [
        text
        for text in (
            f"the accord {common.titled(now['name'])}" if now["rows"] and not now["demo"] else "",
            count(len(now["shelf"]), "bottle") if now["shelf"] else "",
            count(len(now["trials"]), "logged trial") if now["trials"] else "",
        )
        if text
    ]
    if not held:
        _afresh()
        return
    work.ask(
        f"Start afresh? This puts away {listed(held, 3)}. Undo brings them back until you close the page.",
        "Put it away",
        _afresh,
    )


def _afresh() -> None:
    work.remember("everything was put away")
    undo = st.session_state.get("undone", [])
    version = {key: st.session_state.get(key, 0) for key in ("accord_version", "shelf_version")}
    for key in [
        key for key in st.session_state if key not in ("pages", "painted", "kept_asked", "kept_waits")
    ]:
        del st.session_state[key]
    st.session_state.update(version)
    st.session_state["work"] = work.fresh()
    st.session_state["undone"] = undo
    work.renew("accord")
    work.renew("shelf")


def asked() -> None:
    """The open question before something is thrown away, if there is one."""
    found = st.session_state.get("asked")
    if not found:
        return
    text, button, action, args = found

    @st.dialog("One question", on_dismiss=_forget)
    def put() -> None:
        st.markdown(common.md(text))
        with st.container(horizontal=True):
            st.button(button, key="yes", type="primary", on_click=_yes, args=(action, args))
            st.button("Leave it as it is", key="no", on_click=_forget)
        if "asked" not in st.session_state:
            st.rerun()  # a dialog runs by itself; the page behind it must follow

    put()


def _yes(action: Callable[..., None], args: tuple[object, ...]) -> None:
    _forget()
    action(*args)


def _forget() -> None:
    st.session_state.pop("asked", None)
