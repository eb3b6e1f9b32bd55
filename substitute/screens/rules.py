"""Rules: where the accord stands in a product, what a new set changes, how to mend it; and many accords
at once."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..records import Accord
from . import accord as accords
from . import bars, common, fields, portfolio, side, work
from .words import BASIS, STATE

if TYPE_CHECKING:
    from ..library import Library
from ..figures import given
from .own_rules import sets_and_day

LINK = ("product", "dose", "market", "on", "since")
ONE, MANY = "This accord", "Many accords"
FIRST_BARS = 10


def show() -> None:
    """Draw the screen below its title."""
    lib = common.library()
    complaints = work.from_link(LINK, lib)
    accord = None
    with common.question():
        with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
            which = st.segmented_control(
                "Which accords",
                [ONE, MANY],
                key="rules_which",
                default=ONE,
                required=True,
                label_visibility="collapsed",
                persist_state="session",
            )
            if which == ONE:
                accords.accord_box(lib)
            options = fields.product_fields(lib, needed=True)
            since = sets_and_day(lib, options)
        if which == ONE:
            accord = accords.formula(lib)
        else:
            pile = portfolio.asked(lib)
        side.phone_bench(lib)
    work.to_link(LINK)
    with common.answer(complaints):
        if which == MANY:
            portfolio.show(lib, pile, options, since)
        elif accord is not None:
            _one(lib, accord, options, since)


# -- one accord ----------------------------------------------------------------------------------------------


def _one(lib: Library, accord: Accord, options: dict[str, Any], since: str | None) -> None:
    found = common.remembered(
        "limits", (accord, *options.items()), lambda: lib.limits(accord, **options).to_dict()
    )
    broken = [row for row in found["limits"] if row["ok"] is False]
    _verdict(lib, found, broken)
    with st.container(horizontal=True, vertical_alignment="center"):
        if broken:
            st.button(
                "mend this",
                key="use-mend",
                type="primary",
                on_click=_mend,
                args=(accord,),
                help=(
                    "Goes to Adjust with product, dose and reason filled in: the smallest change that brings"
                    " it within every known limit."
                ),
            )
        st.button("weigh this", key="use-weigh", on_click=work.go, args=("weigh",))
    _rows(lib, found)
    if since:
        _change(lib, accord, options, since)
    _declare(lib, found)
    _several(lib, accord, options)
    _ask(lib, accord, options)
    with st.container(horizontal=True):
        common.downloads(f"limits-{common.stem_of(found['accord'])}", lambda: lay_out("limits", found))
    common.cautions(common.with_titles(lib, text) for text in (*found["notes"], *found["cautions"]))
    common.sources(lib, [row["source"] for row in found["limits"]], [row["basis"] for row in found["limits"]])


def _mend(accord: Accord) -> None:
    work.remember(f"{common.titled(accord.name)} was to be mended")
    work.state().update(missing=[], use=[])
    work.put(because="limit")
    work.go("adjust")


def _verdict(lib: Library, found: Mapping[str, Any], broken: list[Any]) -> None:
    unknown = sum(row["ok"] is None for row in found["limits"])
    name = common.titled(found["accord"])
    if broken:
        names = list(dict.fromkeys(row["name"] for row in broken))
        text = f"{name} breaks {count(len(broken), 'limit')}: {listed(names, 2)}"
    else:
        text = f"{name}: {found['verdict'].split(':')[0]}"
    common.headline(
        text,
        f"at {given(found['dose_pct'])} of the product; {unknown} unknown, which is neither within nor"
        " broken",
    )
    wall = found["wall"]
    stop = (
        f"; what stops it there is {wall['name']}, most of it from {common.name_of(lib, wall['line'])}"
        if wall and wall["line"]
        else ""
    )
    known = found["max_dose_known_pct"]
    if found["max_dose_pct"] is not None:
        said = f"at most {common.figure(found['max_dose_pct'], 4)} % of the product{stop}"
    elif known is not None:
        said = f"by what is known at most {common.figure(known, 4)} %; what is unknown may ask for less{stop}"
    else:
        said = found["max_dose_words"]
    st.html(f'<p class="next"><b>Dose:</b> {common.safe(said)}.</p>')


def _rows(lib: Library, found: Mapping[str, Any]) -> None:
    order = {False: 0, None: 1, True: 2}
    rows = sorted(
        (row for row in found["limits"] if row["found_pct"] > 0 or row["ok"] is not True),
        key=lambda row: (
            order[row["ok"]],
            not row["governs"],
            -(row["used"] or 0.0),
        ),
    )
    shown = [
        {
            "what": row["name"],
            "set": common.set_title(lib, row["limit_set"]),
            "limit": row["limit_pct"] if row["used"] is not None or row["limit_pct"] == 0 else None,
            "found": row["found_pct"],
            "ok": row["ok"],
            "state": row["state"],
        }
        for row in rows
    ]
    if shown:
        bars.limits(shown[:FIRST_BARS], "How much of each limit is used, the worst first")
    if len(shown) > FIRST_BARS:
        with st.expander(f"The other {count(len(shown) - FIRST_BARS, 'limit')}"):
            bars.limits(shown[FIRST_BARS:], "The other limits")
    if rows:
        with st.expander("Where each comes from, typical amounts, basis"):
            columns = ("substance", "from", "found [%]", "typical [%]", "headroom [%]", "state", "basis")
            common.table(columns, [_line(lib, row) for row in rows], "Limits with what brings them")
    if found["unknown"]:
        with st.expander(f"Unknown: neither within nor broken ({len(found['unknown'])})"):
            st.markdown(
                "\n".join(f"- {common.md(common.with_titles(lib, text))}" for text in found["unknown"][:80])
            )
            st.caption(
                "Ask the supplier for the analysis of your lot, and put it into your own constituents.csv."
            )


def _line(lib: Library, row: Mapping[str, Any]) -> tuple[Any, ...]:
    brought = listed([common.name_of(lib, part["id"]) for part in row["from"]], 3)
    return (
        row["name"],
        brought or "–",
        row["found_pct"],
        row["typical_pct"],
        row["headroom_pct"],
        STATE[row["ok"]],
        BASIS.get(row["basis"], row["basis"]),
    )


def _change(lib: Library, accord: Accord, options: dict[str, Any], since: str) -> None:
    """What the sets in force change for this accord against the one that was replaced."""
    from ..tables.formulas import write_accord

    def compute() -> dict[str, Any]:
        with tempfile.TemporaryDirectory(prefix="substitute-") as folder:
            (Path(folder) / "accord.csv").write_text(write_accord(accord), encoding="utf-8")
            answer: dict[str, Any] = lib.screen(folder, **options, since=since).to_dict()
        return {**answer, "changes": [{**row, "accord": accord.name} for row in answer["changes"]]}

    answer = common.remembered("change", (accord, *options.items(), since), compute)
    portfolio.changes(lib, answer)
    if not answer["changes"]:
        st.info("Nothing changes for this accord.")


def _several(lib: Library, accord: Accord, options: dict[str, Any]) -> None:
    """The same accord at the same dose in every product on file."""
    folded = st.expander("In every other product", key="several", on_change="rerun")
    if not folded.open:
        return
    with folded:
        ids = [id for id in lib.product_ids() if id != options["product"]]
        where = {**options, "product": ids}
        found = common.remembered(
            "several", (accord, *options.items()), lambda: lib.limits(accord, **where).to_dict()
        )
        names = fields.product_names(lib)
        rows = [
            (
                names.get(one["product"], one["product"]),
                STATE[one["within_known"]],
                one["max_dose_pct"] if one["max_dose_pct"] is not None else one["max_dose_known_pct"],
                "" if one["max_dose_pct"] is not None else "by what is known",
                listed(list(one["broken"]), 2) or (one["wall"]["name"] if one["wall"] else ""),
            )
            for one in found["products"]
        ]
        columns = ("product", "state", "at most [% of the product]", "", "in the way")
        common.table(columns, rows, "The accord in every other product", slim=True, wide=("in the way",))


def _ask(lib: Library, accord: Accord, options: dict[str, Any]) -> None:
    """A page of questions for the supplier about what is unknown."""
    folded = st.expander("What to ask the supplier", key="supplier", on_change="rerun")
    if not folded.open:
        return
    with folded:
        where = {name: value for name, value in options.items() if name != "dose"}
        found = common.remembered(
            "ask", (accord, *where.items()), lambda: lib.ask([accord], **where).to_dict()
        )
        laid = lay_out("ask", found)
        st.markdown(common.md(laid.headline))
        common.downloads(f"ask-{common.stem_of(accord.name)}", lambda: laid)


def _declare(lib: Library, found: Mapping[str, Any]) -> None:
    if found["declare"]:
        with st.expander(f"To declare on the label ({len(found['declare'])})"):
            rows = [
                (
                    d["label"],
                    d["found_pct"],
                    d["threshold_pct"],
                    d["state"].replace("_", " "),
                    BASIS.get(d["basis"], d["basis"]),
                )
                for d in found["declare"]
            ]
            common.table(
                ("name on the label", "found [%]", "from [%]", "state", "basis"), rows, "Declarations"
            )
    if found["controls"]:
        with st.expander(f"Trade and supply ({len(found['controls'])})"):
            said = [
                f"{common.name_of(lib, c['id'])}: {c['control']} ({c['market']}): {c['detail']}"
                for c in found["controls"]
            ]
            st.markdown("\n".join(f"- {common.md(text)}" for text in said))
