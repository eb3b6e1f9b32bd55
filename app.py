"""The app: ``streamlit run app.py`` or ``substitute app``. One module per screen in ``substitute/screens/``."""

import streamlit as st

st.set_page_config(page_title="substitute", page_icon="🌾", layout="centered", initial_sidebar_state="auto")

from substitute.screens import pages, sidebar  # noqa: E402

found = pages()
st.session_state["pages"] = found
screen = st.navigation(list(found.values()))
screen.run()
sidebar()
