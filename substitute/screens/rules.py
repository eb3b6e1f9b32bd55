"""Rules: where an accord stands in a product, what a new set changes, and many accords at once."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from . import accord as accords
from . import charts, common, portfolio, work

LINK = ("product", "dose", "market", "on", "since")
MOST_BARS = 14


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Rules", "What breaks in the product it goes into, how much room is left, and what nobody knows."
    )
    lib = common.library()
    for text in work.from_link(LINK, {**common.link_values(lib), "since": ["", *lib.tables.limit_sets]}):
        common.fault(text)
    one, many = st.tabs(["One accord", "Many accords"])
    with one:
        _one(lib)
    with many:
        portfolio.show(lib)
    work.to_link(LINK)


def _one(lib) -> None:
    accord = accords.accord_editor(lib, open_table=False)
    if accord is None:
        return
    left, right = st.columns(2, gap="medium")
    with left:
        options = common.product_fields(lib, needed=True)
    with right:
        on = common.field(
            st.text_input,
            "On the day [YYYY-MM-DD, empty is today]",
            "on",
            help="Sets count from the day they are in force.",
            max_chars=10,
        )
        sets = lib.tables.limit_sets
        since = common.field(
            st.selectbox,
            "Compare with an older set",
            "since",
            options=["", *sets],
            format_func=lambda id: sets[id].title if id else "– none –",
            help="Shows what the sets in force change against this one: newly broken, tighter, looser, newly fine.",
        )
    options["on"] = on or None
    with common.guarded():
        found = common.remembered(
            "limits", (accord, *options.items()), lambda: lib.limits(accord, **options).to_dict()
        )
        _verdict(found)
        _rows(lib, found)
        if since:
            _change(lib, accord, options, since)
        _declare(found)
        common.cautions([*found["notes"], *found["cautions"]])
        common.sources(
            lib, [row["source"] for row in found["limits"]], [row["basis"] for row in found["limits"]]
        )
        if any(row["ok"] is False for row in found["limits"]):
            _mend(lib, accord, options)


def _verdict(found: dict) -> None:
    say = {True: st.success, False: st.error, None: st.warning}[found["ok"]]
    say(
        f"{common.md(found['accord'])} at {found['dose_pct']:g} % of the product: {common.md(found['verdict'])}."
    )
    certain = "" if found["max_dose_certain"] else " by the figures on file; what is unknown may ask for less"
    wall = found["wall"]
    stop = (
        f" What stops it there: {common.md(wall['name'])} ({common.md(wall['limit_set'])}), most of it from {common.md(wall['line'] or 'nothing named')}."
        if wall
        else ""
    )
    highest = "unknown" if found["max_dose_pct"] is None else f"{common.figure(found['max_dose_pct'], 4)} %"
    st.markdown(f"Highest dose: **{highest}** of the product{certain}.{stop}", help=common.word("dose"))


COLUMNS = (
    "substance",
    "set",
    "limit [%]",
    "found [%]",
    "typical [%]",
    "headroom [%]",
    "state",
    "from",
    "basis",
)


def _line(row: dict) -> tuple:
    brought = ", ".join(part["id"] for part in row["from"][:3])
    limit = "prohibited" if row["limit_pct"] == 0 else common.figure(row["limit_pct"])
    return (
        row["name"],
        row["limit_set"],
        limit,
        common.figure(row["found_pct"]),
        common.figure(row["typical_pct"]),
        common.figure(row["headroom_pct"]),
        common.STATE[row["ok"]],
        brought or "–",
        common.BASIS.get(row["basis"], row["basis"]),
    )


def _rows(lib, found: dict) -> None:
    rows = found["limits"]
    broken = [row for row in rows if row["ok"] is False]
    known = [row for row in rows if row["ok"] is not False and row["found_pct"] > 0 and row["limit_pct"]]
    if broken:
        st.subheader("What breaks", anchor=False)
        common.table(COLUMNS, [_line(row) for row in broken], "Limits that are broken")
    bars = [row for row in rows if row["limit_pct"] and row["found_pct"] > 0 and row["governs"]][:MOST_BARS]
    if bars:
        st.subheader("How much of each limit is used", anchor=False)
        words = {True: "within", False: "broken", None: "unknown"}
        data = [
            {
                "what": f"{row['name']} ({row['limit_set']})",
                "found": row["found_pct"],
                "limit": row["limit_pct"],
                "state": words[row["ok"]],
            }
            for row in bars
        ]
        charts.headroom(data, f"Used part of {len(bars)} limits; the table below says the same.")
        st.caption(
            "The dashed line is the limit. A stroke ends what is within, a cross what is broken, a ring what is within by its own figure but not known for all that is in it."
        )
    if known:
        with st.expander(
            f"Within, or within as far as known ({len(known)})", expanded=not broken and not bars
        ):
            common.table(COLUMNS, [_line(row) for row in known], "Limits with room left")
    if found["unknown"]:
        with st.expander(f"Unknown: neither fine nor broken ({len(found['unknown'])})"):
            st.markdown("\n".join(f"- {common.md(text)}" for text in found["unknown"][:80]))
            st.caption(
                "Ask the supplier for the analysis of your lot, and put it into your own constituents.csv."
            )
    common.downloads(
        f"limits-{common.stem_of(found['accord'])}",
        f"Limits: {found['accord']} at {found['dose_pct']:g} %",
        lambda: [sheet(found)],
        found["cautions"],
    )


def sheet(found: dict):
    from ..accords.sheets import Sheet

    columns = (
        "substance",
        "set",
        "limit [%]",
        "found [%]",
        "typical [%]",
        "headroom [%]",
        "state",
        "rule",
        "note",
        "basis",
        "source",
    )
    rows = [
        (
            r["name"],
            r["limit_set"],
            r["limit_pct"],
            r["found_pct"],
            r["typical_pct"],
            r["headroom_pct"],
            {True: "within", False: "broken", None: "unknown"}[r["ok"]],
            r["rule"],
            r["note"],
            r["basis"],
            r["source"],
        )
        for r in found["limits"]
    ]
    return Sheet(f"Limits of {found['accord']}", columns, rows, [found["verdict"]])


def _change(lib, accord, options: dict, since: str) -> None:
    """What the sets in force change for this accord against an older one."""
    from ..tables.formulas import write_accord

    def compute() -> dict:
        with tempfile.TemporaryDirectory(prefix="substitute-") as folder:
            (Path(folder) / "accord.csv").write_text(write_accord(accord), encoding="utf-8")
            answer = lib.screen(folder, **options, since=since).to_dict()
        return {**answer, "changes": [{**row, "accord": accord.name} for row in answer["changes"]]}

    answer = common.remembered("change", (accord, *options.items(), since), compute)
    portfolio.changes(answer)
    if not answer["changes"]:
        st.info("Nothing changes for this accord.")


def _declare(found: dict) -> None:
    if found["declare"]:
        with st.expander(f"To declare on the label ({len(found['declare'])})"):
            rows = [
                (
                    d["label"],
                    common.figure(d["found_pct"]),
                    common.figure(d["threshold_pct"]),
                    d["state"].replace("_", " "),
                    d["limit_set"],
                    common.BASIS.get(d["basis"], d["basis"]),
                )
                for d in found["declare"]
            ]
            common.table(
                ("name on the label", "found [%]", "from [%]", "state", "set", "basis"), rows, "Declarations"
            )
    if found["controls"]:
        with st.expander(f"Trade and supply ({len(found['controls'])})"):
            st.markdown(
                "\n".join(
                    f"- {common.md(c['id'])}: {common.md(c['control'])} ({common.md(c['market'])}): {common.md(c['detail'])}"
                    for c in found["controls"]
                )
            )


def _mend(lib, accord, options: dict) -> None:
    st.subheader("Mend it", anchor=False)
    st.markdown("The smallest change on file that brings it within every known limit at this dose.")
    if not st.toggle("Work it out", key="mend_one"):
        return
    from ..tables.formulas import write_accord
    from .adjust import _mark

    with st.spinner("Weighing the choices …"):
        made = common.remembered(
            "mend", (accord, *options.items()), lambda: lib.adjust(accord, because="limit", **options)
        )
    answer = made.to_dict()
    if not answer["legal"]:
        st.error(
            f"Nothing legal was found at this dose; the accord as it stands obeys the known limits up to {common.figure(answer['legal_dose_pct'])} %."
        )
        return
    st.markdown(
        f"Match with the accord as it was: **{answer['match']['overall']:.2f}** of 1.",
        help=common.word("match"),
    )
    rows = [
        (
            line["name"],
            _mark(line),
            common.figure(line["parts_before"], 4),
            common.figure(line["parts_after"], 4),
            line["why"],
        )
        for line in answer["lines"]
        if line["parts_before"] != line["parts_after"]
    ]
    common.table(
        ("material", "change", "before [parts]", "after [parts]", "why"), rows, "What the mending changes"
    )
    formula = made.formula()
    with st.container(horizontal=True):
        st.download_button(
            "Mended accord, CSV",
            lambda: write_accord(formula),
            f"{common.stem_of(formula.name)}.csv",
            common.CSV_TYPE,
            key="mended_csv",
            on_click="ignore",
        )
        st.button(
            "Go on with the mended accord",
            key="accept_mended",
            type="primary",
            on_click=work.set_accord,
            args=(formula.name, work.rows_of(formula, lib.tables.materials)),
        )
