"""Weigh: what to put on the balance, which solutions to make first, which strips to dip, how to check."""

from __future__ import annotations

import streamlit as st

from . import accord as accords
from . import common, work

LINK = ("grams", "balance", "use_shelf")


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Weigh", "The accord in grams and solutions for your balance, with strips to smell before and after."
    )
    lib = common.library()
    for text in work.from_link(LINK, {}):
        common.fault(text)
    accord = accords.accord_editor(lib, open_table=False)
    if accord is None:
        return
    left, middle, right = st.columns(3, vertical_alignment="bottom")
    with left:
        grams = common.field(
            st.number_input,
            "Batch [g]",
            "grams",
            min_value=0.1,
            max_value=100_000.0,
            step=5.0,
            format="%g",
            help="How much to make, carrier included.",
        )
    with middle:
        balance = common.field(
            st.number_input,
            "Balance step [g]",
            "balance",
            min_value=0.00001,
            max_value=10.0,
            step=0.001,
            format="%g",
            help=common.word("balance"),
        )
    with right:
        shelf = common.shelf_of(lib)
    work.to_link(LINK)
    with common.guarded():
        found = lib.weigh(accord, grams=grams, balance=balance, shelf=shelf)
        _answer(lib, accord, found)


def _answer(lib, accord, found) -> None:
    from ..accords.sheets import weighing_sheets

    sheets = weighing_sheets(found)
    st.markdown(
        f"Total **{found.total_g:g} g**, of which {found.concentrate_pct:.3g} % are materials; carrier to add: {found.solvent_g:g} g of {common.md(found.solvent['name'])}."
    )
    st.markdown("**Take it along**")
    common.downloads(
        common.stem_of(f"weigh-{accord.name}"), f"Weighing: {accord.name}", lambda: sheets, found.cautions
    )
    poor = [line for line in found.lines if line.warn]
    if poor:
        st.warning(f"{len(poor)} of {len(found.lines)} weighings need a look: see the notes in the table.")
    for tab, sheet in zip(st.tabs([_short(sheet.title) for sheet in sheets]), sheets):
        with tab:
            common.sheet(sheet)
    common.cautions(found.cautions)
    ids, bases = common.material_sources(lib, [line.id for line in found.lines])
    common.sources(
        lib,
        ids,
        bases,
        "Grams follow from parts and strengths alone. That fifty steps of the balance make a good weighing, the ladder of solutions and the order on the balance are common practice.",
    )
    st.page_link(
        st.session_state["pages"]["rebalance"],
        label="→ Next: smell it, and say what is too strong or too weak",
    )


def _short(title: str) -> str:
    return title.split(":")[0]
