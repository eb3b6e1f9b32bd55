"""A lesson for a class: what to prepare, strips and roles for every place, a timetable, a blind set with
its key, and what to buy.

Figures that are common practice without a source: a dip takes about 0.05 g of solution; four people share
a bench. Blind samples carry three-digit codes, and the orders are Williams squares (1949): every sample
stands in every position equally often, and follows every other equally often, over as many places as the
square has rows.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..accords.solutions import TENFOLD, dilution_from
from ..accords.weigh import weigh
from ..errors import InputError
from ..figures import given, significant
from ..frozen import frozen
from ..records import Accord, Shelf, Tables
from .shopping import cost_of_class, shopping

MOST_PLACES = 60
DIP_G = 0.05  # of solution on one strip: an estimate
SPARE = 1.2
BATCH_G = 10.0  # of the accord, neat: enough for a class and the weighing practice
STEP = 0.01  # of the balance, grams
BENCH = 4  # people who share a bench
ROLES = (
    "smells first and speaks last",
    "keeps the clock and calls the minutes",
    "writes down every word, also the odd ones",
    "dips, labels and lays out the strips",
)
MOST_CORE = 4  # core lines in the blind set
CARRIER = {"id": "ethanol", "name": "ethanol"}
OWN_ACCORD, OWN_SWAP = "the accord", "the accord with a line swapped"


@frozen
class Classroom:
    """All that a class of ``places`` needs; each row is a mapping, grams by mass."""

    places: int
    prepare: tuple[dict[str, Any], ...]
    batch: tuple[dict[str, Any], ...]
    place_strips: tuple[dict[str, Any], ...]
    seats: tuple[dict[str, Any], ...]
    timetable: tuple[dict[str, Any], ...]
    key: tuple[dict[str, Any], ...]
    orders: tuple[tuple[str, ...], ...]
    buy: tuple[dict[str, Any], ...]
    cost: dict[str, Any]

    def to_dict(self) -> dict[str, Any]:
        """The JSON."""
        return {
            "places": self.places,
            "prepare": list(self.prepare),
            "batch": list(self.batch),
            "place_strips": list(self.place_strips),
            "seats": list(self.seats),
            "timetable": list(self.timetable),
            "key": list(self.key),
            "orders": [list(codes) for codes in self.orders],
            "buy": list(self.buy),
            "cost": self.cost,
        }


def classroom(
    tables: Tables,
    accord: Accord,
    places: int,
    *,
    strips: Sequence[Mapping[str, Any]],
    swaps: Sequence[Mapping[str, Any]],
    shelf: Shelf | None = None,
    budget: float | None = None,
) -> Classroom:
    """A class of ``places`` around ``accord``; ``strips`` and ``swaps`` are those of its lesson.

    ``budget`` is in the shelf's money. Raises :class:`~substitute.errors.InputError` for a number of
    places or a budget out of range.
    """
    if not 1 <= places <= MOST_PLACES:
        raise InputError(f"`class` {places} is out of range: allowed is 1 to {MOST_PLACES}")
    if budget is not None and not (math.isfinite(budget) and budget > 0):
        raise InputError(f"`budget` {budget:g} is out of range: allowed is above 0")
    swap = _swap_to_show(swaps)
    samples = _samples(accord, strips, swap)
    blind = [one["id"] for one in samples]
    dips = {one["id"]: 1 + blind.count(one["id"]) for one in strips}
    made, drawn = _prepare(tables, accord, strips, dips, places, shelf)
    orders = _orders([one["code"] for one in samples], places)
    batch = _batch(tables, accord, swap, shelf)
    need = _needed(accord, drawn, swap)
    buy = shopping(tables, need, shelf)
    return Classroom(
        places,
        tuple(made),
        tuple(batch),
        tuple(_place_strips(strips, samples)),
        tuple(_seats(places)),
        tuple(_timetable(swap)),
        tuple(samples),
        orders,
        tuple(buy),
        cost_of_class(buy, swaps, budget),
    )


def _swap_to_show(swaps: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """The swap that a class can hear and still know the accord by: the lowest match from 0.7 on, else the
    best there is."""
    judged = [one for one in swaps if one["match"] is not None]
    heard = [one for one in judged if one["match"] >= 0.7]
    if heard:
        return min(heard, key=lambda one: (one["match"], one["missing_id"]))
    return max(judged, key=lambda one: (one["match"], one["missing_id"]), default=None)


def _samples(
    accord: Accord, strips: Sequence[Mapping[str, Any]], swap: Mapping[str, Any] | None
) -> list[dict[str, Any]]:
    """The blind set with its key: core lines, the accord, the accord with a line swapped; codes drawn by
    the accord's name."""
    core = [one for one in strips if one["role"] == "core"][:MOST_CORE] or list(strips[:MOST_CORE])
    held = [{"id": one["id"], "what": f"{one['name']} at {given(one['dip_pct'])}"} for one in core]
    held.append({"id": "", "what": f"{OWN_ACCORD} at 10 %"})
    if swap:
        held.append(
            {"id": "", "what": f"{OWN_SWAP} at 10 %: {swap['stand_in']} instead of {swap['missing']}"}
        )
    codes = random.Random(f"{accord.name} {len(held)}").sample(range(101, 1000), len(held))
    return [{"code": str(code), **one} for code, one in zip(codes, held)]


def _orders(codes: Sequence[str], places: int) -> tuple[tuple[str, ...], ...]:
    """The order of the codes at every place: rows of a Williams square, over again where there are more
    places than rows."""
    n = len(codes)
    first = [0] + [(place + 1) // 2 if place % 2 else n - place // 2 for place in range(1, n)]
    rows = [[(one + shift) % n for one in first] for shift in range(n)]
    if n % 2:
        rows += [row[::-1] for row in rows]
    return tuple(tuple(codes[one] for one in rows[place % len(rows)]) for place in range(places))


def _prepare(
    tables: Tables,
    accord: Accord,
    strips: Sequence[Mapping[str, Any]],
    dips: Mapping[str, int],
    places: int,
    shelf: Shelf | None,
) -> tuple[list[dict[str, Any]], dict[str, float]]:
    """Solutions to have ready, strongest first for each material, and grams of each material drawn neat
    for them."""
    rows: list[dict[str, Any]] = []
    drawn: dict[str, float] = {}
    for strip in strips:
        name, strength = strip["id"], strip["dip_pct"]
        wanted = places * dips[name] * DIP_G * SPARE
        held = sorted(shelf.strengths(name)) if shelf else []
        steps: list[dict[str, Any]] = []
        while strength < 100.0 and strength not in held:
            source = min(
                (one for one in held if strength < one <= strength * TENFOLD),
                default=min(strength * 10.0, 100.0),
            )
            one = dilution_from(tables.materials[name], strength, source, wanted, CARRIER, STEP)
            steps.append(_solution(one))
            strength, wanted = source, one.from_grams
        if strength < 100.0 or not steps:
            rows.append(_at_hand(tables, name, strength, wanted))
        rows += reversed(steps)
        drawn[name] = drawn.get(name, 0.0) + wanted * strength / 100.0
    accord_g = places * 6 * DIP_G * SPARE
    grams = float(max(10, math.ceil(accord_g)))
    rows.append(
        {
            "id": "",
            "name": f"{accord.name} (each accord below)",
            "strength_pct": 10.0,
            "grams": grams,
            "from_pct": 100.0,
            "from_grams": grams / 10,
            "carrier_grams": grams * 0.9,
            "how": (
                f"weigh {grams / 10:g} g of the accord, fill up with ethanol to {grams:g} g, "
                "shake, label, leave a day"
            ),
        }
    )
    return rows, drawn


def _solution(one: Any) -> dict[str, Any]:
    source = f"of the {given(one.from_pct)}" if one.from_pct < 100 else "neat"
    how = (
        f"tare a bottle, weigh {one.from_grams:g} g {source}, fill up with ethanol to {one.grams:g} g, "
        "shake until clear, label"
    )
    return {
        "id": one.id,
        "name": one.name,
        "strength_pct": one.strength_pct,
        "grams": one.grams,
        "from_pct": one.from_pct,
        "from_grams": one.from_grams,
        "carrier_grams": one.carrier_grams,
        "how": how,
    }


def _at_hand(tables: Tables, name: str, strength: float, grams: float) -> dict[str, Any]:
    return {
        "id": name,
        "name": tables.materials[name].name,
        "strength_pct": strength,
        "grams": significant(grams, 2),
        "from_pct": None,
        "from_grams": None,
        "carrier_grams": None,
        "how": "stands on the shelf; see that there is enough",
    }


def _batch(
    tables: Tables, accord: Accord, swap: Mapping[str, Any] | None, shelf: Shelf | None
) -> list[dict[str, Any]]:
    """The accord to weigh, and the accord with a line swapped, each neat."""
    rows = []
    for called, one in ((accord.name, accord), ("", _swapped(accord, swap) if swap else None)):
        if one is None:
            continue
        found = weigh(one, tables, grams=BATCH_G, shelf=shelf)
        rows += [
            {
                "batch": called or f"{accord.name}, swapped",
                "id": line.id,
                "name": line.name,
                "strength_pct": line.strength_pct,
                "grams": line.grams,
            }
            for line in sorted(found.lines, key=lambda line: line.order)
        ]
    return rows


def _swapped(accord: Accord, swap: Mapping[str, Any]) -> Accord:
    """``accord`` with one line's material replaced, neat for neat at the swap's amount."""
    lines = [
        replace(
            line,
            material=swap["stand_in_id"],
            parts=significant(line.active * swap["grams_per_gram"], 4),
            strength=100.0,
        )
        if line.material == swap["missing_id"]
        else line
        for line in accord.lines
    ]
    return Accord(f"{accord.name}-swapped", tuple(lines))


def _place_strips(
    strips: Sequence[Mapping[str, Any]], samples: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """What lies at every place."""
    return [
        {"what": "one strip of each line, named", "strips": len(strips)},
        {"what": "the accord at 10 %: dipped yesterday, two hours ago, and now", "strips": 3},
        {"what": "the blind set, coded", "strips": len(samples)},
        {"what": "spare, dry, to clear the nose by", "strips": 2},
    ]


def _seats(places: int) -> list[dict[str, Any]]:
    """Bench and role of every place, benches of about four, roles in turn."""
    benches = max(1, math.ceil(places / BENCH))
    sizes = [places // benches + (bench < places % benches) for bench in range(benches)]
    return [
        {"place": sum(sizes[:bench]) + seat + 1, "bench": bench + 1, "role": ROLES[seat % len(ROLES)]}
        for bench, size in enumerate(sizes)
        for seat in range(size)
    ]


def _timetable(swap: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """What is done at which minute; the strips that must be old are dipped before."""
    rows = [
        (-1440, "teacher: one strip of the accord at 10 % for every place, lying free, marked 24 h"),
        (
            -120,
            "teacher: the same again, marked 2 h; code and lay out the blind set in the order of each place",
        ),
        (0, "cautions read aloud; benches and roles; windows open"),
        (5, "dip the core lines, each alone, smell along the row, write before anyone speaks"),
        (20, "the other lines, one at a time: what does each change beside the core?"),
        (30, "dip the accord; smell at once and write"),
        (40, "the accord again, 10 min old: what is loudest, what is gone?"),
        (45, "the strip marked 2 h beside the fresh one"),
        (52, "the strip marked 24 h beside both"),
        (60, "rest the nose, fresh air"),
        (65, "the blind set in the order of your place: name each, say what told you"),
        (80, "roles change; results on the board; the key is opened"),
    ]
    if swap:
        rows.insert(10, (62, f"the two accords side by side: in one of them {swap['missing']} is swapped"))
    return [{"minute": minute, "do": do} for minute, do in rows]


def _needed(accord: Accord, drawn: Mapping[str, float], swap: Mapping[str, Any] | None) -> dict[str, float]:
    """Grams of each material itself: for the strips, a batch, and the swapped batch."""
    need = dict(drawn)
    batches = [accord, _swapped(accord, swap)] if swap else [accord]
    for one in batches:
        for name, parts in one.active().items():
            if parts > 0:
                need[name] = need.get(name, 0.0) + BATCH_G * parts / one.total
    return need


__all__ = ["Classroom", "classroom"]
