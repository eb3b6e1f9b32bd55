"""What all screens share: the library, the title line, the two containers, errors, tables, sources and
downloads."""

from __future__ import annotations

import html
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from .. import figures
from ..answers.words import set_title as short_title
from ..errors import InputError, SubstituteError, TableError
from . import work
from .words import BASIS

if TYPE_CHECKING:
    from ..answers.sections import Answer, Section
    from ..library import Library

FLUSH_S = 0.03
STYLE = Path(__file__).with_name("style.css").read_text(encoding="utf-8")
HTML_TYPE, CSV_TYPE = "text/html", "text/csv"
PLAIN_NAME, MOST_TABLE = re.compile(r"[a-z][a-z_]{0,40}\.csv"), 1_000_000
WHOLE = ("CAS", "set", "state", "change")
FIRST_ROWS, MOST_SLIM = 12, 4  # rows of a table before a click; columns that a phone has room for


def md(text: object) -> str:
    """Text that means itself in Markdown."""
    return re.sub(r"([\\`*_{}\[\]<>()#+!|$~:-])", r"\\\1", " ".join(str(text).split()))


def safe(text: object) -> str:
    """Text that means itself in HTML."""
    return html.escape(" ".join(str(text).split()))


@st.cache_resource(show_spinner=False, max_entries=4)
def _load(own: tuple[tuple[str, str], ...], book: str) -> Library:
    """The library with a person's own tables and ``book`` from the command, and over them the tables
    opened on a screen."""
    from ..library import load

    options: dict[str, Any] = {
        "labels": os.environ.get("SUBSTITUTE_LABELS") or None,
        "evidence": os.environ.get("SUBSTITUTE_EVIDENCE") != "no",
        "book": book or False,
    }
    if not own:
        return load(**options)
    with tempfile.TemporaryDirectory(prefix="substitute-") as folder:
        mine = os.environ.get("SUBSTITUTE_TABLES")
        if mine:
            shutil.copytree(mine, folder, dirs_exist_ok=True)
        for name, text in own:
            (Path(folder) / name).write_text(text, encoding="utf-8", newline="")
        return load(folder, **options)


def _book() -> str:
    """The folder of the bench book that the app was started with, '' if none."""
    return os.environ.get("SUBSTITUTE_BOOK") or ""


def library() -> Library:
    """The library, loaded once for all windows that have opened the same tables of their own; other tables
    than before make what was answered by them stale."""
    own = tuple((name, text) for name, text in st.session_state.get("work", {}).get("tables", ()))
    if st.session_state.get("answered_by", ()) != own:
        for key in [key for key in st.session_state if str(key).startswith(("answer_", "job_"))]:
            del st.session_state[key]
    st.session_state["answered_by"] = own
    try:
        with st.spinner("Reading the tables …"):
            found = _load(own, _book())
            found.refresh()
            return found
    except SubstituteError as error:
        fault(error)
        st.stop()


def with_tables(tables: Mapping[str, str]) -> Library:
    """The library with tables of one's own, by their file names, laid over ours.

    Raises :class:`~substitute.errors.SubstituteError` that says what is wrong with them.
    """
    for name, text in tables.items():
        if not PLAIN_NAME.fullmatch(name):
            raise InputError(f"'{name[:60]}' is no name of a table; limits.csv is one")
        if len(text) > MOST_TABLE:
            raise InputError(f"{name} has {len(text):,} characters; up to {MOST_TABLE:,} are kept here")
    return _load(tuple(sorted(tables.items())), _book())


def heading(title: str, lead: str) -> None:
    """A screen's title and its one sentence, sent before anything slow."""
    st.session_state["fresh_screen"] = st.session_state.get("screen") != title
    st.session_state["screen"] = title
    with st.container(key="style"):
        st.html(f"<style>{STYLE}</style>")
    with st.container(key="head", horizontal=True):
        st.title(title, anchor=False, width="content")
        st.html(f'<p class="lead">{lead}</p>', width="content")
    if "painted" not in st.session_state:
        st.session_state["painted"] = True
        time.sleep(FLUSH_S)  # the server sends what is there: the title stands before tables are read


def question() -> Any:
    """The container of what is asked."""
    return st.container(key="question")


@contextmanager
def answer(complaints: Iterable[str] = ()) -> Iterator[None]:
    """The container of what is answered: faults of the input are shown in it, and what was taken over
    stands first, then the ``complaints`` about the link."""
    from . import tried

    with st.container(key="answer"):
        taken()
        tried.told(library())
        for text in complaints:
            fault(text)
        try:
            yield
        except SubstituteError as error:
            fault(error)


def taken() -> None:
    """Say what was taken over, with the old version beside; once, on the next screen that is looked at."""
    found = st.session_state.get("taken")
    if not found:
        return
    found["age"] += 1
    with st.container(horizontal=True, vertical_alignment="center", key="taken"):
        st.success(md(found["told"]), width="stretch")
        with st.popover("The old version"):
            st.markdown(f"**{md(found['old_name'] or 'nothing')}**")
            if found["old"]:
                table(
                    ("material", "parts", "strength [%]"),
                    [(r["material"], _n(r.get("parts")), _n(r.get("strength_pct"))) for r in found["old"]],
                    "The accord as it was",
                    slim=True,
                )
            st.button("Bring it back", key="undo_taken", on_click=work.undo)
    if found["age"] >= 3:
        st.session_state.pop("taken", None)


def _n(value: Any) -> str:
    return figure(value, 4) if isinstance(value, (int, float)) else str(value or "")


def headline(text: str, small: str = "") -> None:
    """The answer in one line."""
    tail = f" <small>{safe(small)}</small>" if small else ""
    st.html(f'<h2 class="headline">{safe(text)}{tail}</h2>')


def following(text: str) -> None:
    """What to do next, in one line."""
    st.html(f'<p class="next"><b>Next:</b> {safe(text)}</p>')


def fault(error: SubstituteError | str) -> None:
    """An error as a person should read it: what is wrong, where, what is allowed."""
    lines = [str(c) for c in error.complaints] if isinstance(error, TableError) else [str(error)]
    more = f"  \n… and {len(lines) - 12} more" if len(lines) > 12 else ""
    st.error("  \n".join(md(line) for line in lines[:12]) + more)


def remembered(name: str, made_of: Any, compute: Callable[[], Any]) -> Any:
    """The answer to a question, worked out again only when ``made_of`` changes; the last six are kept in
    this window alone."""
    made_of = (made_of, library().turn)  # what the nose taught meanwhile makes it another question
    kept: list[tuple[Any, Any]] = st.session_state.setdefault(f"answer_{name}", [])
    for asked, found in kept:
        if asked == made_of:
            return found
    found = compute()
    kept.append((made_of, found))
    del kept[:-6]
    return found


# -- tables, sources, downloads ------------------------------------------------------------------------------


def figure(value: Any, digits: int = 3) -> str:
    """A number for reading; a dash for what is not known."""
    return figures.figure(value, digits, "–")


def table(
    columns: Sequence[str],
    rows: Iterable[Sequence[Any]],
    alt: str,
    *,
    slim: bool = False,
    wide: Sequence[str] = (),
    classes: Sequence[str] = (),
    numbers: Sequence[str] = (),
) -> None:
    """A plain table for eyes, screen readers and printers; numbers to the right: columns with a unit, and
    those named in ``numbers``.

    On a phone's width every row becomes a block of its own, or, if ``slim``, stays a row without the
    columns named in ``wide``. Text is shown as it is; ``alt`` names the table; ``classes`` gives each row
    a class.
    """
    rows = [list(row) for row in rows]
    numeric = ["[" in name or name in ("parts", "rank", "order", *numbers) for name in columns]
    kinds = []
    for name, number in zip(columns, numeric):
        kind = "num" if number else "whole" if name in WHOLE else ""
        kinds.append(f"{kind} wide".strip() if name in wide else kind)
    head = "".join(
        f'<th scope="col" class="{kind}">{html.escape(name)}</th>' for name, kind in zip(columns, kinds)
    )
    body = []
    for place, row in enumerate(rows):
        texts = [html.escape(cell if isinstance(cell, str) else figure(cell)) for cell in row]
        cells = [
            f'<td class="{kind if text else kind + " none"}" data-of="{html.escape(name)}">{text}</td>'
            for name, kind, text in zip(columns, kinds, texts)
        ]
        marked = f' class="{classes[place]}"' if classes and classes[place] else ""
        body.append(f"<tr{marked}>{''.join(cells)}</tr>")
    way = "slim" if slim else "blocks"
    st.html(
        f'<div class="sheet {way}" role="region" tabindex="0"'
        f' aria-label="{html.escape(alt)}"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>"
    )


def long_table(
    columns: Sequence[str], rows: Sequence[Sequence[Any]], alt: str, first: int = FIRST_ROWS, **shape: Any
) -> None:
    """The first rows on the page and the rest behind a click; ``shape`` as :func:`table` takes it."""
    table(columns, rows[:first], alt, **shape)
    if len(rows) > first:
        with st.expander(f"The other {len(rows) - first:,}"):
            table(columns, rows[first:], f"{alt}, the rest", **shape)


def sheet(section: Section, first: int | None = None) -> None:
    """A table of an answer on the page as on paper: columns without a cell left out, its notes below; rows
    beyond the ``first`` behind a click. On a phone names with a few figures stay rows, less what may drop."""
    found = section.on("paper").filled()
    rows = found.texts()
    shown = [number for number in range(len(found.columns)) if any(row[number] for row in rows)]
    columns = [found.columns[number] for number in shown]
    kept = [column for column in columns if column.drop <= 1]
    shape: dict[str, Any] = {
        "slim": len(kept) <= MOST_SLIM and all(column.is_number for column in kept[1:]),
        "wide": [column.title for column in columns if column not in kept],
        "numbers": [column.title for column in columns if column.is_number],
    }
    cells = [[row[number] for number in shown] for row in rows]
    heads = [column.title for column in columns]
    long_table(heads, cells, found.title, len(cells) if first is None else first, **shape)
    _notes(section)


def part(section: Section) -> None:
    """A part of an answer under its title: a table as :func:`sheet` draws it, a list, or paragraphs; folded
    away if it stands aside."""
    if section.aside:
        with st.expander(section.title):
            _inside(section)
        return
    if section.title:
        st.header(md(section.title), anchor=False)
    _inside(section)


def _inside(section: Section) -> None:
    if section.kind == "table":
        sheet(section, FIRST_ROWS)
        return
    mark, end = ("- ", "\n") if section.kind == "list" else ("", "\n\n")
    st.markdown(end.join(mark + md(line) for line in section.lines()))
    _notes(section)


def _notes(section: Section) -> None:
    """What stands below a part: how many of its rows are not here, and its notes."""
    found = [note for note in (section.more(), *section.notes) if note]
    if found:
        st.caption("  \n".join(map(md, found)))


def cautions(texts: Iterable[str], label: str = "Cautions") -> None:
    """Cautions, each once, folded to a line that says how many there are."""
    found = list(dict.fromkeys(texts))
    if found:
        with st.expander(f"⚠ {label} ({len(found)})"):
            st.markdown("\n".join(f"- {md(text)}" for text in found))


def sources(
    lib: Library, ids: Iterable[str], bases: Iterable[str] = (), note: str = "", title: str = "Sources"
) -> None:
    """Where the figures come from, by name and basis."""
    known = lib.tables.sources
    lines = [f"- {md(known[id].citation)} ({md(known[id].kind)})" for id in dict.fromkeys(ids) if id in known]
    words = ", ".join(BASIS.get(basis, basis) for basis in dict.fromkeys(filter(None, bases)))
    with st.expander(title):
        if note:
            st.markdown(md(note))
        if words:
            st.markdown(f"Basis: {md(words)}.")
        st.markdown(
            "\n".join(lines) or "No document: common practice of the bench and the curators' judgement."
        )


def material_sources(lib: Library, ids: Iterable[str]) -> tuple[list[str], list[str]]:
    """(sources, bases) of what is on file about materials: themselves, potency and tenacity."""
    found, bases = [], []
    for id in ids:
        if id not in lib.tables.materials:
            continue
        figures = lib.tables.properties.get(id, {})
        entries: list[Any] = [
            lib.tables.materials[id],
            *(figures[name] for name in ("potency", "tenacity_h") if name in figures),
        ]
        found += [entry.source for entry in entries]
        bases += [entry.basis for entry in entries]
    return found, bases


def downloads(stem: str, made_of: Callable[[], Answer], csv: Callable[[], str] | None = None) -> None:
    """The same answer as files, made when asked for: the workbook and the page to print hold all that is
    shown and its cautions, CSV the one table that stands for the answer, for programs (``csv``: another)."""
    from ..answers.csv import answer_csv
    from ..answers.page import answer_page
    from ..answers.xlsx import XLSX_TYPE, answer_xlsx

    made: Mapping[str, tuple[Callable[[], Any], str, str]] = {
        "CSV": (lambda: csv() if csv else answer_csv(made_of()), "csv", CSV_TYPE),
        "XLSX": (lambda: answer_xlsx(made_of()), "xlsx", XLSX_TYPE),
        "Page to print": (lambda: answer_page(made_of()), "html", HTML_TYPE),
    }
    with st.container(horizontal=True, gap="small"):
        for label, (make, ending, kind) in made.items():
            st.download_button(
                label, make, f"{stem}.{ending}", kind, key=f"{ending}_{stem}", on_click="ignore"
            )


def name_of(lib: Library, id: str) -> str:
    """A material's, group's or descriptor's name as people read it."""
    if id in lib.tables.materials:
        return lib.tables.materials[id].name
    if id in lib.tables.descriptors:
        return lib.tables.descriptors[id].name
    return id.replace("-", " ")


def stem_of(text: str) -> str:
    """A file name of plain letters."""
    return re.sub(r"[^a-z0-9.]+", "-", text.lower()).strip("-.")[:60] or "accord"


def titled(stem: str) -> str:
    """An accord's name for reading."""
    return stem.replace("-", " ").replace(".trial ", ", trial ")


def set_title(lib: Library, id: str) -> str:
    """A limit set's title by its id, short enough for a table."""
    found = lib.tables.limit_sets.get(id)
    return short_title(found.title) if found else id


def with_titles(lib: Library, text: str) -> str:
    """What the library says, with sets of limits by their titles in place of their ids."""
    return re.sub(
        r"[a-z0-9]+(?:-[a-z0-9]+)+",
        lambda met: set_title(lib, met[0]) if met[0] in lib.tables.limit_sets else met[0],
        text,
    )


def unbroken_join(parts: Iterable[str]) -> str:
    return " · ".join(part for part in parts if part)
