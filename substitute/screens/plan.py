"""Plan: what the shelf makes, what to buy, what to start from; and for one accord what would lift it, and sheets for a lesson."""

from __future__ import annotations

import streamlit as st

from . import accord as accords
from . import charts, common, dropped, work

LINK = ("buy",)
WISHES = {"makes": "see what my shelf makes", "buy": "buy something", "nothing": "start a shelf from nothing"}


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Plan", "What your shelf makes of a folder of accords, what to buy next, and how to teach one accord."
    )
    lib = common.library()
    for text in work.from_link(LINK, {}):
        common.fault(text)
    shelf, one = st.tabs(["The shelf", "One accord"])
    with shelf:
        _shelf(lib)
    with one:
        _one(lib)
    work.to_link(LINK)


def _shelf(lib) -> None:
    pile = dropped.pick(lib, "plan")
    wish = st.radio("I want to", list(WISHES), format_func=WISHES.get, horizontal=True, key="plan_wish")
    count = None
    if wish != "makes":
        count = common.field(
            st.slider,
            "Materials [at most]",
            "buy",
            min_value=1,
            max_value=20,
            help="How many more materials may be bought.",
        )
    if pile is None:
        return
    with common.guarded():
        many, rejected = dropped.read(lib, pile, "plan")
        dropped.show_rejected(rejected)
        _asked(lib, pile, many, wish, count)


def _asked(lib, pile, many, wish: str, count: int | None) -> None:
    shelf = None
    if wish != "nothing":
        rows = work.state()["shelf"]
        shelf, complaints = work.checked(rows, lib.shelf_of, "the shelf") if rows else (None, [])
        if complaints:
            st.error(f"The shelf has faults: {common.md(complaints[0])}. Mend it on the screen Shelf.")
            return
        if shelf is None:
            st.info("Your shelf is empty. Next: fill it on the screen Shelf, or take the demo's.")
            st.button("Take the demo's shelf", key="plan_demo_shelf", on_click=_demo_shelf, args=(lib,))
            return
    if not many:
        return
    made_of = (pile.key, shelf, wish, count)
    if st.button(
        "Work it out",
        key="plan_go",
        type="primary",
        help=f"{len(many)} accords of {common.md(pile.called)}, each adjusted for real; half a minute for sixty.",
    ):
        with common.guarded():
            st.session_state["plan_answer"] = (made_of, _planned(lib, many, shelf, wish, count))
    kept = st.session_state.get("plan_answer")
    if kept and kept[0] == made_of:
        _answer(lib, kept[1], wish)
    elif kept:
        st.caption("The last answer was to another question; work it out again.")


def _demo_shelf(lib) -> None:
    work.set_shelf(work.shelf_rows_of(lib.read_shelf(lib.demo / "shelf.csv"), lib.tables.materials))


def _planned(lib, many, shelf, wish: str, count: int | None):
    bar = st.progress(0.0, text="Getting ready")

    def progress(done: int, of: int, what: str) -> None:
        bar.progress(
            min(1.0, done / of) if of else 0.0, text=f"{what}: {done} of {of}" if of else f"{what}: {done}"
        )

    try:
        wishes = {"buy": count} if wish == "buy" else {"from_nothing": count} if wish == "nothing" else {}
        return lib.plan(many, shelf=shelf, progress=progress, **wishes)
    finally:
        bar.empty()


def _answer(lib, found, wish: str) -> None:
    answer = found.to_dict()
    cover = answer["coverage"]
    if wish == "makes":
        st.markdown(
            f"The shelf reaches a mean match of **{cover['verified_before']:.2f}** of 1 over {len(answer['makes'])} accords, each adjusted for real.",
            help=common.word("match"),
        )
    else:
        st.markdown(
            f"The mean match goes from **{cover['verified_before']:.2f}** to **{cover['verified_after']:.2f}** of 1 over {len(answer['makes'])} accords, each adjusted for real.",
            help=common.word("match"),
        )
        _buy(answer)
    if answer["curve"]:
        _curve(lib, answer)
    st.subheader("What it makes", anchor=False)
    rows = [
        (made["accord"].replace("-", " "), "–" if made["match"] is None else f"{made['match']:.2f}", *([f"{made['match_after']:.2f}" if made.get("match_after") is not None else "–"] if wish == "buy" else []),
         ", ".join(_name(lib, id) for id in made["lacks"]) or "nothing", ", ".join(_name(lib, id) for id in made["stand_ins"]) or "–")
        for made in sorted(answer["makes"], key=lambda made: -(made["match"] or 0.0))
    ]  # fmt: skip
    columns = (
        "accord",
        "match [0–1]",
        *(("after buying [0–1]",) if wish == "buy" else ()),
        "lacks",
        "stand-ins",
    )
    common.long_table(columns, rows, "Accords and the match the shelf reaches")
    common.downloads("plan", "What the shelf makes, and what to buy", lambda: _sheets(found))
    if answer["leans_on"]:
        with st.expander("Swaps that these accords lean on"):
            common.table(
                ("missing", "stand-in", "accord", "makes good [0–1]"),
                [
                    (
                        _name(lib, lean["missing"]),
                        _name(lib, lean["stand_in"]),
                        lean["accord"],
                        f"{lean['value']:.2f}",
                    )
                    for lean in answer["leans_on"][:40]
                ],
                "Swaps leaned on",
            )
    dropped.show_rejected([(row["accord"], row["message"]) for row in answer["rejected"]])
    common.cautions(
        [
            "Choices are made by a model of coverage; every accord shown was then adjusted for real. Smell before you buy.",
            *answer["notes"],
        ]
    )
    common.sources(
        lib,
        *common.material_sources(lib, [one["id"] for one in answer["buy"]]),
        note="Which swaps count comes from the same ranking as on the screen Swap.",
    )


def _name(lib, id: str) -> str:
    return lib.tables.materials[id].name if id in lib.tables.materials else id


def _buy(answer: dict) -> None:
    st.subheader("What to buy", anchor=False)
    if not answer["buy"]:
        st.info("Nothing that could be bought would help these accords.")
        return
    rows = [
        (
            str(place),
            one["name"],
            one["cas"] or "–",
            f"{one['gain']:.3f}",
            ", ".join(one["helps"][:4]) + (" …" if len(one["helps"]) > 4 else "") or "–",
            one["why"],
            ", ".join(one["law"]) or "–",
        )
        for place, one in enumerate(answer["buy"], 1)
    ]
    common.table(
        ("order", "material", "CAS", "gain [0–1]", "helps most", "why", "law"), rows, "What to buy, in order"
    )
    if answer["proved"] is not None:
        gap = f", {answer['gap']:.4f} better than picking one after another" if answer["gap"] else ""
        st.caption(
            f"{'Proved to be the best choice of this size by the model' if answer['proved'] else 'The best choice found; not proved'}{gap}."
        )


def _curve(lib, answer: dict) -> None:
    rows = [
        {"x": step["n"], "y": step["coverage"], "what": _name(lib, step["add"])} for step in answer["curve"]
    ]
    st.subheader("How much each further material covers", anchor=False)
    charts.curve(
        rows,
        "materials on the shelf",
        "coverage [0–1]",
        f"Coverage rises from {rows[0]['y']:.2f} with one material to {rows[-1]['y']:.2f} with {rows[-1]['x']}; the table below says the same.",
    )
    with st.expander("The same as a table"):
        common.table(
            ("materials", "coverage [0–1]", "added last"),
            [(str(row["x"]), f"{row['y']:.3f}", row["what"]) for row in rows],
            "Coverage by number of materials",
        )


def _sheets(found) -> list:
    from ..shelf.lesson import plan_sheets

    return plan_sheets(found)


def _one(lib) -> None:
    accord = accords.accord_editor(lib, open_table=False)
    if accord is None:
        return
    shelf = common.shelf_of(lib, ask=False)
    with common.guarded():
        _lift(lib, accord, shelf)
    with common.guarded():
        _lesson(lib, accord, shelf)


def _lift(lib, accord, shelf) -> None:
    st.subheader("What would help it carry", anchor=False)
    found = common.remembered("lift", (accord, shelf), lambda: lib.lift(accord, shelf=shelf).to_dict())
    rows = [
        (
            one["name"],
            common.figure(one["parts"]),
            f"{one['match']:.2f}",
            one["why"],
            ", ".join(one["law"]) or "–",
        )
        for one in found["suggestions"]
    ]
    if rows:
        common.table(
            ("material", "add [parts]", "match [0–1]", "why", "law"),
            rows,
            "Clean, radiant materials that would help the accord carry, and how little",
        )
    else:
        st.info(
            "Nothing clean and radiant on file would help it carry" + (" from this shelf." if shelf else ".")
        )
    common.cautions(
        [
            *found["notes"],
            "How far a material spreads in a room is not modelled; the model says how little is enough and that the character stays.",
        ]
    )
    common.sources(lib, *common.material_sources(lib, [one["id"] for one in found["suggestions"]]))


def _lesson(lib, accord, shelf) -> None:
    st.subheader("Sheets for a lesson", anchor=False)
    with st.spinner("Writing the sheets …"):
        sheets = common.remembered(
            "lesson", (accord, shelf), lambda: lib.lesson(accord, accord.intent, shelf=shelf)
        )
    common.downloads(common.stem_of(f"lesson-{accord.name}"), f"Lesson: {accord.name}", lambda: sheets)
    for sheet in sheets:
        with st.expander(sheet.title.split(": ")[-1].capitalize()):
            common.sheet(sheet)
