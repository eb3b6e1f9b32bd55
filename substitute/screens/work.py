"""The one piece of work: an accord, a shelf, trials and settings, the same on every screen, with undo
over all of it.

Formulas live in the session, in the browser's own store (:mod:`.keep`) and in the file a person saves;
never in a link or a log. A link holds only what is looked at.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import streamlit as st

from ..errors import InputError, TableError
from ..records import Accord, Material, Shelf

Row = dict[str, Any]
MOST_UNDO = 40
REASONS = ("unavailable", "limit", "law", "price")
VERDICTS = ("too_strong", "right", "too_weak")
SETTINGS: dict[str, Any] = {
    "material": "",
    "because": "unavailable",
    "blend": 1,
    "top": 5,
    "of": "",
    "to": "",
    "card": "",
    "product": "",
    "dose": 10.0,
    "market": "EU",
    "use_shelf": False,
    "use_accord": False,
    "max_new": 0,
    "move": 25,
    "same_total": False,
    "grams": 20.0,
    "balance": 0.01,
    "since": "",
    "buy": 3,
    "on": "",
    "sets": "",
}
RANGES = {
    "blend": (1, 3),
    "top": (1, 50),
    "dose": (0.0001, 100.0),
    "max_new": (0, 6),
    "move": (0, 100),
    "grams": (0.1, 100_000.0),
    "balance": (0.00001, 10.0),
    "buy": (1, 20),
}
UNDONE = (
    "name",
    "demo",
    "rows",
    "missing",
    "use",
    "keep",
    "shelf",
    "shelf_demo",
    "trials",
    "tables",
)  # what undo brings back
UNDONE_SETTINGS = {  # and of the settings, in the words undo says them with
    "product": "the product was changed",
    "dose": "the dose was changed",
    "market": "the market was changed",
    "because": "the reason was changed",
    "material": "another material was asked for",
    "card": "another card was asked for",
    "sets": "the sets that count were changed",
    "use_shelf": "holding to the shelf was changed",
    "use_accord": "standing beside the accord was changed",
    "blend": "the size of blends was changed",
    "max_new": "how much may be new was changed",
    "move": "how far lines may move was changed",
    "same_total": "keeping the total was changed",
    "grams": "the batch was changed",
    "balance": "the balance was changed",
}
BOXES = ("accord", "shelf", "file")  # what :func:`close` folds away
ACCORD_COLUMNS = ("material", "parts", "strength_pct", "role", "optional")
SHELF_COLUMNS = ("material", "strength_pct", "grams", "price_per_gram")


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
        "settings": dict(SETTINGS),
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
    if name in UNDONE_SETTINGS and value != setting(name):
        remember(UNDONE_SETTINGS[name])
    state()["settings"][name] = value


# -- links ---------------------------------------------------------------------------------------------------


def read_setting(name: str, value: Any, allowed: Sequence[str] | None = None) -> Any:
    """A value from a link or a file as the setting wants it; raises
    :class:`~substitute.errors.InputError`."""
    plain = SETTINGS[name]
    if isinstance(plain, bool):
        if value in (True, "yes", "true", "1"):
            return True
        if value in (False, "no", "false", "0"):
            return False
        raise InputError(f"{name}: '{str(value)[:40]}' is neither yes nor no")
    if isinstance(plain, (int, float)):
        low, high = RANGES[name]
        try:
            number = float(value)
        except (TypeError, ValueError):
            raise InputError(
                f"{name}: '{str(value)[:40]}' is not a number: allowed is {low:g} to {high:g}"
            ) from None
        if not math.isfinite(number) or not low <= number <= high:
            raise InputError(f"{name}: {number:g} is out of range: allowed is {low:g} to {high:g}")
        return int(number) if isinstance(plain, int) else number
    text = str(value)[:200].strip()
    if allowed is not None and text not in allowed:
        raise InputError(
            f"{name}: '{text[:40]}' is not known: one of"
            f" {', '.join(filter(None, list(allowed)[:8]))}{' …' if len(allowed) > 8 else ''}"
        )
    return text


def from_link(names: Sequence[str], allowed: Mapping[str, Sequence[str]]) -> list[str]:
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
            put(**{name: read_setting(name, text, allowed.get(name))})
        except InputError as error:
            complaints.append(f"The link is wrong here: {error}. It was left out.")
    return complaints


def to_link(names: Sequence[str]) -> None:
    """Write what is looked at into the address, so that it can be kept and passed on."""
    wanted = {}
    for name in names:
        value = setting(name)
        if value != SETTINGS[name] and value not in ("", None):
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


def rows_of(accord: Accord, materials: Mapping[str, Material]) -> list[Row]:
    """An accord as rows of the table, materials by their names."""
    return [
        {
            "material": materials[line.material].name if line.material in materials else line.material,
            "parts": line.parts,
            "strength_pct": line.strength,
            "role": line.role,
            "optional": line.optional,
        }
        for line in accord.lines
    ]


def shelf_rows_of(shelf: Shelf, materials: Mapping[str, Material]) -> list[Row]:
    return [
        {
            "material": materials[item.material].name,
            "strength_pct": item.strength,
            "grams": item.grams,
            "price_per_gram": item.price,
        }
        for item in shelf.stock
    ]


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
    """Keep the work as it is now, before a change that ``what`` names."""
    now = state()
    kept = json.loads(json.dumps({key: now[key] for key in UNDONE}))
    kept["settings"] = {name: now["settings"][name] for name in UNDONE_SETTINGS}
    kept["what"] = what
    undo_list = st.session_state.setdefault("undone", [])
    same = undo_list and {k: v for k, v in undo_list[-1].items() if k != "what"} == {
        k: v for k, v in kept.items() if k != "what"
    }
    if not same:
        undo_list.append(kept)
        del undo_list[:-MOST_UNDO]


def undo() -> None:
    """Back to the work before the last change."""
    if st.session_state.get("undone"):
        kept = st.session_state["undone"].pop()
        put(**kept.pop("settings"))
        kept.pop("what")
        state().update(kept)
        st.session_state.pop("taken", None)
        renew("accord")
        renew("shelf")


def undo_says() -> str:
    """What undo would take back; '' if there is nothing."""
    found = st.session_state.get("undone")
    return (found[-1]["what"] or "the last change") if found else ""


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
    """Callback: to another screen when this run is over, with what is to be filled in there."""
    put(**settings)
    st.session_state["go"] = screen


def apply_edits(
    base: list[Row], delta: Mapping[str, Any], columns: Sequence[str], fresh_row: Mapping[str, Any]
) -> list[Row]:
    """Rows after what a person did in an editable table: cells edited, rows deleted, rows added; blank
    rows are dropped."""
    rows = [dict(row) for row in base]
    for number, cells in delta.get("edited_rows", {}).items():
        if int(number) < len(rows):
            rows[int(number)].update(cells)
    gone = {int(number) for number in delta.get("deleted_rows", ())}
    rows = [row for number, row in enumerate(rows) if number not in gone]
    for added in delta.get("added_rows", ()):
        rows.append({**fresh_row, **{name: value for name, value in added.items() if value is not None}})
    return [
        row
        for row in rows
        if row.get("material")
        or any(row.get(name) is not None for name in columns[1:3] if name not in fresh_row)
    ]


def cells_of(row: Mapping[str, Any]) -> dict[str, str]:
    """A row as text, the way a file would hold it."""
    found = {}
    for name, value in row.items():
        if value is None or (isinstance(value, float) and math.isnan(value)):
            found[name] = ""
        elif isinstance(value, bool):
            found[name] = "yes" if value else "no"
        else:
            found[name] = repr(value) if isinstance(value, float) else str(value).strip()
    return found


def checked(rows: Sequence[Mapping[str, Any]], make: Callable[..., Any], name: str) -> tuple[Any, list[str]]:
    """(record, complaints) of a table's rows: every row is looked at, so that all complaints are seen at
    once.

    ``make(rows, name)`` is :meth:`~substitute.Library.accord_of` or :meth:`~substitute.Library.shelf_of`.
    """
    cells = [cells_of(row) for row in rows]
    complaints = []
    for number, row in enumerate(cells, 1):
        try:
            make([row], name)
        except TableError as error:
            complaints += [
                f"row {number}, {c.column}: {c.message}" for c in error.complaints if c.row is not None
            ]
    if complaints or not cells:
        return None, complaints
    try:
        return make(cells, name), []
    except TableError as error:
        return None, [c.message for c in error.complaints]


def as_text(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> str:
    """Rows as they would be pasted from a spreadsheet, header first."""
    lines = ["\t".join(columns)]
    for row in rows:
        cells = cells_of(row)
        lines.append("\t".join(cells.get(name, "") for name in columns))
    return "\n".join(lines)
