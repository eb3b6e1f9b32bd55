"""Work in progress: an accord, a shelf, trials and settings, kept over all screens and saved as one plain file.

Formulas live in the session and in the file a person saves; never in a link or a log. A link holds only what is looked at.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from ..errors import InputError, TableError
from ..records import ROLES, Accord, Shelf

VERSION = 1
MOST_UNDO = 30
REASONS = ("unavailable", "limit", "law", "price")
VERDICTS = ("too_strong", "right", "too_weak")
SETTINGS: dict[str, Any] = {
    "material": "", "because": "unavailable", "blend": 1, "top": 5, "of": "linalool", "to": "", "product": "", "dose": 10.0, "market": "EU", "use_shelf": False,
    "use_accord": False, "max_new": 0, "hours": 2.0, "grams": 20.0, "balance": 0.01, "since": "", "buy": 3, "on": "",
}  # fmt: skip
RANGES = {
    "blend": (1, 3),
    "top": (1, 50),
    "dose": (0.0001, 100.0),
    "max_new": (0, 6),
    "hours": (0.0, 400.0),
    "grams": (0.1, 100_000.0),
    "balance": (0.00001, 10.0),
    "buy": (1, 10),
}
ACCORD_COLUMNS = ("material", "parts", "strength_pct", "role", "optional")
SHELF_COLUMNS = ("material", "strength_pct", "grams", "price_per_gram")


def state() -> dict:
    """This window's work; each window has its own."""
    if "work" not in st.session_state:
        st.session_state["work"] = {
            "name": "",
            "demo": "",
            "rows": [],
            "missing": [],
            "shelf": [],
            "trials": [],
            "settings": dict(SETTINGS),
        }
        st.session_state["undo"] = []
    return st.session_state["work"]


def setting(name: str):
    return state()["settings"][name]


def put(**values) -> None:
    """Set settings from code (a callback or before the widgets of a run); their widgets follow."""
    for name, value in values.items():
        state()["settings"][name] = value
        st.session_state[f"in_{name}"] = value


def keep(name: str) -> None:
    """Callback of a settings widget: remember what it shows."""
    state()["settings"][name] = st.session_state[f"in_{name}"]


# -- links ---------------------------------------------------------------------------------------------------------------


def read_setting(name: str, value: Any, allowed: Sequence[str] | None = None) -> Any:
    """A value from a link or a file as the setting wants it; raises :class:`~substitute.errors.InputError`."""
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
            f"{name}: '{text[:40]}' is not known: one of {', '.join(filter(None, list(allowed)[:8]))}{' …' if len(allowed) > 8 else ''}"
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


# -- the accord ----------------------------------------------------------------------------------------------------------


def rows_of(accord: Accord, materials) -> list[dict]:
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


def shelf_rows_of(shelf: Shelf, materials) -> list[dict]:
    return [
        {
            "material": materials[item.material].name,
            "strength_pct": item.strength,
            "grams": item.grams,
            "price_per_gram": item.price,
        }
        for item in shelf.stock
    ]


def set_accord(name: str, rows: list[dict], *, demo: str = "", missing: Sequence[str] = ()) -> None:
    """Another accord in the table; the old one can be undone."""
    remember()
    state().update(name=name, rows=rows, demo=demo, missing=list(missing))
    renew("accord")


def set_shelf(rows: list[dict]) -> None:
    state()["shelf"] = rows
    renew("shelf")


def renew(table: str) -> None:
    """Give an editable table a new key, so that it starts from what the state holds."""
    st.session_state[f"{table}_version"] = st.session_state.get(f"{table}_version", 0) + 1


def remember() -> None:
    kept = {key: json.loads(json.dumps(state()[key])) for key in ("name", "demo", "rows", "missing")}
    undo = st.session_state.setdefault("undo", [])
    if kept["rows"] and (not undo or undo[-1] != kept):
        undo.append(kept)
        del undo[:-MOST_UNDO]


def undo() -> None:
    """Back to the accord before the last change."""
    if st.session_state.get("undo"):
        state().update(st.session_state["undo"].pop())
        renew("accord")


def apply_edits(base: list[dict], delta: Mapping, columns: Sequence[str], fresh: Mapping) -> list[dict]:
    """Rows after what a person did in an editable table: cells edited, rows deleted, rows added; blank rows are dropped."""
    rows = [dict(row) for row in base]
    for number, cells in delta.get("edited_rows", {}).items():
        if int(number) < len(rows):
            rows[int(number)].update(cells)
    gone = {int(number) for number in delta.get("deleted_rows", ())}
    rows = [row for number, row in enumerate(rows) if number not in gone]
    for added in delta.get("added_rows", ()):
        rows.append({**fresh, **{name: value for name, value in added.items() if value is not None}})
    return [
        row
        for row in rows
        if row.get("material") or any(row.get(name) is not None for name in columns[1:3] if name not in fresh)
    ]


def cells_of(row: Mapping) -> dict[str, str]:
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


def checked(rows: Sequence[Mapping], make, name: str) -> tuple[Any, list[str]]:
    """(record, complaints) of a table's rows: every row is looked at, so that all complaints are seen at once.

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


# -- the file ------------------------------------------------------------------------------------------------------------


def to_file() -> str:
    """All work as one plain JSON file."""
    work = state()
    kept = {
        "substitute_work": VERSION,
        "accord": {key: work[key] for key in ("name", "rows", "missing")},
        "shelf": work["shelf"],
        "trials": work["trials"],
        "settings": work["settings"],
    }
    return json.dumps(kept, indent=1, ensure_ascii=False)


def from_file(data: bytes, name: str, library) -> None:
    """Open a saved work file in place of the work here; nothing changes if anything in it is wrong."""
    try:
        kept = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(
            f"{name}: is not a work file (not text); a file saved here with 'Save work' is wanted"
        ) from None
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"{name}: is not a work file ({str(error)[:80]}); a file saved here with 'Save work' is wanted"
        ) from None
    if not isinstance(kept, dict) or kept.get("substitute_work") != VERSION:
        raise InputError(
            f"{name}: is not a work file of version {VERSION}; a file saved here with 'Save work' is wanted"
        )
    accord = _part(kept, "accord", dict, name)
    rows = _rows(_part(accord, "rows", list, name), ACCORD_COLUMNS, f"{name}, accord")
    shelf = _rows(_part(kept, "shelf", list, name), SHELF_COLUMNS, f"{name}, shelf")
    settings = dict(SETTINGS)
    for key, value in _part(kept, "settings", dict, name).items():
        if key in SETTINGS:
            settings[key] = read_setting(key, value, REASONS if key == "because" else None)
    trials = [
        _trial(entry, f"{name}, trial {number}")
        for number, entry in enumerate(_part(kept, "trials", list, name), 1)
    ]
    for part, make, called in ((rows, library.accord_of, "accord"), (shelf, library.shelf_of, "shelf")):
        complaints = checked(part, make, f"{name}, {called}")[1]
        if complaints:
            raise InputError(f"{name}, {called}, {complaints[0]}")
    missing = [str(one) for one in accord.get("missing", []) if isinstance(one, str)]
    st.session_state["work"] = {
        "name": str(accord.get("name", ""))[:80],
        "demo": "",
        "rows": rows,
        "missing": missing,
        "shelf": shelf,
        "trials": trials,
        "settings": settings,
    }
    st.session_state["undo"] = []
    put(**settings)
    st.session_state["link"] = {}
    renew("accord")
    renew("shelf")


def _part(kept: Mapping, key: str, kind: type, name: str):
    value = kept.get(key, kind())
    if not isinstance(value, kind):
        raise InputError(f"{name}: '{key}' is damaged; {'a list' if kind is list else 'an object'} is wanted")
    return value


def _rows(rows: list, columns: Sequence[str], name: str) -> list[dict]:
    """Rows of a saved table with the columns we know and plain cells."""
    found = []
    for number, row in enumerate(rows, 1):
        if not isinstance(row, dict) or not isinstance(row.get("material"), str):
            raise InputError(f"{name}, row {number}: is damaged; a row with a material is wanted")
        cells = {}
        for column in columns:
            value = row.get(column)
            if column == "optional":
                value = value is True
            elif column == "role":
                value = value if value in ROLES else "support"
            elif column != "material" and not (
                value is None or (isinstance(value, (int, float)) and not isinstance(value, bool))
            ):
                raise InputError(f"{name}, row {number}, {column}: '{str(value)[:40]}' is not a number")
            cells[column] = float(value) if isinstance(value, int) and not isinstance(value, bool) else value
        found.append(cells)
    return found


def _trial(entry: Any, name: str) -> dict:
    if not isinstance(entry, dict):
        raise InputError(f"{name}: is damaged")
    verdicts = entry.get("verdicts", {})
    if not isinstance(verdicts, dict) or any(said not in VERDICTS for said in verdicts.values()):
        raise InputError(f"{name}: a verdict is one of {', '.join(VERDICTS)}")
    return {
        "name": str(entry.get("name", "trial"))[:80],
        "rows": _rows(_part(entry, "rows", list, name), ACCORD_COLUMNS, name),
        "verdicts": {str(k): v for k, v in verdicts.items()},
        "note": str(entry.get("note", ""))[:500],
    }
