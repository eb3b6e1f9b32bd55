"""Formulas to take over: the adjusted one, the plain ways beside it, and rivals for the same question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers.words import listed
from ..figures import given, ratio
from . import bench_rows, common, work

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


def next_name(name: str) -> str:
    """What a formula adjusted again is called: ``X`` → ``X-adjusted`` → ``X-adjusted-2`` …"""
    base, adjusted, number = name.partition("-adjusted")
    if not adjusted:
        return f"{name}-adjusted"
    number = number.strip("-") or "1"
    return f"{base}-adjusted-{int(number) + 1 if number.isdigit() else 2}"


def take(name: str, rows: list[bench_rows.Row], onward: str, dose: float | None = None) -> None:
    """Callback: the formula takes the bench, at the ``dose`` that carries the same active mass;
    ``onward`` names a screen."""
    old = common.titled(work.state()["name"])
    moved = (
        f" Its dose goes from {work.setting('dose'):g} to {given(dose)}, which carries the same."
        if dose
        else ""
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


def ways(answer: Mapping[str, Any], within: bool | None) -> None:
    rows = [
        (
            OPTIONS.get(one["name"], one["name"].replace("_", " ")),
            f"{ratio(one['match'])}",
            inside(one["within_known"]),
        )
        for one in answer["options"]
    ]
    rows.append(("as above", f"{ratio(answer['match']['overall'])}", inside(within)))
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


def inside(within: bool | None) -> str:
    return {True: "within", False: "✕ over", None: "? unknown"}[within]


def rivals(lib: Library, answer: Mapping[str, Any]) -> None:
    """Other formulas for the same question, each to be taken over as well."""
    kept = {line["id"]: line for line in answer["lines"]}
    for place, rival in enumerate(answer["rivals"], 1):
        new = listed([common.name_of(lib, id) for id in rival["new"]])
        said = rival["name"].replace("_", " ")
        with st.container(horizontal=True, gap="small", key=f"entry-rival-{place}"):
            line = (
                f"Rival, {common.md(said)}: **{VERDICTS[rival['verdict']].lower()}, match"
                f" {ratio(rival['match']['overall'])}**"
            )
            with st.expander(f"{line}{f' · {common.md(new)}' if new else ''}"):
                changes(rival["lines"], f"What the rival {said} changes")
            st.button(
                "use this",
                key=f"use-rival-{place}",
                on_click=take,
                args=(next_name(work.state()["name"]), _rival_rows(rival, kept), ""),
            )


def changes(lines: Sequence[Mapping[str, Any]], alt: str) -> None:
    """The lines whose parts change, before and after."""
    rows = [
        (
            line["name"],
            mark(line),
            common.figure(line["parts_before"], 4),
            common.figure(line["parts_after"], 4),
        )
        for line in lines
        if line["parts_before"] != line["parts_after"]
    ]
    common.table(("material", "change", "before [parts]", "after [parts]"), rows, alt, slim=True)


def _rival_rows(rival: Mapping[str, Any], kept: Mapping[str, Any]) -> list[bench_rows.Row]:
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
