"""The screens of the app, one module each; they ask :class:`substitute.Library` and show what it says."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

FAILED = "Something went wrong here, and it is not your fault."
SCREENS = {  # a screen's name, which is its address, its module and its title, and what it is for
    "swap": "A material is gone: what stands in for it, how much of that, what is gained and lost.",
    "neighbours": "What lies near a material, a word for a smell or a constituent, and what ties them.",
    "material": "The card of one material: its smell, what is in it or holds it, its rules, what to mind.",
    "adjust": "An accord with something missing or over a limit, as near as it gets to what it was.",
    "rules": "What breaks in the product it goes into, how much room is left, and what nobody knows.",
    "weigh": "The accord in grams and solutions for your balance, smallest first.",
    "rebalance": "Smell it, say what is too strong or too weak: the next trial, bracketed by all before it.",
    "shelf": "What you have, and in which strengths. Every other screen can be held to it.",
    "plan": "What your shelf makes, what to buy next, and how to teach one accord.",
    "book": "Your bottles, your accords with their trials, and what your nose taught.",
}


def title(name: str) -> str:
    """A screen's title."""
    return name.capitalize()


def pages() -> dict[str, Any]:
    """Every screen as a page, by its name; a screen's module is imported when it is opened. The bare
    address leads to the first."""
    import streamlit as st

    found = {name: st.Page(_opens(name), title=title(name), url_path=name) for name in SCREENS}

    def start() -> None:
        from . import common

        first, lead = next(iter(SCREENS.items()))
        common.heading(title(first), lead)  # the title stands at once, before the way to it is found
        st.switch_page(found[first], query_params=st.query_params.to_dict())

    return {
        **found,
        "start": st.Page(start, title="Start", url_path="start", default=True, visibility="hidden"),
    }


def run() -> None:
    """One run of the app: work is fetched, the screen asked for is drawn, the side beside it, and work is
    kept."""
    import streamlit as st

    found = pages()
    st.session_state["pages"] = found
    screen = st.navigation(list(found.values()), expanded=True)
    target = st.session_state.pop("go", None)
    if target:
        st.switch_page(found[target])
    from . import common, keep, side, tidy, tried

    store = keep.store(common.library)
    if store.waits():
        common.heading(screen.title, "Fetching your work from this browser …")
        return
    screen.run()
    with unbroken():
        side.side(common.library())
        side.asked()
        tried.asked(common.library())
        store.save()
        tidy.tidy()


def _opens(name: str) -> Callable[[], None]:
    def show() -> None:
        from importlib import import_module

        from . import common

        with unbroken():
            common.heading(title(name), SCREENS[name])  # sent before the module is read
            import_module(f"{__name__}.{name}").show()

    show.__name__ = name
    return show


@contextmanager
def unbroken() -> Iterator[None]:
    """A fault of ours, said plainly; the traceback goes to the terminal, without any formula."""
    try:
        yield
    except Exception:  # Streamlit's own ways to stop a run are no Exception
        import streamlit as st

        logging.getLogger(__name__).exception("a screen failed")
        st.error(
            f"{FAILED} Your work is kept in this browser; save it at the side, then reload. The terminal says"
            " more."
        )
