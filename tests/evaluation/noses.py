"""The bench book against noses that nobody has seen: what ten verdicts teach, and how many trials a hidden target
takes.

``python tests/evaluation/noses.py [--seed 7] [--noses 30]``. A nose has its own potencies, off from the tables by a
log-normal factor (x/÷ 2, 3 or 5 at one standard deviation), in part by family of smell, and may be nearly blind to
some materials. It judges with an error of its own. Prints, over all noses, how wrong amounts are after ten verdicts
beside before, for the pairs tried and for pairs never tried; what verdicts on lines of accords alone do; and for three
accords of the demo, five lines off, how many trials until nothing is off by a quarter or the nose is content.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import substitute
from substitute.accords.rebalance import Heard, rebalance
from substitute.accords.trials import Trial
from substitute.book.heard import step_factor
from substitute.book.learn import on_file
from substitute.book.overlay import lay_over, lessons
from substitute.book.records import Verdict

ACCORDS = ("waiting-room-stove", "rose-on-the-dust-jacket", "depot-cat")
ERROR = 1.2  # of a judged amount, as a factor at one standard deviation
BLIND = 0.02
FAMILY = 0.5  # part of the variance that smells of one family share
WRONG = 1.25  # from here on the nose names a line


@dataclass(frozen=True)
class Nose:
    """Log factors of loudness over the tables, and its own dice."""

    louder: dict[str, float]
    draw: random.Random

    def judged(self, off: float) -> tuple[str, str]:
        """(verdict, degree) of an amount that is ``off`` in log, heard with an error."""
        heard = off + self.draw.gauss(0, math.log(ERROR))
        if abs(heard) < math.log(WRONG):
            return "right", ""
        steps = abs(heard) / math.log(step_factor("clearly"))
        return (
            "too_strong" if heard > 0 else "too_weak",
            "slightly" if steps < 0.7 else "clearly" if steps < 1.5 else "far",
        )


def a_nose(tables, seed: str, spread: float, blind: int, among: list[str]) -> Nose:
    draw = random.Random(seed)
    family = {one.family: draw.gauss(0, 1) for one in tables.materials.values()}
    sd, shared = math.log(spread), math.sqrt(FAMILY)
    louder = {
        id: sd * (shared * family[one.family] + math.sqrt(1 - FAMILY) * draw.gauss(0, 1))
        for id, one in tables.materials.items()
    }
    for id in draw.sample(among, blind):
        louder[id] = math.log(BLIND)
    return Nose(louder, draw)


def pairs_taught(tables, nose: Nose, among: list[str], stated: bool) -> tuple[float, float, float, float]:
    """Median errors (log): of ten pairs before and after verdicts on them, of others before and after."""
    file = on_file(tables)
    pairs: list[tuple[str, str]] = []
    while len(pairs) < 10:
        one, other = nose.draw.sample(among, 2)
        if (one, other) not in pairs and file(one, other):
            pairs.append((one, other))
    said = []
    for id, pair in enumerate(pairs, 1):
        used, right = file(*pair).grams, _right(file, nose, pair)
        if stated:
            wanted = right * math.exp(nose.draw.gauss(0, math.log(ERROR)))
            said.append(Verdict(id, "", "swap", *pair, grams_right=wanted))
        else:
            amount, degree = nose.judged(math.log(used / right))
            said.append(Verdict(id, "", "swap", *pair, grams_used=used, amount=amount, degree=degree))
    after = on_file(lay_over(tables, lessons(tables, said)))
    others = _others(file, nose, among, pairs)
    return (*_errors(file, after, nose, pairs, file), *_errors(file, after, nose, others, file))


def _right(file: Callable, nose: Nose, pair: tuple[str, str]) -> float:
    return file(*pair).grams * math.exp(nose.louder[pair[0]] - nose.louder[pair[1]])


def _others(file, nose: Nose, among: list[str], pairs) -> list[tuple[str, str]]:
    seen = [id for id in among if nose.louder[id] > math.log(BLIND) + 1]
    drawn = [tuple(nose.draw.sample(seen, 2)) for _ in range(150)]
    return [pair for pair in drawn if pair not in pairs and file(*pair)]


def _errors(file, after, nose: Nose, chosen, base) -> tuple[float, float]:
    return tuple(
        statistics.median(abs(math.log(amount(*pair).grams / _right(base, nose, pair))) for pair in chosen)
        for amount in (file, after)
    )


def lines_taught(library, nose: Nose, names: tuple[str, ...]) -> tuple[float, float]:
    """Median |log error| of loudness of the lines judged, before and after three trials of each accord whose amounts
    were first written by a writer with the tables' nose and an intent of their own (x/÷ 2)."""
    tables = library.on_file
    parts: dict[tuple[str, int], dict[str, float]] = {}
    said: list[Verdict] = []
    touched: set[str] = set()
    for name in names:
        accord = library.read_accord(library.demo / "accords" / f"{name}.csv")
        grams = {id: g for id, g in accord.active().items() if tables.value(id, "potency")}
        wanted = {
            id: g * math.exp(-nose.louder[id] + nose.draw.gauss(0, math.log(2.0))) for id, g in grams.items()
        }
        chosen = nose.draw.sample(sorted(grams), min(4, len(grams)))
        touched |= set(chosen)
        for trial in (1, 2, 3):
            parts[name, trial] = dict(grams)
            for id in chosen:
                amount, degree = nose.judged(math.log(grams[id] / wanted[id]))
                said.append(Verdict(len(said) + 1, "", "line", name, id, trial, amount=amount, degree=degree))
                if amount != "right":
                    grams[id] *= step_factor(degree) ** (-1 if amount == "too_strong" else 1)
    found = lessons(tables, said, lambda stem, trial: parts[stem, trial]).learned.loudness
    before = [abs(nose.louder[id]) for id in touched]
    after = [abs(nose.louder[id] - (math.log(found[id].factor) if id in found else 0.0)) for id in touched]
    return statistics.median(before), statistics.median(after)


def trials_needed(library, nose: Nose, name: str) -> int:
    """Trials until no line is off by :data:`WRONG`, or the nose finds the worst right; two named at a time."""
    target = library.read_accord(library.demo / "accords" / f"{name}.csv")
    draw, tables = nose.draw, library.on_file
    smelled = sorted(
        {line.material for line in target.lines if tables.materials[line.material].kind != "solvent"}
    )
    off = {id: 4 ** draw.uniform(-1, 1) for id in draw.sample(smelled, min(5, len(smelled)))}
    lines = tuple(replace(line, parts=line.parts * off.get(line.material, 1.0)) for line in target.lines)
    toy, wanted, history = replace(target, lines=lines), target.active(), []
    for number in range(1, 30):
        wrong = {id: math.log(grams / wanted[id]) for id, grams in toy.active().items() if wanted[id]}
        loud = sorted(
            (id for id in wrong if abs(wrong[id]) > math.log(WRONG)), key=lambda id: -abs(wrong[id])
        )
        if not loud:
            return number
        said = {id: nose.judged(wrong[id]) for id in loud[:2]}
        if all(verdict == "right" for verdict, _ in said.values()):
            return number  # the nose is content
        toy_next = rebalance(toy, Heard(said), history=history).accord
        history.append(
            Trial(
                f"trial {number}",
                toy,
                {id: one for id, (one, _) in said.items()},
                "",
                {id: degree for id, (_, degree) in said.items()},
            )
        )
        toy = toy_next
    return 30


def main() -> None:
    options = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    options.add_argument("--seed", type=int, default=7)
    options.add_argument("--noses", type=int, default=30)
    given = options.parse_args()
    library = substitute.load(book=False)
    tables = library.on_file
    among = [
        id
        for id in library.read_shelf(library.demo / "shelf.csv").materials()
        if tables.value(id, "potency") and tables.materials[id].kind != "solvent"
    ]
    print(
        "spread blind said      after/before tried: median worst   never tried |log|: before after   worse by"
    )
    for spread in (2.0, 3.0, 5.0):
        for blind in (0, 3):
            for stated in (True, False):
                found = [
                    pairs_taught(
                        tables,
                        a_nose(tables, f"{given.seed} {n} {spread} {blind}", spread, blind, among),
                        among,
                        stated,
                    )
                    for n in range(given.noses)
                ]
                ratios = [after / before for before, after, _, _ in found if before]
                worst_other = max(after / before for _, _, before, after in found)
                print(
                    f"{spread:6g} {blind:5d} {'grams' if stated else 'degrees':9s} {statistics.median(ratios):25.2f} "
                    f"{max(ratios):5.2f} {statistics.mean(one[2] for one in found):26.2f} "
                    f"{statistics.mean(one[3] for one in found):5.2f} {worst_other:10.2f}"
                )
    for spread in (2.0, 3.0, 5.0):
        found = [
            lines_taught(
                library, a_nose(tables, f"{given.seed} lines {n} {spread}", spread, 0, among), ACCORDS
            )
            for n in range(given.noses)
        ]
        before, after = (statistics.mean(one[k] for one in found) for k in (0, 1))
        worse = sum(after > before for before, after in found)
        print(
            f"lines alone, x/÷ {spread:g}: |log| of loudness {before:.2f} before, {after:.2f} after; worse for {worse} of {len(found)}"
        )
    for name in ACCORDS:
        took = [
            trials_needed(library, a_nose(tables, f"{given.seed} trials {n} {name}", 3.0, 0, among), name)
            for n in range(given.noses)
        ]
        print(f"{name}: {statistics.mean(took):.1f} trials in the mean, at most {max(took)}")


if __name__ == "__main__":
    main()
