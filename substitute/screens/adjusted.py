"""What ``adjust`` answers, laid out: the verdict first, every line before and after, how the smell moves,
limits, rivals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import listed
from ..figures import ratio, significant
from ..records import Accord
from . import bench_rows, common, effects, rivals, tried, work

if TYPE_CHECKING:
    from ..library import Library


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
        st.caption(common.md(common.with_titles(lib, note)))
    _lines(answer)
    if not changed:
        effects.limits(lib, answer)
        return
    effects.smell(lib, accord, found)
    effects.limits(lib, answer)
    rivals.ways(answer, within)
    rivals.rivals(lib, answer)
    _downloads(found, answer)
    common.cautions(answer["cautions"])
    ids, bases = common.material_sources(lib, [line["id"] for line in answer["lines"]])
    common.sources(
        lib, ids, bases, "The match is worked out from profiles, potencies and tenacities on file."
    )


def _head(answer: Mapping[str, Any], changed: list[Any], options: Mapping[str, Any]) -> None:
    if not changed:
        _nothing_changes(answer, options)
        return
    news = [line["name"] for line in changed if line["cause"] == "new"]
    said = (
        f"{listed(news)} {'takes' if len(news) == 1 else 'take'} the place"
        if news
        else "nothing new comes in"
    )
    low, high = answer["match_range"]
    spread = f"{ratio(low)} to {ratio(high)} over the naturals' range" if high - low >= 0.01 else ""
    common.headline(
        f"{rivals.VERDICTS[answer['verdict']]}, match {ratio(answer['match']['overall'])}: {said}",
        common.unbroken_join([spread, _state(answer) or "limits not looked at: no product yet"]),
    )
    if answer["bottle"]:
        bottle = answer["bottle"]
        told = f"One bottle would help most: {bottle['name']}, match {ratio(bottle['match'])}."
        st.info(common.md(told))
    wall = answer["wall"] if answer["within_known"] is False else None
    if not wall:
        common.following("take it over, or weigh it at once; the old version stays one click away.")
        return
    dose = answer["dose_within_known_pct"]
    until = (
        f"As it was, it obeys the known limits up to {common.figure(dose)} % of the product." if dose else ""
    )
    st.error(
        "Nothing within the known limits was found at this dose. In the way:"
        f" {common.md(wall['name'])}. {common.md(until)}"
    )
    common.following("lower the dose, or let other lines go.")


def _nothing_changes(answer: Mapping[str, Any], options: Mapping[str, Any]) -> None:
    if not answer["limits"]:
        common.headline("Nothing has to change yet")
    else:
        common.headline("Nothing on file asks for a change", _state(answer))
    common.following(
        "weigh it, or look at the screen Rules."
        if options.get("product")
        else "say what is missing, or what it goes into and at which dose."
    )
    if answer["limits"]:
        st.button("weigh this", key="use-weigh", on_click=work.go, args=("weigh",))


def _state(answer: Mapping[str, Any]) -> str:
    """Where the limits stood and stand; '' where none was looked at."""
    limits = answer["limits"]
    if not limits:
        return ""
    before = sum(row["ok_before"] is False for row in limits)
    broken = sum(row["ok_after"] is False for row in limits)
    unknown = sum(row["ok_after"] is None for row in limits)
    return (
        f"limits broken: {before} before, {broken} after; "
        f"{unknown} unknown, which is neither within nor broken"
    )


def _buttons(lib: Library, found: Any, answer: Mapping[str, Any]) -> None:
    formula = found.formula()
    name = rivals.next_name(work.state()["name"])
    rows = bench_rows.rows_of(formula, lib.tables.materials)
    before, after = answer["dose_pct"], answer["dose_after_pct"]
    moved = before and after and abs(after - before) > 1e-3 * before and not work.setting("same_total")
    dose = min(100.0, significant(after, 4)) if moved else None
    blocked = answer["within_known"] is False
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "use this",
            key="use-adjusted",
            type="primary",
            on_click=rivals.take,
            args=(name, rows, "", dose),
            disabled=blocked,
            help="It takes the place of the accord on the bench; the old one can be brought back.",
        )
        st.button(
            "weigh this",
            key="use-weigh",
            on_click=rivals.take,
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


def _lines(answer: Mapping[str, Any]) -> None:
    marks = [rivals.mark(line) for line in answer["lines"]]
    order = sorted(range(len(marks)), key=lambda i: (marks[i] == "= kept", i))
    rows = []
    for i in order:
        line = answer["lines"][i]
        strength = "" if line["strength_pct"] >= 100 else f"\u00a0{line['strength_pct']:g}\u00a0%"
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
