"""The old total kept, where a person asks for it: made up with carrier, or all lines scaled."""

from __future__ import annotations

from dataclasses import replace

from ..figures import significant
from ..records import Accord
from ..rules.situation import Situation
from .explain import ALCOHOLIC
from .problem import Problem
from .written import Written, WrittenLine, active_of, floored

HARDLY = 0.0005  # part of the total that nobody makes up


def at_old_total(
    situation: Situation, accord: Accord, problem: Problem, written: Written
) -> tuple[Written, float]:
    """``written`` with the total of ``accord``, and the factor by which its lines were scaled (1 if carrier
    was enough).
    """
    tables, lines = situation.tables, list(written.lines)
    short = accord.total - written.total
    own = [n for n, line in enumerate(lines) if tables.materials[line.material].kind == "solvent"]
    if short > HARDLY * accord.total:
        if own:
            place = max(own, key=lambda n: lines[n].after)
            lines[place] = replace(lines[place], after=lines[place].after + _exact(short))
        else:
            categories = {one.category for one in situation.context.sets} if situation.named else set()
            carrier = "dipropylene-glycol" if categories and not categories & set(ALCOHOLIC) else "ethanol"
            lines.append(WrittenLine(carrier, 100.0, 0.0, _exact(short), "support", True, True))
        return Written(tuple(lines), written.grams), 1.0
    for n in own:
        taken = min(max(-short, 0.0), lines[n].after)
        lines[n] = replace(lines[n], after=_exact(lines[n].after - taken))
        short += taken
    if -short <= HARDLY * accord.total:
        return Written(tuple(lines), written.grams), 1.0
    factor = accord.total / (accord.total - short)
    scaled = [replace(line, after=floored(line.after * factor, 4)) for line in lines]
    return Written(tuple(scaled), active_of(problem, scaled)), factor


def _exact(value: float) -> float:
    """Without the dust of subtraction."""
    return significant(value, 6)
