"""The app: ``streamlit run app.py`` or ``substitute app``. One module per screen in
``substitute/screens/``."""

import streamlit as st

st.set_page_config(page_title="substitute", page_icon="🌾", layout="wide", initial_sidebar_state="auto")

from substitute.screens import run  # noqa: E402

run()
