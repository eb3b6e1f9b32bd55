"""Plan: what the shelf makes, what to buy, what to start from; and for one accord what would lift it, and
sheets for a lesson."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..figures import ratio
from ..records import Accord, Shelf
from . import accord as accords
from . import bars, common, dropped, fields, side, slow, work
from .shelf import take_demo

if TYPE_CHECKING:
    from ..library import Library

LINK = ("buy",)
MAKES, BUY, NOTHING, ONE = "what my shelf makes", "what to buy next", "a shelf from nothing", "one accord"
FIRST_ROWS = 14


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    pile: dropped.Pile | None = None
    accord: Accord | None = None
    with common.question():
        wish = st.segmented_control(
            "I want to see",
            [MAKES, BUY, NOTHING, ONE],
            key="plan_wish",
            default=MAKES,
            required=True,
            persist_state="session",
        )
        if wish == ONE:
            accord = accords.accord_question(lib)
        else:
            with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
                if wish != MAKES:
                    fields.field(
                        st.number_input,
                        "Materials [at most]",
                        "buy",
                        width=150,
                        help="How many more materials may be bought.",
                    )
                pile = dropped.pick(lib, "plan")
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer(complaints):
        if wish == ONE:
            if accord is not None:
                _one(lib, accord)
        elif pile is None:
            common.headline("Which accords?")
            common.following("drop files or a folder above; they stay on this machine.")
        else:
            _shelf(lib, pile, wish)


def _shelf(lib: Library, pile: dropped.Pile, wish: str) -> None:
    many, rejected = dropped.read(lib, pile, "plan")
    shelf = fields.shelf_of(lib, held=False) if wish != NOTHING else None
    if wish != NOTHING and shelf is None:
        common.headline("Your shelf is empty")
        common.following("fill it on the screen Shelf, or look at it with the demo's.")
        st.button("Take the demo's shelf", key="plan_demo_shelf", on_click=take_demo, args=(lib, "shelf"))
        return
    dropped.show_rejected(rejected)
    if not many:
        return
    size = work.setting("buy") if wish != MAKES else None
    made_of = (pile.key, shelf, wish, size)
    job = slow.job("plan", made_of)
    if job is None:
        common.headline(f"{count(len(many), 'accord')} of {pile.called}, each adjusted for real")
        common.following(
            "work it out; sixty accords take some ten seconds on two free cores. It can be stopped, and goes"
            " on while you look elsewhere."
        )
        st.button(
            "Work it out",
            key="plan_go",
            type="primary",
            on_click=_begin,
            args=(lib, many, shelf, wish, size, made_of),
        )
        return
    found = slow.shown(job, "plan")
    if found is not None:
        _answer(lib, found, wish)
    elif not job.running:
        st.button(
            "Work it out again", key="plan_go", on_click=_begin, args=(lib, many, shelf, wish, size, made_of)
        )


def _begin(
    lib: Library,
    many: list[Accord],
    shelf: Shelf | None,
    wish: str,
    size: int | None,
    made_of: tuple[Any, ...],
) -> None:
    from ..library.apart import plan_apart

    wishes: dict[str, Any] = {BUY: {"buy": size}, NOTHING: {"from_nothing": size}}.get(wish, {})
    slow.begin(
        "plan",
        made_of,
        lambda progress: plan_apart(lib, many, progress, shelf=fields.counted(lib, shelf), **wishes),
    )


def _answer(lib: Library, found: Any, wish: str) -> None:
    answer = found.to_dict()
    cover = answer["coverage"]
    number = len(answer["makes"])
    if wish == MAKES:
        good = sum((made["match"] or 0.0) >= 0.85 for made in answer["makes"])
        common.headline(
            f"The shelf makes {good} of {count(number, 'accord')} at 0.85 or nearer",
            f"mean match {ratio(cover['verified_before'])} of 1, each adjusted for real",
        )
        common.following("see which bottle would bring them nearest: “what to buy next”.")
    else:
        names = listed([one["name"] for one in answer["buy"]], 3)
        common.headline(
            f"Buy {names}" if names else "Nothing that could be bought would help these accords",
            f"mean match {ratio(cover['verified_before'])} → {ratio(cover['verified_after'])} of 1 over"
            f" {count(number, 'accord')}, each adjusted for real",
        )
        common.following("smell before you buy; choices are made by a model of coverage.")
        _buy(answer)
    if answer["curve"]:
        _curve(lib, answer)
    _makes(lib, answer, wish)
    common.downloads("plan", lambda: lay_out("plan", answer))
    if answer["leans_on"]:
        with st.expander("Swaps that these accords lean on"):
            rows = [
                (
                    common.name_of(lib, lean["missing"]),
                    common.name_of(lib, lean["stand_in"]),
                    common.titled(lean["accord"]),
                    f"{ratio(lean['value'])}",
                )
                for lean in answer["leans_on"][:40]
            ]
            common.table(
                ("missing", "stand-in", "accord", "makes good [0–1]"), rows, "Swaps leaned on", slim=True
            )
    dropped.show_rejected([(row["accord"], row["message"]) for row in answer["rejected"]])
    common.cautions(answer["notes"])
    common.sources(
        lib,
        *common.material_sources(lib, [one["id"] for one in answer["buy"]]),
        note="Which swaps count comes from the same ranking as on the screen Swap.",
    )


def _makes(lib: Library, answer: Mapping[str, Any], wish: str) -> None:
    makes = sorted(answer["makes"], key=lambda made: -(made["match"] or 0.0))
    st.header("What it makes", anchor=False)
    if wish == BUY and any(made.get("match_after") is not None for made in makes):
        won = sorted(
            makes,
            key=lambda made: -((made.get("match_after") or made["match"] or 0.0) - (made["match"] or 0.0)),
        )
        rows = [
            (
                common.titled(made["accord"]),
                made["match"] or 0.0,
                made.get("match_after") or made["match"] or 0.0,
            )
            for made in won
        ]
        bars.nearer(
            rows[:FIRST_ROWS], ("now", "after buying"), "What each accord reaches now and after buying"
        )
        rest = rows[FIRST_ROWS:]
        if rest:
            with st.expander(f"The other {count(len(rest), 'accord')}"):
                bars.nearer(rest, ("now", "after buying"), "The other accords")
        return
    said = [(common.titled(made["accord"]), made["match"] or 0.0, _lacks(lib, made)) for made in makes]
    heads = ("accord", "match, 0 to 1", "lacks")
    bars.growth(said[:FIRST_ROWS], heads, "What the shelf makes, the nearest first")
    if len(said) > FIRST_ROWS:
        with st.expander(f"The other {count(len(said) - FIRST_ROWS, 'accord')}"):
            bars.growth(said[FIRST_ROWS:], heads, "The other accords")


def _lacks(lib: Library, made: Mapping[str, Any]) -> str:
    lacks = [common.name_of(lib, id) for id in made["lacks"]]
    by = [common.name_of(lib, id) for id in made["stand_ins"]]
    if not lacks:
        return "nothing"
    return listed(lacks, 2) + (f"; by {listed(by, 2)}" if by else "")


def _buy(answer: Mapping[str, Any]) -> None:
    if not answer["buy"]:
        return
    st.header("What each bottle brings nearer", anchor=False)
    most = max(one["gain"] for one in answer["buy"]) or 1.0
    rows = [
        (
            f"{place}. {one['name']}",
            one["gain"],
            common.unbroken_join(
                [
                    one["why"],
                    f"helps {listed([common.titled(x) for x in one['helps']], 3)}" if one["helps"] else "",
                    ", ".join(one["law"]),
                ]
            ),
        )
        for place, one in enumerate(answer["buy"], 1)
    ]
    bars.growth(rows, ("bottle", "gain in coverage", "what for"), "What each bottle brings nearer", of=most)
    if answer["proved"] is not None:
        gap = f", {answer['gap']:.4f} better than picking one after another" if answer["gap"] else ""
        st.caption(
            ("Proved to be the best choice of this size by the model" if answer["proved"] else "Not proved")
            + f"{gap}."
        )


def _curve(lib: Library, answer: Mapping[str, Any]) -> None:
    st.header("How much each further material covers", anchor=False)
    rows = [
        (f"{step['n']}. {common.name_of(lib, step['add'])}", step["coverage"], "") for step in answer["curve"]
    ]
    bars.growth(rows, ("added", "coverage, 0 to 1", ""), "Coverage by number of materials")


# -- one accord ----------------------------------------------------------------------------------------------


def _one(lib: Library, accord: Accord) -> None:
    shelf = fields.shelf_of(lib, held=bool(work.setting("use_shelf")))
    _lift(lib, accord, shelf)
    _lesson(lib, accord, shelf)


def _lift(lib: Library, accord: Accord, shelf: Shelf | None) -> None:
    found = common.remembered(
        "lift", (accord, shelf), lambda: lib.lift(accord, shelf=fields.counted(lib, shelf)).to_dict()
    )
    offered = found["suggestions"]
    if offered:
        first = offered[0]
        common.headline(
            f"{common.figure(first['parts'])} parts of {first['name']} would help it carry",
            f"match {ratio(first['match'])} of 1 with what it was",
        )
    else:
        common.headline("Nothing on file would help it carry" + (" from this shelf" if shelf else ""))
    for place, one in enumerate(offered, 1):
        with st.container(horizontal=True, gap="small", key=f"entry-lift-{place}"):
            with st.expander(
                f"**{common.md(one['name'])}** · {common.figure(one['parts'])} parts · match"
                f" {ratio(one['match'])}"
            ):
                st.markdown(common.md(one["why"]))
                for law in one["law"]:
                    st.markdown(f"⚠ {common.md(law)}")
            st.button(
                "use this",
                key=f"use-lift-{place}",
                on_click=_use_lift,
                args=(one["name"], float(one["parts"])),
            )
    common.cautions(
        [
            *found["notes"],
            (
                "How far a material spreads in a room is not modelled; the model says how little is enough"
                " and that the character stays."
            ),
        ]
    )
    common.sources(lib, *common.material_sources(lib, [one["id"] for one in offered]))


def _use_lift(name: str, parts: float) -> None:
    now = work.state()
    line = {"material": name, "parts": parts, "strength_pct": 100.0, "role": "lift", "optional": False}
    work.set_accord(
        now["name"],
        [*now["rows"], line],
        missing=now["missing"],
        told=f"{name} was added to {common.titled(now['name'])}.",
    )


def _lesson(lib: Library, accord: Accord, shelf: Shelf | None) -> None:
    st.header("Sheets for a lesson", anchor=False)
    with st.spinner("Writing the sheets …"):
        laid = common.remembered(
            "lesson",
            (accord, shelf),
            lambda: lay_out(
                "lesson", lib.lesson(accord, accord.intent, shelf=fields.counted(lib, shelf)).to_dict()
            ),
        )
    common.downloads(common.stem_of(f"lesson-{accord.name}"), lambda: laid)
    for sheet in laid.sections:
        with st.expander(sheet.title.split(": ")[-1].capitalize()):
            common.sheet(sheet)
