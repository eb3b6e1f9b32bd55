"""Small repairs to what the framework draws, made in the page: a field to drop files on is no decoration, and
a side that lies over the page is folded away again when it has led somewhere."""

from __future__ import annotations

import streamlit as st

SCRIPT = """
export default function() {
  const tidy = () => document.querySelectorAll('[data-testid=stFileUploaderDropzone][role=presentation]')
    .forEach((field) => field.setAttribute('role', 'group'));
  tidy();
  const fold = (event) => {
    const led = event.target.closest?.('[data-testid=stSidebarNavLink]');
    const over = window.matchMedia('(max-width: 768px)').matches;
    if (led && over) document.querySelector('[data-testid=stSidebarCollapseButton] button')?.click();
  };
  document.addEventListener('click', fold);
  const watch = new MutationObserver(tidy);
  watch.observe(document.body, { childList: true, subtree: true });
  return () => { watch.disconnect(); document.removeEventListener('click', fold); };
}
"""

_component = st.components.v2.component("substitute_tidy", js=SCRIPT)


def tidy() -> None:
    """Repair the page now, and whenever something is drawn."""
    _component(key="tidy", height=1)
