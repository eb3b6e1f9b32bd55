"""The screens of the app, one module each; they ask :class:`substitute.Library` and show what it says."""

from __future__ import annotations

import logging
from contextlib import contextmanager

FAILED = "Something went wrong here, and it is not your fault."
SCREENS = ("swap", "neighbours", "adjust", "rules", "weigh", "rebalance", "shelf", "plan")


def pages() -> dict:
    """Every screen as a page, by its name; a screen's module is imported when it is opened. The bare address leads to the first."""
    import streamlit as st

    found = {name: st.Page(_opens(name), title=name.capitalize(), url_path=name) for name in SCREENS}

    def start() -> None:
        st.switch_page(found[SCREENS[0]], query_params=st.query_params.to_dict())

    return {
        **found,
        "start": st.Page(start, title="Start", url_path="start", default=True, visibility="hidden"),
    }


def _opens(name: str):
    def show() -> None:
        from importlib import import_module

        with unbroken():
            import_module(f"{__name__}.{name}").show()

    show.__name__ = name
    return show


def sidebar() -> None:
    """The work file, beside every screen."""
    with unbroken():
        from .workfile import sidebar as draw

        draw()


@contextmanager
def unbroken():
    """A fault of ours, said plainly; the traceback goes to the terminal, without any formula."""
    try:
        yield
    except Exception:  # Streamlit's own ways to stop a run are no Exception
        import streamlit as st

        logging.getLogger(__name__).exception("a screen failed")
        st.error(f"{FAILED} Save your work in the sidebar, then reload the page. The terminal says more.")
