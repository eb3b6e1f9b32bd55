"""The accord in an editable table: from the demo, a file, or pasted from a spreadsheet; shared by the screens that work on it."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from ..errors import SubstituteError
from ..records import ROLES, Accord
from . import common, work

FIRST_DEMO, FIRST_MISSING = "may-day-loan", "hydroxycitronellal"
FRESH = {"strength_pct": 100.0, "role": "support", "optional": False}


def demos(lib) -> dict[str, str]:
    """Demo accords: file stem -> its line of intent."""
    from ..tables.formulas import accord_files, read_intents

    if "demos" not in st.session_state:
        said = read_intents(lib.demo / "intents.csv")
        st.session_state["demos"] = {
            path.stem: said.get(path.stem, "") for path in accord_files(lib.demo / "accords")
        }
    return st.session_state["demos"]


def open_demo(lib, stem: str, missing: Sequence[str] = ()) -> None:
    found = lib.read_accord(lib.demo / "accords" / f"{stem}.csv")
    work.set_accord(stem, work.rows_of(found, lib.tables.materials), demo=stem, missing=missing)


def start(lib) -> None:
    """The demo's first accord, where nothing is open yet."""
    if not work.state()["rows"] and not work.state()["name"]:
        open_demo(lib, FIRST_DEMO if FIRST_DEMO in demos(lib) else next(iter(demos(lib))), [FIRST_MISSING])


def accord_editor(lib, *, open_table: bool = True) -> Accord | None:
    """The accord's table and where it comes from; the accord, or ``None`` while a row is at fault."""
    start(lib)
    _source(lib)
    now = work.state()
    intent = demos(lib).get(now["demo"], "")
    st.subheader(now["name"] or "new accord", anchor=False)
    if intent:
        st.caption(f"{common.md(intent)} (demo)")
    if open_table:
        _editor(lib)
    else:
        with st.expander(f"The formula ({len(now['rows'])} lines)"):
            _editor(lib)
    found, complaints = work.checked(now["rows"], lib.accord_of, now["name"] or "accord")
    if complaints:
        common.fault("Mend the table: " + complaints[0]) if len(complaints) == 1 else st.error(
            "Mend the table:\n" + "\n".join(f"- {common.md(one)}" for one in complaints[:12])
        )
        return None
    if found is None:
        st.info(
            "The table is empty. Pick a demo accord, open a file, paste rows, or type a material and its parts into the table."
        )
        return None
    return Accord(now["name"] or "accord", found.lines, intent)


def _source(lib) -> None:
    """Where an accord comes from: demo, file, pasted rows; and undo."""
    stems = list(demos(lib))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        with st.popover("Demo accord"):
            st.selectbox(
                "Pick one of the demo's accords",
                stems,
                index=None,
                key="pick_demo",
                on_change=_picked,
                args=(lib,),
                filter_mode="contains",
                format_func=lambda stem: stem.replace("-", " "),
                help="A scenario of our own: the accords of a travelling library.",
            )
        with st.popover("Open a file"):
            st.file_uploader(
                "CSV or XLSX with the columns material and parts",
                type=["csv", "tsv", "txt", "xlsx", "xlsm"],
                key=f"accord_file_{st.session_state.get('accord_files', 0)}",
                on_change=_uploaded,
                args=(lib,),
                help="Also read: strength_pct, role, optional. Comma, semicolon or tab; point or decimal comma.",
            )
        with st.popover("Paste rows"):
            st.text_area(
                "Rows from a spreadsheet",
                key="pasted",
                height=160,
                placeholder="material\tparts\tstrength_pct\nlinalool\t90\t100",
                help="Copy the cells with or without their header. Without one the columns are: material, parts, strength [%], role, optional.",
            )
            st.button("Put them into the table", key="paste", on_click=_pasted, args=(lib,))
        with st.popover("Add a line"):
            st.selectbox(
                "Material",
                common.names(lib),
                index=None,
                key="pick_line",
                filter_mode="contains",
                accept_new_options=True,
                help=common.word("material"),
                placeholder="pick or type",
            )
            st.number_input(
                "Parts [by mass]",
                min_value=0.0,
                value=10.0,
                format="%g",
                key="pick_parts",
                help=common.word("parts"),
            )
            st.button("Add", key="add_line", on_click=_added)
        st.button(
            "Undo",
            key="undo_accord",
            on_click=work.undo,
            disabled=not st.session_state.get("undo"),
            help="Back to the accord before the last change.",
        )
    error = st.session_state.pop("accord_error", None)
    if error:
        common.fault(error)


def _picked(lib) -> None:
    if st.session_state["pick_demo"]:
        open_demo(lib, st.session_state["pick_demo"])


def _take(lib, data: bytes, name: str) -> None:
    try:
        found = lib.read_accord(data, name=name)
    except SubstituteError as error:
        st.session_state["accord_error"] = error
        return
    work.set_accord(found.name, work.rows_of(found, lib.tables.materials))


def _uploaded(lib) -> None:
    file = st.session_state.get(f"accord_file_{st.session_state.get('accord_files', 0)}")
    if file is not None:
        _take(lib, file.getvalue(), file.name)
        st.session_state["accord_files"] = (
            st.session_state.get("accord_files", 0) + 1
        )  # an emptied field, ready for the next


def _pasted(lib) -> None:
    text = st.session_state.get("pasted", "")
    if not text.strip():
        st.session_state["accord_error"] = "nothing was pasted; rows with a material and its parts are wanted"
        return
    first = text.lstrip().splitlines()[0]
    if "material" not in first.lower():
        split = next((mark for mark in "\t;," if mark in first), "\t")
        text = split.join(work.ACCORD_COLUMNS[: first.count(split) + 1]) + "\n" + text.lstrip("\r\n")
    _take(lib, text.encode("utf-8", "replace"), "pasted rows")


def _added() -> None:
    chosen = st.session_state.get("pick_line")
    if chosen:
        now = work.state()
        work.set_accord(
            now["name"],
            [*now["rows"], {"material": chosen, "parts": float(st.session_state["pick_parts"]), **FRESH}],
            missing=now["missing"],
        )


def _editor(lib) -> None:
    import pandas as pd

    version = st.session_state.setdefault("accord_version", 0)
    key = f"accord_table_{version}"
    if key not in st.session_state:  # first seen, or back from another screen: start from what is held now
        version = st.session_state["accord_version"] = version + 1
        key = f"accord_table_{version}"
        st.session_state["accord_base"] = [dict(row) for row in work.state()["rows"]]
    base = pd.DataFrame(st.session_state["accord_base"], columns=list(work.ACCORD_COLUMNS)).astype(
        {"parts": float, "strength_pct": float, "optional": bool, "material": object, "role": object}
    )
    st.data_editor(
        base, key=key, on_change=_edited, args=(key,), num_rows="dynamic", hide_index=True, height="content" if len(base) <= 16 else 560, alt="The accord's lines, to be edited",
        column_config={
            "material": st.column_config.TextColumn("material", help=common.word("material"), width=230, max_chars=120),
            "parts": st.column_config.NumberColumn("parts [by mass]", help=common.word("parts"), format="%g"),
            "strength_pct": st.column_config.NumberColumn("strength [%]", help=common.word("strength"), default=100.0, format="%g"),
            "role": st.column_config.SelectboxColumn("role", options=list(ROLES), default="support", help=common.word("role")),
            "optional": st.column_config.CheckboxColumn("optional", default=False, help=common.word("optional")),
        },
    )  # fmt: skip


def _edited(key: str) -> None:
    work.remember()
    now = work.state()
    now["rows"] = work.apply_edits(
        st.session_state["accord_base"], st.session_state[key], work.ACCORD_COLUMNS, FRESH
    )
    now["demo"] = ""


def lines_of(lib, found: Accord) -> list[str]:
    """Names of the materials that an accord holds, each once."""
    return [lib.tables.materials[id].name for id in found.active()]


def sheet_of(found: Accord, lib):
    """The accord as a sheet to download."""
    from ..accords.sheets import Sheet

    rows = [
        (
            lib.tables.materials[line.material].name,
            lib.tables.materials[line.material].main_cas,
            line.parts,
            line.strength,
            line.role,
            line.optional,
        )
        for line in found.lines
    ]
    return Sheet(found.name, ("material", "CAS", "parts [by mass]", "strength [%]", "role", "optional"), rows)
