"""Why an accord changed as it did: a reason for every line, limits before and after, what is lost, what it costs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..odour.perception import impression, match
from ..records import Accord, Shelf, Tables
from ..rules.report import found_rows, not_looked_for
from .adjusted import AdjustedLine, LimitChange, Rulebook
from .problem import Problem

FULL = 0.98  # part of the old total from which on new lines push the others down
LEAST_CHANGE = 0.005  # a line that moves less than this is called unchanged


def forbidden_materials(rules: Rulebook, names: Sequence[str]) -> set[str]:
    if rules.rows is None or not names:
        return set()
    matrix, limit, forbidden = rules.rows(names)
    zero = np.asarray(limit) <= 0
    return {
        name for i, name in enumerate(names) if forbidden[i] or (zero.any() and matrix[zero, i].max() > 0)
    }


def explained(
    tables, problem, line, ids, index, solution, gone, over, ranked, because, accord, rules
) -> AdjustedLine:
    name = line.material
    if line.why:
        return line
    if line.is_new:
        for_what = [gap for gap, found in ranked.items() if any(c == name for c, _ in found)] or list(ranked)
        words = shared_words(tables, name, for_what)
        own = next((g for gap in for_what for c, g in ranked[gap] if c == name and g), None)
        named = ", ".join(tables.materials[gap].name for gap in for_what[:2])
        strength = f"; strength alone would ask {own:.2g} g for 1 g" if own else ""
        why = f"new: takes the place of {named}{f', carries {words}' if words else ''}{strength}"
    elif name in gone:
        ground = (
            "prohibited in this product"
            if name in forbidden_materials(rules, [name])
            else {
                "law": "gone because of law",
                "limit": "taken out because of its limit",
                "price": "too dear",
            }.get(because, "missing")
        )
        why = f"{ground}: taken out"
    elif name in over and line.after < line.before * (1 - LEAST_CHANGE):
        why = f"over a limit {over[name]:.3g} times: kept as far as the limits and the balance allow"
    elif line.after == 0 and line.before > 0:
        why = "optional, and the accord is nearer without it"
    elif abs(line.after - line.before) <= LEAST_CHANGE * line.before:
        why = "unchanged"
    else:
        why = _moved(
            tables,
            problem,
            line,
            [ids[i] for i in solution.new],
            [*gone, *over],
            float(problem.parts @ solution.grams),
        )
    return AdjustedLine(**{**line.__dict__, "why": why})


def _moved(
    tables: Tables,
    problem: Problem,
    line: AdjustedLine,
    news: Sequence[str],
    went: Sequence[str],
    filled: float,
) -> str:
    """Why a line that stays moved: it took over, the new brings the same, or solutions leave no room."""
    factor = line.after / line.before
    if factor > 1:
        carried = shared_words(tables, line.material, went)
        much = f"raised {factor:.2g} times" if factor >= 2 else f"raised by {factor - 1:.0%}"
        return f"{much}{f': it carries {carried}, which went' if carried else ' to hold the balance and strength'}"
    words = shared_words(tables, line.material, news)
    if filled > FULL and not words:
        return f"lowered to {factor:.0%}: what is new takes that room in the old total"
    return f"lowered to {factor:.0%}{f': the new material brings {words} too' if words else ' to hold the balance'}"


def shared_words(tables: Tables, name: str, others: Iterable[str]) -> str:
    own = tables.profiles.get(name, {})
    found: dict[str, float] = {}
    for other in others:
        for word, weight in tables.profiles.get(other, {}).items():
            if word in own and word in tables.descriptors:
                found[word] = max(found.get(word, 0.0), min(weight, own[word]))
    best = sorted(found, key=lambda word: -found[word])[:2]
    return " and ".join(tables.descriptors[word].name for word in best if found[word] >= 3)


def limit_changes(rules: Rulebook, accord: Accord, lines, active):
    """(changes, wall, legal dose of the old accord, legal now, unknown substances)."""
    if rules.judge is None:
        return (), None, None, True, ()
    new_active: dict[str, float] = {}
    for line in lines:
        new_active[line.material] = new_active.get(line.material, 0.0) + line.after * line.strength / 100.0
    before, after = rules.judge(active, accord.total), rules.judge(new_active, accord.total)
    rows: dict[tuple, list] = {}
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
            )
        )
    changes.sort(
        key=lambda c: (
            c.ok_before is not False,
            c.ok_after is not False,
            c.ok_after is not None,
            c.substance,
            c.limit_set,
        )
    )
    legal = not any(row.ok is False for row in after.rows)
    unknown = tuple(dict.fromkeys(row.substance for row in found_rows(after.rows) if row.ok is None))
    unknown += tuple(f"what {natural} may hold besides" for natural in not_looked_for(after.rows))
    return (
        tuple(changes),
        before.wall.to_dict() if before.wall else None,
        before.max_dose_known_pct,
        legal,
        unknown,
    )


def adjust_cautions(tables, problem, lines, unknown, rules) -> tuple[str, ...]:
    found = [
        "the match is arithmetic on curated figures and assumes ideal mixing, which can name the wrong leading note: smell it before you trust it"
    ]
    for line in lines:
        if line.is_new and tables.value(line.material, "anosmia"):
            found.append(
                f"{tables.materials[line.material].name}: many people cannot smell it well; have a second nose judge the amount"
            )
    if rules.dose is None:
        found.append("no dose and product were given, so no limits were looked at")
    if unknown:
        found.append(
            f"unknown, neither fine nor broken: {', '.join(unknown[:6])}{f' and {len(unknown) - 6} more' if len(unknown) > 6 else ''}; ask the supplier"
        )
    found.append(
        "this is no safety assessment: supplier documents, local law and a qualified assessor decide"
    )
    return tuple(found)


def lost_words(tables, problem, solution, ids) -> tuple[str, ...]:
    """Descriptors that the old accord had and no stage of the new one reaches half of."""
    after = impression(
        solution.grams, problem.unit * 0 + potency_of(problem), problem.profile, problem.hearing
    )
    names = list(tables.descriptors)
    old, new = (
        (problem.weight[:, None] * problem.before.shares).sum(axis=0),
        (problem.weight[:, None] * after.shares).sum(axis=0),
    )
    order = np.argsort(-(old - new))
    return tuple(
        tables.descriptors[names[i]].name for i in order if old[i] >= 0.015 and new[i] < 0.5 * old[i]
    )[:5]


def potency_of(problem: Problem) -> np.ndarray:
    """Potency (N, T) back from the scaled problem."""
    return (problem.unit / (problem.grams[:, None] ** problem.hearing.power)) ** (1.0 / problem.hearing.power)


def match_range(problem, solution, ids, restage) -> tuple[float, float]:
    """The match with all naturals at their low, typical and high constituents: smallest and largest."""
    found = [solution.match.overall]
    if restage is not None:
        for share in ("low", "high"):
            staged = restage(share, ids)
            potency, profile = staged.potency, staged.profile
            old = impression(problem.to_grams(problem.start), potency, profile, problem.hearing)
            found.append(match(impression(solution.grams, potency, profile, problem.hearing), old).overall)
    return min(found), max(found)


def cost_before_after(accord: Accord, lines, shelf: Shelf | None) -> tuple[float | None, float | None]:
    """Price of one gram of accord before and after, where every price is known."""
    if shelf is None:
        return None, None

    def cost(parts: Iterable[tuple[str, float]]) -> float | None:
        known = [(shelf.price(name), grams) for name, grams in parts if grams > 0]
        return (
            None
            if any(price is None for price, _ in known)
            else sum(price * grams for price, grams in known) / accord.total
        )

    return cost((line.material, line.active) for line in accord.lines), cost(
        (line.material, line.after * line.strength / 100.0) for line in lines
    )
