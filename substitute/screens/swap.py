"""Swap: what stands in for a material that is gone, how much of it, and what changes."""

from __future__ import annotations

import streamlit as st

from . import accord as accords
from . import charts, common, work

LINK = ("material", "because", "product", "dose", "market", "blend", "top")
EXAMPLE = {"material": "rosewood oil", "because": "law"}


def show() -> None:
    """Draw the screen."""
    common.heading(
        "Swap", "A material is gone: what stands in for it, how much of that, and what is gained and lost."
    )
    lib = common.library()
    complaints = work.from_link(LINK, common.link_values(lib))
    for text in complaints:
        common.fault(text)
    material, because = _ask(lib)
    work.to_link(LINK)
    if not material:
        st.html("<p>Say which material is gone, or look at an example first.</p>")
        st.button(
            "Example: rosewood oil is protected by law",
            key="example",
            type="primary",
            on_click=lambda: work.put(**EXAMPLE),
        )
        return
    with common.guarded():
        _answer(lib, material, because)


def _ask(lib) -> tuple[str, str]:
    left, right = st.columns([3, 2], vertical_alignment="top")
    with left:
        material = common.material_field("Missing material", "material", lib)
    with right:
        because = common.field(
            st.selectbox,
            "Why it is gone",
            "because",
            options=list(common.BECAUSE),
            format_func=lambda id: f"{common.BECAUSE[id]}",
            help="It decides who may stand in: nothing the law holds where it is the law, nothing that presses on the same limit where it is limited.",
        )
    with st.expander("Shelf, product, accord, blends"):
        one, two = st.columns(2)
        with one:
            common.field(st.toggle, "Only from my shelf", "use_shelf", help=common.word("shelf"))
            common.field(
                st.toggle,
                "Beside the rest of my accord",
                "use_accord",
                help="Candidates that bring what neither the missing material nor the rest of the accord has rank lower.",
            )
            common.field(
                st.slider,
                "Blends of up to [materials]",
                "blend",
                min_value=1,
                max_value=3,
                help=common.word("stand-in"),
            )
            common.field(st.number_input, "Answers [at most]", "top", min_value=1, max_value=50)
        with two:
            common.product_fields(lib)
    return material, because


def _options(lib) -> dict:
    product = work.setting("product")
    options = (
        {"product": product, "dose": work.setting("dose"), "market": work.setting("market")}
        if product
        else {}
    )
    if work.setting("use_shelf"):
        options["shelf"] = common.shelf_of(lib, ask=False)
    if work.setting("use_accord"):
        accords.start(lib)
        found, complaints = work.checked(
            work.state()["rows"], lib.accord_of, work.state()["name"] or "accord"
        )
        if complaints:
            st.warning(
                f"The accord has faults and is not used: {common.md(complaints[0])}. Mend it on the screen Adjust."
            )
        options["accord"] = found
    return {**options, "blend": work.setting("blend"), "top": work.setting("top")}


def _answer(lib, material: str, because: str) -> None:
    options = _options(lib)
    made_of = (material, because, *options.items())
    with st.spinner("Looking for what stands in …"):
        found = common.remembered(
            "swap", made_of, lambda: lib.swap(material, because=because, **options).to_dict()
        )
    missing = found["missing"]
    st.subheader(f"Stand-ins for {missing['name']}", anchor=False)
    cas = f"CAS {missing['cas']} · " if missing["cas"] else ""
    st.caption(
        f"{cas}gone because: {common.BECAUSE[because]} · {len(found['stand_ins'])} answers, the best first"
    )
    for note in found["notes"]:
        st.info(common.md(note))
    for entry in found["stand_ins"]:
        _entry(lib, missing, entry)
    if not found["stand_ins"]:
        near = f"; the nearest is {common.md(found['nearest']['name'])}" if found["nearest"] else ""
        st.info(
            f"Nothing is near enough to stand in{near}. Next: take the shelf away, try another reason, or look at the screen Neighbours."
        )
        return
    st.divider()
    st.markdown("**Take it along**")
    common.downloads(
        f"swap-{missing['id']}",
        f"Stand-ins for {missing['name']}",
        lambda: [_sheet(found)],
        [text for entry in found["stand_ins"] for text in entry["cautions"]],
    )
    with st.container(horizontal=True):
        st.page_link(st.session_state["pages"]["adjust"], label="→ Next: adjust an accord without it")
        st.page_link(st.session_state["pages"]["neighbours"], label="→ What else lies near it")
    _card(lib, missing["id"])


def amount(member: dict) -> str:
    """Grams for one gram in words."""
    if member["grams_per_gram"] is None:
        return "amount unknown: work up from a trace"
    return f"{common.figure(member['grams_per_gram'], 2)} g for 1 g ({common.figure(member['low'], 2)} to {common.figure(member['high'], 2)})"


def _entry(lib, missing: dict, entry: dict) -> None:
    names = " + ".join(member["name"] for member in entry["materials"])
    with st.container(border=True):
        st.markdown(f"### {entry['rank']}. {common.md(names)}")
        text, bars = st.columns([6, 5], gap="medium")
        with text:
            for member in entry["materials"]:
                prefix = f"{common.md(member['name'])}: " if len(entry["materials"]) > 1 else ""
                st.markdown(
                    f"{prefix}**{common.md(amount(member))}**"
                    + (f"  \nCAS {common.md(member['cas'])}" if member["cas"] else ""),
                    help=common.word("grams_per_gram"),
                )
            st.markdown(
                f"*{common.md(entry['in_words'])}* · evidence: {entry['evidence']} · similarity {common.figure(entry['similarity'], 2)}",
                help=common.word("evidence") + "\n\n" + common.WORDS["similarity"],
            )
            st.markdown("\n".join(f"- {common.md(reason)}" for reason in entry["reasons"]))
            for sign, key, word in (("+", "gains", "Gained"), ("−", "losses", "Lost")):
                if entry[key]:
                    st.markdown(
                        f"{word}: "
                        + ", ".join(
                            f"{sign}\u00a0{common.md(d['descriptor'])}\u00a0({100 * d['by']:.0f}\u00a0%)"
                            for d in entry[key]
                        )
                    )
            if entry["listen"]:
                st.markdown(f"*{common.md(entry['listen'])}*")
            if entry["trial_series"]:
                st.markdown(
                    "Trial series, g for 1 g: "
                    + ", ".join(common.figure(v, 2) for v in entry["trial_series"])
                )
        with bars:
            _bars(lib, missing, entry, names)
        _small_print(lib, missing, entry)


def _bars(lib, missing: dict, entry: dict, names: str) -> None:
    after = {member["id"]: member["grams_per_gram"] or 1.0 for member in entry["materials"]}
    known = lib.tables.profiles
    if missing["id"] not in known or not any(id in known for id in after):
        st.caption("No profile on file, so there is nothing to draw.")
        return
    found = lib.compare({missing["id"]: 1.0}, after, top=8)
    charts.before_after(
        found.rows,
        missing["name"],
        names,
        f"Profiles: hollow bars {missing['name']}, filled bars {names}; the table below says the same.",
        key=f"bars_{entry['rank']}",
    )
    st.caption(f"Hollow: {common.md(missing['name'])}. Filled: {common.md(names)}.")
    with st.expander("The same as a table"):
        common.table(
            ("descriptor", "before [%]", "after [%]"),
            [(name, f"{100 * a:.1f}", f"{100 * b:.1f}") for name, a, b in found.rows],
            f"Profile shares of {missing['name']} and {names}",
        )


def _small_print(lib, missing: dict, entry: dict) -> None:
    supply = entry["supply"]
    if supply:
        along = ", ".join(
            f"{common.figure(part['grams'], 2)} g {part['name']}" for part in supply["along"][:4]
        )
        with st.expander("As a source of the missing molecule"):
            st.markdown(
                common.md(
                    f"{common.figure(supply['grams_for_one_gram_of'])} g bring 1 g of it, and with it {along}."
                )
            )
    if entry["cautions"]:
        st.markdown("\n".join(f"- ⚠ {common.md(text)}" for text in entry["cautions"]))
    ids, bases = common.material_sources(
        lib, [missing["id"], *(member["id"] for member in entry["materials"])]
    )
    ground = {
        "share": "the constituent's share",
        "potency": "the two potencies",
        "evidence": "a documented swap",
    }.get(entry["amount_from"], "the figures on file")
    common.sources(
        lib,
        [*entry["sources"], *ids],
        bases,
        f"The amount comes from {ground}; the order from profiles, constituents, strength and documented swaps.",
    )


def _sheet(found: dict):
    from ..accords.sheets import Sheet

    rows = [
        (entry["rank"], member["name"], member["cas"], member["grams_per_gram"], member["low"], member["high"], entry["in_words"], entry["similarity"], entry["evidence"], "; ".join(entry["reasons"]),
         ", ".join(d["descriptor"] for d in entry["gains"]), ", ".join(d["descriptor"] for d in entry["losses"]))
        for entry in found["stand_ins"] for member in entry["materials"]
    ]  # fmt: skip
    columns = (
        "rank",
        "stand-in",
        "CAS",
        "grams for 1 g [g]",
        "from [g]",
        "to [g]",
        "trust",
        "similarity [0-1]",
        "evidence",
        "reasons",
        "gains",
        "losses",
    )
    return Sheet(f"Stand-ins for {found['missing']['name']}", columns, rows)


def _card(lib, id: str) -> None:
    """What is on file about the missing material itself."""
    with st.expander("What is on file about the missing material"), common.guarded():
        card = lib.show(id).to_dict()
        st.markdown(common.md(card["description"]) if card["description"] else "No description on file.")
        st.markdown(f"Strength: {common.md(card['strength'])}.")
        st.markdown(f"Lasts: {common.md(card['lasts'])}.")
        if card["profile"]:
            common.table(
                ("descriptor", "weight [1–10]"),
                [(p["descriptor"], p["weight"]) for p in card["profile"]],
                "Profile",
            )
        figures = [
            (
                f["property"].replace("_", " "),
                f["value"],
                f["at"],
                common.BASIS.get(f["basis"], f["basis"]),
                f["source"],
            )
            for f in card["figures"]
        ]
        if figures:
            common.table(
                ("figure", "value", "at", "basis", "source"), figures, "Figures on file with their sources"
            )
        if card["constituents"]:
            rows = [
                (r["name"], r["low_pct"], r["typical_pct"], r["high_pct"], r["basis"])
                for r in card["constituents"][:20]
            ]
            common.table(
                ("constituent", "low [%]", "typical [%]", "high [%]", "basis"), rows, "Constituents by mass"
            )
        if card["held_by"]:
            common.table(
                ("held by", "low [%]", "typical [%]", "high [%]"),
                [(r["name"], r["low_pct"], r["typical_pct"], r["high_pct"]) for r in card["held_by"][:12]],
                "Naturals that hold it",
            )
        for line in (
            *card["law"],
            *(f"{c['control']} ({c['market']}): {c['detail']}" for c in card["controls"]),
        ):
            st.markdown(f"- {common.md(line)}")
        st.markdown(
            "\n".join(f"- {common.md(s['citation'])} ({common.md(s['kind'])})" for s in card["sources"])
        )
