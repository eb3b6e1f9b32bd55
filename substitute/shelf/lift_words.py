"""What a lift says: why this one, how it is weighed, and which strips to dip before anything is weighed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..figures import figure, given, percent
from ..odour.staging import tenacity
from ..records import STAGES, Accord, Lifting, Tables
from ..standins.words import hours, listed
from .lifted import Amount, Lift
from .voices import Voice

BATCH = 10.0  # grams of the accord that drops are told for
LEAST_GAIN = 0.005  # of the line's notes: less is no lift, unless practice says so


def reason(
    tables: Tables, accord: Accord, weak: Voice, name: str, amount: Amount, row: Lifting | None
) -> str:
    """Why ``name`` in this ``amount`` lifts the ``weak`` line; ``row`` is the practice that names it."""
    stage = STAGES[weak.needs]
    line = tables.materials[weak.material].name
    words = sorted(tables.profiles[name].items(), key=lambda item: (-item[1], item[0]))[:3]
    described = listed([tables.descriptors[word].name for word, _ in words])
    more = "more of what is in it already: " if name in accord.active() else ""
    known = f"for {tables.descriptors[row.descriptor].name}: {row.note}; " if row else ""
    share = 100.0 * amount.parts / (accord.total + amount.parts)
    amount_told = f"{amount.parts:g} parts ({percent(share, 2)}: {_weighed(share)})"
    does = f"bring the notes of {line} to {100 * amount.gain:.0f} % of what they were at the {stage}"
    if amount.gain < 1.0 + LEAST_GAIN:
        does = "are worth a strip; the model hears no more of the line from them, it is practice that speaks"
    return f"{more}{known}{described}, noticed for {hours(tenacity(tables, name))}; {amount_told} {does}"


def _weighed(share: float) -> str:
    """How much of which solution goes into 10 g of the accord."""
    grams = BATCH * share / 100.0
    strength = next((one for one in (100.0, 10.0) if grams * 100.0 / one >= 0.05), 1.0)
    told = "neat" if strength == 100.0 else f"of a {given(strength)} solution"
    return f"for 10 g of the accord {figure(grams * 100.0 / strength, 2)} g {told}"


def strips_to_try(tables: Tables, weak: Voice, chosen: Sequence[Lift]) -> Iterable[str]:
    """What to smell before anything is weighed (common practice, no source)."""
    if not chosen:
        return
    name = tables.materials[weak.material].name
    yield f"the accord at 10 % on three strips; note when {name} is heard and when it is gone"
    for one in chosen:
        yield (
            f"{tables.materials[one.material].name} at {given(one.strip_pct)} on a strip of its own: "
            "hold it a hand behind the accord's, "
            f"then nearer; stop where {name} is louder and the new note not yet heard"
        )
    yield "then the first amount of each on fresh strips after 10 min, 2 h and 24 h, the old accord beside it"
