"""What was ticked off on a weighing sheet stays ticked in this browser until the sheet is another one.

A tick asks nothing of the server: with wet gloves at the balance nobody waits. So it is kept by the
page itself, under the sheet it stands on.
"""

from __future__ import annotations

import streamlit as st

from .common import safe

SCRIPT = """
export default function(component) {
  const slot = 'substitute.ticks', sheet = component.data.sheet;
  const read = () => {
    try { return JSON.parse(localStorage.getItem(slot)) || {}; } catch (_) { return {}; }
  };
  const boxes = () => [...document.querySelectorAll('.one-line input[type=checkbox]')];
  const done = () => { const kept = read(); return kept.sheet === sheet ? kept.done : []; };
  const keep = () => {
    const ticked = boxes().filter((box) => box.checked).map((box) => box.getAttribute('aria-label'));
    try { localStorage.setItem(slot, JSON.stringify({ sheet, done: ticked })); } catch (_) {}
  };
  const show = () => {
    const ticked = new Set(done());
    for (const box of boxes()) if (!box.dataset.known) {
      box.dataset.known = 'yes';
      box.checked = ticked.has(box.getAttribute('aria-label'));
    }
  };
  const changed = (event) => { if (event.target.matches?.('.one-line input')) keep(); };
  show();
  document.addEventListener('change', changed);
  const watch = new MutationObserver(show);
  watch.observe(document.body, { childList: true, subtree: true });
  return () => { watch.disconnect(); document.removeEventListener('change', changed); };
}
"""

_component = st.components.v2.component("substitute_ticks", js=SCRIPT)


def boxes(rows: list[tuple[str, str, str]], label: str, *, noted: bool = False) -> None:
    """One line a weighing, (what, grams, note), with a box to tick; ``noted`` keeps notes on a phone."""
    items = []
    for what, grams, note in rows:
        name = safe(f"{what} → {grams}")
        under = f'<span class="note" title="{safe(note)}">{safe(note)}</span>' if note else ""
        items.append(
            f'<li><span class="what">{safe(what)}</span>{under}<span class="grams">→ {safe(grams)}</span>'
            f'<input type="checkbox" aria-label="done: {name}"></li>'
        )
    st.html(
        f'<ul class="one-line{" noted" if noted else ""}" aria-label="{safe(label)}">{"".join(items)}</ul>'
    )


def kept(sheet: str) -> None:
    """Bring back what was ticked off on this ``sheet``, and keep what will be."""
    _component(key="ticks", data={"sheet": sheet}, height=1)
