"""Adjust: the accord, swapped and rescaled: the verdict first, every line before and after, how the smell
moves, limits, rivals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers.words import count
from ..records import Accord
from . import accord as accords
from . import adjusted, asked, bench_rows, common, fields, side, work

if TYPE_CHECKING:
    from ..library import Library

LINK = ("because", "product", "dose", "market", "max_new", "use_shelf")


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    with common.question():
        accord, options = _ask(lib)
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer(complaints):
        if accord is None:
            return
        if _lacking(lib, accord):
            return
        with st.spinner("Weighing the choices …"):
            made_of = (accord, *sorted(options.items(), key=lambda item: item[0]))
            found = common.remembered("adjust", made_of, lambda: lib.adjust(accord, **options))
        adjusted.show(lib, accord, found, options)


def _ask(lib: Library) -> tuple[Accord | None, dict[str, Any]]:
    now = work.state()
    held_now, _ = bench_rows.checked(now["rows"], lib.accord_of, now["name"] or "accord")
    with st.container(horizontal=True, gap="small"):
        accords.accord_box(lib)
        now = work.state()
        if held_now is None:
            held_now, _ = bench_rows.checked(now["rows"], lib.accord_of, now["name"] or "accord")
        held = accords.lines_of(lib, held_now) if held_now else []
        product = fields.product_fields(lib)
        keep = _how(held)
    left, right = st.columns([3, 2])
    with left:
        missing = _chosen(
            "Missing", "missing", held, "nothing is missing", "Lines that are not to be had, or must go."
        )
    with right:
        because = fields.reason()
    accord = accords.formula(lib)
    options: dict[str, Any] = {
        "without": tuple(missing),
        "because": because,
        "keep": tuple(keep),
        "move": float(work.setting("move")),
        "same_total": work.setting("same_total"),
        "use": tuple(now["use"]) if missing else (),
        "shelf": fields.counted(lib, fields.shelf_of(lib)),
        "max_new": work.setting("max_new") or None,
        **product,
    }
    return accord, options


def _how(held: list[str]) -> list[str]:
    """How far it may go, folded to a line that says it; the lines that must stay."""
    now, most, move = work.state(), work.setting("max_new"), work.setting("move")
    said = [
        f"up to {most} new" if most else "as few new as do",
        f"{count(len(now['keep']), 'line')} pinned" if now["keep"] else "",
        "same total" if work.setting("same_total") else "",
        f"lines move up to {move} %" if move != asked.SETTINGS["move"].plain else "",
        "my shelf only" if work.setting("use_shelf") else "",
    ]
    with st.popover(", ".join(filter(None, said))):
        fields.shelf_toggle()
        fields.field(
            st.slider,
            "New materials [at most; 0 lets the number of gaps decide]",
            "max_new",
        )
        fields.field(
            st.slider,
            "Other lines may move by [±%]",
            "move",
            step=5,
            help="A line that is not in question is moved only where it raises the match, and never further.",
        )
        fields.field(
            st.toggle,
            "Keep the old total",
            "same_total",
            help="Otherwise the formula may weigh more or less, and the dose that carries the same is said.",
        )
        return _chosen("Pinned lines", "keep", held, "none", "They stay as they are, whatever it costs.")


def _chosen(label: str, name: str, held: list[str], nothing: str, help: str) -> list[str]:
    """A choice of the accord's lines that the work keeps under ``name``."""
    here = [one for one in work.state()[name] if one in held]
    key = f"in_{name}"
    if st.session_state.get("fresh_screen") or st.session_state.get(key) != here:
        st.session_state[key] = here
    found: list[str] = st.multiselect(
        label,
        held,
        key=key,
        on_change=_choose,
        args=(name,),
        placeholder=nothing,
        filter_mode="contains",
        help=help,
    )
    return found


def _choose(name: str) -> None:
    work.remember(f"what is {name} was changed")
    work.state()[name] = list(st.session_state[f"in_{name}"])
    if name == "missing":
        work.state()["use"] = []


def _lacking(lib: Library, accord: Accord) -> bool:
    """What was asked for on Swap isn't in this accord: offer those that hold it."""
    held = accords.lines_of(lib, accord)
    gone = [name for name in work.state()["missing"] if name not in held]
    if not gone:
        return False
    name = gone[0]
    common.headline(f"{common.titled(accord.name)} does not hold {name}")
    common.following(
        f"which accord is to go without {name}? Open or paste yours above, or take one of the demo's:"
    )
    found = accords.holding(lib, lib.find(name).id)
    with st.container(horizontal=True):
        for stem in found[:8]:
            st.button(common.titled(stem), key=f"use-demo-{stem}", on_click=_into_demo, args=(lib, stem))
        if not found:
            st.caption("None of the demo's accords holds it.")
        st.button(f"Leave {name} aside", key="aside", type="tertiary", on_click=_aside, args=(gone,))
    return True


def _into_demo(lib: Library, stem: str) -> None:
    missing, use = list(work.state()["missing"]), list(work.state()["use"])
    accords.bring(_with_missing, lib, stem, missing, use)


def _with_missing(lib: Library, stem: str, missing: list[str], use: list[str]) -> None:
    accords.open_demo(lib, stem, missing)
    work.state()["use"] = use


def _aside(gone: list[str]) -> None:
    now = work.state()
    now.update(missing=[name for name in now["missing"] if name not in gone], use=[])
