"""Many accords against the rules: one row an accord, the worst first; what a newer set changes; mending
one by one or all."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from ..answers import lay_out
from ..answers.words import count, listed
from ..errors import InputError, SubstituteError
from ..figures import ratio
from ..records import Accord
from . import bars, bench_rows, common, dropped, rivals, slow, work

if TYPE_CHECKING:
    from ..library import Library

CHANGES = {
    "newly_broken": "✕ newly broken",
    "newly_unknown": "? newly unknown",
    "tighter": "▼ tighter",
    "newly_fine": "✓ newly fine",
    "looser": "▲ looser",
}
FIRST_ROWS = 12


def asked(lib: Library) -> dropped.Pile | None:
    """Which accords; in the container of the question."""
    return dropped.pick(lib, "rules")


def show(lib: Library, pile: dropped.Pile | None, options: dict[str, Any], since: str | None) -> None:
    """Draw the answer."""
    if pile is None:
        common.headline("Which accords?")
        common.following("drop files or a folder above; they stay on this machine.")
        return
    dropped.show_rejected(pile.doubled)
    made_of = (pile.key, *options.items(), since)
    job = slow.job("portfolio", made_of) or slow.begin(
        "portfolio", made_of, lambda progress: _screened(lib, pile, options, since, progress)
    )
    answer = slow.shown(job, "portfolio")
    if answer is None:
        return
    _answer(lib, answer, pile, options, made_of)


def _screened(
    lib: Library, pile: dropped.Pile, options: dict[str, Any], since: str | None, progress: slow.Progress
) -> dict[str, Any]:
    """The library's answer about a pile; messages without the place of the copies."""

    def told(share: float, done: int, *_: Any) -> None:
        progress(done, done / share if share else 0, "accords judged")

    with pile.placed() as place:
        try:
            answer: dict[str, Any] = lib.screen(place, **options, since=since, progress=told).to_dict()
        except InputError as error:
            raise InputError(dropped.plain(str(error), place)) from None
        for row in answer["rejected"]:
            row["message"] = dropped.plain(row["message"], place)
        return answer


def _answer(
    lib: Library,
    answer: Mapping[str, Any],
    pile: dropped.Pile,
    options: dict[str, Any],
    made_of: tuple[Any, ...],
) -> None:
    unknown = answer["unknown"]
    common.headline(
        f"{answer['broken']:,} of {count(answer['accords'], 'accord')} break a limit on file",
        f"in {unknown['accords']:,} something is unknown, which is neither within nor broken",
    )
    broken = _by_accord(answer["breaches"])
    if broken:
        common.following("open a row for what breaks, “mend this” takes one to Adjust, or mend them all.")
    dropped.show_rejected([(row["accord"], row["message"]) for row in answer["rejected"]])
    if broken:
        _mend_all(lib, pile, options, made_of, list(broken))
        _rows(lib, pile, broken)
        common.downloads("portfolio", lambda: lay_out("screen", answer))
    if unknown["by_substance"]:
        with st.expander(f"Unknown substances ({len(unknown['by_substance'])})"):
            common.long_table(
                ("substance", "in accords"),
                [(one["name"], f"{one['accords']:,}") for one in unknown["by_substance"]],
                "What nobody can judge from the figures on file",
            )
    if answer.get("since"):
        changes(lib, answer)
    used = {b["limit_set"] for b in answer["breaches"]} or set(answer["limit_sets"])
    common.cautions([*answer["notes"], *answer["cautions"]])
    common.sources(lib, [lib.tables.limit_sets[id].source for id in answer["limit_sets"] if id in used])


def _by_accord(breaches: Sequence[Mapping[str, Any]]) -> dict[str, list[Mapping[str, Any]]]:
    """Breaches by accord, the worst accord first: what is forbidden, then by how many times the limit is
    used."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for one in breaches:
        found.setdefault(one["accord"], []).append(one)

    def worst(rows: list[Mapping[str, Any]]) -> tuple[float, int]:
        return max(float("inf") if row["times"] is None else row["times"] for row in rows), len(rows)

    return dict(sorted(found.items(), key=lambda item: worst(item[1]), reverse=True))


def _times(row: Mapping[str, Any]) -> str:
    return "forbidden" if row["times"] is None else f"{common.figure(row['times'])} times"


def _rows(lib: Library, pile: dropped.Pile, broken: dict[str, list[Mapping[str, Any]]]) -> None:
    most = st.session_state.get("portfolio_most", FIRST_ROWS)
    for place, (name, rows) in enumerate(list(broken.items())[:most], 1):
        names = list(
            dict.fromkeys(common.name_of(lib, row["substance"]) for row in rows)
        )  # once over all sets
        worst = max(rows, key=lambda row: float("inf") if row["times"] is None else row["times"])
        with st.container(horizontal=True, gap="small", key=f"entry-accord-{place}"):
            line = f"✕ **{common.md(common.titled(name))}** · {_times(worst)} · {common.md(listed(names, 2))}"
            folded = st.expander(line, key=f"broken-{place}", on_change="rerun")
            if folded.open:
                with folded:
                    bars.limits(
                        [
                            {
                                "what": common.name_of(lib, row["substance"]),
                                "set": common.set_title(lib, row["limit_set"]),
                                "limit": row["limit_pct"],
                                "found": row["found_pct"],
                                "ok": False,
                            }
                            for row in rows
                        ],
                        f"What breaks in {name}",
                    )
            st.button("mend this", key=f"use-accord-{place}", on_click=_mend_one, args=(lib, pile, name))
    if len(broken) > most:
        st.button(
            f"Show the other {len(broken) - most:,}", key="portfolio_all", on_click=_more, args=(len(broken),)
        )


def _more(most: int) -> None:
    st.session_state["portfolio_most"] = min(most, 200)


def _accord(lib: Library, pile: dropped.Pile, name: str) -> Accord | None:
    """One accord of a pile by its name."""
    if not pile.files:
        path = pile.demo / f"{name}.csv"
        return lib.read_accord(path) if path.is_file() else None
    many, _ = dropped.read(lib, pile, "rules")
    return next((one for one in many if one.name == name), None)


def _mend_one(lib: Library, pile: dropped.Pile, name: str) -> None:
    found = _accord(lib, pile, name)
    if found is None:
        st.session_state["accord_error"] = (
            f"{name} is not a file of its own; open it as one on the screen Adjust"
        )
        return
    demo = name if not pile.files else ""
    work.set_accord(
        name,
        bench_rows.rows_of(found, lib.tables.materials),
        demo=demo,
        told=f"{common.titled(name)} stands on the bench, to be mended.",
    )
    work.put(because="limit")
    work.go("adjust")


# -- mending all ---------------------------------------------------------------------------------------------


def _mend_all(
    lib: Library, pile: dropped.Pile, options: dict[str, Any], made_of: tuple[Any, ...], names: list[str]
) -> None:
    """Mend what is broken, one after another: what is done stays done when it is stopped, and goes on
    from there."""
    done: dict[str, Any] = st.session_state.setdefault("mended", {}).setdefault(made_of, {})
    left = [name for name in names if name not in done]
    job = slow.job("mend", made_of)
    if job is not None and job.running:
        slow.shown(job, "mend")
    elif left:
        said = "Mend them all" if not done else f"Go on: {count(len(left), 'accord')} left"
        st.button(
            said,
            key="mend_many",
            on_click=_begin,
            args=(lib, pile, options, made_of, left),
            help="The smallest change on file that brings each within every known limit at this dose.",
        )
    if job is not None and isinstance(job.error, SubstituteError):
        common.fault(job.error)
    if done:
        _mended(lib, done, len(names))


def _begin(
    lib: Library, pile: dropped.Pile, options: dict[str, Any], made_of: tuple[Any, ...], left: list[str]
) -> None:
    done: dict[str, Any] = st.session_state["mended"][made_of]

    def mend(progress: slow.Progress) -> None:
        many = {one.name: one for one in lib.read_accords(pile.demo)[0]} if not pile.files else None
        for number, name in enumerate(left):
            progress(number, len(left), f"mending {common.titled(name)}")
            found = many.get(name) if many is not None else _from(lib, pile, name)
            done[name] = _outcome(lib, found, options)

    slow.begin("mend", made_of, mend)


def _from(lib: Library, pile: dropped.Pile, name: str) -> Accord | None:
    with pile.placed() as place:
        found, _ = lib.read_accords(place if place.is_dir() else place.parent)
    return next((one for one in found if one.name == name), None)


def _outcome(lib: Library, found: Accord | None, options: dict[str, Any]) -> dict[str, Any]:
    if found is None:
        return {"formula": None, "answer": None, "message": "not a file of its own"}
    try:
        made = lib.adjust(found, because="limit", **options)
    except SubstituteError as error:
        return {"formula": None, "answer": None, "message": str(error)}
    answer = made.to_dict()
    within = answer["within_known"]
    if within is False:
        wall: Any = answer["wall"]
        return {
            "formula": None,
            "answer": answer,
            "message": f"nothing within the known limits; in the way: {wall['name'] if wall else 'a limit'}",
        }
    return {"formula": made.formula(), "answer": answer, "message": ""}


def _mended(lib: Library, done: Mapping[str, Any], of: int) -> None:
    good = {name: one for name, one in done.items() if one["formula"] is not None}
    matches = [one["answer"]["match"]["overall"] for one in good.values()]
    mean = f", match {ratio(sum(matches) / len(matches))} on average" if matches else ""
    with st.expander(f"Mended {len(good)} of {of}{mean}", key="mended_list", expanded=True):
        if good:
            st.download_button(
                "All mended accords (ZIP of CSV)",
                lambda: _archive(good),
                "mended.zip",
                "application/zip",
                key="mended_zip",
                on_click="ignore",
            )
        for place, (name, one) in enumerate(list(done.items())[:200], 1):
            if one["formula"] is None:
                st.markdown(f"✕ {common.md(common.titled(name))}: {common.md(one['message'])}")
                continue
            changed = [line for line in one["answer"]["lines"] if line["parts_before"] != line["parts_after"]]
            with st.container(horizontal=True, gap="small", key=f"entry-mended-{place}"):
                with st.expander(
                    f"✓ **{common.md(common.titled(name))}** · match"
                    f" {ratio(one['answer']['match']['overall'])} · {count(len(changed), 'line')} moved"
                ):
                    rivals.changes(changed, f"What mending {name} changes")
                st.button(
                    "use this",
                    key=f"use-mended-{place}",
                    on_click=_use_mended,
                    args=(lib, name, one["formula"]),
                )


def _use_mended(lib: Library, name: str, formula: Accord) -> None:
    work.set_accord(
        formula.name,
        bench_rows.rows_of(formula, lib.tables.materials),
        told=f"Taken over: {common.titled(name)}, mended, stands on the bench.",
    )


def _archive(good: Mapping[str, Any]) -> bytes:
    from ..tables.formulas import write_accord

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, one in good.items():
            pack.writestr(f"{common.stem_of(name)}.csv", write_accord(one["formula"]))
    return out.getvalue()


# -- what a newer set changes --------------------------------------------------------------------------------


def _limit(value: float | None, stated: bool) -> str:
    if value is None:
        return "no figure" if stated else "no rule"
    return "prohibited" if value == 0 else common.figure(value)


def changes(lib: Library, answer: Mapping[str, Any]) -> None:
    """What the sets in force change against the older one, limit by limit and accord by accord."""
    st.header("What the newer set changes", anchor=False)
    moved = [row for row in answer["changed_limits"] if any(row[kind] for kind in CHANGES)]
    st.markdown(
        f"Since {common.md(common.set_title(lib, answer['since']))} {len(answer['changed_limits'])} limits"
        f" differ; {len(moved)} of them matter here."
    )
    if answer["changes"]:
        rows = [
            (
                common.titled(row["accord"]),
                common.name_of(lib, row["substance"]),
                CHANGES[row["change"]],
                row["old_limit_pct"],
                row["limit_pct"],
                row["found_pct"],
            )
            for row in answer["changes"]
        ]
        common.long_table(
            ("accord", "substance", "change", "old [%]", "new [%]", "found [%]"),
            rows[:400],
            "What changes for which accord",
        )
    if moved:
        columns = (
            "substance",
            "old limit [%]",
            "new limit [%]",
            *(f"{said[2:]} [accords]" for said in CHANGES.values()),
        )
        limits = [
            (
                common.name_of(lib, row["substance"]),
                _limit(row["old_limit_pct"], row["old_stated"]),
                _limit(row["limit_pct"], row["stated"]),
                *(str(row[kind]) for kind in CHANGES),
            )
            for row in moved
        ]
        with st.expander(f"The limits that differ and matter here ({len(moved)})"):
            common.table(columns, limits, "Limits that differ")
