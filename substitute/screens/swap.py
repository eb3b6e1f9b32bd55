"""Swap: what stands in for a material that is gone, how much of it, and what changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..errors import SubstituteError
from . import accord as accords
from . import bench_rows, common, fields, side, stand_in, work
from .words import word

if TYPE_CHECKING:
    from ..library import Library

LINK = ("material", "because", "product", "dose", "market", "blend", "top", "use_shelf")


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    with common.question():
        material, because = _ask(lib)
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer(complaints):
        fields.meant("material")
        if not material:
            _example(lib)
            return
        if fields.best(lib, material, words="last")[0] == material and fields.is_word(lib, material):
            _smelling_of(lib, material)
            return
        _answer(lib, material, because)


def _ask(lib: Library) -> tuple[str, str]:
    left, right = st.columns([3, 2])
    with left:
        material = fields.pick("Missing material", "material", lib, words="last")
    with right:
        because = fields.reason("Why it is gone")
    with st.container(horizontal=True, gap="small"):
        fields.product_fields(lib)
        only = ", my shelf only" if work.setting("use_shelf") else ""
        beside = ", beside my accord" if work.setting("use_accord") else ""
        blends = f"blends of {work.setting('blend')}" if work.setting("blend") > 1 else "single materials"
        with st.popover(f"{blends}{only}{beside}"):
            fields.shelf_toggle()
            fields.field(
                st.toggle,
                "Beside the rest of my accord",
                "use_accord",
                help=(
                    "Candidates that bring what neither the missing material nor the rest of the accord has"
                    " rank lower."
                ),
            )
            fields.field(
                st.slider,
                "Blends of up to [materials]",
                "blend",
                help=word("stand-in"),
            )
            fields.field(
                st.number_input,
                "Answers [at most]",
                "top",
            )
    return material, because


def _example(lib: Library) -> None:
    common.headline("Which material is gone?")
    common.following("type its name above, or begin with an example.")
    held = accords.FIRST_MISSING
    name = common.titled(accords.FIRST_DEMO)
    st.button(
        f"Example: {held}, protected by law, is to go from the demo accord {name}",
        key="example",
        type="primary",
        on_click=_take_example,
        args=(lib,),
    )


def _smelling_of(lib: Library, word: str) -> None:
    """A word for a smell was asked for: which of the materials that smell of it is gone?"""
    near = lib.neighbours(word, top=10).to_dict()["neighbours"]
    stocked = [one for one in near if lib.tables.materials[one["id"]].stocked]
    common.headline(f"Which {word} material is gone?")
    common.following("choose one; what smells most of it stands first.")
    with st.container(horizontal=True, gap="small"):
        for place, one in enumerate(stocked, 1):
            st.button(one["name"], key=f"of-word-{place}", on_click=_gone, args=(one["name"],))
    st.button(
        "All that lies near this word", key="to_neighbours", on_click=_near, args=(word,), type="tertiary"
    )


def _gone(name: str) -> None:
    work.change(f"{name} was asked for", material=name)


def _take_example(lib: Library) -> None:
    if not work.state()["rows"]:
        accords.open_demo(lib, accords.FIRST_DEMO, [accords.FIRST_MISSING])
        work.put(material=accords.FIRST_MISSING, because=accords.FIRST_REASON)
        return
    work.change("the example was asked for", material=accords.FIRST_MISSING, because=accords.FIRST_REASON)


def _options(lib: Library) -> dict[str, Any]:
    options: dict[str, Any] = fields.product_options()
    options["shelf"] = fields.counted(lib, fields.shelf_of(lib))
    if work.setting("use_accord"):
        now = work.state()
        if not now["rows"]:
            st.info("No accord is on the bench yet, so nothing stands beside.")
        found, complaints = bench_rows.checked(now["rows"], lib.accord_of, now["name"] or "accord")
        if complaints:
            st.warning(
                f"The accord has faults and is not used: {common.md(complaints[0])}. Mend it on the screen"
                " Adjust."
            )
        options["accord"] = found
    return {**options, "blend": work.setting("blend"), "top": work.setting("top")}


def _answer(lib: Library, material: str, because: str) -> None:
    options = _options(lib)
    made_of = (material, because, *options.items())
    with st.spinner("Looking for what stands in …"):
        found = common.remembered(
            "swap", made_of, lambda: lib.swap(material, because=because, **options).to_dict()
        )
    missing, entries = found["missing"], found["stand_ins"]
    if not entries:
        _nothing(lib, found)
        return
    first = entries[0]
    names = " + ".join(member["name"] for member in first["materials"])
    alone = stand_in.amount(first["materials"][0]) if len(first["materials"]) == 1 else ""
    common.headline(
        f"{names} stands in for {missing['name']}", common.unbroken_join([alone, first["in_words"]])
    )
    common.following(_next(lib, missing))
    shelf = fields.shelf_of(lib, held=False)
    for entry in entries:
        stand_in.draw(lib, missing, entry, shelf)
    if found["notes"]:
        st.caption("  \n".join(common.md(common.with_titles(lib, note)) for note in found["notes"]))
    _take_along(found, missing)


def _nothing(lib: Library, found: Mapping[str, Any]) -> None:
    common.headline(f"Nothing is near enough to stand in for {found['missing']['name']}")
    near = f"The nearest is {found['nearest']['name']}. " if found["nearest"] else ""
    common.following(f"{near}Take the shelf away, try another reason, or look at the screen Neighbours.")
    for note in found["notes"]:
        st.info(common.md(common.with_titles(lib, note)))


def _next(lib: Library, missing: Mapping[str, Any]) -> str:
    held = _held(lib, missing["id"])
    return (
        f"“use this” takes a stand-in into {held}."
        if held
        else "“use this” asks which accord it goes into; open a line for reasons, gains and cautions."
    )


def _held(lib: Library, id: str) -> str:
    """The accord on the bench, if it holds the material."""
    now = work.state()
    for row in now["rows"]:
        try:
            if lib.find(str(row["material"])).id == id:
                return common.titled(now["name"])
        except SubstituteError:
            continue
    return ""


def _take_along(found: Mapping[str, Any], missing: Mapping[str, Any]) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        common.downloads(
            f"swap-{missing['id']}",
            lambda: lay_out("swap", found),
        )
        st.button(
            "What else lies near it",
            key="to_neighbours",
            on_click=_near,
            args=(missing["name"],),
            type="tertiary",
        )
        st.button(
            "Its card",
            key="to_card",
            on_click=work.go,
            args=("material",),
            kwargs={"card": missing["name"]},
            type="tertiary",
            help="What is on file about the missing material itself.",
        )
    common.cautions(text for entry in found["stand_ins"] for text in entry["cautions"])


def _near(name: str) -> None:
    work.go("neighbours", of=name, to="")
