"""What ``adjust`` answers, laid out: the verdict first, every line before and after, how the smell moves,
limits, rivals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..records import Accord
from . import bars, common, tried, work
from .words import BASIS, count, listed, word

if TYPE_CHECKING:
    from ..library import Library

VERDICTS = {"good": "Good", "fair": "Fair", "poor": "Poor", "none": "Nothing here takes its place"}
OPTIONS = {
    "leave_out": "leave it out",
    "one_to_one": "gram for gram",
    "strength": "matched by strength",
    "cut": "the cut alone",
    "lower_dose": "as it is, at a lower dose",
}
RIVALS = {"least_changed": "least changed", "nearer": "nearer", "shelf_alone": "from the shelf alone"}
STAGES = {
    "opening": ("opening, 10 min", 1 / 6),
    "heart": ("heart, 2 h", 2.0),
    "drydown": ("drydown, 24 h", 24.0),
}
WORDS_SHOWN, LEAST_SHOWN = 9, 0.005


def show(lib: Library, accord: Accord, found: Any, options: Mapping[str, Any]) -> None:
    """Draw the answer of ``adjust``: verdict, what to do next, lines, smell, limits, other ways,
    files."""
    answer = found.to_dict()
    changed = [line for line in answer["lines"] if line["parts_before"] != line["parts_after"]]
    within = answer["within_known"]
    _head(answer, changed, options)
    if changed and found.formula().lines:
        _buttons(lib, found, answer)
    for note in answer["notes"]:
        st.caption(common.md(note))
    _lines(answer)
    if not changed:
        _limits(lib, answer)
        return
    _smell(lib, accord, found)
    _limits(lib, answer)
    _ways(answer, within)
    _rivals(lib, answer)
    _downloads(found, answer)
    common.cautions(answer["cautions"])
    ids, bases = common.material_sources(lib, [line["id"] for line in answer["lines"]])
    common.sources(
        lib, ids, bases, "The match is worked out from profiles, potencies and tenacities on file."
    )


def _head(answer: Mapping[str, Any], changed: list[Any], options: Mapping[str, Any]) -> None:
    limits = answer["limits"]
    before = sum(row["ok_before"] is False for row in limits)
    broken = sum(row["ok_after"] is False for row in limits)
    unknown = sum(row["ok_after"] is None for row in limits)
    if not changed:
        common.headline(
            "Nothing has to change yet" if not limits else "Nothing on file asks for a change",
            _state(before, broken, unknown) if limits else "",
        )
        common.following(
            "say what is missing, or what it goes into and at which dose."
            if not options.get("product")
            else "weigh it, or look at the screen Rules."
        )
        if limits:
            st.button("weigh this", key="use-weigh", on_click=work.go, args=("weigh",))
        return
    match, news = answer["match"], [line["name"] for line in changed if line["cause"] == "new"]
    said = (
        f"{listed(news)} {'takes' if len(news) == 1 else 'take'} the place"
        if news
        else "nothing new comes in"
    )
    low, high = answer["match_range"]
    common.headline(
        f"{VERDICTS[answer['verdict']]}, match {match['overall']:.2f}: {said}",
        common.unbroken_join(
            [
                f"{low:.2f} to {high:.2f} over the naturals' range" if high - low >= 0.01 else "",
                _state(before, broken, unknown) if limits else "limits not looked at: no product yet",
            ]
        ),
    )
    if answer["bottle"]:
        bottle = answer["bottle"]
        st.info(common.md(f"One bottle would help most: {bottle['name']}, match {bottle['match']:.2f}."))
    wall = answer["wall"] if answer["within_known"] is False else None
    if wall:
        dose = answer["dose_within_known_pct"]
        until = (
            f" As it was, it obeys the known limits up to {common.figure(dose)} % of the product."
            if dose
            else ""
        )
        st.error(
            "Nothing within the known limits was found at this dose. In the way:"
            f" {common.md(wall['name'])}.{common.md(until)}"
        )
    common.following(
        "lower the dose, or let other lines go."
        if wall
        else "take it over, or weigh it at once; the old version stays one click away."
    )


def _state(before: int, broken: int, unknown: int) -> str:
    return (
        f"limits broken: {before} before, {broken} after; "
        f"{unknown} unknown, which is neither within nor broken"
    )


def _buttons(lib: Library, found: Any, answer: Mapping[str, Any]) -> None:
    formula = found.formula()
    name = next_name(work.state()["name"])
    rows = work.rows_of(formula, lib.tables.materials)
    before, after = answer["dose_pct"], answer["dose_after_pct"]
    moved = before and after and abs(after - before) > 1e-3 * before and not work.setting("same_total")
    dose = min(100.0, float(f"{after:.4g}")) if moved else None
    blocked = answer["within_known"] is False
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "use this",
            key="use-adjusted",
            type="primary",
            on_click=take,
            args=(name, rows, "", dose),
            disabled=blocked,
            help="It takes the place of the accord on the bench; the old one can be brought back.",
        )
        st.button(
            "weigh this",
            key="use-weigh",
            on_click=take,
            args=(name, rows, "weigh", dose),
            disabled=blocked,
            help="Takes it over and goes to the weighing sheet.",
        )
        tried.accord_button(replace(formula, name=name), "adjusted")
        if work.state()["use"]:
            st.caption(
                f"Held to {common.md(listed(work.state()['use']))}, as chosen on Swap.", width="content"
            )
            st.button("let the choice be free", key="free", type="tertiary", on_click=_free)


def _free() -> None:
    work.remember("the choice of stand-ins was set free")
    work.state()["use"] = []


def next_name(name: str) -> str:
    """What a formula adjusted again is called: ``X`` → ``X-adjusted`` → ``X-adjusted-2`` …"""
    base, adjusted, number = name.partition("-adjusted")
    if not adjusted:
        return f"{name}-adjusted"
    number = number.strip("-") or "1"
    return f"{base}-adjusted-{int(number) + 1 if number.isdigit() else 2}"


def take(name: str, rows: list[work.Row], onward: str, dose: float | None = None) -> None:
    """Callback: the formula takes the bench, at the ``dose`` that carries the same active mass;
    ``onward`` names a screen."""
    old = common.titled(work.state()["name"])
    moved = (
        f" Its dose goes from {work.setting('dose'):g} to {dose:g} %, which carries the same." if dose else ""
    )
    work.set_accord(
        name, rows, told=f"Taken over: {common.titled(name)} stands on the bench in place of {old}.{moved}"
    )
    if dose:
        work.put(dose=dose)
    if onward:
        work.go(onward)


def mark(line: Mapping[str, Any]) -> str:
    """What happened to a line."""
    before, after = line["parts_before"], line["parts_after"]
    if before == 0 and after > 0:
        return "✚ new"
    if before > 0 and after == 0:
        return "✕ out"
    if abs(after - before) <= 0.005 * before:
        return "= kept"
    return "▲ more" if after > before else "▼ less"


def _lines(answer: Mapping[str, Any]) -> None:
    marks = [mark(line) for line in answer["lines"]]
    order = sorted(range(len(marks)), key=lambda i: (marks[i] == "= kept", i))
    rows = []
    for i in order:
        line = answer["lines"][i]
        strength = "" if line["strength_pct"] >= 100 else f" {line['strength_pct']:g} %"
        rows.append(
            (
                f"{line['name']}{strength}",
                marks[i],
                common.figure(line["parts_before"], 4),
                common.figure(line["parts_after"], 4),
                line["why"] if marks[i] != "= kept" else "",
            )
        )
    classes = ["gone" if marks[i] == "✕ out" else "" if marks[i] == "= kept" else "moved" for i in order]
    common.table(
        ("material", "change", "before [parts]", "after [parts]", "why"),
        rows,
        "Every line before and after, what moved first",
        slim=True,
        wide=("why",),
        classes=classes,
    )
    before, after = answer["total_before"], answer["total_after"]
    if abs(after - before) > 1e-9 * max(before, 1.0):
        dose, dose_after = answer["dose_pct"], answer["dose_after_pct"]
        same = (
            f"; {common.figure(dose_after, 4)} % of the product then carries what {common.figure(dose, 4)}"
            " % did"
            if dose and dose_after
            else ""
        )
        st.caption(f"Total: {common.figure(before, 5)} parts before, {common.figure(after, 5)} after{same}.")


def _smell(lib: Library, accord: Accord, found: Any) -> None:
    formula = found.formula()
    if not formula.lines:
        st.info("Nothing is left to smell.")
        return
    st.header("How the smell moves", anchor=False)
    old = {id: parts / accord.total for id, parts in accord.active().items()}
    new = {id: parts / accord.total for id, parts in formula.active().items()}

    def compared() -> dict[str, Any]:
        return {said: lib.compare(old, new, hours=hours, top=40) for said, hours in STAGES.values()}

    seen = common.remembered("smell", (accord, formula), compared)
    moved: dict[str, dict[str, float]] = {}
    for said, one in seen.items():
        for name, a, b in one.rows:
            moved.setdefault(name, {})[said] = b - a
    rows = [row for row in moved.items() if max(map(abs, row[1].values())) >= LEAST_SHOWN]
    rows.sort(key=lambda row: -max(map(abs, row[1].values())))
    if rows:
        bars.differences(
            rows[:WORDS_SHOWN],
            list(seen),
            "How the smell moves, after minus before, over opening, heart and drydown",
        )
    strength = ", ".join(
        f"{said.split(',')[0]} {'not to be judged' if one.strength is None else f'{one.strength:.2f}'}"
        for said, one in seen.items()
    )
    match = found.to_dict()["match"]
    alike = ", ".join(
        f"{name} {'not judged' if match[name] is None else format(match[name], '.2f')}" for name in STAGES
    )
    st.caption(
        f"Match, 0 to 1: {alike}. Strength, the old accord is 1: {strength}. Right of the stroke is more than"
        " before, left and hatched is less.",
        help=word("match"),
    )


def _limits(lib: Library, answer: Mapping[str, Any]) -> None:
    rows = answer["limits"]
    if not rows:
        return
    st.header("Limits before and after", anchor=False)
    worst = sorted(
        (row for row in rows if row["before_pct"] > 0 or row["after_pct"] > 0 or row["ok_after"] is None),
        key=lambda row: (
            {False: 0, None: 1, True: 2}[row["ok_after"]],
            row["ok_before"] is not False,
            -_used(row),
        ),
    )
    shown = [
        {
            "what": common.name_of(lib, row["substance"]),
            "set": common.set_title(lib, row["limit_set"]),
            "limit": row["limit_pct"],
            "before": row["before_pct"],
            "found": row["after_pct"],
            "ok": row["ok_after"],
        }
        for row in worst
    ]
    bars.limits(shown[:8], "Limits before and after, the worst first")
    if len(shown) > 8:
        with st.expander(f"The other {count(len(shown) - 8, 'limit')}"):
            bars.limits(shown[8:], "The other limits")
    bases = ", ".join(BASIS.get(basis, basis) for basis in dict.fromkeys(row["basis"] for row in rows))
    st.caption(
        f"% of the finished product. Basis of the figures: {common.md(bases)}. ? is unknown: "
        "neither within nor broken."
    )


def _used(row: Mapping[str, Any]) -> float:
    return row["after_pct"] / row["limit_pct"] if row["limit_pct"] else 0.0


def _ways(answer: Mapping[str, Any], within: bool | None) -> None:
    rows = [
        (
            OPTIONS.get(one["name"], one["name"].replace("_", " ")),
            f"{one['match']:.2f}",
            _inside(one["within_known"]),
        )
        for one in answer["options"]
    ]
    rows.append(("as above", f"{answer['match']['overall']:.2f}", _inside(within)))
    with st.expander(
        f"The plain ways beside it: {', '.join(f'{name} {match}' for name, match, _ in rows[:3])}"
    ):
        common.table(
            ("way", "match [0–1]", "known limits"),
            rows,
            "The plain options beside the adjusted accord",
            slim=True,
        )
        if answer["lost_for_good"]:
            st.markdown(f"Lost for good: {common.md(', '.join(answer['lost_for_good']))}.")
        cost = answer["cost_per_gram"]
        if cost["before"] is not None or cost["after"] is not None:
            st.markdown(
                f"Cost in the shelf's currency, for one gram: {common.figure(cost['before'])} before,"
                f" {common.figure(cost['after'])} after."
            )


def _inside(within: bool | None) -> str:
    return {True: "within", False: "✕ over", None: "? unknown"}[within]


def _rivals(lib: Library, answer: Mapping[str, Any]) -> None:
    """Other formulas for the same question, each to be taken over as well."""
    kept = {line["id"]: line for line in answer["lines"]}
    for place, rival in enumerate(answer["rivals"], 1):
        new = listed([common.name_of(lib, id) for id in rival["new"]])
        said = RIVALS.get(rival["name"], rival["name"].replace("_", " "))
        with st.container(horizontal=True, gap="small", key=f"entry-rival-{place}"):
            line = (
                f"Rival, {common.md(said)}: **{VERDICTS[rival['verdict']].lower()}, match"
                f" {rival['match']['overall']:.2f}**"
            )
            with st.expander(f"{line}{f' · {common.md(new)}' if new else ''}"):
                rows = [
                    (
                        x["name"],
                        mark(x),
                        common.figure(x["parts_before"], 4),
                        common.figure(x["parts_after"], 4),
                    )
                    for x in rival["lines"]
                    if x["parts_before"] != x["parts_after"]
                ]
                common.table(
                    ("material", "change", "before [parts]", "after [parts]"),
                    rows,
                    f"What the rival {said} changes",
                    slim=True,
                )
            st.button(
                "use this",
                key=f"use-rival-{place}",
                on_click=take,
                args=(next_name(work.state()["name"]), _rival_rows(rival, kept), ""),
            )


def _rival_rows(rival: Mapping[str, Any], kept: Mapping[str, Any]) -> list[work.Row]:
    return [
        {
            "material": line["name"],
            "parts": line["parts_after"],
            "strength_pct": line["strength_pct"],
            "role": kept.get(line["id"], {}).get("role", "support"),
            "optional": kept.get(line["id"], {}).get("optional", False),
        }
        for line in rival["lines"]
        if line["parts_after"] > 0
    ]


def _downloads(found: Any, answer: Mapping[str, Any]) -> None:
    from ..tables.formulas import write_accord

    formula = found.formula()
    if not formula.lines:
        return
    common.downloads(
        common.stem_of(formula.name),
        lambda: lay_out("adjust", answer),
        csv=lambda: write_accord(formula),
    )
