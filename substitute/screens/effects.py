"""What adjusting moves: the smell over opening, heart and drydown, and how much of every limit is used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers.words import count
from ..figures import ratio
from ..records import Accord
from . import bars, common
from .words import BASIS, word

if TYPE_CHECKING:
    from ..library import Library

STAGES = {
    "opening": ("opening, 10 min", 1 / 6),
    "heart": ("heart, 2 h", 2.0),
    "drydown": ("drydown, 24 h", 24.0),
}
WORDS_SHOWN, LEAST_SHOWN = 9, 0.005


def smell(lib: Library, accord: Accord, found: Any) -> None:
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
    else:
        st.markdown("No word for the smell gains or loses as much as half a point of a hundred.")
    strength = ", ".join(
        f"{said.split(',')[0]} {'not to be judged' if one.strength is None else f'{ratio(one.strength)}'}"
        for said, one in seen.items()
    )
    match = found.to_dict()["match"]
    alike = ", ".join(
        f"{name} {'not judged' if match[name] is None else ratio(match[name])}" for name in STAGES
    )
    st.caption(
        f"Match, 0 to 1: {alike}. Strength, the old accord is 1: {strength}."
        + (" Right of the stroke is more than before, left and hatched is less." if rows else ""),
        help=word("match"),
    )


def limits(lib: Library, answer: Mapping[str, Any]) -> None:
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
