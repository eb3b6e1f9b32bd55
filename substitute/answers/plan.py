"""What a shelf makes and what to buy, and a shelf to print, as sections."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..figures import figure, ratio
from . import words
from .columns import MADE_FROM, SOLUTION
from .sections import Answer, Cell, Column, Said, Section, listing, table, text

MAKES = (
    Column("accord"),
    Column("match", form="ratio"),
    Column("match_after", "after buying", form="ratio"),
    Column("surrogate", form="ratio", where="data"),
    Column("lacks"),
    Column("stand_ins", "stand-ins", drop=2),
    Column("left_out", "left out", where="wide"),
)
BUY = (
    Column("place", "no.", form="count", where="people"),
    Column("id", form="word", where="data"),
    Column("name", "buy"),
    Column("cas", "CAS", form="word", drop=3),
    Column("gain", "gain", form="figure", unit="%", digits=2),
    Column("form", "weighed", form="word"),
    Column("grams", "for 10 g each", "g", form="figure", digits=2, drop=2),
    Column("price", form="figure"),
    Column("helps", "brings nearer"),
    Column("why", form="note"),
)
CURVE = (
    Column("n", "materials", form="count"),
    Column("coverage", "coverage", "%", form="fixed", decimals=1),
    Column("add", "added"),
)
LEANS = (
    Column("missing", "instead of"),
    Column("stand_in", "take"),
    Column("accord", "in"),
    Column("value", "made good", "%", form="fixed", decimals=0),
)
SHELF = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word", drop=1),
    Column("strengths", "strengths", "%", form="text"),
    Column("left_g", "left", "g", form="figure"),
    Column("smells_of", "smells of", drop=1),
    Column("lasts", form="word", drop=2),
    Column("caution", form="note"),
)
PREPARE = (
    *SOLUTION,
    Column("grams", "makes", "g", form="figure", drop=1),
    *MADE_FROM,
)
FORMS = {"neat": Said("neat", "neat"), "10": Said("10", "as 10 %"), "1": Said("1", "as 1 %")}
BUY_NOTE = (
    "Gain: of the mean coverage, beside what stands above it. Weighed: at what strength 10 g of these "
    "accords take it; buy it neat where you can make the solution, else as that solution. A word instead of "
    "a price is rough, no quote."
)
FEW = 12  # swaps leaned on that a terminal shows


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``plan`` as an answer: purchases first where they were asked for."""
    makes = sorted(answer["makes"], key=lambda made: (-made["match"], made["accord"]))
    sections = [
        _buy(answer),
        text(*_coverage(answer)),
        _makes(makes, main=not answer["buy"]),
        *_curve(answer["curve"]),
        *_leans(answer["leans_on"]),
        listing("Not read", (f"{one['accord']}: {one['message']}" for one in answer["rejected"])),
    ]
    title = "What the shelf makes, and what to buy"
    notes, cautions = tuple(answer["notes"]), tuple(answer.get("cautions", ()))
    return Answer("plan", title, _headline(answer), tuple(sections), notes, cautions)


def _headline(answer: Mapping[str, Any]) -> str:
    covered, number = answer["coverage"], len(answer["makes"])
    before, after = covered["verified_before"], covered["verified_after"]
    told = f"{words.count(number, 'accord')}, mean match {ratio(before)}"
    names = [one["name"] for one in answer["buy"]]
    if answer["curve"]:
        size = words.count(len(answer["curve"]), "material")
        return f"A shelf of {size}: mean match of {words.count(number, 'accord')} {ratio(after)}."
    if names:
        return f"{told}; with {', '.join(names[:4])}{' and more' if len(names) > 4 else ''}: {ratio(after)}."
    return f"{told}."


def _buy(answer: Mapping[str, Any]) -> Section:
    rows = [
        (
            place,
            one["id"],
            one["name"],
            one["cas"],
            100.0 * one["gain"],
            FORMS.get(one["form"], ""),
            one["grams"],
            one["price"] if one["price"] is not None else Said(None, one["price_word"]),
            words.few(one["helps"]),
            words.reason("; ".join([one["why"], *one["law"]])),
        )
        for place, one in enumerate(answer["buy"], 1)
    ]
    return table("What to buy", BUY, rows, [BUY_NOTE] if rows else [], tick=True)


def _coverage(answer: Mapping[str, Any]) -> Iterable[str]:
    covered = answer["coverage"]
    if answer["buy"]:
        spent = f"; spent {figure(answer['spent'])}" if answer["spent"] is not None else ""
        yield (
            f"Coverage by the model: {covered['before'] * 100:.1f} % before, "
            f"{covered['after'] * 100:.1f} % after{spent}."
        )
    if answer["gap"] is not None:
        proof = (
            "proved the best there is"
            if answer["proved"]
            else f"not proved: nothing can pass {answer['bound'] * 100:.2f} %"
        )
        yield f"Exact against step by step: {answer['gap'] * 100:+.2f} points of coverage; {proof}."


def _makes(makes: list[Mapping[str, Any]], *, main: bool) -> Section:
    rows = [
        (
            one["accord"],
            one["match"],
            one.get("match_after"),
            one["surrogate"],
            *(words.few(one[key], 2) for key in ("lacks", "stand_ins", "left_out")),
        )
        for one in makes
    ]
    return table("What the shelf makes", MAKES, rows, main=main)


def _curve(curve: list[Mapping[str, Any]]) -> Iterable[Section]:
    rows = [(point["n"], 100.0 * point["coverage"], point["add"]) for point in curve]
    told = [row for row in rows if row[0] in (1, 2, 3, 5, 8, len(rows)) or row[0] % 5 == 0]
    title = "Coverage by number of materials"
    yield table(title, CURVE, told, where="terminal")
    yield table(title, CURVE, rows, where="paper")


def _leans(leans: list[Mapping[str, Any]]) -> Iterable[Section]:
    rows = [(one["missing"], one["stand_in"], one["accord"], 100.0 * one["value"]) for one in leans]
    yield table("Swaps it leans on", LEANS, rows[:FEW], of=len(rows), where="terminal")
    yield table("Swaps it leans on", LEANS, rows, where="paper")


def lay_out_shelf(answer: Mapping[str, Any]) -> Answer:
    """The JSON of a shelf list as an answer: what stands there, and solutions to prepare."""
    rows: list[tuple[Cell, ...]] = [tuple(one[column.key] for column in SHELF) for one in answer["materials"]]
    make = [tuple(one[column.key] for column in PREPARE) for one in answer["solutions"]]
    note = (
        "By mass, in ethanol or another carrier that dissolves it; from top to bottom: 1 % is made from the "
        "10 % above it."
    )
    sections = (
        table(f"Shelf: {answer['shelf']}", SHELF, rows, tick=True),
        table("Dilutions to prepare", PREPARE, make, [note], tick=True),
    )
    headline = f"{words.count(len(rows), 'material')} on the shelf."
    return Answer("shelf", f"Shelf: {answer['shelf']}", headline, sections, (), tuple(answer["cautions"]))
