"""A lesson on an accord: what each line does by role, which strip to dip, what to listen for, what a swap
changes.

With a class, all that the class needs besides (:mod:`.classroom`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, ClassVar

from ..accords.weigh import weigh
from ..errors import InputError
from ..figures import significant
from ..frozen import frozen
from ..odour.perception import match
from ..records import STAGES, Accord, Shelf, Tables
from ..shown import Shown
from ..standins.answer import SwapAnswer
from ..standins.bench import Bench
from ..standins.words import listed, profile_shares
from .classroom import Classroom, classroom
from .coverage import judged_lines
from .voices import Array, heard, shares_of

LESSON_GRAMS = 10.0  # the batch that the strips are worked out for
SILENT = 0.02  # a line under this share of a stage's smell is not named as carrying it
TIMES = {"opening": "10 min", "heart": "2 h", "drydown": "24 h"}
DOES = {
    "core": "names the smell; without it this is another accord",
    "support": "rounds the core and fills the space around it",
    "lift": "a clean note that helps the rest carry; hardly smelled by itself",
    "trace": "a drop that turns the whole; too much is heard at once",
}


@frozen
class Lesson(Shown):
    """An accord to teach by; each row is a mapping, shares and strengths in percent, match 0 to 1."""

    asked_by: ClassVar[str] = "lesson"

    accord: str
    intent: str
    lines: tuple[dict[str, Any], ...]
    strips: tuple[dict[str, Any], ...]
    listen: tuple[dict[str, Any], ...]
    swaps: tuple[dict[str, Any], ...]
    room: Classroom
    taught: bool
    cautions: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The JSON."""
        return {
            "accord": self.accord,
            "intent": self.intent,
            "lines": list(self.lines),
            "strips": list(self.strips),
            "listen": list(self.listen),
            "swaps": list(self.swaps),
            "prepare": list(self.room.prepare),
            "class": self.room.to_dict() if self.taught else None,
            "cautions": list(self.cautions),
        }


def lesson(
    bench: Bench,
    accord: Accord,
    intent: str = "",
    *,
    shelf: Shelf | None = None,
    swapped: Callable[[str], SwapAnswer],
    places: int | None = None,
    budget: float | None = None,
) -> Lesson:
    """``accord`` to teach by: its lines by role, strips, what to listen for, what happens when a line is
    swapped.

    With a ``shelf``, strips come from it; ``swapped(material)`` answers what stands in; ``places`` is the
    size of a class. Raises :class:`~substitute.errors.InputError` where nothing smells.
    """
    tables, held = bench.tables, judged_lines(bench.tables, accord)
    if not held:
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to teach"
        )
    shares = shares_of(bench, held)
    strips, swaps = _strips(bench, accord, shelf), _swaps(bench, held, swapped)
    size = 1 if places is None else places
    room = classroom(tables, accord, size, strips=strips, swaps=swaps, shelf=shelf, budget=budget)
    return Lesson(
        accord.name,
        intent,
        tuple(_lines(bench, accord, shares)),
        tuple(strips),
        tuple(_listen(bench, held, shares)),
        tuple(swaps),
        room,
        places is not None,
    )


def main_words(tables: Tables, material: str, top: int = 3) -> str:
    profile = sorted(tables.profiles.get(material, {}).items(), key=lambda item: (-item[1], item[0]))[:top]
    return ", ".join(tables.descriptors[word].name for word, _ in profile)


def _lines(bench: Bench, accord: Accord, shares: Mapping[str, Array]) -> list[dict[str, Any]]:
    tables = bench.tables
    rows: list[dict[str, Any]] = []
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
            {
                "role": line.role,
                **material.brief(),
                "parts": line.parts,
                "strength_pct": line.strength,
                "smells_of": main_words(tables, line.material),
                **dict(zip(STAGES, smell)),
                "does": does + ("; may be left out" if line.optional else ""),
            }
        )
    return rows


def _strips(bench: Bench, accord: Accord, shelf: Shelf | None) -> list[dict[str, Any]]:
    """Which solution of each line to dip, by the rules of the weighing sheet; core lines first."""
    found = weigh(accord, bench.tables, grams=LESSON_GRAMS, shelf=shelf).strips
    core = {line.material for line in accord.lines if line.role == "core"}
    return [
        {
            "role": "core" if strip.id in core else "",
            "id": strip.id,
            "name": strip.name,
            "dip_pct": strip.dip_pct,
            "at_hand": "" if shelf is None else "yes" if strip.have else "to make",
            "why": strip.why,
        }
        for strip in sorted(found, key=lambda strip: strip.id not in core)
    ]


def _listen(bench: Bench, held: Mapping[str, float], shares: Mapping[str, Array]) -> list[dict[str, Any]]:
    """The strongest words of each stage, what comes and goes, and who carries it."""
    tables = bench.tables

    def named(some: Iterable[str]) -> str:
        return listed([tables.descriptors[word].name for word in some])

    before = heard(bench, held)
    rows: list[dict[str, Any]] = []
    last: dict[str, float] = {}
    for place, stage in enumerate(STAGES):
        loud = float(before.strength[place] / before.strength.max()) if before.strength.max() > 0 else 0.0
        parts = [(name, float(share[place])) for name, share in shares.items() if share[place] > 0]
        if loud < 0.01 or not parts:
            rows.append(_heard_at(stage, loud, "hardly anything is left"))
            continue
        words = profile_shares(tables, parts)
        top = sorted(words, key=lambda word: (-words[word], word))[:5]
        change = (
            sorted(words, key=lambda word: (-(words[word] - last.get(word, words[word])), word))[:2]
            if last
            else []
        )
        gone = sorted(last, key=lambda word: (-(last[word] - words.get(word, 0.0)), word))[:2] if last else []
        moved = [f"{named(change)} come forward" if change else "", f"{named(gone)} go back" if gone else ""]
        carry = [
            tables.materials[name].name
            for name, share in sorted(parts, key=lambda item: (-item[1], item[0]))[:3]
            if share >= SILENT
        ]
        rows.append(_heard_at(stage, loud, named(top), "; ".join(filter(None, moved)), listed(carry)))
        last = words
    return rows


def _heard_at(
    stage: str, loud: float, listen_for: str, changed: str = "", carried_by: str = ""
) -> dict[str, Any]:
    return {
        "after": TIMES[stage],
        "stage": stage,
        "listen_for": listen_for,
        "changed": changed,
        "carried_by": carried_by,
        "strength": 100.0 * loud,
    }


def _swaps(
    bench: Bench, held: Mapping[str, float], swapped: Callable[[str], SwapAnswer]
) -> list[dict[str, Any]]:
    """For every line its first stand-in: how much, what it brings and loses, and the match with it and
    without the line."""
    tables = bench.tables
    ids = list(held)
    before = heard(bench, held)
    rows: list[dict[str, Any]] = []
    for name in ids:
        without = (
            match(
                heard(bench, {other: grams for other, grams in held.items() if other != name}), before
            ).overall
            if len(ids) > 1
            else 0.0
        )
        answer = swapped(name)
        best = next((one for one in answer.stand_ins if len(one.members) == 1), None)
        amount_of = best.members[0].amount if best else None
        if best is None or amount_of is None:
            rows.append(_swap_row(tables, name, "", without))
            continue
        other, amount = best.members[0].id, amount_of.grams
        changed = {**held, other: held.get(other, 0.0) + held[name] * amount}
        del changed[name]
        gains, losses = (
            listed([f"{d.descriptor}" for d in differences[:3]]) for differences in (best.gains, best.losses)
        )
        rows.append(
            {
                **_swap_row(tables, name, other, without),
                "grams_per_gram": significant(amount, 3),
                "brings": gains,
                "loses": losses,
                "match": match(heard(bench, changed), before).overall,
            }
        )
    return rows


def _swap_row(tables: Tables, missing: str, stand_in: str, without: float) -> dict[str, Any]:
    return {
        "missing_id": missing,
        "missing": tables.materials[missing].name,
        "stand_in_id": stand_in,
        "stand_in": tables.materials[stand_in].name if stand_in else "nothing near",
        "grams_per_gram": None,
        "brings": "",
        "loses": "",
        "match": None,
        "match_left_out": without,
    }
