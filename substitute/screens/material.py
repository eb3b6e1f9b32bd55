"""Material: the card of one material, what is on file about it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from ..answers import lay_out
from . import accord as accords
from . import common, fields, side, work

if TYPE_CHECKING:
    from ..library import Library

LINK = ("card",)
EXAMPLE = accords.FIRST_MISSING


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    with common.question():
        name = fields.pick(
            "Whose card",
            "card",
            lib,
            everything=True,
            help=(
                "Anything on file: a molecule, a natural, a solvent, and what is only met inside naturals."
                " Type its name, a synonym, your bottle's label or its CAS number; Enter takes what fits"
                " best."
            ),
        )
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer():
        for text in complaints:
            common.fault(text)
        fields.meant("card")
        if name:
            _card(lib, name)
        else:
            _example()


def _example() -> None:
    common.headline("Whose card?")
    common.following("type a name, a synonym or a CAS number above, or begin with an example.")
    st.button(
        f"Example: the card of {EXAMPLE}", key="example", type="primary", on_click=_ask, args=(EXAMPLE,)
    )


def _ask(name: str) -> None:
    """Callback: another card, which can be undone."""
    work.change(f"{name} was asked for", card=name)


def _card(lib: Library, name: str) -> None:
    found = common.remembered("card", name, lambda: lib.show(name).to_dict())
    laid = lay_out("show", found)
    common.headline(laid.headline)
    with st.container(horizontal=True, vertical_alignment="center"):
        common.downloads(f"material-{found['id']}", lambda: laid)
        st.button(
            "What stands in for it",
            key="to_swap",
            on_click=work.go,
            args=("swap",),
            kwargs={"material": found["name"]},
        )
        st.button(
            "What lies near it",
            key="to_neighbours",
            type="tertiary",
            on_click=work.go,
            args=("neighbours",),
            kwargs={"of": found["name"], "to": ""},
        )
    common.cautions(laid.cautions)
    for section in laid.on("paper"):
        common.part(section)
