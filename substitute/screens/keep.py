"""Where work stays between visits: the person's own browser, and nowhere else.

Why the browser and not a file beside the server: a formula is a secret, the server holds no accounts, and
a browser's store belongs to one person on one machine. A tab's own store comes first, so that two tabs
don't mix; a new tab goes on with the last work of any. A cookie without content says on the first run
that something is kept, so that a first visit never waits for an answer. ``Store`` is the seam: where a
bench book is open, the work stands in it instead.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

import streamlit as st

from ..errors import SubstituteError
from . import asked, bench_rows, saved, work

if TYPE_CHECKING:
    from ..library import Library

COOKIE = "substitute_work"
SCRIPT = """
export default function(component) {
  const { data, setTriggerValue } = component;
  const slot = 'substitute.work', cookie = data.cookie + '=';
  const open = (store) => { try { return window[store].getItem(slot) || ''; } catch (_) { return ''; } };
  const put = (store, text) => {
    try { text ? window[store].setItem(slot, text) : window[store].removeItem(slot); } catch (_) {}
  };
  if (data.ask) { setTriggerValue('found', open('sessionStorage') || open('localStorage') || '-'); return; }
  for (const store of ['sessionStorage', 'localStorage']) put(store, data.text);
  const age = data.text ? 'kept; max-age=31536000' : '; max-age=0';
  document.cookie = cookie + age + '; path=/; samesite=strict';
}
"""


_component = st.components.v2.component("substitute_keep", js=SCRIPT)


class Store(Protocol):
    """A place where work stays."""

    def waits(self) -> bool:
        """Whether work is kept that this window hasn't got yet; nothing is shown before it is there."""

    def save(self) -> None:
        """Keep the work as it stands, at the end of a run."""


class Browser:
    """The browser's own store, reached by a component without a face."""

    def __init__(self, library: Callable[[], Library]) -> None:
        self._library = library
        self._cookie = f"{COOKIE}_{_port()}"

    def waits(self) -> bool:
        if "kept_asked" not in st.session_state:
            st.session_state["kept_asked"] = True
            st.session_state["kept_waits"] = "work" not in st.session_state and (
                st.context.cookies.get(self._cookie) == "kept"
            )
        if not st.session_state["kept_waits"]:
            return False
        _component(
            key="keep", data={"ask": True, "cookie": self._cookie}, on_found_change=self._found, height=1
        )
        return bool(st.session_state["kept_waits"])

    def _found(self) -> None:
        st.session_state["kept_waits"] = False
        text = st.session_state["keep"].found or ""
        if len(text) < 2:
            return
        try:
            saved.from_file(text.encode(), "the work this browser kept", self._library())
        except SubstituteError as error:
            st.session_state["work_error"] = error

    def save(self) -> None:
        text = saved.to_file()
        now = work.state()
        empty = not (now["rows"] and not now["demo"]) and not now["shelf"] and not now["trials"]
        untouched = empty and now["settings"] == asked.plain() and not now["missing"]
        _component(
            key="keep",
            data={"ask": False, "cookie": self._cookie, "text": "" if untouched else text},
            on_found_change=self._found,
            height=1,
        )


class InBook:
    """A bench book: its bottles are the shelf to begin with, and the work stands in it as a file."""

    FILE = "work.json"

    def __init__(self, library: Library) -> None:
        assert library.book is not None
        self._library, self._book = library, library.book

    def waits(self) -> bool:
        """Fetches the work at once, on the first run of a window."""
        if "work" in st.session_state:
            return False
        path = self._book.folder / self.FILE
        if path.is_file():
            try:
                saved.from_file(path.read_bytes(), path.name, self._library)
            except SubstituteError as error:
                st.session_state["work_error"] = error
        now, bottles = work.state(), None
        try:
            bottles = self._book.shelf(self._library.names)
        except SubstituteError as error:
            st.session_state["work_error"] = error
        if not now["shelf"] and bottles is not None:
            now["shelf"] = bench_rows.shelf_rows_of(bottles, self._library.tables.materials)
        st.session_state["kept_text"] = saved.to_file()
        return False

    def save(self) -> None:
        from ..tables.writing import write_whole

        text = saved.to_file()
        if text != st.session_state.get("kept_text") and self._book.store.writable:
            write_whole(self._book.folder / self.FILE, text, force=True)
            st.session_state["kept_text"] = text


def store(library: Callable[[], Library]) -> Store:
    """Where work stays: the bench book if one is open, else the browser."""
    if os.environ.get("SUBSTITUTE_BOOK"):
        return InBook(library())
    return Browser(library)


def _port() -> str:
    """The port this window came by: two servers on one machine share cookies."""
    address = str(st.context.url or "")
    return address.split("://")[-1].split("/")[0].rpartition(":")[2] if ":" in address[6:] else "0"
