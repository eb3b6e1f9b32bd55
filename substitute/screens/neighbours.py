"""Neighbours: a route plan of what lies near a material, word or constituent; every stop can be travelled
to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..figures import ratio
from . import bars, common, fields, side, work

if TYPE_CHECKING:
    from ..library import Library

LINK = ("of", "to", "top")
MOST_LINES, MOST_STOPS, TRAIL = 5, 14, 6
FIRST = "linalool"


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    if not work.setting("of") and not complaints:
        work.put(of=work.setting("material") or FIRST)
    with common.question():
        left, right, last = st.columns([3, 3, 1])
        with left:
            of = fields.pick(
                "Near what",
                "of",
                lib,
                words="first",
                help="A material, a constituent, or a word such as mossy.",
            )
        with right:
            to = fields.pick(
                "Way to (may stay empty)",
                "to",
                lib,
                words="first",
                help="Shows the nearest ties from the one to the other.",
            )
        with last:
            fields.field(
                st.number_input,
                "How many",
                "top",
            )
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer(complaints):
        fields.meant("of")
        if not of:
            common.headline("Near what?")
            common.following("type a material, a word for a smell or a constituent above.")
            return
        with st.spinner("Looking around …"):
            top = max(work.setting("top"), 10)
            found = common.remembered(
                "neighbours", (of, to, top), lambda: lib.neighbours(of, to=to or None, top=top).to_dict()
            )
        _answer(lib, found)


def _answer(lib: Library, found: Mapping[str, Any]) -> None:
    of, near = found["of"], found["neighbours"]
    if not near:
        common.headline(f"Nothing near {of['name']} is on file")
        common.following("try a material that smells like it, or a word for its smell.")
        return
    common.headline(
        f"{near[0]['name']} lies nearest to {of['name']}", f"likeness {ratio(near[0]['similarity'])} of 1"
    )
    _trail(of["name"])
    if found["path"]:
        _way(found)
    lines, stops = plan(lib, of, near[:MOST_STOPS])
    _route(of, lines, stops)
    rest = near[MOST_STOPS:]
    if rest:
        with st.expander(f"{count(len(rest), 'more stop')}"):
            common.table(
                ("rank", "material", "likeness [0–1]", "shared"),
                _rows(rest, MOST_STOPS + 1),
                "What lies further off",
                slim=True,
            )
    _ties(lib, of)
    common.downloads(f"neighbours-{common.stem_of(of['id'])}", lambda: lay_out("neighbours", found))
    ids, bases = common.material_sources(lib, [of["id"], *(one["id"] for one in near)])
    common.sources(
        lib, ids, bases, "Likeness comes from the profiles on file, naturals mixed with their constituents."
    )


def plan(
    lib: Library, of: Mapping[str, Any], near: Sequence[Mapping[str, Any]]
) -> tuple[list[str], list[tuple[Mapping[str, Any], list[int]]]]:
    """(words that are lines, (stop, the lines that call there)): only the lines of the one asked about,
    the nearest stop first."""
    known, names = lib.tables.profiles, lib.tables.descriptors
    if of["kind"] == "descriptor":
        own = {of["id"]: 11.0}
        for one in near:
            for id, weight in known.get(one["id"], {}).items():
                if id != of["id"]:
                    own[id] = own.get(id, 0.0) + weight / 10 / len(near)
    else:
        own = dict(known.get(of["id"], {}))
    lines = sorted(own, key=lambda id: (-own[id], id))[:MOST_LINES]
    stops = [
        (one, [number for number, id in enumerate(lines) if known.get(one["id"], {}).get(id, 0.0) >= 1])
        for one in near
    ]
    return [names[id].name for id in lines], stops


def _route(of: Mapping[str, Any], lines: list[str], stops: list[tuple[Mapping[str, Any], list[int]]]) -> None:
    if lines:
        st.html(
            '<p class="next">'
            + " · ".join(
                f'<span style="white-space:nowrap"><b>line {number}</b> {common.safe(name)}</span>'
                for number, name in enumerate(lines, 1)
            )
            + "</p>"
        )
    with st.container(horizontal=True, key="route"):
        drawing, wide = bars.route(lines, [on for _, on in stops])
        st.html(drawing, width=wide)
        with st.container(key="stops"):
            with st.container(horizontal=True, key="stop_0"):
                st.html(f'<b>{common.safe(of["name"])}</b> <span class="stop-words">you are here</span>')
            for place, (one, on) in enumerate(stops, 1):
                with st.container(horizontal=True, key=f"stop_{place}"):
                    st.button(
                        one["name"],
                        key=f"travel-{place}",
                        type="tertiary",
                        on_click=travel,
                        args=(one["name"],),
                        help="Travel there",
                    )
                    changes = "change " if len(on) > 1 else "line " if on else ""
                    lines_here = changes + ", ".join(str(number + 1) for number in on)
                    words = ", ".join(one["shared"])
                    st.html(
                        f'<div class="stop-words"><b>{ratio(one["similarity"])}</b>'
                        f" {common.safe(common.unbroken_join([lines_here, words]))}</div>",
                        width="stretch",
                    )
    st.caption(
        f"Each word for the smell of {common.md(of['name'])} is a line, each material a stop, the likest"
        " first; a bar joins the lines that meet at a stop. The figure is the likeness, 0 to 1."
    )


def travel(name: str) -> None:
    """Callback: on to a stop; where one was joins the trail."""
    been: list[str] = st.session_state.setdefault("trail", [])
    here = work.setting("of")
    if here and (not been or been[-1] != here):
        been.append(here)
    del been[:-TRAIL]
    _stand(name)


def _stand(name: str) -> None:
    st.session_state["meant_of"] = None
    work.change(f"{name} was asked for", of=name, to="")


def _back(place: int, name: str) -> None:
    del st.session_state["trail"][place:]
    _stand(name)


def _trail(here: str) -> None:
    been = st.session_state.get("trail", [])
    while been and been[-1] == here:  # undo led back to it
        been.pop()
    with st.container(horizontal=True, vertical_alignment="center", gap="small", key="trail"):
        for place, name in enumerate(been):
            st.button(f"{name} ›", key=f"trail-{place}", type="tertiary", on_click=_back, args=(place, name))
        st.button(
            f"What stands in for {here}" if been else "What stands in for it",
            key="to_swap",
            on_click=_to_swap,
            args=(here,),
        )


def _to_swap(name: str) -> None:
    work.go("swap", material=name)


def _way(found: Mapping[str, Any]) -> None:
    steps = [(step["name"], step["kind"], step["shared"]) for step in found["path"]]
    st.header(f"From {steps[0][0]} to {steps[-1][0]}", anchor=False)
    said = " – ".join(f"{name}, {tie}" if tie else name for name, _, tie in steps)
    bars.way(steps, f"The way: {said}")


def _ties(lib: Library, of: Mapping[str, Any]) -> None:
    """What it holds, is held by, and smells of."""
    node, graph = (of["kind"], of["id"]), lib.graph
    if node not in graph:
        return
    rows = sorted(
        (
            (-min(1.0, data["weight"]), graph.nodes[other]["label"], other[0], data["relation"])
            for other, data in graph[node].items()
        ),
        key=lambda row: (row[0], row[1]),
    )
    strongest = listed([row[1] for row in rows if row[2] != "descriptor"], 3)
    with st.expander(f"All its ties ({len(rows)}){f': {strongest}' if strongest else ''}"):
        common.table(
            ("tied to", "kind", "tie", "closeness [0–1]"),
            [(name, kind, tie, f"{ratio(-weight)}") for weight, name, kind, tie in rows[:80]],
            f"All ties of {of['name']}",
            slim=True,
            wide=("tie",),
        )


def _rows(near: Sequence[Mapping[str, Any]], first: int) -> list[tuple[Any, ...]]:
    return [
        (str(place), one["name"], f"{ratio(one['similarity'])}", ", ".join(one["shared"]) or "–")
        for place, one in enumerate(near, first)
    ]
