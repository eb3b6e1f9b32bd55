"""Many accords against the rules: a dropped folder or several files."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from . import common


def show(lib) -> None:
    """Draw the tab."""
    st.info("In the making.")
