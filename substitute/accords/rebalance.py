"""The next trial from what the nose said about the last: too strong, too weak, right, and by how much.

Lines that nobody named stay to the digit, and the total is free: their mass in the product stays the same
at the dose that is said. How far a judged line moves says :mod:`.bracket`. Not modelled: masking by the other
lines, which is why the newest verdict beats an older one against it.

A trial is a plain CSV file beside its accord, ``NAME.trial-2.csv``: an accord's columns, ``parent`` (the
file it came from), ``verdict`` (what was said of that line in the parent) and ``ratio`` (lines with the
same mark keep their ratio).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field

from ..errors import InputError
from ..figures import figure, significant
from ..frozen import frozen
from ..records import Accord, Line, Tables
from ..tables.rows import shorten
from .balance import check_balance
from .bracket import SAME, bracket
from .carriers import CARRIER, is_carrier
from .moves import Move, Said, hold_ceilings, judge, keep_ratio, set_ratio
from .trials import DEGREES, VERDICTS, NextTrial, Trial, TrialLine

Ceiling = Mapping[str, float] | Callable[[str], "float | None"]


@frozen
class Heard:
    """What was asked: ``said`` (material id -> verdict and degree), ``ratios`` (groups of ids whose ratio
    stays), ``same_total``, and of ``anew`` the figures of those groups whose ratio is set, neat for neat."""

    said: Mapping[str, Said]
    ratios: tuple[tuple[str, ...], ...] = ()
    same_total: bool = False
    anew: Mapping[tuple[str, ...], tuple[float, ...]] = field(default_factory=dict)


@frozen
class Batch:
    """Grams that are weighed and the balance's step [g], to warn where the balance cannot follow."""

    grams: float
    balance: float


def rebalance(
    accord: Accord,
    heard: Heard,
    *,
    history: Sequence[Trial] = (),
    tables: Tables | None = None,
    ceiling: Ceiling | None = None,
    batch: Batch | None = None,
    trial: int | None = None,
    parent: str | None = None,
) -> NextTrial:
    """The next trial after what was ``heard`` of ``accord``, bracketed by ``history`` (oldest first;
    amounts are compared in parts).

    ``tables`` gives names and tells solvents; ``ceiling`` the most parts a material may have. ``trial`` and
    ``parent`` default to what the history says; who saves the trial passes the number and the file's name.

    Raises :class:`~substitute.errors.InputError` for no verdict at all, a name that is no line of the
    accord, verdicts that a ratio forbids, and a batch or balance out of range.
    """
    check_heard(accord, heard)
    step = check_batch(accord, batch)
    most: Callable[[str], float | None] = ceiling if callable(ceiling) else dict(ceiling or {}).get
    before = accord.active()
    work = Move(before, dict(before))
    name = _namer(tables)
    for id, (verdict, degree) in heard.said.items():
        if verdict == "right":
            work.why[id] = "right: kept"
        else:
            judge(work, accord, id, _earlier(id, (verdict, degree), accord, history), name)
    for group in heard.ratios:
        if group in heard.anew:
            set_ratio(work, group, heard.anew[group], heard.said)
        else:
            keep_ratio(work, group, heard.said)
    hold_ceilings(work, most, heard.ratios, name)
    if step:
        _warn_fine(work, accord, heard, history, (step, name))
    lines = _lines(work, accord, heard, tables)
    if heard.same_total:
        lines = _same_total(lines, work, tables)
    _say_total(lines, work)
    label = parent or (history[-1].name if history else accord.name)
    number = trial or max(2, len(history) + 1)
    return NextTrial(number, label, lines, tuple(work.warnings), tuple(work.notes), heard.ratios)


def check_heard(accord: Accord, heard: Heard) -> None:
    """Raise for what cannot be meant."""
    known = accord.active()
    for id, (verdict, degree) in heard.said.items():
        if id not in known:
            raise InputError(
                f"'{shorten(id)}' is not a line of {accord.name}: its lines are {', '.join(known)}"
            )
        if verdict not in VERDICTS or (degree and degree not in DEGREES):
            raise InputError(
                f"{id}: '{verdict} {degree}' is no verdict: one of {', '.join(VERDICTS)}, with "
                f"{', '.join(DEGREES)}"
            )
    for group in heard.ratios:
        for id in group:
            if id not in known:
                raise InputError(
                    f"'{shorten(id)}' is not a line of {accord.name}, so it has no ratio: its "
                    f"lines are {', '.join(known)}"
                )
            if not known[id] and group not in heard.anew:
                raise InputError(f"{id}: has 0 parts, so it has no ratio to keep")
    if not heard.said and not heard.anew:
        raise InputError("no verdict: say of at least one line whether it is too strong, too weak or right")


def check_batch(accord: Accord, batch: Batch | None) -> float:
    """The balance's step in parts of the accord; 0 without a batch."""
    if batch is None:
        return 0.0
    grams, balance = check_balance(batch.grams, batch.balance)
    return accord.total * balance / grams


def _namer(tables: Tables | None) -> Callable[[str], str]:
    def name(id: str) -> str:
        material = tables.materials.get(id) if tables else None
        return material.name if material else id

    return name


def _earlier(id: str, said: Said, accord: Accord, history: Sequence[Trial]) -> list[tuple[float, str, str]]:
    """Amounts of the material itself and verdicts on them, newest first, the one just given before all."""
    now = Trial(accord.name, accord, {id: said[0]}, "", {id: said[1]})
    return [
        (trial.amount(id), trial.verdicts[id], trial.degrees.get(id, ""))
        for trial in (now, *reversed(history))
        if id in trial.verdicts
    ]


def _warn_fine(
    work: Move,
    accord: Accord,
    heard: Heard,
    history: Sequence[Trial],
    seen: tuple[float, Callable[[str], str]],
) -> None:
    """Say where what is left to decide is finer than the balance."""
    step, name = seen
    for id, said in heard.said.items():
        if said[0] == "right":
            continue
        strength = next(line.strength for line in accord.lines if line.material == id) / 100.0
        found = bracket(_earlier(id, said, accord, history))
        change = abs(work.after[id] - work.before[id]) / strength
        width = (
            (found.high - found.low) / strength if found.high is not None and found.low is not None else None
        )
        if change < step or (width is not None and width < step):
            work.warnings.append(
                f"{name(id)}: what is left to decide is finer than the balance; weigh a weaker "
                "solution or a larger batch, or leave it."
            )


def _lines(work: Move, accord: Accord, heard: Heard, tables: Tables | None) -> tuple[TrialLine, ...]:
    """The accord's lines, lines of one material scaled alike."""
    found = []
    for number, line in enumerate(accord.lines):
        id = line.material
        before, after = work.before[id], work.after[id]
        parts = line.parts
        if after != before and before:
            parts = line.parts * (after / before)
        elif after != before:
            first = next(i for i, other in enumerate(accord.lines) if other.material == id)
            parts = after / (line.strength / 100.0) if number == first else 0.0
        if after != before:
            parts = significant(parts, 12)
        found.append(_line(line, parts, work.why.get(id, "stays"), heard.said.get(id, ("", "")), tables))
    return tuple(found)


def _line(line: Line, parts: float, why: str, said: Said, tables: Tables | None) -> TrialLine:
    material = tables.materials.get(line.material) if tables else None
    return TrialLine(
        line.material,
        material.name if material else line.material,
        material.main_cas if material else "",
        line.strength,
        line.parts,
        parts,
        why,
        said[0],
        said[1],
        line.role,
        line.optional,
    )


def _same_total(lines: tuple[TrialLine, ...], work: Move, tables: Tables | None) -> tuple[TrialLine, ...]:
    """The lines with the old total: carrier gives way or takes up; what it cannot give is said, no other
    line is touched."""
    from dataclasses import replace

    spare = sum(line.parts_before for line in lines) - sum(line.parts_after for line in lines)
    free = [line for line in lines if is_carrier(line.id, tables) and not line.verdict]
    pool = sum(line.parts_after for line in free)
    if abs(spare) <= SAME * sum(line.parts_before for line in lines):
        return lines
    if spare > 0 and not pool:
        carrier = _line(Line(CARRIER, 0.0, optional=True), spare, "keeps the total", ("", ""), tables)
        return (*lines, carrier)
    given = max(spare, -pool)
    why = "carrier takes up the difference" if spare > 0 else "carrier gives way"
    if given > spare + SAME:
        work.warnings.append(
            f"The old total cannot be kept: {figure(-spare, 4)} parts more are wanted and the carrier "
            f"gives {figure(pool, 4)}; no other line is touched."
        )
    return tuple(
        replace(line, parts_after=line.parts_after * (1 + given / pool), why=why)
        if pool and line in free
        else line
        for line in lines
    )


def _say_total(lines: Sequence[TrialLine], work: Move) -> None:
    before, after = sum(line.parts_before for line in lines), sum(line.parts_after for line in lines)
    if abs(after - before) > 1e-6 * before:
        work.notes.append(
            f"The formula weighs {figure(after, 4)} parts instead of {figure(before, 4)}; at "
            f"{figure(after / before)} times the dose every line that stays is as strong in the product as "
            "before."
        )
