"""The accord, swapped and rescaled: what is missing or over a limit replaced, everything else moved only as far as it helps."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..errors import InputError
from ..odour.perception import Match
from ..odour.staging import Staged
from ..records import STAGES, Accord, Line, Shelf, Tables
from ..rules.report import found_rows, not_looked_for
from .optimise import Solution, judged, solve
from .problem import MOVE, MOVE_FINE, Problem, build_problem, repair

DIGITS = 6  # parts are written at this many figures, rounded down so that rounding never breaks a limit
LEAST_CHANGE = 0.005  # a line that moves less than this is called unchanged
MOST_CANDIDATES = 40


@dataclass(frozen=True)
class AdjustedLine:
    """A line before and after, and why it moved."""

    material: str
    strength: float
    before: float
    after: float
    why: str
    role: str = "support"
    optional: bool = False
    is_new: bool = False


@dataclass(frozen=True)
class Option:
    """A plain way out computed beside: its match, whether it obeys every known limit, and its active parts by id."""

    name: str
    match: float
    legal: bool
    active: Mapping[str, float] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class LimitChange:
    """A limit before and after."""

    substance: str
    limit_set: str
    limit_pct: float | None
    before_pct: float
    after_pct: float
    ok_before: bool | None
    ok_after: bool | None
    basis: str

    def to_dict(self) -> dict:
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


@dataclass(frozen=True)
class Adjusted:
    """All that ``adjust`` answers; ``carrier`` is what is left of the old total."""

    accord: str
    lines: tuple[AdjustedLine, ...]
    carrier: float
    carrier_name: str
    match: Match
    match_range: tuple[float, float]
    options: tuple[Option, ...]
    limits: tuple[LimitChange, ...]
    lost: tuple[str, ...]
    cautions: tuple[str, ...]
    cost: tuple[float | None, float | None]
    wall: dict | None
    legal_dose_pct: float | None
    legal: bool
    tables: Tables = field(repr=False)

    def formula(self) -> Accord:
        """The new accord with its carrier, ready to be written or weighed."""
        lines = [Line(line.material, line.after, line.strength, line.role, line.optional) for line in self.lines if line.after > 0]
        if self.carrier > 0:
            lines.append(Line(self.carrier_name, self.carrier, 100.0, "support", True))
        return Accord(f"{self.accord}-adjusted", tuple(lines))

    def to_dict(self) -> dict:
        lines = [
            {**self.tables.materials[line.material].brief(), "strength_pct": line.strength, "parts_before": line.before, "parts_after": line.after,
             "why": line.why, "role": line.role, "optional": line.optional}
            for line in self.lines
        ]
        if self.carrier > 0:
            lines.append({"id": "carrier", "name": "carrier", "cas": "", "strength_pct": 100.0, "parts_before": 0.0, "parts_after": self.carrier,
                          "why": f"makes up the old total; {self.tables.materials[self.carrier_name].name} unless the product wants another", "role": "support", "optional": True})
        return {
            "accord": self.accord,
            "lines": lines,
            "match": self.match.to_dict(STAGES),
            "match_range": list(self.match_range),
            "options": [{"name": o.name, "match": o.match, "legal": o.legal} for o in self.options],
            "limits": [change.to_dict() for change in self.limits],
            "lost_for_good": list(self.lost),
            "cost_per_gram": {"before": self.cost[0], "after": self.cost[1]},
            "cautions": list(self.cautions),
            "legal": self.legal,
            "wall": self.wall,
            "legal_dose_pct": self.legal_dose_pct,
        }


@dataclass(frozen=True)
class Rulebook:
    """Limits as the optimiser needs them: ``rows(ids)`` gives (per percent of active in the product (R, N), limit (R), forbidden (N));
    ``judge(active, total)`` the verdict rows; ``dose`` percent of the product. Empty without a dose."""

    dose: float | None = None
    rows: Callable[[Sequence[str]], tuple[np.ndarray, np.ndarray, np.ndarray]] | None = None
    judge: Callable[[Mapping[str, float], float], object] | None = None


@dataclass(frozen=True)
class Gap:
    """What has to go: missing materials, and lines over a limit with the grams they must give up."""

    missing: tuple[str, ...]
    capped: Mapping[str, float]


def floor_digits(value: float, digits: int = DIGITS) -> float:
    """``value`` cut after ``digits`` figures."""
    if value <= 0 or not math.isfinite(value):
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    return float(f"{math.floor(value / step * (1 + 1e-12)) * step:.{digits}g}")


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
    rules: Rulebook = Rulebook(),
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
        raise InputError(f"{accord.name}: no line has an odour profile and potency, so there is nothing to match")
    gone = [name for name in missing if name in lines]
    if shelf:
        held = set(shelf.materials())
        gone += [name for name in lines if name not in held and name not in gone]
    forbidden = _forbidden(rules, lines)
    gone += [name for name in lines if name in forbidden and name not in gone]
    kept = [name for name in lines if name not in gone]
    over = _over(rules, accord, kept, active, carried)
    pool, ranked = _pool(tables, lines, gone, over, candidates, because)
    most_new = max_new if max_new is not None else max(2, len(gone))

    ids = [*lines, *pool]
    problem, potency = _problem(tables, staged, accord, ids, len(lines), gone, set(over), active, carried, shelf, rules, most_new)
    old = np.array([active[name] for name in lines] + [0.0] * len(pool))
    start = np.where(np.isin(ids, gone), 0.0, old)
    plain, grams = _plain_options(tables, problem, potency, ids, start, old, gone, ranked, most_new)
    kept_z = problem.from_grams(np.minimum(repair(problem, start), old))
    solution = solve(problem, potency, kept_z, most_new, grams)
    if not gone and not over:  # nothing has to go: the accord stays as it is unless moving helps, which it cannot
        solution = Solution(old, judged(problem, potency, old), (), np.ones(1))
    return _answer(tables, accord, problem, solution, ids, gone, over, ranked, plain, carried + silent, active, shelf, rules, because, restage)


def _forbidden(rules: Rulebook, names: Sequence[str]) -> set[str]:
    if rules.rows is None or not names:
        return set()
    matrix, limit, forbidden = rules.rows(names)
    zero = np.asarray(limit) <= 0
    return {name for i, name in enumerate(names) if forbidden[i] or (zero.any() and matrix[zero, i].max() > 0)}


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
            if place < len(found) and found[place][0] not in pool and found[place][0] not in lines and len(pool) < MOST_CANDIDATES:
                pool.append(found[place][0])
    return pool, ranked


def _strength(accord: Accord, shelf: Shelf | None, name: str) -> float:
    """Strength a line is written at: its own, else the strongest on the shelf, else neat."""
    own = [line.strength for line in accord.lines if line.material == name and line.parts > 0]
    if own:
        return accord.active()[name] / sum(line.parts for line in accord.lines if line.material == name) * 100.0
    return (shelf.strengths(name)[0] if shelf and shelf.strengths(name) else 100.0)


def _problem(tables, staged, accord, ids, n_lines, gone, over, active, carried, shelf, rules, most_new):
    roles: dict[str, tuple[str, bool]] = {}
    for line in accord.lines:
        role, optional = roles.get(line.material, (line.role, True))
        roles[line.material] = (role, optional and line.optional)
    total = accord.total
    fixed = sum(line.parts for line in accord.lines if line.material in carried and tables.materials[line.material].kind != "solvent")
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
        fixed_use = matrix[:, len(ids):] @ np.array([active[name] for name in carried]) * rules.dose / total if carried else np.zeros(len(limit))
        left = limit - fixed_use
        live = left > 0
        per_gram = matrix[live][:, : len(ids)] * (rules.dose / total) / left[live, None]
        banned = np.asarray(forbidden[: len(ids)], dtype=bool) | (matrix[~live][:, : len(ids)] > 0).any(axis=0)
        high[banned] = 0.0
        low[banned] = 0.0
    problem = build_problem(staged, ids, old, low, high, np.arange(len(ids)) < n_lines, per_gram, parts)
    return problem, staged.potency[staged.rows(ids)]


def _plain_options(tables, problem: Problem, potency, ids, start, old, gone, ranked, most_new):
    """Leaving out, gram for gram, and strength-matched: what a person would do by hand, as (options, formulas fit to compete)."""
    index = {name: i for i, name in enumerate(ids)}
    rows = np.vstack([problem.per_gram, problem.parts[None, :]])
    capped = repair(problem, start)  # over a limit, a line is first brought down to it
    gaps = {name: (old[index[name]] if name in gone else max(old[index[name]] - capped[index[name]], 0.0)) for name in ranked}
    formulas = {"leave_out": np.where(np.isin(ids, list(gone)), 0.0, capped)}
    one, strong = formulas["leave_out"].copy(), formulas["leave_out"].copy()
    for name, grams in gaps.items():
        best = next(((c, g) for c, g in ranked[name] if c in index and index[c] >= len(ids) - (~problem.is_line).sum() and problem.high[index[c]] > 0 and g), None)
        if best and grams > 0:
            one[index[best[0]]] += grams
            strong[index[best[0]]] += grams * best[1]
    formulas |= {"one_to_one": one, "strength": strong}
    formulas = {name: grams / max(1.0, float(problem.parts @ grams)) for name, grams in formulas.items()}  # the old total holds
    options = tuple(
        Option(name, judged(problem, potency, grams).overall, bool((rows[:-1] @ grams <= 1 + 1e-9).all() and not (grams[problem.high <= 0] > 0).any()),
               {ids[i]: float(grams[i]) for i in np.flatnonzero(grams > 0)}) for name, grams in formulas.items()
    )
    return options, list(formulas.values())


def _answer(tables, accord, problem, solution, ids, gone, over, ranked, plain, carried, active, shelf, rules, because, restage) -> Adjusted:
    index = {name: i for i, name in enumerate(ids)}
    after = dict(zip(ids, solution.grams.tolist()))
    lines: list[AdjustedLine] = []
    for line in accord.lines:
        name = line.material
        if tables.materials[name].kind == "solvent" and name in carried:
            continue
        if name in carried:
            why = "carried through untouched: no odour profile or potency on file" if line.parts > 0 else "a zero line, left as it is"
            lines.append(AdjustedLine(name, line.strength, line.parts, line.parts, why, line.role, line.optional))
            continue
        factor = after[name] / active[name]
        parts = line.parts if abs(factor - 1) < 1e-9 else floor_digits(line.parts * factor)
        lines.append(AdjustedLine(name, line.strength, line.parts, parts, "", line.role, line.optional))
    for i in solution.new:
        strength = _strength(accord, shelf, ids[i])
        lines.append(AdjustedLine(ids[i], strength, 0.0, floor_digits(solution.grams[i] * 100.0 / strength), "", "support", False, True))
    lines = [_explained(tables, problem, line, ids, index, solution, gone, over, ranked, because, accord, rules) for line in lines]
    total_after = sum(line.after for line in lines)
    carrier = max(accord.total - total_after, 0.0)
    carrier = carrier if carrier > 1e-9 * accord.total else 0.0
    solvents = [line for line in accord.lines if tables.materials[line.material].kind == "solvent"]
    carrier_name = max(solvents, key=lambda line: line.parts).material if solvents else "ethanol"
    limits, wall, legal_dose, legal, unknown = _limits(rules, accord, lines, active)
    smells = any(line.after > 0 for line in lines if line.material not in carried)
    cautions = _cautions(tables, problem, lines, unknown, rules)
    return Adjusted(
        accord.name, tuple(lines), carrier, carrier_name, solution.match, _match_range(problem, solution, ids, restage), plain, limits,
        _lost(tables, problem, solution, ids), cautions, _cost(accord, lines, shelf), wall, legal_dose, legal and smells, tables,
    )


def _explained(tables, problem, line, ids, index, solution, gone, over, ranked, because, accord, rules) -> AdjustedLine:
    name = line.material
    if line.why:
        return line
    if line.is_new:
        for_what = [gap for gap, found in ranked.items() if any(c == name for c, _ in found)] or list(ranked)
        words = _shared(tables, name, for_what)
        own = next((g for gap in for_what for c, g in ranked[gap] if c == name and g), None)
        named = ", ".join(tables.materials[gap].name for gap in for_what[:2])
        strength = f"; strength alone would ask {own:.2g} g for 1 g" if own else ""
        why = f"new: takes the place of {named}{f', carries {words}' if words else ''}{strength}"
    elif name in gone:
        ground = "prohibited in this product" if name in _forbidden(rules, [name]) else {"law": "gone because of law", "limit": "taken out because of its limit", "price": "too dear"}.get(because, "missing")
        why = f"{ground}: taken out"
    elif name in over and line.after < line.before * (1 - LEAST_CHANGE):
        why = f"over a limit {over[name]:.3g} times: kept as far as the limits and the balance allow"
    elif line.after == 0 and line.before > 0:
        why = "optional, and the accord is nearer without it"
    elif abs(line.after - line.before) <= LEAST_CHANGE * line.before:
        why = "unchanged"
    else:
        news = [ids[i] for i in solution.new]
        words = _shared(tables, name, news)
        up = line.after > line.before
        if up:
            lost = _shared(tables, name, [*gone, *over])
            why = f"raised {line.after / line.before:.2g} times{f': it carries {lost}, which went' if lost else ' to hold the balance and strength'}"
        else:
            why = f"lowered to {line.after / line.before:.0%}{f': the new material brings {words} too' if words else ' to hold the balance'}"
    return AdjustedLine(**{**line.__dict__, "why": why})


def _shared(tables: Tables, name: str, others: Iterable[str]) -> str:
    own = tables.profiles.get(name, {})
    found: dict[str, float] = {}
    for other in others:
        for word, weight in tables.profiles.get(other, {}).items():
            if word in own and word in tables.descriptors:
                found[word] = max(found.get(word, 0.0), min(weight, own[word]))
    best = sorted(found, key=lambda word: -found[word])[:2]
    return " and ".join(tables.descriptors[word].name for word in best if found[word] >= 3)


def _limits(rules: Rulebook, accord: Accord, lines, active):
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
        changes.append(LimitChange(substance, limit_set, seen.limit_pct, old.found_pct if old else 0.0, new.found_pct if new else 0.0,
                                   old.ok if old else True, new.ok if new else True, seen.basis))
    changes.sort(key=lambda c: (c.ok_before is not False, c.ok_after is not False, c.ok_after is not None, c.substance, c.limit_set))
    legal = not any(row.ok is False for row in after.rows)
    unknown = tuple(dict.fromkeys(row.substance for row in found_rows(after.rows) if row.ok is None))
    unknown += tuple(f"what {natural} may hold besides" for natural in not_looked_for(after.rows))
    return tuple(changes), before.wall.to_dict() if before.wall else None, before.max_dose_pct, legal, unknown


def _cautions(tables, problem, lines, unknown, rules) -> tuple[str, ...]:
    found = ["the match is arithmetic on curated figures and assumes ideal mixing, which can name the wrong leading note: smell it before you trust it"]
    for line in lines:
        if line.is_new and tables.value(line.material, "anosmia"):
            found.append(f"{tables.materials[line.material].name}: many people cannot smell it well; have a second nose judge the amount")
    if rules.dose is None:
        found.append("no dose and product were given, so no limits were looked at")
    if unknown:
        found.append(f"unknown, neither fine nor broken: {', '.join(unknown[:6])}{f' and {len(unknown) - 6} more' if len(unknown) > 6 else ''}; ask the supplier")
    found.append("this is no safety assessment: supplier documents, local law and a qualified assessor decide")
    return tuple(found)


def _lost(tables, problem, solution, ids) -> tuple[str, ...]:
    """Descriptors that the old accord had and no stage of the new one reaches half of."""
    from ..odour.perception import impression

    after = impression(solution.grams, problem.unit * 0 + _potency(problem), problem.profile, problem.hearing)
    names = list(tables.descriptors)
    old, new = (problem.weight[:, None] * problem.before.shares).sum(axis=0), (problem.weight[:, None] * after.shares).sum(axis=0)
    order = np.argsort(-(old - new))
    return tuple(tables.descriptors[names[i]].name for i in order if old[i] >= 0.015 and new[i] < 0.5 * old[i])[:5]


def _potency(problem: Problem) -> np.ndarray:
    """Potency (N, T) back from the scaled problem."""
    return (problem.unit / (problem.grams[:, None] ** problem.hearing.power)) ** (1.0 / problem.hearing.power)


def _match_range(problem, solution, ids, restage) -> tuple[float, float]:
    """The match with all naturals at their low, typical and high constituents: smallest and largest."""
    found = [solution.match.overall]
    if restage is not None:
        from ..odour.perception import impression, match

        for share in ("low", "high"):
            staged = restage(share, ids)
            potency, profile = staged.potency, staged.profile
            old = impression(problem.to_grams(problem.start), potency, profile, problem.hearing)
            found.append(match(impression(solution.grams, potency, profile, problem.hearing), old).overall)
    return min(found), max(found)


def _cost(accord: Accord, lines, shelf: Shelf | None) -> tuple[float | None, float | None]:
    """Price of one gram of accord before and after, where every price is known."""
    if shelf is None:
        return None, None

    def cost(parts: Iterable[tuple[str, float]]) -> float | None:
        known = [(shelf.price(name), grams) for name, grams in parts if grams > 0]
        return None if any(price is None for price, _ in known) else sum(price * grams for price, grams in known) / accord.total

    return cost((line.material, line.active) for line in accord.lines), cost((line.material, line.after * line.strength / 100.0) for line in lines)
