"""Work as one plain JSON file: what *Save work* writes, *Open work* reads, and the browser keeps between
visits."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..errors import InputError, SubstituteError
from ..records import ROLES
from . import asked, bench_rows, common, work

if TYPE_CHECKING:
    from ..library import Library

VERSION = 1
DEGREES = ("slightly", "clearly", "far")
WANTED = "a file saved here with 'Save work' is wanted"


def to_file() -> str:
    """All work as one plain JSON text."""
    now = work.state()
    kept = {
        "substitute_work": VERSION,
        "accord": {key: now[key] for key in ("name", "demo", "rows", "missing", "use", "keep")},
        "shelf": now["shelf"],
        "shelf_demo": now["shelf_demo"],
        "trials": now["trials"],
        "tables": dict(now["tables"]),
        "settings": now["settings"],
    }
    return json.dumps(kept, indent=1, ensure_ascii=False)


def from_file(data: bytes, name: str, library: Library) -> None:
    """Open saved work in place of the work here; nothing changes if anything in it is wrong.

    Raises :class:`~substitute.errors.InputError` that names the part at fault.
    """
    kept = _read(data, name)
    accord = _part(kept, "accord", dict, name)
    rows = _rows(_part(accord, "rows", list, name), bench_rows.ACCORD_COLUMNS, f"{name}, accord")
    shelf = _rows(_part(kept, "shelf", list, name), bench_rows.SHELF_COLUMNS, f"{name}, shelf")
    settings = asked.plain()
    for key, value in _part(kept, "settings", dict, name).items():
        if key in asked.SETTINGS:
            settings[key] = asked.read(key, value)
    trials = [
        _trial(entry, f"{name}, trial {number}")
        for number, entry in enumerate(_part(kept, "trials", list, name), 1)
    ]
    library, tables = _with_tables(library, _part(kept, "tables", dict, name), name)
    for part, make, called in ((rows, library.accord_of, "accord"), (shelf, library.shelf_of, "shelf")):
        complaints = bench_rows.checked(part, make, f"{name}, {called}")[1]
        if complaints:
            raise InputError(f"{name}, {called}, {complaints[0]}")
    st.session_state["work"] = {
        **work.fresh(),
        "name": str(accord.get("name", ""))[:80],
        "demo": str(accord.get("demo", ""))[:80],
        "rows": rows,
        "missing": _texts(accord, "missing"),
        "use": _texts(accord, "use"),
        "keep": _texts(accord, "keep"),
        "shelf": shelf,
        "shelf_demo": kept.get("shelf_demo") is True,
        "trials": trials,
        "tables": [[key, text] for key, text in sorted(tables.items())],
        "settings": settings,
    }
    work.put(**settings)
    st.session_state["link"] = {}
    work.renew("accord")
    work.renew("shelf")


def _read(data: bytes, name: str) -> dict[str, Any]:
    """A work file's JSON, of a version that is known."""
    try:
        kept = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(f"{name}: is not a work file (not text); {WANTED}") from None
    except (ValueError, RecursionError) as error:
        raise InputError(f"{name}: is not a work file ({str(error)[:80]}); {WANTED}") from None
    if not isinstance(kept, dict) or kept.get("substitute_work") != VERSION:
        raise InputError(f"{name}: is not a work file of version {VERSION}; {WANTED}")
    return kept


def _with_tables(library: Library, tables: Mapping[str, Any], name: str) -> tuple[Library, Mapping[str, Any]]:
    """The library with the file's own tables, and these; without, where they do not fit any more: the rest of
    the work is worth having."""
    if not tables:
        return library, tables
    try:
        return common.with_tables({str(key): str(text) for key, text in tables.items()}), tables
    except SubstituteError as error:
        st.session_state["work_error"] = InputError(f"{name}: its own tables were left out. {error}")
        return library, {}


def _texts(kept: Mapping[str, Any], key: str) -> list[str]:
    found = kept.get(key, [])
    return [one for one in found if isinstance(one, str)] if isinstance(found, list) else []


def _part(kept: Mapping[str, Any], key: str, kind: type, name: str) -> Any:
    value = kept.get(key, kind())
    if not isinstance(value, kind):
        raise InputError(f"{name}: '{key}' is damaged; {'a list' if kind is list else 'an object'} is wanted")
    return value


def _rows(rows: list[Any], columns: Sequence[str], name: str) -> list[bench_rows.Row]:
    """Rows of a saved table with the columns we know and plain cells."""
    found = []
    for number, row in enumerate(rows, 1):
        if not isinstance(row, dict) or not isinstance(row.get("material"), str):
            raise InputError(f"{name}, row {number}: is damaged; a row with a material is wanted")
        found.append({column: _cell(row, column, f"{name}, row {number}") for column in columns})
    return found


def _cell(row: Mapping[str, Any], column: str, name: str) -> Any:
    value = row.get(column)
    if column == "optional":
        return value is True
    if column == "role":
        return value if value in ROLES else "support"
    if column == "material" or value is None:
        return value
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(f"{name}, {column}: '{str(value)[:40]}' is not a number")
    return float(value)


def _trial(entry: Any, name: str) -> dict[str, Any]:
    if not isinstance(entry, dict):
        raise InputError(f"{name}: is damaged")
    verdicts = entry.get("verdicts", {})
    if not isinstance(verdicts, dict) or any(said not in work.VERDICTS for said in verdicts.values()):
        raise InputError(f"{name}: a verdict is one of {', '.join(work.VERDICTS)}")
    degrees = entry.get("degrees", {})
    if not isinstance(degrees, dict) or any(said not in DEGREES for said in degrees.values()):
        raise InputError(f"{name}: a degree is one of {', '.join(DEGREES)}")
    return {
        "name": str(entry.get("name", "trial"))[:80],
        "rows": _rows(_part(entry, "rows", list, name), bench_rows.ACCORD_COLUMNS, name),
        "verdicts": {str(k): v for k, v in verdicts.items()},
        "degrees": {str(k): v for k, v in degrees.items()},
        "note": str(entry.get("note", ""))[:500],
    }
