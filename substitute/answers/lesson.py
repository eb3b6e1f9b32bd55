"""An accord to teach by: its lines, strips, what to listen for and what a swap does, as sections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import figure
from . import words
from .sections import BLANKS, Answer, Cell, Column, Said, Section, table, text

TIMES = {"opening": "10 min", "heart": "2 h", "drydown": "24 h"}
LINES = (
    Column("role", form="word"),
    Column("name", "material"),
    Column("parts", form="figure", digits=4),
    Column("strength_pct", "strength", "%", form="figure", drop=3),
    Column("smells_of", "smells of", drop=1),
    *(
        Column(stage, f"{TIMES[stage]}, of the smell", "%", form="fixed", decimals=0, drop=2)
        for stage in words.STAGES
    ),
    Column("does", "what it does", form="note"),
)
STRIPS = (
    Column("role", form="word"),
    Column("name", "material"),
    Column("dip_pct", "dip", "%", form="figure"),
    Column("at_hand", "at hand", form="word"),
    Column("why"),
    Column("says", "what it says", where="paper"),
)
LISTEN = (
    Column("after", form="word"),
    Column("stage", form="word"),
    Column("listen_for", "listen for"),
    Column("changed", "what has changed", form="note"),
    Column("carried_by", "carried by", drop=2),
    Column("strength", "strength, of its strongest", "%", form="fixed", decimals=0, drop=1),
)
SWAPS = (
    Column("missing", "instead of"),
    Column("stand_in", "take"),
    Column("grams_per_gram", "for 1 g", "g", form="figure"),
    Column("brings", drop=1),
    Column("loses", drop=1),
    Column("match", form="ratio"),
    Column("match_left_out", "match, left out", form="ratio"),
)
STRIP_NOTES = (
    "Dip the core lines first, each alone, then smell along the row; add the others one at a time and say "
    "what each changes.",
    "Dip all to the same depth and write name, strength and time on each strip.",
)
LISTEN_NOTE = (
    "One dip of the finished accord at 10 %, the strip lying free; smell and write down your own words "
    "before reading these."
)
SWAP_NOTE = (
    "Match: how much of the old accord's smell and strength is kept, 0 to 1, nothing else moved (adjusting "
    "the accord moves the rest too)."
)


PREPARE = (
    Column("name", "ready"),
    Column("strength_pct", "strength", "%", form="figure"),
    Column("grams", "grams", "g", form="figure"),
    Column("from_pct", "from strength", "%", form="figure", drop=2),
    Column("from_grams", "of that", "g", form="figure"),
    Column("carrier_grams", "ethanol", "g", form="figure"),
    Column("how", form="note"),
)
BATCH = (
    Column("batch"),
    Column("name", "material"),
    Column("strength_pct", "strength", "%", form="figure"),
    Column("grams", "weigh", "g", form="figure", digits=4),
)
PLACE = (Column("what", "at every place"), Column("strips", form="count"))
SEATS = (Column("place", form="count"), Column("bench", form="count"), Column("role"))
MINUTES = (Column("minute", form="word"), Column("do", "what is done"))
BLIND = (
    Column("sample", form="word"),
    Column("smells", "smells of, in your own words", where="paper"),
    Column("which", "which is it?", where="paper"),
    Column("told", "what told you", where="paper"),
)
KEY = (Column("code", form="word"), Column("what", "what it is"), Column("right", "right", where="paper"))
ORDERS = (Column("place", form="count"), Column("order", "lay out from left to right"))
SHOPPING = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word", drop=2),
    Column("grams", "the class takes", "g", form="figure"),
    Column("at_hand", "at hand"),
    Column("buy_g", "to buy", "g", form="figure"),
    Column("cost", "costs"),
)
SPARED = (
    Column("id", form="word", where="data"),
    Column("name", "do not buy"),
    Column("take", "instead, from the shelf"),
    Column("match", "match kept", form="ratio"),
    Column("saves", "saves"),
)
SPARED_NOTE = (
    "So that the budget holds at the dearest: where most is saved for the least of the accord, each alone; "
    "the match is the model's, smell it first."
)
PREPARE_NOTE = (
    "Top to bottom; by mass. About 0.05 g go onto a strip (an estimate) and a fifth is spare. Ethanol "
    "stands for any carrier that dissolves it."
)
KEY_NOTE = (
    "Codes are drawn by the accord's name, so the sheet can be printed again; keep this page from the class."
)
SHOPPING_NOTE = (
    "In your shelf's money; a range is from your own prices of materials with the same rough word, a word "
    "alone has no price. The smallest bottle a supplier sells may be larger."
)


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of a lesson as an answer; for a class, what the teacher alone sees stands on pages of its
    own."""
    name, room = answer["accord"], answer["class"]
    if room is not None:
        return _class(answer, room)
    share_note = "Shares of the smell are the model's, for lines of one material together."
    sections = (
        table(f"{name}: prepare", PREPARE, _rows(answer["prepare"], PREPARE), [PREPARE_NOTE], tick=True),
        table(f"{name}: its lines by role", LINES, _rows(answer["lines"], LINES), [share_note], main=True),
        table(f"{name}: strips", STRIPS, _rows(answer["strips"], STRIPS), STRIP_NOTES, tick=True),
        table(f"{name}: what to listen for", LISTEN, _rows(answer["listen"], LISTEN), [LISTEN_NOTE]),
        table(f"{name}: when a line is swapped", SWAPS, _rows(answer["swaps"], SWAPS), [SWAP_NOTE]),
    )
    cautions = tuple(answer.get("cautions", ()))
    headline = answer["intent"] or f"{name}: a lesson."
    return _sheet(f"Lesson: {name}", headline, sections, cautions)


def _sheet(title: str, headline: str, sections: tuple[Section, ...], cautions: tuple[str, ...]) -> Answer:
    return Answer("lesson", title, headline, sections, (), cautions, weighed=True, blanks=BLANKS)


def _class(answer: Mapping[str, Any], room: Mapping[str, Any]) -> Answer:
    name, places = answer["accord"], room["places"]
    lines, listen, swaps = (
        _rows(answer[key], columns)
        for key, columns in (("lines", LINES), ("listen", LISTEN), ("swaps", SWAPS))
    )
    dips = sum(one["strips"] for one in room["place_strips"])
    headline = (
        f"{name}: a lesson for {places}; {dips} strips a place, {dips * places} in all. "
        f"{_cost_told(room['cost'])}"
    )
    seats = _rows(room["seats"], SEATS)
    spare = room["cost"]["spare"]
    own: dict[str, Any] = {"own_page": True}
    sections = (
        text(answer["intent"]),
        table("Prepare", PREPARE, _rows(room["prepare"], PREPARE), [PREPARE_NOTE], tick=True),
        table("Weigh the accords", BATCH, _rows(room["batch"], BATCH), tick=True),
        table("What to buy", SHOPPING, map(_bought, room["buy"]), [SHOPPING_NOTE], tick=True),
        *([table("What could be spared", SPARED, map(_spared, spare), [SPARED_NOTE])] if spare else []),
        table("Timetable, minutes", MINUTES, map(_minute, room["timetable"]), **own),
        table("Strips at every place", PLACE, _rows(room["place_strips"], PLACE)),
        table("Benches and roles", SEATS, seats, ["Roles move on by one when the timetable says so."]),
        table(f"{name}: strips", STRIPS, _rows(answer["strips"], STRIPS), STRIP_NOTES, tick=True, **own),
        table("The blind set", BLIND, _blind(len(room["key"])), ["Write the code from each strip first."]),
        table(
            "Teacher: key of the blind set",
            KEY,
            [(*row, "") for row in _rows(room["key"], KEY[:2])],
            [KEY_NOTE],
            **own,
        ),
        table("Teacher: order at every place", ORDERS, _orders(room["orders"])),
        table("Teacher: what to listen for", LISTEN, listen, [LISTEN_NOTE], **own),
        table("Teacher: the lines by role", LINES, lines),
        table("Teacher: when a line is swapped", SWAPS, swaps, [SWAP_NOTE]),
    )
    return _sheet(f"Lesson for {places}: {name}", headline, sections, tuple(answer["cautions"]))


def _minute(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    minute = one["minute"]
    return Said(minute, f"{minute}" if minute >= 0 else f"{-minute // 60} h before"), one["do"]


def _blind(samples: int) -> list[tuple[Cell, ...]]:
    return [(f"{number}.", "", "", "") for number in range(1, samples + 1)]


def _orders(orders: list[list[str]]) -> list[tuple[Cell, ...]]:
    return [(place, "  ".join(codes)) for place, codes in enumerate(orders, 1)]


def _bought(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    there = {"no": "no", "yes": "yes"}.get(one["at_hand"], f"{figure(one['at_hand_g'] or 0.0)} g")
    return one["id"], one["name"], one["cas"], one["grams"], there, one["buy_g"], _cost(one)


def _cost(one: Mapping[str, Any]) -> Said:
    low, high, word = one["low"], one["high"], one["price_word"]
    if one["buy_g"] == 0:
        return Said(0.0, "nothing")
    if low is None:
        return Said(None, word or "not known")
    return Said(low, figure(low) if low == high else f"{figure(low)} to {figure(high)} ({word})")


def _spared(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    take = f"{figure(one['grams_per_gram'])} g {one['take']} for 1 g" if one["take"] else "leave it out"
    low, high = figure(one["low"]), figure(one["high"])
    return (
        one["id"],
        one["name"],
        take,
        one["match"],
        Said(one["high"], high if low == high else f"{low} to {high}"),
    )


def _cost_told(cost: Mapping[str, Any]) -> str:
    low, high, budget = cost["low"], cost["high"], cost["budget"]
    unpriced = f", without {len(cost['unpriced'])} that have no price" if cost["unpriced"] else ""
    told = f"To buy: {figure(low)}" + (f" to {figure(high)}" if high > low else "") + unpriced
    bottles = cost["from_bottles"]
    told += f"; what comes from your bottles is worth {figure(bottles)}." if bottles else "."
    if cost["unpriced"] and not high:
        told = f"To buy: {words.count(len(cost['unpriced']), 'material')}, no price of yours to reckon from."
    if budget is None:
        return told
    holds = {True: "holds", False: "does not hold", None: "may or may not hold"}[cost["holds"]]
    return f"{told} The budget of {figure(budget)} {holds}."


def _rows(entries: list[Mapping[str, Any]], columns: tuple[Column, ...]) -> list[tuple[Any, ...]]:
    return [tuple(entry.get(column.key, "") for column in columns) for entry in entries]
