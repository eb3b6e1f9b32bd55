"""Book: what stands in the bench book, what the nose taught and from what, and the trials side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..errors import SubstituteError
from ..figures import figure
from . import bench_rows, common, side, tried, work

if TYPE_CHECKING:
    from ..library import Library

KINDS = {"amount": "amount", "rank": "place", "loudness": "loudness", "profile": "smell"}


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    if lib.book is None:
        _none()
        return
    with common.question():
        found = _ask()
        side.phone_bench(lib)
    with common.answer():
        if found:
            _found(lib, found)
        answer = lib.book_show().to_dict()
        _head(answer)
        _learned(answer)
        _said(lib, answer)
        _trials(lib, answer)
        _bottles(lib, answer)
        common.downloads("bench-book", lambda: lay_out("book", answer))


def _none() -> None:
    with common.question():
        st.caption("A bench book is one folder of plain files on this machine.")
    with common.answer():
        common.headline("No bench book is open")
        common.following("begin one, then start the app with it.")
        st.markdown(tried.HOW_TO_BEGIN)


def _ask() -> str:
    text: str = st.text_input(
        "Find an accord, a trial or a verdict",
        key="book_find",
        max_chars=200,
        placeholder="what was said of it, its name, or a material in it",
        persist_state="session",
    )
    return text.strip()


def _found(lib: Library, text: str) -> None:
    answer = lib.book_find(text).to_dict()
    laid = lay_out("found", answer)
    common.headline(laid.headline)
    if answer["found"]:
        common.sheet(laid.main)
    for note in answer["notes"]:
        st.caption(common.md(note))


def _head(answer: Mapping[str, Any]) -> None:
    laid = lay_out("book", answer)
    common.headline(laid.headline, answer["book"]["folder"])
    common.following(
        f"“{tried.LABEL}” beside a stand-in, a formula or a trial puts down what your nose found; the next"
        " answers reckon with it."
    )
    for note in answer["notes"]:
        st.caption(common.md(note))


# -- what was learned ----------------------------------------------------------------------------------------


def _learned(answer: Mapping[str, Any]) -> None:
    st.header("What your nose taught", anchor=False)
    rows = [
        (KINDS.get(one["what"], one["what"]), one["told"], ", ".join(map(str, one["from"])))
        for one in answer["learned"]
    ]
    if rows:
        common.long_table(("what", "for you", "from verdict"), rows, "What was learned from what")
    else:
        st.caption("Nothing so far.")


def _said(lib: Library, answer: Mapping[str, Any]) -> None:
    st.header("What was said", anchor=False)
    verdicts = list(reversed(answer["verdicts"]))
    if not verdicts:
        st.caption("Nothing so far.")
        return
    rows = [
        (
            str(one["id"]),
            one["date"],
            one["told"],
            f"taken back {one['taken_back']}" if one["taken_back"] else "",
        )
        for one in verdicts
    ]
    common.long_table(("no.", "date", "said", "since"), rows, "Verdicts, the newest first")
    open_ = {one["id"]: one["told"] for one in verdicts if not one["taken_back"]}
    if open_:
        with st.container(horizontal=True, vertical_alignment="bottom"):
            chosen = st.selectbox(
                "Take a verdict back",
                list(open_),
                index=None,
                key="book_back",
                format_func=lambda id: f"{id}: {open_[id]}",
                placeholder="which one",
                help="It stays readable in the book, and counts no more.",
            )
            st.button(
                "Take it back",
                key="book_forget",
                disabled=chosen is None,
                on_click=tried.take_back,
                args=(lib, [chosen]),
            )


# -- accords and trials --------------------------------------------------------------------------------------


def _trials(lib: Library, answer: Mapping[str, Any]) -> None:
    from ..accords.trials import base_name

    st.header("Accords and trials", anchor=False)
    names = answer["accords"]
    if not names:
        st.caption("No accord stands in the book so far; what is said of one takes it in.")
        return
    families: dict[str, list[str]] = {}
    for name in names:
        families.setdefault(base_name(name), []).append(name)
    order = sorted(families, key=lambda base: (-len(families[base]), base))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        base = st.selectbox(
            "Accord", order, key="book_accord", format_func=common.titled, persist_state="session"
        )
        name = st.selectbox(
            "Trial",
            families[base],
            index=len(families[base]) - 1,
            key=f"book_trial_{base}",
            format_func=common.titled,
        )
        st.button("onto the bench", key="use-book", on_click=_onto_the_bench, args=(lib, name))
    try:
        _side_by_side(lib, base, families[base])
    except SubstituteError as error:
        common.fault(error)


def _side_by_side(lib: Library, base: str, trials: Sequence[str]) -> None:
    history = lib.history(base).to_dict()
    laid = lay_out("history", history)
    common.sheet(laid.main)
    if len(trials) < 2:
        return
    numbers = [str(one["trial"]) for one in history["trials"]]
    with st.expander("What changed between two of them"):
        left, right = st.columns(2)
        one = left.selectbox("From trial", numbers, key=f"book_one_{base}")
        other = right.selectbox("To trial", numbers, index=len(numbers) - 1, key=f"book_other_{base}")
        if one != other:
            common.sheet(lay_out("compare", lib.compare_trials(base, one, other).to_dict()).main)


def _onto_the_bench(lib: Library, name: str) -> None:
    """Callback: an accord of the book on the bench, as opening its file does."""
    try:
        accord = lib.read_accord(name)
    except SubstituteError as error:
        st.session_state["book_fault"] = error
        return
    work.set_accord(
        accord.name,
        bench_rows.rows_of(accord, lib.tables.materials),
        told=f"{common.titled(accord.name)} stands on the bench.",
    )


# -- bottles -------------------------------------------------------------------------------------------------


def _bottles(lib: Library, answer: Mapping[str, Any]) -> None:
    st.header("Bottles", anchor=False)
    bottles = answer["bottles"]
    if not bottles:
        st.caption("No bottle is entered; they stand in the book's bottles.csv, one a row.")
        return
    columns = ("label", "material", "lot", "strength [%]", "left [g]", "price [per g]", "date")
    rows = [
        (
            *(one["label"], one["name"] if one["name"] != one["label"] else "", one["lot"] or ""),
            f"{one['strength_pct']:g}",
            "not known"
            if one["grams"] is None
            else common.figure(one["grams"], 5)
            if one["grams"]
            else "empty",
            "" if one["price_per_gram"] is None else common.figure(one["price_per_gram"], 4),
            one["date"] or "",
        )
        for one in bottles
    ]
    common.long_table(columns, rows, "The bottles of the book")
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button("onto the shelf", key="use-bottles", on_click=_onto_the_shelf, args=(lib,))
        if answer["taken"]:
            last = answer["taken"][-1]
            same = [one for one in answer["taken"] if one["id"] == last["id"]]
            st.button("Undo the last weighing", key="book_undo", on_click=_undo, args=(lib,))
            told = listed([f"{figure(abs(one['grams']), 4)} g {one['label']}" for one in same])
            st.caption(common.md(f"{last['accord']}, {last['date']}: {told}"), width="content")


def _onto_the_shelf(lib: Library) -> None:
    """Callback: the bottles as they stand now are the shelf of the screens."""
    assert lib.book is not None
    try:
        shelf = lib.book.shelf(lib.names)
    except SubstituteError as error:
        st.session_state["book_fault"] = error
        return
    if shelf is not None:
        work.set_shelf(bench_rows.shelf_rows_of(shelf, lib.tables.materials))


def _undo(lib: Library) -> None:
    try:
        found = lib.book_undo().to_dict()
    except SubstituteError as error:
        st.session_state["book_fault"] = error
        return
    back = count(len(found["moves"]), "bottle")
    st.session_state["heard"] = {
        "told": f"The weighing of {found['accord']} is undone; {back} have their grams back.",
        "learned": [],
        "notes": [],
        "ids": [],
        "age": 0,
    }
    _onto_the_shelf(lib)


def take_button(lib: Library, accord: Any, grams: float, balance: float) -> None:
    """The button under a weighing sheet that takes what is weighed from the bottles of the book."""
    if lib.book is not None:
        st.button(
            "take it from the bottles",
            key="take_bottles",
            on_click=_take,
            args=(lib, accord, grams, balance),
            help="Weighed from the solutions of your book; Book undoes it.",
        )


def _take(lib: Library, accord: Any, grams: float, balance: float) -> None:
    try:
        found = lib.weigh(accord, grams=grams, balance=balance, take=True)
    except SubstituteError as error:
        st.session_state["book_fault"] = error
        return
    st.session_state["heard"] = {
        "told": f"Taken from the bottles: {count(len(found.taken), 'bottle')} for {found.total_g:g} g of"
        f" {common.titled(found.accord)}.",
        "learned": list(found.taken),
        "notes": [],
        "ids": [],
        "age": 0,
    }
    _onto_the_shelf(lib)
