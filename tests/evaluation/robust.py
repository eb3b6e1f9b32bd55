"""Is an adjusted accord still the better one when the figures it was worked out on are wrong?

``python tests/evaluation/robust.py [--accords 300] [--draws 30]``: seeded accords made from the tables,
one core line missing (every second one in a product with limits); potencies drawn x/÷ 1.5, loss rates x/÷
2, the exponent over 0.2-0.6 (Patte et al. 1975, recalled), p over 4-9 and the share exponent over 1.0-1.4
afresh for every draw. Counts the draws in which the adjusted accord is at least as good as the best legal
of the three plain options minus 0.01.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2])]

import substitute
from substitute.odour.perception import Hearing, impression, match
from substitute.records import Accord, Line
from substitute.standins.candidates import smellable

PRODUCTS = (("fine-fragrance", 15.0), ("hand-lotion", 1.0))
TOLERANCE = 0.01


@dataclass(frozen=True)
class Outcome:
    """Draws won, draws made, and the mean match of the adjusted accord and of the best legal option as
    worked out.
    """

    won: int
    draws: int
    adjusted: float
    best_option: float
    legal: bool


def random_accord(library, rng: np.random.Generator, pool: list[str], number: int) -> tuple[Accord, str]:
    """Four to ten lines of comparable loudness around one core, which is the one that goes missing."""
    core = pool[rng.integers(len(pool))]
    near = [n.id for n in library.neighbours(core, top=40).near if n.id in set(pool)]
    some = [near[i] for i in rng.choice(len(near), size=min(2, len(near)), replace=False)] if near else []
    others = [pool[i] for i in rng.choice(len(pool), size=int(rng.integers(2, 8)), replace=False)]
    names = list(dict.fromkeys([core, *some, *others]))
    lines = []
    for place, name in enumerate(names):
        loud = rng.lognormal(0.7 if place == 0 else 0.0, 0.8)
        role = "core" if place == 0 else str(rng.choice(["support", "support", "lift", "trace"]))
        lines.append(Line(name, float(loud / library.tables.value(name, "potency")), 100.0, role))
    return Accord(f"random-{number}", tuple(lines)), core


def outcome(library, accord: Accord, core: str, rng: np.random.Generator, draws: int, product) -> Outcome:
    limits = {} if product is None else {"product": product[0], "dose": product[1]}
    found = library.adjust(accord, without=[core], **limits)
    legal = [option for option in found.options if option.within_known]
    mine = found.formula().active()
    ids = sorted({*accord.active(), *mine, *(name for option in legal for name in option.active)})
    parts = [
        np.array([formula.get(name, 0.0) for name in ids])
        for formula in (accord.active(), mine, *(option.active for option in legal))
    ]
    whole = sorted({*ids, *(row.id for name in ids for row in library.tables.constituents.get(name, ()))})
    won = 0
    for _ in range(draws):
        potency = {name: float(np.exp(rng.uniform(-1, 1) * np.log(1.5))) for name in whole}
        rate = {name: float(np.exp(rng.uniform(-1, 1) * np.log(2.0))) for name in whole}
        hearing = Hearing(rng.uniform(0.2, 0.6), rng.uniform(4.0, 9.0), rng.uniform(1.0, 1.4))
        staged = library.stage_odour(ids=ids, potency_factor=potency, rate_factor=rate)
        heard = [impression(grams, staged.potency, staged.profile, hearing) for grams in parts]
        matches = [match(other, heard[0]).overall for other in heard[1:]]
        won += matches[0] >= max(matches[1:], default=0.0) - TOLERANCE
    return Outcome(
        won,
        draws,
        found.match.overall,
        max((option.match for option in legal), default=0.0),
        found.within_known,
    )


def run(accords: int, draws: int, seed: int = 11) -> list[Outcome]:
    library = substitute.load()
    pool = [name for name in smellable(library.tables) if library.tables.value(name, "use_high_pct")]
    found = []
    for number in range(accords):
        rng = np.random.default_rng([seed, number])  # each accord and its draws stand for themselves
        accord, core = random_accord(library, rng, pool, number)
        product = PRODUCTS[number // 2 % 2] if number % 2 else None
        found.append(outcome(library, accord, core, rng, draws, product))
        if sys.stderr.isatty():
            print(f"\r{number + 1} of {accords}", end="", file=sys.stderr)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--accords", type=int, default=300)
    parser.add_argument("--draws", type=int, default=30)
    options = parser.parse_args()
    found = run(options.accords, options.draws)
    won, draws = sum(o.won for o in found), sum(o.draws for o in found)
    print(
        f"{len(found)} accords, {draws} draws: as good as the best legal plain option minus {TOLERANCE} in {won / draws:.1%}; every result legal: {all(o.legal for o in found)}"
    )
    print(
        f"match as worked out: adjusted {np.mean([o.adjusted for o in found]):.3f}, best legal plain option {np.mean([o.best_option for o in found]):.3f}"
    )


if __name__ == "__main__":
    main()
