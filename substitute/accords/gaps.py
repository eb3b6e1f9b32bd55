"""Which lines of an accord are in question, and why; every other line stays as it is."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..errors import InputError
from ..figures import figure, percent
from ..frozen import frozen
from ..records import Accord, Tables
from ..rules.kinds import KINDS
from ..rules.situation import Situation
from ..rules.verdict import Row
from ..tables.columns import OWN_SOURCE
from ..tables.near import nearest

ASKED = {
    "unavailable": "missing: taken out",
    "limit": "asked out because of its limit: taken out",
    "law": "asked out because of the law: taken out",
    "price": "too dear: taken out",
}


@frozen
class Wanted:
    """What a person asks of an adjustment; ids, not texts.

    ``move`` is how far, in percent, a line that is not in question may move where that pays; ``use`` names
    the stand-ins to take;
    ``max_new`` is the most new lines, ``None`` for one per gap and at least two; with ``hold_dose`` the new
    formula obeys the limits at
    the old dose, however little it weighs.
    """

    without: tuple[str, ...] = ()
    keep: tuple[str, ...] = ()
    use: tuple[str, ...] = ()
    move: float = 25.0
    same_total: bool = False
    max_new: int | None = None
    rivals: int = 3
    hold_dose: bool = False


@frozen
class Gap:
    """A line in question: ``cause`` is asked, shelf, prohibited or limit; ``because`` the reason that stand-
    ins are asked for.
    """

    material: str
    cause: str
    because: str
    why: str


def is_mute(tables: Tables, name: str) -> bool:
    """Whether a material cannot be judged by smell (a carrier, no profile, no potency)."""
    solvent = tables.materials[name].kind == "solvent"
    return solvent or name not in tables.profiles or not tables.value(name, "potency")


def is_unheard(tables: Tables, name: str) -> bool:
    """Whether a material smells, or is a person's own and may, and nobody says how strong: no match can count
    it.

    What has neither profile nor potency on our own tables is taken to be without smell (an antioxidant).
    """
    record = tables.materials[name]
    own = record.source == OWN_SOURCE["id"]
    return (
        record.kind != "solvent"
        and tables.value(name, "potency") is None
        and (own or name in tables.profiles)
    )


def check_wanted(accord: Accord, situation: Situation, wanted: Wanted) -> None:
    """Raises :class:`~substitute.errors.InputError` for a wish that contradicts itself, the accord, the shelf
    or the rules.
    """
    tables, held = situation.tables, accord.active()
    _check_numbers(wanted)
    for name in (*wanted.without, *wanted.keep):
        if name not in held:
            so = "" if name in wanted.without else ", so it cannot be kept"
            raise InputError(
                f"{accord.name}: does not hold {name}{so}{nearest(name, held)}; "
                f"its lines are {', '.join(held)}"
            )
    for name in wanted.without:
        if is_unheard(tables, name):
            raise InputError(
                f"without {name}: no potency is on file for it, so no match with what it gave can be "
                "worked out; "
                "give it a potency in your own properties.csv"
            )
    for one, other, names in (
        ("keep", "without", set(wanted.keep) & set(wanted.without)),
        ("use", "without", set(wanted.use) & set(wanted.without)),
    ):
        if names:
            raise InputError(
                f"{', '.join(sorted(names))}: asked for both ways, {one} and {other}; choose one"
            )
    shelf = situation.shelf
    for name in wanted.use:
        if shelf is not None and name not in shelf.materials():
            raise InputError(
                f"use {name}: it does not stand on the shelf{nearest(name, shelf.materials())}; "
                "leave the shelf out, or add it"
            )
        if is_mute(tables, name):
            raise InputError(
                f"use {name}: no odour profile and potency on file, so its amount cannot be worked out"
            )
    pinned = wanted.keep if situation.named else ()
    for word, name in (*(("use", name) for name in wanted.use), *(("keep", name) for name in pinned)):
        if bans := situation.forbidden(name):
            raise InputError(
                f"{word} {name}: {'; '.join(ban.words for ban in bans[:2])}; no amount of it may be used here"
            )


def _check_numbers(wanted: Wanted) -> None:
    if wanted.max_new is not None and not 0 <= wanted.max_new <= 6:
        raise InputError(f"max_new {wanted.max_new} is out of range: allowed is 0 to 6")
    if wanted.max_new is not None and len(wanted.use) > wanted.max_new:
        raise InputError(
            f"use names {len(wanted.use)} materials, max_new allows {wanted.max_new}; choose one"
        )
    if not 0 <= wanted.move <= 1000:
        raise InputError(f"move {wanted.move:g} is out of range: allowed is 0 to 1000 (percent)")
    if not 0 <= wanted.rivals <= 10:
        raise InputError(f"rivals {wanted.rivals} is out of range: allowed is 0 to 10")


def find_gaps(accord: Accord, situation: Situation, wanted: Wanted) -> tuple[Gap, ...]:
    """Lines that go wholly: asked for, forbidden where a product is named, or not on the shelf; each with its
    own reason.
    """
    tables, shelf = situation.tables, situation.shelf
    held = set(shelf.materials()) if shelf is not None else None
    found = []
    for name, parts in accord.active().items():
        bans = situation.forbidden(name) if situation.named else ()
        if name in wanted.without:
            found.append(Gap(name, "asked", situation.because, ASKED[situation.because]))
        elif bans:
            found.append(
                Gap(name, "prohibited", "law", "; ".join(ban.words for ban in bans[:2]) + ": taken out")
            )
        elif held is None or name in held or name in wanted.keep or parts <= 0 or is_mute(tables, name):
            continue
        else:
            found.append(Gap(name, "shelf", "unavailable", "not on the shelf: taken out"))
    return tuple(found)


def limit_gaps(accord: Accord, situation: Situation, lowered: Iterable[str]) -> tuple[Gap, ...]:
    """Lines that were brought down to a limit, each with the limit that it presses hardest."""
    if not situation.judged:
        return ()
    verdict = situation.judge(accord.active(), accord.total)
    found = []
    for name in lowered:
        pressed = [row for row in verdict.broken if any(source == name for source, _ in row.sources)]
        worst = max(pressed, key=_times_over, default=None)
        found.append(Gap(name, "limit", "limit", "over a limit" if worst is None else _over_what(worst)))
    return tuple(found)


def _times_over(row: Row) -> float:
    whole = 100.0 if KINDS[row.rule].of_parts else row.limit_pct
    return row.found_pct / whole if whole else math.inf


def _over_what(row: Row) -> str:
    if KINDS[row.rule].of_parts:
        together = f"together {figure(_times_over(row))} times what they may be"
        return f"over a limit ({row.limit_set}: {row.name}, {together})"
    if not row.limit_pct:
        return f"over a limit ({row.limit_set}: {row.name})"
    found = f"{percent(row.limit_pct)} of the product, found {percent(row.found_pct)}"
    return f"over a limit ({row.limit_set}: {row.name} {found})"
