"""The screens of the app, one module each; they ask :class:`substitute.Library` and show what it says."""

from __future__ import annotations

SCREENS = ("swap", "neighbours", "adjust", "rules", "weigh", "rebalance", "shelf", "plan")


def pages() -> dict:
    """Every screen as a page, by its name; a screen's module is imported when it is opened. The bare address leads to the first."""
    import streamlit as st

    found = {name: st.Page(_opens(name), title=name.capitalize(), url_path=name) for name in SCREENS}

    def start() -> None:
        st.switch_page(found[SCREENS[0]], query_params=st.query_params.to_dict())

    return {**found, "start": st.Page(start, title="Start", url_path="start", default=True, visibility="hidden")}


def _opens(name: str):
    def show() -> None:
        from importlib import import_module

        import_module(f"{__name__}.{name}").show()

    show.__name__ = name
    return show


def sidebar() -> None:
    """The work file, beside every screen."""
    from .workfile import sidebar as draw

    draw()
