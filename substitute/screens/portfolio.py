"""Many accords against the rules: which break, what a newer set changes, and all of them mended."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path

import streamlit as st

from ..errors import InputError
from . import common, dropped, work

CHANGES = {
    "newly_broken": "✕ newly broken",
    "newly_unknown": "? newly unknown",
    "tighter": "▼ tighter",
    "newly_fine": "✓ newly fine",
    "looser": "▲ looser",
}


def show(lib) -> None:
    """Draw the tab."""
    pile = dropped.pick(lib, "rules")
    if pile is None:
        return
    product = work.setting("product") or "fine-fragrance"
    options = {
        "product": product,
        "dose": work.setting("dose"),
        "market": work.setting("market"),
        "on": work.setting("on") or None,
    }
    since = work.setting("since") or None
    name = common.product_names(lib).get(product, product)
    st.markdown(
        f"In {common.md(name)} at {options['dose']:g} % of the product ({common.md(options['market'])}), as set on the tab *One accord*."
    )
    dropped.show_rejected(pile.doubled)
    with common.guarded():
        made_of = (pile.key, *options.items(), since)
        answer = common.remembered("portfolio", made_of, lambda: screened(lib, pile, options, since))
        _answer(lib, answer)
        if answer["broken"]:
            _mend(lib, pile, options, made_of)


def screened(lib, pile, options: dict, since: str | None, **more) -> dict:
    """The library's answer about a pile; messages without the place of the copies."""
    with pile.placed() as place, dropped.counting("Judging accords") as progress:
        try:
            answer = lib.screen(place, **options, since=since, progress=progress, **more).to_dict()
        except InputError as error:
            raise InputError(dropped.plain(str(error), place)) from None
        for row in answer["rejected"]:
            row["message"] = dropped.plain(row["message"], place)
        return answer


def _answer(lib, answer: dict) -> None:
    unknown = answer["unknown"]
    st.markdown(
        f"**{answer['broken']:,} of {answer['accords']:,} accords break a limit on file.** In {unknown['accords']:,} something is unknown, which is neither fine nor broken.",
        help=common.word("limit"),
    )
    dropped.show_rejected([(row["accord"], row["message"]) for row in answer["rejected"]])
    columns = ("accord", "substance", "set", "limit [%]", "found [%]", "times the limit")
    rows = [
        (
            b["accord"],
            b["substance"],
            b["limit_set"],
            "prohibited" if b["limit_pct"] == 0 else common.figure(b["limit_pct"]),
            common.figure(b["found_pct"]),
            common.figure(b["times"]) if b["times"] is not None else "none allowed",
        )
        for b in answer["breaches"]
    ]
    if rows:
        common.long_table(columns, rows[:400], "Accords that break a limit, and by what")
        common.downloads(
            "portfolio",
            "Accords against the rules",
            lambda: [_sheet("Breaches", columns, rows)],
            answer["cautions"],
        )
    if unknown["by_substance"]:
        with st.expander(f"Unknown substances ({len(unknown['by_substance'])})"):
            common.long_table(
                ("substance", "in accords"),
                [(one["name"], f"{one['accords']:,}") for one in unknown["by_substance"]],
                "What nobody can judge from the figures on file",
            )
    if answer.get("since"):
        changes(answer)
    used = {b["limit_set"] for b in answer["breaches"]} or set(answer["limit_sets"])
    common.sources(lib, [lib.tables.limit_sets[id].source for id in answer["limit_sets"] if id in used])
    common.cautions([*answer["notes"], *answer["cautions"]])


def changes(answer: dict) -> None:
    """What the sets in force change against the older one, limit by limit and accord by accord."""
    st.subheader("What the newer set changes", anchor=False)

    def limit(value, stated) -> str:
        return (
            ("prohibited" if value == 0 else common.figure(value))
            if value is not None
            else "no figure"
            if stated
            else "no rule"
        )

    moved = [row for row in answer["changed_limits"] if any(row[kind] for kind in CHANGES)]
    st.markdown(
        f"Since {common.md(answer['since'])} {len(answer['changed_limits'])} limits differ; {len(moved)} of them matter here."
    )
    if moved:
        common.long_table(
            (
                "substance",
                "old limit [%]",
                "new limit [%]",
                *(f"{said[2:]} [accords]" for said in CHANGES.values()),
            ),
            [
                (
                    row["substance"],
                    limit(row["old_limit_pct"], row["old_stated"]),
                    limit(row["limit_pct"], row["stated"]),
                    *(str(row[kind]) for kind in CHANGES),
                )
                for row in moved
            ],
            "Limits that differ",
        )
    if answer["changes"]:
        rows = [
            (
                row["accord"],
                row["substance"],
                CHANGES[row["change"]],
                common.figure(row["old_limit_pct"]),
                common.figure(row["limit_pct"]),
                common.figure(row["found_pct"]),
            )
            for row in answer["changes"]
        ]
        common.long_table(
            ("accord", "substance", "change", "old [%]", "new [%]", "found [%]"),
            rows[:400],
            "What changes for which accord",
        )


def _sheet(title: str, columns, rows):
    from ..accords.sheets import Sheet

    return Sheet(title, columns, rows)


def _mend(lib, pile, options: dict, made_of: tuple) -> None:
    st.subheader("Mend them", anchor=False)
    if st.button(
        "Mend what is broken",
        key="mend_many",
        help="The smallest change on file that brings each within every known limit at this dose.",
    ):
        st.session_state["mended"] = (made_of, _mended(lib, pile, options))
    kept = st.session_state.get("mended")
    if not kept or kept[0] != made_of:
        return
    rows, archive = kept[1]
    common.long_table(("accord", "match [0–1]", "outcome"), rows, "Mended accords")
    if archive:
        st.download_button(
            "All mended accords (ZIP of CSV)",
            archive,
            "mended.zip",
            "application/zip",
            key="mended_zip",
            on_click="ignore",
        )


def _mended(lib, pile, options: dict):
    with tempfile.TemporaryDirectory(prefix="substitute-") as folder:
        target = Path(folder) / "mended"
        answer = screened(lib, pile, options, None, mend=target)
        out, files = io.BytesIO(), sorted(target.glob("*")) if target.is_dir() else []
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
            for path in files:
                pack.write(path, path.name)
    rows = []
    for one in answer["mended"]:
        until = (
            f"; as it is, legal up to {common.figure(one['legal_dose_pct'])} %"
            if one.get("legal_dose_pct")
            else ""
        )
        rows.append(
            (
                one["accord"],
                common.figure(one["match"], 2),
                "mended" if one["file"] else f"not mended: {one['message']}{until}",
            )
        )
    return rows, out.getvalue() if files else b""
