"""The next trial from what the nose said about the last: too strong, too weak, right.

Amounts are bracketed in equal perceived steps, with intensity as a power of the amount (see :mod:`substitute.odour.power_law`).
Between an amount judged too strong and one judged too weak the next stands half-way in intensity; while only one side is known it
moves by a quarter of the intensity, which is about x 1.9 or / 1.9 in amount (doubling and halving: common practice, no source). An
amount once judged right is gone back to. The total of the parts is kept: the carrier gives way or takes up first, then lines without
a verdict, in proportion. Not modelled: masking by the other lines, which is why the newest verdict beats an older one against it.

A trial is a plain CSV file beside its accord, ``NAME.trial-2.csv``: an accord's columns, ``parent`` (the file it came from) and
``verdict`` (what was said of that line in the parent, and led to this trial).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..errors import InputError
from ..odour.power_law import EXPONENT
from ..records import Accord, Line, Tables
from ..tables.files import shorten
from .trials import NextTrial, Trial, TrialLine
from .weigh import CARRIER, check_balance, is_carrier

STEP = 1.25  # ratio of intensities taken for one perceived step
FIRST_SHARE = 0.005  # of the total parts: where a line of 0 parts starts that is too weak
MOST_TAKEN, MOST_GROWN = (
    0.5,
    2.0,
)  # a trial takes at most half of a line without a verdict, and at most doubles it
SAME = 1e-9  # amounts closer than this, relative, are one

Ceiling = Mapping[str, float] | Callable[[str], "float | None"]


@dataclass(frozen=True)
class Bracket:
    """Amounts between which a line's right amount lies; ``None`` where that side is not known. ``right`` is one judged right inside it."""

    low: float | None = None
    high: float | None = None
    right: float | None = None


def bracket(judged: Iterable[tuple[float, str]]) -> Bracket:
    """The bracket that verdicts on amounts leave, newest first; an older verdict that contradicts a newer one is passed over."""
    low = high = right = None
    for amount, verdict in judged:
        if verdict == "too_weak" and (high is None or amount < high * (1 - SAME)):
            low = amount if low is None else max(low, amount)
        elif verdict == "too_strong" and (low is None or amount > low * (1 + SAME)):
            high = amount if high is None else min(high, amount)
        elif verdict == "right" and right is None:
            right = amount
    inside = (
        right is not None
        and (low is None or right > low * (1 + SAME))
        and (high is None or right < high * (1 - SAME))
    )
    return Bracket(low, high, right if inside else None)


def next_amount(found: Bracket, *, exponent: float = EXPONENT, step: float = STEP) -> float:
    """The amount to try next: the one judged right, half-way in intensity, or one perceived step past the known side."""
    if found.right is not None:
        return found.right
    if found.low is not None and found.high is not None:
        return ((found.low**exponent + found.high**exponent) / 2.0) ** (1.0 / exponent)
    factor = step ** (1.0 / exponent)
    return found.low * factor if found.high is None else found.high / factor


def rebalance(
    accord: Accord,
    *,
    too_strong: Sequence[str] = (),
    too_weak: Sequence[str] = (),
    right: Sequence[str] = (),
    history: Sequence[Trial] = (),
    tables: Tables | None = None,
    ceiling: Ceiling | None = None,
    grams: float | None = None,
    balance: float | None = None,
    exponent: float = EXPONENT,
    trial: int | None = None,
    parent: str | None = None,
) -> NextTrial:
    """The next trial after the verdicts (material ids) on ``accord``, bracketed by ``history`` (oldest first).

    ``tables`` gives names and tells solvents; ``ceiling`` the most parts a material may have; ``grams`` with ``balance`` [g] the batch,
    for warnings where a bracket is finer than the balance. ``trial`` and ``parent`` default to what the history says;
    who saves the trial passes ``trial_number(next_trial_path(path))`` and the file's name.

    Raises :class:`~substitute.errors.InputError` for no verdict at all, a name that is no line of the accord, two verdicts on one
    line, and a batch or balance out of range.
    """
    verdicts = _verdicts(accord, {"too_strong": too_strong, "too_weak": too_weak, "right": right})
    if (grams is None) != (balance is None):
        raise InputError(
            "grams and balance: give both or neither; the balance's step is judged against the batch"
        )
    step_parts = 0.0
    if grams is not None:
        grams, balance = check_balance(grams, balance)
        step_parts = accord.total * balance / grams
    most = ceiling.get if isinstance(ceiling, Mapping) else ceiling or (lambda id: None)
    before: dict[str, float] = {}
    for line in accord.lines:
        before[line.material] = before.get(line.material, 0.0) + line.parts
    table = _Table(accord, before, verdicts, most, tables)
    for id, verdict in verdicts.items():
        if verdict != "right":
            table.judge(id, _earlier(id, verdict, accord, history), exponent, step_parts)
    table.balance_total()
    table.check_ceilings()
    name = parent or (history[-1].name if history else accord.name)
    return NextTrial(trial or max(2, len(history) + 1), name, table.lines(), tuple(table.warnings))


def _verdicts(accord: Accord, given: Mapping[str, Sequence[str]]) -> dict[str, str]:
    known = accord.active()
    found: dict[str, str] = {}
    for verdict, ids in given.items():
        for id in [ids] if isinstance(ids, str) else ids:
            if id not in known:
                raise InputError(
                    f"'{shorten(id)}' is not a line of {accord.name}: its lines are {', '.join(known)}"
                )
            if found.setdefault(id, verdict) != verdict:
                raise InputError(
                    f"{id}: cannot be {found[id].replace('_', ' ')} and {verdict.replace('_', ' ')}; one verdict a line"
                )
    if not found:
        raise InputError("no verdict: say of at least one line whether it is too strong, too weak or right")
    return found


def _earlier(id: str, verdict: str, accord: Accord, history: Sequence[Trial]) -> list[tuple[float, str]]:
    """Amounts (active share of the total) and verdicts on them, newest first, the one just given before all."""
    now = Trial(accord.name, accord, {id: verdict})
    return [
        (trial.share(id), trial.verdicts[id]) for trial in (now, *reversed(history)) if id in trial.verdicts
    ]


class _Table:
    """The parts of every material while the next trial is made up."""

    def __init__(
        self, accord: Accord, before: dict[str, float], verdicts: dict[str, str], most, tables: Tables | None
    ):
        self.accord, self.before, self.verdicts, self.most, self.tables = (
            accord,
            before,
            verdicts,
            most,
            tables,
        )
        self.after, self.why, self.warnings = dict(before), {}, []
        for id, verdict in verdicts.items():
            if verdict == "right":
                self.why[id] = "right: kept"

    def name(self, id: str) -> str:
        material = self.tables.materials.get(id) if self.tables else None
        return material.name if material else id

    def judge(self, id: str, judged: list[tuple[float, str]], exponent: float, step_parts: float) -> None:
        """Set a judged line to its next amount, and warn where limit or balance stand in the way."""
        found = bracket(judged)
        share, words = judged[0][0], self.verdicts[id].replace("_", " ")
        if share == 0 and words == "too strong":
            self.why[id] = "too strong, but it has 0 parts already"
            self.warnings.append(
                f"{self.name(id)}: has 0 parts and cannot have less; something else smells of it."
            )
            return
        strength = self._strength(id)
        parts_per_share = self.before[id] / share if share else self.accord.total / strength
        nothing_known = not share and found.high is None and found.right is None
        target = FIRST_SHARE * strength if nothing_known else next_amount(found, exponent=exponent)
        self.after[id] = target * parts_per_share
        self.why[id] = f"{words}: {self._how(found, parts_per_share, share)}"
        limit = self.most(id)
        if limit is not None and self.after[id] > limit:
            self.after[id] = max(limit, 0.0)
            self.why[id] = f"{words}, to its limit of {limit:g} parts"
            self.warnings.append(
                f"{self.name(id)}: the limit of {limit:g} parts is reached; more is not allowed."
            )
        width = (
            (found.high - found.low) * parts_per_share
            if found.high is not None and found.low is not None
            else None
        )
        change = abs(self.after[id] - self.before[id])
        if step_parts and (change < step_parts or (width is not None and width < step_parts)):
            self.warnings.append(
                f"{self.name(id)}: what is left to decide is finer than the balance; "
                "weigh a weaker solution or a larger batch, or leave it."
            )

    def _strength(self, id: str) -> float:
        return next(line.strength for line in self.accord.lines if line.material == id) / 100.0

    def _how(self, found: Bracket, per_share: float, share: float) -> str:
        if found.right is not None:
            return f"back to {found.right * per_share:.4g} parts, judged right before"
        if found.low is not None and found.high is not None:
            return f"half-way in intensity between {found.low * per_share:.4g} (too weak) and {found.high * per_share:.4g} (too strong)"
        return (
            "one perceived step down"
            if found.low is None
            else "one perceived step up"
            if share
            else "a first amount, half a percent"
        )

    def _free(self, carriers: bool) -> list[str]:
        """Lines without a verdict: the solvents, or the others."""
        return [
            id for id in self.before if id not in self.verdicts and is_carrier(id, self.tables) == carriers
        ]

    def balance_total(self) -> None:
        """Let carrier, then lines without a verdict, take up or give what keeps the total."""
        carriers, others = self._free(True), self._free(False)
        for id in (*carriers, *others):  # a line over its limit comes down to it, whoever asked
            limit = self.most(id)
            if limit is not None and self.after[id] > limit:
                self.after[id] = max(limit, 0.0)
                self.why[id] = f"down to its limit of {limit:g} parts"
                self.warnings.append(
                    f"{self.name(id)}: was over its limit of {limit:g} parts and is brought down to it."
                )
        spare = self.accord.total - sum(self.after.values())
        if abs(spare) <= SAME * self.accord.total:
            return
        if spare > 0:
            self._take_up(spare, carriers, others)
        else:
            self._give(-spare, carriers, others)

    def _take_up(self, spare: float, carriers: list[str], others: list[str]) -> None:
        """Spread freed parts: over the solvents, else over lines without a verdict; what is over a limit becomes carrier."""
        self._note(
            carriers or others,
            "carrier takes up the difference" if carriers else "shares the change, in proportion",
        )
        most = {id: self.most(id) for id in carriers or others}
        room = {id: math.inf if most[id] is None else max(most[id], self.after[id]) for id in most}
        if not carriers:
            room = {id: min(limit, MOST_GROWN * self.after[id]) for id, limit in room.items()}
        open_lines = [id for id in room if self.after[id] > 0] or carriers
        while spare > SAME * self.accord.total and open_lines:
            base = sum(self.after[id] for id in open_lines)
            grown = {
                id: self.after[id] + spare * (self.after[id] / base if base else 1.0 / len(open_lines))
                for id in open_lines
            }
            full = [id for id in open_lines if grown[id] > room[id]]
            for id in full or open_lines:
                new = room[id] if full else grown[id]
                spare -= new - self.after[id]
                self.after[id] = new
            if not full:
                return
            limited = [id for id in full if most[id] is not None and room[id] >= most[id]]
            self.warnings.extend(
                f"{self.name(id)}: the limit of {most[id]:g} parts is reached; it shares no further."
                for id in limited
            )
            open_lines = [id for id in open_lines if id not in full]
        if spare > SAME * self.accord.total:
            self.before.setdefault(CARRIER, 0.0)
            self.after[CARRIER] = self.after.get(CARRIER, 0.0) + spare
            self.why[CARRIER] = "keeps the total, the other lines cannot take up more"

    def _give(self, lack: float, carriers: list[str], others: list[str]) -> None:
        for ids, most, why in (
            (carriers, 1.0, "carrier gives way"),
            (others, MOST_TAKEN, "shares the change, in proportion"),
        ):
            pool = sum(self.after[id] for id in ids)
            if lack <= 0 or pool <= 0:
                continue
            taken = min(lack, most * pool)
            for id in ids:
                self.after[id] *= 1.0 - taken / pool
            self._note(ids, why)
            lack -= taken
        if lack <= SAME * self.accord.total:
            return
        growing = [id for id in self.verdicts if self.after[id] > self.before[id]]
        grown = sum(self.after[id] - self.before[id] for id in growing)
        for id in growing:
            self.after[id] = max(
                self.before[id], self.after[id] - lack * ((self.after[id] - self.before[id]) / grown)
            )
            self.why[id] += "; less than that, as the other lines cannot give more"
        names = ", ".join(self.name(id) for id in growing)
        self.warnings.append(
            f"{names}: the rest of the accord gives no more room in this total; call fewer lines right, or raise the dose instead."
        )

    def _note(self, ids: list[str], why: str) -> None:
        for id in ids:
            self.why.setdefault(id, why)

    def check_ceilings(self) -> None:
        """Warn of lines that stay over a limit although nobody asked to move them down that far."""
        for id, parts in self.after.items():
            limit = self.most(id)
            if limit is not None and parts > limit * (1 + SAME):
                self.warnings.append(
                    f"{self.name(id)}: {parts:.4g} parts are over its limit of {limit:g} parts; the verdict is kept, the limit is not."
                )

    def lines(self) -> tuple[TrialLine, ...]:
        """The accord's lines, lines of one material scaled alike, a new carrier line behind them."""
        found = []
        for number, line in enumerate(self.accord.lines):
            id = line.material
            if self.after[id] == self.before[id]:
                parts = line.parts
            elif self.before[id]:
                parts = self.after[id] * (line.parts / self.before[id])
            else:
                first = next(i for i, other in enumerate(self.accord.lines) if other.material == id)
                parts = self.after[id] if number == first else 0.0
            found.append(self._line(line, parts))
        if CARRIER in self.after and CARRIER not in self.accord.active():
            found.append(self._line(Line(CARRIER, 0.0, optional=True), self.after[CARRIER]))
        return tuple(found)

    def _line(self, line: Line, parts: float) -> TrialLine:
        id = line.material
        material = self.tables.materials.get(id) if self.tables else None
        why = self.why.get(id, "unchanged")
        return TrialLine(
            id, self.name(id), material.main_cas if material else "", line.strength,
            line.parts, parts, why, self.verdicts.get(id, ""), line.role, line.optional,
        )  # fmt: skip
