"""Shelf: what a person has, in which strengths; edited in a table and saved as a file."""

from __future__ import annotations

import streamlit as st

from ..errors import SubstituteError
from . import common, work

FRESH = {"strength_pct": 100.0}


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Shelf", "What you have, and in which strengths you keep it. Every other screen can be held to it."
    )
    lib = common.library()
    _source(lib)
    rows = work.state()["shelf"]
    if not rows:
        st.info("The shelf is empty. Take the demo's, open a file, or type a material into the table.")
    _editor()
    found, complaints = work.checked(work.state()["shelf"], lib.shelf_of, "the shelf")
    if complaints:
        st.error("Mend the table:\n" + "\n".join(f"- {common.md(one)}" for one in complaints[:12]))
        return
    if found is None:
        return
    _what_it_is(lib, found)
    from ..tables.formulas import write_shelf

    common.downloads(
        "shelf",
        "My shelf",
        lambda: [_sheet(lib, found), *lib.shelf_sheet(found)],
        csv=lambda: write_shelf(found),
    )
    common.field(st.toggle, "Hold the other screens to this shelf", "use_shelf", help=common.word("shelf"))


def _source(lib) -> None:
    with st.container(horizontal=True):
        with st.popover("Demo shelf"):
            for stem, label in (("shelf", "The full demo shelf"), ("shelf-starter", "A starter's shelf")):
                st.button(
                    label, key=f"take_{stem}", on_click=_take, args=(lib, lib.demo / f"{stem}.csv", None)
                )
        with st.popover("Open a file"):
            st.file_uploader(
                "CSV or XLSX with the column material",
                type=["csv", "tsv", "txt", "xlsx", "xlsm"],
                key=f"shelf_file_{st.session_state.get('shelf_files', 0)}",
                on_change=_uploaded,
                args=(lib,),
                help="Also read: strength_pct, grams, price_per_gram.",
            )
        with st.popover("Paste rows"):
            st.text_area(
                "Rows from a spreadsheet",
                key="pasted_shelf",
                height=140,
                placeholder="material\tstrength_pct\tgrams\tprice_per_gram",
            )
            st.button("Put them on the shelf", key="paste_shelf", on_click=_pasted, args=(lib,))
        with st.popover("Add a bottle"):
            st.selectbox(
                "Material",
                common.names(lib),
                index=None,
                key="pick_bottle",
                filter_mode="contains",
                accept_new_options=True,
                help=common.word("material"),
                placeholder="pick or type",
            )
            st.number_input(
                "Strength [%]",
                min_value=0.001,
                max_value=100.0,
                value=100.0,
                format="%g",
                key="pick_strength",
                help=common.word("strength"),
            )
            st.button("Add", key="add_bottle", on_click=_added)
    error = st.session_state.pop("shelf_error", None)
    if error:
        common.fault(error)


def _take(lib, source, name: str | None) -> None:
    try:
        found = lib.read_shelf(source, name=name)
    except SubstituteError as error:
        st.session_state["shelf_error"] = error
        return
    work.set_shelf(work.shelf_rows_of(found, lib.tables.materials))


def _uploaded(lib) -> None:
    file = st.session_state.get(f"shelf_file_{st.session_state.get('shelf_files', 0)}")
    if file is not None:
        _take(lib, file.getvalue(), file.name)
        st.session_state["shelf_files"] = st.session_state.get("shelf_files", 0) + 1


def _pasted(lib) -> None:
    text = st.session_state.get("pasted_shelf", "")
    if not text.strip():
        st.session_state["shelf_error"] = "nothing was pasted; rows with a material are wanted"
        return
    first = text.lstrip().splitlines()[0]
    if "material" not in first.lower():
        split = next((mark for mark in "\t;," if mark in first), "\t")
        text = split.join(work.SHELF_COLUMNS[: first.count(split) + 1]) + "\n" + text.lstrip("\r\n")
    _take(lib, text.encode("utf-8", "replace"), "pasted rows")


def _added() -> None:
    chosen = st.session_state.get("pick_bottle")
    if chosen:
        work.set_shelf(
            [
                *work.state()["shelf"],
                {
                    "material": chosen,
                    "strength_pct": float(st.session_state["pick_strength"]),
                    "grams": None,
                    "price_per_gram": None,
                },
            ]
        )


def _editor() -> None:
    import pandas as pd

    version = st.session_state.setdefault("shelf_version", 0)
    key = f"shelf_table_{version}"
    if key not in st.session_state:
        version = st.session_state["shelf_version"] = version + 1
        key = f"shelf_table_{version}"
        st.session_state["shelf_base"] = [dict(row) for row in work.state()["shelf"]]
    base = pd.DataFrame(st.session_state["shelf_base"], columns=list(work.SHELF_COLUMNS)).astype(
        {"material": object, "strength_pct": float, "grams": float, "price_per_gram": float}
    )
    st.data_editor(
        base, key=key, on_change=_edited, args=(key,), num_rows="dynamic", hide_index=True, height="content" if len(base) <= 14 else 520, alt="The shelf, to be edited",
        column_config={
            "material": st.column_config.TextColumn("material", help=common.word("material"), width=230, max_chars=120),
            "strength_pct": st.column_config.NumberColumn("strength [%]", help=common.word("strength"), default=100.0, format="%g"),
            "grams": st.column_config.NumberColumn("there is [g]", help="How much is left; empty if you do not count it.", format="%g"),
            "price_per_gram": st.column_config.NumberColumn("price [per g]", help="In any one currency, of what is in the bottle.", format="%g"),
        },
    )  # fmt: skip


def _edited(key: str) -> None:
    work.state()["shelf"] = work.apply_edits(
        st.session_state["shelf_base"], st.session_state[key], work.SHELF_COLUMNS, FRESH
    )


def _what_it_is(lib, found) -> None:
    kinds = [lib.tables.materials[id].kind for id in found.materials()]
    counts = ", ".join(
        f"{kinds.count(kind)} {kind}{'s' if kinds.count(kind) != 1 else ''}" for kind in dict.fromkeys(kinds)
    )
    st.caption(f"{len(found.stock)} bottles of {len(kinds)} materials: {counts}.")
    law = [
        (lib.tables.materials[id].name, ", ".join(words))
        for id in found.materials()
        if (words := lib.status()(id))
    ]
    if law:
        with st.expander(f"What the law says of them ({len(law)})"):
            common.table(("material", "law"), law, "Materials on the shelf that the law holds")
    common.sources(
        lib, *common.material_sources(lib, found.materials()), title="Sources of what is on file about them"
    )


def _sheet(lib, found):
    from ..accords.sheets import Sheet

    rows = [
        (
            lib.tables.materials[item.material].name,
            lib.tables.materials[item.material].main_cas,
            item.strength,
            item.grams,
            item.price,
        )
        for item in found.stock
    ]
    return Sheet("My shelf", ("material", "CAS", "strength [%]", "there is [g]", "price [per g]"), rows)
