"""The accord, swapped and rescaled: what is missing or over a limit replaced, everything else moved only as far as it helps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from ..errors import InputError
from ..odour.staging import Staged
from ..records import Accord, Shelf, Tables
from .adjusted import Adjusted, AdjustedLine, Option, Rulebook, floor_digits
from .explain import (
    adjust_cautions,
    cost_before_after,
    explained,
    forbidden_materials,
    limit_changes,
    lost_words,
    match_range,
)
from .optimise import Solution, judged, solve
from .problem import MOVE, MOVE_FINE, Problem, build_problem, repair

MOST_CANDIDATES = 40
NO_RULES = Rulebook()


def is_carried(tables: Tables, name: str) -> bool:
    """Whether a material cannot be judged by smell and is carried through untouched (carriers, no profile, no potency)."""
    return name not in tables.profiles or not tables.value(name, "potency")


def adjust(
    tables: Tables,
    staged: Staged,
    accord: Accord,
    *,
    missing: Iterable[str] = (),
    shelf: Shelf | None = None,
    candidates: Callable[[str, str], Sequence[tuple[str, float]]],
    rules: Rulebook = NO_RULES,
    max_new: int | None = None,
    because: str = "unavailable",
    restage: Callable[[str, Sequence[str]], Staged] | None = None,
) -> Adjusted:
    """The accord with new parts that match the old best under limits, total and ``max_new``.

    ``candidates(material, because)`` gives (id, grams per gram) of ranked single stand-ins. Raises
    :class:`~substitute.errors.InputError` where there is nothing to judge.
    """
    active = accord.active()
    missing = tuple(dict.fromkeys(missing))
    carried = [name for name in active if is_carried(tables, name)]
    lines = [name for name in active if name not in carried and active[name] > 0]
    silent = [name for name in active if name not in carried and active[name] <= 0]
    if not lines:
        raise InputError(
            f"{accord.name}: no line has an odour profile and potency, so there is nothing to match"
        )
    gone = [name for name in missing if name in lines]
    if shelf:
        held = set(shelf.materials())
        gone += [name for name in lines if name not in held and name not in gone]
    forbidden = forbidden_materials(rules, lines)
    gone += [name for name in lines if name in forbidden and name not in gone]
    kept = [name for name in lines if name not in gone]
    over = _over(rules, accord, kept, active, carried)
    pool, ranked = _pool(tables, lines, gone, over, candidates, because)
    most_new = max_new if max_new is not None else max(2, len(gone))

    ids = [*lines, *pool]
    problem, potency = _problem(
        tables, staged, accord, ids, len(lines), gone, set(over), active, carried, shelf, rules, most_new
    )
    old = np.array([active[name] for name in lines] + [0.0] * len(pool))
    start = np.where(np.isin(ids, gone), 0.0, old)
    plain, grams = _plain_options(tables, problem, potency, ids, start, old, gone, ranked, most_new)
    kept_z = problem.from_grams(np.minimum(repair(problem, start), old))
    solution = solve(problem, potency, kept_z, most_new, grams)
    if (
        not gone and not over
    ):  # nothing has to go: the accord stays as it is unless moving helps, which it cannot
        solution = Solution(old, judged(problem, potency, old), (), np.ones(1))
    return _answer(
        tables,
        accord,
        problem,
        solution,
        ids,
        gone,
        over,
        ranked,
        plain,
        carried + silent,
        active,
        shelf,
        rules,
        because,
        restage,
    )


def _over(rules: Rulebook, accord: Accord, kept, active, carried) -> dict[str, float]:
    """Lines that press on a limit broken by what is kept -> their amount divided by what would be allowed."""
    names = [*kept, *carried]
    if rules.rows is None or not names:
        return {}
    matrix, limit, _ = rules.rows(names)
    amount = np.array([active[name] for name in names]) * rules.dose / accord.total
    found: dict[str, float] = {}
    for row, most in zip(matrix, limit):
        used = float(row @ amount)
        if most > 0 and used > most * (1 + 1e-12):
            heavy = row * amount
            for i in np.flatnonzero(heavy >= 0.1 * heavy.sum()):
                if names[i] in kept:
                    found[names[i]] = max(found.get(names[i], 0.0), used / most)
    return found


def _pool(tables, lines, gone, over, candidates, because):
    """Candidates over all gaps, best of each first, and the ranked list for each gap."""
    ranked = {name: [(c, g) for c, g in candidates(name, because)] for name in gone}
    ranked |= {name: [(c, g) for c, g in candidates(name, "limit")] for name in over}
    pool: list[str] = []
    gaps = list(ranked.values())
    for place in range(max((len(found) for found in gaps), default=0)):
        for found in gaps:
            if (
                place < len(found)
                and found[place][0] not in pool
                and found[place][0] not in lines
                and len(pool) < MOST_CANDIDATES
            ):
                pool.append(found[place][0])
    return pool, ranked


def _strength(accord: Accord, shelf: Shelf | None, name: str) -> float:
    """Strength a line is written at: its own, else the strongest on the shelf, else neat."""
    own = [line.strength for line in accord.lines if line.material == name and line.parts > 0]
    if own:
        return (
            accord.active()[name] / sum(line.parts for line in accord.lines if line.material == name) * 100.0
        )
    return shelf.strengths(name)[0] if shelf and shelf.strengths(name) else 100.0


def _problem(tables, staged, accord, ids, n_lines, gone, over, active, carried, shelf, rules, most_new):
    roles: dict[str, tuple[str, bool]] = {}
    for line in accord.lines:
        role, optional = roles.get(line.material, (line.role, True))
        roles[line.material] = (role, optional and line.optional)
    total = accord.total
    fixed = sum(
        line.parts
        for line in accord.lines
        if line.material in carried and tables.materials[line.material].kind != "solvent"
    )
    room = max(total - fixed, 1e-12)
    old = np.array([active.get(name, 0.0) for name in ids])
    low, high = np.zeros(len(ids)), np.zeros(len(ids))
    for i, name in enumerate(ids):
        if i >= n_lines:
            high[i] = room * _strength(accord, shelf, name) / 100.0
            continue
        role, optional = roles[name]
        factor = MOVE_FINE if role in ("lift", "trace") else MOVE
        if name in gone:
            continue
        low[i] = 0.0 if optional or name in over else old[i] / factor
        high[i] = old[i] * (1.0 if name in over else factor)
    parts = np.array([100.0 / _strength(accord, shelf, name) for name in ids]) / room
    per_gram = np.zeros((0, len(ids)))
    if rules.rows is not None:
        names = [*ids, *carried]
        matrix, limit, forbidden = rules.rows(names)
        matrix, limit = np.asarray(matrix, dtype=float), np.asarray(limit, dtype=float)
        fixed_use = (
            matrix[:, len(ids) :] @ np.array([active[name] for name in carried]) * rules.dose / total
            if carried
            else np.zeros(len(limit))
        )
        left = limit - fixed_use
        live = left > 0
        per_gram = matrix[live][:, : len(ids)] * (rules.dose / total) / left[live, None]
        banned = np.asarray(forbidden[: len(ids)], dtype=bool) | (matrix[~live][:, : len(ids)] > 0).any(
            axis=0
        )
        high[banned] = 0.0
        low[banned] = 0.0
    problem = build_problem(staged, ids, old, low, high, np.arange(len(ids)) < n_lines, per_gram, parts)
    return problem, staged.potency[staged.rows(ids)]


def _plain_options(tables, problem: Problem, potency, ids, start, old, gone, ranked, most_new):
    """Leaving out, gram for gram, and strength-matched: what a person would do by hand, as (options, formulas fit to compete)."""
    index = {name: i for i, name in enumerate(ids)}
    rows = np.vstack([problem.per_gram, problem.parts[None, :]])
    capped = repair(problem, start)  # over a limit, a line is first brought down to it
    gaps = {
        name: (old[index[name]] if name in gone else max(old[index[name]] - capped[index[name]], 0.0))
        for name in ranked
    }
    formulas = {"leave_out": np.where(np.isin(ids, list(gone)), 0.0, capped)}
    one, strong = formulas["leave_out"].copy(), formulas["leave_out"].copy()
    for name, grams in gaps.items():
        best = next(
            (
                (c, g)
                for c, g in ranked[name]
                if c in index
                and index[c] >= len(ids) - (~problem.is_line).sum()
                and problem.high[index[c]] > 0
                and g
            ),
            None,
        )
        if best and grams > 0:
            one[index[best[0]]] += grams
            strong[index[best[0]]] += grams * best[1]
    formulas |= {"one_to_one": one, "strength": strong}
    formulas = {
        name: grams / max(1.0, float(problem.parts @ grams)) for name, grams in formulas.items()
    }  # the old total holds
    options = tuple(
        Option(
            name,
            judged(problem, potency, grams).overall,
            bool((rows[:-1] @ grams <= 1 + 1e-9).all() and not (grams[problem.high <= 0] > 0).any()),
            {ids[i]: float(grams[i]) for i in np.flatnonzero(grams > 0)},
        )
        for name, grams in formulas.items()
    )
    return options, list(formulas.values())


def _answer(
    tables,
    accord,
    problem,
    solution,
    ids,
    gone,
    over,
    ranked,
    plain,
    carried,
    active,
    shelf,
    rules,
    because,
    restage,
) -> Adjusted:
    index = {name: i for i, name in enumerate(ids)}
    after = dict(zip(ids, solution.grams.tolist()))
    lines: list[AdjustedLine] = []
    for line in accord.lines:
        name = line.material
        if tables.materials[name].kind == "solvent" and name in carried:
            continue
        if name in carried:
            why = (
                "carried through untouched: no odour profile or potency on file"
                if line.parts > 0
                else "a zero line, left as it is"
            )
            lines.append(
                AdjustedLine(name, line.strength, line.parts, line.parts, why, line.role, line.optional)
            )
            continue
        factor = after[name] / active[name]
        parts = line.parts if abs(factor - 1) < 1e-9 else floor_digits(line.parts * factor)
        lines.append(AdjustedLine(name, line.strength, line.parts, parts, "", line.role, line.optional))
    for i in solution.new:
        strength = _strength(accord, shelf, ids[i])
        lines.append(
            AdjustedLine(
                ids[i],
                strength,
                0.0,
                floor_digits(solution.grams[i] * 100.0 / strength),
                "",
                "support",
                False,
                True,
            )
        )
    lines = [
        explained(tables, problem, line, ids, index, solution, gone, over, ranked, because, accord, rules)
        for line in lines
    ]
    total_after = sum(line.after for line in lines)
    carrier = max(accord.total - total_after, 0.0)
    carrier = carrier if carrier > 1e-9 * accord.total else 0.0
    solvents = [line for line in accord.lines if tables.materials[line.material].kind == "solvent"]
    carrier_name = max(solvents, key=lambda line: line.parts).material if solvents else "ethanol"
    limits, wall, legal_dose, legal, unknown = limit_changes(rules, accord, lines, active)
    smells = any(line.after > 0 for line in lines if line.material not in carried)
    cautions = adjust_cautions(tables, problem, lines, unknown, rules)
    return Adjusted(
        accord.name,
        tuple(lines),
        carrier,
        carrier_name,
        solution.match,
        match_range(problem, solution, ids, restage),
        plain,
        limits,
        lost_words(tables, problem, solution, ids),
        cautions,
        cost_before_after(accord, lines, shelf),
        wall,
        legal_dose,
        legal and smells,
        tables,
    )
