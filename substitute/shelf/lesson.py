"""A lesson sheet of an accord: what each line does by role, which strip to dip, what to listen for, what a swap changes."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from ..accords.sheets import Sheet
from ..accords.weigh import weigh
from ..errors import InputError
from ..odour.perception import impression, match
from ..records import STAGES, Accord, Shelf, Tables
from ..standins.answer import SwapAnswer
from ..standins.bench import Bench
from ..standins.words import listed, profile_shares
from .coverage import judged_lines

LESSON_GRAMS = 10.0  # the batch that the strips are worked out for
SILENT = 0.02  # a line under this share of a stage's smell is not named as carrying it
TIMES = {"opening": "10 min", "heart": "2 h", "drydown": "24 h"}
DOES = {
    "core": "names the smell; without it this is another accord",
    "support": "rounds the core and fills the space around it",
    "lift": "a clean note that helps the rest carry; hardly smelled by itself",
    "trace": "a drop that turns the whole; too much is heard at once",
}


def lesson(
    bench: Bench,
    accord: Accord,
    intent: str = "",
    *,
    shelf: Shelf | None = None,
    swapped: Callable[[str], SwapAnswer],
) -> list[Sheet]:
    """Four sheets for teaching ``accord``: its lines by role, strips, what to listen for, what happens when a line is swapped.

    With a ``shelf``, strips come from it; ``swapped(material)`` answers what stands in. Raises
    :class:`~substitute.errors.InputError` where nothing smells.
    """
    held = judged_lines(bench.tables, accord)
    if not held:
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to teach"
        )
    shares = _shares(bench, held)
    return [
        _lines(bench, accord, intent, shares),
        _strips(bench, accord, shelf),
        _listen(bench, accord, held, shares),
        _swaps(bench, accord, held, swapped),
    ]


def _shares(bench: Bench, held: Mapping[str, float]) -> dict[str, np.ndarray]:
    """Part of the smell (T, 0 to 1) that each material is at each stage."""
    odour = (
        bench.staged.potency[bench.staged.rows(list(held))] * np.array(list(held.values()))[:, None]
    ) ** bench.hearing.power
    total = odour.sum(axis=0)
    return dict(zip(held, np.divide(odour, total, out=np.zeros_like(odour), where=total > 0)))


def main_words(tables: Tables, material: str, n: int = 3) -> str:
    profile = sorted(tables.profiles.get(material, {}).items(), key=lambda item: (-item[1], item[0]))[:n]
    return ", ".join(tables.descriptors[word].name for word, _ in profile)


def _lines(bench: Bench, accord: Accord, intent: str, shares) -> Sheet:
    tables = bench.tables
    rows = []
    order = {"core": 0, "support": 1, "lift": 2, "trace": 3}
    for line in sorted(accord.lines, key=lambda line: order[line.role]):
        material = tables.materials[line.material]
        share = shares.get(line.material)
        if material.kind == "solvent":
            does = "carries the rest and has no smell of its own"
        elif share is None:
            does = f"{DOES[line.role]}; its odour is not on file"
        else:
            does = DOES[line.role]
        smell = [100.0 * float(part) for part in share] if share is not None else [None] * len(STAGES)
        rows.append(
            (
                line.role,
                material.name,
                line.parts,
                line.strength,
                main_words(tables, line.material),
                *smell,
                does + ("; may be left out" if line.optional else ""),
            )
        )
    columns = (
        "role",
        "material",
        "parts",
        "strength [%]",
        "smells of",
        *(f"{TIMES[stage]} [% of the smell]" for stage in STAGES),
        "what it does",
    )
    notes = [
        *([intent] if intent else []),
        "Shares of the smell are the model's, for lines of one material together.",
    ]
    return Sheet(
        f"{accord.name}: its lines by role",
        columns,
        tuple(rows),
        tuple(notes),
        {column: 0 for column in columns if column.endswith("smell]")},
    )


def _strips(bench: Bench, accord: Accord, shelf: Shelf | None) -> Sheet:
    """Which solution of each line to dip, by the rules of the weighing sheet; core lines first."""
    found = weigh(accord, bench.tables, grams=LESSON_GRAMS, shelf=shelf).strips
    core = {line.material for line in accord.lines if line.role == "core"}
    rows = [
        (
            "core" if strip.id in core else "",
            strip.name,
            strip.dip_pct,
            "" if shelf is None else "yes" if strip.have else "to make",
            strip.why,
            "",
        )
        for strip in sorted(found, key=lambda strip: strip.id not in core)
    ]
    notes = (
        "Dip the core lines first, alone, then fanned out together; add the others one at a time and say what each changes.",
        "Dip all to the same depth and write name, strength and time on each strip.",
    )
    return Sheet(
        f"{accord.name}: strips",
        ("role", "material", "dip [%]", "at hand", "why", "what it says"),
        tuple(rows),
        notes,
        tick=True,
    )


def _listen(bench: Bench, accord: Accord, held, shares) -> Sheet:
    """The strongest words of each stage, what comes and goes, and who carries it."""
    tables = bench.tables
    before = impression(
        list(held.values()),
        *(part[bench.staged.rows(list(held))] for part in (bench.staged.potency, bench.staged.profile)),
        bench.hearing,
    )
    rows, last = [], {}
    for place, stage in enumerate(STAGES):
        loud = float(before.strength[place] / before.strength.max()) if before.strength.max() > 0 else 0.0
        parts = [(name, float(share[place])) for name, share in shares.items() if share[place] > 0]
        if loud < 0.01 or not parts:
            rows.append((TIMES[stage], stage, "hardly anything is left", "", "", 100.0 * loud))
            continue
        words = profile_shares(tables, parts)
        top = sorted(words, key=lambda word: (-words[word], word))[:5]
        change = (
            sorted(words, key=lambda word: (-(words[word] - last.get(word, words[word])), word))[:2]
            if last
            else []
        )
        gone = sorted(last, key=lambda word: (-(last[word] - words.get(word, 0.0)), word))[:2] if last else []
        named = lambda some: listed([tables.descriptors[word].name for word in some])  # noqa: E731
        moved = [f"{named(change)} come forward" if change else "", f"{named(gone)} go back" if gone else ""]
        carry = [
            tables.materials[name].name
            for name, share in sorted(parts, key=lambda item: (-item[1], item[0]))[:3]
            if share >= SILENT
        ]
        rows.append(
            (TIMES[stage], stage, named(top), "; ".join(filter(None, moved)), listed(carry), 100.0 * loud)
        )
        last = words
    columns = (
        "after",
        "stage",
        "listen for",
        "what has changed",
        "carried by",
        "strength [% of its strongest]",
    )
    note = "One dip of the finished accord at 10 %, the strip lying free; smell and write down your own words before reading these."
    return Sheet(f"{accord.name}: what to listen for", columns, tuple(rows), (note,), {columns[-1]: 0})


def _swaps(bench: Bench, accord: Accord, held, swapped: Callable[[str], SwapAnswer]) -> Sheet:
    """For every line its first stand-in: how much, what it brings and loses, and the match with it and without the line."""
    tables = bench.tables
    ids = list(held)
    before = _heard(bench, held)
    rows = []
    for name in ids:
        without = (
            match(
                _heard(bench, {other: grams for other, grams in held.items() if other != name}), before
            ).overall
            if len(ids) > 1
            else 0.0
        )
        answer = swapped(name)
        if not answer.stand_ins or answer.stand_ins[0].members[0].amount is None:
            rows.append((tables.materials[name].name, "nothing near", None, "", "", None, without))
            continue
        best = answer.stand_ins[0]
        other, amount = best.members[0].id, best.members[0].amount.grams
        changed = {**held, other: held.get(other, 0.0) + held[name] * amount}
        del changed[name]
        gains, losses = (
            listed([f"{d.descriptor}" for d in differences[:3]]) for differences in (best.gains, best.losses)
        )
        rows.append(
            (
                tables.materials[name].name,
                tables.materials[other].name,
                float(f"{amount:.3g}"),
                gains,
                losses,
                match(_heard(bench, changed), before).overall,
                without,
            )
        )
    columns = ("instead of", "take", "grams for 1 g", "brings", "loses", "match", "match, left out")
    note = "Match: how much of the old accord's smell and strength is kept, 0 to 1, nothing else moved (`adjust` moves the rest too)."
    return Sheet(
        f"{accord.name}: when a line is swapped",
        columns,
        tuple(rows),
        (note,),
        {"match": 2, "match, left out": 2},
    )


def _heard(bench: Bench, held: Mapping[str, float]):
    rows = bench.staged.rows(list(held))
    return impression(
        list(held.values()), bench.staged.potency[rows], bench.staged.profile[rows], bench.hearing
    )
