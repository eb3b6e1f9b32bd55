"""What the nose found, said beside any answer: one button, one question, one row in the bench book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count
from ..errors import InputError, SubstituteError
from ..figures import significant
from ..records import Accord
from . import common

if TYPE_CHECKING:
    from ..library import Library

Heard = dict[str, tuple[str, str]]  # material id -> (verdict, degree)
LABEL = "I smelled it"
NEAR = {"near": "near", "fair": "fairly near", "far": "far from it", "not_smelled": "I hardly smell it"}
VERDICTS = {"too_strong": "too strong", "too_weak": "too weak", "right": "right"}
DEGREES = {"": "", "slightly": "slightly", "far": "far"}  # unsaid is clearly
AMOUNTS = {
    "": "–",
    "too_strong:far": "far too strong",
    "too_strong:": "too strong",
    "too_strong:slightly": "slightly too strong",
    "right:": "right",
    "too_weak:slightly": "slightly too weak",
    "too_weak:": "too weak",
    "too_weak:far": "far too weak",
}
BETWEEN = " · "
WORDS_HELP = (
    "As you would write it on the strip: “sweet, wanting freshness”, “1 g was too much, half was right”."
    " What is plain in it is read; all of it is kept and found again on the screen Book."
)
HOW_TO_BEGIN = (
    "What the nose found is kept in a bench book: one folder of plain files on this machine. None is open."
    " On the command line:\n\n"
    "```\nsubstitute book new my-book --shelf my-shelf.csv\nsubstitute --book my-book app\n```\n\n"
    "or put its folder in `SUBSTITUTE_BOOK` once; then every command and the app use it."
)


# -- the buttons ---------------------------------------------------------------------------------------------


def swap_button(missing: Mapping[str, Any], members: Sequence[Mapping[str, Any]], key: str) -> None:
    """The button beside a stand-in; ``members`` with their grams for 1 g."""
    subject = {
        "missing": (missing["id"], missing["name"]),
        "members": [(one["id"], one["name"], one["grams_per_gram"]) for one in members],
    }
    _button(key, subject, "Say how near it was, and whether the amount was right")


def accord_button(accord: Accord, key: str) -> None:
    """The button beside a formula: adjusted, a trial, or the one on the bench."""
    _button(key, {"accord": accord}, "Say of the formula, or of its lines, what your nose found")


def _button(key: str, subject: Mapping[str, Any], help: str) -> None:
    st.button(LABEL, key=f"smelled-{key}", type="tertiary", on_click=_open, args=(subject,), help=help)


def _open(subject: Mapping[str, Any]) -> None:
    st.session_state["saying"] = {**subject, "turn": st.session_state.get("saying_turn", 0) + 1}
    st.session_state["saying_turn"] = st.session_state["saying"]["turn"]
    st.session_state.pop("saying_fault", None)


def _close() -> None:
    st.session_state.pop("saying", None)
    st.session_state.pop("saying_fault", None)


# -- the question --------------------------------------------------------------------------------------------


def asked(lib: Library) -> None:
    """The open question, drawn last in a run; nothing where none is open."""
    subject = st.session_state.get("saying")
    if subject is None or "asked" in st.session_state:
        return

    @st.dialog("What did your nose find?", width="medium", on_dismiss=_close)
    def put() -> None:
        if "saying" not in st.session_state:
            st.rerun()  # a dialog runs by itself; the page behind it must follow
        if lib.book is None:
            st.markdown(HOW_TO_BEGIN)
            st.button("Close", key="say_no", on_click=_close)
            return
        if "accord" in subject:
            _ask_accord(lib, subject)
        else:
            _ask_swap(lib, subject)
        with st.container(horizontal=True):
            st.button("Write it down", key="say_yes", type="primary", on_click=_write, args=(lib, subject))
            st.button("Leave it", key="say_no", on_click=_close)
        fault = st.session_state.get("saying_fault")
        if fault:
            common.fault(fault)

    put()


def _ask_swap(lib: Library, subject: Mapping[str, Any]) -> None:
    members, missing, turn = subject["members"], subject["missing"], subject["turn"]
    names = " + ".join(name for _, name, _ in members)
    st.markdown(f"**{common.md(names)}** in the place of **{common.md(missing[1])}**")
    st.segmented_control(
        "How near was it?", list(NEAR), key=f"say_near_{turn}", format_func=lambda word: NEAR[word]
    )
    grams = [grams for _, _, grams in members]
    left, right = st.columns(2)
    with left:
        st.number_input(
            "Tried [g for 1 g]",
            min_value=0.0,
            value=significant(sum(grams), 3) if all(grams) else None,
            format="%g",
            key=f"say_used_{turn}",
            help="Neat for neat" + (", all of the blend together." if len(members) > 1 else "."),
        )
    with right:
        st.selectbox(
            "That was", list(AMOUNTS), key=f"say_amount_{turn}", format_func=lambda one: AMOUNTS[one]
        )
    st.number_input(
        "Right would be, if you found it [g for 1 g]",
        min_value=0.0,
        value=None,
        format="%g",
        key=f"say_right_{turn}",
    )
    _ask_words(turn)
    if any(not at_hand(lib, id) for id, _, _ in members):
        st.toggle(
            "Smelled away from my own bottles",
            key=f"say_elsewhere_{turn}",
            help="It stands on none of the bottles of your book.",
        )


def _ask_words(turn: int) -> None:
    st.text_input("In your own words", key=f"say_words_{turn}", max_chars=2000, help=WORDS_HELP)


def at_hand(lib: Library, id: str) -> bool:
    """Whether a material stands, or stood, among the book's bottles; a book without bottles does not know."""
    try:
        return lib.book is None or lib.book.has_had(lib.names, id)
    except SubstituteError:
        return True  # the fault is said where bottles are asked for


def _ask_accord(lib: Library, subject: Mapping[str, Any]) -> None:
    accord, turn = subject["accord"], subject["turn"]
    st.markdown(f"**{common.md(common.titled(accord.name))}**")
    st.segmented_control(
        "The whole, beside what it is to be",
        [word for word in NEAR if word != "not_smelled"],
        key=f"say_near_{turn}",
        format_func=lambda word: NEAR[word],
    )
    lines_said(lib, accord, "say", turn)
    _ask_words(turn)


def lines_said(lib: Library, accord: Accord, key: str, turn: object) -> Heard:
    """Three boxes beside each other, too strong, too weak and right, each line in one of them: what was
    said of each line.

    A line may be named with a degree, ``linalool · far``; without one it is clearly so. The boxes' keys
    are ``key_VERDICT_turn``.
    """
    ids = {common.name_of(lib, id): id for id in accord.active()}
    said: Heard = {}
    taken: set[str] = set()
    for column, (verdict, label) in zip(st.columns(len(VERDICTS)), VERDICTS.items()):
        choices = _choices(ids, taken, verdict)
        box = f"{key}_{verdict}_{turn}"
        kept = [one for one in st.session_state.get(box, []) if one in choices]
        once = list({choices[one][0]: one for one in kept}.values())  # the last said of a line holds
        if st.session_state.get(box, []) != once:
            st.session_state[box] = once
        with column:
            chosen = st.multiselect(
                label.capitalize(),
                list(choices),
                key=box,
                placeholder="no line",
                filter_mode="contains",
                persist_state="session",
            )
        for one in chosen:
            name, degree = choices[one]
            said[ids[name]] = verdict, degree
            taken.add(name)
    return said


def _choices(ids: Mapping[str, str], taken: set[str], verdict: str) -> dict[str, tuple[str, str]]:
    """What may be named in a box -> (line, degree)."""
    degrees = DEGREES if verdict != "right" else {"": ""}
    return {
        f"{name}{BETWEEN}{word}" if word else name: (name, degree)
        for name in ids
        if name not in taken
        for degree, word in degrees.items()
    }


def in_words(said: tuple[str, str]) -> str:
    """('too_strong', 'far') -> 'far too strong'."""
    verdict, degree = said
    return f"{DEGREES.get(degree, degree)} {VERDICTS.get(verdict, '')}".strip()


# -- writing it down -----------------------------------------------------------------------------------------


def _write(lib: Library, subject: Mapping[str, Any]) -> None:
    """Callback: put it down in the book; what is wrong stays in the question."""
    try:
        found = _accord_said(lib, subject) if "accord" in subject else _swap_said(lib, subject)
    except SubstituteError as error:
        st.session_state["saying_fault"] = error
        return
    _close()
    heard(found)


def _answered(subject: Mapping[str, Any], name: str) -> Any:
    return st.session_state.get(f"say_{name}_{subject['turn']}") or None


def _swap_said(lib: Library, subject: Mapping[str, Any]) -> Any:
    amount, _, degree = (_answered(subject, "amount") or "").partition(":")
    right = _answered(subject, "right")
    members = subject["members"]
    if len(members) == 1:
        what: Any = members[0][0]
    else:
        what = {id: grams for id, _, grams in members}
    return lib.tried(
        what,
        instead_of=subject["missing"][0],
        nearness=_answered(subject, "near") or "",
        amount=amount,
        degree=degree,
        used=_answered(subject, "used") if amount else None,
        needs=right,
        words=_answered(subject, "words") or "",
        elsewhere=bool(_answered(subject, "elsewhere")),
    )


def _accord_said(lib: Library, subject: Mapping[str, Any]) -> Any:
    accord = subject["accord"]
    ids = {common.name_of(lib, id): id for id in accord.active()}
    said: Heard = {}
    for verdict in VERDICTS:
        choices = _choices(ids, set(), verdict)
        for one in _answered(subject, verdict) or []:
            name, degree = choices[one]
            said[ids[name]] = verdict, degree
    near, words = _answered(subject, "near") or "", _answered(subject, "words") or ""
    return put_down(lib, accord, said, nearness=near, words=words)


def put_down(
    lib: Library, accord: Accord, said: Mapping[str, tuple[str, str]], *, nearness: str = "", words: str = ""
) -> Any:
    """What was said of a formula, in the book; the formula is kept there if it is not yet.

    Raises :class:`~substitute.errors.InputError` where nothing was said.
    """
    from ..accords.trials import trial_number

    if not (said or nearness or words.strip()):
        raise InputError("nothing was said: name a line, say how near it was, or give words")
    path = lib.book_keep(accord)
    by: dict[str, list[str]] = {verdict: [] for verdict in VERDICTS}
    for id, (verdict, degree) in said.items():
        by[verdict].append(f"{id}:{degree}" if degree else id)
    return lib.tried(
        path,
        trial=trial_number(path),
        nearness=nearness,
        words=words,
        too_strong=by["too_strong"],
        too_weak=by["too_weak"],
        right=by["right"],
    )


# -- what it changed -----------------------------------------------------------------------------------------


def heard(found: Any) -> None:
    """Keep what a verdict changed, to be said on the next page drawn."""
    answer = found.to_dict()
    laid = lay_out("tried", answer)
    st.session_state["heard"] = {
        "told": laid.headline,
        "learned": [one["told"] for one in answer["learned"]],
        "notes": list(answer["notes"]),
        "ids": [one["id"] for one in answer["verdicts"] if not one["taken_back"]],
        "age": 0,
    }


def told(lib: Library) -> None:
    """Say what is wrong with the book, and what was put down and what it changed, with the way back; on the
    next few pages drawn."""
    fault = st.session_state.pop("book_fault", None)
    if fault:
        common.fault(fault)
    for trouble in lib.troubles:
        st.warning(common.md(trouble))
    found = st.session_state.get("heard")
    if not found:
        return
    found["age"] += 1
    with st.container(key="heard"):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.success(common.md(found["told"]), width="stretch")
            if found["ids"]:
                st.button("Take it back", key="heard_back", on_click=take_back, args=(lib, found["ids"]))
        if found["learned"] or found["notes"]:
            with st.expander(f"What it changes for you ({count(len(found['learned']), 'figure')})"):
                lines = [*found["learned"], *found["notes"]]
                st.markdown("\n".join(f"- {common.md(line)}" for line in lines))
    if found["age"] >= 3:
        st.session_state.pop("heard", None)


def take_back(lib: Library, ids: Sequence[int]) -> None:
    """Callback: verdicts taken back; they stay readable and count no more."""
    try:
        for id in ids:
            found = lib.book_forget(id)
    except SubstituteError as error:
        st.session_state["book_fault"] = error
        return
    heard(found)
