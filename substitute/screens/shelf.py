"""Shelf: what a person has, in which strengths; edited in a table and saved as a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from ..answers import lay_out
from ..answers.words import count
from ..errors import SubstituteError
from ..records import Shelf
from ..tables.shelves import read_shelf
from . import bench_rows, common, fields, side, work
from .grid import Grid
from .opening import Opening
from .words import word

if TYPE_CHECKING:
    from ..library import Library

BOTTLES = Grid(
    table="shelf",
    held="shelf",
    kinds={"material": object, "strength_pct": float, "grams": float, "price_per_gram": float},
    fresh={"strength_pct": 100.0},
    own={"shelf_demo": False},
    told="the shelf was edited",
    alt="The shelf, to be edited",
    most=12,
    high=430,
    headed={
        "material": st.column_config.TextColumn("material", help=word("material"), width=230, max_chars=120),
        "strength_pct": st.column_config.NumberColumn(
            "strength [%]", help=word("strength"), default=100.0, format="%g"
        ),
        "grams": st.column_config.NumberColumn(
            "there is [g]", help="How much is left; empty if you do not count it.", format="%g"
        ),
        "price_per_gram": st.column_config.NumberColumn(
            "price [per g]", help="In any one currency, of what is in the bottle.", format="%g"
        ),
    },
)
DEMO = {"shelf": "The full demo shelf", "shelf-starter": "A starter's shelf"}


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    with common.question():
        _ask(lib)
        side.phone_bench(lib)
    with common.answer():
        found, complaints = bench_rows.checked(work.state()["shelf"], lib.shelf_of, "the shelf")
        if complaints:
            st.error("Mend the table:\n" + "\n".join(f"- {common.md(one)}" for one in complaints[:12]))
        elif found is None:
            common.headline("The shelf is empty")
            common.following(
                "type a material above and put it on the shelf, open a file, or look at the demo's."
            )
        else:
            _head(lib, found)
        if work.state()["shelf"]:
            BOTTLES.draw()
        if found is not None:
            _rest(lib, found)


def _ask(lib: Library) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        fields.new_name(lib, "Put a bottle on the shelf", "pick_bottle", width=300)
        fields.new_strength("pick_strength")
        st.button("Add", key="add_bottle", on_click=_added, args=(lib,))
        with work.box("shelf", "Open, paste, demo"):
            FROM_OUTSIDE.draw(lib)
            for stem, label in DEMO.items():
                st.button(f"{label} (demo)", key=f"take_{stem}", on_click=take_demo, args=(lib, stem))
    FROM_OUTSIDE.fault()


def _head(lib: Library, found: Shelf) -> None:
    kinds = [lib.tables.materials[id].kind for id in found.materials()]
    said = ", ".join(count(kinds.count(kind), kind) for kind in dict.fromkeys(kinds))
    tag = " (demo)" if work.state()["shelf_demo"] else ""
    common.headline(f"{count(len(found.stock), 'bottle')} of {count(len(kinds), 'material')}{tag}", said)
    with st.container(horizontal=True, vertical_alignment="center"):
        fields.field(st.toggle, "Hold the other screens to this shelf", "use_shelf", help=word("shelf"))
        st.button("what does it make?", key="to_plan", on_click=work.go, args=("plan",))


def take_demo(lib: Library, stem: str) -> None:
    """Callback: one of the demo's shelves."""
    _offer(lib, read_shelf(lib.demo / f"{stem}.csv", lib.names), demo=True)


def _take(lib: Library, data: bytes, name: str) -> None:
    try:
        found = read_shelf(data, lib.names, name=name)
    except SubstituteError as error:
        FROM_OUTSIDE.wrong(error)
        return
    _offer(lib, found)


def _offer(lib: Library, found: Shelf, *, demo: bool = False) -> None:
    """Put a shelf up; ask first if one of the person's own would be put away."""
    rows = bench_rows.shelf_rows_of(found, lib.tables.materials)
    now = work.state()
    if now["shelf"] and not now["shelf_demo"]:
        work.ask(
            f"{count(len(now['shelf']), 'bottle')} stand on the shelf and would be put away. Undo can bring"
            " them back.",
            "Put them away",
            _put,
            rows,
            demo,
        )
    else:
        _put(rows, demo)


def _put(rows: list[bench_rows.Row], demo: bool) -> None:
    work.set_shelf(rows, demo=demo)


FROM_OUTSIDE = Opening(
    "shelf",
    bench_rows.SHELF_COLUMNS,
    file="A file: CSV or XLSX with the column material",
    also_read="Also read: strength_pct, grams, price_per_gram.",
    rows="Rows from a spreadsheet",
    example="material\tstrength_pct\tgrams\tprice_per_gram",
    button="Put them on the shelf",
    wanted="rows with a material",
    take=_take,
    keys=("pasted_shelf", "paste_shelf"),
)


def _added(lib: Library) -> None:
    typed = st.session_state.get("pick_bottle")
    if typed:
        name = fields.best(lib, typed)[0] or typed
        bottle = {
            "material": name,
            "strength_pct": float(st.session_state["pick_strength"]),
            "grams": None,
            "price_per_gram": None,
        }
        work.set_shelf([*work.state()["shelf"], bottle])


def _rest(lib: Library, found: Shelf) -> None:
    from ..tables.shelves import write_shelf

    with st.container(horizontal=True, vertical_alignment="center"):
        common.downloads(
            "shelf",
            lambda: lay_out("shelf", lib.shelf_list(found).to_dict()),
            csv=lambda: write_shelf(found),
        )
        st.button("Empty the shelf", key="empty_shelf", type="tertiary", on_click=_ask_empty)
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


def _ask_empty() -> None:
    work.ask(
        f"Take all {count(len(work.state()['shelf']), 'bottle')} off the shelf? Undo can bring them back.",
        "Empty it",
        _put,
        [],
        False,
    )
