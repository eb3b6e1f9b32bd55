"""Adjust: the accord, swapped and rescaled; before and after over time, every changed line with its reason."""

from __future__ import annotations

import streamlit as st

from . import accord as accords
from . import charts, common, work

LINK = ("because", "product", "dose", "market", "max_new", "use_shelf", "hours")
OPTIONS = {"leave_out": "leave it out", "one_to_one": "gram for gram", "strength": "matched by strength"}
HOURS = (1 / 6, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 24.0, 48.0, 96.0, 200.0, 400.0)


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Adjust",
        "An accord with something missing, or over a limit: swapped, rescaled, and as near as it gets to what it was.",
    )
    lib = common.library()
    for text in work.from_link(LINK, common.link_values(lib)):
        common.fault(text)
    accord = accords.accord_editor(lib)
    work.to_link(LINK)
    if accord is None:
        return
    options = _ask(lib, accord)
    work.to_link(LINK)
    with common.guarded():
        with st.spinner("Weighing the choices …"):
            made_of = (accord, *sorted(options.items(), key=lambda item: item[0]))
            found = common.remembered("adjust", made_of, lambda: lib.adjust(accord, **options))
        _answer(lib, accord, found, options)


def _ask(lib, accord) -> dict:
    st.subheader("What has to change", anchor=False)
    left, right = st.columns(2, gap="medium")
    now = work.state()
    with left:
        held = accords.lines_of(lib, accord)
        if "in_missing" not in st.session_state or st.session_state.get("missing_of") != now["missing"]:
            st.session_state["in_missing"] = [name for name in now["missing"] if name in held]
        st.session_state["in_missing"] = [name for name in st.session_state["in_missing"] if name in held]
        missing = st.multiselect(
            "Missing",
            held,
            key="in_missing",
            help="Lines that are not to be had. " + common.word("material"),
            placeholder="nothing is missing",
        )
        now["missing"] = st.session_state["missing_of"] = list(missing)
        because = common.field(
            st.selectbox,
            "Why",
            "because",
            options=list(common.BECAUSE),
            format_func=common.BECAUSE.get,
            help="It decides who may stand in.",
        )
        most = common.field(
            st.slider,
            "New materials [at most; 0 lets the number of gaps decide]",
            "max_new",
            min_value=0,
            max_value=6,
        )
        shelf = common.shelf_of(lib)
    with right:
        product = common.product_fields(lib)
    return {"without": tuple(missing), "because": because, "shelf": shelf, "max_new": most or None, **product}


def _answer(lib, accord, found, options: dict) -> None:
    answer = found.to_dict()
    changed = [line for line in answer["lines"] if line["parts_before"] != line["parts_after"]]
    st.subheader("The accord, adjusted", anchor=False)
    if not changed:
        if options.get("product"):
            st.success(
                "Nothing has to change: nothing is missing and no limit on file is broken at this dose."
            )
        else:
            st.info(
                "Nothing has to change yet. Next: say what is missing, or what it goes into and at which dose."
            )
    if not answer["legal"]:
        wall = answer["wall"]
        legal = (
            f" The old accord obeys them up to {common.figure(answer['legal_dose_pct'])} % of the product."
            if answer["legal_dose_pct"]
            else ""
        )
        st.error(
            f"Nothing legal was found at this dose. In the way: {common.md(wall['name'] if wall else 'a limit')}.{common.md(legal)} Next: lower the dose, or let other lines go."
        )
    _match(answer)
    table, bars = st.tabs(["Lines", "Before and after"])
    with table:
        _lines(answer)
        _take(lib, accord, found, answer)
    with bars:
        _over_time(lib, accord, found)
    _limits(lib, answer)
    if answer["lost_for_good"]:
        st.markdown(f"Lost for good: {common.md(', '.join(answer['lost_for_good']))}.")
    cost = answer["cost_per_gram"]
    if cost["before"] is not None or cost["after"] is not None:
        st.markdown(
            f"Cost in the shelf's currency, for one gram: {common.figure(cost['before'])} before, {common.figure(cost['after'])} after."
        )
    common.cautions(answer["cautions"])
    ids, bases = common.material_sources(lib, [line["id"] for line in answer["lines"]])
    common.sources(
        lib, ids, bases, "The match is worked out from profiles, potencies and tenacities on file."
    )


def _match(answer: dict) -> None:
    match = answer["match"]
    stages = ", ".join(
        f"{name} {'not judged' if match[name] is None else format(match[name], '.2f')}"
        for name in ("opening", "heart", "drydown")
    )
    low, high = answer["match_range"]
    st.markdown(
        f"Match with the old accord: **{match['overall']:.2f}** of 1 ({stages}). Between {low:.2f} and {high:.2f} over the naturals' low and high constituents.",
        help=common.word("match") + "\n\n" + common.WORDS["stage"],
    )
    rows = [
        (
            f"{OPTIONS.get(option['name'], option['name'])}",
            f"{option['match']:.2f}",
            "yes" if option["legal"] else "no, over a limit",
        )
        for option in answer["options"]
    ]
    rows.append(
        ("adjusted, as below", f"{match['overall']:.2f}", "yes" if answer["legal"] else "no, over a limit")
    )
    common.table(
        ("way out", "match [0–1]", "within known limits"),
        rows,
        "The plain options beside the adjusted accord",
    )


def _mark(line: dict) -> str:
    before, after = line["parts_before"], line["parts_after"]
    if before == 0 and after > 0:
        return "✚ new"
    if before > 0 and after == 0:
        return "✕ out"
    if abs(after - before) <= 0.005 * before:
        return "= kept"
    return "▲ more" if after > before else "▼ less"


def _lines(answer: dict) -> None:
    rows = [
        (
            line["name"],
            _mark(line),
            common.figure(line["parts_before"], 4),
            common.figure(line["parts_after"], 4),
            common.figure(line["strength_pct"]),
            line["why"],
        )
        for line in answer["lines"]
    ]
    common.table(
        ("material", "change", "before [parts]", "after [parts]", "strength [%]", "why"),
        rows,
        "Every line before and after, and why it moved",
    )


def _take(lib, accord, found, answer: dict) -> None:
    from ..accords.sheets import Sheet
    from ..tables.formulas import write_accord

    def sheets():
        columns = ("material", "CAS", "strength [%]", "before [parts]", "after [parts]", "why")
        rows = [
            (
                line["name"],
                line["cas"],
                line["strength_pct"],
                line["parts_before"],
                line["parts_after"],
                line["why"],
            )
            for line in answer["lines"]
        ]
        return [
            Sheet(f"{accord.name}, adjusted", columns, rows, [f"Match {answer['match']['overall']:.2f} of 1"])
        ]

    if not answer["legal"]:
        st.caption("There is no legal accord to take along at this dose.")
        return
    formula = found.formula()
    common.downloads(
        common.stem_of(formula.name),
        f"{accord.name}, adjusted",
        sheets,
        answer["cautions"],
        csv=lambda: write_accord(formula),
    )
    rows = work.rows_of(formula, lib.tables.materials)
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "Go on with the adjusted accord",
            key="accept",
            type="primary",
            on_click=work.set_accord,
            args=(formula.name, rows),
            help="It takes the place of the one in the table; Undo brings the old one back.",
        )
        st.page_link(st.session_state["pages"]["weigh"], label="→ Next: weigh it")


def _over_time(lib, accord, found) -> None:
    hours = common.field(
        st.select_slider,
        "Time on the strip [h]",
        "hours",
        options=list(HOURS),
        format_func=_clock,
        help=common.word("hours"),
    )
    old = {id: parts / accord.total for id, parts in accord.active().items()}
    formula = found.formula()
    if not formula.lines:
        st.info("Nothing is left to smell.")
        return
    new = {id: parts / formula.total for id, parts in formula.active().items()}
    seen = lib.compare(old, new, hours=hours, top=10)
    strength = "not to be judged" if seen.strength is None else f"{seen.strength:.2f} times the old"
    charts.before_after(
        seen.rows,
        "before",
        "after",
        f"Smell of the accord after {_clock(hours)}, hollow before, filled after; the table below says the same.",
        key="adjust_bars",
    )
    st.caption(
        f"Hollow: the old accord. Filled: the adjusted one. After {_clock(hours)} on the strip its strength is {strength}. Related descriptors share their weight."
    )
    with st.expander("The same as a table"):
        common.table(
            ("descriptor", "before [%]", "after [%]"),
            [(name, f"{100 * a:.1f}", f"{100 * b:.1f}") for name, a, b in seen.rows],
            "Smell before and after",
        )


def _clock(hours: float) -> str:
    return f"{60 * hours:.0f} min" if hours < 1 else f"{hours:g} h"


def _limits(lib, answer: dict) -> None:
    rows = answer["limits"]
    if not rows:
        return
    broken = [row for row in rows if row["ok_before"] is False or row["ok_after"] is False]
    unknown = [row for row in rows if row["ok_after"] is None]
    still = sum(row["ok_after"] is False for row in rows)
    st.markdown(
        f"**Limits.** {len(rows)} looked at: {sum(row['ok_before'] is False for row in rows)} broken before, {still} broken after, {len(unknown)} unknown, which is neither fine nor broken.",
        help=common.word("limit"),
    )

    def lines(picked):
        return [
            (
                row["substance"],
                row["limit_set"],
                common.figure(row["limit_pct"]),
                common.figure(row["before_pct"]),
                common.figure(row["after_pct"]),
                f"{common.STATE[row['ok_before']]} → {common.STATE[row['ok_after']]}",
                common.BASIS.get(row["basis"], row["basis"]),
            )
            for row in picked
        ]

    columns = ("substance", "set", "limit [%]", "before [%]", "after [%]", "state", "basis")
    if broken:
        common.table(columns, lines(broken), "Limits that were or are broken")
    if unknown:
        with st.expander(f"Unknown ({len(unknown)})"):
            common.table(columns, lines(unknown), "Limits that nobody can judge from the figures on file")
