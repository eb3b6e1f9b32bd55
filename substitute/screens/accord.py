"""The accord on the bench: where it comes from (demo, file, pasted rows) and its table to edit; shared by
the screens that work on it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import streamlit as st

from ..answers.words import count
from ..errors import SubstituteError
from ..records import ROLES, Accord
from . import bench_rows, common, fields, work
from .grid import Grid
from .opening import Opening
from .words import word

if TYPE_CHECKING:
    from ..library import Library

FIRST_DEMO, FIRST_MISSING, FIRST_REASON = "pull-down-desk", "rosewood oil", "law"
FRESH = {"strength_pct": 100.0, "role": "support", "optional": False}
LINES = Grid(
    table="accord",
    held="rows",
    kinds={"material": object, "parts": float, "strength_pct": float, "role": object, "optional": bool},
    fresh=FRESH,
    own={"demo": ""},
    told="the formula was edited",
    alt="The accord's lines, to be edited",
    headed={
        "material": st.column_config.TextColumn("material", help=word("material"), width=230, max_chars=120),
        "parts": st.column_config.NumberColumn("parts [by mass]", help=word("parts"), format="%g"),
        "strength_pct": st.column_config.NumberColumn(
            "strength [%]", help=word("strength"), default=100.0, format="%g"
        ),
        "role": st.column_config.SelectboxColumn(
            "role", options=list(ROLES), default="support", help=word("role")
        ),
        "optional": st.column_config.CheckboxColumn("optional", default=False, help=word("optional")),
    },
)


def demos(lib: Library) -> dict[str, str]:
    """Demo accords: file stem -> its line of intent."""
    from ..tables.formulas import accord_files, read_intents

    if "demos" not in st.session_state:
        said = read_intents(lib.demo / "intents.csv")
        st.session_state["demos"] = {
            path.stem: said.get(path.stem, "") for path in accord_files(lib.demo / "accords")
        }
    found: dict[str, str] = st.session_state["demos"]
    return found


def open_demo(lib: Library, stem: str, missing: Sequence[str] = ()) -> None:
    found = lib.read_accord(lib.demo / "accords" / f"{stem}.csv")
    work.set_accord(stem, bench_rows.rows_of(found, lib.tables.materials), demo=stem, missing=missing)


def start(lib: Library) -> None:
    """The demo's first accord, where nothing is open yet."""
    now = work.state()
    if not now["rows"] and not now["name"]:
        stem = FIRST_DEMO if FIRST_DEMO in demos(lib) else next(iter(demos(lib)))
        found = lib.read_accord(lib.demo / "accords" / f"{stem}.csv")
        held = [lib.tables.materials[id].name for id in found.active()]
        missing = now["missing"] or ([FIRST_MISSING] if FIRST_MISSING in held else [])
        now.update(
            name=stem, demo=stem, rows=bench_rows.rows_of(found, lib.tables.materials), missing=missing
        )
        if missing == [FIRST_MISSING] and work.setting("because") == "unavailable":
            work.put(because=FIRST_REASON)
        work.renew("accord")


def accord_box(lib: Library) -> None:
    """The accord's name, folded over all the ways to bring another one to the bench."""
    start(lib)
    now = work.state()
    tag = " (demo)" if now["demo"] else ""
    label = f"Accord: {common.titled(now['name']) or 'new'}{tag}"
    with work.box("accord", label, help="Open, paste or pick another accord."):
        intent = demos(lib).get(now["demo"], "")
        if intent:
            st.caption(common.md(intent))
        st.selectbox(
            "One of the demo's accords",
            list(demos(lib)),
            index=None,
            key="pick_demo",
            on_change=_picked,
            args=(lib,),
            filter_mode="contains",
            format_func=common.titled,
            help="A scenario of our own: the accords of a travelling library.",
        )
        FROM_OUTSIDE.draw(lib)
    FROM_OUTSIDE.fault()


def formula(lib: Library) -> Accord | None:
    """The formula folded to a line, to be opened and edited; the accord, or ``None`` while a row is at
    fault."""
    now = work.state()
    found, complaints = bench_rows.checked(now["rows"], lib.accord_of, now["name"] or "accord")
    folded = st.expander(
        f"The formula: {count(len(now['rows']), 'line')}",
        key="formula",
        on_change="rerun",
        expanded=bool(complaints),
    )
    if folded.open:
        with folded:
            _adding(lib)
            LINES.draw()
    if complaints:
        st.error("Mend the table:\n" + "\n".join(f"- {common.md(one)}" for one in complaints[:12]))
        return None
    if found is None:
        st.info("The formula is empty. Open an accord above, paste rows, or add a line.")
        return None
    return Accord(now["name"] or "accord", found.lines, demos(lib).get(now["demo"], ""))


def accord_question(lib: Library) -> Accord | None:
    """Box and formula together, for screens that ask nothing else of the accord."""
    accord_box(lib)
    return formula(lib)


def bring(action: Callable[..., None], *args: object) -> None:
    """Another accord comes to the bench: ask first if one of the person's own would be put away."""
    now = work.state()
    if now["rows"] and not now["demo"]:
        name = common.titled(now["name"])
        work.ask(
            f"{name} is on the bench and would be put away. Undo can bring it back.",
            "Put it away",
            action,
            *args,
        )
    else:
        action(*args)


def _picked(lib: Library) -> None:
    chosen = st.session_state["pick_demo"]
    if chosen:
        bring(open_demo, lib, chosen)


def _take(lib: Library, data: bytes, name: str) -> None:
    try:
        found = lib.read_accord(data, name=name)
    except SubstituteError as error:
        FROM_OUTSIDE.wrong(error)
        return
    bring(work.set_accord, found.name, bench_rows.rows_of(found, lib.tables.materials))


FROM_OUTSIDE = Opening(
    "accord",
    bench_rows.ACCORD_COLUMNS,
    file="A file: CSV or XLSX with the columns material and parts",
    also_read="Also read: strength_pct, role, optional. Comma, semicolon or tab; point or decimal comma.",
    rows="Rows from a spreadsheet, or typed",
    rows_help=(
        "With or without a header. Without one the columns are: material, parts, strength [%], role,"
        " optional."
    ),
    example="material\tparts\tstrength_pct\nlinalool\t90\t100",
    button="Put them on the bench",
    wanted="rows with a material and its parts",
    take=_take,
    keys=("pasted", "paste"),
)


def _adding(lib: Library) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        fields.new_name(lib, "Add a material", "pick_line")
        st.number_input(
            "Parts [by mass]",
            min_value=0.0,
            value=10.0,
            format="%g",
            key="pick_parts",
            help=word("parts"),
            width=130,
        )
        fields.new_strength("pick_pct")
        st.button("Add", key="add_line", on_click=_added, args=(lib,))


def _added(lib: Library) -> None:
    typed = st.session_state.get("pick_line")
    if typed:
        now = work.state()
        name = fields.best(lib, typed)[0] or typed
        line = {
            **FRESH,
            "material": name,
            "parts": float(st.session_state["pick_parts"]),
            "strength_pct": float(st.session_state["pick_pct"]),
        }
        work.remember(f"{name} was added")
        now.update(rows=[*now["rows"], line], demo="")
        work.renew("accord")


def lines_of(lib: Library, found: Accord) -> list[str]:
    """Names of the materials that an accord holds, each once."""
    return [lib.tables.materials[id].name for id in found.active()]


def holding(lib: Library, id: str) -> list[str]:
    """Demo accords that hold a material, by their stems."""
    if "demo_holds" not in st.session_state:
        found = lib.read_accords(lib.demo / "accords")[0]
        st.session_state["demo_holds"] = {one.name: set(one.active()) for one in found}
    held: dict[str, set[str]] = st.session_state["demo_holds"]
    return [name for name, ids in held.items() if id in ids]
