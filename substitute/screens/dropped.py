"""Many accords at once: the demo's, or a person's own files or folder; copies stand beside each other
only while they are read."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..frozen import frozen
from . import common, opening

if TYPE_CHECKING:
    from ..library import Library
    from ..records import Accord

KINDS = [*opening.KINDS, "parquet"]
SOURCES = ["The demo's", "My files", "My folder"]


@frozen
class Pile:
    """What was picked: ``key`` tells one pick from another, ``files`` are uploads, none for the demo's
    folder."""

    key: tuple[Any, ...]
    called: str
    demo: Path
    files: tuple[Any, ...] = ()
    doubled: tuple[tuple[str, str], ...] = ()

    @contextmanager
    def placed(self) -> Iterator[Path]:
        """A folder that holds them, or the file itself if it is one long file of many accords; gone
        afterwards."""
        if not self.files:
            yield self.demo
            return
        with tempfile.TemporaryDirectory(prefix="substitute-") as folder:
            for file in self.files:
                (Path(folder) / _name(file)).write_bytes(file.getvalue())
            one = Path(folder) / _name(self.files[0])
            yield one if len(self.files) == 1 and _is_long(one, self.files[0]) else Path(folder)


def _name(file: Any) -> str:
    return Path(file.name.replace("\\", "/")).name


def _is_long(path: Path, file: Any) -> bool:
    head = file.getvalue()[:400].split(b"\n")[0].lower()
    return path.suffix.lower() == ".parquet" or b"accord" in head.replace(b"\x00", b"")


def pick(lib: Library, key: str) -> Pile | None:
    """Ask which accords; ``None`` while nothing is there."""
    source = st.radio(
        "Which accords",
        SOURCES,
        horizontal=True,
        key=f"{key}_from",
        persist_state="session",
        help=(
            "CSV or XLSX files with the columns material and parts, one accord each; or one long file with a"
            " column accord besides."
        ),
    )
    if source == SOURCES[0]:
        return Pile(("demo", lib.tables.digest), "the demo", lib.demo / "accords")
    whole = source == SOURCES[2]
    files = st.file_uploader(
        "Drop a folder here" if whole else "Drop files here",
        type=KINDS,
        accept_multiple_files="directory" if whole else True,
        key=f"{key}_files_{whole}",
        help="An accord may name another of the same folder as a line.",
    )
    if not files:
        kept: Pile | None = st.session_state.get(f"{key}_pile_{whole}")
        if kept is not None:
            st.caption(f"{kept.called} from before are kept; drop others to take their place.")
        return kept
    named: dict[str, Any] = {}
    doubled: list[tuple[str, str]] = []
    for file in files:
        name = _name(file)
        if name in named:
            doubled.append((name, "a second file of the same name; it was left out"))
        elif not name.startswith("."):
            named[name] = file
    found = st.session_state[f"{key}_pile_{whole}"] = Pile(
        tuple((file.name, file.file_id) for file in files),
        f"{len(files)} file{'s' if len(files) != 1 else ''}",
        lib.demo,
        tuple(named.values()),
        tuple(doubled),
    )
    return found


def read(lib: Library, pile: Pile, key: str) -> tuple[list[Accord], list[tuple[str, str]]]:
    """(accords, rejected as (name, message)) of a pile of single files."""

    def compute() -> tuple[list[Accord], list[tuple[str, str]]]:
        with pile.placed() as folder:
            found, wrong = lib.read_accords(folder if folder.is_dir() else folder.parent)
            return found, [*pile.doubled, *((name, plain(message, folder)) for name, message in wrong)]

    found: tuple[list[Accord], list[tuple[str, str]]] = common.remembered(f"{key}_read", pile.key, compute)
    return found


def plain(message: str, folder: Path) -> str:
    """A message without the place of the copy."""
    for place in (folder, folder.parent):
        message = message.replace(f"{place}/", "").replace(f"{place}\\", "")
    return message


def show_rejected(rejected: Sequence[tuple[str, str]]) -> None:
    if rejected:
        with st.expander(f"Could not be read ({len(rejected)})", expanded=True):
            common.table(
                ("file", "what is wrong"),
                [(name, message) for name, message in rejected[:200]],
                "Files that could not be read",
            )
