"""Reasons, cautions, gains and losses in words: what a colleague would say across the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ..figures import figure, in_grams, share
from ..frozen import frozen
from ..odour.staging import tenacity
from ..records import Tables
from .amounts import Amount, constituent_of, odour_part, supply
from .evidence import Ground
from .pair import Pair

NOTICED = 0.04  # a difference in profile share smaller than this is not worth a word
SHOWN = 4
TOLD = 0.02  # a constituent under this part of the natural is not worth a word
NOTICEABLY = 1.2  # a factor of strength learned from a person's verdicts is worth a word from here on


@frozen
class Difference:
    """A descriptor and how much of the profile it gains or loses, 0 to 1."""

    descriptor: str
    by: float

    def to_dict(self) -> dict[str, Any]:
        return {"descriptor": self.descriptor, "by": round(self.by, 3)}


def profile_shares(tables: Tables, parts: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Profile shares of materials weighted by ``parts`` (id, weight), summing to 1."""
    found: dict[str, float] = {}
    parts = list(parts)
    whole = sum(weight for _, weight in parts)
    for name, weight in parts:
        profile = tables.profiles[name]
        total = sum(profile.values())
        for word, value in profile.items():
            found[word] = found.get(word, 0.0) + weight / whole * value / total
    return found


def differences(
    tables: Tables, before: dict[str, float], after: dict[str, float]
) -> tuple[tuple[Difference, ...], tuple[Difference, ...]]:
    """(gains, losses), largest first, in the words of the tables."""
    change = {word: after.get(word, 0.0) - before.get(word, 0.0) for word in {*before, *after}}
    name = {word: tables.descriptors[word].name for word in change}
    order = sorted(change, key=lambda word: (-abs(change[word]), word))
    gains = tuple(Difference(name[w], change[w]) for w in order if change[w] >= NOTICED)[:SHOWN]
    losses = tuple(Difference(name[w], -change[w]) for w in order if change[w] <= -NOTICED)[:SHOWN]
    return gains, losses


def listed(words: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    words = list(words)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def odour_reason(
    tables: Tables,
    before: Mapping[str, float],
    after: Mapping[str, float],
    gains: Sequence[Difference],
    losses: Sequence[Difference],
) -> str:
    """What core it carries, without what, and with what besides."""
    shared = sorted((w for w in before if w in after), key=lambda w: -min(before[w], after[w]))[:3]
    names = [tables.descriptors[w].name for w in shared if min(before[w], after[w]) >= NOTICED]
    text = (
        f"carries the {listed(names)} core"
        if names
        else "meets it in neighbouring notes rather than in its own words"
    )
    name = {tables.descriptors[word].name: word for word in {*before, *after}}
    gone = [d.descriptor for d in losses[:2] if name[d.descriptor] not in after]
    less = [d.descriptor for d in losses[:2] if name[d.descriptor] in after]
    new = [d.descriptor for d in gains[:2] if name[d.descriptor] not in before]
    more = [d.descriptor for d in gains[:2] if name[d.descriptor] in before]
    parts = [
        f"without its {listed(gone)} side" if gone else "",
        f"with less {listed(less)}" if less else "",
        f"with more {listed(more)}" if more else "",
        f"bringing {listed(new)}" if new else "",
    ]
    parts = [part for part in parts if part]
    return f"{text} {', '.join(parts)}" if parts else text


LASTING = (
    (0.0, "under an hour"),
    (0.8, "an hour"),
    (1.7, "some hours"),
    (7.0, "half a day"),
    (16.0, "a day"),
    (34.0, "days"),
    (130.0, "a week"),
    (260.0, "weeks"),
    (900.0, "a month"),
    (1500.0, "months"),
)


def hours(value: float) -> str:
    """Hours on a strip in words."""
    return [word for least, word in LASTING if value >= least][-1]


def tenacity_reason(tables: Tables, missing: str, stand_in: str) -> str:
    """How long it lasts beside the missing one, in words."""
    old, new = tenacity(tables, missing), tenacity(tables, stand_in)
    if 0.6 <= new / old <= 1.67:
        return "lasts about as long on the strip"
    before, after = hours(old), hours(new)
    if before == after:
        return f"leaves the strip a little {'sooner' if new < old else 'later'}"
    return f"leaves the strip {'sooner' if new < old else 'later'} ({after} against {before})"


def strength_reason(tables: Tables, pair: Pair) -> str:
    """How loud it is beside the missing one, out of the pair's one amount."""
    amount, name = pair.amount, tables.materials[pair.missing].name
    if amount is None:
        return "its strength is not on file: work up from a trace"
    told = _loudness(amount.grams, name)
    if amount.ground == "use":
        told += ", by how much of each is commonly used"
    elif pair.apart and pair.on_file is not None:
        documented = "documented" if pair.documented else "documented the other way round"
        told = (
            f"the sources lie apart: {documented} at {in_grams(amount.grams)} g for 1 g, while by "
            f"{'the share' if pair.on_file.ground == 'share' else 'strength'} on file "
            f"{in_grams(pair.on_file.grams)} g would be as loud; begin with the trial series"
        )
    elif amount.is_order_of_magnitude:
        told += "; that is an order of magnitude: begin with a trial series"
    return told


def _loudness(per_gram: float, missing: str) -> str:
    """'1 g is about as loud as 2.5 g of …', from the grams that take the place of one gram."""
    if 0.8 <= per_gram <= 1.25:
        return f"about as loud as {missing}, gram for gram"
    if per_gram < 1:
        return f"1 g is about as loud as {in_grams(1 / per_gram)} g of {missing}"
    return f"it takes about {in_grams(per_gram)} g to be as loud as 1 g of {missing}"


def constituent_reasons(pair: Pair) -> list[str]:
    """What one holds of the other."""
    found = []
    if pair.holds:
        row = pair.holds
        between = f" ({share(row.low)} to {share(row.high)})" if row.low < row.high else ""
        found.append(f"holds {share(row.typical)} of it{between}")
    if pair.held and max(pair.held_part, pair.held.typical / 100.0) >= TOLD:
        found.append(
            f"is {share(pair.held.typical)} of the missing natural "
            f"and about {share(100.0 * pair.held_part)} of what its listed constituents smell of"
        )
    return found


def tie(tables: Tables, missing: str, stand_in: str) -> tuple[tuple[str, str], ...]:
    """The short path in the graph that ties the two: (node id, relation to the next); empty where they
    share nothing by name.
    """
    if constituent_of(tables, missing, stand_in):
        return (missing, "contains"), (stand_in, "")
    if constituent_of(tables, stand_in, missing):
        return (missing, "is contained in"), (stand_in, "")
    own, other = tables.profiles.get(missing, {}), tables.profiles.get(stand_in, {})
    shared = max(
        own.keys() & other.keys(), key=lambda word: (min(own[word], other[word]), word), default=None
    )
    if shared:
        return (missing, "smells of"), (shared, "is smelled in"), (stand_in, "")
    wider = {tables.descriptors[word].parent: word for word in own}
    word = max(
        (word for word in other if tables.descriptors[word].parent in wider),
        key=lambda word: other[word],
        default=None,
    )
    if word is None:
        return ()
    parent = tables.descriptors[word].parent
    return (
        (missing, "smells of"),
        (wider[parent], "is a kind of"),
        (parent, "is the family of"),
        (word, "is smelled in"),
        (stand_in, ""),
    )


@frozen
class Supply:
    """A natural as a source of the missing molecule: grams for one gram of it, and what comes along with
    that.
    """

    grams: Amount
    along: tuple[tuple[str, float], ...]
    minor_carries: bool

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        return {
            "grams_for_one_gram_of": self.grams.grams,
            "low": self.grams.low,
            "high": self.grams.high,
            "along": [
                {"id": name, "name": tables.materials[name].name, "grams": grams}
                for name, grams in self.along
            ],
            "share_is_wrong_guide": self.minor_carries,
        }


def source_of(tables: Tables, missing: str, natural: str) -> Supply | None:
    """``natural`` as a source of ``missing``; ``None`` if it does not hold it."""
    inside = constituent_of(tables, natural, missing)
    if inside is None:
        return None
    grams = supply(inside)
    others = sorted(
        (row for row in tables.constituents[natural] if row.id != missing), key=lambda row: -row.typical
    )
    along = tuple((row.id, grams.grams * row.typical / 100.0) for row in others[:6] if row.typical > 0)
    return Supply(grams, along, odour_part(tables, natural, missing) < 0.5)


GROUNDS = {
    "practice": "common practice",
    "memory": "recalled from the trade",
    "estimate": "the curators' estimate",
}


def evidence_reason(tables: Tables, ground: Ground) -> str:
    """Where a swap is written down, or what is written down near it."""
    via = tables.materials[ground.via].name if ground.via else ""
    if ground.kind == "same thing":
        return "evidence: none for the two; they are kinds of the same thing"
    if ground.kind == "shared parent":
        return f"evidence: none for the two; both are documented in the place of {via}"
    row = ground.rows[0]
    basis = GROUNDS.get(row.basis, f"published ({row.source})")
    note = f" - {row.note}" if row.note else ""
    if ground.kind == "reverse":
        return f"evidence: documented the other way round ({basis})"
    if ground.kind == "sibling":
        return f"evidence: documented for {via}, another kind of the same thing ({basis}){note}"
    return f"evidence: {basis}{note}"


def found_reason(tables: Tables, missing: str, stand_in: str) -> list[str]:
    """What the person found themselves of this pair, or of how loud the two are; nothing if nothing was
    tried.
    """
    own = tables.tried.get((missing, stand_in))
    if own:
        return [f"you found: {own.told}"]
    other = tables.tried.get((stand_in, missing))
    if other and other.grams:
        return [f"you found the other way round: {other.told}"]
    louder = tables.louder(missing, stand_in)
    if max(louder, 1.0 / louder) < NOTICEABLY:
        return []
    name = tables.materials[missing].name
    return [
        f"by what you found of others, {figure(louder, 2)} times the amount on file does for {name} "
        "to your nose"
    ]


def listening(
    tables: Tables, missing: str, stand_in: str, gains: Sequence[Difference], losses: Sequence[Difference]
) -> str:
    """What to listen for when old and new hang side by side."""
    parts = []
    if gains:
        parts.append(f"for {gains[0].descriptor} that was not there")
    if losses:
        parts.append(f"for {losses[0].descriptor} that is gone")
    when = "after the first ten minutes" if tenacity(tables, stand_in) >= 6 else "in the first minutes"
    if tenacity(tables, missing) >= 100 > tenacity(tables, stand_in):
        parts.append("and again the next day, when only the old one may still be there")
    return (
        f"on the strip, listen {when} {' and '.join(parts[:2])}{', ' + parts[2] if len(parts) > 2 else ''}"
        if parts
        else "on the strip, hold both together: they should be hard to tell apart"
    )
