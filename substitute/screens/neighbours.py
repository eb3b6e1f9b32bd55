"""Neighbours: what lies near a material, descriptor or constituent, what is shared, and the path between two."""

from __future__ import annotations

import streamlit as st

from . import charts, common, work

LINK = ("of", "to", "top")
EACH_SIDE = 9


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Neighbours", "What lies near a material, a descriptor or a constituent, and by what they are tied."
    )
    lib = common.library()
    for text in work.from_link(LINK, {}):
        common.fault(text)
    words = sorted(word.name for word in lib.tables.descriptors.values())
    left, right, last = st.columns([3, 3, 2])
    with left:
        of = common.material_field(
            "Near what",
            "of",
            lib,
            more=words,
            help="A material, a descriptor such as mossy, or a constituent. " + common.word("descriptor"),
        )
    with right:
        to = common.material_field(
            "Path to (may stay empty)",
            "to",
            lib,
            more=words,
            help="Draws the nearest ties from the one to the other.",
        )
    with last:
        common.field(st.number_input, "How many", "top", min_value=1, max_value=50)
    work.to_link(LINK)
    if not of:
        st.info("Pick or type a material, a descriptor or a constituent to see what lies near it.")
        return
    with common.guarded():
        with st.spinner("Looking around …"):
            found = common.remembered(
                "neighbours",
                (of, to, work.setting("top")),
                lambda: lib.neighbours(of, to=to or None, top=work.setting("top")).to_dict(),
            )
        _answer(lib, found, to)


def _answer(lib, found: dict, to: str) -> None:
    of = found["of"]
    if to:
        _path(found, to)
    st.subheader(f"Near {of['name']}", anchor=False)
    st.caption(f"{of['kind']} · {len(found['neighbours'])} neighbours, the nearest first")
    rows = [
        (
            place,
            near["name"],
            near["cas"] or "–",
            f"{near['similarity']:.2f}",
            ", ".join(near["shared"]) or "–",
        )
        for place, near in enumerate(found["neighbours"], 1)
    ]
    if rows:
        common.table(
            ("rank", "material", "CAS", "similarity [0–1]", "shared"), rows, f"What lies near {of['name']}"
        )
        st.caption(
            "Similarity is "
            + common.md(common.WORDS["similarity"][0].lower() + common.WORDS["similarity"][1:])
        )
    else:
        st.info("Nothing near it is on file.")
    _small_graph(lib, of)
    common.downloads(
        f"neighbours-{common.stem_of(of['id'])}", f"Near {of['name']}", lambda: [_sheet(of, rows)]
    )
    ids, bases = common.material_sources(lib, [of["id"], *(near["id"] for near in found["neighbours"])])
    common.sources(
        lib, ids, bases, "Similarity comes from the profiles on file, naturals mixed with their constituents."
    )


def _path(found: dict, to: str) -> None:
    st.subheader(f"From {found['of']['name']} to {to}", anchor=False)
    steps = [(step["name"], step["kind"], step["shared"]) for step in found["path"]]
    if not steps:
        st.info("No path on file ties the two.")
        return
    said = " – ".join(f"{name}, {tie}" if tie else name for name, _, tie in steps)
    charts.chain(steps, f"Path: {said}")
    st.caption(
        f"{common.md(said)}. Square: material; triangle: constituent that nobody weighs; circle: descriptor."
    )


def _small_graph(lib, of: dict) -> None:
    """The one asked about in the middle, what it holds or is held by on the left, descriptors on the right; nothing moves."""
    node = (of["kind"], of["id"])
    graph = lib.graph
    if node not in graph:
        return
    left, right = [], []
    for other, data in graph[node].items():
        name = graph.nodes[other]["label"]
        entry = (name, other[0], data["relation"], min(1.0, data["weight"]))
        (right if other[0] == "descriptor" else left).append(entry)
    left.sort(key=lambda entry: -entry[3])
    right.sort(key=lambda entry: -entry[3])
    is_word = of["kind"] == "descriptor"
    heads = (
        ("smell of it", of["kind"], "kin") if is_word else ("holds or is held by", of["kind"], "smells of")
    )
    st.subheader("Its ties", anchor=False)
    alt = f"{of['name']} in the middle; left: {', '.join(e[0] for e in left[:EACH_SIDE]) or 'nothing'}; right: {', '.join(e[0] for e in right[:EACH_SIDE]) or 'nothing'}"
    charts.three_columns(
        [(n, k, w) for n, k, _, w in left[:EACH_SIDE]],
        of["name"],
        [(n, k, w) for n, k, _, w in right[:EACH_SIDE]],
        heads,
        alt,
    )
    st.caption(
        "The thicker the line, the closer the tie. Square: material; triangle: constituent that nobody weighs; circle: descriptor; diamond: the one asked about."
    )
    with st.expander(f"All ties as a table ({len(left) + len(right)})"):
        common.table(
            ("tied to", "kind", "tie", "closeness [0–1]"),
            [(n, k, r, f"{w:.2f}") for n, k, r, w in (*left, *right)[:80]],
            f"All ties of {of['name']}",
        )


def _sheet(of: dict, rows: list):
    from ..accords.sheets import Sheet

    return Sheet(f"Near {of['name']}", ("rank", "material", "CAS", "similarity [0-1]", "shared"), rows)
