"""Answers as text for a terminal. Takes the JSON of an answer and lays it out; no arithmetic, no files."""

from __future__ import annotations

import io
import shutil
import textwrap
from collections.abc import Iterable, Mapping, Sequence

WIDTH = max(72, min(shutil.get_terminal_size((118, 40)).columns, 140))


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], right: Iterable[int] = ()) -> str:
    """Columns as aligned text; numbers to the right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    right = set(right)
    grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="", show_edge=False)
    for place, column in enumerate(columns):
        grid.add_column(column, justify="right" if place in right else "left", overflow="fold", no_wrap=False)
    for row in rows:
        grid.add_row(*(str(cell).replace("[", "\\[") for cell in row))
    out = io.StringIO()
    Console(file=out, width=WIDTH, no_color=True, highlight=False).print(grid)
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()).strip("\n")


def wrapped(text: str, first: str = "  - ", then: str = "    ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=then)


def listed(title: str, items: Sequence[str]) -> list[str]:
    return [title, *(wrapped(item) for item in items)] if items else []


def figure(value, digits: int = 3) -> str:
    """A number for reading; a dash for what is not known."""
    if value is None or value != value:
        return "-"
    return f"{value:.{digits}g}" if abs(value) < 1e5 else f"{value:,.0f}"


def percent(value) -> str:
    """A percentage without powers of ten; 'unknown' where there is none."""
    if value is None:
        return "unknown"
    if value == 0:
        return "0 %"
    return f"{value:.3g} %" if abs(value) >= 1e-4 else f"{value:.8f}".rstrip("0") + " %"


STATE = {True: "within", False: "BROKEN", None: "unknown"}


def swap_text(answer: Mapping) -> str:
    """Ranked stand-ins with their reasons."""
    missing = answer["missing"]
    out = [f"Stand-ins for {missing['name']}{cas(missing)}, because {answer['because']}", ""]
    for stand_in in answer["stand_ins"]:
        names = " + ".join(m["name"] for m in stand_in["materials"])
        out.append(
            f"{stand_in['rank']}. {names}  [{stand_in['in_words']}: {stand_in['score']:.2f}; similarity {figure(stand_in['similarity'], 2)}; evidence: {stand_in['evidence']}]"
        )
        for m in stand_in["materials"]:
            amount = (
                f"{figure(m['grams_per_gram'])} g for 1 g (from {figure(m['low'])} to {figure(m['high'])})"
                if m["grams_per_gram"]
                else "amount unknown: work up from a trace"
            )
            out.append(f"   {m['id']}{cas(m)}: {amount}")
        out += [wrapped(text) for text in stand_in["reasons"]]
        if stand_in["gains"] or stand_in["losses"]:
            gains = ", ".join(f"+{d['descriptor']} {d['by']:.2f}" for d in stand_in["gains"])
            losses = ", ".join(f"-{d['descriptor']} {d['by']:.2f}" for d in stand_in["losses"])
            out.append(wrapped("; ".join(filter(None, [gains, losses])), "  ± "))
        if stand_in["listen"]:
            out.append(wrapped(stand_in["listen"], "  > "))
        if stand_in["trial_series"]:
            out.append(
                wrapped(
                    "trial series, g for 1 g: " + ", ".join(figure(v, 2) for v in stand_in["trial_series"]),
                    "  > ",
                )
            )
        if stand_in["supply"]:
            supply = stand_in["supply"]
            along = ", ".join(f"{figure(part['grams'], 2)} g {part['name']}" for part in supply["along"][:4])
            out.append(
                wrapped(
                    f"as a source: {figure(supply['grams_for_one_gram_of'])} g bring 1 g of it, and with it {along}",
                    "  > ",
                )
            )
        out += [wrapped(text, "  ! ") for text in stand_in["cautions"]]
        out.append("")
    out += [wrapped(note, "", "") for note in answer["notes"]]
    if not answer["stand_ins"] and answer["nearest"]:
        near = answer["nearest"]
        out.append(f"Nearest: {near['name']}{cas(near)}, similarity {near['similarity']:.2f}")
    return "\n".join(out).rstrip()


def cas(entry: Mapping) -> str:
    return f" (CAS {entry['cas']})" if entry.get("cas") else ""


VERDICTS = {
    "good": "near",
    "fair": "fair, a difference is smelled",
    "poor": "poor, smelled at once",
    "none": "nothing here takes its place",
}


def adjust_text(answer: Mapping) -> str:
    match = answer["match"]
    out = [f"{answer['accord']}, adjusted: {VERDICTS[answer['verdict']]}", ""]
    rows = [
        (
            line["id"],
            figure(line["strength_pct"]),
            figure(line["parts_before"], 4),
            figure(line["parts_after"], 4),
            line["why"],
        )
        for line in answer["lines"]
    ]
    out.append(table(("material", "strength %", "parts before", "parts after", "why"), rows, {1, 2, 3}))
    stages = ", ".join(
        f"{name} {'not judged' if match[name] is None else format(match[name], '.2f')}"
        for name in ("opening", "heart", "drydown")
    )
    out += [
        "",
        f"Match {match['overall']:.2f} ({stages}); between {answer['match_range'][0]:.2f} and {answer['match_range'][1]:.2f} over the naturals' low and high constituents",
    ]
    plain = ", ".join(
        f"{o['name'].replace('_', ' ')} {o['match']:.2f}{'' if o['within_known'] else ' (over a limit)'}"
        for o in answer["options"]
    )
    if plain:
        out.append(f"By hand it would be: {plain}")
    out.append(
        f"Total {figure(answer['total_before'], 4)} before, {figure(answer['total_after'], 4)} after"
        + (
            f"; dose {percent(answer['dose_pct'])} before, {percent(answer['dose_after_pct'])} after"
            if answer["dose_pct"] is not None and answer["dose_after_pct"] is not None
            else ""
        )
    )
    out += [wrapped(text, "- ", "  ") for text in answer["notes"]]
    for rival in answer["rivals"]:
        changed = [
            f"{line['name']} {figure(line['parts_after'], 4)}{'' if line['strength_pct'] == 100 else ' at ' + figure(line['strength_pct']) + ' %'}"
            for line in rival["lines"]
            if line["id"] in (*rival["new"], *rival["moved"])
        ]
        named = rival["name"].replace("_", " ")
        out.append(
            wrapped(
                f"{named} ({rival['verdict']}, {rival['match']['overall']:.2f}): {', '.join(changed) or 'nothing new'}",
                "Or ",
                "   ",
            )
        )
    if answer["bottle"]:
        out.append(
            f"One bottle that would help most: {answer['bottle']['name']}, to a match of {answer['bottle']['match']:.2f}"
        )
    if answer["lost_for_good"]:
        out.append(f"Lost for good: {', '.join(answer['lost_for_good'])}")
    cost = answer["cost_per_gram"]
    if cost["before"] is not None or cost["after"] is not None:
        out.append(
            f"Cost per gram, in the shelf's currency: {figure(cost['before'])} before, {figure(cost['after'])} after"
        )
    changed = [row for row in answer["limits"] if row["ok_before"] is False or row["ok_after"] is not True]
    if answer["limits"]:
        out += [
            "",
            f"Limits: {len(answer['limits'])} looked at; broken before or not known now:"
            if changed
            else f"Limits: {len(answer['limits'])} looked at, none broken or unknown",
        ]
        if changed:
            out.append(
                table(
                    ("substance", "set", "limit", "before", "after", "state", "basis"),
                    [
                        (
                            r["substance"],
                            r["limit_set"],
                            percent(r["limit_pct"]),
                            percent(r["before_pct"]),
                            percent(r["after_pct"]),
                            f"{STATE[r['ok_before']]} → {STATE[r['ok_after']]}",
                            basis(r["basis"]),
                        )
                        for r in changed
                    ],
                    {2, 3, 4},
                )
            )
            out += recalled(changed)
    if not answer["within_known"]:
        out += [
            "",
            f"Nothing within the known limits was found. The wall: {wall(answer['wall'])}; the old accord keeps to them up to {percent(answer['dose_within_known_pct'])}"
            if answer["dose_within_known_pct"] is not None and answer["wall"]
            else "Nothing was found: what is left carries none of this accord.",
        ]
    out += ["", *(wrapped(text, "! ", "  ") for text in answer["cautions"])]
    return "\n".join(out)


RECALLED = "* recalled, not read: check against the official Standard"


def basis(word: str) -> str:
    return "memory *" if word == "memory" else word


def recalled(rows: Iterable[Mapping]) -> list[str]:
    """The footnote of a table in which a figure is recalled."""
    return [RECALLED] if any(row["basis"] == "memory" for row in rows) else []


def wall(entry: Mapping | None) -> str:
    return (
        "none known"
        if not entry
        else f"{entry.get('name') or entry.get('substance')} ({entry.get('limit_set')}), brought most by {entry.get('line')}"
    )


def weigh_text(answer: Mapping) -> str:
    rows = [
        (
            str(line.get("order", "")),
            line["id"],
            f"{figure(line['strength_pct'])} %",
            f"{line['grams']:.10g}",
            f"{line['error_pct']:+.2f}",
            line.get("warn") or "",
        )
        for line in answer["lines"]
    ]
    out = [table(("order", "material", "as", "grams", "error %", "note"), rows, {0, 2, 3, 4}), ""]
    out.append(
        f"Carrier to add: {answer['solvent_g']:.10g} g. Total: {answer['total_g']:.10g} g, of which {answer['concentrate_pct']:.3g} % is active."
    )
    if answer["dilutions"]:
        out += ["", "Make first:", *(wrapped(entry["text"]) for entry in answer["dilutions"])]
    if answer["strips"]:
        strips = [
            (s["id"], f"{figure(s['dip_pct'])} %", "at hand" if s["have"] else "make it", s["why"])
            for s in answer["strips"]
        ]
        out += [
            "",
            "Strips: hold them together before anything is mixed.",
            table(("dip", "solution", "", "why"), strips, {1}),
        ]
    if answer["check"]:
        out += [
            "",
            "Check the swap:",
            *(wrapped(f"day {c['day']}, {c['test']}: {c['lay_out']}. {c['ask']}") for c in answer["check"]),
        ]
    out += ["", *(wrapped(text, "! ", "  ") for text in answer.get("cautions", ()))]
    return "\n".join(out)


def rebalance_text(answer: Mapping) -> str:
    """The next trial, a line each."""
    rows = [
        (
            line["id"],
            figure(line["strength_pct"]),
            figure(line["parts_before"], 4),
            figure(line["parts_after"], 4),
            line["verdict"].replace("_", " "),
            line["why"],
        )
        for line in answer["lines"]
    ]
    out = [
        f"Trial {answer['trial']}, after {answer['parent']}",
        "",
        table(("material", "strength %", "parts before", "parts after", "verdict", "why"), rows, {1, 2, 3}),
    ]
    return "\n".join(
        [*out, "", *(wrapped(text, "! ", "  ") for text in (*answer["warnings"], *answer["cautions"]))]
    ).rstrip()


def card_text(answer: Mapping) -> str:
    """A material's card, to be read at the bench."""
    out = [
        f"{answer['name']}{cas(answer)}",
        f"{answer['id']}: {answer['kind']}"
        + (f", {answer['botanical']}, {answer['part']}, {answer['process']}" if answer["botanical"] else ""),
    ]
    if answer["description"]:
        out.append(answer["description"])
    if answer["law"]:
        out += [wrapped(f"law: {', '.join(answer['law'])}", "! ", "  ")]
    out += [wrapped(text, "! ", "  ") for text in answer["cautions"]]
    if not answer["stocked"]:
        out.append("Nobody weighs it: it is met inside naturals only, and is never a stand-in.")
    if answer["profile"]:
        out += [
            "",
            "Smells of:",
            *(
                f"  {entry['descriptor']:22} {'■' * round(entry['weight'])}{'·' * (10 - round(entry['weight']))} {entry['weight']:g}"
                for entry in answer["profile"]
            ),
        ]
    out += ["", f"Lasts: {answer['lasts']} on a strip"]
    if answer["smell_first"]:
        out.append(f"Very strong: {answer['smell_first']}.")
    if answer["hard_to_smell"]:
        out.append("Many people cannot smell it well.")
    if answer["beside"]:
        out += ["", "In its place:", *(wrapped(f"{b['name']}: {b['loud']}") for b in answer["beside"])]
    if answer["constituents"]:
        out += [
            "",
            "In it, percent by mass:",
            table(
                ("constituent", "low", "typical", "high", "basis"),
                [
                    (
                        r["name"],
                        figure(r["low_pct"]),
                        figure(r["typical_pct"]),
                        figure(r["high_pct"]),
                        r["basis"],
                    )
                    for r in answer["constituents"]
                ],
                {1, 2, 3},
            ),
        ]
    if answer["held_by"]:
        out += [
            "",
            "Held by:",
            table(
                ("natural", "low %", "typical %", "high %"),
                [
                    (r["name"], figure(r["low_pct"]), figure(r["typical_pct"]), figure(r["high_pct"]))
                    for r in answer["held_by"][:12]
                ],
                {1, 2, 3},
            ),
        ]
    if answer["releases"]:
        out += [
            "",
            "Gives back:",
            *(wrapped(f"{r['name']}: {r['share_pct']:.3g} % by mass") for r in answer["releases"]),
        ]
    if answer["limits"]:
        rows = [
            (
                r["limit_set"],
                r["substance"],
                r["category"],
                r["limit_words"],
                r["rule"],
                basis(r["basis"]),
            )
            for r in answer["limits"]
        ]
        out += [
            "",
            f"Rules ({len(rows)}):",
            table(("set", "substance", "category", "at most", "rule", "basis"), rows[:24], {3}),
            *recalled(answer["limits"]),
        ]
    if answer["controls"]:
        out += [
            "",
            "Controls:",
            *(wrapped(f"{c['control']} ({c['market']}): {c['detail']}") for c in answer["controls"]),
        ]
    for title, key in (("Replaced by", "replaced_by"), ("Replaces", "replaces")):
        if answer[key]:
            out += ["", wrapped(f"{title}: {', '.join(answer[key])}", "", "  ")]
    if answer["sources"]:
        out += ["", "Sources:", *(wrapped(f"{s['id']}: {s['citation']}") for s in answer["sources"])]
    return "\n".join(out)


def first_few(names: Sequence[str], n: int = 3) -> str:
    """The first names and how many more there are; the JSON holds them all."""
    more = len(names) - n
    return ", ".join(names[:n]) + (f" and {more} more" if more > 0 else "")


def plan_text(answer: Mapping) -> str:
    """What the shelf makes, what to buy, what it leans on."""
    makes = sorted(answer["makes"], key=lambda made: (-made["match"], made["accord"]))
    after = any("match_after" in made for made in makes)
    columns = ("accord", "match", *(["after"] if after else []), "lacks", "stand-ins")
    rows = [
        (
            m["accord"],
            f"{m['match']:.2f}",
            *([f"{m['match_after']:.2f}"] if after else []),
            first_few(m["lacks"]),
            first_few(m["stand_ins"]),
        )
        for m in makes
    ]
    out = [table(columns, rows, {1, 2} if after else {1}), ""]
    covered = answer["coverage"]
    out.append(
        f"Mean match of {len(makes)} accords: {covered['verified_before']:.2f}"
        + (f" before, {covered['verified_after']:.2f} after buying" if after else "")
        if not answer["curve"]
        else f"Mean match of {len(makes)} accords: {covered['verified_after']:.2f}"
    )
    if answer["buy"]:
        priced = any(p["price"] is not None for p in answer["buy"])
        out += [
            "",
            table(
                ("buy", "CAS", "gain %", *(["price"] if priced else []), "for"),
                [
                    (
                        p["id"],
                        p["cas"],
                        f"{p['gain'] * 100:.1f}",
                        *([figure(p["price"])] if priced else []),
                        "; ".join([p["why"], *p["law"]]),
                    )
                    for p in answer["buy"]
                ],
                {2, 3} if priced else {2},
            ),
        ]
        out.append(
            f"Coverage by the model: {covered['before'] * 100:.1f} % before, {covered['after'] * 100:.1f} % after"
            + (f"; spent {figure(answer['spent'])}" if answer["spent"] is not None else "")
        )
    if answer["gap"] is not None:
        proof = (
            "proved the best there is"
            if answer["proved"]
            else f"not proved: nothing can pass {answer['bound'] * 100:.2f} %"
        )
        out.append(f"Exact against greedy: {answer['gap'] * 100:+.2f} points of coverage; {proof}")
    if answer["curve"]:
        steps = [
            point
            for point in answer["curve"]
            if point["n"] in (1, 2, 3, 5, 8) or point["n"] % 5 == 0 or point["n"] == len(answer["curve"])
        ]
        out += [
            "",
            "Coverage over the number of materials:",
            *(
                f"  {p['n']:3}  {'█' * round(p['coverage'] * 40):40} {p['coverage'] * 100:5.1f} %"
                for p in steps
            ),
        ]
    if answer["leans_on"]:
        shown = answer["leans_on"][:12]
        out += [
            "",
            f"Leans on {len(answer['leans_on'])} swaps"
            + (f", first {len(shown)}:" if len(shown) < len(answer["leans_on"]) else ":"),
        ]
        out += [
            f"  {lean['stand_in']} for {lean['missing']} in {lean['accord']} ({lean['value'] * 100:.0f} % made good)"
            for lean in shown
        ]
    out += listed("\nNot read:", [f"{r['accord']}: {r['message']}" for r in answer["rejected"]])
    out += ["", *(wrapped(note, "! ", "  ") for note in answer["notes"])] if answer["notes"] else []
    return "\n".join(out).rstrip()


def lift_text(answer: Mapping) -> str:
    """Suggestions of a clean note, with what each does stage by stage."""
    stages = ("opening", "heart", "drydown")
    share = ", ".join(
        f"{s} {'not judged' if answer['core_share'][s] is None else format(answer['core_share'][s], '.0%')}"
        for s in stages
    )
    out = [
        f"{answer['accord']}: the core ({', '.join(answer['core'])}) is this part of the smell: {share}",
        "",
    ]
    for number, one in enumerate(answer["suggestions"], 1):
        out.append(
            f"{number}. {one['name']}{cas(one)}: {figure(one['parts'])} parts, match {one['match']:.2f}"
        )
        out.append(wrapped(one["why"]))
        cells = [f"{s} {one['core_strength'][s]:.2f}" for s in stages if one["core_strength"][s] is not None]
        alike = [
            f"{s} {one['match_by_stage'][s]:.2f}" for s in stages if one["match_by_stage"][s] is not None
        ]
        out += [wrapped(f"core's strength, before = 1: {', '.join(cells)}; match: {', '.join(alike)}")]
        out += [wrapped(f"{word}: check before you use it", "  ! ") for word in one["law"]]
    out += [wrapped(note, "", "") for note in answer["notes"]]
    return "\n".join([*out, "", *(wrapped(text, "! ", "  ") for text in answer["cautions"])]).rstrip()


CHANGES = {
    "newly_broken": "newly broken",
    "newly_unknown": "newly unknown",
    "tighter": "tighter",
    "newly_fine": "newly fine",
    "looser": "looser",
}


def screen_text(answer: Mapping) -> str:
    """What breaks in a portfolio, what a new set changes, what was mended."""
    where = answer["product"] or f"category {answer['category']}"
    out = [
        f"{answer['accords']:,} accords at {figure(answer['dose_pct'])} % in {where}: {answer['broken']:,} break a limit",
        wrapped(f"Sets: {', '.join(answer['limit_sets']) or 'none applies'}", "", "  "),
    ]
    if answer["breaches"]:
        rows = [
            (
                b["accord"],
                b["substance"],
                b["limit_set"],
                percent(b["limit_pct"]),
                percent(b["found_pct"]),
                times(b["times"]),
            )
            for b in answer["breaches"]
        ]
        out += ["", table(("accord", "substance", "set", "limit", "found", "times"), rows, {3, 4, 5})]
        if answer["breach_count"] > len(rows):
            out.append(f"The first {len(rows)} of {answer['breach_count']:,}; --format json has them all.")
    if answer.get("since"):
        out += ["", *since_text(answer)]
    if answer.get("mended") is not None:
        done = [m for m in answer["mended"] if m["file"]]
        out += [
            "",
            f"Mended {len(done)} of {len(answer['mended'])}:",
            *(wrapped(f"{m['file']} (match {m['match']:.2f})") for m in done[:60]),
        ]
        stuck = [m for m in answer["mended"] if not m["file"]]
        out += listed(
            "Not mended:",
            [
                f"{m['accord']}: {m['message']}{'; the wall: ' + wall(m['wall']) if m['wall'] else ''}{'; as it is, within the known limits up to ' + percent(m['dose_within_known_pct']) if m['dose_within_known_pct'] else ''}"
                for m in stuck
            ],
        )
    unknown = answer["unknown"]
    if unknown["accords"]:
        counts = {}
        for u in unknown["by_substance"]:
            counts.setdefault(u["name"], u["accords"])
        named = ", ".join(f"{name} in {count:,}" for name, count in list(counts.items())[:6])
        out += [
            "",
            wrapped(
                f"Unknown, neither fine nor broken, in {unknown['accords']:,} accords ({unknown['of_these_unbroken']:,} of them break nothing on file, which is no clearance): {named}"
                + (f" and {len(counts) - 6} more" if len(counts) > 6 else ""),
                "",
                "  ",
            ),
        ]
    out += listed(
        f"\nRejected ({len(answer['rejected']):,}):",
        [f"{r['accord']}: {r['message']}" for r in answer["rejected"][:20]],
    )
    if len(answer["rejected"]) > 20:
        out.append("  - …")
    return "\n".join(
        [*out, "", *(wrapped(note, "! ", "  ") for note in [*answer["notes"], *answer["cautions"]])]
    )


def times(value) -> str:
    """How often a limit is held; nothing is often enough where none is allowed."""
    return "none allowed" if value is None else f"{value:.3g}"


def since_text(answer: Mapping) -> list[str]:
    """What the new set changes, limit by limit and then accord by accord."""

    def limit(value, stated):
        return percent(value) if value is not None else "no figure" if stated else "no rule"

    rows = [
        (
            r["substance"],
            limit(r["old_limit_pct"], r["old_stated"]),
            limit(r["limit_pct"], r["stated"]),
            *(f"{r[kind]:,}" if r[kind] else "" for kind in CHANGES),
        )
        for r in answer["changed_limits"]
        if any(r[kind] for kind in CHANGES)
    ]
    out = [
        f"Changes since {answer['since']}: {len(answer['changed_limits'])} limits differ, {len(rows)} of them matter here (numbers of accords)"
    ]
    if rows:
        out.append(table(("substance", "old", "new", *CHANGES.values()), rows, {1, 2, *range(3, 8)}))
    rows = [
        (
            c["accord"],
            c["substance"],
            CHANGES[c["change"]],
            percent(c["old_limit_pct"]) if c["old_limit_pct"] is not None else "-",
            percent(c["limit_pct"]) if c["limit_pct"] is not None else "-",
            percent(c["found_pct"]) if c["found_pct"] is not None else "-",
            figure(c["times"]),
        )
        for c in answer["changes"]
    ]
    if rows:
        out.append(
            table(("accord", "substance", "change", "old", "new", "found", "times"), rows, {3, 4, 5, 6})
        )
        told = sum(r[kind] for r in answer["changed_limits"] for kind in CHANGES)
        if told > len(rows):
            out.append(f"The first {len(rows)} of {told:,}; --format json has them all.")
    return out
