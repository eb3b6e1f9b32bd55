"""Weigh: which solutions to make first, what to put on the balance in its order, which strips to dip, how
to check."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..figures import given, percent
from ..records import Accord
from . import accord as accords
from . import book, common, fields, side, ticks, work
from .words import word

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..accords.weighing import Dilution, Weighing
    from ..library import Library

LINK = ("grams", "balance", "use_shelf")


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    with common.question():
        with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
            grams = fields.field(
                st.number_input,
                "Batch [g]",
                "grams",
                step=5.0,
                format="%g",
                help="How much to make, carrier included.",
                width=130,
            )
            balance = fields.field(
                st.number_input,
                "Balance step [g]",
                "balance",
                step=0.001,
                format="%g",
                help=word("balance"),
                width=130,
            )
            accords.accord_box(lib)
            fields.shelf_toggle()
        accord = accords.formula(lib)
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer(complaints):
        if accord is None:
            return
        shelf = fields.shelf_of(lib)
        found = lib.weigh(accord, grams=grams, balance=balance, shelf=fields.counted(lib, shelf))
        _answer(lib, accord, found)


def _answer(lib: Library, accord: Accord, found: Weighing) -> None:
    _lacking(lib, accord)
    laid = lay_out("weigh", found.to_dict())
    noted = [f"{line.name}: {line.warn}" for line in found.lines if line.warn]
    common.headline(
        f"{common.titled(accord.name)}: {found.total_g:g} g in {count(len(found.lines), 'weighing')}",
        common.unbroken_join(
            [
                f"{percent(found.concentrate_pct)} are materials",
                f"{count(len(noted), 'weighing')} with a note"
                if noted
                else "every weighing is within the balance's reach",
            ]
        ),
    )
    first = f"make {count(len(found.dilutions), 'solution')} first, then " if found.dilutions else ""
    common.following(f"{first}weigh from top to bottom; smell; say what is too strong on Rebalance.")
    with st.container(horizontal=True, vertical_alignment="center"):
        common.downloads(common.stem_of(f"weigh-{accord.name}"), lambda: laid)
        st.button("smelled it: rebalance", key="to_rebalance", on_click=work.go, args=("rebalance",))
        book.take_button(lib, accord, work.setting("grams"), work.setting("balance"))
    common.cautions(found.cautions, "Read before the first weighing")
    if found.dilutions:
        _make_first(found.dilutions)
    _on_the_balance(accord, found)
    for one in (part for part in laid.on("paper") if part.aside):
        common.part(one)
    if noted:
        with st.expander(f"Notes to the weighings ({len(noted)})"):
            st.markdown("\n".join(f"- {common.md(text)}" for text in noted))
    ids, bases = common.material_sources(lib, [line.id for line in found.lines])
    common.sources(
        lib,
        ids,
        bases,
        "Grams follow from parts and strengths alone. That fifty steps of the balance make a good weighing,"
        " the ladder of solutions and the order on the balance are common practice.",
    )


def _make_first(dilutions: Sequence[Dilution]) -> None:
    """Solutions to make, each to be ticked off with room for a note."""
    st.header("Make first", anchor=False)
    rows = [
        (
            f"{one.name} {given(one.strength_pct)}",
            f"{one.grams:g} g",
            f"{one.from_grams:g} g of {_strength(one.from_pct)} + {one.carrier_grams:g} g {one.carrier}",
        )
        for one in dilutions
    ]
    ticks.boxes(rows, "Solutions to make first", noted=True)


def _on_the_balance(accord: Accord, found: Weighing) -> None:
    """Weighings in their order, to be ticked off."""
    st.header("On the balance", anchor=False)
    rows = [
        (
            f"{line.name}{'' if line.strength_pct >= 100 else f' {given(line.strength_pct)}'}",
            f"{line.grams:g} g",
            line.warn,
        )
        for line in sorted(found.lines, key=lambda line: line.order)
    ]
    if found.solvent_g > 0:
        rows.append((f"{found.solvent['name']} to fill up", f"{found.solvent_g:g} g", ""))
    ticks.boxes(rows, "Weighings in their order")
    ticks.kept("; ".join([accord.name, *(f"{what} {grams}" for what, grams, _ in rows)]))
    st.caption(
        f"Total {found.total_g:g} g. Smallest first: a slip there is mended by scaling the rest (common"
        " practice, no source)."
    )


def _lacking(lib: Library, accord: Accord) -> None:
    """What was said to be missing and still stands in the formula: adjusting comes before weighing."""
    held = accords.lines_of(lib, accord)
    gone = [name for name in work.state()["missing"] if name in held]
    if gone:
        with st.container(horizontal=True, vertical_alignment="center", key="lacking"):
            st.warning(
                common.md(f"{listed(gone)} was said to be missing and still stands in this formula."),
                width="stretch",
            )
            st.button("adjust it first", key="to_adjust", on_click=work.go, args=("adjust",))


def _strength(pct: float) -> str:
    return "neat" if pct >= 100 else given(pct)
