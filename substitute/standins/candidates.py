"""Who may be asked at all: the hard filters before any ranking (stock, law, the reason why a material is
gone).

What a filter takes away is kept with the rule that took it, so that an answer can say how many were left
out and why.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from ..frozen import frozen
from ..records import Tables
from .ask import Ask
from .pair import Pair, make_pair
from .price import saving

if TYPE_CHECKING:
    from .bench import Bench

# what law takes away in a natural, and what may be left of it in another
MAIN_SHARE, TRACE_SHARE = 0.05, 0.002
SAME_AGAIN = "the same thing again"
SAME_SUBSTANCE = "holds what law takes away"
NO_RELIEF = "no way out of the limit"
DEARER = "no cheaper"


@frozen
class Pool:
    """Ids that pass, and for each that does not the rule that keeps it out."""

    found: tuple[str, ...]
    left_out: Mapping[str, str] = field(default_factory=dict)


def smellable(tables: Tables) -> list[str]:
    """Materials that can stand in for anything: weighed, with profile and potency, no solvent."""
    return [
        name
        for name, material in tables.materials.items()
        if material.stocked
        and material.kind != "solvent"
        and name in tables.profiles
        and (tables.value(name, "potency") or 0) > 0
    ]


def candidates(bench: Bench, ask: Ask) -> Pool:
    """Who passes the filters.

    What is forbidden in the situation, by itself, by what it holds or by what it gives back, is never
    offered, not even from the shelf. Because of *law* nothing that law holds in any way is an answer, nor
    what holds the same substance; because of a *limit* only what is a way out of it
    (:meth:`Situation.relieves`, at the amount it would need); because of its *price* nothing dearer.
    """
    out = {ask.missing, *ask.without}
    held = set(ask.shelf.materials()) if ask.shelf else None
    names = [name for name in bench.smellable if name not in out and (held is None or name in held)]
    law = bench.law(ask.situation)
    left_out = {name: rule for name in names if (rule := law.forbids(name))}
    if ask.because == "law":
        left_out |= _of_law(bench, ask, [name for name in names if name not in left_out])
    elif ask.because in ("limit", "price"):
        around = bench.known.around(ask.missing, ask.because)
        for name in names:
            if name not in left_out:
                rule = _no_answer(bench, ask, make_pair(bench.tables, ask.missing, name, around.get(name)))
                if rule:
                    left_out[name] = rule
    return Pool(tuple(name for name in names if name not in left_out), left_out)


def _no_answer(bench: Bench, ask: Ask, pair: Pair) -> str:
    """Why the pair is no answer to the reason at the amount it needs; '' if it may be one."""
    grams = pair.amount.grams if pair.amount else 1.0
    if ask.because == "price":
        found = saving(bench.tables, ask.shelf, ask.missing, pair.stand_in, grams)
        told = pair.documented and pair.ground is not None and pair.ground.rows[0].because == "price"
        return DEARER if found is not None and not found.cheaper(told) else ""
    if ask.situation.same_again(ask.missing, pair.stand_in):
        return SAME_AGAIN
    relief = bench.relieves(ask.situation, ask.missing, pair.stand_in, grams)
    return NO_RELIEF if relief is False else ""


def _of_law(bench: Bench, ask: Ask, names: Iterable[str]) -> dict[str, str]:
    """What law holds in any way, and what holds the substance that law takes away in the missing material."""
    found = {name: words[0].split(":")[0] for name in names if (words := ask.status(name))}
    rest = [name for name in names if name not in found]
    taken = [
        substance
        for substance, share in bench.exposure.shares(ask.missing).items()
        if share.typical >= MAIN_SHARE and substance in bench.tables.materials and ask.status(substance)
    ]
    if taken and rest:
        _, typical = bench.exposure.matrix(taken, rest)
        most = np.asarray(typical).max(axis=0)
        found |= {name: SAME_SUBSTANCE for name, share in zip(rest, most) if share >= TRACE_SHARE}
    return found
