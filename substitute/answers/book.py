"""The bench book as sections: what was learned, what was said, bottles, what was taken, found and paid."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import figure
from . import words
from .sections import Answer, Column, Said, Section, listing, table

LEARNED = (
    Column("what", form="word"),
    Column("id", form="word", where="data"),
    Column("missing", form="word", where="data"),
    Column("before", form="figure", where="data"),
    Column("after", form="figure", where="data"),
    Column("low", form="figure", where="data"),
    Column("high", form="figure", where="data"),
    Column("told", "what your nose taught"),
    Column("from", "from verdicts", form="word"),
)
VERDICTS = (
    Column("id", "no.", form="count"),
    Column("date", form="word"),
    Column("told", "said"),
    Column("taken_back", "taken back", form="word"),
)
BOTTLES = (
    Column("label"),
    Column("id", form="word", where="data"),
    Column("name", "material", drop=1),
    Column("lot", form="word", drop=2),
    Column("strength_pct", "strength", "%", form="figure"),
    Column("grams", "left", "g", form="figure", digits=5),
    Column("price_per_gram", "per gram", form="figure", drop=3),
    Column("date", form="word", drop=4),
)


def lay_out_tried(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``tried`` and of ``book forget``: what was put down and what it changes."""
    said = answer["verdicts"]
    numbers = ", ".join(str(one["id"]) for one in said)
    back = any(one["taken_back"] for one in said)
    head = f"Verdict{'s' if len(said) > 1 else ''} {numbers} {'taken back' if back else 'put down'}."
    learned = answer["learned"]
    if learned:
        head += f" It changes {words.count(len(learned), 'figure')}, for you alone."
        if any(one["kind"] == "line" for one in said) and not back:
            head += " The next rebalance counts it too."
    elif all(one["kind"] in ("swap", "blend") for one in said):
        head += " It changes no figure."
    else:
        many = "them" if len(said) > 1 else "it"
        head += f" The next rebalance counts {many}{' no more' if back else ''}."
    return Answer("tried", "Tried", head, (_learned(learned),), tuple(answer["notes"]))


def _learned(rows: Any) -> Section:
    cells = [
        (
            *(row["what"], row["id"], row["missing"], row["before"], row["after"], row["low"], row["high"]),
            row["told"],
            ", ".join(map(str, row["from"])),
        )
        for row in rows
    ]
    return table("", LEARNED, cells)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``book show``."""
    about = answer["book"]
    verdicts = answer["verdicts"]
    held = sum(1 for one in verdicts if not one["taken_back"])
    accords = words.count(len(answer["accords"]), "accord or trial", "accords and trials")
    head = (
        f"{about['name']}: {words.count(len(answer['bottles']), 'bottle')}, {accords}, "
        f"{words.count(held, 'verdict')}"
        f"{f' (and {len(verdicts) - held} taken back)' if held < len(verdicts) else ''}."
    )
    said = table(
        "What was said",
        VERDICTS,
        [(one["id"], one["date"], one["told"], one["taken_back"] or "") for one in verdicts],
        ["`book forget NUMBER` takes one back."] if held else [],
    )
    bottles = table(
        "Bottles",
        BOTTLES,
        [
            (
                *(one["label"], one["id"], one["name"], one["lot"], one["strength_pct"], _left(one["grams"])),
                *(one["price_per_gram"], one["date"]),
            )
            for one in answer["bottles"]
        ],
    )
    taken = listing("Taken from the bottles", _weighings(answer["taken"]))
    learned = _learned(answer["learned"])
    if not answer["learned"]:
        learned = listing("", ["Nothing was learned so far: tell it what your nose says with `tried`."])
    sections = (learned, said, bottles, taken)
    return Answer("book", f"Bench book: {about['name']}", head, sections, tuple(answer["notes"]))


def _left(grams: float | None) -> Said:
    if grams is None:
        return Said(None, "not known")
    return Said(grams, "empty" if grams == 0 else figure(grams, 5), mood="doubt" if grams == 0 else "")


def _weighings(rows: Any) -> list[str]:
    told: dict[int, list[str]] = {}
    for row in rows:
        entry = told.setdefault(row["id"], [f"{row['date']}, {row['accord']}: "])
        sign = "made " if row["grams"] < 0 else ""
        entry.append(f"{sign}{figure(abs(row['grams']), 4)} g of {row['label']}")
    return [parts[0] + ", ".join(parts[1:]) for parts in told.values()]


def lay_out_taken(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``book undo``."""
    rows = [(move["label"], abs(move["grams"]), move["left"]) for move in answer["moves"]]
    columns = (
        Column("label"),
        Column("grams", "put back", "g", form="figure", digits=4),
        Column("left", "left now", "g", form="figure", digits=5),
    )
    head = f"Weighing {answer['id']} undone: {answer['accord']}."
    return Answer("taken", "Undone", head, (table("", columns, rows),), tuple(answer["notes"]))


def lay_out_found(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``book find``."""
    rows = [
        (one["accord"], one["trial"], one["where"], one["told"], one["verdict"]) for one in answer["found"]
    ]
    columns = (
        Column("accord", form="text"),
        Column("trial", form="count"),
        Column("where", "found in", form="word"),
        Column("told", "what"),
        Column("verdict", "verdict no.", form="count"),
    )
    head = f"“{answer['text']}”: {words.count(len(rows), 'place') if rows else 'nothing'} in the book."
    return Answer("found", "Found", head, (table("", columns, rows),), tuple(answer["notes"]))


def lay_out_cost(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``book cost``."""
    columns = (
        Column("accord"),
        Column("grams", form="figure", unit="g"),
        Column("low", "from", form="figure"),
        Column("high", "to", form="figure"),
        Column("unpriced", "without a price of yours"),
    )
    rows = [
        (
            one["accord"],
            one["grams"],
            one["low"],
            Said(one["high"], "unknown") if one["high"] is None else one["high"],
            words.few([part["name"] for part in one["unpriced"]]) if one["unpriced"] else "",
        )
        for one in answer["accords"]
    ]
    head = f"{words.count(len(rows), 'accord')}, {answer['total']['told']}."
    return Answer("cost", "Cost", head, (table("", columns, rows),), tuple(answer["notes"]))
