"""The one piece of work: an accord, a shelf, trials and settings, the same on every screen, with undo
over all of it.

Formulas live in the session, in the browser's own store (:mod:`.keep`) and in the file a person saves;
never in a link or a log. A link holds only what is looked at.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..errors import InputError
from . import asked
from .bench_rows import Row

if TYPE_CHECKING:
    from ..library import Library

MOST_UNDO = 40
VERDICTS = ("too_strong", "right", "too_weak")
BOXES = ("accord", "shelf", "file")  # what :func:`close` folds away


def fresh() -> dict[str, Any]:
    """Work with nothing in it; ``demo`` names the demo accord that stands there untouched, ``use``
    stand-ins that were chosen, ``keep`` lines that must stay as they are, ``tables`` one's own tables as
    [file name, text]."""
    return {
        "name": "",
        "demo": "",
        "rows": [],
        "missing": [],
        "use": [],
        "keep": [],
        "shelf": [],
        "shelf_demo": False,
        "trials": [],
        "tables": [],
        "settings": asked.plain(),
    }


def state() -> dict[str, Any]:
    """This window's work; each window has its own."""
    if "work" not in st.session_state:
        st.session_state["work"] = fresh()
        st.session_state["undone"] = []
    found: dict[str, Any] = st.session_state["work"]
    return found


def setting(name: str) -> Any:
    return state()["settings"][name]


def put(**values: Any) -> None:
    """Set settings from code (a callback or before the widgets of a run); their widgets follow."""
    for name, value in values.items():
        state()["settings"][name] = value
        st.session_state[f"in_{name}"] = value


def keep(name: str) -> None:
    """Callback of a settings widget: remember what it shows."""
    value = st.session_state[f"in_{name}"]
    if value != setting(name):
        remember(asked.SETTINGS[name].told)
    state()["settings"][name] = value


def change(told: str, **values: Any) -> None:
    """Callback: set settings, which undo takes back; ``told`` is what it says it takes back."""
    remember(told)
    put(**values)


# -- links ---------------------------------------------------------------------------------------------------


def from_link(names: Sequence[str], lib: Library) -> list[str]:
    """Take over what the link says and this window did not say itself; returns complaints."""
    state()
    said = st.session_state.setdefault("link", {})
    complaints = []
    for name in names:
        text = st.query_params.get(name)
        if text is None or said.get(name) == text:
            continue
        said[name] = text
        try:
            put(**{name: asked.read(name, text, lib)})
        except InputError as error:
            complaints.append(f"The link is wrong here: {error}. It was left out.")
    return complaints


def to_link(names: Sequence[str]) -> None:
    """Write what is looked at into the address, so that it can be kept and passed on."""
    wanted = {}
    for name in names:
        value = setting(name)
        if value != asked.SETTINGS[name].plain and value not in ("", None):
            wanted[name] = (
                "yes" if value is True else f"{value:g}" if isinstance(value, (int, float)) else str(value)
            )
    if st.query_params.to_dict() != wanted:
        st.query_params.from_dict(wanted)
    st.session_state["link"] = {
        **st.session_state.get("link", {}),
        **{name: wanted.get(name) for name in names},
    }


# -- the accord and the shelf --------------------------------------------------------------------------------


def set_accord(
    name: str, rows: list[Row], *, demo: str = "", missing: Sequence[str] = (), told: str = ""
) -> None:
    """Another accord on the bench; the old one can be undone. ``told`` is what the confirmation says."""
    old = [dict(row) for row in state()["rows"]], state()["name"]
    remember(f"{name or 'the new accord'} took the bench")
    state().update(name=name, rows=rows, demo=demo, missing=list(missing), use=[], keep=[])
    close()
    if told:
        st.session_state["taken"] = {"told": told, "old": old[0], "old_name": old[1], "age": 0}
    renew("accord")


def set_shelf(rows: list[Row], *, demo: bool = False) -> None:
    remember("the shelf was changed")
    state().update(shelf=rows, shelf_demo=demo)
    close()
    renew("shelf")


def own() -> None:
    """The demo is taken over: from here on it is the person's own."""
    remember("the demo was taken over")
    state()["demo"] = ""


def renew(table: str) -> None:
    """Give an editable table a new key, so that it starts from what the state holds."""
    st.session_state[f"{table}_version"] = st.session_state.get(f"{table}_version", 0) + 1


def remember(what: str = "") -> None:
    """Keep the work as it is now, before a change that ``what`` names; of several said before one change the
    first names it."""
    found: list[tuple[str, dict[str, Any]]] = st.session_state.setdefault("undone", [])
    if not found or found[-1][1] != state():
        found.append((what, copy.deepcopy(state())))
        del found[:-MOST_UNDO]


def _changes() -> list[tuple[str, dict[str, Any]]]:
    """(what undo says of it, the work before it) of every change, the last behind; one that came to nothing
    is forgotten."""
    found: list[tuple[str, dict[str, Any]]] = st.session_state.setdefault("undone", [])
    while found and found[-1][1] == state():
        found.pop()
    return found


def undo() -> None:
    """Back to the work before the last change."""
    found = _changes()
    if found:
        kept = found.pop()[1]
        state().update(kept)
        put(**kept["settings"])
        st.session_state.pop("taken", None)
        renew("accord")
        renew("shelf")


def undo_says() -> str:
    """What undo would take back; '' if there is nothing."""
    found = _changes()
    return (found[-1][0] or "the last change") if found else ""


def ask(question: str, button: str, action: Callable[..., None], *args: Any) -> None:
    """Callback: put a question before something is thrown away; ``action`` runs when it is answered with
    ``button``."""
    st.session_state["asked"] = (question, button, action, args)
    close()


def close() -> None:
    """Callback: fold away the boxes that something was taken from; an open one swallows the next click."""
    for name in BOXES:
        if f"box_{name}" in st.session_state:
            st.session_state[f"box_{name}"] = False


def box(name: str, label: str, **more: Any) -> Any:
    """A box of ways to open something, folded behind ``label``; :func:`close` folds it again."""
    return st.popover(label, key=f"box_{name}", on_change="rerun", **more)


def go(screen: str, **settings: Any) -> None:
    """Callback: to another screen when this run is over, with what is to be filled in there; undo takes that
    back."""
    changed = [name for name, value in settings.items() if value != setting(name)]
    if changed:
        change(asked.SETTINGS[changed[0]].told, **settings)
    st.session_state["go"] = screen
