"""A table of the work that is edited where it stands: the accord's lines, the bottles of a shelf.

An editable table forgets its edits when one looks elsewhere. So it has a key with a version, starts from
what the work holds, and writes every edit back; :func:`.work.renew` gives it a new version.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any

import streamlit as st

from ..frozen import frozen
from . import bench_rows, work


@frozen
class Grid:
    """``table`` names its keys in the session, ``held`` the rows in the work, ``kinds`` the columns and their
    types; ``fresh`` is what a new row begins with, ``own`` what the work says once it was edited, ``told``
    what undo calls an edit. Up to ``most`` rows stand open, more scroll within ``high`` pixels."""

    table: str
    held: str
    kinds: Mapping[str, type]
    fresh: Mapping[str, Any]
    own: Mapping[str, Any]
    told: str
    alt: str
    most: int = 14
    high: int = 480
    headed: Mapping[str, Any] = field(default_factory=dict)

    def draw(self) -> None:
        """The table, to be edited."""
        import pandas as pd

        key, base = self._key(), f"{self.table}_base"
        if key not in st.session_state:  # first seen, or back from another screen: what is held now
            work.renew(self.table)
            key = self._key()
            st.session_state[base] = [dict(row) for row in work.state()[self.held]]
        rows = pd.DataFrame(st.session_state[base], columns=list(self.kinds)).astype(dict(self.kinds))
        st.data_editor(
            rows,
            key=key,
            on_change=self._edited,
            args=(key,),
            num_rows="dynamic",
            hide_index=True,
            height="content" if len(rows) <= self.most else self.high,
            alt=self.alt,
            column_config=dict(self.headed),
        )

    def _key(self) -> str:
        return f"{self.table}_table_{st.session_state.setdefault(f'{self.table}_version', 0)}"

    def _edited(self, key: str) -> None:
        work.remember(self.told)
        rows = bench_rows.apply_edits(
            st.session_state[f"{self.table}_base"], st.session_state[key], tuple(self.kinds), self.fresh
        )
        work.state().update({self.held: rows, **self.own})
