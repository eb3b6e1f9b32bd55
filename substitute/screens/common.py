"""What all screens share: the library, headings, fields, errors, words, sources and downloads."""

from __future__ import annotations

import html
import os
import re
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import contextmanager

import streamlit as st

from ..errors import SubstituteError, TableError
from . import work

WORDS = {
    "material": "Anything you can weigh: a molecule, a natural, a defined mixture, a solvent. Say its name, a synonym, your bottle's label or its CAS number.",
    "descriptor": "A word for a smell, in a tree of families. A material's profile is its weights (1 to 10) over descriptors.",
    "constituent": "A material inside a natural, with its share by mass.",
    "potency": "Odour strength per gram against the reference (coumarin = 1), judged near the level of use.",
    "stage": "Opening (10 min), heart (2 h) and drydown (24 h) of a dip on a strip.",
    "hours": "Time since one dip of a 10 % solution on a strip.",
    "role": "What a line does: core names the smell, support, lift is a clean note that helps it carry, trace.",
    "optional": "A line the accord may do without.",
    "stand-in": "A material or a small blend that takes a missing material's place.",
    "parts": "Parts by mass of what goes on the balance, carrier included.",
    "strength": "Percent by mass of the material in what is weighed; the rest is carrier.",
    "dose": "The accord's percent of the finished product.",
    "shelf": "The materials you have, and the strengths (percent by mass) you keep them in.",
    "limit": "A maximum in the finished product, by category; headroom is the limit minus what is found.",
    "product": "What it goes into: fixes the category, leave-on or rinse-off, on skin or not.",
    "market": "Whose law applies beside the worldwide standards.",
    "match": "How alike the new and the old accord smell, 0 to 1: the overlap of their smells times the ratio of their strengths, stage by stage.",
    "similarity": "The cosine of two profiles, 0 to 1, after related descriptors were brought near each other.",
    "grams_per_gram": "Grams of the stand-in, neat, for one gram of what is missing, neat.",
    "balance": "The smallest step your balance shows.",
    "evidence": "documented: written down as a swap; constituent: one is inside the other; profile: from the profiles alone.",
}
BECAUSE = {"unavailable": "not to be had", "limit": "limited", "law": "the law", "price": "too dear"}
BASIS = {
    "published": "published",
    "practice": "common practice",
    "memory": "recalled, no document at hand: check",
    "estimate": "the curators' estimate",
}
STATE = {True: "✓ within", False: "✕ broken", None: "? unknown"}
FLUSH_S = 0.03
HTML_TYPE, CSV_TYPE = "text/html", "text/csv"

STYLE = """
.block-container { max-width: 66rem; padding-top: 3.2rem; }
h1 { letter-spacing: .01em; } h2, h3 { margin-top: .6rem; }
.sheet { overflow-x: auto; font-size: .875rem; } .sheet table { width: 100%; border-collapse: collapse; font-variant-numeric: tabular-nums; }
.sheet th, .sheet td { text-align: left; vertical-align: top; padding: .34rem .9rem .34rem 0; border-bottom: 1px solid light-dark(#D8D0BF, #443E35); }
.sheet th { font-weight: 400; color: light-dark(#5A5447, #BDB4A3); border-bottom-color: currentColor; vertical-align: bottom; } .sheet .whole { white-space: nowrap; }
[data-testid="stCaptionContainer"] { opacity: 1 !important; } [data-testid="stCaptionContainer"] p { color: light-dark(#5A5447, #BDB4A3); }
[data-tag], [data-tag] *, [data-testid="stBaseButton-primary"] *, [data-testid="stBaseButton-primaryFormSubmit"] * { color: light-dark(#FFFFFF, #10202B) !important; }
.lead { font-family: Georgia, "Times New Roman", serif; font-size: 1.15rem; font-style: italic; max-width: 46rem; }
@media (max-width: 640px) { .block-container { padding: 3.2rem 1rem 2rem; } h1 { font-size: 1.9rem !important; }
  .sheet thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; } .sheet table, .sheet tbody, .sheet tr, .sheet td { display: block; width: auto; }
  .sheet tr { padding: .5rem 0; border-bottom: 1px solid light-dark(#B9B09E, #6B6355); } .sheet td { border: 0; padding: .08rem 0 .08rem 8.2rem; text-indent: -8.2rem; } .sheet td.none { display: none; }
  .sheet td::before { content: attr(data-of); display: inline-block; width: 8.2rem; text-indent: 0; color: light-dark(#5A5447, #BDB4A3); } .sheet td:first-child { font-weight: 600; padding-left: 0; text-indent: 0; }
  .sheet td:first-child::before { content: none; } .sheet .whole { white-space: normal; } }
@media print { [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stButton"], [data-testid="stDownloadButton"] { display: none; } }
"""


def word(name: str) -> str:
    """Help text: a word's one meaning, and where it comes from."""
    return f"{WORDS[name]}\n\n*From this project's list of words; each figure names its own source.*"


def md(text) -> str:
    """Text that means itself in Markdown."""
    return re.sub(r"([\\`*_{}\[\]<>()#+!|$~:-])", r"\\\1", " ".join(str(text).split()))


@st.cache_resource(show_spinner=False)
def _load():
    from ..library import load

    return load(
        labels=os.environ.get("SUBSTITUTE_LABELS") or None,
        evidence=os.environ.get("SUBSTITUTE_EVIDENCE") != "no",
    )


def library():
    """The library, loaded once for all windows."""
    try:
        with st.spinner("Reading the tables …"):
            return _load()
    except SubstituteError as error:
        fault(error)
        st.stop()


def heading(title: str, lead: str) -> None:
    """A screen's title and its one sentence, sent before anything slow."""
    st.session_state["fresh_screen"] = st.session_state.get("screen") != title
    st.session_state["screen"] = title
    st.html(f"<style>{STYLE}</style>")
    st.title(title, anchor=False)
    st.html(f'<p class="lead">{lead}</p>')
    if "painted" not in st.session_state:
        st.session_state["painted"] = True
        time.sleep(
            FLUSH_S
        )  # the server sends what is there, so that the title stands before tables are read and fields are made


def fault(error: SubstituteError | str) -> None:
    """An error as a person should read it: what is wrong, where, what is allowed."""
    lines = [str(c) for c in error.complaints] if isinstance(error, TableError) else [str(error)]
    st.error(
        "  \n".join(md(line) for line in lines[:12])
        + (f"  \n… and {len(lines) - 12} more" if len(lines) > 12 else "")
    )


@contextmanager
def guarded():
    """Show what the input is at fault for, and go on below."""
    try:
        yield
    except SubstituteError as error:
        fault(error)


def remembered(name: str, made_of, compute: Callable):
    """The answer to a question, worked out again only when ``made_of`` changes; kept in this window alone."""
    key = f"answer_{name}"
    kept = st.session_state.get(key)
    if kept is None or kept[0] != made_of:
        st.session_state.pop(key, None)
        kept = st.session_state[key] = (made_of, compute())
    return kept[1]


# -- fields --------------------------------------------------------------------------------------------------------------


def field(widget: Callable, label: str, name: str, **options):
    """A widget tied to a setting, which survives moving between screens."""
    key = f"in_{name}"
    if (
        st.session_state.get("fresh_screen")
        or key not in st.session_state
        or st.session_state[key] != work.setting(name)
    ):
        st.session_state[key] = work.setting(
            name
        )  # a widget of the same key on another screen is another widget to Streamlit
    return widget(label, key=key, on_change=work.keep, args=(name,), **options)


def material_field(label: str, name: str, lib, *, more: Sequence[str] = (), help: str | None = None):
    """Pick a material from the list, or type a synonym, label or CAS number."""
    options = ["", *more, *names(lib)]
    chosen = work.setting(name) or ""
    if chosen not in options:
        options.insert(1, chosen)
    work.put(**{name: chosen})
    return (
        field(
            st.selectbox,
            label,
            name,
            options=options,
            accept_new_options=True,
            filter_mode="contains",
            help=help or word("material"),
            format_func=lambda text: text or "— pick or type —",
        )
        or ""
    )


def names(lib) -> list[str]:
    """Names of what can be weighed, in order."""
    if "names" not in st.session_state:
        st.session_state["names"] = sorted(
            (m.name for m in lib.tables.materials.values() if m.stocked), key=str.casefold
        )
    return st.session_state["names"]


def product_names(lib) -> dict[str, str]:
    """Product id -> name; '' for none."""
    return {
        "": "no product: limits are not looked at",
        **{product.id: product.name for product in reversed(lib.tables.products)},
    }


def product_ids(lib) -> list[str]:
    return ["", *lib.product_ids()]


def markets(lib) -> list[str]:
    return sorted({one.market for one in lib.tables.limit_sets.values()})


def product_fields(lib, *, needed: bool = False) -> dict:
    """Product, dose and market; the options for the library, empty without a product."""
    called = product_names(lib)
    ids = product_ids(lib)[1:] if needed else product_ids(lib)
    if needed and not work.setting("product"):
        work.put(product="fine-fragrance" if "fine-fragrance" in ids else ids[0])
    if work.setting("product") not in ids:
        work.put(product=ids[0])
    if work.setting("market") not in markets(lib):
        work.put(market=markets(lib)[0])
    product = field(
        st.selectbox,
        "Goes into",
        "product",
        options=ids,
        format_func=lambda id: called.get(id, id),
        help=word("product"),
    )
    dose = field(
        st.number_input,
        "Dose [% of the product]",
        "dose",
        min_value=0.0001,
        max_value=100.0,
        format="%g",
        step=1.0,
        help=word("dose"),
        disabled=not product,
    )
    market = field(
        st.selectbox, "Market", "market", options=markets(lib), help=word("market"), disabled=not product
    )
    return {"product": product, "dose": dose, "market": market} if product else {}


def shelf_of(lib, *, ask: bool = True):
    """The shelf, if it is to count."""
    rows = work.state()["shelf"]
    use = (
        field(
            st.toggle,
            "Only from my shelf",
            "use_shelf",
            help=word("shelf") + "\n\nEdit it on the screen *Shelf*.",
        )
        if ask
        else work.setting("use_shelf")
    )
    if not use:
        return None
    if not rows:
        st.info("Your shelf is empty. Fill it on the screen Shelf; until then everything on file counts.")
        return None
    found, complaints = work.checked(rows, lib.shelf_of, "the shelf")
    if complaints:
        st.warning(f"The shelf has faults and is not used: {md(complaints[0])}. Mend it on the screen Shelf.")
    return found


# -- tables, sources, downloads ------------------------------------------------------------------------------------------


def figure(value, digits: int = 3) -> str:
    """A number for reading; a dash for what is not known."""
    if value is None or value != value:
        return "–"
    return (
        f"{value:,.0f}"
        if abs(value) >= 10_000
        else f"{value:.{digits}g}"
        if value == 0 or abs(value) >= 1e-4
        else f"{value:.8f}".rstrip("0")
    )


def table(columns: Sequence[str], rows: Iterable[Sequence], alt: str) -> None:
    """A plain table for eyes, screen readers and printers; on a phone's width every row becomes a block of its own.

    Text is shown as it is; ``alt`` names the table.
    """
    kinds = ["whole" if name in ("CAS", "set", "state", "change") or "[" in name else "" for name in columns]
    head = "".join(f'<th scope="col">{html.escape(name)}</th>' for name in columns)
    body = []
    for row in rows:
        texts = [html.escape(cell if isinstance(cell, str) else figure(cell)) for cell in row]
        cells = [
            f'<td class="{kind if text else "none"}" data-of="{html.escape(name)}">{text}</td>'
            for name, kind, text in zip(columns, kinds, texts)
        ]
        body.append(f"<tr>{''.join(cells)}</tr>")
    st.html(
        f'<div class="sheet" role="region" tabindex="0" aria-label="{html.escape(alt)}"><table><thead><tr>{head}</tr></thead><tbody>{"".join(body)}</tbody></table></div>'
    )


def long_table(columns: Sequence[str], rows: Sequence[Sequence], alt: str, first: int = 12) -> None:
    """The first rows on the page and the rest behind a click."""
    table(columns, rows[:first], alt)
    if len(rows) > first:
        with st.expander(f"The other {len(rows) - first}"):
            table(columns, rows[first:], f"{alt}, from row {first + 1}")


def sheet(found) -> None:
    """A printable sheet as a table on the page: its own decimals, columns without a cell left out, its notes below."""
    rows = [
        [_sheet_cell(found, column, cell) for column, cell in zip(found.columns, row)] for row in found.rows
    ]
    shown = [number for number in range(len(found.columns)) if any(row[number] for row in rows)]
    table(
        [found.columns[number] for number in shown],
        [[row[number] for number in shown] for row in rows],
        found.title,
    )
    st.caption("  \n".join(md(note) for note in found.notes))


def _sheet_cell(found, column: str, cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float)):
        return f"{cell:.{found.decimals[column]}f}" if column in found.decimals else f"{cell:.6g}"
    return str(cell)


def cautions(texts: Iterable[str], title: str = "Cautions") -> None:
    texts = list(dict.fromkeys(texts))
    if texts:
        with st.expander(f"{title} ({len(texts)})"):
            st.markdown("\n".join(f"- {md(text)}" for text in texts))


def sources(
    lib, ids: Iterable[str], bases: Iterable[str] = (), note: str = "", title: str = "Sources"
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


def material_sources(lib, ids: Iterable[str]) -> tuple[list[str], list[str]]:
    """(sources, bases) of what is on file about materials: themselves, potency and tenacity."""
    found, bases = [], []
    for id in ids:
        if id not in lib.tables.materials:
            continue
        entries = [
            lib.tables.materials[id],
            *(
                f
                for name, f in lib.tables.properties.get(id, {}).items()
                if name in ("potency", "tenacity_h")
            ),
        ]
        found += [entry.source for entry in entries]
        bases += [entry.basis for entry in entries]
    return found, bases


def downloads(
    stem: str,
    title: str,
    sheets: Callable[[], list],
    notes: Sequence[str] = (),
    csv: Callable[[], str] | None = None,
) -> None:
    """The same answer as CSV, XLSX and a page to print; made when asked for."""
    from ..accords.sheets import XLSX_TYPE, to_csv, to_html, to_xlsx

    with st.container(horizontal=True, gap="small"):
        st.download_button(
            "CSV",
            lambda: csv() if csv else to_csv(sheets()[0]),
            f"{stem}.csv",
            CSV_TYPE,
            key=f"csv_{stem}_{title}",
            on_click="ignore",
        )
        st.download_button(
            "XLSX",
            lambda: to_xlsx(sheets(), notes),
            f"{stem}.xlsx",
            XLSX_TYPE,
            key=f"xlsx_{stem}_{title}",
            on_click="ignore",
        )
        st.download_button(
            "Page to print",
            lambda: to_html(title, sheets(), notes),
            f"{stem}.html",
            HTML_TYPE,
            key=f"html_{stem}_{title}",
            on_click="ignore",
        )


def stem_of(text: str) -> str:
    """A file name of plain letters."""
    return re.sub(r"[^a-z0-9.]+", "-", text.lower()).strip("-.")[:60] or "accord"


def link_values(lib) -> Mapping[str, Sequence[str]]:
    """What a link may say, where it is one of a list."""
    return {"because": work.REASONS, "product": product_ids(lib), "market": markets(lib)}
