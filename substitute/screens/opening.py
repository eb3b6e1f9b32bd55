"""How a table of one's own comes to a screen: a file, or rows from a spreadsheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import streamlit as st

from ..frozen import frozen
from . import common

if TYPE_CHECKING:
    from ..library import Library

KINDS = ["csv", "tsv", "txt", "xlsx", "xlsm"]


@frozen
class Opening:
    """The fields for one table; ``take(library, bytes, name)`` hears what was brought, ``name`` keeps the
    file and what is wrong with it apart from those of other tables."""

    name: str
    columns: Sequence[str]
    file: str
    also_read: str
    rows: str
    example: str
    button: str
    wanted: str
    take: Callable[[Library, bytes, str], None]
    keys: tuple[str, str]  # of the pasted text and of its button
    rows_help: str | None = None

    def draw(self, lib: Library) -> None:
        """The two fields and the button."""
        st.file_uploader(
            self.file,
            type=KINDS,
            key=self._file_key(),
            on_change=self._uploaded,
            args=(lib,),
            help=self.also_read,
        )
        text, button = self.keys
        st.text_area(self.rows, key=text, height=110, placeholder=self.example, help=self.rows_help)
        st.button(self.button, key=button, on_click=self._pasted, args=(lib,))

    def fault(self) -> None:
        """What was wrong with what was brought last, once."""
        error = st.session_state.pop(f"{self.name}_error", None)
        if error:
            common.fault(error)

    def wrong(self, error: object) -> None:
        """Remember what is wrong with what was brought, to be said in the next run."""
        st.session_state[f"{self.name}_error"] = error

    def _file_key(self) -> str:
        return f"{self.name}_file_{st.session_state.get(f'{self.name}_files', 0)}"

    def _uploaded(self, lib: Library) -> None:
        file = st.session_state.get(self._file_key())
        if file is not None:
            self.take(lib, file.getvalue(), file.name)
            number = st.session_state.get(f"{self.name}_files", 0)
            st.session_state[f"{self.name}_files"] = number + 1  # an emptied field, ready for the next

    def _pasted(self, lib: Library) -> None:
        text = st.session_state.get(self.keys[0], "")
        if text.strip():
            self.take(lib, with_header(text, self.columns), "pasted rows")
        else:
            self.wrong(f"nothing was pasted; {self.wanted} are wanted")


def with_header(text: str, columns: Sequence[str]) -> bytes:
    """Pasted rows with the header they may lack."""
    first = text.lstrip().splitlines()[0]
    if "material" not in first.lower():
        split = next((mark for mark in "\t;," if mark in first), "\t")
        text = split.join(columns[: first.count(split) + 1]) + "\n" + text.lstrip("\r\n")
    return text.encode("utf-8", "replace")
