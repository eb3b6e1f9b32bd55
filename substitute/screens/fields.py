"""Fields tied to settings, and the one box that takes every name: what is typed is ranked as ``find``
ranks it, Enter takes the best."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Literal

import streamlit as st

from ..errors import InputError, NotFound, Several
from ..figures import given
from . import asked, bench_rows, common, work
from .words import BECAUSE, word

if TYPE_CHECKING:
    from ..library import Library
    from ..records import Shelf

TIE = "  ·  "  # between another name and the name it stands for
NO_PRODUCT = "no product yet"
MOST_OTHERS = 5
Words = Literal["none", "first", "last"]
SHORTEST = 3  # letters from which a beginning is taken for a name


def field(widget: Callable[..., Any], label: str, name: str, **options: Any) -> Any:
    """A widget tied to a setting, which survives moving between screens; a number's lies in its span."""
    key, span = f"in_{name}", asked.SETTINGS[name].span
    if span is not None:
        options = {"min_value": span[0], "max_value": span[1], **options}
    stale = key not in st.session_state or st.session_state[key] != work.setting(name)
    if st.session_state.get("fresh_screen") or stale:
        st.session_state[key] = work.setting(name)  # on another screen it is another widget to Streamlit
    return widget(label, key=key, on_change=work.keep, args=(name,), **options)


# -- names ---------------------------------------------------------------------------------------------------


@st.cache_resource(show_spinner=False)
def _options(_lib: Library, digest: str, words: bool, all_materials: bool) -> list[str]:
    """Every name, then every other name and CAS number with the name it stands for, by the ``digest``."""
    del digest
    materials = [m for m in _lib.tables.materials.values() if m.stocked or all_materials]
    names = sorted((m.name for m in materials), key=str.casefold)
    if words:
        names += sorted(one.name for one in _lib.tables.descriptors.values())
    others = [
        f"{other}{TIE}{m.name}" for m in materials for other in (*m.synonyms, *m.cas[:1]) if other != m.name
    ]
    return ["", *names, *sorted(set(others), key=str.casefold)]


def options(lib: Library, *, words: bool = False, everything: bool = False) -> list[str]:
    return _options(lib, lib.tables.digest, words, everything)


def is_word(lib: Library, text: str) -> bool:
    """Whether it is a word for a smell."""
    return text.casefold() in {one.name.casefold() for one in lib.tables.descriptors.values()}


def best(lib: Library, text: str, *, words: Words = "none") -> tuple[str, list[str]]:
    """(name, other names) that what was typed most likely means, as ``find`` reads it; '' where nothing
    is like it. A word for a smell is taken before every material, after them, or not at all."""
    text = text.rpartition(TIE)[2].strip()
    if not text:
        return "", []
    if words == "first" and is_word(lib, text):
        return text, []
    try:
        reading = lib.names.read(text)
        return reading.material.name, [common.name_of(lib, id) for id in reading.others[:MOST_OTHERS]]
    except (NotFound, Several) as error:
        near = [common.name_of(lib, one) for one in error.suggestions]
        unknown = isinstance(error, NotFound)
    except InputError:
        return "", []
    if unknown and words == "last" and is_word(lib, text):
        return text, []
    if unknown and len(text) >= SHORTEST:
        begin = [
            name
            for name in options(lib, words=words != "none")
            if name.casefold().startswith(text.casefold())
        ]
        near = [*dict.fromkeys(name.rpartition(TIE)[2] for name in begin), *near]
    found = list(dict.fromkeys(near))
    return (found[0], found[1 : MOST_OTHERS + 1]) if found else ("", [])


def _picked(lib: Library, name: str, words: Words) -> None:
    typed = st.session_state[f"in_{name}"] or ""
    chosen, others = best(lib, typed, words=words)
    st.session_state[f"meant_{name}"] = (
        (typed, chosen, others) if others or (chosen and TIE not in typed and chosen != typed) else None
    )
    work.change(f"{typed.rpartition(TIE)[2] or 'nothing'} was asked for", **{name: chosen or typed})


def pick(
    label: str,
    name: str,
    lib: Library,
    *,
    words: Words = "none",
    everything: bool = False,
    help: str | None = None,
) -> str:
    """The box for one material (or word for a smell): suggestions while typing, Enter takes the best. Where
    words come first, or with ``everything``, what nobody weighs is suggested as well."""
    known = options(lib, words=words != "none", everything=everything or words == "first")
    chosen = work.setting(name) or ""
    if chosen not in known:
        known = ["", chosen, *known[1:]]
    key = f"in_{name}"
    if st.session_state.get("fresh_screen") or st.session_state.get(key) != chosen:
        st.session_state[key] = chosen
    found = st.selectbox(
        label,
        known,
        key=key,
        on_change=_picked,
        args=(lib, name, words),
        accept_new_options=True,
        filter_mode="contains",
        help=help or word("material"),
        format_func=lambda text: text or "type a name, synonym or CAS",
    )
    return found or ""


def new_name(lib: Library, label: str, key: str, width: int | Literal["stretch"] = "stretch") -> None:
    """The box for what is to be added to a table; what is typed is read when it is added."""
    st.selectbox(
        label,
        options(lib),
        index=None,
        key=key,
        filter_mode="contains",
        accept_new_options=True,
        help=word("material"),
        placeholder="type a name, synonym or CAS",
        width=width,
    )


def new_strength(key: str) -> None:
    """Beside it: percent by mass."""
    st.number_input(
        "Strength [%]",
        min_value=0.0001,
        max_value=100.0,
        value=100.0,
        format="%g",
        key=key,
        help=word("strength"),
        width=130,
    )


def meant(name: str) -> None:
    """Under the question: what the typed text was taken for, and what else it may have meant."""
    said = st.session_state.get(f"meant_{name}")
    if not said or work.setting(name) != (said[1] or said[0]):
        return
    typed, chosen, others = said
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        if chosen:
            st.caption(
                f"“{common.md(typed)}” was taken for **{common.md(chosen)}**" + (". Or:" if others else "."),
                width="content",
            )
        for other in others:
            st.button(
                other, key=f"suggest-{name}-{other}", type="tertiary", on_click=_suggested, args=(name, other)
            )


def _suggested(name: str, other: str) -> None:
    work.change(f"{other} was asked for", **{name: other})
    st.session_state[f"meant_{name}"] = None


# -- product, reason, shelf ----------------------------------------------------------------------------------


def product_names(lib: Library) -> dict[str, str]:
    """Product id -> name; '' for none."""
    return {"": NO_PRODUCT, **{product.id: product.name for product in reversed(lib.tables.products)}}


def situation(lib: Library) -> str:
    """Product, dose and market in a few words."""
    product = work.setting("product")
    if not product:
        return NO_PRODUCT
    return (
        f"{product_names(lib).get(product, product)}, {given(work.setting('dose'))}, {work.setting('market')}"
    )


def product_fields(lib: Library, *, needed: bool = False) -> dict[str, Any]:
    """Product, dose and market, folded to a line that says them; the options for the library, empty
    without a product."""
    ids = asked.product_ids(lib)[1:] if needed else asked.product_ids(lib)
    if work.setting("product") not in ids:
        work.put(product="fine-fragrance" if needed and "fine-fragrance" in ids else ids[0])
    if work.setting("market") not in asked.markets(lib):
        work.put(market=asked.markets(lib)[0])
    called = product_names(lib)
    with st.popover(f"Goes into: {situation(lib)}", help=word("product")):
        product = field(
            st.selectbox, "Goes into", "product", options=ids, format_func=lambda id: called.get(id, id)
        )
        dose = field(
            st.number_input,
            "Dose [% of the product]",
            "dose",
            format="%g",
            step=1.0,
            help=word("dose"),
            disabled=not product,
        )
        market = field(
            st.selectbox,
            "Market",
            "market",
            options=asked.markets(lib),
            help=word("market"),
            disabled=not product,
        )
    return {"product": product, "dose": dose, "market": market} if product else {}


def product_options() -> dict[str, Any]:
    """What stands at the side about the product, for the library; empty without one."""
    if not work.setting("product"):
        return {}
    return {
        "product": work.setting("product"),
        "dose": work.setting("dose"),
        "market": work.setting("market"),
    }


def reason(label: str = "Why") -> str:
    found: str = field(
        st.selectbox, label, "because", options=list(BECAUSE), format_func=BECAUSE.get, help=word("because")
    )
    return found


def shelf_toggle() -> None:
    field(
        st.toggle, "Only from my shelf", "use_shelf", help=word("shelf") + " Fill it on the screen *Shelf*."
    )


def shelf_of(lib: Library, *, held: bool = True) -> Shelf | None:
    """The shelf, if it is to count (``held``: only where the switch says so)."""
    rows = work.state()["shelf"]
    if held and not work.setting("use_shelf"):
        return None
    if not rows:
        if held:
            st.info("Your shelf is empty, so everything on file counts. Fill it on the screen Shelf.")
        return None
    found: Shelf | None
    found, complaints = bench_rows.checked(rows, lib.shelf_of, "the shelf")
    if complaints:
        st.warning(
            f"The shelf has faults and is not used: {common.md(complaints[0])}. Mend it on the screen Shelf."
        )
    return found


def counted(lib: Library, shelf: Shelf | None) -> Shelf | bool | None:
    """The shelf as the library wants it: without one everything on file counts, also beside a bench book."""
    return False if shelf is None and lib.book is not None else shelf
