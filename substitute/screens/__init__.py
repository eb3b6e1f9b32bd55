"""The screens of the app, one module each; they ask :class:`substitute.Library` and show what it says."""

from __future__ import annotations

SCREENS = ("swap", "neighbours", "adjust", "rules", "weigh", "rebalance", "shelf", "plan")


def pages() -> dict:
    """Every screen as a page, by its name; a screen's module is imported when it is opened."""
    import streamlit as st

    return {name: st.Page(_opens(name), title=name.capitalize(), url_path=name, default=name == SCREENS[0]) for name in SCREENS}


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
