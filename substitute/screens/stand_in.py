"""One stand-in among the answers: folded to a line, and opened."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..figures import given
from . import bars, common, tried, work
from .words import WORDS, word

if TYPE_CHECKING:
    from ..library import Library
    from ..records import Shelf


def amount(member: Mapping[str, Any]) -> str:
    """Grams for one gram in words."""
    if member["grams_per_gram"] is None:
        return "amount unknown: work up from a trace"
    low, high = common.figure(member["low"], 2), common.figure(member["high"], 2)
    return f"{common.figure(member['grams_per_gram'], 2)} g for 1 g ({low} to {high})"


def on_shelf(member: Mapping[str, Any], shelf: Shelf | None) -> str:
    """The same amount in the strongest and the weakest solution that stands on the shelf."""
    if shelf is None or member["grams_per_gram"] is None:
        return ""
    held = sorted({item.strength for item in shelf.stock if item.material == member["id"]})
    if not held:
        return "not on your shelf"
    said = [
        (
            "neat on your shelf"
            if strength >= 100
            else f"{common.figure(member['grams_per_gram'] * 100 / strength, 2)} g of your {given(strength)}"
        )
        for strength in held
    ]
    return ", ".join(said[:2])


def draw(lib: Library, missing: Mapping[str, Any], entry: Mapping[str, Any], shelf: Shelf | None) -> None:
    names = " + ".join(member["name"] for member in entry["materials"])
    amounts = " + ".join(_short(member) for member in entry["materials"])
    with st.container(horizontal=True, gap="small", key=f"entry-{entry['rank']}"):
        held = on_shelf(entry["materials"][0], shelf) if len(entry["materials"]) == 1 else ""
        said = common.unbroken_join([amounts, held, entry["in_words"]])
        line = f"**{entry['rank']}. {common.md(names)}** · {common.md(said)}"
        with st.expander(line, key=f"more-{entry['rank']}", on_change="rerun") as folded:
            pass
        if st.session_state.get(f"more-{entry['rank']}"):
            with folded:
                _detail(lib, missing, entry, shelf, names)
        with st.container(key=f"do-{entry['rank']}", horizontal=True, gap="small", width="content"):
            st.button(
                "use this",
                key=f"use-{entry['rank']}",
                type="primary" if entry["rank"] == 1 else "secondary",
                on_click=_use,
                args=(missing["name"], [member["name"] for member in entry["materials"]]),
                help=f"Into the accord in place of {missing['name']}",
            )
            tried.swap_button(missing, entry["materials"], str(entry["rank"]))


def _short(member: Mapping[str, Any]) -> str:
    if member["grams_per_gram"] is None:
        return "amount unknown"
    return f"{common.figure(member['grams_per_gram'], 2)} g for 1 g"


def _use(missing: str, names: list[str]) -> None:
    """Take a stand-in to the screen Adjust, everything filled in."""
    work.remember(f"{missing} was to be replaced by {' + '.join(names)}")
    work.state().update(missing=[missing], use=names)
    work.go("adjust")


def _detail(
    lib: Library, missing: Mapping[str, Any], entry: Mapping[str, Any], shelf: Shelf | None, names: str
) -> None:
    for member in entry["materials"]:
        prefix = f"{common.md(member['name'])}: " if len(entry["materials"]) > 1 else ""
        cas = f" · CAS {common.md(member['cas'])}" if member["cas"] else ""
        held = on_shelf(member, shelf)
        st.markdown(
            f"{prefix}**{common.md(amount(member))}**{f' · {common.md(held)}' if held else ''}{cas}",
            help=word("grams_per_gram"),
        )
    st.markdown("\n".join(f"- {common.md(reason)}" for reason in entry["reasons"]))
    for sign, key, said in (("+", "gains", "Gained"), ("−", "losses", "Lost")):
        if entry[key]:
            told = ", ".join(
                f"{sign}\u00a0{common.md(d['descriptor'])}\u00a0({100 * d['by']:.0f}\u00a0%)"
                for d in entry[key]
            )
            st.markdown(f"{said}: {told}")
    if entry["listen"]:
        st.markdown(f"*{common.md(entry['listen'])}*")
    if entry["trial_series"]:
        series = ", ".join(common.figure(v, 2) for v in entry["trial_series"])
        st.markdown(f"Trial series, g for 1 g: {series}")
    _profiles(lib, missing, entry, names)
    supply = entry["supply"]
    if supply:
        along = ", ".join(
            f"{common.figure(part['grams'], 2)} g {part['name']}" for part in supply["along"][:4]
        )
        st.markdown(
            common.md(
                f"As a source of the molecule: {common.figure(supply['grams_for_one_gram_of'])} g bring 1 g"
                f" of it, and with it {along}."
            )
        )
    tried.swap_button(
        missing, entry["materials"], f"open-{entry['rank']}"
    )  # a phone's row has no room for it
    for text in entry["cautions"]:
        st.markdown(f"⚠ {common.md(text)}")
    cited = [
        common.md(lib.tables.sources[id].citation) for id in entry["sources"] if id in lib.tables.sources
    ]
    evidence = {"documented": "written down as a swap", "constituent": "one is inside the other"}
    st.caption(
        f"Ground: {evidence.get(entry['evidence'], 'from the profiles alone')}; similarity"
        f" {common.figure(entry['similarity'], 2)} of 1." + (f" {'; '.join(cited)}." if cited else ""),
        help=WORDS["similarity"],
    )


def _profiles(lib: Library, missing: Mapping[str, Any], entry: Mapping[str, Any], names: str) -> None:
    after = {member["id"]: member["grams_per_gram"] or 1.0 for member in entry["materials"]}
    known = lib.tables.profiles
    if missing["id"] not in known or not any(id in known for id in after):
        st.caption("No profile on file, so there is nothing to draw.")
        return
    found = lib.compare({missing["id"]: 1.0}, after, top=8)
    bars.shares(
        found.rows, missing["name"], names, f"What {missing['name']} and {names} smell of, share by share"
    )
