"""Why an accord changed as it did: a reason for every line, limits before and after, what is lost, what a
solvent means, what it costs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from ..figures import figure, given, part, percent
from ..frozen import frozen
from ..odour.perception import Array, impression, match
from ..odour.staging import Staged
from ..records import Accord, Shelf, Tables
from ..rules.report import found_rows, not_looked_for
from ..rules.situation import Situation
from .adjusted import AdjustedLine, LimitChange
from .gaps import Gap, is_mute, is_unheard
from .plain import Ranked
from .problem import Problem
from .written import UNMOVED, WEIGHABLE, Written, WrittenLine

WORD = 3.0  # weight from which two materials share a word
SHOWN = 6
TRIFLE = 0.005  # of the old total: solvent or a new weight that nobody needs to be told of
ALCOHOLIC = ("4", "hydroalcoholic", "fine_fragrance")  # categories of products made up with alcohol
Restage = Callable[[str, Sequence[str]], Staged]


def reasons(
    tables: Tables, lines: Sequence[WrittenLine], gaps: Sequence[Gap], ranked: Ranked, scaled: float = 1.0
) -> tuple[AdjustedLine, ...]:
    """A cause and a sentence for each line; ``scaled`` is the factor by which all were brought to the old
    total.
    """
    by_name = {gap.material: gap for gap in gaps}
    went = [gap.material for gap in gaps]
    news = [line.material for line in lines if line.is_new and not is_mute(tables, line.material)]
    found = []
    for line in lines:
        cause, why = _reason(tables, line, by_name.get(line.material), ranked, went, news, scaled)
        found.append(
            AdjustedLine(
                line.material, line.strength, line.before, line.after, cause, why, line.role, line.optional
            )
        )
    return tuple(found)


def _reason(
    tables: Tables,
    line: WrittenLine,
    gap: Gap | None,
    ranked: Ranked,
    went: Sequence[str],
    news: Sequence[str],
    scaled: float,
) -> tuple[str, str]:
    mute = is_mute(tables, line.material)
    if line.is_new:
        if mute:
            return "new", "carrier: makes up the old total, as asked"
        return "new", _new(tables, line, ranked, news)
    if gap is not None and gap.cause != "limit":
        return gap.cause, gap.why
    if gap is not None:
        return gap.cause, f"{gap.why}: {'brought down to it' if line.after > 0 else 'taken out'}"
    factor = line.after / line.before if line.before > 0 else 1.0
    if abs(factor - 1.0) <= UNMOVED:
        if line.before <= 0:
            return "kept", "a zero line, left as it is"
        if tables.materials[line.material].kind == "solvent":
            return "kept", "carrier, left as it is"
        return "kept", "unchanged; no odour profile or potency on file" if mute else "unchanged"
    much = f"raised by {part(factor - 1)}" if factor > 1 else f"lowered by {part(1 - factor)}"
    if mute and tables.materials[line.material].kind == "solvent":
        return "moved", f"{much}: keeps the old total, as asked"
    if scaled != 1.0:
        return "moved", f"{much}, as all lines: keeps the old total, as asked"
    words = shared_words(tables, line.material, went if factor > 1 else news)
    if factor > 1:
        return "moved", f"{much}: {f'it carries {words}, which went' if words else 'to hold the balance'}"
    return "moved", f"{much}: {f'what is new brings {words} too' if words else 'to hold the balance'}"


def _new(tables: Tables, line: WrittenLine, ranked: Ranked, news: Sequence[str]) -> str:
    for_what = stands_for(line.material, ranked, news)[:2]
    if not for_what:
        return "new: asked for"
    words = shared_words(tables, line.material, for_what)
    named = " and ".join(tables.materials[gap].name for gap in for_what)
    diluted = f"; dilute it to {given(line.strength)} to weigh it" if line.diluted else ""
    return f"new: in the place of {named}{f', carries {words}' if words else ''}{diluted}"


def stands_for(name: str, ranked: Ranked, news: Sequence[str]) -> list[str]:
    """The gaps that ``name`` fills: those for which it ranks first among what is ``new``, its best first;
    else the one for which it ranks best."""
    places = {
        gap: order.index(name)
        for gap, order in ((gap, [one for one, _ in found]) for gap, found in ranked.items())
        if name in order
    }
    first = [
        gap for gap in places if name == next((one for one, _ in ranked[gap] if one in news or one == name))
    ]
    best = sorted(places, key=lambda gap: (places[gap], gap))
    return [gap for gap in best if gap in first] or best[:1]


def shared_words(tables: Tables, name: str, others: Iterable[str]) -> str:
    """The two descriptors that ``name`` shares most strongly with any of ``others``; '' if none is strong in
    both.
    """
    own = tables.profiles.get(name, {})
    found: dict[str, float] = {}
    for other in others:
        for word, weight in tables.profiles.get(other, {}).items():
            if word in own and word in tables.descriptors:
                found[word] = max(found.get(word, 0.0), min(weight, own[word]))
    best = sorted(found, key=lambda word: (-found[word], word))[:2]
    return " and ".join(tables.descriptors[word].name for word in best if found[word] >= WORD)


@frozen
class Judged:
    """Limits before and after, the wall and the highest dose of the old accord, and what is not known of the
    new one.
    """

    changes: tuple[LimitChange, ...] = ()
    wall: Mapping[str, object] | None = None
    dose_within_known: float | None = None
    within: bool = True
    unknown: tuple[str, ...] = ()


def judged(
    situation: Situation, accord: Accord, lines: Sequence[WrittenLine], dose_after: float | None
) -> Judged:
    """Both accords held against the limits, the new one at ``dose_after`` percent of the product."""
    if not situation.judged:
        return Judged()
    active: dict[str, float] = {}
    for line in lines:
        active[line.material] = active.get(line.material, 0.0) + line.active
    total = sum(line.after for line in lines)
    before = situation.judge(accord.active(), accord.total)
    if total <= 0 or not dose_after:
        wall = before.wall.to_dict() if before.wall else None
        return Judged((), wall, before.max_dose_known_pct, False, ())
    after = situation.judge(active, total, dose_after)
    rows: dict[tuple[str, str, str], list[Any]] = {}
    for place, verdict in enumerate((before, after)):
        for row in found_rows(verdict.rows):
            rows.setdefault((row.substance, row.limit_set, row.rule), [None, None])[place] = row
    changes = []
    for (substance, limit_set, _), (old, new) in rows.items():
        seen = new or old
        changes.append(
            LimitChange(
                substance,
                limit_set,
                seen.limit_pct,
                old.found_pct if old else 0.0,
                new.found_pct if new else 0.0,
                old.ok if old else True,
                new.ok if new else True,
                seen.basis,
                seen.name,
                seen.rule,
                seen.limit_words,
            )
        )
    changes.sort(key=_worst_first)
    unknown = tuple(dict.fromkeys(row.name for row in found_rows(after.rows) if row.ok is None))
    unknown += tuple(f"what {natural} may hold besides" for natural in not_looked_for(after.rows))
    wall = before.wall.to_dict() if before.wall else None
    return Judged(tuple(changes), wall, before.max_dose_known_pct, not after.broken, unknown)


def _worst_first(change: LimitChange) -> tuple[bool, bool, bool, str, str]:
    return (
        change.ok_before is not False,
        change.ok_after is not False,
        change.ok_after is not None,
        change.substance,
        change.limit_set,
    )


def solvent_notes(
    tables: Tables,
    situation: Situation,
    written: Written,
    totals: tuple[float, float],
    doses: tuple[float | None, float | None],
) -> tuple[str, ...]:
    """What the new total means in the product, and which new line may be weighed neat."""
    before, after = totals
    found = []
    carried = [line for line in written.lines if line.is_new and line.strength < 100 and line.after > 0]
    if abs(after - before) > TRIFLE * before and after > 0:
        grown = "more" if after > before else "less"
        said = f"the formula weighs {part(abs(after / before - 1))} {grown} than the old one"
        if doses[0] is not None and doses[1] is not None:
            doses_told = f"at {percent(doses[1])} of the product instead of {percent(doses[0])}"
            said += f": {doses_told} the same active mass is in it"
        else:
            said += f": use {figure(after / before)} g for 1 g of the old to bring the same active mass"
        found.append(said)
    solvent = sum(line.after - line.active for line in carried)
    if solvent < TRIFLE * before:
        return tuple(found)
    categories = {one.category for one in situation.context.sets} if situation.named else set()
    alcoholic = bool(categories & set(ALCOHOLIC))
    much = f"the new solutions bring {figure(solvent)} parts of solvent"
    if alcoholic:
        found.append(f"{much}; an alcoholic product takes as much less of its alcohol")
    else:
        neat = [
            f"{figure(line.active)} parts of {tables.materials[line.material].name} in place of "
            f"{figure(line.after)}"
            for line in carried
            if line.active >= WEIGHABLE * before
        ]
        where = (
            "in this product it stays in"
            if situation.named
            else "an alcoholic product takes as much less of its alcohol, a cream keeps it"
        )
        weigh = f"; if you have it neat, weigh {', '.join(neat[:3])}" if neat else ""
        found.append(f"{much}: {where}{weigh}")
    return tuple(found)


def cautions(
    tables: Tables, situation: Situation, lines: Sequence[AdjustedLine], unknown: Sequence[str]
) -> tuple[str, ...]:
    """What the figures cannot say."""
    found = [
        "the match is arithmetic on curated figures and assumes ideal mixing, which can name the "
        "wrong leading "
        "note: smell it before you trust it"
    ]
    for line in lines:
        name = tables.materials[line.material].name
        if is_unheard(tables, line.material):
            found.append(f"{name}: no potency is on file, so the match does not hear it")
        if line.is_new and tables.value(line.material, "anosmia"):
            found.append(f"{name}: many people cannot smell it well; have a second nose judge the amount")
        if not situation.named and line.after > 0 and situation.forbidden(line.material):
            words = situation.forbidden(line.material)[0].words
            found.append(f"{name}: {words}; no product was named, so it was left in")
    if not situation.judged:
        found.append("no dose and product were given, so no limits were looked at")
    if unknown:
        more = f" and {len(unknown) - SHOWN} more" if len(unknown) > SHOWN else ""
        found.append(
            f"unknown, neither within nor broken: {', '.join(unknown[:SHOWN])}{more}; ask the supplier"
        )
    found.append(
        "this is no safety assessment: supplier documents, local law and a qualified assessor decide"
    )
    return tuple(dict.fromkeys(found))


def lost_words(tables: Tables, problem: Problem, grams: Array) -> tuple[str, ...]:
    """Descriptors that the old accord had and the new one has not half of, taken over the stages."""
    after = impression(grams, problem.potency, problem.profile, problem.hearing)
    names, weight = list(tables.descriptors), problem.ear.weight
    old, new = weight @ problem.ear.before.shares, weight @ after.shares
    order = np.argsort(-(old - new), kind="stable")
    gone = [i for i in order if old[i] >= 0.015 and new[i] < 0.5 * old[i]]
    return tuple(tables.descriptors[names[i]].name for i in gone[:5])


def match_range(problem: Problem, grams: Array, restage: Restage | None) -> tuple[float, float]:
    """The match with all naturals at their low, typical and high constituents: smallest and largest."""
    found = [problem.match(grams).overall]
    live = np.flatnonzero((grams > 0) | (problem.old > 0))
    heard = problem.potency[live].max(axis=1) > 0
    live = live[heard]
    if restage is not None and len(live):
        for share in ("low", "high"):
            staged = restage(share, [problem.ids[i] for i in live])
            old = impression(problem.old[live], staged.potency, staged.profile, problem.hearing)
            new = impression(grams[live], staged.potency, staged.profile, problem.hearing)
            found.append(match(new, old).overall)
    return min(found), max(found)


def cost(parts: Iterable[tuple[str, float]], total: float, shelf: Shelf | None) -> float | None:
    """Price of what one gram of the old accord becomes, of (material, active parts); ``None`` where a price
    is not known.
    """
    if shelf is None:
        return None
    found = 0.0
    for name, grams in parts:
        price = shelf.price(name) if grams > 0 else 0.0
        if price is None:
            return None
        found += price * grams
    return found / total
